"""Breaths due, done and credited, slot by slot.

Input: a patient's order and entries, the shift's slots, the available spans. Output: `Adherence`.
Never takes what is not charted for not done: such a slot keeps its own state.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum

import numpy as np
from numpy.typing import NDArray

from handoff.measure.spans import Span, bounds_s, overlap_s
from handoff.model.measures import Adherence, Slot, SlotState
from handoff.model.ward import Entry, Flow, Order, What

# Breaths spread over a span are fractions: a slot is met although the last digit says otherwise.
TOLERANCE_BREATHS = 1e-9


@dataclass(frozen=True, slots=True)
class Part:
    """An entry that charts a slot, and how many of its breaths fall there."""

    entry: Entry
    breaths: float


def measure_adherence(
    order: Order, slots: Sequence[Span], available: Sequence[Span], entries: Sequence[Entry]
) -> Adherence:
    """Credited breaths in per cent of those due, 0 to 100; None where nothing was due.

    `entries` are those of the stay: a span that began before the shift counts in it by its part.
    """
    due = breaths_due(order, slots, available)
    charted = charted_parts(slots, entries)
    rows = tuple(
        _slot(slot, float(slot_due), parts)
        for slot, slot_due, parts in zip(slots, due, charted, strict=True)
    )
    return _total(rows)


def available_s(slots: Sequence[Span], available: Sequence[Span]) -> NDArray[np.float64]:
    """Seconds of each slot in which breaths can be due; the available spans do not overlap."""
    seconds: NDArray[np.float64] = overlap_s(available, slots).sum(axis=0)
    return seconds


def breaths_due(
    order: Order, slots: Sequence[Span], available: Sequence[Span]
) -> NDArray[np.float64]:
    """Breaths due in each slot: the ordered number, in the share of `every_h` that is available.

    From 0 (nothing available, or after `as_of`) to `order.breaths`; less in a short last slot.
    """
    return order.breaths * available_s(slots, available) / (3600 * order.every_h)


def charted_parts(slots: Sequence[Span], entries: Sequence[Entry]) -> list[list[Part]]:
    """The entries that chart each slot, with the breaths that each of them gives it.

    An entry at one time counts whole in the slot that holds it, a span by its real time in each
    slot. What lies outside all slots counts nowhere. A slot without a part is not charted.
    """
    charted = [entry for entry in entries if entry.what in (What.EXERCISE, What.DECLINED)]
    spans = [Span(entry.at, entry.until or entry.at) for entry in charted]
    breaths = np.array([breaths_of(entry) for entry in charted], dtype=np.float64)
    start_s, end_s = (bound[:, np.newaxis] for bound in bounds_s(spans))
    slot_start_s, slot_end_s = bounds_s(slots)
    is_span = end_s > start_s
    in_slot = (slot_start_s <= start_s) & (start_s < slot_end_s)
    part = np.where(is_span, overlap_s(spans, slots), in_slot)
    whole = np.where(is_span, end_s - start_s, 1.0)
    share = breaths[:, np.newaxis] * part / whole
    parts: list[list[Part]] = [[] for _ in slots]
    for row, column in zip(*np.nonzero(part), strict=True):
        parts[column].append(Part(charted[row], float(share[row, column])))
    return parts


def breaths_of(entry: Entry) -> int:
    """Breaths done in one entry: none unless an exercise, none when blown into.

    A volume without a count is one breath; with neither, none is known of.
    """
    if not entry.is_exercise or entry.flow is Flow.BLEW:
        return 0
    if entry.breaths is None:
        return 0 if entry.volume_ml is None else 1
    return entry.breaths


def _slot(span: Span, due: float, parts: Sequence[Part]) -> Slot:
    done, charted = sum((part.breaths for part in parts), 0.0), bool(parts)
    return Slot(span.start, span.end, due, done, charted, _state(due, done, charted=charted))


def _state(due: float, done: float, *, charted: bool) -> SlotState:
    if due == 0:
        return SlotState.NOT_DUE
    if not charted:
        return SlotState.UNCHARTED
    if done >= due - TOLERANCE_BREATHS:
        return SlotState.MET
    return SlotState.PART if done > 0 else SlotState.NONE


def _total(slots: tuple[Slot, ...]) -> Adherence:
    states = [slot.state for slot in slots]
    return Adherence(
        percent=_percent(slots),
        percent_of_charted=_percent([slot for slot in slots if slot.charted]),
        breaths_done=fsum(slot.done for slot in slots),
        breaths_due=fsum(slot.due for slot in slots),
        credited=fsum(slot.credited for slot in slots),
        slots_due=len(slots) - states.count(SlotState.NOT_DUE),
        slots_met=states.count(SlotState.MET),
        slots_uncharted=states.count(SlotState.UNCHARTED),
        slots=slots,
    )


def _percent(slots: Sequence[Slot]) -> float | None:
    due = fsum(slot.due for slot in slots)
    return 100 * (fsum(slot.credited for slot in slots) / due) if due else None

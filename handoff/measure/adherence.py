"""Breaths due, done and credited, slot by slot.

Input: the periods of a patient's order, the entries, the shift's slots, the available spans.
Output: `Adherence`. Never takes an uncharted slot for one not done: it has a state of its own.
"""

from collections.abc import Sequence
from math import fsum

from handoff.measure.spans import bounds_s, near, overlap_s
from handoff.measure.volume import percent_of
from handoff.model.measures import Adherence, Part, Slot, SlotState, Span
from handoff.model.ward import Entry, Flow, Order, What

# Breaths spread over a span are fractions: a slot is met although rounding leaves the last digit
# short.
TOLERANCE_BREATHS = 1e-9


def measure_adherence(
    periods: Sequence[Order],
    slots: Sequence[Span],
    available: Sequence[Span],
    entries: Sequence[Entry],
) -> Adherence:
    """Credited breaths in per cent of those due, 0 to 100; None where nothing was due."""
    return _total(measure_slots(periods, slots, available, entries))


def measure_slots(
    periods: Sequence[Order],
    slots: Sequence[Span],
    available: Sequence[Span],
    entries: Sequence[Entry],
) -> tuple[Slot, ...]:
    """Breaths due, done and credited in each slot.

    The breaths due in a slot are, for each period of the order, the ordered number times the
    available share of its `every_h`: from 0 (nothing available, or after `as_of`); fewer in a short
    last slot. The available spans do not overlap. `entries` are those of the stay: a span that
    began before the shift counts by its part in the shift.
    """
    rows = []
    by_period = [available_s(period, slots, available) for period in periods]
    of_slots = zip(*by_period, strict=True)
    for slot, of_slot, parts in zip(slots, of_slots, charted_parts(slots, entries), strict=True):
        due = due_in(periods, of_slot)
        done = fsum(part.breaths for part in parts)
        state = _state(due, done, charted=bool(parts))
        minutes = tuple(each / 60 for each in of_slot)
        rows.append(Slot(slot.start, slot.end, due, done, state, minutes, tuple(parts)))
    return tuple(rows)


def available_s(period: Order, slots: Sequence[Span], available: Sequence[Span]) -> list[float]:
    """The available seconds of each slot in one period of the order."""
    shared_s: list[list[float]] = [[] for _ in slots]
    slots_s = [bounds_s(slot) for slot in slots]
    starts_s = [start_s for start_s, _ in slots_s]
    for each in available:
        end = min(each.end, period.stop or each.end)
        span_s = bounds_s(Span(max(each.start, period.start), end))
        for number in near(starts_s, span_s):
            shared_s[number].append(overlap_s(span_s, slots_s[number]))
    return [fsum(of_slot) for of_slot in shared_s]


def due_in(periods: Sequence[Order], seconds: Sequence[float]) -> float:
    """The breaths due in so many available seconds of each period."""
    parts = zip(periods, seconds, strict=True)
    return fsum(each.breaths * of_one / (3600 * each.every_h) for each, of_one in parts)


def charted_parts(slots: Sequence[Span], entries: Sequence[Entry]) -> list[list[Part]]:
    """The entries that chart each slot, with the breaths that each of them gives it.

    An entry at one time counts whole in its slot, a span by its real time in each slot. Time
    outside all slots counts nowhere. A slot without a part is not charted.
    """
    parts: list[list[Part]] = [[] for _ in slots]
    slots_s = [bounds_s(slot) for slot in slots]
    starts_s = [start_s for start_s, _ in slots_s]
    for entry in entries:
        if entry.what not in (What.EXERCISE, What.DECLINED):
            continue
        breaths = breaths_of(entry)
        start_s, end_s = span_s = bounds_s(Span(entry.at, entry.until or entry.at))
        for number in near(starts_s, span_s):
            if start_s < end_s:
                shared_s = overlap_s(span_s, slots_s[number])
                if shared_s:
                    parts[number].append(Part(entry, breaths * shared_s / (end_s - start_s)))
            elif slots_s[number][0] <= start_s < slots_s[number][1]:
                parts[number].append(Part(entry, float(breaths)))
    return parts


def breaths_of(entry: Entry) -> int:
    """Breaths done in one entry: none unless an exercise, none when blown into.

    A volume without a count is one breath; without both, the number is 0.
    """
    if not entry.is_exercise or entry.flow is Flow.BLEW:
        return 0
    if entry.breaths is None:
        return 0 if entry.volume_ml is None else 1
    return entry.breaths


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
    charted = [slot for slot in slots if slot.charted]
    credited, due = _credited_and_due(slots)
    credited_of_charted, due_of_charted = _credited_and_due(charted)
    return Adherence(
        percent=percent_of(credited, due),
        percent_of_charted=percent_of(credited_of_charted, due_of_charted),
        breaths_done=fsum(slot.done for slot in slots),
        breaths_due=due,
        credited=credited,
        slots_due=len(slots) - states.count(SlotState.NOT_DUE),
        slots_met=states.count(SlotState.MET),
        slots_uncharted=states.count(SlotState.UNCHARTED),
        slots=slots,
        credited_of_charted=credited_of_charted,
        due_of_charted=due_of_charted,
    )


def _credited_and_due(slots: Sequence[Slot]) -> tuple[float, float]:
    return fsum(slot.credited for slot in slots), fsum(slot.due for slot in slots)

"""Explain: where each number of a patient's sheet comes from, as text to follow with a pencil.

Enters: hand-over, one patient's measures and verdicts, limits. Leaves: plain text, in local time.
Measures and judges nothing itself: a result that it prints is the one of `Measures` or `Verdicts`,
and what leads to it comes from the same functions.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence

from handoff.explain.adherence import explain_adherence
from handoff.explain.bedside import explain_bedside
from handoff.explain.cautions import explain_cautions
from handoff.explain.goal import explain_goal
from handoff.explain.reference import explain_reference
from handoff.explain.subject import Subject
from handoff.explain.text import Block, Table, lines_of
from handoff.explain.trend import explain_trend
from handoff.explain.volume import explain_volume
from handoff.findings import text

__all__ = ["PARTS", "Subject", "explain"]

# The parts of an explanation by the names they have in `measures.json`, in the order of printing.
PARTS: Mapping[str, Callable[[Subject], Iterator[Block]]] = {
    "volume": explain_volume,
    "adherence": explain_adherence,
    "trend": explain_trend,
    "goal": explain_goal,
    "reference": explain_reference,
    "bedside": explain_bedside,
    "cautions": explain_cautions,
}


def explain(subject: Subject, parts: Sequence[str] = tuple(PARTS)) -> str:
    """The explanation of one patient's sheet; `parts` are some of `PARTS`."""
    lines = list(lines_of("", _head(subject)))
    for part in PARTS:
        if part in parts:
            lines += ["", part.upper(), *lines_of(part, PARTS[part](subject))]
    return "\n".join(lines)


def _head(subject: Subject) -> Iterator[Block]:
    """Who, which shift, which order, and the rows that take part in no number at all."""
    handover, patient, order = subject.handover, subject.patient, subject.order
    shift, start = handover.shift, subject.measures.stay_start
    yield f"Bed {patient.bed}, {patient.name}, id {patient.id} ({patient.place})"
    yield (
        f"{handover.unit.name}, shift {subject.when(shift.start)} to {subject.when(shift.end)} "
        f"({shift.hours:g} h); data as of {subject.when(handover.as_of)}"
    )
    stop = f"to {subject.when(order.stop)}" if order.stop else "on, without a stop"
    yield f"Order from {subject.when(order.start)} {stop}"
    yield f"Stay from {subject.when(start)}, the earliest order start in the logs given"
    in_stay, in_shift = subject.measures.stay_entries, subject.measures.shift_entries
    yield f"Rows used: {len(in_stay)} of the stay, of these {len(in_shift)} of the shift."
    yield "Times are local; - stands for none or not recorded."
    left_out = [
        (str(row.place), subject.when(row.at), why)
        for row in subject.rows
        if (why := subject.outside_stay(row))
    ]
    left_out += [
        (str(row.place), subject.when(row.at), f"set aside: {text(row.reason)}")
        for row in handover.set_aside
        if row.patient_id == patient.id
    ]
    if left_out:
        yield "Rows in no number:"
        yield Table(("row", "time", "why"), left_out)

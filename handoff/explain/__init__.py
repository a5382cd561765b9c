"""Explain: the origin of each number of a patient's sheet, as text to follow with a pencil.

Input: hand-over, one patient's measures, verdicts and matters, limits. Output: plain text, in local
time. Never measures or judges: each number and its working come from `Measures` and `Verdicts`.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence

from handoff.explain.adherence import explain_adherence
from handoff.explain.bedside import explain_bedside
from handoff.explain.cautions import explain_cautions
from handoff.explain.goal import explain_goal
from handoff.explain.matters import explain_matter, list_matters
from handoff.explain.reference import explain_reference
from handoff.explain.subject import Subject
from handoff.explain.text import Block, Table, columns, lines_of, local_time
from handoff.explain.trend import explain_trend
from handoff.explain.volume import explain_volume
from handoff.limits.reading import Limits
from handoff.model.findings import text
from handoff.model.matters import Matter
from handoff.model.ward import Handover, Patient
from handoff.model.wording import EXPLAIN

__all__ = ["ALL_MATTERS", "PARTS", "Subject", "explain", "explain_matters"]

ALL_MATTERS = "all"  # instead of a matter's name: a line for each matter of the stay

# The parts of an explanation by their names in `measures.json`, in printing order.
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


def explain_matters(
    handover: Handover, patient: Patient, matters: Sequence[Matter], wanted: str, limits: Limits
) -> str:
    """The history of each matter of this name; with `all`, a line for each matter of the stay.

    `wanted` is a rule, or a rule and a symptom (`faint-or-chest-pain:faint`). The patient may have
    no order, or have left.
    """
    zone = handover.unit.time_zone
    blocks: list[Block] = list(_who(handover, patient))
    if patient in handover.gone:
        blocks.append(EXPLAIN.say("head.gone"))
    if wanted == ALL_MATTERS:
        blocks += ["", *list_matters(matters, zone)]
    else:
        named = [each for each in matters if wanted in {each.rule, each.name}]
        if not named:
            blocks.append(EXPLAIN.say("head.no-matter", wanted=wanted))
        for each in named:
            blocks += ["", *explain_matter(each, zone, limits)]
    return "\n".join(lines_of("", blocks))


def _who(handover: Handover, patient: Patient) -> Iterator[Block]:
    """The patient and the shift."""
    shift, zone = handover.shift, handover.unit.time_zone
    start, end, as_of = (
        local_time(instant, zone) for instant in (shift.start, shift.end, handover.as_of)
    )
    yield EXPLAIN.say(
        "head.who", bed=patient.bed, name=patient.name, id=patient.id, row=patient.place
    )
    yield EXPLAIN.say(
        "head.shift",
        unit=handover.unit.name,
        start=start,
        end=end,
        hours=shift.hours,
        as_of=as_of,
    )


def _head(subject: Subject) -> Iterator[Block]:
    """The patient, the shift, the order, and the rows that count in no number."""
    handover, patient, order = subject.handover, subject.patient, subject.order
    start = subject.measures.stay_start
    yield from _who(handover, patient)
    yield EXPLAIN.say(
        "head.order" if order.stop else "head.order-on",
        start=subject.when(order.start),
        stop=subject.when(order.stop),
    )
    if patient.order is None:
        yield EXPLAIN.say("head.no-order")
    yield EXPLAIN.say("head.stay", start=subject.when(start))
    in_stay, in_shift = subject.measures.stay_entries, subject.measures.shift_entries
    yield EXPLAIN.say("head.rows", stay=len(in_stay), shift=len(in_shift))
    yield EXPLAIN.say("head.times")
    left_out = [
        (str(row.place), subject.when(row.at), why)
        for row in subject.rows
        if (why := subject.outside_stay(row))
    ]
    left_out += [
        (str(row.place), subject.when(row.at), EXPLAIN.say("head.set-aside", why=text(row.reason)))
        for row in handover.set_aside
        if row.patient_id == patient.id
    ]
    if left_out:
        yield EXPLAIN.say("head.in-no-number")
        yield Table(columns("row", "time", "why"), left_out)

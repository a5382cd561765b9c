"""Explains what was due, done and credited, slot by slot, and the percentages they add up to.

Input: a `Subject`. Output: blocks of text. The numbers are those of `Measures`; the minutes and
the rows of a slot come from the functions that measured them.
"""

from collections.abc import Iterable, Iterator, Sequence
from math import fsum

from handoff.explain.subject import Subject, in_breaths, is_lost
from handoff.explain.text import Block, Result, Table
from handoff.measure.adherence import Part, available_s, charted_parts
from handoff.measure.shift import (
    Stay,
    available_spans,
    due_window,
    quiet_spans,
    sort_entries,
    unavailable,
)
from handoff.measure.spans import Span
from handoff.model.measures import Adherence, Slot
from handoff.model.rounding import breaths_of_due, exact, one_decimal, percent
from handoff.model.ward import Entry, Flow


def explain_adherence(subject: Subject) -> Iterator[Block]:
    """What took time out of the shift, the rows that chart it, the slots, and their sums."""
    order, slots = subject.order, subject.measures.adherence.slots
    stay = sort_entries(subject.handover, subject.patient, order)
    spans = [Span(slot.start, slot.end) for slot in slots]
    parts = charted_parts(spans, stay.counted)
    yield f"Ordered: {order.breaths} breaths every {order.every_h} h. In each slot of the shift"
    yield f"due = {order.breaths} x available minutes / (60 x {order.every_h}), and credited is the"
    yield "smaller of done and due. A slot without a row is not charted: not known, not 'not done'."
    yield from _taken_out(subject, stay)
    yield from _charted(subject, stay, parts)
    yield "The slots:"
    yield Table(
        (*("slot", "from", "to", "min", "due", "done", "credited", "state"), "rows"),
        list(_slot_rows(subject, _available_min(subject, stay, spans), parts)),
    )
    yield from _results(subject.measures.adherence)


def _available_min(subject: Subject, stay: Stay, slots: Sequence[Span]) -> list[float]:
    order, handover = subject.order, subject.handover
    window = due_window(order.start, order, handover.as_of)
    quiet = quiet_spans(handover.unit, window)
    seconds = available_s(slots, available_spans(window, quiet, stay))
    return [float(each) / 60 for each in seconds]


def _taken_out(subject: Subject, stay: Stay) -> Iterator[Block]:
    """The parts of the shift in which nothing is due, and why; where two overlap, once."""
    shift = subject.handover.shift
    rows = [
        (why, subject.when(max(span.start, shift.start)), subject.when(min(span.end, shift.end)))
        for why, span in _not_available(subject, stay)
        if max(span.start, shift.start) < min(span.end, shift.end)
    ]
    if not rows:
        yield "Nothing takes time out of this shift: every minute is available."
        return
    yield "Not available, so nothing is due (minutes in two of these are taken out once):"
    yield Table(("why", "from", "to"), rows)


def _not_available(subject: Subject, stay: Stay) -> Iterator[tuple[str, Span]]:
    order, handover = subject.order, subject.handover
    shift, window = handover.shift, due_window(order.start, order, handover.as_of)
    yield "before the order", Span(shift.start, order.start)
    for span in quiet_spans(handover.unit, Span(shift.start, shift.end)):
        yield "quiet hours", span
    for row, span in unavailable(stay):
        yield f"{row.what} ({row.place})", span
    ends = "later than 'data as of'" if window.end == handover.as_of else "the order has stopped"
    yield ends, Span(window.end, shift.end)


def _charted(subject: Subject, stay: Stay, parts: Sequence[Sequence[Part]]) -> Iterator[Block]:
    """Each row that charts a slot, and how its breaths fall to the slots."""
    rows = []
    for row in stay.counted:
        shares = [
            f"{number}: {exact(part.breaths)}"
            for number, of_slot in enumerate(parts, start=1)
            for part in of_slot
            if part.entry is row
        ]
        if shares:
            times = subject.when(row.at), subject.when(row.until)
            rows.append((str(row.place), *times, _recorded(row), ", ".join(shares)))
    if not rows:
        yield "No row charts an exercise or a 'declined' in this shift."
        return
    yield "Rows that chart it; a span's breaths are spread evenly over its minutes:"
    yield Table(("row", "time", "until", "charts", "slot: breaths"), rows)


def _recorded(row: Entry) -> str:
    """What a row charts, and why the breaths that count are not simply those charted."""
    charted = in_breaths(row)
    if row.flow is Flow.BLEW:
        return f"{charted} (blown out: charted, not done)"
    why = []
    if is_lost(row, "breaths"):
        why.append("the cell of the breaths cannot be used")
    if row.is_exercise and row.breaths is None and row.volume_ml is not None:
        why.append("a volume without a count is one breath")
    return f"{charted} ({'; '.join(why)})" if why else charted


def _slot_rows(
    subject: Subject, available_min: Iterable[float], parts: Iterable[Sequence[Part]]
) -> Iterator[tuple[str, ...]]:
    slots = subject.measures.adherence.slots
    for number, (slot, minutes, rows) in enumerate(
        zip(slots, available_min, parts, strict=True), start=1
    ):
        yield (
            str(number),
            subject.when(slot.start),
            subject.when(slot.end),
            *map(exact, (minutes, slot.due, slot.done, slot.credited)),
            str(slot.state),
            ", ".join(str(part.entry.place) for part in rows),
        )


def _results(adherence: Adherence) -> Iterator[Block]:
    slots = adherence.slots
    yield Result(
        "breaths_done",
        "breaths done in all slots, also where none were due",
        adherence.breaths_done,
        _sum(slot.done for slot in slots),
        sheet=f"{one_decimal(adherence.breaths_done)} done",
    )
    yield Result(
        "breaths_due",
        "breaths due in all slots",
        adherence.breaths_due,
        _sum(slot.due for slot in slots),
    )
    credited, due = breaths_of_due(adherence.credited, adherence.breaths_due)
    yield Result(
        "credited",
        "the smaller of done and due, slot by slot",
        adherence.credited,
        _sum(slot.credited for slot in slots),
        sheet=f"{credited} of {due} due" if adherence.slots_due else None,
    )
    about, charted = "credited in per cent of due", [slot for slot in slots if slot.charted]
    every, known = f"{about}, a slot not charted as none done", f"{about}, charted slots only"
    yield _percentage("percent", every, adherence.percent, slots)
    yield _percentage("percent_of_charted", known, adherence.percent_of_charted, charted)
    for name, meaning, count in (
        ("slots_due", "slots in which breaths were due", adherence.slots_due),
        ("slots_met", "those of them with all that was due", adherence.slots_met),
        ("slots_uncharted", "those of them not charted", adherence.slots_uncharted),
    ):
        yield Result(name, meaning, count, "count of the states above")


def _sum(numbers: Iterable[float]) -> str:
    return " + ".join(exact(number) for number in numbers if number) or "nothing"


def _percentage(name: str, meaning: str, share: float | None, slots: Sequence[Slot]) -> Result:
    credited, due = fsum(slot.credited for slot in slots), fsum(slot.due for slot in slots)
    return Result(
        name,
        meaning,
        share,
        f"100 x {exact(credited)} / {exact(due)}",
        "no breaths were due there",
        None if share is None else percent(share),
    )

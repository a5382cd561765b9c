"""Explains the breaths due, done and credited, slot by slot, and the percentages of their sums.

Input: a `Subject`. Output: blocks of text. Numbers, minutes and the rows of a slot are those of
`Measures`.
"""

from collections.abc import Iterable, Iterator

from handoff.explain.subject import Subject, in_breaths, is_lost
from handoff.explain.text import Block, Result, Table
from handoff.model.measures import Adherence
from handoff.model.rounding import breaths_of_due, exact, one_decimal, percent
from handoff.model.ward import Entry, Flow, Order


def explain_adherence(subject: Subject) -> Iterator[Block]:
    """The time in which nothing was due, the rows that chart the shift, the slots, and
    their sums.
    """
    periods = subject.measures.periods
    for period in periods:
        times = f"{subject.when(period.start)} to {subject.when(period.stop)}: "
        yield f"Ordered{f', {times}' if periods[1:] else ': '}{_amount(period)}"
    yield "In each slot of the shift due = breaths x available minutes / (60 x hours), for each"
    yield "order in turn, and credited is the smaller of done and due. A slot without a row is not"
    yield "charted: not known, not 'not done'."
    yield from _taken_out(subject)
    yield from _charted(subject)
    yield "The slots:"
    columns = ("slot", "from", "to", "min", "due", "done", "credited", "state", "rows")
    rows = [
        (
            str(number),
            subject.when(slot.start),
            subject.when(slot.end),
            " + ".join(map(exact, slot.minutes_by_period)),
            *map(exact, (slot.due, slot.done, slot.credited)),
            str(slot.state),
            ", ".join(str(part.entry.place) for part in slot.parts),
        )
        for number, slot in enumerate(subject.measures.adherence.slots, start=1)
    ]
    yield Table(columns, rows)
    yield from _results(subject.measures.adherence)


def _amount(order: Order) -> str:
    if order.amount is None:
        return "cannot be read, nothing is due"
    usual = " (nothing stated: the usual)" if order.is_unstated else ""
    return f"{order.breaths} breaths every {order.every_h} h{usual}"


def _taken_out(subject: Subject) -> Iterator[Block]:
    """The parts of the shift in which nothing is due, and why; where two overlap, once."""
    not_due = subject.measures.not_due
    if not not_due:
        yield "Nothing takes time out of this shift: every minute is available."
        return
    yield "Not available, so nothing is due (minutes in two of these are taken out once):"
    rows = [
        (
            f"{each.why} ({each.entry.place})" if each.entry else each.why,
            subject.when(each.span.start),
            subject.when(each.span.end),
        )
        for each in not_due
    ]
    yield Table(("why", "from", "to"), rows)


def _charted(subject: Subject) -> Iterator[Block]:
    """Each row that charts a slot, and how many of its breaths count in each."""
    rows = []
    for row in subject.measures.stay_entries:
        shares = [
            f"{number}: {exact(part.breaths)}"
            for number, slot in enumerate(subject.measures.adherence.slots, start=1)
            for part in slot.parts
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
    """What a row charts, and why other breaths count than those charted."""
    charted = in_breaths(row)
    if row.flow is Flow.BLEW:
        return f"{charted} (blown out: charted, not done)"
    why = []
    if is_lost(row, "breaths"):
        why.append("the cell of the breaths cannot be used")
    if row.is_exercise and row.breaths is None and row.volume_ml is not None:
        why.append("a volume without a count is one breath")
    return f"{charted} ({'; '.join(why)})" if why else charted


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
    for name, slots_meant, share, of, all_due in (
        (
            *("percent", "a slot not charted as none done", adherence.percent),
            *(adherence.credited, adherence.breaths_due),
        ),
        (
            *("percent_of_charted", "charted slots only", adherence.percent_of_charted),
            *(adherence.credited_of_charted, adherence.due_of_charted),
        ),
    ):
        yield Result(
            name,
            f"credited in per cent of due, {slots_meant}",
            share,
            f"100 x {exact(of)} / {exact(all_due)}",
            "no breaths were due there",
            None if share is None else percent(share),
        )
    for name, meaning, count in (
        ("slots_due", "slots in which breaths were due", adherence.slots_due),
        ("slots_met", "those of them with all that was due", adherence.slots_met),
        ("slots_uncharted", "those of them not charted", adherence.slots_uncharted),
    ):
        yield Result(name, meaning, count, "count of the states above")


def _sum(numbers: Iterable[float]) -> str:
    return " + ".join(exact(number) for number in numbers if number) or "nothing"

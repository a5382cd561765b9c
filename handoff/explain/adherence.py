"""Explains the breaths due, done and credited, slot by slot, and the percentages of their sums.

Input: a `Subject`. Output: blocks of text. Numbers, minutes and the rows of a slot are those of
`Measures`.
"""

from collections.abc import Iterable, Iterator

from handoff.explain.subject import Subject, in_breaths, is_lost
from handoff.explain.text import Block, Result, Table, columns
from handoff.model.measures import Adherence
from handoff.model.rounding import breaths_beside_percent, exact, one_decimal, percent
from handoff.model.ward import Entry, Flow, Order
from handoff.model.wording import EXPLAIN


def explain_adherence(subject: Subject) -> Iterator[Block]:
    """The time in which nothing was due, the rows that chart the shift, the slots, and
    their sums.
    """
    periods = subject.measures.periods
    for period in periods:
        yield EXPLAIN.say(
            "adherence.ordered-from" if periods[1:] else "adherence.ordered",
            start=subject.when(period.start),
            stop=subject.when(period.stop),
            amount=_amount(period),
        )
    yield EXPLAIN.say("adherence.how")
    yield from _taken_out(subject)
    yield from _charted(subject)
    yield EXPLAIN.say("adherence.slots")
    heads = columns("slot", "from", "to", "min", "due", "done", "credited", "state", "rows")
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
    yield Table(heads, rows)
    yield from _results(subject.measures.adherence)


def _amount(order: Order) -> str:
    if order.amount is None:
        return EXPLAIN.say("adherence.unread")
    key = "adherence.usual-amount" if order.is_unstated else "adherence.amount"
    return EXPLAIN.say(key, breaths=order.breaths, every_h=order.every_h)


def _taken_out(subject: Subject) -> Iterator[Block]:
    """The parts of the shift in which nothing is due, and why; where two overlap, once."""
    not_due = subject.measures.not_due
    if not not_due:
        yield EXPLAIN.say("adherence.all-available")
        return
    yield EXPLAIN.say("adherence.not-available")
    rows = [
        (
            f"{each.why} ({each.entry.place})" if each.entry else each.why,
            subject.when(each.span.start),
            subject.when(each.span.end),
        )
        for each in not_due
    ]
    yield Table(columns("why", "from", "to"), rows)


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
        yield EXPLAIN.say("adherence.no-row")
        return
    yield EXPLAIN.say("adherence.rows")
    yield Table(columns("row", "time", "until", "charts", "slot-breaths"), rows)


def _recorded(row: Entry) -> str:
    """What a row charts, and why other breaths count than those charted."""
    charted = in_breaths(row)
    if row.flow is Flow.BLEW:
        return f"{charted} ({EXPLAIN.say('adherence.blown')})"
    why = []
    if is_lost(row, "breaths"):
        why.append(EXPLAIN.say("adherence.lost"))
    if row.is_exercise and row.breaths is None and row.volume_ml is not None:
        why.append(EXPLAIN.say("adherence.one-breath"))
    return f"{charted} ({'; '.join(why)})" if why else charted


def _results(adherence: Adherence) -> Iterator[Block]:
    slots = adherence.slots
    yield Result(
        "breaths_done",
        EXPLAIN.say("adherence.breaths-done"),
        adherence.breaths_done,
        _sum(slot.done for slot in slots),
        sheet=EXPLAIN.say("adherence.done-on-sheet", breaths=one_decimal(adherence.breaths_done)),
    )
    yield Result(
        "breaths_due",
        EXPLAIN.say("adherence.breaths-due"),
        adherence.breaths_due,
        _sum(slot.due for slot in slots),
    )
    credited, due = breaths_beside_percent(adherence.credited, adherence.breaths_due)
    yield Result(
        "credited",
        EXPLAIN.say("adherence.credited"),
        adherence.credited,
        _sum(slot.credited for slot in slots),
        sheet=EXPLAIN.say("adherence.credited-on-sheet", credited=credited, due=due)
        if adherence.slots_due
        else None,
    )
    for name, meaning, share, of, all_due in (
        (
            *("percent", EXPLAIN.say("adherence.percent"), adherence.percent),
            *(adherence.credited, adherence.breaths_due),
        ),
        (
            *("percent_of_charted", EXPLAIN.say("adherence.percent-of-charted")),
            adherence.percent_of_charted,
            *(adherence.credited_of_charted, adherence.due_of_charted),
        ),
    ):
        yield Result(
            name,
            meaning,
            share,
            f"100 x {exact(of)} / {exact(all_due)}",
            EXPLAIN.say("adherence.none-due"),
            None if share is None else percent(share),
        )
    for name, meaning, count in (
        ("slots_due", EXPLAIN.say("adherence.slots-due"), adherence.slots_due),
        ("slots_met", EXPLAIN.say("adherence.slots-met"), adherence.slots_met),
        ("slots_uncharted", EXPLAIN.say("adherence.slots-uncharted"), adherence.slots_uncharted),
    ):
        yield Result(name, meaning, count, EXPLAIN.say("adherence.count"))


def _sum(numbers: Iterable[float]) -> str:
    summed = " + ".join(exact(number) for number in numbers if number)
    return summed or EXPLAIN.say("adherence.nothing")

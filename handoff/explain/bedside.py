"""Explains the other numbers of the shift: holds, pain, the lowest SpO2.

Input: a `Subject`. Output: blocks of text. The numbers are those of `Measures`.
"""

from collections.abc import Iterable, Iterator

from handoff.explain.subject import Subject
from handoff.explain.text import Block, Result
from handoff.model.rounding import exact, one_decimal
from handoff.model.ward import Entry
from handoff.model.wording import EXPLAIN


def explain_bedside(subject: Subject) -> Iterator[Block]:
    """The rows that record each of them, and the resulting number."""
    measures = subject.measures
    yield _hold(subject)
    yield _pain(subject)
    lowest = measures.bedside.lowest_spo2
    spo2 = None if lowest is None else lowest.signs.spo2
    # The lowest SpO2, like the cautions, also reads rows of the shift before the stay.
    recorded = _listed((row.signs.spo2, row) for row in measures.caution_entries)
    yield Result(
        "lowest_spo2",
        EXPLAIN.say("bedside.spo2"),
        spo2,
        EXPLAIN.say("bedside.lowest", rows=recorded, row=subject.cited(lowest)),
        sheet=None if spo2 is None else f"{one_decimal(spo2)} %",
    )


def _hold(subject: Subject) -> Result:
    held, rows = subject.measures.bedside.held_s, subject.measures.shift_entries
    recorded = _listed((row.hold_s, row) for row in rows if row.is_exercise)
    sheet = None
    if held is not None:
        seconds = one_decimal(held.median)
        sheet = EXPLAIN.say("bedside.hold-on-sheet", seconds=seconds, count=held.count)
    return Result(
        "held_s",
        EXPLAIN.say("bedside.hold"),
        None if held is None else held.median,
        EXPLAIN.say("bedside.median", rows=recorded),
        sheet=sheet,
    )


def _pain(subject: Subject) -> Result:
    pain, rows = subject.measures.bedside.pain, subject.measures.shift_entries
    recorded = _listed((row.signs.pain, row) for row in rows)
    value = sheet = None
    if pain is not None:
        least, greatest = exact(pain.least), exact(pain.greatest)
        value = EXPLAIN.say("bedside.span", least=least, greatest=greatest)
        sheet = EXPLAIN.say("bedside.pain-on-sheet", pain=greatest)
    return Result(
        "pain",
        EXPLAIN.say("bedside.pain"),
        value,
        EXPLAIN.say("bedside.least-to-greatest", rows=recorded),
        sheet=sheet,
    )


def _listed(rows: Iterable[tuple[float | None, Entry]]) -> str:
    return ", ".join(f"{exact(value)} ({row.place})" for value, row in rows if value is not None)

"""Explains the other numbers of the shift: holds, pain, the lowest SpO2.

Input: a `Subject`. Output: blocks of text. The numbers are those of `Measures`.
"""

from collections.abc import Iterable, Iterator

from handoff.explain.subject import Subject
from handoff.explain.text import Block, Result
from handoff.model.rounding import exact, one_decimal
from handoff.model.ward import Entry


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
        "lowest SpO2 of the shift's rows, the latest of equals, in %",
        spo2,
        f"{recorded}: lowest, {subject.cited(lowest)}",
        sheet=None if spo2 is None else f"{one_decimal(spo2)} %",
    )


def _hold(subject: Subject) -> Result:
    held, rows = subject.measures.bedside.held_s, subject.measures.shift_entries
    return Result(
        "held_s",
        "median breath hold of the shift's exercises that record one, in s",
        None if held is None else held.median,
        f"{_listed((row.hold_s, row) for row in rows if row.is_exercise)}: median",
        sheet=None
        if held is None
        else f"median {one_decimal(held.median)} s ({held.count} recorded)",
    )


def _pain(subject: Subject) -> Result:
    pain, rows = subject.measures.bedside.pain, subject.measures.shift_entries
    return Result(
        "pain",
        "least and greatest pain of the shift's rows, 0 to 10",
        None if pain is None else f"{exact(pain.least)} to {exact(pain.greatest)}",
        f"{_listed((row.signs.pain, row) for row in rows)}: least to greatest",
        sheet=None if pain is None else f"{exact(pain.greatest)} of 10",
    )


def _listed(rows: Iterable[tuple[float | None, Entry]]) -> str:
    return ", ".join(f"{exact(value)} ({row.place})" for value, row in rows if value is not None)

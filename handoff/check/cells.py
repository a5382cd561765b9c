"""Reads the cells of records: raw text -> values, by the contract's table of fields.

Enters: a record. Leaves: the values that can be read, and the finding of each cell that cannot. A
cell that cannot be read is lost, never guessed: what was probably meant is a word of its finding.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial
from typing import Any
from zoneinfo import ZoneInfo

from handoff.cell import READ_AS, BadCell, Doubtful, Outcome, findings_of, outcome_of
from handoff.check.characters import plain
from handoff.check.parse import choice, done, number, symptoms, text, yes_or_no
from handoff.clock import Clock, quiet_hours, time_zone
from handoff.fields import Field, Kind
from handoff.findings import Finding
from handoff.model import Shift
from handoff.read import Record, Sheet

ANY_CLOCK = Clock(ZoneInfo("UTC"))  # for records that hold no time

LONGEST_CELL = 2_000  # characters of a cell that holds no text; the longest note has as many

MOST_KNOWN = 10_000  # texts of one field that are kept with what they were read as

_PLAIN = frozenset(
    {Kind.NUMBER, Kind.WHOLE, Kind.DAY, Kind.MOMENT, Kind.FACT_TIME, Kind.DONE, Kind.HOURS}
)
_INSTANT = timedelta(microseconds=1)


@dataclass(frozen=True, slots=True)
class Cells:
    """What could be read of one record, and why the rest could not, both by contract name."""

    values: dict[str, Any]
    lost: dict[str, Finding]


@dataclass(frozen=True, slots=True)
class Reading:
    """The sheet that is read, by which clock and in which shift, and what is found wrong so far.

    `shift` is needed for times without a date.
    """

    sheet: Sheet
    findings: list[Finding]
    clock: Clock
    shift: Shift | None = None

    def report(self, found: Finding) -> Finding:
        """Adds a finding and gives it back."""
        self.findings.append(found)
        return found

    def withdraw(self, found: Finding) -> None:
        """Takes back a finding that is among the last."""
        last = range(len(self.findings) - 1, -1, -1)
        del self.findings[next(index for index in last if self.findings[index] is found)]


class CellReader:
    """Reads some fields of one record after another.

    A text that was read is not read again: most of them come many times.
    """

    def __init__(self, reading: Reading, fields: Iterable[Field]) -> None:
        self.reading = reading
        # For each field its name, the name of the field it follows, and what is known of texts.
        self._plan: list[tuple[Field, str, str, dict[object, Outcome]]] = [
            (field, field.name, field.after, {}) for field in fields
        ]
        self._told: set[tuple[str, object]] = set()

    def read(self, record: Record) -> Cells:
        """The cells of the record; a field that a time may follow is read before it."""
        values: dict[str, Any] = {}
        lost = dict(record.lost) if record.lost else {}
        cells = record.cells
        for field, name, after, known in self._plan:
            if name not in cells:
                continue
            raw = cells[name]
            key = (raw, values.get(after)) if after else raw
            outcome = known.get(key)
            if outcome is None:
                outcome = self._outcome(field, raw.strip(), values)
                if len(known) < MOST_KNOWN:
                    known[key] = outcome
            value, doubts = outcome
            if value is not None:
                values[name] = value
            if doubts:
                place = self.reading.sheet.place(record, field)
                findings = findings_of(self._untold(name, doubts), place, name, raw.strip())
                self.reading.findings.extend(findings)
                if value is None:
                    lost[name] = findings[0]
        return Cells(values, lost)

    def _outcome(self, field: Field, raw: str, values: dict[str, Any]) -> Outcome:
        if not raw:
            return None, ()
        if len(raw) > LONGEST_CELL and field.kind is not Kind.TEXT:
            return None, (BadCell("too-long", longest=LONGEST_CELL, length=len(raw)),)
        text, what = plain(raw) if field.kind in _PLAIN else (raw, None)
        parse = partial(_PARSERS[field.kind], self._surroundings(field, values))
        value, doubts = outcome_of(parse, text)
        if value is not None and what and all(doubt.code != READ_AS for doubt in doubts):
            doubts = (*doubts, BadCell(READ_AS, what=what, read=text))
        return value, doubts

    def _untold(self, name: str, doubts: Iterable[BadCell]) -> Iterator[BadCell]:
        """The doubts less how a way of writing is read, when that was said of its column before."""
        for doubt in doubts:
            way = name, doubt.words.get("what")
            if doubt.code != READ_AS or way not in self._told:
                self._told.add(way)
                yield doubt

    def _surroundings(self, field: Field, values: dict[str, Any]) -> "_Surroundings":
        reading, shift = self.reading, self.reading.shift
        after = values.get(field.after)
        start, end = (shift.start, shift.end) if shift else (None, None)
        earliest = after + _INSTANT if after else start
        return _Surroundings(field, reading.clock, earliest, end, reading.sheet.decimal_comma)


@dataclass(frozen=True, slots=True)
class _Surroundings:
    """What a cell is read by, besides its text."""

    field: Field
    clock: Clock
    earliest: datetime | None
    shift_end: datetime | None
    decimal_comma: bool

    def number(self, raw: str) -> float | int | Doubtful[float | int]:
        return number(raw, self.field, decimal_comma=self.decimal_comma)

    def moment(self, raw: str) -> datetime | Doubtful[datetime]:
        return self.clock.moment(raw, self.earliest)

    def fact_time(self, raw: str) -> datetime | Doubtful[datetime]:
        return self.clock.moment(raw, self.earliest, before=self.shift_end)


_PARSERS: dict[Kind, Callable[[_Surroundings, str], Any]] = {
    Kind.TEXT: lambda around, raw: text(raw, around.field),
    Kind.NUMBER: lambda around, raw: around.number(raw),
    Kind.WHOLE: lambda around, raw: around.number(raw),
    Kind.MOMENT: lambda around, raw: around.moment(raw),
    Kind.FACT_TIME: lambda around, raw: around.fact_time(raw),
    Kind.DONE: lambda around, raw: done(raw, around.fact_time),
    Kind.DAY: lambda around, raw: around.clock.day(raw),
    Kind.YES_NO: lambda _, raw: yes_or_no(raw),
    Kind.CHOICE: lambda around, raw: choice(raw, around.field),
    Kind.CHOICES: lambda around, raw: symptoms(raw, around.field),
    Kind.ZONE: lambda _, raw: time_zone(raw),
    Kind.HOURS: lambda _, raw: quiet_hours(raw),
}

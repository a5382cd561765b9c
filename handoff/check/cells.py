"""Reads the cells of records: raw text -> values, by the contract's table of fields.

Input: a record. Output: the values that can be read, and the finding of each cell that cannot. A
cell that cannot be read is lost, never guessed; its finding says what was probably meant.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from functools import cache, partial
from typing import Any
from zoneinfo import ZoneInfo

from msgspec import field
from msgspec.structs import replace

from handoff.check.characters import plain, unquoted
from handoff.check.numbers import number
from handoff.check.parse import (
    choice,
    choices,
    done,
    home_phone,
    identifier,
    is_error_value,
    oxygen,
    text,
    yes_or_no,
)
from handoff.check.slips import NEAR, likely_time
from handoff.log.cell import (
    OR_BLANK,
    READ_AS,
    BadCell,
    Doubtful,
    Outcome,
    findings_of,
    outcome_of,
    read_as_doubt,
)
from handoff.log.clock import Clock, quiet_hours, time_zone
from handoff.log.fields import ORDER_PARTS, Field, Kind, Section
from handoff.log.languages import read_language
from handoff.log.written import written
from handoff.model.findings import Finding, Severity, worst
from handoff.model.frozen import Frozen
from handoff.model.ward import Shift
from handoff.read import RawLog, Record

ANY_CLOCK = Clock(ZoneInfo("UTC"))  # for records that hold no time

LONGEST_CELL = 2_000  # characters of a cell that holds no text; the longest note has as many

MOST_KNOWN = 10_000  # texts of one field kept with their values

# Kinds of which a text means the same in all logs.
_SAME = frozenset({Kind.TEXT, Kind.NUMBER, Kind.WHOLE, Kind.YES_NO, Kind.CHOICE, Kind.CHOICES})

# The key of how to mend a cell of an order, where a blank is not "not known".
AS_ORDERED = "any.as-ordered"

_PLAIN = frozenset(
    {Kind.NUMBER, Kind.WHOLE, Kind.DAY, Kind.MOMENT, Kind.FACT_TIME, Kind.DONE, Kind.HOURS}
)
_INSTANT = timedelta(microseconds=1)


class Cells(Frozen):
    """The values of one record, and why the other cells could not be read, both by contract name.

    `unread` names the cells that are lost, whole or in part, and `likely` has what was probably
    meant, word for word. `findings` are all findings of reading the record.
    """

    values: dict[str, Any]
    lost: dict[str, Finding]
    unread: frozenset[str] = frozenset()
    likely: Mapping[str, Sequence[str]] = field(default_factory=dict)
    findings: Sequence[Finding] = ()


class Reading(Frozen):
    """The raw log to read, its clock, the shift of times without a date, and the languages that
    there are words in.
    """

    raw_log: RawLog
    clock: Clock
    shift: Shift | None = None
    languages: tuple[str, ...] = ()


class CellReader:
    """Reads some fields of one record after another.

    A text read without doubt is kept and not read again: most texts occur many times.
    """

    def __init__(self, reading: Reading, fields: Iterable[Field]) -> None:
        self.reading = reading
        start = reading.shift.start if reading.shift else None
        decimal_comma = reading.raw_log.decimal_comma
        # For each field: its name, the field that it follows, its parser, and the texts read so
        # far.
        self._plan: list[tuple[str, str, _Surroundings, dict[object, Any]]] = [
            (
                each.name,
                each.after,
                _Surroundings(
                    each, reading.clock, start, reading.shift, decimal_comma, reading.languages
                ),
                _known(each.section, each.name, decimal_comma) if each.kind in _SAME else {},
            )
            for each in fields
        ]
        self._reported: set[tuple[str, object]] = set()

    def read(self, record: Record) -> Cells:
        """The cells of the record. A field is read before the times that follow it."""
        values: dict[str, Any] = {}
        lost = dict(record.lost) if record.lost else {}
        unread = set(lost)
        findings: list[Finding] = []
        likely: dict[str, Sequence[str]] = {}
        cells = record.cells
        for name, after, around, known in self._plan:
            if name not in cells:
                continue
            raw = cells[name]
            key = (raw, values.get(after)) if after else raw
            value = known.get(key)
            if value is None:
                before = values.get(after)  # the time that this one comes after
                surroundings = replace(around, earliest=before + _INSTANT) if before else around
                value, doubts = _outcome(surroundings, raw.strip())
                if not doubts and len(known) < MOST_KNOWN:
                    known[key] = value
                elif doubts:
                    place = self.reading.raw_log.place(record, around.field)
                    new = self._unreported(name, doubts)
                    or_blank = AS_ORDERED if name in ORDER_PARTS else OR_BLANK
                    found = findings_of(new, place, name, raw.strip(), or_blank)
                    if value is None and found:
                        lost[name] = found[0]
                    if worst(found) is Severity.ERROR:
                        unread.add(name)
                        likely[name] = [_likely(each) for each in doubts]
                    findings += found
            if value is not None:
                values[name] = value
        likely |= self._meant(record) if record.meant else {}
        return Cells(values, lost, frozenset(unread), likely, findings)

    def _meant(self, record: Record) -> dict[str, list[str]]:
        """What the texts in the place of lost cells probably mean, also where they can be read."""
        found: dict[str, list[str]] = {}
        for name, _, around, _ in self._plan:
            if text := record.meant.get(name, "").strip():
                value, doubts = _outcome(around, text)
                read = value if isinstance(value, tuple) else (value,)
                found[name] = [str(each) for each in read if each is not None]
                found[name] += filter(None, map(_likely, doubts))
        return found

    def _unreported(self, name: str, doubts: Iterable[BadCell]) -> Iterator[BadCell]:
        """The doubts, without those on a way of writing that this column already has one for."""
        for doubt in doubts:
            way = name, doubt.words.get("what")
            if doubt.code != READ_AS or way not in self._reported:
                self._reported.add(way)
                yield doubt


@cache
def _known(section: Section, name: str, decimal_comma: bool) -> dict[object, Any]:  # noqa: ARG001, FBT001 - by these it is kept
    """The texts of one field read so far, in all logs, each with its value."""
    return {}


def _likely(doubt: BadCell) -> str:
    """What a cell probably means, also where it is too unsure to be offered as its mending."""
    return str(doubt.words.get("means") or doubt.words.get("hint") or "")


class _Surroundings(Frozen):
    """What a cell's value depends on, besides its text."""

    field: Field
    clock: Clock
    earliest: datetime | None
    shift: Shift | None
    decimal_comma: bool
    languages: tuple[str, ...]

    def number(self, raw: str) -> float | int | Doubtful[float | int]:
        return number(raw, self.field, decimal_comma=self.decimal_comma)

    def moment(self, raw: str) -> datetime | Doubtful[datetime]:
        """The time of an entry. Without its date it lies in the shift, its end included; the end of
        a span lies at most an hour after that.
        """
        if self.shift is None:
            return self.clock.moment(raw, self.earliest)
        is_end = bool(self.field.after)
        before = self.shift.end + _INSTANT + (NEAR if is_end else timedelta())
        try:
            return self.clock.moment(raw, self.earliest, before)
        except BadCell as bad:
            found = bad.words.get("found")
            if not isinstance(found, datetime):
                raise
            if is_end:
                raise BadCell("end-without-date") from bad
            likely = likely_time(found, self.shift, self.clock.zone)
            if found < self.shift.end + NEAR:
                likely = written(found, self.clock.zone)
            raise BadCell(bad.code, hint=likely) from bad

    def fact_time(self, raw: str) -> datetime | Doubtful[datetime]:
        return self.clock.moment(raw, self.earliest, self.shift.end if self.shift else None)


# Text fields with a parser of their own.
_TEXTS = {
    "oxygen": oxygen,
    "home_phone": home_phone,
    "patient_id": identifier,
    "bed": identifier,
}

_PARSERS: dict[Kind, Callable[[_Surroundings, str], Any]] = {
    Kind.TEXT: lambda around, raw: _TEXTS.get(around.field.name, text)(raw, around.field),
    Kind.NUMBER: lambda around, raw: around.number(raw),
    Kind.WHOLE: lambda around, raw: around.number(raw),
    Kind.MOMENT: lambda around, raw: around.moment(raw),
    Kind.FACT_TIME: lambda around, raw: around.fact_time(raw),
    Kind.DONE: lambda around, raw: done(raw, around.fact_time),
    Kind.DAY: lambda around, raw: around.clock.day(raw),
    Kind.YES_NO: lambda around, raw: yes_or_no(raw, around.field),
    Kind.CHOICE: lambda around, raw: choice(raw, around.field),
    Kind.CHOICES: lambda around, raw: choices(raw, around.field),
    Kind.LANGUAGE: lambda around, raw: read_language(raw, around.languages),
    Kind.ZONE: lambda _, raw: time_zone(raw),
    Kind.HOURS: lambda _, raw: quiet_hours(raw),
}


def _outcome(around: _Surroundings, raw: str) -> Outcome:
    if not raw:
        return None, ()
    kind = around.field.kind
    if is_error_value(raw):
        return None, (BadCell("error-value"),)
    if len(raw) > LONGEST_CELL and kind is not Kind.TEXT:
        return None, (BadCell("too-long", longest=LONGEST_CELL, length=len(raw)),)
    read_as, what = (raw, None) if around.field.name == "note" else unquoted(raw)
    if kind in _PLAIN and not what:
        read_as, what = plain(raw)
    value, doubts = outcome_of(partial(_PARSERS[kind], around), read_as)
    if doubts and kind is not Kind.TEXT and read_as.endswith("."):
        without_stop = read_as.rstrip(". ")
        again, doubts_again = outcome_of(partial(_PARSERS[kind], around), without_stop)
        if again is not None and not doubts_again:
            value, doubts = again, ()
            read_as, what = without_stop, "full-stop"
    if value is not None and what and all(doubt.code != READ_AS for doubt in doubts):
        doubts = (*doubts, read_as_doubt(what, read_as))
    return value, doubts

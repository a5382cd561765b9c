"""The findings in the open logs, by row, with the cells that they are about.

Input: a `Ward`. Output: `FoundRow`s to be corrected, also of a patient's facts and entries. Writes
nothing. A finding stays until its row is mended.
"""

from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from msgspec.structs import replace

from handoff.desk.edits import change, logbook
from handoff.desk.edits.change import Row
from handoff.desk.edits.failures import EditError
from handoff.desk.ward import Ward
from handoff.log.fields import ORDER_PARTS, Section, fields_of
from handoff.model.findings import Finding, Place, Severity
from handoff.model.frozen import Frozen
from handoff.model.ward import Entry, Handover, Patient
from handoff.read import RawLog, Record

REMOVABLE = frozenset({"repeated-entry"})
_GRAVITY = list(Severity)


class Cell(Frozen):
    """One cell of a row: its text, and the findings on it."""

    name: str
    text: str
    findings: tuple[Finding, ...] = ()


class FoundRow(Frozen):
    """A row with findings; or a line or file with findings that belong to no row.

    `cells` are those that are filled in or that a finding names, `more` the rest. A row whose cells
    cannot be told apart has its `line_text` instead.
    """

    file: str
    line: int | None
    findings: tuple[Finding, ...]
    set_aside: bool = False
    row: Row | None = None
    patient_id: str | None = None
    cells: tuple[Cell, ...] = ()
    more: tuple[Cell, ...] = ()
    line_text: str | None = None

    @property
    def severity(self) -> Severity:
        """The gravest of what was found."""
        grave = (each.severity for each in self.findings)
        return min(grave, key=_GRAVITY.index, default=Severity.NOTE)

    @property
    def removable(self) -> bool:
        """Whether the row repeats another one."""
        return any(each.code in REMOVABLE for each in self.findings)


class Found(NamedTuple):
    """What was found in one row, or on a line or in a file where it belongs to no row."""

    file: str
    at: Row | int | None
    findings: tuple[Finding, ...]
    set_aside: bool


def found_places(ward: Ward) -> list[Found]:
    """Everything that was found, by row; rows set aside and errors first, then by place."""
    found: dict[tuple[str, Row | int | None], list[Finding]] = {}
    indexes = {path: _rows_by_line(raw_log) for path, raw_log in ward.raw_logs.items()}
    for each in ward.findings:
        rows = indexes.get(each.place.file, {}).get(each.place.line or 0, ())
        at = next((row for row in rows if _may_hold(row, each)), None)
        of_row = found.setdefault((each.place.file, at or each.place.line), [])
        if each not in of_row:
            of_row.append(each)
    set_aside = frozenset(row.place for each in ward.handovers for row in each.set_aside)
    places = {
        key: _place(ward.raw_logs.get(key[0]), key[1], findings) for key, findings in found.items()
    }
    return [
        Found(*key, tuple(findings), places[key] in set_aside)
        for key, findings in sorted(
            found.items(),
            key=lambda each: (
                places[each[0]] not in set_aside,
                min(_GRAVITY.index(finding.severity) for finding in each[1]),
                places[each[0]].order,
            ),
        )
    ]


def found_rows(ward: Ward, places: Iterable[Found]) -> list[FoundRow]:
    """The rows with what was found in them."""
    chosen = tuple(places)
    texts = {path: _text(path) for path in {each.file for each in chosen} & ward.raw_logs.keys()}
    return [_found_row(ward.raw_logs.get(each.file), texts.get(each.file), each) for each in chosen]


def facts_of(ward: Ward, patient: Patient) -> list[FoundRow]:
    """The row with a patient's first facts, and each row in which another order begins, to be
    corrected even without a finding.
    """
    raw_log = ward.raw_logs[patient.place.file]
    section = Section.PATIENT if raw_log.columns is None else Section.ENTRY
    names = change.fields_written(Section.PATIENT, raw_log)
    rows: list[FoundRow] = []
    starts: set[str] = set()
    for index, record in enumerate(change.records_of(raw_log, section)):
        start = record.cells.get("order_start", "").strip()
        is_first = patient.place.line in change.lines_of(record) and not rows
        is_of_patient = record.cells.get("patient_id", "").strip() == patient.id
        if not is_first and not (is_of_patient and start and start not in starts):
            continue
        starts.add(start)
        shown = names if is_first else [name for name in names if name in ORDER_PARTS]
        cells = tuple(Cell(name, record.cells.get(name, "")) for name in shown)
        at, whose = Row(section, index), patient.id
        rows.append(FoundRow(raw_log.file, record.line, (), row=at, patient_id=whose, cells=cells))
    return rows


def entries_of(ward: Ward, handover: Handover, patient: Patient) -> list[tuple[Entry, FoundRow]]:
    """The rows of a patient's entries of this shift, newest first, to be corrected."""
    rows = {path: _rows_by_line(raw_log) for path, raw_log in ward.raw_logs.items()}
    of_shift = [
        each for each in handover.entries.get(patient.id, ()) if each.at >= handover.shift.start
    ]
    return [
        (entry, _row(ward.raw_logs[entry.place.file], row))
        for entry in reversed(of_shift)
        for row in rows.get(entry.place.file, {}).get(entry.place.line or 0, ())[:1]
    ]


def _rows_by_line(raw_log: RawLog) -> dict[int, list[Row]]:
    """By line, the rows that start, or have a cell, on it."""
    by_line: dict[int, list[Row]] = {}
    sections = list(Section) if raw_log.columns is None else [Section.ENTRY]
    for section in sections if raw_log.usable else ():
        for index, record in enumerate(change.records_of(raw_log, section)):
            for line in change.lines_of(record):
                by_line.setdefault(line, []).append(Row(section, index))
    return by_line


def _may_hold(row: Row, found: Finding) -> bool:
    """Whether a row may have the field of a finding; an unknown field is in no row."""
    if row.section in {Section.UNIT, Section.SHIFT}:
        return any(field.name == found.field for field in fields_of(row.section))
    return found.code != "unknown-field"


def _text(path: str) -> str | None:
    """The text of a log; None where it cannot be shown."""
    try:
        with logbook.locked(path, shared=True):
            return logbook.read_log(path).text
    except EditError:
        return None


def _place(raw_log: RawLog | None, at: Row | int | None, findings: Sequence[Finding]) -> Place:
    """Where a row, a line or a file starts."""
    if isinstance(at, Row) and raw_log is not None:
        return raw_log.row_place(at.record(raw_log))
    return Place(findings[0].place.file, findings[0].place.line)


def _found_row(raw_log: RawLog | None, text: str | None, found: Found) -> FoundRow:
    file, at, findings, set_aside = found
    line = findings[0].place.line
    if not isinstance(at, Row) or raw_log is None:
        return FoundRow(file, line, findings, set_aside, line_text=_line(text, line))
    record = at.record(raw_log)
    if record.broken:
        text_of_line = _line(text, record.line)
        return FoundRow(file, record.line, findings, set_aside, at, line_text=text_of_line)
    return replace(_row(raw_log, at, findings), set_aside=set_aside)


def _row(raw_log: RawLog, at: Row, findings: tuple[Finding, ...] = ()) -> FoundRow:
    """A row with its cells: filled cells and those in findings come first."""
    record = at.record(raw_log)
    cells = list(_cells(raw_log, at, record, findings))
    shown = tuple(each for each in cells if each.findings or each.text)
    return FoundRow(
        raw_log.file,
        record.line,
        findings,
        row=at,
        patient_id=record.cells.get("patient_id", "").strip() or None,
        cells=shown,
        more=tuple(each for each in cells if each not in shown),
    )


def _cells(
    raw_log: RawLog, row: Row, record: Record, findings: tuple[Finding, ...]
) -> Iterator[Cell]:
    """The cells that a row has, or has room for, those of its part of a log first."""
    of_part = [field.name for field in fields_of(row.section)]
    named = [each.field for each in findings if each.field]
    doubled = [name for name in record.cells if ", column " in name]
    for name in dict.fromkeys((*of_part, *named, *doubled)):
        if raw_log.columns is None and name not in of_part:
            continue
        if raw_log.columns is None or name in raw_log.columns or name in doubled:
            about = tuple(each for each in findings if each.field == name)
            yield Cell(name, record.cells.get(name, ""), about)


def _line(text: str | None, line: int | None) -> str | None:
    return None if text is None or line is None else change.line_of(text, line)

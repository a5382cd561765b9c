"""One change to the text of a log, in either format, and the proof that nothing else changed.

Input: the text of a log and a change. Output: the new text. The reader reads it again. Raises
`EditError` where another record has changed, or the changed one is not as asked.
"""

import re
from collections.abc import Iterable, Mapping

from handoff.desk.edits import csv_text, yaml_text
from handoff.desk.edits.failures import EditError
from handoff.log.fields import BY_NAME, Section, fields_of
from handoff.log.yaml_nodes import NodePath
from handoff.model.frozen import Frozen
from handoff.read import RawLog, Record, parse

NOT_EXACT = "not-exact"

ENTRY_NAMES = [field.name for field in fields_of(Section.ENTRY)]


class Row(Frozen):
    """A record of a log: its part of the log, and its number there, from 0."""

    section: Section
    index: int = 0

    def record(self, raw_log: RawLog) -> Record:
        """The record; raises `IndexError` where the log has no such row."""
        return records_of(raw_log, self.section)[self.index]

    @property
    def path(self) -> NodePath:
        """Its path in a YAML log."""
        single = self.section in {Section.UNIT, Section.SHIFT}
        return (str(self.section),) if single else (str(self.section), self.index)


def records_of(raw_log: RawLog, section: Section) -> tuple[Record, ...]:
    """The records of one part of a log."""
    return {
        Section.UNIT: (raw_log.unit,),
        Section.SHIFT: (raw_log.shift,),
        Section.PATIENT: raw_log.patients,
        Section.ENTRY: raw_log.entries,
    }[section]


def lines_of(record: Record) -> set[int]:
    """The lines on which a record or one of its cells starts."""
    return {record.line, *record.lines.values()}


def fields_written(section: Section, raw_log: RawLog) -> tuple[str, ...]:
    """The fields of one part that the log has a place for."""
    names = [field.name for field in fields_of(section)]
    return tuple(name for name in names if raw_log.columns is None or name in raw_log.columns)


def with_entry(text: str, file: str, cells: Mapping[str, str]) -> str:
    """The text with one more entry at its end."""
    before = _usable(text, file)
    append = csv_text.appended if _is_csv(before) else yaml_text.appended
    edited = append(text, cells)
    after = parse(edited, file)
    *others, added = after.entries or (Record(0, {}),)
    as_read = {name: added.cells[name] for name in ENTRY_NAMES if name in added.cells}
    as_before = _plain(others) == _plain(before.entries) and _around(after) == _around(before)
    if not edited.startswith(text) or not as_before or as_read != dict(cells):
        raise EditError(NOT_EXACT)
    return edited


def with_patient(text: str, file: str, cells: Mapping[str, str]) -> str:
    """The text with one more patient on its list."""
    before = _usable(text, file)
    is_csv = _is_csv(before)
    edited = (csv_text.appended if is_csv else yaml_text.with_patient)(text, cells)
    after = parse(edited, file)
    grown = Section.ENTRY if is_csv else Section.PATIENT
    for section in [grown] if is_csv else Section:
        old, new = (
            [cells for _, _, cells in _plain(records_of(raw_log, section))]
            for raw_log in (before, after)
        )
        if new != [*old, dict(cells)] if section is grown else new != old:
            raise EditError(NOT_EXACT)
    return edited


def with_cells(text: str, file: str, row: Row, changes: Mapping[str, str]) -> str:
    """The text with other cells in one row, by contract name."""
    before = _usable(text, file)
    if _is_csv(before):
        edited = csv_text.replaced(text, row.record(before).line, changes)
    else:
        edited = text
        is_patient = row.section is Section.PATIENT
        path = yaml_text.patient_paths(text)[row.index] if is_patient else row.path
        for name, cell in changes.items():
            edited = yaml_text.replaced(edited, path, BY_NAME[row.section, name], cell)
    wanted = {**row.record(before).cells, **changes}
    _prove(before, parse(edited, file), row, wanted)
    return edited


def without_row(text: str, file: str, row: Row) -> str:
    """The text without one entry."""
    before = _usable(text, file)
    record = row.record(before)
    if _is_csv(before):
        edited = csv_text.without(text, record.line)
    else:
        edited = yaml_text.without(text, row.path)
    after = parse(edited, file)
    kept = [each.cells for each in before.entries if each is not record]
    if [each.cells for each in after.entries] != kept or _facts(after) != _facts(before):
        raise EditError(NOT_EXACT)
    return edited


def without_entry(text: str, file: str, row: Row) -> str:
    """The text without one entry. A row of a table that also tells of the unit or of a patient
    keeps what it tells of them.
    """
    before = _usable(text, file)
    try:
        return without_row(text, file, row)
    except EditError:
        if not _is_csv(before):
            raise
    cells = row.record(before).cells
    return with_cells(text, file, row, {name: "" for name in _of_entry(cells) if cells[name]})


def with_entry_moved(text: str, file: str, row: Row, patient_id: str) -> str:
    """The text with one entry as another patient's. A row of a table that also tells of the first
    patient stays, and the entry becomes a row at the end.
    """
    before = _usable(text, file)
    cells = row.record(before).cells
    facts = [field.name for field in fields_of(Section.PATIENT) if field.name != "patient_id"]
    if not (_is_csv(before) and any(cells.get(name, "").strip() for name in facts)):
        return with_cells(text, file, row, {"patient_id": patient_id})
    moved = {name: cells[name].strip() for name in _of_entry(cells) if cells[name].strip()}
    without = without_entry(text, file, row)
    return with_entry(without, file, {"patient_id": patient_id, **moved})


def line_of(text: str, line: int) -> str:
    """One line of a text, without its end; '' where the text has no such line."""
    lines = split_lines(text)
    return lines[line - 1].rstrip("\r\n") if 0 < line <= len(lines) else ""


def with_line(text: str, file: str, line: int, new: str) -> str:
    """The text with another line; a log that could be read must still be one."""
    lines = split_lines(text)
    old = lines[line - 1]
    end = old[len(old.rstrip("\r\n")) :]
    lines[line - 1] = new + end
    edited = "".join(lines)
    if parse(text, file).usable and not parse(edited, file).usable:
        raise EditError("unreadable-line")
    return edited


def _of_entry(cells: Mapping[str, str]) -> list[str]:
    """The names of the cells of an entry, without whose it is."""
    names = ((name, name.partition(", column ")[0]) for name in cells)
    return [name for name, of in names if of in ENTRY_NAMES and of != "patient_id"]


def _usable(text: str, file: str) -> RawLog:
    raw_log = parse(text, file)
    if not raw_log.usable:
        raise EditError("unreadable-log")
    return raw_log


def split_lines(text: str) -> list[str]:
    """The lines of a text, each with its end."""
    return re.findall(r"[^\r\n]*(?:\r\n|\n|\r)|[^\r\n]+", text)


def _prove(before: RawLog, after: RawLog, row: Row, wanted: Mapping[str, str]) -> None:
    """Check that the row is as wanted, and every other one as before; raises `EditError`."""
    sections = [Section.ENTRY] if _is_csv(before) else list(Section)
    for section in sections:
        old, new = records_of(before, section), records_of(after, section)
        if len(old) != len(new):
            raise EditError(NOT_EXACT)
        for index, (was, now) in enumerate(zip(old, new, strict=True)):
            cells = wanted if row == Row(section, index) else was.cells
            if _as_written(cells) != _as_written(now.cells):
                raise EditError(NOT_EXACT)


def _as_written(cells: Mapping[str, str]) -> dict[str, set[str]]:
    """The filled cells of a row; columns of one name are merged."""
    by_name: dict[str, set[str]] = {}
    for name, cell in cells.items():
        if cell:
            by_name.setdefault(name.partition(", column ")[0], set()).add(cell)
    return by_name


def _is_csv(raw_log: RawLog) -> bool:
    return raw_log.columns is not None


def _around(raw_log: RawLog) -> tuple[object, ...]:
    return raw_log.unit, raw_log.shift, raw_log.patients, raw_log.columns


def _plain(records: Iterable[Record]) -> list[tuple[int, bool, dict[str, str]]]:
    """Records as the checks see them: the last text of a file may have gained a line end."""
    return [
        (each.line, each.broken is None, {name: cell.strip() for name, cell in each.cells.items()})
        for each in records
    ]


def _facts(raw_log: RawLog) -> list[Mapping[str, str]]:
    """The cells of unit, shift and patients in a log."""
    return [each.cells for each in (raw_log.unit, raw_log.shift, *raw_log.patients)]

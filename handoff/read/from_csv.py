"""A CSV log, as spreadsheets write it: text -> `RawLog`.

Input: the text of the file. Output: a raw log with one record for each data row, and one for each
distinct set of facts about a patient. Never interprets a cell. Never pads or cuts a row: one that
does not fit the header is marked as broken.
"""

import csv
import io
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import islice

from msgspec.structs import replace

from handoff.log.fields import Section
from handoff.log.spreadsheet import as_written, may_be_marked
from handoff.model.bounds import USUAL, Bounds
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place
from handoff.model.wording import FINDINGS
from handoff.read.csv_header import (
    Header,
    above_header,
    find_header,
    header_findings,
    indispensable,
    is_header,
    lines_above,
    named,
    no_header,
    present,
)
from handoff.read.raw_log import RawLog, Record, unusable

# A digit that names of columns do not have: `SpO2` and `Pain (0-10)` have others.
_NO_NAME = re.compile(r"[^(\[]*(?<![oO])\d")
_Row = tuple[int, list[str], str | None]  # its line, its cells, the code of what is wrong with it


def read_csv(text: str, file: str, findings: list[Finding], bounds: Bounds = USUAL) -> RawLog:
    """The raw log of a CSV log; `findings` are those of the file so far."""
    lines = list(io.StringIO(text, newline=""))
    header = find_header(lines)
    if header is None:
        return unusable(file, [*findings, no_header(lines, file)])
    findings = [*findings, *header_findings(header, file)]
    if any(name not in header.columns for name in indispensable(header)):
        return unusable(file, findings)
    above, of_titles = above_header(lines_above(lines, header), header, file)
    findings += of_titles
    rows = _Rows(file, header, findings)
    marked = may_be_marked(text)
    records = tuple(islice(rows.records(_rows(lines, header), marked=marked), bounds.rows + 1))
    if len(records) > bounds.rows:
        place = Place(file, records[-1].line)
        return unusable(file, [*rows.findings, finding("too-many-rows", place, most=bounds.rows)])
    records = rows.trusted(records)
    silent = Record(header.line, {})
    raw_log = RawLog(
        file=file,
        usable=True,
        unit=silent,
        shift=silent,
        columns=rows.columns,
        decimal_comma=header.delimiter != ",",
        findings=tuple(rows.findings),
        above=above,
    )
    return with_rows(raw_log, records)


def with_rows(raw_log: RawLog, records: tuple[Record, ...]) -> RawLog:
    """The raw log of a CSV log with these rows, and their cells of unit, shift and patients."""
    columns = raw_log.columns or {}
    return replace(
        raw_log,
        unit=_first_filled(records, raw_log, Section.UNIT),
        shift=_first_filled(records, raw_log, Section.SHIFT),
        patients=tuple(_patients(records, columns)),
        entries=records,
    )


class _Rows:
    """Turns rows into records and collects their findings."""

    def __init__(self, file: str, header: Header, findings: list[Finding]) -> None:
        self.file = file
        self.header = header
        self.id_index = header.names.index("patient_id")
        self.columns = header.columns
        self.findings = findings
        # Rows with extra blank cells, and their headers, by line.
        self.padded: dict[int, tuple[Header, list[str]]] = {}
        self.seen: set[str] = set()  # ids in rows that are no header

    def records(self, rows: Iterable[_Row], *, marked: bool) -> Iterator[Record]:
        """A record for each row; `marked` cells are those that `as_written` may change."""
        for line, cells, problem in rows:
            row = [as_written(cell) for cell in cells] if marked else cells
            if problem:
                yield self._broken(problem, line, row)
            elif self._is_header(row):
                self._change_header(line, row)
            elif len(row) == len(self.header.names):
                record = Record(line, _filled(self.header.names, row))
                yield self._looked_at(record) if self.header.is_odd else record
            else:
                yield self._misfit(line, row)

    def _is_header(self, row: list[str]) -> bool:
        """Whether a row holds names of columns. Quick for nearly every row: an id has a digit, or
        was there before.
        """
        patient_id = row[self.id_index] if self.id_index < len(row) else ""
        if patient_id in self.seen or _NO_NAME.match(patient_id):
            return False
        if is_header(row):
            return True
        if patient_id:
            self.seen.add(patient_id)
        return False

    def _change_header(self, line: int, row: list[str]) -> None:
        """Reads the rows from here on by other column names. A name that the log had before keeps
        its first column's name in findings.
        """
        before = self.header
        self.header = named(replace(before, cells=row, line=line))
        if self.header.names == before.names:
            self.findings.append(finding("repeated-header", Place(self.file, line)))
            return
        self.findings.append(finding("other-header", Place(self.file, line)))
        found = header_findings(self.header, self.file)
        self.findings += (each for each in found if each.field not in {"name", "born"})
        self.columns = {**self.header.columns, **self.columns}
        names = self.header.names
        self.id_index = names.index("patient_id") if "patient_id" in names else 0
        self.seen.clear()

    def _misfit(self, line: int, row: list[str]) -> Record:
        """A row that is shorter or longer than the header."""
        width = len(self.header.names)
        if not any(cell.strip() for cell in row):
            return Record(line, {})
        if any(cell.strip() for cell in row[width:]):
            return self._broken("long-row", line, row)
        if len(row) == 1 and self.header.delimiter in row[0]:
            return self._broken("row-in-one-cell", line, row)
        if len(row) < width:
            return self._broken("short-row", line, row)
        self.padded[line] = self.header, row
        return self._looked_at(Record(line, _filled(self.header.names, row)))

    def _looked_at(self, record: Record) -> Record:
        """The record, with findings on text under a column without a name, and with one value for
        each field that has several columns.
        """
        for name in self.header.nameless:
            text = record.cells.get(name, "").strip()
            if text:
                place = Place(self.file, record.line, name)
                self.findings.append(finding("column-without-name", place, raw=text))
        return self._reconciled(record) if self.header.repeated else record

    def trusted(self, records: tuple[Record, ...]) -> tuple[Record, ...]:
        """The rows, without those whose cells an unquoted comma may have shifted.

        Extra blank cells are harmless where every row ends with some. Where only one row has one,
        its last cell may really be blank, and all cells may be one column too far.
        """
        fit = (each for each in records if each.cells and not each.broken)
        if not self.padded or all(record.line in self.padded for record in fit):
            return records
        trusted = []
        for record in records:
            if record.line in self.padded:
                self.header, row = self.padded[record.line]
                trusted.append(self._broken("long-row", record.line, row))
            else:
                trusted.append(record)
        return tuple(trusted)

    def _broken(self, code: str, line: int, row: list[str]) -> Record:
        width = len(self.header.names)
        key = "short-row.cell" if len(row) == 1 else "short-row.cells"
        cells = FINDINGS.say(key, count=len(row))
        broken = finding(code, Place(self.file, line), cells=cells, columns=width)
        self.findings.append(broken)
        extra = [f"column {number}" for number in range(width + 1, len(row) + 1)]
        return Record(line, _filled([*self.header.names, *extra], row), broken=broken)

    def _reconciled(self, record: Record) -> Record:
        """The record with one value for each field that has several columns; lost where they
        disagree.
        """
        cells = dict(record.cells)
        lost = {}
        for name, columns in self.header.repeated.items():
            written = [cells.pop(column, "") for column in columns]
            different = {cell.strip() for cell in written} - {""}
            if len(different) == 1:
                cells[name] = different.pop()
            elif different:
                numbers = (self.header.names.index(column) + 1 for column in columns)
                cells |= {
                    f"{name}, column {number}": cell
                    for number, cell in zip(numbers, written, strict=True)
                }
                place = Place(self.file, record.line, self.header.columns[name])
                values = " / ".join(written)
                lost[name] = finding("columns-disagree", place, name, values, values=values)
        self.findings.extend(lost.values())
        return replace(record, cells=cells, lost=lost)


def _filled(names: Iterable[str], row: Iterable[str]) -> dict[str, str]:
    """The cells of a row that are not empty, by name; cells beyond the last name are dropped."""
    return {name: cell for name, cell in zip(names, row, strict=False) if cell}


def _rows(lines: Sequence[str], header: Header) -> Iterator[_Row]:
    """Each row with the line it starts on, and the code of what is wrong with its quoting.

    After a row whose quoting is broken, reading goes on with the next line, so that one lost
    quotation mark costs one row and not the rest of the file.
    """
    start = header.rows_start
    while start < len(lines):
        rest = map(lines.__getitem__, range(start, len(lines)))
        reader = csv.reader(rest, delimiter=header.delimiter, strict=True)
        consumed = 0
        try:
            for row in reader:
                yield start + consumed + 1, row, None
                consumed = reader.line_num
        except csv.Error:
            start += consumed
            yield start + 1, *_broken_row(lines[start], header.delimiter)
            start += 1
        else:
            return


def _broken_row(line: str, delimiter: str) -> tuple[list[str], str]:
    """The cells of a line, split as well as possible."""
    if '"' in line and len(line) <= csv.field_size_limit():
        return [cell.strip().strip('"') for cell in line.split(delimiter)], "unclosed-quote"
    return [], "long-cell"


def _first_filled(records: Sequence[Record], raw_log: RawLog, section: Section) -> Record:
    """The cells of a section above the column names, else in the first row that fills them in."""
    cells: dict[str, str] = {}
    lines: dict[str, int] = {}
    above, columns = raw_log.above, raw_log.columns or {}
    for name in present({**columns, **above.cells}, section):
        rows = (row for row in records if not row.broken and row.cells.get(name, "").strip())
        first = above if name in above.cells else next(rows, None)
        if first:
            cells[name] = first.cells[name]
            lines[name] = first.lines.get(name, first.line)
    return Record(raw_log.unit.line, cells, lines)


def _patients(records: Sequence[Record], columns: Mapping[str, str]) -> Iterator[Record]:
    """A record for each distinct set of facts about a patient: the first row with it.

    Unit and shift are part of the set: they tell rows of another shift apart.
    """
    facts = present(columns, Section.PATIENT)
    names = facts + present(columns, Section.UNIT) + present(columns, Section.SHIFT)
    beside_id = frozenset(facts) - {"patient_id"}
    seen: set[tuple[str, ...]] = set()
    for record in records:
        cells = record.cells
        if record.broken or beside_id.isdisjoint(cells) or "patient_id" not in cells:
            continue
        row = tuple([cells.get(name, "") for name in names])
        if row not in seen:
            seen.add(row)
            patient_id, *others = row[: len(facts)]
            if patient_id.strip() and any(cell.strip() for cell in others):
                yield record

"""A CSV log, as spreadsheets write it: text -> `Sheet`.

Enters: the text of the file. Leaves: a sheet with one record for each data row, and one for each
different thing the rows say of a patient. Never interprets a cell, never pads or cuts a row: one
that does not fit the header is marked as broken.
"""

import csv
import io
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice

from handoff.bounds import USUAL, Bounds
from handoff.codes import finding
from handoff.fields import (
    CSV_NAMES,
    SET_ASIDE_BECAUSE,
    SET_ASIDE_FROM,
    Section,
    fields_of,
    match_header,
    nearest,
)
from handoff.findings import Finding, Place
from handoff.read.sheet import Record, Sheet, unusable
from handoff.spreadsheet import as_written, may_be_marked

DELIMITERS = (",", ";", "\t")
_HEADER_WITHIN_LINES = 20
_LEAST_KNOWN_NAMES = 2


def read_csv(text: str, file: str, findings: list[Finding], bounds: Bounds = USUAL) -> Sheet:
    """The sheet of a CSV log; `findings` are those of the file so far."""
    lines = list(io.StringIO(text, newline=""))
    header = find_header(lines)
    if header is None:
        return unusable(file, [*findings, _no_header(lines, file)])
    findings = [*findings, *_title_findings(lines, header, file), *_header_findings(header, file)]
    if any(name not in header.columns for name in _indispensable(header)):
        return unusable(file, findings)
    rows = _Rows(file, header, findings)
    records = tuple(islice(rows.records(lines, marked=may_be_marked(text)), bounds.rows + 1))
    if len(records) > bounds.rows:
        place = Place(file, records[-1].line)
        return unusable(file, [*rows.findings, finding("too-many-rows", place, most=bounds.rows)])
    records = rows.trusted(records)
    told = Record(header.line, {})
    sheet = Sheet(
        file=file,
        usable=True,
        unit=told,
        shift=told,
        columns=header.columns,
        decimal_comma=header.delimiter != ",",
        findings=tuple(rows.findings),
    )
    return with_rows(sheet, records)


def with_rows(sheet: Sheet, records: tuple[Record, ...]) -> Sheet:
    """The sheet of a CSV log with these rows, and what they say of unit, shift and patients."""
    columns = sheet.columns or {}
    return replace(
        sheet,
        unit=_first_filled(records, columns, Section.UNIT, sheet.unit.line),
        shift=_first_filled(records, columns, Section.SHIFT, sheet.shift.line),
        patients=tuple(_patients(records, columns)),
        entries=records,
    )


@dataclass(frozen=True, slots=True)
class Header:
    """The row of column names. `names` are unique: the contract's where it knows the column.

    `columns` gives the name as written by contract name; `repeated` the places of a contract's name
    that more than one column has; `rows_start` is the index of the first line after the header.
    """

    cells: list[str]
    delimiter: str
    line: int
    rows_start: int
    names: tuple[str, ...] = ()
    columns: dict[str, str] = field(default_factory=dict)
    repeated: dict[str, list[str]] = field(default_factory=dict)


def find_header(lines: Sequence[str]) -> Header | None:
    """The first row near the top with known column names, under the delimiter that shows most."""
    for start in range(min(len(lines), _HEADER_WITHIN_LINES)):
        candidates = [_header_at(lines, start, delimiter) for delimiter in DELIMITERS]
        known = [sum(match_header(cell) is not None for cell in each.cells) for each in candidates]
        if max(known) >= _LEAST_KNOWN_NAMES:
            return _named(candidates[known.index(max(known))])
    return None


def _no_header(lines: Sequence[str], file: str) -> Finding:
    """Why there is no header; a spreadsheet may have put every row into its first cell."""
    for number, line in enumerate(lines[:_HEADER_WITHIN_LINES], start=1):
        if line.startswith('"') and find_header([line.strip().strip('"')]):
            return finding("row-in-one-cell", Place(file, number))
    return finding("no-header", Place(file, 1))


def _header_at(lines: Sequence[str], start: int, delimiter: str) -> Header:
    reader = csv.reader(islice(lines, start, None), delimiter=delimiter)
    try:
        cells = next(reader, [])
    except csv.Error:
        cells = []
    return Header(cells, delimiter, start + 1, start + reader.line_num)


def _named(header: Header) -> Header:
    names: list[str] = []
    taken: set[str] = set()
    columns: dict[str, str] = {}
    repeated: dict[str, list[str]] = {}
    for number, cell in enumerate(header.cells, start=1):
        known = match_header(cell)
        name = known or cell.strip() or f"column {number}"
        if name in taken:
            numbered = f"{name}, column {number}"
            if known:
                repeated.setdefault(known, [known]).append(numbered)
            name = numbered
        elif known:
            columns[known] = cell.strip()
        names.append(name)
        taken.add(name)
    return replace(header, names=tuple(names), columns=columns, repeated=repeated)


def _title_findings(lines: Sequence[str], header: Header, file: str) -> list[Finding]:
    titles = enumerate(lines[: header.line - 1], start=1)
    return [
        finding("title-row", Place(file, number), raw=line.strip())
        for number, line in titles
        if line.strip()
    ]


def _header_findings(header: Header, file: str) -> Iterator[Finding]:
    for name, cell in zip(header.names, header.cells, strict=True):
        place = Place(file, header.line, cell.strip() or name)
        if any(name in others[1:] for others in header.repeated.values()):
            yield finding("duplicate-column", place, match_header(cell))
        elif not match_header(cell) and cell.strip() and SET_ASIDE_FROM not in header.columns:
            hint = nearest(cell, sorted(CSV_NAMES))
            yield finding("unknown-field", place, raw=cell.strip(), hint=hint)
    for name in _missing(header):
        yield finding("missing-column", Place(file, header.line, name), name)


def _missing(header: Header) -> Iterator[str]:
    """The columns without which no row, or no row that holds an entry, can be used."""
    yield from (name for name in _indispensable(header) if name not in header.columns)
    if header.columns.keys().isdisjoint({"name", "born"}):
        yield from ("name", "born")
    entry = [name for name in _present(header.columns, Section.ENTRY) if name != "patient_id"]
    if entry and "at" not in header.columns:
        yield "at"


def _indispensable(header: Header) -> list[str]:
    """The columns without which no row can be used; a row that was set aside is known by two."""
    of_set_aside = [SET_ASIDE_BECAUSE, SET_ASIDE_FROM]
    is_set_aside = not header.columns.keys().isdisjoint(of_set_aside)
    return ["patient_id", *(of_set_aside if is_set_aside else ())]


class _Rows:
    """Turns rows into records and collects what is wrong with them."""

    def __init__(self, file: str, header: Header, findings: list[Finding]) -> None:
        self.file = file
        self.header = header
        self.findings = findings
        self.padded: dict[int, list[str]] = {}  # rows with blank cells too many, by line

    def records(self, lines: Sequence[str], *, marked: bool) -> Iterator[Record]:
        """A record for each row; `marked` cells are those that `as_written` may change."""
        names, width = self.header.names, len(self.header.names)
        for line, cells, problem in _rows(lines, self.header):
            row = [as_written(cell) for cell in cells] if marked else cells
            if problem:
                yield self._broken(problem, line, row)
            elif row == self.header.cells:
                self.findings.append(finding("repeated-header", Place(self.file, line)))
            elif len(row) == width:
                yield self._reconciled(Record(line, _filled(names, row)))
            else:
                yield self._misfit(line, row, width)

    def _misfit(self, line: int, row: list[str], width: int) -> Record:
        """A row that is shorter or longer than the header."""
        if not any(cell.strip() for cell in row):
            return Record(line, {})
        if any(cell.strip() for cell in row[width:]):
            return self._broken("long-row", line, row)
        if len(row) == 1 and self.header.delimiter in row[0]:
            return self._broken("row-in-one-cell", line, row)
        if len(row) < width:
            return self._broken("short-row", line, row)
        self.padded[line] = row
        return self._reconciled(Record(line, _filled(self.header.names, row)))

    def trusted(self, records: tuple[Record, ...]) -> tuple[Record, ...]:
        """The rows, less those of which a comma that was not quoted may have shifted the cells.

        Blank cells too many are harmless where every row ends with some. In one row among others
        that have none the last cell may be blank and all cells one column too far.
        """
        padded = self.padded
        fit = (each for each in records if each.cells and not each.broken)
        if not padded or all(record.line in padded for record in fit):
            return records
        return tuple(
            self._broken("long-row", each.line, padded[each.line]) if each.line in padded else each
            for each in records
        )

    def _broken(self, code: str, line: int, row: list[str]) -> Record:
        width = len(self.header.names)
        cells = "1 cell" if len(row) == 1 else f"{len(row)} cells"
        broken = finding(code, Place(self.file, line), cells=cells, columns=width)
        self.findings.append(broken)
        extra = [f"column {number}" for number in range(width + 1, len(row) + 1)]
        return Record(line, _filled([*self.header.names, *extra], row), broken=broken)

    def _reconciled(self, record: Record) -> Record:
        """One value for a field that has several columns, where they do not contradict."""
        if not self.header.repeated:
            return record
        cells = dict(record.cells)
        lost = {}
        for name, columns in self.header.repeated.items():
            written = [cells.pop(column, "") for column in columns]
            values = {cell.strip() for cell in written} - {""}
            if len(values) == 1:
                cells[name] = values.pop()
            if values:
                numbers = (self.header.names.index(column) + 1 for column in columns)
                cells |= {
                    f"{name}, column {number}": cell
                    for number, cell in zip(numbers, written, strict=True)
                }
                place = Place(self.file, record.line, self.header.columns[name])
                said = " / ".join(written)
                lost[name] = finding("columns-disagree", place, name, said, values=said)
        self.findings.extend(lost.values())
        return replace(record, cells=cells, lost=lost)


def _filled(names: Iterable[str], row: Iterable[str]) -> dict[str, str]:
    """The cells of a row that are not empty, by name, as far as there are names."""
    return {name: cell for name, cell in zip(names, row, strict=False) if cell}


def _rows(lines: Sequence[str], header: Header) -> Iterator[tuple[int, list[str], str | None]]:
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
    """The cells of a line as far as they can be told apart."""
    if '"' in line and len(line) <= csv.field_size_limit():
        return [cell.strip().strip('"') for cell in line.split(delimiter)], "unclosed-quote"
    return [], "long-cell"


def _first_filled(
    records: Sequence[Record], columns: Mapping[str, str], section: Section, header_line: int
) -> Record:
    """The first row that fills in each of the section's columns."""
    cells: dict[str, str] = {}
    lines: dict[str, int] = {}
    for name in _present(columns, section):
        filled = (row for row in records if not row.broken and row.cells.get(name, "").strip())
        first = next(filled, None)
        if first:
            cells[name] = first.cells[name]
            lines[name] = first.line
    return Record(header_line, cells, lines)


def _patients(records: Sequence[Record], columns: Mapping[str, str]) -> Iterator[Record]:
    """A record for each different thing that rows say of a patient, where it is said first.

    What they say of the unit and the shift counts too: rows of another shift are told apart by it.
    """
    facts = _present(columns, Section.PATIENT)
    names = facts + _present(columns, Section.UNIT) + _present(columns, Section.SHIFT)
    beside_id = frozenset(facts) - {"patient_id"}
    seen: set[tuple[str, ...]] = set()
    for record in records:
        cells = record.cells
        if record.broken or beside_id.isdisjoint(cells) or "patient_id" not in cells:
            continue
        said = tuple([cells.get(name, "") for name in names])
        if said not in seen:
            seen.add(said)
            patient_id, *others = said[: len(facts)]
            if patient_id.strip() and any(cell.strip() for cell in others):
                yield record


def _present(columns: Mapping[str, str], section: Section) -> list[str]:
    return [each.name for each in fields_of(section) if each.name in columns]

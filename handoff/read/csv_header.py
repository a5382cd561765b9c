"""The row of column names of a CSV log, and what is wrong with it: lines -> `Header` and findings.

Input: the lines of the file. Output: the header under the delimiter that fits, or None. Reads no
row below it.
"""

import csv
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import islice

from msgspec import field
from msgspec.structs import replace

from handoff.log.fields import (
    CSV_NAMES,
    SET_ASIDE_BECAUSE,
    SET_ASIDE_FROM,
    Section,
    fields_of,
    is_unit,
    match_header,
    nearest,
    words_in_brackets,
)
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place
from handoff.model.frozen import Frozen
from handoff.read.raw_log import Record

_DELIMITERS = (",", ";", "\t")
_OF_ENTRY = ("patient_id", "at")
_OF_UNIT = {each.name for each in fields_of(Section.UNIT) + fields_of(Section.SHIFT)}
_OTHERWISE_PARTED = re.compile(r"\s*\|\s*|\s{2,}")  # as in a table pasted from an e-mail
HEADER_WITHIN_ROWS = 20
_LEAST_KNOWN_NAMES, _MANY_KNOWN_NAMES = 2, 4


class Header(Frozen):
    """The row of column names. `names` are unique: the contract's where it knows the column.

    `columns` gives the name as written by contract name; `repeated` the places of a contract's name
    that more than one column has; `nameless` the columns without any name; `rows_start` is the
    index of the first line after the header.
    """

    cells: list[str]
    delimiter: str
    line: int
    rows_start: int
    names: tuple[str, ...] = ()
    columns: dict[str, str] = field(default_factory=dict)
    repeated: dict[str, list[str]] = field(default_factory=dict)
    nameless: tuple[str, ...] = ()

    @property
    def is_odd(self) -> bool:
        """Whether each row has to be looked at because of its columns' names."""
        return bool(self.repeated or self.nameless)


def find_header(lines: Sequence[str]) -> Header | None:
    """The row of column names near the top, by the delimiter that gives most of them."""
    starts = range(min(len(lines), HEADER_WITHIN_ROWS))
    of_each_row = ([_header_at(lines, start, each) for each in _DELIMITERS] for start in starts)
    return header_among(
        max(of_row, key=lambda each: len(known_names(each.cells))) for of_row in of_each_row
    )


def header_among(rows: Iterable[Header]) -> Header | None:
    """The row that holds the names of the columns: the first with `patient_id`, else the one with
    most known names. What stands above it may hold names too, of the unit and the shift.
    """
    best, most = None, _LEAST_KNOWN_NAMES - 1
    for row in rows:
        known = known_names(row.cells)
        if len(known) > most:
            best, most = row, len(known)
        if len(known) >= _LEAST_KNOWN_NAMES and "patient_id" in known:
            best = row
            break
    return best and named(best)


def known_names(cells: Iterable[str]) -> list[str]:
    """The contract's names among the cells of a row."""
    return [name for cell in cells if cell and (name := match_header(cell))]


def is_header(cells: Sequence[str]) -> bool:
    """Whether a row below the header is another one: at least half of its cells are names of
    columns, and they have `patient_id` or are many. A row of data may hold a word such as `note`.
    """
    known = known_names(cells)
    filled = sum(not cell.isspace() for cell in cells if cell)
    enough = _LEAST_KNOWN_NAMES if "patient_id" in known else _MANY_KNOWN_NAMES
    return len(known) >= max(enough, filled / 2)


def no_header(lines: Sequence[str], file: str) -> Finding:
    """Why there is no header: it may be all in one cell, or its columns have no known delimiter."""
    for number, line in enumerate(lines[:HEADER_WITHIN_ROWS], start=1):
        if line.startswith('"') and find_header([line.strip().strip('"')]):
            return finding("row-in-one-cell", Place(file, number))
        if find_header([_OTHERWISE_PARTED.sub(_DELIMITERS[0], line.strip())]):
            return finding("columns-not-parted", Place(file, number), raw=line.strip())
    return finding("no-header", Place(file, 1))


def _header_at(lines: Sequence[str], start: int, delimiter: str) -> Header:
    reader = csv.reader(islice(lines, start, None), delimiter=delimiter)
    try:
        cells = next(reader, [])
    except csv.Error:
        cells = []
    return Header(cells, delimiter, start + 1, start + reader.line_num)


def named(header: Header) -> Header:
    """The header with a unique name for each column."""
    names: list[str] = []
    nameless: list[str] = []
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
        elif not cell.strip():
            nameless.append(name)
        names.append(name)
        taken.add(name)
    return replace(
        header,
        names=tuple(names),
        columns=columns,
        repeated=repeated,
        nameless=tuple(nameless),
    )


def header_findings(header: Header, file: str) -> Iterator[Finding]:
    """Findings on the columns. No name is offered that would have two columns, and none for a
    column with a word in brackets that is no unit: `Breaths (ordered)` are not `breaths`.
    """
    hinted = set(header.columns)
    for name, cell in zip(header.names, header.cells, strict=True):
        place = Place(file, header.line, cell.strip() or name)
        if any(name in others[1:] for others in header.repeated.values()):
            yield finding("duplicate-column", place, match_header(cell))
        elif not match_header(cell) and cell.strip() and SET_ASIDE_FROM not in header.columns:
            hint = None
            if all(map(is_unit, words_in_brackets(cell))):
                hint = nearest(cell, sorted(CSV_NAMES))
            hint = None if hint in hinted else hint
            hinted.add(hint or "")
            yield finding("unknown-field", place, raw=cell.strip(), hint=hint)
    for name in _missing(header):
        yield finding("missing-column", Place(file, header.line, name), name)


def lines_above(lines: Sequence[str], header: Header) -> Iterator[Sequence[str]]:
    """The cells of each line above the column names."""
    return (_header_at(lines, start, header.delimiter).cells for start in range(header.line - 1))


def above_header(
    rows: Iterable[Sequence[str]], header: Header, file: str
) -> tuple[Record, list[Finding]]:
    """The unit and the shift in the rows above the column names, and a finding on each of these
    rows: which were read, which are titles, and which may be entries.

    A name stands before its value, in the same cell (`Unit: Harbour 3 East`) or the next, or in a
    row of names above a row of values.
    """
    above = _Above()
    findings = []
    of_entry = [header.names.index(each) for each in _OF_ENTRY if each in header.names]
    for number, cells in enumerate(rows, start=1):
        filled = [bool(cell.strip()) for cell in cells]
        if any(filled):
            is_entry = len(cells) > max(of_entry) and all(filled[index] for index in of_entry)
            code = "entry-above" if is_entry and sum(filled) > len(of_entry) else "title-row"
            code = "read-above" if above.takes(number, cells) else code
            raw = header.delimiter.join(cells).rstrip(header.delimiter).strip()
            findings.append(finding(code, Place(file, number), raw=raw))
    return Record(header.line, above.cells, above.lines), findings


class _Above:
    """The cells of unit and shift in the rows above the column names."""

    def __init__(self) -> None:
        self.cells: dict[str, str] = {}
        self.lines: dict[str, int] = {}
        self.names: list[str | None] = []  # of the row before, where it holds names alone

    def takes(self, line: int, cells: Sequence[str]) -> bool:
        """Whether a row holds names or values of the unit and the shift; they are kept."""
        found = map(match_header, cells)
        names = [name if name in _OF_UNIT else None for name in found]
        filled = sum(not cell.isspace() for cell in cells if cell)
        if any(names) and len([*filter(None, names)]) == filled:
            self.names = names
            return True
        inside = (cell.partition(":") for cell in cells)
        pairs = [
            *zip(names, cells[1:], strict=False),
            *zip(self.names, cells, strict=False),
            *((match_header(name), value) for name, _, value in inside),
        ]
        self.names = []
        new = {
            name: value
            for name, value in pairs
            if name in _OF_UNIT and value.strip() and name not in self.cells
        }
        self.cells |= new
        self.lines |= dict.fromkeys(new, line)
        return bool(new)


def _missing(header: Header) -> Iterator[str]:
    """Missing columns that every row, or every row with an entry, needs."""
    yield from (name for name in indispensable(header) if name not in header.columns)
    if header.columns.keys().isdisjoint({"name", "born"}):
        yield from ("name", "born")
    entry = [name for name in present(header.columns, Section.ENTRY) if name != "patient_id"]
    if entry and "at" not in header.columns:
        yield "at"


def indispensable(header: Header) -> list[str]:
    """The columns that every row needs. A file of rows set aside needs two more."""
    of_set_aside = [SET_ASIDE_BECAUSE, SET_ASIDE_FROM]
    is_set_aside = not header.columns.keys().isdisjoint(of_set_aside)
    return ["patient_id", *(of_set_aside if is_set_aside else ())]


def present(columns: Mapping[str, str], section: Section) -> list[str]:
    """The names of a section's fields that have a column, in the contract's order."""
    return [each.name for each in fields_of(section) if each.name in columns]

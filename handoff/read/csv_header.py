"""The row of column names of a CSV log, and what is wrong with it: lines -> `Header` and findings.

Input: the lines of the file. Output: the header under the delimiter that fits, or None. Reads no
row below it.
"""

import csv
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice

from handoff.log.fields import (
    CSV_NAMES,
    SET_ASIDE_BECAUSE,
    SET_ASIDE_FROM,
    Section,
    fields_of,
    match_header,
    nearest,
)
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place

_DELIMITERS = (",", ";", "\t")
_OTHERWISE_PARTED = re.compile(r"\s*\|\s*|\s{2,}")  # as in a table pasted from an e-mail
_HEADER_WITHIN_LINES = 20
_LEAST_KNOWN_NAMES = 2


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
    """The first row near the top with known column names, by the delimiter that gives
    most of them.
    """
    for start in range(min(len(lines), _HEADER_WITHIN_LINES)):
        candidates = [_header_at(lines, start, delimiter) for delimiter in _DELIMITERS]
        known = [sum(match_header(cell) is not None for cell in each.cells) for each in candidates]
        if max(known) >= _LEAST_KNOWN_NAMES:
            return _named(candidates[known.index(max(known))])
    return None


def no_header(lines: Sequence[str], file: str) -> Finding:
    """Why there is no header: it may be all in one cell, or its columns have no known delimiter."""
    for number, line in enumerate(lines[:_HEADER_WITHIN_LINES], start=1):
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


def header_findings(lines: Sequence[str], header: Header, file: str) -> Iterator[Finding]:
    """Findings on the columns, and on the rows above them, which are not read."""
    yield from _title_findings(lines, header, file)
    for name, cell in zip(header.names, header.cells, strict=True):
        place = Place(file, header.line, cell.strip() or name)
        if any(name in others[1:] for others in header.repeated.values()):
            yield finding("duplicate-column", place, match_header(cell))
        elif not match_header(cell) and cell.strip() and SET_ASIDE_FROM not in header.columns:
            hint = nearest(cell, sorted(CSV_NAMES))
            yield finding("unknown-field", place, raw=cell.strip(), hint=hint)
    for name in _missing(header):
        yield finding("missing-column", Place(file, header.line, name), name)


def _title_findings(lines: Sequence[str], header: Header, file: str) -> list[Finding]:
    titles = enumerate(lines[: header.line - 1], start=1)
    return [
        finding(
            "title-row", Place(file, number), raw=line.rstrip(f"{header.delimiter}\r\n").strip()
        )
        for number, line in titles
        if line.strip(f"{header.delimiter} \t\r\n")
    ]


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

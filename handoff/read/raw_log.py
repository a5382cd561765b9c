"""The output of reading a log: records of raw text with their places.

Input: nothing. Output: `RawLog` and `Record`, the same from all forms of a log. Interprets
nothing.
"""

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any

from msgspec import field
from msgspec.structs import replace

from handoff.log.fields import Field
from handoff.model.findings import Finding, Place
from handoff.model.frozen import Frozen

_NONE: Mapping[str, Any] = MappingProxyType({})  # what most records have: one object for all


class Record(Frozen):
    """One row or item: `cells` as written, by contract name; a missing cell is blank.

    `line` is where the record starts; `lines` gives the line of each cell on another line. `lost`
    has the cells whose text cannot be known, with the finding that says why; `meant` has what
    stands in the place of some of these, and is never a value. `broken` says why the whole record
    cannot be trusted. A column unknown to the contract keeps its own name. `file` is
    the record's file, if that is not the raw log's own. In a Bundle `resource` names the one that
    the record is of, and `paths` the element of each cell, with its resource.
    """

    line: int
    cells: Mapping[str, str]
    lines: Mapping[str, int] = _NONE
    lost: Mapping[str, Finding] = _NONE
    broken: Finding | None = None
    file: str | None = None
    resource: str | None = None
    paths: Mapping[str, str] = _NONE
    meant: Mapping[str, str] = _NONE


class RawLog(Frozen):
    """One log as text. `patients` and `entries` are in the order of the file.

    `entries` holds every record that is counted: in CSV each data row, also a blank one or one with
    only a patient's facts. `patients` then holds the rows that first state facts of a patient.
    `columns` gives the names as written in a CSV header by contract name; None for YAML, where they
    are the contract's own. `decimal_comma`: `1,5` is one and a half. `above` holds the cells of
    unit and shift that stand above the column names of a table. `sheet` is the sheet of a workbook,
    and `letters` names its columns as the spreadsheet does, by contract name.
    """

    file: str
    usable: bool
    findings: tuple[Finding, ...]
    unit: Record
    shift: Record
    patients: tuple[Record, ...] = ()
    entries: tuple[Record, ...] = ()
    columns: Mapping[str, str] | None = None
    decimal_comma: bool = False
    above: Record = Record(0, {})
    sheet: str | None = None
    letters: Mapping[str, str] = field(default_factory=dict)

    def place(self, record: Record, of: Field) -> Place:
        """The place of one field's cell in a record, also of a missing cell."""
        line = record.lines.get(of.name, record.line)
        if record.file is not None:
            return Place(record.file, line, of.name)
        if record.resource is not None:
            at = record.paths.get(of.name, record.resource)
            return Place(self.file, line, of.column, at=at)
        column = of.column if self.columns is None else self.columns.get(of.name, of.name)
        return Place(self.file, line, column, self.sheet, self.letters.get(of.name))

    def row_place(self, record: Record) -> Place:
        """The place where a record starts."""
        file = record.file or self.file
        if record.resource is not None:
            return Place(file, record.line, at=record.resource)
        return Place(file, record.line, None, None if record.file else self.sheet)


def silent(file: str) -> RawLog:
    """An empty raw log."""
    nothing = Record(1, {})
    return RawLog(file, usable=True, findings=(), unit=nothing, shift=nothing)


def unusable(file: str, findings: Sequence[Finding]) -> RawLog:
    """The raw log of a file that cannot be read."""
    return replace(silent(file), usable=False, findings=tuple(findings))

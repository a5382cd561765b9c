"""What reading a log gives: records of raw text that know where they stand.

Input: nothing. Output: `RawLog` and `Record`, the same from YAML and CSV. Interprets nothing.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any, NamedTuple

from handoff.log.fields import Field
from handoff.model.findings import Finding, Place

_NONE: Mapping[str, Any] = MappingProxyType({})  # what most records have: one object for all


class Record(NamedTuple):
    """One row or item: `cells` as written, by contract name; a cell that is not there is blank.

    `line` is where the record starts; `lines` has the cells that stand on another line. `lost` has
    the cells whose text cannot be known, with the finding that says why. `broken` says why the
    whole record cannot be trusted. A column that the contract does not know keeps its own name.
    `file` is where the record stands when that is not the raw log's own file. A named tuple takes a
    third of the time that a frozen dataclass takes to make, and a log has a record for each row.
    """

    line: int
    cells: Mapping[str, str]
    lines: Mapping[str, int] = _NONE
    lost: Mapping[str, Finding] = _NONE
    broken: Finding | None = None
    file: str | None = None


@dataclass(frozen=True, slots=True)
class RawLog:
    """One log as text. `patients` and `entries` are in the order of the file.

    `entries` holds every record that is counted: in CSV each data row, also a blank one or one that
    only tells of a patient; `patients` then holds the rows that first tell something of a patient.
    `columns` gives the names as written in a CSV header by contract name; None for YAML, where they
    are the contract's own. `decimal_comma`: `1,5` is one and a half.
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

    def place(self, record: Record, field: Field) -> Place:
        """Where the cell of one field stands, or would stand, in a record."""
        line = record.lines.get(field.name, record.line)
        if record.file is not None:
            return Place(record.file, line, field.name)
        column = field.column if self.columns is None else self.columns.get(field.name, field.name)
        return Place(self.file, line, column)

    def row_place(self, record: Record) -> Place:
        """Where a record starts."""
        return Place(record.file or self.file, record.line)


def silent(file: str) -> RawLog:
    """The raw log of a log that says nothing."""
    nothing = Record(1, {})
    return RawLog(file, usable=True, findings=(), unit=nothing, shift=nothing)


def unusable(file: str, findings: Sequence[Finding]) -> RawLog:
    """The raw log of a file that cannot be read."""
    return replace(silent(file), usable=False, findings=tuple(findings))

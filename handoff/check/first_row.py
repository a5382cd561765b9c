"""Compares the unit and the shift in each row of a CSV log with those in its first rows.

Input: records. Output: the finding of a row of another unit or shift, which must be set aside.
Otherwise a file of several shifts would count one shift's entries for another.
"""

from msgspec.structs import replace

from handoff.check.cells import CellReader, Reading
from handoff.log.fields import Field, Section, fields_of
from handoff.model.codes import finding
from handoff.model.findings import Finding
from handoff.read import Record

OTHER_SHIFT = "other-shift"  # the code of a row that must be set aside

_WHICH_SHIFT = frozenset({"unit", "time_zone", "shift_start", "shift_end"})


class FirstRow:
    """The first filled-in value of each column of the unit and the shift."""

    def __init__(self, reading: Reading) -> None:
        raw_log = self.raw_log = reading.raw_log
        both = fields_of(Section.UNIT) + fields_of(Section.SHIFT)
        self.fields = [each for each in both if each.name in (raw_log.columns or {})]
        self.names = frozenset(each.name for each in self.fields)
        self.reader = CellReader(Reading(raw_log, reading.clock), self.fields)
        self.cells = {**raw_log.unit.cells, **raw_log.shift.cells}
        self.values = self._values(replace(raw_log.unit, cells=self.cells))
        self.reported: set[tuple[str, str]] = set()

    def findings_of(self, record: Record) -> list[Finding]:
        """Findings where a row differs from the first. The last one is `OTHER_SHIFT` where the row
        must be set aside. Any other difference is reported once for all rows that have it.
        """
        found = []
        for field in self._contradictions(record):
            code = OTHER_SHIFT if field.name in _WHICH_SHIFT else "unit-disagrees"
            raw, first = record.cells[field.name].strip(), self.cells[field.name].strip()
            if code == OTHER_SHIFT or (field.name, raw) not in self.reported:
                self.reported.add((field.name, raw))
                place = self.raw_log.place(record, field)
                found.append(finding(code, place, field.name, raw, first=first))
            if code == OTHER_SHIFT:
                break
        return found

    def is_of_another_shift(self, record: Record) -> bool:
        """Whether a row is of another unit or shift."""
        return any(field.name in _WHICH_SHIFT for field in self._contradictions(record))

    def _contradictions(self, record: Record) -> list[Field]:
        """The fields in which a row differs from the first."""
        cells = record.cells
        if self.names.isdisjoint(cells):
            return []
        written = [each for each in self.fields if each.name in cells and cells[each.name].strip()]
        if all(cells[field.name] == self.cells[field.name] for field in written):
            return []
        values = self._values(record)
        return [each for each in written if values.get(each.name) != self.values.get(each.name)]

    def _values(self, record: Record) -> dict[str, object]:
        values = self.reader.read(record).values
        return {
            name: value.casefold() if isinstance(value, str) else value
            for name, value in values.items()
        }

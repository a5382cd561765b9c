"""A log in a workbook: the text of its sheet -> `RawLog`.

Input: the name of the sheet and its rows as CSV, as `content` gives them. Output: the raw log that
the CSV reader makes of the rows; its places name the sheet and the cell, and cells with a formula
whose result was not saved are lost.
"""

import io
from itertools import islice

from msgspec.structs import replace

from handoff.log.workbook import HEADER_WITHIN_ROWS, NO_VALUE, column_letters
from handoff.model.bounds import USUAL, Bounds
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place
from handoff.read.csv_header import find_header
from handoff.read.from_csv import read_csv, with_rows
from handoff.read.raw_log import RawLog, Record


def read_xlsx(text: str, file: str, findings: list[Finding], bounds: Bounds = USUAL) -> RawLog:
    """The raw log of a sheet; `findings` are those of the workbook so far."""
    name, _, table = text.partition("\n")
    raw_log = read_csv(table, file, [], bounds)
    sheet = _Sheet(file, name, table)
    if any(each.code == "other-header" for each in raw_log.findings):
        sheet.letters = {}  # its columns change their places
    records = [sheet.placed(record) for record in raw_log.entries]
    found = [sheet.found(each) for each in raw_log.findings]
    raw_log = replace(
        raw_log, findings=(*findings, *found, *sheet.lost), sheet=name, letters=sheet.letters
    )
    return with_rows(raw_log, tuple(records)) if raw_log.usable else raw_log


class _Sheet:
    """Turns records and findings of a CSV into those of a sheet, and collects its lost cells."""

    def __init__(self, file: str, name: str, table: str) -> None:
        self.file, self.name = file, name
        self.lost: list[Finding] = []
        header = find_header(list(islice(io.StringIO(table, newline=""), HEADER_WITHIN_ROWS)))
        names = header.names if header else ()
        self.columns = header.columns if header else {}
        self.letters = {name: column_letters(number) for number, name in enumerate(names, start=1)}

    def found(self, each: Finding) -> Finding:
        """The finding, at the place in the sheet."""
        line = each.place.line
        return replace(each, place=replace(each.place, sheet=self.name)) if line else each

    def placed(self, record: Record) -> Record:
        """The record, at its place in the sheet and without its lost cells."""
        lost = {name: self.found(each) for name, each in record.lost.items()}
        cells = dict(record.cells)
        for name, cell in record.cells.items():
            if cell == NO_VALUE:
                del cells[name]
                column, letter = self.columns.get(name, name), self.letters.get(name)
                place = Place(self.file, record.line, column, self.name, letter)
                lost[name] = finding("formula-without-value", place, name, "=")
                self.lost.append(lost[name])
        broken = record.broken and self.found(record.broken)
        return replace(record, cells=cells, lost=lost, broken=broken)

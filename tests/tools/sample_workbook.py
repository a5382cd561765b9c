"""The night of the sample ward as a spreadsheet keeps it: dates, times and numbers as its own.

.venv/bin/python -m tests.tools.sample_workbook
"""

import csv
from datetime import datetime

from openpyxl import Workbook
from openpyxl.styles import Font

from handoff.log.fields import FIELDS, Kind, match_header
from handoff.log.workbook import column_letters
from tests.support.samples import NIGHT_CSV, NIGHT_XLSX

NUMBERS = {each.name for each in FIELDS if each.kind in {Kind.NUMBER, Kind.WHOLE}}
WIDTH = 18


def refresh() -> None:
    """Type the rows of the CSV night into a workbook, as a spreadsheet would take them."""
    with NIGHT_CSV.open(encoding="utf-8-sig", newline="") as file:
        header, *rows = csv.reader(file)
    workbook = Workbook()
    night, words = workbook.active, workbook.create_sheet("Words")
    assert night is not None
    night.title, night.freeze_panes = "Night 6 March", "A2"
    words.append(["steady", "breathed in slowly, without a jerk"])
    night.append(header)
    names = [match_header(each) for each in header]
    for row in rows:
        night.append([typed(name or "", text) for name, text in zip(names, row, strict=True)])
    for number, (name, column) in enumerate(zip(names, night.iter_cols(), strict=True), start=1):
        column[0].font = Font(bold=True)
        night.column_dimensions[column_letters(number)].width = WIDTH
        for cell in column[1:]:
            if name == "patient_id":
                cell.number_format = "00000"
            elif isinstance(cell.value, datetime):
                dated = cell.value.hour or cell.value.minute
                cell.number_format = "yyyy-mm-dd hh:mm" if dated else "yyyy-mm-dd"
    workbook.save(NIGHT_XLSX)


def typed(name: str, text: str) -> str | float | int | datetime | None:
    """What a spreadsheet makes of a text that is typed into it."""
    if not text:
        return None
    if name == "patient_id":
        return int(text)
    if name in NUMBERS:
        return float(text) if "." in text else int(text)
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        return text


if __name__ == "__main__":
    refresh()

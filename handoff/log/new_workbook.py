"""A workbook to fill in: column names and rows -> the bytes of an .xlsx.

Input: fields of the contract, and cells by field. Output: one sheet that the reader takes as a log.
What a spreadsheet would spoil is text there: ids, beds, dates and times stay as they are typed. A
field with a few words offers them as a list. The same cells give the same bytes.
"""

import io
import re
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime

from handoff.log.fields import Field, Kind
from handoff.log.spreadsheet import plain_text
from handoff.log.workbook import column_letters

# Common practice: more rows than one shift of a ward has.
MOST_ROWS = 2_000
LONGEST_LIST = 255  # characters of a list of words, of any spreadsheet
TEXT, GENERAL = "@", "General"
MADE_AT = datetime(2000, 1, 1, tzinfo=UTC)  # any fixed date
WIDTH = 16
_UNIX = 3  # as APPNOTE.TXT of PKWARE, 4.4.2, numbers the systems
_CHANGED = re.compile(rb"(<dcterms:modified[^>]*>)[^<]*")


def workbook_bytes(sheet: str, fields: Sequence[Field], rows: Iterable[Mapping[str, str]]) -> bytes:
    """The workbook; each row has its cells by the field's name, and a missing cell is blank."""
    from openpyxl import Workbook  # noqa: PLC0415 - loaded for a workbook only
    from openpyxl.styles import Font  # noqa: PLC0415
    from openpyxl.worksheet.datavalidation import DataValidation  # noqa: PLC0415

    workbook = Workbook(write_only=False)
    workbook.properties.created = MADE_AT
    table = workbook.active
    assert table is not None  # noqa: S101 - a new workbook has a sheet
    table.title, table.freeze_panes = sheet, "A2"
    filled = list(rows)
    for number, field in enumerate(fields, start=1):
        letters = column_letters(number)
        is_number = field.kind in {Kind.NUMBER, Kind.WHOLE}
        column = table.column_dimensions[letters]
        column.width, column.number_format = WIDTH, GENERAL if is_number else TEXT
        texts = [field.name, *(each.get(field.name, "") for each in filled)]
        for line, text in enumerate(texts, start=1):
            if text:
                cell = table.cell(line, number, plain_text(text))
                cell.data_type, cell.number_format = "s", TEXT
                if is_number and line > 1 and f"{float(text):.16g}" == text:  # as it is stored
                    cell.value, cell.number_format = float(text), GENERAL
        table.cell(1, number).font = Font(bold=True)
        words = ",".join(field.choices)
        if words and len(words) <= LONGEST_LIST:
            # Several words, or other ones, may be typed: the checks say what is wrong with them.
            offered = DataValidation("list", formula1=f'"{words}"', showErrorMessage=False)
            offered.add(f"{letters}2:{letters}{MOST_ROWS}")
            table.add_data_validation(offered)
    stream = io.BytesIO()
    workbook.save(stream)
    return _with_fixed_dates(stream)


def _with_fixed_dates(stream: io.BytesIO) -> bytes:
    """The same workbook with `MADE_AT` in the place of the time of saving."""
    fixed = io.BytesIO()
    changed = rb"\g<1>" + MADE_AT.strftime("%Y-%m-%dT%H:%M:%SZ").encode()
    with zipfile.ZipFile(stream) as saved, zipfile.ZipFile(fixed, "w") as archive:
        for name in saved.namelist():
            part = zipfile.ZipInfo(name, MADE_AT.timetuple()[:6])
            part.compress_type = zipfile.ZIP_DEFLATED
            part.create_system = _UNIX  # else it tells which system it was made on
            archive.writestr(part, _CHANGED.sub(changed, saved.read(name)))
    return fixed.getvalue()

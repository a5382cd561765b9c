"""Workbooks of a spreadsheet (.xlsx): bytes -> the text of one sheet as CSV.

Input: the bytes of a workbook. Output: the name of the sheet that is a log and its rows as CSV
text, a line for each row; or None and the finding that says why not. Follows no formula, macro or
link: of a formula the stored value is read. Bounds are checked before a part is read for its
content, so that no workbook takes more than its share of memory.
"""

import csv
import io
import re
import struct
import warnings
import zipfile
import zlib
from collections.abc import Mapping
from contextlib import suppress
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from lzma import LZMAError
from typing import TYPE_CHECKING, Any
from xml.parsers import expat

from handoff.log.fields import match_header
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place

if TYPE_CHECKING:
    from _typeshed import SupportsRead

# Sheets and cells that are opened to be read only: the library's types know none.
_Sheet = Any
_Cell = Any

NO_VALUE = "\ue000="  # a formula whose result was not saved; no text editor types its first letter
NOT_SHOWN = "#####"  # a time before all times, as a spreadsheet shows it
LINE_WITHIN_CELL = "\N{LINE SEPARATOR}"  # so that each row of the sheet is one line of the text

HEADER_WITHIN_ROWS = 20
# Common practice: far above any log of one shift, low enough to bound memory.
MOST_PARTS, MOST_ELEMENTS, MOST_CELLS = 10_000, 1_000_000, 5_000_000
OUTSIDE_ROWS = 10  # elements of rows that another one, such as a style, takes the memory of
TALLEST, WIDEST = 1_048_576, 16_384  # rows and columns of any spreadsheet

_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main "
_COORDINATE = re.compile(r"([A-Z]{1,3})([1-9]\d{0,6})")
_NOT_SHOWN_AS_TYPED = re.compile(r'"[^"]*"|\\.|\[(?![hms]+\])[^\]]*\]|[_*].')
_FULL_DATE_FROM = timedelta(days=60)  # smaller numbers are times of day that ran over midnight
# What reading a damaged or hostile workbook may raise, in the libraries that are given it.
_DAMAGE = (
    *(ArithmeticError, AssertionError, AttributeError, EOFError, LookupError, OSError),
    *(RuntimeError, SyntaxError, TypeError, ValueError, struct.error),
    *(LZMAError, expat.ExpatError, zipfile.BadZipFile, zipfile.LargeZipFile, zlib.error),
)

Rows = list[list[str]]


class _Unfit(Exception):  # noqa: N818 - it is about a workbook, not an error of the program
    """The workbook cannot be read; the code of the finding, and its words."""

    def __init__(self, code: str, **words: float) -> None:
        super().__init__(code)
        self.code = code
        self.words = words


def table_of(content: bytes, file: str, size_mb: float) -> tuple[str | None, list[Finding]]:
    """The name of the sheet that is a log, and below it its rows as CSV; None and the finding that
    says why where there is none. Other sheets are named in a finding.

    `size_mb` is the most that all parts of the workbook may take, unpacked.
    """
    try:
        with warnings.catch_warnings(action="ignore"):
            return _table(content, file, size_mb)
    except _Unfit as unfit:
        return None, [finding(unfit.code, Place(file), None, None, **unfit.words)]
    except _DAMAGE:
        return None, [finding("not-a-workbook", Place(file))]


def _table(content: bytes, file: str, size_mb: float) -> tuple[str | None, list[Finding]]:
    from openpyxl import load_workbook  # noqa: PLC0415 - loaded for a workbook only

    formulas = _looked_through(content, size_mb)
    workbook = load_workbook(io.BytesIO(content), read_only=True, data_only=True, keep_links=False)
    most = int(size_mb * 2**20)
    sheets: list[_Sheet] = workbook.worksheets
    for each in sheets:
        each.reset_dimensions()  # what a sheet says of its size may be wrong
    tops = [(each, _rows(each, formulas, most, HEADER_WITHIN_ROWS)) for each in sheets]
    filled = [(each, top) for each, top in tops if any(top)]
    if not filled:
        raise _Unfit("empty-file")
    sheet, _ = max(filled, key=lambda each: (_known_names(each[1]), _is_visible(each[0])))
    others = [(_title(each), top) for each, top in filled if each is not sheet]
    findings = []
    for code, is_log in (("sheet-not-read", False), ("second-log", True)):
        titles = [title for title, top in others if _is_log(top) is is_log]
        if titles:
            named = ", ".join(titles)
            findings.append(finding(code, Place(file), others=named, sheet=_title(sheet)))
    return f"{_title(sheet)}\n{_as_csv(_rows(sheet, formulas, most))}", findings


def _title(sheet: _Sheet) -> str:
    return " ".join(str(sheet.title).split())


def _is_visible(sheet: _Sheet) -> bool:
    return bool(sheet.sheet_state == "visible")


def _known_names(rows: Rows) -> int:
    """The most names of the contract in one row."""
    return max(sum(bool(cell and match_header(cell)) for cell in row) for row in rows)


def _is_log(rows: Rows) -> bool:
    names = [{match_header(cell) for cell in row} for row in rows]
    return any({"patient_id", "at"} <= each for each in names)


def _rows(
    sheet: _Sheet,
    formulas: Mapping[str, set[tuple[int, int]]],
    most: int,
    end: int = 0,
) -> Rows:
    """The rows as text, without blank cells and rows at their end; at most `end` rows, if given."""
    without_value = formulas.get(str(sheet._worksheet_path), set())  # noqa: SLF001 - has no other name
    rows: Rows = []
    cells = letters = 0
    for number, row in enumerate(sheet.iter_rows(max_row=end or None), start=1):
        cells += max(len(row), 1)
        if cells > MOST_CELLS:
            raise _Unfit("too-many-cells")
        texts = []
        for column, cell in enumerate(row, start=1):
            lacks_value = (number, column) in without_value
            texts.append(NO_VALUE if lacks_value else _text(cell))
            letters += len(texts[-1])
            if letters > most:
                raise _Unfit("file-too-large", limit_mb=most / 2**20)
        while texts and not texts[-1].strip():
            texts.pop()
        rows.append(texts)
    while rows and not rows[-1]:
        rows.pop()
    return rows


def _as_csv(rows: Rows) -> str:
    """The rows as CSV, all as wide as the widest; a blank row is a blank line."""
    width = max(map(len, rows))
    if width * sum(map(bool, rows)) > MOST_CELLS:
        raise _Unfit("too-many-cells")
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    for row in rows:
        writer.writerow([*row, *[""] * (width - len(row))] if row else [])
    return stream.getvalue()


# Cells


def _text(cell: _Cell) -> str:
    """The text of a cell, as one would type it."""
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, str):
        return LINE_WITHIN_CELL.join(value.replace("_x000D_", "").splitlines())
    shown = _NOT_SHOWN_AS_TYPED.sub("", str(cell.number_format)).partition(";")[0].casefold()
    if isinstance(value, int | float):
        return _number(value, shown)
    return _time(value, shown, cell.parent.parent.epoch)


def _time(value: datetime | date | time | timedelta, shown: str, epoch: datetime) -> str:
    match value:
        case datetime():
            return _moment(value, shown, epoch)
        case date():
            return value.isoformat()
        case time():
            return _clock(datetime.combine(epoch, value) - epoch, shown)
        case timedelta():
            return _clock(value, shown)


def _moment(value: datetime, shown: str, epoch: datetime) -> str:
    """A date, a time, or both. A time that is shown without its date keeps the date it has."""
    if value < epoch:
        return NOT_SHOWN
    midnight = datetime.combine(value.date(), time())
    rounded = midnight + _rounded(value - midnight, shown)
    if value - epoch < _FULL_DATE_FROM:
        return _clock(rounded - midnight or timedelta(days=1), shown)
    if "h" not in shown and rounded == midnight:
        return rounded.date().isoformat()
    return rounded.isoformat(" ", "seconds" if rounded.second else "minutes")


def _clock(since_midnight: timedelta, shown: str) -> str:
    """A time of day: 19:40, with seconds where there are some; 24:00 for a whole day."""
    minutes, seconds = divmod(_rounded(since_midnight, shown) // timedelta(seconds=1), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours:02}:{minutes:02}" + (f":{seconds:02}" if seconds else "")


def _rounded(since_midnight: timedelta, shown: str) -> timedelta:
    """To the minute where no seconds are shown: 19:40 is stored as a fraction of a day."""
    step = timedelta(seconds=1) if "s" in shown else timedelta(minutes=1)
    return round(since_midnight / step) * step


def _number(value: float, shown: str) -> str:
    """A number as typed: 00718 and 94% as they are shown, others with all their digits."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    is_whole = isinstance(value, int) or value.is_integer()
    if is_whole and re.fullmatch("0{2,}", shown):
        return f"{int(value):0{len(shown)}d}"
    if "%" in shown:
        return f"{value * 100:.15g}%"
    return f"{Decimal(repr(value)):f}".removesuffix(".0")


# Bounds


def _looked_through(content: bytes, size_mb: float) -> dict[str, set[tuple[int, int]]]:
    """The row and column of each formula without a stored value, by part of the workbook.

    Raises `_Unfit` where the parts are larger or hold more than that of any log, have a document
    type (the start of each bomb of entities), or rows or cells out of their order: these would be
    dropped without a word.
    """
    if content.count(b"PK\x01\x02") > MOST_PARTS:
        raise _Unfit("too-many-cells")
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        parts = archive.infolist()
        if sum(part.file_size for part in parts) > size_mb * 2**20:
            raise _Unfit("file-too-large", limit_mb=size_mb)
        look = _Look()
        for part in parts:
            with archive.open(part) as stream:
                look.through(part.filename, stream)
    return look.without_value


class _Look:
    """Counts the elements of all parts, and notes formulas without a stored value."""

    def __init__(self) -> None:
        self.without_value: dict[str, set[tuple[int, int]]] = {}
        self.elements = 0
        self.part = ""
        self.place = 0, 0  # row and column, from 1
        self.in_row = self.is_formula = self.has_value = False

    def through(self, part: str, stream: "SupportsRead[bytes]") -> None:
        """Look through one part; one that is no XML is left to the library, which refuses it."""
        self.part, self.place, self.in_row = part, (0, 0), False
        self.parser = expat.ParserCreate(namespace_separator=" ")
        self.parser.StartDoctypeDeclHandler = self._refuse
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._end
        with suppress(expat.ExpatError):
            self.parser.ParseFile(stream)

    def _refuse(self, *_: object) -> None:
        raise _Unfit("not-a-workbook")

    def _start(self, name: str, attributes: Mapping[str, str]) -> None:
        tag = name.removeprefix(_MAIN)
        self.elements += 1 if self.in_row or tag == "row" else OUTSIDE_ROWS
        if self.elements > MOST_ELEMENTS:
            raise _Unfit("too-many-cells")
        if tag == "row":
            if self.in_row:
                raise _Unfit("not-a-workbook")
            self.in_row = True
            self._go_to((int(attributes.get("r", self.place[0] + 1)), 0))
        elif not self.in_row:
            return
        elif tag == "c":
            self._go_to((self.place[0], self._column(attributes.get("r"))))
            self.is_formula, self.has_value = False, attributes.get("t") == "str"
        elif tag == "f":
            self.is_formula = True
        elif tag == "v" and self.is_formula:
            self.parser.CharacterDataHandler = self._has_text

    def _end(self, name: str) -> None:
        tag = name.removeprefix(_MAIN)
        if tag == "row":
            self.in_row = False
        elif tag == "v":
            self.parser.CharacterDataHandler = None
        elif tag == "c" and self.in_row and self.is_formula and not self.has_value:
            self.without_value.setdefault(self.part, set()).add(self.place)

    def _has_text(self, _: str) -> None:
        self.has_value = True

    def _go_to(self, place: tuple[int, int]) -> None:
        if place <= self.place or place > (TALLEST, WIDEST) or place[1] > WIDEST:
            raise _Unfit("not-a-workbook")
        self.place = place

    def _column(self, coordinate: str | None) -> int:
        if coordinate is None:
            return self.place[1] + 1
        match = _COORDINATE.fullmatch(coordinate)
        if not match or int(match[2]) != self.place[0]:
            raise _Unfit("not-a-workbook")
        column = 0
        for letter in match[1]:
            column = column * 26 + ord(letter) - ord("A") + 1
        return column


def column_letters(column: int) -> str:
    """The name of a column, counted from 1: 28 is `AB`."""
    letters = ""
    while column:
        column, last = divmod(column - 1, 26)
        letters = chr(ord("A") + last) + letters
    return letters

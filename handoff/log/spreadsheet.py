"""Tables for spreadsheets: rows -> CSV bytes, and the mark of text that must not run as a formula.

Input: rows of cells. Output: CSV in UTF-8 with a byte-order mark. A cell that a spreadsheet would
run as a formula gets an apostrophe before it; `as_written` removes only that one.
"""

import csv
import io
import re
from collections.abc import Iterable, Mapping, Sequence

_FORMULA = re.compile(r"'*[=+\-@\t\r]")
_MARKED = re.compile(r"''*[=+\-@\t\r]")
_CONTROL = re.compile(r"[\x00-\x08\x0e-\x1f]")  # no text file has them
_NO_TEXT = "\N{REPLACEMENT CHARACTER}"


def csv_bytes(columns: Sequence[str], rows: Iterable[Mapping[str, object]]) -> bytes:
    """The table as CSV. A row has its cells by column name; a missing cell is blank."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow([harmless(column) for column in columns])
    writer.writerows([harmless(row.get(column, "")) for column in columns] for row in rows)
    return b"\xef\xbb\xbf" + stream.getvalue().encode()


def may_be_marked(text: str) -> bool:
    """Whether the text of a table may hold a cell that `as_written` changes. Quick, for a whole
    file.
    """
    return "'" in text and any(f"'{sign}" in text for sign in "=+-@\t\r")


def as_written(cell: str) -> str:
    """The text of a cell without the apostrophe that keeps a spreadsheet from running it."""
    return cell[1:] if _MARKED.match(cell) else cell


def plain_text(cell: str) -> str:
    """The text without characters that no text file and no workbook can hold."""
    return _CONTROL.sub(_NO_TEXT, cell)


def harmless(cell: object) -> object:
    """The cell with the apostrophe that keeps a spreadsheet from running it, where it needs one."""
    if not isinstance(cell, str):
        return cell
    plain = plain_text(cell)
    return f"'{plain}" if _FORMULA.match(plain) else plain

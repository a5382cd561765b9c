"""The text of a CSV log with one row or one cell changed; all other characters stay as they were.

Input: the text, and cells as they are typed, by contract name. Output: the new text. Raises
`EditError` where the log has no place for a cell. `change` proves that the result is right.
"""

import io
import re
from collections.abc import Iterator, Mapping

from handoff.desk.edits.failures import EditError
from handoff.log.spreadsheet import harmless
from handoff.read import find_header
from handoff.read.csv_header import Header

_NUMBERED = re.compile(r"column (\d+)$")  # the reader's name for a column without one


def appended(text: str, cells: Mapping[str, str]) -> str:
    """The text with one more row at its end."""
    header = _header(_lines(text))
    missing = [name for name in cells if name not in header.columns]
    if missing:
        raise EditError("no-column", name=missing[0])
    line_end = line_end_of(text)
    row = header.delimiter.join(
        _written(cells.get(name, ""), header.delimiter) for name in header.names
    )
    between = "" if text.endswith(("\n", "\r")) else line_end
    return f"{text}{between}{row}{line_end}"


def replaced(text: str, line: int, changes: Mapping[str, str]) -> str:
    """The text with other cells in the row that starts on `line`."""
    lines = _lines(text)
    header = _header(lines)
    spans = list(_cell_spans(text, sum(map(len, lines[: line - 1])), header.delimiter))
    at = {_index(header, name): cell for name, cell in changes.items()}
    if max(at) >= len(spans):
        raise EditError("short-row")
    for index in sorted(at, reverse=True):
        start, end = spans[index]
        text = text[:start] + _written(at[index], header.delimiter) + text[end:]
    return text


def without(text: str, line: int) -> str:
    """The text without the row that starts on `line`."""
    lines = _lines(text)
    start = sum(map(len, lines[: line - 1]))
    *_, (_, end) = _cell_spans(text, start, _header(lines).delimiter)
    return text[:start] + re.sub(r"\A(\r\n|\n|\r)", "", text[end:])


def line_end_of(text: str) -> str:
    """How the lines of a text end."""
    found = re.search(r"\r\n|\n|\r", text)
    return found.group() if found else "\n"


def _lines(text: str) -> list[str]:
    return list(io.StringIO(text, newline=""))


def _header(lines: list[str]) -> Header:
    header = find_header(lines)
    if header is None:
        raise EditError("no-header")
    return header


def _cell_spans(text: str, start: int, delimiter: str) -> Iterator[tuple[int, int]]:
    """The span of each cell of the row that starts at `start`, with quotation marks."""
    cell = re.compile(rf'(?:"(?:[^"]|"")*")?[^{re.escape(delimiter)}\r\n]*')
    while True:
        found = cell.match(text, start)
        start, end = found.span() if found else (start, start)
        yield start, end
        if text[end : end + 1] != delimiter:
            return
        start = end + 1


def _index(header: Header, name: str) -> int:
    """The index of a cell's column; a column name that occurs twice is given with its number."""
    numbered = _NUMBERED.search(name)
    if name in header.names and name not in header.repeated:
        return header.names.index(name)
    if numbered:
        return int(numbered.group(1)) - 1
    raise EditError("not-one-column", name=name)


def _written(cell: str, delimiter: str) -> str:
    plain = str(harmless(cell))
    needs_quotes = any(sign in plain for sign in (delimiter, '"', "\r", "\n"))
    return '"' + plain.replace('"', '""') + '"' if needs_quotes else plain

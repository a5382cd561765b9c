"""The bytes of a log file as text; of a workbook, the rows of the sheet that is a log.

Input: a path. Output: the text, or None, and findings: why the file is no log, or which encoding
was assumed. Reads regular text in UTF-8, UTF-16 and Windows-1252, and .xlsx. Never writes.
"""

import errno
import re
from pathlib import Path, PurePath

from handoff import portable
from handoff.log.cell import hidden_character
from handoff.log.workbook import table_of
from handoff.log.yaml_nodes import encoding_of
from handoff.model.bounds import USUAL
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place

WORKBOOK = ".xlsx"  # how its name ends
_OTHER_SPREADSHEETS = frozenset({".xls", ".xlsm", ".xlsb", ".ods", ".numbers"})
ASSUMED = "windows-1252"  # where a text is not UTF-8
# Control characters that no text editor or spreadsheet writes into a text file.
_BINARY = re.compile(r"[\x01-\x08\x0e-\x1a\x1c-\x1f]")


def read_text(path: str, size_mb: float) -> tuple[str | None, list[Finding]]:
    """The text of the file, without its byte-order mark; None when it cannot be used."""
    place = Place(path)
    hidden = hidden_character(path)
    if hidden:
        return None, [finding("bad-file-name", place, character=hidden)]
    most_bytes = int(size_mb * 2**20)
    try:
        with Path(path).open("rb") as file:
            content = file.read(most_bytes + 1)
    except OSError as error:
        return None, [_cannot_open(error, place)]
    if len(content) > most_bytes:
        return None, [finding("file-too-large", place, limit_mb=size_mb)]
    return text_of(content, path, size_mb)


def text_of(
    content: bytes, path: str, size_mb: float = USUAL.size_mb
) -> tuple[str | None, list[Finding]]:
    """The text of the bytes of a file, as `read_text` gives it."""
    place, suffix = Place(path), PurePath(path).suffix.lower()
    if suffix in _OTHER_SPREADSHEETS:
        return None, [finding("other-spreadsheet", place, suffix=suffix)]
    if suffix == WORKBOOK:
        return table_of(content, path, size_mb)
    text, encoding = decode(content) or (None, None)
    refusal = _refusal(text, place)
    if refusal:
        return None, [refusal]
    return text, [finding("encoding-assumed", place)] if encoding == ASSUMED else []


def _cannot_open(error: OSError, place: Place) -> Finding:
    # Windows says of a folder that it may not be read.
    if isinstance(error, IsADirectoryError | PermissionError) and Path(place.file).is_dir():
        return finding("is-a-folder", place)
    if error.errno == errno.EINVAL:  # for Windows `*.yaml` can be no name of a file
        return finding("no-such-file", place)
    codes = {FileNotFoundError: "no-such-file", PermissionError: "no-permission"}
    return finding(codes.get(type(error), "cannot-read"), place, problem=portable.reason(error))


def decode(content: bytes) -> tuple[str, str] | None:
    """The text and its encoding; None where no encoding fits."""
    for encoding in (encoding_of(content), ASSUMED):
        try:
            return content.decode(encoding), encoding
        except UnicodeDecodeError:
            continue
    return None


def _refusal(text: str | None, place: Place) -> Finding | None:
    if text is None or _BINARY.search(text):
        return finding("binary-file", place)
    if not text.strip():
        return finding("empty-file", place)
    if "\0" in text:
        line = text.count("\n", 0, text.index("\0")) + 1
        return finding("nul-bytes", Place(place.file, line))
    return None

"""Reads a log file: path -> `Sheet`, located raw text with no meaning yet.

Enters: the path of a YAML or CSV file. Leaves: the same `Sheet` from both, with findings about what
is no record or cannot be told apart. Never interprets a cell, never raises for a bad file, and
reads nothing but the file it was given.
"""

from pathlib import PurePath

from handoff.codes import finding
from handoff.findings import Place
from handoff.read.content import SIZE_LIMIT_BYTES, read_text
from handoff.read.from_csv import read_csv
from handoff.read.from_yaml import read_yaml
from handoff.read.sheet import Record, Sheet, unusable

__all__ = ["SIZE_LIMIT_BYTES", "Record", "Sheet", "read"]

_FORMATS = {
    ".yaml": read_yaml,
    ".yml": read_yaml,
    ".csv": read_csv,
    ".tsv": read_csv,
    ".txt": read_csv,
}


def read(path: str, size_limit_bytes: int = SIZE_LIMIT_BYTES) -> Sheet:
    """The log at `path`. A file that cannot be read gives a sheet that is not `usable`."""
    text, findings = read_text(path, size_limit_bytes)
    if text is None:
        return unusable(path, findings)
    parse = _FORMATS.get(PurePath(path).suffix.lower())
    if parse is None:
        return unusable(path, [*findings, finding("unknown-format", Place(path))])
    return parse(text, path, findings)

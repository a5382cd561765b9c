"""One cell of a log: what reading it can come to, and the one place where a bad one is caught.

Enters: a parser and the text of a cell. Leaves: the value, or None, and findings. Knows no field.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from handoff.codes import finding
from handoff.findings import Finding, Place

T = TypeVar("T")


class BadCell(Exception):  # noqa: N818 - it is about a cell of a log, not an error of the program
    """A cell that cannot be read. The reader of one cell raises it, `read_cell` catches it."""

    def __init__(self, code: str, **words: object) -> None:
        super().__init__(code)
        self.code = code
        self.words = words


@dataclass(frozen=True, slots=True)
class Doubtful(Generic[T]):
    """A value that was read, and what has to be said about how it was read."""

    value: T
    doubts: tuple[BadCell, ...]


def read_cell(
    parse: Callable[[str], Any], raw: str, place: Place, field: str
) -> tuple[Any, tuple[Finding, ...]]:
    """What `parse` makes of one cell (None when it cannot be read), and the findings."""
    doubts: tuple[BadCell, ...] = ()
    try:
        value = parse(raw)
    except BadCell as bad:
        value, doubts = None, (bad,)
    if isinstance(value, Doubtful):
        value, doubts = value.value, value.doubts
    return value, tuple(finding(doubt.code, place, field, raw, **doubt.words) for doubt in doubts)

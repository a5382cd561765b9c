"""One cell of a log: the possible results of reading it, and the one place that catches a bad cell.

Input: a parser and the text of a cell. Output: the value, or None, and findings. Knows no field.
"""

import unicodedata
from collections.abc import Callable, Iterable
from typing import Any, Generic, TypeVar

from handoff.model.codes import finding
from handoff.model.findings import Finding, Place
from handoff.model.frozen import Frozen
from handoff.model.wording import FINDINGS

T = TypeVar("T")

READ_AS = "read-as"  # the code of a value with only one possible meaning

OR_BLANK = "any.or-blank"  # the key of how to mend a cell

# These reverse the order of letters on paper: a name could read as another.
_TURNING = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


class BadCell(Exception):  # noqa: N818 - it is about a cell of a log, not an error of the program
    """A cell that cannot be read. The reader of one cell raises it, `read_cell` catches it."""

    def __init__(self, code: str, **words: object) -> None:
        super().__init__(code)
        self.code = code
        self.words = words


class Doubtful(Frozen, Generic[T]):
    """A value that was read, and the doubts about how it was read."""

    value: T
    doubts: tuple[BadCell, ...]


def read_as_doubt(what: str, read: object) -> BadCell:
    """The doubt about a value that is read as `read`; `what` is the key of how it is written."""
    return BadCell(READ_AS, what=FINDINGS.say(f"read-as.what.{what}"), read=read)


def read_as(what: str, read: object, value: T) -> Doubtful[T]:
    """A value that can be meant in one way only, though it is written in another."""
    return Doubtful(value, (read_as_doubt(what, read),))


def hidden_character(text: str) -> str | None:
    """The first invisible character that changes what is seen, such as U+202E; None without one.

    These are control characters, those that reverse letters, surrogates, and unassigned ones.
    """
    for character in "" if text.isprintable() else text:
        if character in _TURNING or unicodedata.category(character) in {"Cc", "Cn", "Co", "Cs"}:
            return f"U+{ord(character):04X}"
    return None


# The value of a text (None when it cannot be read), and the doubts about it.
Outcome = tuple[Any, tuple[BadCell, ...]]


def outcome_of(parse: Callable[[str], Any], raw: str) -> Outcome:
    """The value and doubts that `parse` gives for the text of one cell."""
    try:
        value = parse(raw)
    except BadCell as bad:
        return None, (bad,)
    return (value.value, value.doubts) if isinstance(value, Doubtful) else (value, ())


def findings_of(
    doubts: Iterable[BadCell], place: Place, field: str, raw: str, or_blank: str = OR_BLANK
) -> list[Finding]:
    """The findings of one cell. `or_blank` is the key of what a blank in it would mean."""
    words = {"or_blank": FINDINGS.say(or_blank)}
    return [finding(each.code, place, field, raw, **(words | each.words)) for each in doubts]


def read_cell(
    parse: Callable[[str], Any], raw: str, place: Place, field: str
) -> tuple[Any, list[Finding]]:
    """The value of one cell by `parse` (None when it cannot be read), and the findings."""
    value, doubts = outcome_of(parse, raw)
    return value, findings_of(doubts, place, field, raw)

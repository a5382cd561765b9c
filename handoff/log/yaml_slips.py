"""Turns the YAML library's words about a typing slip into plain ones.

Input: the library's words. Output: plain words, and whether the slip is on the line where the
library began (such as an unclosed quotation mark) or where it gave up. Reads no file.
"""

import re
from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True)
class Slip:
    """What is wrong, as a clause, and on which of the library's two lines."""

    words: str
    is_where_it_began: bool = False


_TAB = Slip("a tab stands where spaces belong")
_NO_DASH = Slip("a dash and a space are missing before the brace {")

_SLIPS = (
    (r"expected (?:<block end>|'-'|key).*\n\s*\{", _NO_DASH),
    (r"expected ':'.*\n.*\n\s*\{", replace(_NO_DASH, is_where_it_began=True)),
    (
        r"expected ',' or '}'.*\n.*\n.*\s#",
        Slip("text that holds a # has no quotation marks", is_where_it_began=True),
    ),
    (
        r"cannot start any token|keys are not allowed|alphabetic or numeric|or (?:a )?line break",
        Slip("text that begins with a mark such as % @ * | > ? has no quotation marks"),
    ),
    (
        r"values are not allowed.*\n.*:\s.*:\s",
        Slip("text that holds a colon has no quotation marks"),
    ),
    (
        r"values are not allowed",
        Slip("a name stands further to the right than those above it"),
    ),
    (
        r"expected ',' or '}'",
        Slip(
            "a comma or the closing brace } is missing, or text that holds a colon has no "
            "quotation marks",
            is_where_it_began=True,
        ),
    ),
    (
        r"expected ',' or '\]'",
        Slip("a comma or the closing bracket ] is missing", is_where_it_began=True),
    ),
    (
        r"expected ':'",
        Slip("there is no colon and space after a name", is_where_it_began=True),
    ),
    (
        r"end of stream",
        Slip("a quotation mark is opened and not closed", is_where_it_began=True),
    ),
    (
        r"expected key|expected <block end>|expected '-'",
        Slip(
            "this stands too far to the left or right, or behind a mark that closes what is before "
            "it"
        ),
    ),
)


def slip_of(problem: str, line: str, first_line: str) -> Slip:
    """The slip behind the library's `problem`; `line` is the text of the line where it gave up, and
    `first_line` that of the line where it began.
    """
    indentation = line[: len(line) - len(line.lstrip(" \t-"))]
    if "\t" in indentation:
        return _TAB
    both = f"{problem}\n{line.rstrip()}\n{first_line}"
    return next(
        (slip for pattern, slip in _SLIPS if re.match(f".*(?:{pattern})", both)), Slip(problem)
    )

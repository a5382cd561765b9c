"""Turns the YAML library's words about a typing slip into plain ones.

Input: the library's words. Output: plain words, and whether the slip is on the line where the
library began (such as an unclosed quotation mark) or where it gave up. Reads no file.
"""

import re

from handoff.model.frozen import Frozen
from handoff.model.wording import FINDINGS


class Slip(Frozen):
    """What is wrong, as a clause, and on which of the library's two lines."""

    words: str
    is_where_it_began: bool = False


# What the library says, the key of our words, and whether the slip is where it began.
_SLIPS = (
    (r"expected (?:<block end>|'-'|key).*\n\s*\{", "no-dash", False),
    (r"expected (?:<block end>|'-'|key).*\n\s*-[^\s-]", "no-space", False),
    (r"expected ':'.*\n.*\n\s*\{", "no-dash", True),
    (r"expected ',' or '}'.*\n.*\n.*\s#", "hash", True),
    (
        r"cannot start any token|keys are not allowed|alphabetic or numeric|or (?:a )?line break",
        "mark",
        False,
    ),
    (r"values are not allowed.*\n.*:\s.*:\s", "colon", False),
    (r"values are not allowed", "indentation", False),
    (r"expected ',' or '}'", "brace", True),
    (r"expected ',' or '\]'", "bracket", True),
    (r"expected ':'", "no-colon", True),
    (r"end of stream", "quotation-mark", True),
    (r"expected key|expected <block end>|expected '-'", "place", False),
)


def slip_of(problem: str, line: str, first_line: str) -> Slip:
    """The slip behind the library's `problem`; `line` is the text of the line where it gave up, and
    `first_line` that of the line where it began.
    """
    indentation = line[: len(line) - len(line.lstrip(" \t-"))]
    if "\t" in indentation:
        return Slip(FINDINGS.say("yaml-syntax.problem.tab"))
    both = f"{problem}\n{line.rstrip()}\n{first_line}"
    for pattern, name, is_where_it_began in _SLIPS:
        if re.match(f".*(?:{pattern})", both):
            return Slip(FINDINGS.say(f"yaml-syntax.problem.{name}"), is_where_it_began)
    return Slip(problem or FINDINGS.say("yaml-syntax.problem.unreadable"))

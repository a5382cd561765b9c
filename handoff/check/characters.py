"""Replaces characters that programs and keyboards write instead of plain ones in numbers and times.

Input: the text of a cell. Output: the same text in plain characters, and what was not plain. Only
unambiguous characters are changed: a full-width digit, a dash, a non-breaking space. A non-breaking
space between groups of three digits separates thousands and is left out. A typed space there is
kept: it may separate two numbers.
"""

import re

_FULL_WIDTH = {code: chr(code - 0xFEE0) for code in range(0xFF01, 0xFF5F)}  # of ! to ~
_DASHES = dict.fromkeys(map(ord, "\u2010\u2011\u2012\u2013\u2014\u2015\u2212"), "-")
_SPACES = dict.fromkeys(map(ord, "\u00a0\u2007\u2009\u202f\u3000"), " ")
_THOUSANDS = re.compile(r"(?<=\d)[\u00a0\u2007\u2009\u202f](?=\d{3}(?!\d))")

_QUOTED = re.compile(
    r"[\u201c\u201d\u201e\u00ab]([^\u201c\u201d\u201e\u00ab\u00bb]+)[\u201c\u201d\u00bb]"
)

# Each kind of character, by the key of its name in a finding.
_KINDS = (
    ("space", _SPACES),
    ("dash", _DASHES),
    ("full-width", _FULL_WIDTH),
)


def unquoted(raw: str) -> tuple[str, str | None]:
    """The text without a word processor's curly quotation marks around it, and the key of
    what was removed.
    """
    found = None if raw.isascii() else _QUOTED.fullmatch(raw)
    return (found[1].strip(), "quotation-marks") if found else (raw, None)


def plain(raw: str) -> tuple[str, str | None]:
    """The text in plain characters, and the key of what was not plain; None for nothing."""
    if raw.isascii():
        return raw, None
    codes = set(map(ord, raw))
    what = next((name for name, kind in _KINDS if not codes.isdisjoint(kind)), None)
    ungrouped = _THOUSANDS.sub("", raw)
    return ungrouped.translate(_FULL_WIDTH | _DASHES | _SPACES), what

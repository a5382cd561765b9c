"""Puts text in right-to-left scripts into the order in which it is drawn.

Input: text in reading order. Output: the same text with Arabic letters in their joined forms, or
reversed for drawing from left to right. Text without such letters stays as it is, but for a line of
a page that runs from right to left.
"""

import re
import unicodedata
from functools import cache
from typing import Any

from bidi import get_display

RIGHT_TO_LEFT = frozenset({"R", "AL"})
# Marks around a part of a text that keeps its own order (Unicode's isolates). They are not drawn.
OPENING, CLOSING = frozenset("\u2066\u2067\u2068"), "\u2069"
ISOLATES = OPENING | {CLOSING}

_LETTERS = "\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufefc"  # Hebrew, Arabic and their kin
_FROM_LEFT = re.compile(f"[^\\W{_LETTERS}](?:[^{_LETTERS}]*[^\\W{_LETTERS}])?")
_FROM_RIGHT = re.compile(f"[{_LETTERS}](?:(?:[{_LETTERS}]|[^\\w])*[{_LETTERS}])?")
_JOINED = (*range(0xFB50, 0xFDFE), *range(0xFE70, 0xFEFD))  # forms of Arabic letters
_LETTER = {chr(form): unicodedata.normalize("NFKC", chr(form)) for form in _JOINED}

# Brackets that are turned around with the letters about them, which the library does not do. A mark
# without width after each shows where: of what is turned around it comes to stand before.
_MIRRORED = dict(zip("()[]{}<>«»", ")(][}{><»«", strict=True))
_PAIRED = re.compile(r"[()\[\]{}<>«»]")
_AFTER = "\N{COMBINING GRAPHEME JOINER}"
_TURNED = re.compile(f"{_AFTER}({_PAIRED.pattern})|{_PAIRED.pattern}{_AFTER}")


def runs_right_to_left(text: str) -> bool:
    """True when some letter of the text does."""
    return not text.isascii() and not RIGHT_TO_LEFT.isdisjoint(map(unicodedata.bidirectional, text))


def joined(text: str) -> str:
    """The text with each Arabic letter in the form that its neighbours ask for."""
    if not runs_right_to_left(text):
        return text
    return str(_reshaper().reshape(text))


@cache
def _reshaper() -> Any:  # noqa: ANN401 - it has no types
    """It keeps every mark, such as a doubling."""
    from arabic_reshaper import (  # noqa: PLC0415 - slow to load, and few names need it
        ArabicReshaper,
    )

    return ArabicReshaper({"delete_harakat": False})


def parts_as_read(drawn: str, *, from_right: bool) -> list[tuple[int, int, str]]:
    """The parts of a line as drawn: start and end of each, and of letters that are drawn turned
    around the text as it is read; else ''. `from_right` is the direction of the page, which signs
    and spaces between the parts have too.
    """
    parts, done = [], 0
    for found in (_FROM_LEFT if from_right else _FROM_RIGHT).finditer(drawn):
        parts += [(done, found.start(), from_right), (*found.span(), not from_right)]
        done = found.end()
    parts.append((done, len(drawn), from_right))
    return [
        (start, end, _as_read(drawn[start:end]) if turned else "")
        for start, end, turned in parts
        if start < end
    ]


def _as_read(drawn: str) -> str:
    """Letters that are drawn turned around, each joined one as the letter that it is."""
    return "".join(_LETTER.get(each, _MIRRORED.get(each, each)) for each in reversed(drawn))


def drawn_order(text: str, *, from_right: bool = False) -> str:
    """The letters of one line from left to right (Unicode Bidirectional Algorithm), without the
    marks that keep a part of it together. `from_right` is the direction of its page.
    """
    if from_right or runs_right_to_left(text):
        marked = _PAIRED.sub(rf"\g<0>{_AFTER}", text)
        turned = str(get_display(marked, base_dir="R" if from_right else "L"))
        text = _TURNED.sub(lambda found: _MIRRORED.get(found[1], found[0][0]), turned)
    return "".join(letter for letter in text if letter not in ISOLATES)


def left_open(text: str, before: str = "") -> str:
    """The marks of those parts kept together that a line begins and does not end, after those that
    the lines before it left open.
    """
    opened = before
    for letter in filter(ISOLATES.__contains__, text):
        opened = opened[:-1] if letter == CLOSING else opened + letter
    return opened

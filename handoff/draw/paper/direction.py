"""Puts text in right-to-left scripts into the order in which it is drawn.

Input: text in reading order. Output: the same text with Arabic letters in their joined forms, or
reversed for drawing from left to right. Text without such letters stays as it is.
"""

import unicodedata

from bidi import get_display

RIGHT_TO_LEFT = frozenset({"R", "AL"})


def runs_right_to_left(text: str) -> bool:
    """True when some letter of the text does."""
    return not text.isascii() and not RIGHT_TO_LEFT.isdisjoint(map(unicodedata.bidirectional, text))


def joined(text: str) -> str:
    """The text with each Arabic letter in the form that its neighbours ask for."""
    if not runs_right_to_left(text):
        return text
    import arabic_reshaper  # noqa: PLC0415 - slow to load, and few names need it

    return str(arabic_reshaper.reshape(text))


def drawn_order(text: str) -> str:
    """The letters of one line from left to right (Unicode Bidirectional Algorithm)."""
    if not runs_right_to_left(text):
        return text
    return str(get_display(text, base_dir="L"))

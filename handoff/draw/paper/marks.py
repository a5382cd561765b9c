"""Draws combining marks of the text face over or under the middle of their letter.

Input: letters with their marks. Output: both on a canvas. A letter that is one character with its
accent needs none of this; a Yoruba e with a dot below and an accent does.
"""

import re
import unicodedata

from reportlab.pdfgen.textobject import PDFTextObject

from handoff.draw.paper.typeface import Fonts, TypeStyle

MARKED = re.compile("(.)([\u0300-\u036f]+)")
ABOVE = 230  # the combining class of marks over a letter
TALL, MARK_HEIGHT = 0.17, 0.2  # of a capital over a small letter, and of a mark, in sizes


def is_mark(character: str) -> bool:
    """True of the marks that the text face has, those of U+0300 to U+036F."""
    return "\u0300" <= character <= "\u036f"


def has_marks(letters: str) -> bool:
    """True when a letter of the text carries a mark that is a character of its own."""
    return not letters.isascii() and MARKED.search(letters) is not None


def put_marked(text: PDFTextObject, letters: str, style: TypeStyle, fonts: Fonts) -> None:
    """Letters some of which carry marks, each mark over or under the middle of its letter.

    The text face has its marks around the pen; its own rules for placing them do the same.
    """
    size, font = style.size, style.font
    done = 0
    for found in MARKED.finditer(letters):
        letter, marks = found.groups()
        text.textOut(letters[done : found.start()])
        half = size * fonts.advance(font, letter) / 2
        text.setCharSpace(-half)
        text.textOut(letter)
        for index, mark in enumerate(marks, start=1):
            text.setCharSpace(half if index == len(marks) else 0)
            text.setRise(size * _rise(letter, mark, marks[: index - 1]))
            text.textOut(mark)
        text.setCharSpace(0)
        text.setRise(0)
        done = found.end()
    text.textOut(letters[done:])


def _rise(letter: str, mark: str, before: str) -> float:
    """How far up a mark is moved, in sizes: over a tall letter or the marks before it, and never
    into the line above.
    """
    if unicodedata.combining(mark) != ABOVE:
        return 0
    letters = unicodedata.normalize("NFD", letter) + before
    over = sum(unicodedata.combining(each) == ABOVE for each in letters)
    tall = TALL if letter.isupper() or letters[0] in "bdfhklt" else 0
    return min(tall + MARK_HEIGHT * over, MARK_HEIGHT)

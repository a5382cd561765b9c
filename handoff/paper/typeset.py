"""Lines of text: broken, measured, cut, and drawn literally.

Enters: text as a log has it. Leaves: `Line`s that fit a width, and their marks on a canvas. Text is
never markup: a character is drawn or, where no font has it, replaced by U+FFFD.
"""

import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby

from reportlab.pdfgen.canvas import Canvas

from handoff.paper.direction import drawn_order, joined, runs_right_to_left
from handoff.paper.typeface import (
    BODY_PT,
    BOLD,
    FALLBACK,
    REGULAR,
    font_of,
    set_width,
    weight_of,
)

ELLIPSIS = "…"
NO_BASE = "\N{DOTTED CIRCLE}"  # carries a combining mark that stands alone
NARROW = 0.2  # hardly a letter is narrower, in sizes
LEADING = 1.2  # line to line, in sizes
BASELINE = 0.93  # top of the line to its baseline, in sizes


@dataclass(frozen=True, slots=True)
class Line:
    """One line: (font, letters) runs in order, and its width in points."""

    runs: tuple[tuple[str, str], ...]
    width: float


@lru_cache(maxsize=20_000)
def break_lines(
    words: str, size: float, width: float, lead: str = "", font: str = REGULAR
) -> tuple[Line, ...]:
    """The text in lines of at most `width` points, `lead` in bold before it.

    Breaks at spaces; a word longer than a line is broken where it must be. At least one line.
    """
    bold = _words(lead, BOLD)
    pieces = [*bold, *_words(words, font)]
    return tuple(_fill(pieces, size, width)) or (Line((), 0.0),)


def clip(
    words: str, size: float, width: float, lines: int | None, lead: str = "", font: str = REGULAR
) -> str:
    """The text, or as much of it as fits on so many lines, with an ellipsis that shows the cut."""
    if lines is None or len(break_lines(words, size, width, lead, font)) <= lines:
        return words
    # No more letters than this fit, so that a long text is not broken whole again and again.
    low, high = 0, min(len(words), int(lines * width / (NARROW * size)))
    while low < high:
        middle = (low + high + 1) // 2
        shown = words[:middle].rstrip() + ELLIPSIS
        fits = len(break_lines(shown, size, width, lead, font)) <= lines
        low, high = (middle, high) if fits else (low, middle - 1)
    return words[:low].rstrip() + ELLIPSIS


def width_of(text: str, size: float, font: str = REGULAR) -> float:
    """Width of the text on one line, in points."""
    return _width(_lettered(text, font), size)


def leading_of(size: float) -> float:
    """Line to line, in points."""
    return round(size * LEADING, 1)


def put_lines(
    canvas: Canvas, lines: Sequence[Line], x: float, top: float, size: float = BODY_PT
) -> None:
    """Draw lines below each other, the first one's top at `top`."""
    baseline = top - BASELINE * size
    for line in lines:
        put_line(canvas, line, x, baseline, size)
        baseline -= leading_of(size)


def put_line(canvas: Canvas, line: Line, x: float, baseline: float, size: float) -> None:
    """Draw one line, its left end at (x, baseline)."""
    text = canvas.beginText(x, baseline)
    for font, letters in line.runs:
        text.setFont(font, size)
        text.textOut(letters)
    canvas.drawText(text)


def put_text(
    canvas: Canvas,
    x: float,
    baseline: float,
    text: str,
    size: float = BODY_PT,
    font: str = REGULAR,
    *,
    longest: float | None = None,
    align: float = 0,
) -> None:
    """One line of text; `align` 0 puts its left end at x, 0.5 its middle, 1 its right end."""
    shown = text if longest is None else clip(text, size, longest, 1, font=font)
    letters = _lettered(shown, font)
    line = Line(_as_runs(letters), _width(letters, size))
    put_line(canvas, line, x - align * line.width, baseline, size)


Lettered = list[tuple[str, str]]  # (font, character) pairs


def _lettered(text: str, font: str) -> Lettered:
    """Each printable character with the font that draws it; white space is a space.

    A letter that carries a combining mark is drawn with it in the second font, whose marks stand
    where they should; the text face sets them beside the letter.
    """
    letters: Lettered = []
    for character in joined(unicodedata.normalize("NFC", text)):
        if unicodedata.combining(character):
            base = letters.pop()[1] if letters and letters[-1][1] != " " else NO_BASE
            letters += [font_of(base, FALLBACK[font]), font_of(character, FALLBACK[font])]
        elif character.isspace():
            letters.append((font, " "))
        elif character.isprintable():
            letters.append(font_of(character, font))
    return letters


def _words(text: str, font: str) -> list[Lettered]:
    letters = _lettered(text, font)
    groups = groupby(letters, key=lambda pair: pair[1] == " ")
    return [list(group) for is_space, group in groups if not is_space]


def _fill(words: Iterable[Lettered], size: float, width: float) -> Iterator[Line]:
    """Words set one after the other, a new line where the next would not fit."""
    line: Lettered = []
    taken = 0.0
    for piece in _no_longer_than(words, size, width):
        space = [(piece[0][0], " ")] if line else []
        needed = _width([*space, *piece], size)
        if line and taken + needed > width:
            yield Line(_as_runs(line), taken)
            line, taken, space, needed = [], 0.0, [], _width(piece, size)
        line += [*space, *piece]
        taken += needed
    if line:
        yield Line(_as_runs(line), taken)


def _no_longer_than(words: Iterable[Lettered], size: float, width: float) -> Iterator[Lettered]:
    """The words, those longer than a line broken into pieces that fit one."""
    for word in words:
        if _width(word, size) <= width:
            yield word
            continue
        piece: Lettered = []
        taken = 0.0
        for letter in word:
            advance = _width([letter], size)
            if piece and taken + advance > width and not unicodedata.combining(letter[1]):
                yield piece
                piece, taken = [], 0.0
            piece.append(letter)
            taken += advance
        yield piece


def _width(letters: Iterable[tuple[str, str]], size: float) -> float:
    return size * sum(set_width(font, character) for font, character in letters)


def _as_runs(letters: Lettered) -> tuple[tuple[str, str], ...]:
    """One line's letters as runs of one font, in the order in which they are drawn."""
    runs = groupby(_in_drawn_order(letters), key=lambda pair: pair[0])
    return tuple((font, "".join(character for _, character in run)) for font, run in runs)


def _in_drawn_order(letters: Lettered) -> Lettered:
    """Scripts that run from right to left turned around, within bold and regular text apart."""
    if not runs_right_to_left("".join(character for _, character in letters)):
        return letters
    ordered: Lettered = []
    for weight, run in groupby(letters, key=lambda pair: weight_of(pair[0])):
        text = drawn_order("".join(character for _, character in run))
        ordered += [font_of(character, weight) for character in text]
    return ordered

"""Lines of text: broken, measured, cut, and drawn literally.

Input: text as a log has it. Output: `Line`s that fit a width, and their marks on a canvas. Text is
never markup: a character is drawn or, where no font has it, replaced by U+FFFD.
"""

import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby
from operator import itemgetter

from reportlab.pdfgen.canvas import Canvas

from handoff.draw.paper.direction import drawn_order, joined, runs_right_to_left
from handoff.draw.paper.marks import has_marks, is_mark, put_marked
from handoff.draw.paper.typeface import (
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
UNITS = frozenset(("mL", "%", "s", "h", "min", "kg", "cm", "°C", "/min", "mL/kg"))
SHORT = 0.25  # of the width: a last line that is shorter looks forgotten


@dataclass(frozen=True, slots=True)
class Line:
    """One line: (font, letters) runs in order, and its width in points."""

    runs: tuple[tuple[str, str], ...]
    width: float


@dataclass(frozen=True, slots=True)
class Word:
    """Letters that stay together: (font, letters) runs as written, and their width in sizes."""

    runs: tuple[tuple[str, str], ...]
    width: float
    from_right: bool


@lru_cache(maxsize=2_000)
def break_lines(
    words: str, size: float, width: float, lead: str = "", font: str = REGULAR
) -> tuple[Line, ...]:
    """The text in lines of at most `width` points, `lead` in bold before it.

    Breaks at spaces, but never between a number and its unit; a word longer than a line is broken
    where it must be. At least one line, and no more for the sake of a last one that is not short.
    """
    bold = [_word(each, BOLD) for each in lead.split()]
    pieces = [*bold, *(_word(each, font) for each in _kept_together(words))]
    printed = [word for word in pieces if word.runs]
    lines = tuple(_fill(printed, size, width))
    if len(lines) > 1 and lines[-1].width < SHORT * width:
        lines = _evened(printed, size, width, lines)
    return lines or (Line((), 0.0),)


def _kept_together(words: str) -> list[str]:
    """The words, each number with the unit that follows it."""
    kept: list[str] = []
    for word in words.split():
        follows_number = kept and kept[-1][-1].isdigit() and not kept[-1][0].isalpha()
        if follows_number and word.rstrip(".,;:)") in UNITS:
            kept[-1] += f" {word}"
        else:
            kept.append(word)
    return kept


def _evened(
    words: Sequence[Word], size: float, width: float, lines: tuple[Line, ...]
) -> tuple[Line, ...]:
    """As many lines, a little narrower, where the last one is then longer and no word is broken."""
    fitting = [size * word.width for word in words if size * word.width <= width]
    for share in (0.96, 0.92, 0.88, 0.84, 0.8):
        if share * width < max(fitting, default=0.0):
            break
        evened = tuple(_fill(words, size, share * width))
        if len(evened) > len(lines) or lines[-1].width >= SHORT * width:
            break
        lines = evened
    return lines


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


def widest_word(text: str, size: float, font: str = REGULAR) -> float:
    """What a line needs in points so that nothing that is kept together is broken."""
    return max((width_of(word, size, font) for word in _kept_together(text)), default=0.0)


def width_of(text: str, size: float, font: str = REGULAR) -> float:
    """Width of the text on one line, in points."""
    return size * _word(text, font).width


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
        if font in FALLBACK and has_marks(letters):
            put_marked(text, font, letters, size)
        else:
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
    line = _line([_word(shown, font)], size)
    put_line(canvas, line, x - align * line.width, baseline, size)


@lru_cache(maxsize=10_000)
def _word(text: str, font: str) -> Word:
    letters = _lettered(text, font)
    width = sum(set_width(name, character) for name, character in letters)
    return Word(_merged(letters), width, runs_right_to_left(text))


Runs = Iterable[tuple[str, str]]  # (font, letters)


def _lettered(text: str, font: str) -> list[tuple[str, str]]:
    """Each printable character with the font that draws it; white space is a space.

    A letter that carries a combining mark which the text face lacks is drawn with it in the second
    font.
    """
    letters: list[tuple[str, str]] = []
    for character in joined(unicodedata.normalize("NFC", text)):
        if unicodedata.combining(character):
            on_a_letter = letters and letters[-1][0] == font and letters[-1][1] != " "
            if on_a_letter and is_mark(character) and font_of(character, font)[0] == font:
                letters.append((font, character))
                continue
            base = letters.pop()[1] if letters and letters[-1][1] != " " else NO_BASE
            letters += [font_of(base, FALLBACK[font]), font_of(character, FALLBACK[font])]
        elif character.isspace():
            letters.append((font, " "))
        elif character.isprintable():
            letters.append(font_of(character, font))
    return letters


def _fill(words: Iterable[Word], size: float, width: float) -> Iterator[Line]:
    """Words set one after the other, a new line where the next would not fit."""
    line: list[Word] = []
    taken = 0.0
    for word in _no_longer_than(words, size, width):
        needed = size * word.width + (size * _space_before(word).width if line else 0)
        if line and taken + needed > width:
            yield _line(line, size)
            line, taken, needed = [], 0.0, size * word.width
        line.append(word)
        taken += needed
    if line:
        yield _line(line, size)


def _no_longer_than(words: Iterable[Word], size: float, width: float) -> Iterator[Word]:
    """The words, those longer than a line broken into pieces that fit one."""
    for word in words:
        if size * word.width <= width:
            yield word
        else:
            yield from _broken(word, size, width)


def _broken(word: Word, size: float, width: float) -> Iterator[Word]:
    """Pieces of a long word: up to a hyphen where there is one, and a mark never off its letter."""
    piece: list[tuple[str, str]] = []
    taken = 0.0
    for letter in _letters(word.runs):
        advance = set_width(*letter)
        full = size * (taken + advance) > width and not unicodedata.combining(letter[1])
        if piece and full:
            end = _after_hyphen(piece)
            yield _of(piece[:end], word)
            piece = piece[end:]
            taken = sum(set_width(*each) for each in piece)
        piece.append(letter)
        taken += advance
    yield _of(piece, word)


def _after_hyphen(letters: Sequence[tuple[str, str]]) -> int:
    """How many letters stand up to the last hyphen; all, where there is none."""
    hyphens = [end for end, (_, letter) in enumerate(letters, start=1) if letter == "-"]
    return hyphens[-1] if hyphens else len(letters)


def _of(letters: Sequence[tuple[str, str]], word: Word) -> Word:
    """Part of a word as a word."""
    width = sum(set_width(*each) for each in letters)
    return Word(_merged(letters), width, word.from_right)


def _space_before(word: Word) -> Word:
    return _word(" ", word.runs[0][0])


def _line(words: Sequence[Word], size: float) -> Line:
    """The words on one line, in the order in which they are drawn."""
    spaced = [*words[:1], *(each for word in words[1:] for each in (_space_before(word), word))]
    runs = [run for word in spaced for run in word.runs]
    if any(word.from_right for word in words):
        runs = _in_drawn_order(runs)
    return Line(_merged(runs), size * sum(word.width for word in spaced))


def _merged(runs: Runs) -> tuple[tuple[str, str], ...]:
    """Neighbours of one font as one run."""
    by_font = groupby(runs, key=itemgetter(0))
    return tuple((font, "".join(letters for _, letters in run)) for font, run in by_font)


def _letters(runs: Runs) -> Iterator[tuple[str, str]]:
    return ((font, character) for font, letters in runs for character in letters)


def _in_drawn_order(runs: Runs) -> list[tuple[str, str]]:
    """Scripts that run from right to left turned around, within bold and regular text apart."""
    ordered = []
    for weight, run in groupby(runs, key=lambda pair: weight_of(pair[0])):
        text = drawn_order("".join(letters for _, letters in run))
        ordered += [font_of(character, weight) for character in text]
    return ordered

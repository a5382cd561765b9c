"""Lines of text: broken, measured and cut.

Input: text as a log has it. Output: `Line`s that fit a width, ready to be drawn literally. Text is
never markup: a character is drawn or, where no font has it, replaced by U+FFFD.
"""

import re
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cache, cached_property, lru_cache
from itertools import groupby
from operator import itemgetter

from msgspec.structs import replace

from handoff.draw.paper.direction import (
    ISOLATES,
    drawn_order,
    joined,
    left_open,
    parts_as_read,
    runs_right_to_left,
)
from handoff.draw.paper.marks import is_mark
from handoff.draw.paper.typeface import BODY, BOLD, FALLBACK, Fonts, TypeStyle, weight_of
from handoff.model.frozen import Frozen

ELLIPSIS = "…"
NO_BASE = "\N{DOTTED CIRCLE}"  # carries a combining mark that has no letter
NARROW = 0.2  # hardly a letter is narrower, in sizes
LEADING = 1.2  # line to line, in sizes
BASELINE = 0.93  # top of the line to its baseline, in sizes
FIXED_SPACES = ("\N{NO-BREAK SPACE}", "\N{NARROW NO-BREAK SPACE}")
_BREAKING_SPACE = re.compile(f"[^\\S{''.join(FIXED_SPACES)}]+")
UNITS = frozenset(("mL", "%", "s", "h", "min", "kg", "cm", "°C", "/min", "mL/kg"))
SHORT = 0.25  # of the width: a last line that is shorter looks forgotten

Run = tuple[str, str]  # font, letters


class Line(Frozen):
    """One line: runs in the order in which they are drawn, and its width in points. `in_word` when
    its last word goes on on the next line, `turned` when something in it runs from right to left,
    `from_right` when all of it does.
    """

    runs: tuple[Run, ...]
    width: float
    in_word: bool = False
    turned: bool = False
    from_right: bool = False

    def parts(self) -> list[tuple[tuple[Run, ...], str]]:
        """What is read from the left and from the right, as drawn: its runs, and of what is turned
        around the text as it is read.
        """
        letters = [(font, letter) for font, part in self.runs for letter in part]
        drawn = "".join(letter for _, letter in letters)
        places = parts_as_read(drawn, from_right=self.from_right)
        return [(_merged(letters[start:end]), read) for start, end, read in places]


class Word(Frozen):
    """Letters that stay together: runs as written, and their width in sizes. `goes_on` when the
    next piece of the same word follows.
    """

    runs: tuple[Run, ...]
    width: float
    from_right: bool
    goes_on: bool = False


class Typesetter:
    """Sets the text of one run: owns its fonts, and keeps what was set with them.

    `own_font` is the path of a TrueType file with letters that the sheets' fonts lack. Raises
    `FontError` where it cannot be used. In another process a copy reads it again.
    """

    def __init__(
        self, own_font: str | None = None, *, fonts: Fonts | None = None, from_right: bool = False
    ) -> None:
        self._own_font = own_font
        self._from_right = from_right
        self.fonts = fonts or Fonts(own_font)
        self._lines: Callable[[str, TypeStyle, float, str], tuple[Line, ...]] = lru_cache(2_000)(
            self._set_lines
        )
        self._word: Callable[[str, str], Word] = lru_cache(10_000)(self._set_word)

    def running(self, *, from_right: bool) -> "Typesetter":
        """This one; or one with the same fonts, for pages that run from right to left."""
        return self._turned if from_right else self

    @cached_property
    def _turned(self) -> "Typesetter":
        return Typesetter(self._own_font, fonts=self.fonts, from_right=True)

    def __reduce__(self) -> tuple[type["Typesetter"], tuple[str | None]]:
        return Typesetter, (self._own_font,)

    def break_lines(
        self, words: str, style: TypeStyle, width: float, lead: str = ""
    ) -> tuple[Line, ...]:
        """The text in lines of at most `width` points, `lead` in bold before it.

        Breaks at spaces, but never between a number and its unit. A word longer than a line is
        broken. At least one line; never an extra line to make the last one longer.
        """
        return self._lines(words, style, width, lead)

    def clip(
        self, words: str, style: TypeStyle, width: float, lines: int | None, lead: str = ""
    ) -> str:
        """The text in at most so many lines; a cut text ends in an ellipsis."""
        if lines is None or len(self._lines(words, style, width, lead)) <= lines:
            return words
        # No more letters than this fit, so that a long text is not broken whole again and again.
        low, high = 0, min(len(words), int(lines * width / (NARROW * style.size)))
        while low < high:
            middle = (low + high + 1) // 2
            shown = words[:middle].rstrip() + ELLIPSIS
            fits = len(self._lines(shown, style, width, lead)) <= lines
            low, high = (middle, high) if fits else (low, middle - 1)
        return words[:low].rstrip() + ELLIPSIS

    def widest_word(self, text: str, style: TypeStyle) -> float:
        """The width in points that a line needs to keep every unbreakable part whole."""
        return max((self.width_of(word, style) for word in _kept_together(text)), default=0.0)

    def width_of(self, text: str, style: TypeStyle = BODY) -> float:
        """Width of the text on one line, in points."""
        return style.size * self._word(text, style.font).width

    def line(self, text: str, style: TypeStyle = BODY) -> Line:
        """The text on one line, however long."""
        return self._line([self._word(text, style.font)], style.size)

    def _set_lines(self, words: str, style: TypeStyle, width: float, lead: str) -> tuple[Line, ...]:
        bold = [self._word(each, BOLD) for each in lead.split()]
        pieces = [*bold, *(self._word(each, style.font) for each in _kept_together(words))]
        printed = [word for word in pieces if word.runs]
        lines = list(self._fill(printed, style.size, width))
        if len(lines) > 1 and _width(lines[-1], style.size) < SHORT * width:
            lines = self._evened(printed, style.size, width, lines)
        return tuple(self._lines_of(lines, style.size)) or (Line((), 0.0),)

    def _lines_of(self, lines: Iterable[Sequence[Word]], size: float) -> Iterator[Line]:
        left = ""
        for words in lines:
            yield self._line(words, size, left)
            left = left_open(_letters(words), left)

    def _set_word(self, text: str, font: str) -> Word:
        from_right = runs_right_to_left(text) or not ISOLATES.isdisjoint(text)
        letters = self.fonts.shaped(self._lettered(text, font))
        return self._word_of(letters, from_right=from_right)

    def _word_of(self, letters: Sequence[Run], *, from_right: bool) -> Word:
        width = sum(self.fonts.advance(*letter) for letter in letters)
        return Word(_merged(letters), width, from_right)

    def _evened(
        self, words: Sequence[Word], size: float, width: float, lines: list[list[Word]]
    ) -> list[list[Word]]:
        """The same number of lines, a little narrower, where that makes the last one longer and
        breaks no word.
        """
        fitting = [size * word.width for word in words if size * word.width <= width]
        for share in (0.96, 0.92, 0.88, 0.84, 0.8):
            if share * width < max(fitting, default=0.0):
                break
            evened = list(self._fill(words, size, share * width))
            if len(evened) > len(lines) or _width(lines[-1], size) >= SHORT * width:
                break
            lines = evened
        return lines

    def _lettered(self, text: str, font: str) -> list[Run]:
        """Each printable character with the font that draws it; white space is a space.

        A letter with a combining mark that the text face lacks is drawn, with the mark, in the
        second font.
        """
        font_of = self.fonts.font_of
        letters: list[Run] = []
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
            elif character in ISOLATES:
                letters.append((font, character))
            elif character.isprintable():
                letters.append(font_of(character, font))
        return letters

    def _fill(self, words: Iterable[Word], size: float, width: float) -> Iterator[list[Word]]:
        """The words of each line, with the spaces between them: set one after the other, a new line
        where the next would not fit."""
        line: list[Word] = []
        taken = 0.0
        for word in self._no_longer_than(words, size, width):
            space = self._space_before(word)
            needed = size * word.width + (size * space.width if line else 0)
            if line and taken + needed > width:
                yield line
                line, taken, needed = [], 0.0, size * word.width
            line += [space, word] if line else [word]
            taken += needed
        if line:
            yield line

    def _no_longer_than(self, words: Iterable[Word], size: float, width: float) -> Iterator[Word]:
        """The words, those longer than a line broken into pieces that fit one."""
        for word in words:
            if size * word.width <= width:
                yield word
            else:
                yield from self._broken(word, size, width)

    def _broken(self, word: Word, size: float, width: float) -> Iterator[Word]:
        """Pieces of a long word: up to a hyphen where there is one, and a mark never off its
        letter."""
        advance = self.fonts.advance
        piece: list[Run] = []
        taken = 0.0
        for letter in ((font, each) for font, letters in word.runs for each in letters):
            needed = advance(*letter)
            full = size * (taken + needed) > width and not unicodedata.combining(letter[1])
            if piece and full:
                hyphens = [end for end, (_, each) in enumerate(piece, start=1) if each == "-"]
                end = hyphens[-1] if hyphens else len(piece)
                part = self._word_of(piece[:end], from_right=word.from_right)
                yield replace(part, goes_on=True)
                piece = piece[end:]
                taken = sum(advance(*each) for each in piece)
            piece.append(letter)
            taken += needed
        yield self._word_of(piece, from_right=word.from_right)

    def _space_before(self, word: Word) -> Word:
        font = word.runs[0][0]
        return self._word(" ", weight_of(font) if word.from_right else font)

    def _line(self, words: Sequence[Word], size: float, left: str = "") -> Line:
        """Words and spaces on one line, in the order in which they are drawn. `left` are the marks
        of the parts kept together that the lines before left open.
        """
        runs = [run for word in words for run in word.runs]
        turned = self._from_right or any(word.from_right for word in words)
        if turned:
            runs = self._in_drawn_order(runs, left)
        width, in_word = _width(words, size), words[-1].goes_on
        return Line(_merged(runs), width, in_word, turned, self._from_right)

    def _in_drawn_order(self, runs: Iterable[Run], left: str) -> list[Run]:
        """Scripts that run from right to left turned around, within bold and regular text apart."""
        parts: list[list[Run]] = []
        for weight, run in groupby(runs, key=lambda pair: weight_of(pair[0])):
            text = left + "".join(letters for _, letters in run)
            drawn = drawn_order(text, from_right=self._from_right)
            parts.append([self.fonts.font_of(character, weight) for character in drawn])
            left = left_open(text)
        return [run for part in (reversed(parts) if self._from_right else parts) for run in part]


@cache
def leading_of(size: float) -> float:
    """Line to line, in points."""
    return round(size * LEADING, 1)


def _width(words: Iterable[Word], size: float) -> float:
    """The width of words and spaces on one line, in points."""
    return size * sum(word.width for word in words)


def _letters(words: Iterable[Word]) -> str:
    return "".join(letters for word in words for _, letters in word.runs)


def _kept_together(words: str) -> list[str]:
    """The words, each number with the unit that follows it. A no-break space parts none."""
    kept: list[str] = []
    fixed = any(space in words for space in FIXED_SPACES)
    for word in filter(None, _BREAKING_SPACE.split(words)) if fixed else words.split():
        follows_number = kept and kept[-1][-1].isdigit() and not kept[-1][0].isalpha()
        if follows_number and word.rstrip(".,;:)") in UNITS:
            kept[-1] += f" {word}"
        else:
            kept.append(word)
    return kept


def _merged(runs: Iterable[Run]) -> tuple[Run, ...]:
    """Neighbours of one font as one run."""
    by_font = groupby(runs, key=itemgetter(0))
    return tuple((font, "".join([letters for _, letters in run])) for font, run in by_font)

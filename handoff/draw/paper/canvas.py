"""A page to draw on: ReportLab's canvas with the sheets' fonts, lines of text, boxes and drawings.

Input: finished words and marks with their place in points. Output: PDF bytes, the same for the
same input. Chooses nothing.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from io import BytesIO
from typing import Any, cast

from reportlab import rl_config
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.units import mm
from reportlab.pdfgen.pathobject import PDFPathObject

from handoff.draw.paper.conform import conforming
from handoff.draw.paper.marks import has_marks, put_marked
from handoff.draw.paper.shaping import is_shaped
from handoff.draw.paper.tags import Element, TaggedCanvas
from handoff.draw.paper.typeface import (
    BODY,
    BOLD,
    FALLBACK,
    REGULAR,
    TypeStyle,
    face_of,
)
from handoff.draw.paper.typeset import BASELINE, Line, Run, Typesetter, leading_of
from handoff.model.figure import Drawing, Path
from handoff.model.frozen import Frozen
from handoff.model.verdicts import Level, Priority

MARGIN_PT = 12 * mm
PAPERS: dict[str, tuple[float, float]] = {"letter": LETTER, "a4": A4}
HAIRLINE_PT, HATCH_PT = 0.4, 5.5
MARK_PAD_PT = 7.0  # about the mark beside a level

# What a PDF calls the commands of a path.
OPERATORS = {"M": "m", "L": "l", "C": "c", "Z": "h"}

Point = tuple[float, float]
Box = tuple[float, float, float, float]  # left, bottom, width, height

# Streams as bytes, not coded as letters: a quarter smaller, and faster. ReportLab has this setting
# once for the whole process; it is the same for every run.
rl_config.useA85 = 0


class Document(Frozen):
    """A PDF to be made: `paper` is (width, height) in points. `title` is the only metadata besides
    the author, and must have nothing about a patient.
    """

    typesetter: Typesetter
    paper: tuple[float, float]
    title: str
    language: str = "en"

    @property
    def across(self) -> tuple[float, float]:
        """The paper used the long way across."""
        return max(self.paper), min(self.paper)


class Canvas(TaggedCanvas):
    """A canvas whose bytes are repeatable, whose fonts are embedded and whose content is tagged.

    `label` names the only page in a reader; without one it numbers the pages.
    """

    def __init__(
        self, document: Document, paper: tuple[float, float], label: str | None = None
    ) -> None:
        face_of(REGULAR)  # so that ReportLab knows it
        self._typesetter = document.typesetter
        self._from_right, self._page_width = False, paper[0]
        self._stream = BytesIO()
        super().__init__(self._stream, paper, REGULAR, BODY.size)
        self._document = document
        self.addPageLabel(0, style=None if label else "ARABIC", prefix=label)

    @property
    def typesetter(self) -> Typesetter:
        """Sets text in the direction of what is drawn."""
        return self._typesetter.running(from_right=self._from_right)

    @contextmanager
    def running(self, *, from_right: bool) -> Iterator[None]:
        """Draw a page that runs from right to left: its left is drawn at its right."""
        before, self._from_right = self._from_right, from_right
        yield
        self._from_right = before

    def _mirrored(self, x: float, width: float = 0) -> float:
        """Where something of this width that is put at x begins on the paper."""
        return self._page_width - x - width if self._from_right else x

    def line(self, x1: float, y1: float, x2: float, y2: float) -> None:
        """A line between two points."""
        super().line(self._mirrored(x1), y1, self._mirrored(x2), y2)

    def rect(  # noqa: PLR0913, PLR0917 - ReportLab's parameters
        self, x: float, y: float, width: float, height: float, stroke: float = 1, fill: float = 0
    ) -> None:
        """A rectangle, its lower left corner at a point."""
        super().rect(self._mirrored(x, width), y, width, height, stroke, fill)

    def finished(self) -> bytes:
        """The bytes of the document; nothing can be drawn after this."""
        made = cast("Any", self)._doc  # noqa: SLF001 - of whom fonts ask, and who numbers pages
        made.fonts = self.typesetter.fonts
        self.save()
        title, language = self._document.title, self._document.language
        numbers = made.idToObjectNumberAndVersion
        pages = [
            (numbers[f"Page{page}"][0], marks)
            for page, marks in enumerate(self.marks[:-1], start=1)
        ]
        return conforming(self._stream.getvalue(), self.root, pages, title, language)

    def bookmark(self, words: str) -> None:
        """A bookmark that leads to this page."""
        key = f"page {self.getPageNumber()}"
        self.bookmarkPage(key)
        self.addOutlineEntry(words, key)

    def put_lines(self, lines: Sequence[Line], x: float, top: float, size: float) -> None:
        """Draw lines below each other, the first one's top at `top`."""
        baseline, leading = top - BASELINE * size, leading_of(size)
        with self.paragraph():
            for line in lines:
                self._put_line(line, (self._mirrored(x, line.width), baseline), size)
                baseline -= leading

    def put_text(
        self,
        at: Point,
        text: str,
        style: TypeStyle = BODY,
        *,
        longest: float | None = None,
        align: float = 0,
    ) -> None:
        """One line of text on the baseline at a point: `align` 0 puts its left end there, 0.5 its
        middle, 1 its right end."""
        shown = text if longest is None else self.typesetter.clip(text, style, longest, 1)
        line = self.typesetter.line(shown, style)
        x, baseline = at
        left = self._mirrored(x - align * line.width, line.width)
        self._put_line(line, (left, baseline), style.size)

    def rule(self, x: float, y: float, width: float, weight: float = HAIRLINE_PT) -> None:
        """A horizontal line."""
        self.setLineWidth(weight)
        self.line(x, y, x + width, y)

    def hatch(self, box: Box) -> None:
        """Hairlines over a box: nothing is due there. What is written on them can be read."""
        left, bottom, width, height = box
        self.saveState()
        clip = self.beginPath()
        clip.rect(*box)
        self.clipPath(clip, stroke=0, fill=0)
        self.setLineWidth(HAIRLINE_PT)
        hairs, offset = self.beginPath(), -height
        while offset < width:
            hairs.moveTo(left + offset, bottom)
            hairs.lineTo(left + offset + height, bottom + height)
            offset += HATCH_PT
        self.drawPath(hairs)
        self.restoreState()

    def put_level(
        self, level: Level | Priority, words: str, box: Box, size: float, mark: str = ""
    ) -> None:
        """The priority as a word in a shape: black, heavy outline or light outline. Beside it, in
        the same box, the mark for 'told' in a light outline.
        """
        x, y, width, height = box
        part = self.typesetter.width_of(mark, TypeStyle(size, BOLD)) + MARK_PAD_PT if mark else 0.0
        escalates = level in (Level.ESCALATE, Priority.ESCALATE)
        follows = level in (Level.FOLLOW_UP, Priority.FOLLOW_UP)
        weight = 1.6 if follows else 0.5
        with self.paragraph():
            self._put_word(words, (x, y, width - part, height), size, weight, black=escalates)
            if mark:
                self.put_mark(mark, (x + width - part, y, part, height), size)

    def put_mark(self, mark: str, box: Box, size: float, *, black: bool = False) -> None:
        """The mark for 'told' in a light outline; the mark for 'not told' is white on black."""
        self._put_word(mark, box, size, 0.5, black=black)

    def put_tick_box(self, x: float, baseline: float, words: str = "") -> None:
        """An empty box to tick, beside a line of body text; `words` are what it is called aloud."""
        self.setLineWidth(0.7)
        box = (x, baseline - 1, x + 7.5, baseline + 6.5)
        with self.within(*([Element("Figure", words, box)] if words else [])):
            self.rect(x, baseline - 1, 7.5, 7.5)

    def put_drawing(self, drawing: Drawing, x: float, y: float, words: str = "") -> None:
        """The marks and words of a drawing, never mirrored, its lower left corner at (x, y).

        `words` say what it shows to who cannot see it. Without them the marks are decoration.
        """
        if self._from_right:
            with self.running(from_right=False):
                self.put_drawing(drawing, self._page_width - x - drawing.width, y, words)
            return
        if words:
            box = (x, y, x + drawing.width, y + drawing.height)
            with self.within(Element("Figure", words, box)):
                self.put_drawing(drawing, x, y)
            return
        self.saveState()
        self.translate(x, y)
        for path in drawing.paths:
            self.saveState()
            if path.clip:
                clip = self.beginPath()
                clip.rect(*path.clip)
                self.clipPath(clip, stroke=0, fill=0)
            self.setLineWidth(path.width)
            self.setDash(list(path.dash))
            if path.stroke:
                self.setStrokeGray(_grey(path.stroke))
            if path.fill:
                self.setFillGray(_grey(path.fill))
            outline = PDFPathObject(["n", *_written(path)])
            self.drawPath(
                outline, stroke=int(path.stroke is not None), fill=int(path.fill is not None)
            )
            self.restoreState()
        for text in drawing.texts:
            self.setFillGray(int(text.is_white))
            self.put_text(
                (text.x, text.y),
                text.text,
                TypeStyle(text.size, BOLD if text.bold else REGULAR),
                longest=None if text.align else drawing.width - text.x,
                align=text.align,
            )
        self.restoreState()

    def _put_line(self, line: Line, at: Point, size: float) -> None:
        """Draw one line, its left end on the baseline at a point. A space ends it, so that who
        reads letter by letter does not join its last word to the next line's first.

        What is drawn turned around is tagged with the text as it is read; the parts of a line from
        right to left are read from the right.
        """
        end = "" if line.in_word else " "
        if not line.turned or self.in_figure:
            self._put_runs(line.runs, at, size, end)
            return
        parts = [(runs, Element("Span", read=read)) for runs, read in line.parts()]
        if line.from_right:
            for _, part in reversed(parts):
                self.add(part)
        (x, baseline), advance = at, self.typesetter.fonts.advance
        for number, (runs, part) in enumerate(parts, start=1):
            ends = number == (1 if line.from_right else len(parts))
            part.read += end if part.read and ends else ""
            with self.within(*([part] if part.read or line.from_right else [])):
                self._put_runs(runs, (x, baseline), size, end if ends else "")
            x += size * sum(advance(font, letter) for font, letters in runs for letter in letters)

    def _put_runs(self, runs: Sequence[Run], at: Point, size: float, end: str) -> None:
        text, fonts = self.beginText(*at), self.typesetter.fonts
        for index, (font, part) in enumerate(runs, start=1):
            letters = part + end if index == len(runs) else part
            text.setFont(font, size)
            if font in FALLBACK and has_marks(letters):
                put_marked(text, letters, TypeStyle(size, font), fonts)
            elif is_shaped(letters):
                fonts.put_shaped(text, letters)
            else:
                fonts.put_plain(text, letters, TypeStyle(size, font))
        self.drawText(text)

    def _put_word(
        self, word: str, box: Box, size: float, weight: float, *, black: bool = False
    ) -> None:
        """A word in a box, white on black or in an outline."""
        x, y, width, height = box
        inset = weight / 2
        self.saveState()
        self.setLineWidth(weight)
        self.rect(x + inset, y + inset, width - 2 * inset, height - 2 * inset, fill=int(black))
        self.setFillGray(1 if black else 0)
        middle = x + width / 2, y + height / 2 - size * 0.34
        self.put_text(middle, word, TypeStyle(size, BOLD), align=0.5)
        self.restoreState()


def _written(path: Path) -> Iterator[str]:
    """The commands of a path as a PDF has them, to the hundredth of a point, at each of its places.
    Of a mark most numbers come several times: each is written once a place.
    """
    numbers: dict[tuple[float, int], int] = {}  # with 0 across or 1 up: its number in the form
    form = " ".join(
        "".join(
            f"{{{numbers.setdefault((number, index % 2), len(numbers))}}} "
            for index, number in enumerate(given)
        )
        + OPERATORS[command]
        for command, *given in path.commands
    )
    for place in path.places:
        moved = [f"{number + place[axis]:z.2f}" for number, axis in numbers]
        yield form.format(*[number.strip("0").rstrip(".") or "0" for number in moved])


def _grey(color: tuple[float, float, float]) -> float:
    """The tone of a grey. The sheets have no colour: their profile has none."""
    tone, *others = color
    if any(other != tone for other in others):
        raise ValueError(f"{color} is a colour, and the sheets are printed in grey")
    return round(tone, 3)

"""The review of a unit's weeks: two or three pages, two figures beside each other.

Input: a `ReviewPage` and the function that draws its figures. Output: PDF bytes.
"""

from collections.abc import Callable, Iterator, Mapping

from handoff.draw.paper.blocks import (
    HEADING_PT,
    Block,
    Layout,
    again,
    broken,
    heading,
    put_in,
    roled,
    space,
    stack,
)
from handoff.draw.paper.canvas import MARGIN_PT, Canvas, Document
from handoff.draw.paper.tags import ARTIFACT, Element
from handoff.draw.paper.typeface import BODY_BOLD, BOLD, NAME_BOLD, SMALL, TypeStyle
from handoff.draw.paper.typeset import BASELINE
from handoff.model.figure import BegunCurve, Drawing, HeatMap, ReviewChart, WeeksChart
from handoff.model.pages import Fact, ReviewFigure, ReviewList, ReviewPage, ReviewSection

ReviewDrawer = Callable[[ReviewChart, float, float], Drawing]

HEADER_PT, GUTTER_PT, GAP_PT = 36.0, 20.0, 8.0
HEIGHTS_PT: Mapping[type[ReviewChart], float] = {BegunCurve: 124, WeeksChart: 96, HeatMap: 132}
COLUMNS = 2
LABEL_SHARE = 0.46  # of a list's width: its labels
SECTION = TypeStyle(11.0, BOLD)


def draw_review(page: ReviewPage, document: Document, draw_chart: ReviewDrawer) -> bytes:
    """The review as PDF bytes, on as many pages as it takes."""
    width, height = (length - 2 * MARGIN_PT for length in document.paper)
    canvas = Canvas(document, document.paper)
    layout = _Review(document.typesetter, page, width, draw_chart)
    foot = layout.text(page.standing, width, SMALL)
    room = height - HEADER_PT - foot.height - GAP_PT
    sheets = broken([*layout.blocks()], room, GAP_PT)
    for number, blocks in enumerate(sheets, start=1):
        number_words = put_in(page.page_words, number=number, all=len(sheets))
        with canvas.within(*([ARTIFACT] if number > 1 else [])):  # read aloud once
            _draw_header(canvas, page, document.paper, number_words)
        top = document.paper[1] - MARGIN_PT - HEADER_PT
        stack(blocks, GAP_PT).draw(canvas, MARGIN_PT, top)
        last = number == len(sheets)
        (foot if last else again(foot)).draw(canvas, MARGIN_PT, MARGIN_PT + foot.height)
        canvas.showPage()
    return canvas.finished()


def _draw_header(canvas: Canvas, page: ReviewPage, paper: tuple[float, float], number: str) -> None:
    top, right = paper[1] - MARGIN_PT, paper[0] - MARGIN_PT
    with canvas.within(Element("H1")):
        canvas.put_text((MARGIN_PT, top - 13), page.unit, NAME_BOLD, longest=paper[0] * 0.6)
    canvas.put_text((MARGIN_PT, top - 25), page.title, BODY_BOLD)
    canvas.put_text((right, top - 13), number, align=1)
    canvas.put_text((right, top - 25), page.period, align=1)
    canvas.rule(MARGIN_PT, top - 29, right - MARGIN_PT, 1.2)


def _title(words: str, width: float) -> Block:
    """The title of a list or a figure, under that of its section."""

    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.put_text((x, top - 9.5), words, BODY_BOLD, longest=width)

    return roled(Block(HEADING_PT, draw), "H3")


class _Review(Layout):
    """The blocks of a review, of a given width."""

    page: ReviewPage
    width: float
    draw_chart: ReviewDrawer

    def blocks(self) -> Iterator[Block]:
        """All that the pages hold between header and foot, in order; none is broken."""
        behind = [self.text(each, self.width, SMALL) for each in self.page.behind]
        in_short = [
            self.text(each.value, self.width, lead=each.label) for each in self.page.in_short.facts
        ]
        title = heading(self.page.in_short.title, self.width)
        yield stack([*behind, space(6), title, stack(in_short, 2)])
        for section in self.page.sections:
            yield from self._section(section)

    def _section(self, section: ReviewSection) -> Iterator[Block]:
        """Its title with the first row of cells, then a block for each further row."""
        rows = [*self._rows(section)]
        yield stack([self._section_title(section.title), rows[0]])
        yield from rows[1:]

    def _section_title(self, words: str) -> Block:
        def draw(canvas: Canvas, x: float, top: float) -> None:
            canvas.put_text((x, top - BASELINE * SECTION.size), words, SECTION)
            canvas.rule(x, top - 15, self.width, 0.6)

        return roled(Block(20, draw), "H2")

    def _rows(self, section: ReviewSection) -> Iterator[Block]:
        half = (self.width - GUTTER_PT) / 2
        beside: list[Block] = []
        for cell in section.cells:
            if isinstance(cell, ReviewList):
                beside.append(self._list(cell, half))
            elif cell.is_wide:
                yield self._figure(cell, self.width)
            else:
                beside.append(self._figure(cell, half))
            if len(beside) == COLUMNS:
                yield self._beside(beside)
                beside = []
        if beside:
            yield self._beside(beside)

    def _beside(self, blocks: list[Block]) -> Block:
        step = (self.width + GUTTER_PT) / 2

        def draw(canvas: Canvas, x: float, top: float) -> None:
            for number, block in enumerate(blocks):
                block.draw(canvas, x + number * step, top)

        return Block(max(block.height for block in blocks), draw)

    def _list(self, cell: ReviewList, width: float) -> Block:
        """Facts below each other; under a title they are sentences."""
        if not cell.title:
            return roled(stack([self._fact_line(each, width) for each in cell.facts], 3), "L")
        lines = [self.text(each.value, width, lead=each.label) for each in cell.facts]
        return stack([_title(cell.title, width), *lines], 3)

    def _fact_line(self, fact: Fact, width: float) -> Block:
        label_width = width * LABEL_SHARE
        label = roled(self.text(fact.label, label_width - 6), "Lbl")
        value = roled(self.text(fact.value, width - label_width, BODY_BOLD), "LBody")

        def draw(canvas: Canvas, x: float, top: float) -> None:
            label.draw(canvas, x, top)
            value.draw(canvas, x + label_width, top)

        return roled(Block(max(label.height, value.height), draw), "LI")

    def _figure(self, figure: ReviewFigure, width: float) -> Block:
        """Its title, the drawing, and what it bears."""
        title, says = _title(figure.title, width), self.text(figure.says, width, SMALL)
        if figure.chart is None:
            return stack([title, says])
        height = HEIGHTS_PT[type(figure.chart)]
        drawing = self.draw_chart(figure.chart, width, height)

        def draw(canvas: Canvas, x: float, top: float) -> None:
            canvas.put_drawing(drawing, x, top - height, figure.alt)

        return stack([title, Block(height, draw), space(2), says])

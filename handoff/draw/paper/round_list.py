"""The round list: landscape, a row a patient with a box for each hour, broken between rows only.

Input: a `RoundPage`. Output: PDF bytes. Fifteen rows are wanted on a page: where there are more
pages than that takes, the order's lines are put together if that spares a page. Nothing is cut.
"""

from collections.abc import Sequence
from itertools import pairwise
from math import ceil

from handoff.draw.paper.blocks import Block, Layout, again, roled, space, stack, tagged
from handoff.draw.paper.canvas import MARGIN_PT, Canvas, Document
from handoff.draw.paper.tags import COLUMN_HEAD, ROW_HEAD, Element
from handoff.draw.paper.typeface import BODY_BOLD, NAME_BOLD, SMALL, SMALL_BOLD, TypeStyle
from handoff.draw.paper.unit import HEADER_PT, Piece, draw_header, paginate
from handoff.model.lists import RoundBox, RoundPage, RoundRow

ROWS_WANTED = 15  # on a page
BED_PT, GUTTER_PT = 41.0, 5.0
WHO, ORDER = 0.24, 0.435  # shares of the width of the words beside the bed; the rest is to see to
BOX_PT, LEAST_BOX_PT = 23.0, 14.0  # the width of an hour, of many hours
BOXES = 0.4  # of the page, at most
LEAST_ROW_PT, PAD_PT = 25.0, 1.0
JOIN, STOP = "; ", ". "  # of the order's lines, of what is to be seen to


def draw_round_list(page: RoundPage, document: Document) -> bytes:
    """The list as PDF bytes, on the paper the long way across."""
    width, top = document.across[0] - 2 * MARGIN_PT, document.across[1] - MARGIN_PT
    canvas = Canvas(document, document.across)
    layout = RoundLayout(document.typesetter, page, width)
    foot = layout.foot()
    sheets = layout.sheets(top - HEADER_PT - foot.height - MARGIN_PT)
    for number, blocks in enumerate(sheets, start=1):
        head = (page.title, page.shift, page.as_of)
        draw_header(canvas, head, document.across, page.page_words, (number, len(sheets)))
        titles, *rows = blocks
        stack([titles if number == 1 else again(titles), *rows]).draw(
            canvas, MARGIN_PT, top - HEADER_PT
        )
        last = foot if number == len(sheets) else again(foot)
        last.draw(canvas, MARGIN_PT, MARGIN_PT + foot.height)
        canvas.showPage()
    return canvas.finished()


class RoundLayout(Layout):
    """The blocks of the list, of a given width."""

    page: RoundPage
    width: float

    def sheets(self, height: float) -> list[list[Block]]:
        """The blocks page by page, the order's lines below each other where that takes no page
        more.
        """
        table = Element("Table")
        titles = tagged(self._titles(), table)

        def broken(*, apart: bool) -> list[list[Block]]:
            rows = (self.row(row, apart=apart) for row in self.page.rows)
            pieces = [Piece(tagged(row, table), titles) for row in rows]
            return paginate(pieces or [Piece(self._nobody())], height)

        whole = broken(apart=True)
        if len(whole) <= ceil(len(self.page.rows) / ROWS_WANTED):
            return whole
        return min(whole, broken(apart=False), key=len)

    def foot(self) -> Block:
        """When to fetch the nurse, what the boxes mean, and the fixed words, under a line."""
        page, width = self.page, self.width
        line = Block(3, lambda canvas, x, top: canvas.rule(x, top, width, 0.8))
        fetch = self.text(page.fetch.value, width, lead=page.fetch.label)
        small = [self.text(each, width, SMALL) for each in (page.key, *page.standing)]
        return stack([line, fetch, *small])

    def row(self, row: RoundRow, *, apart: bool) -> Block:
        """Bed, patient, order, and below them what is heavy; what to see to; all the boxes. The
        order's lines stand below each other or, where not `apart`, after each other. What is heavy
        has the width of the patient alone where that takes less height.
        """
        bed = self._bed(row.bed)
        (who_left, who_width), (order_left, order), (watch_left, watch) = self._columns()
        lines = row.order if apart else (JOIN.join(row.order),)
        asked = self.text(STOP.join(row.watch), watch, SMALL)
        who = stack([self._line(row.name, who_width, BODY_BOLD), self._line(row.id, who_width)])
        orders = stack([self._line(line, order) for line in lines])
        placed = [
            (below, self._line(row.heavy, width, SMALL_BOLD) if row.heavy else space(0))
            for below, width in (
                (max(who.height, orders.height), watch_left - BED_PT - GUTTER_PT),
                (who.height, who_width),
            )
        ]
        below, heavy = min(placed, key=lambda each: max(each[0] + each[1].height, orders.height))
        words_height = max(below + heavy.height, orders.height, asked.height)
        inner = max(words_height, bed.height, LEAST_ROW_PT - 2 * PAD_PT)
        height = inner + 2 * PAD_PT

        def draw(canvas: Canvas, x: float, top: float) -> None:
            roled(bed, ROW_HEAD).draw(canvas, x, top - PAD_PT)
            with canvas.within(Element("TD")):  # what is heavy is read after who it is
                who.draw(canvas, x + who_left, top - PAD_PT)
                heavy.draw(canvas, x + BED_PT, top - PAD_PT - below)
            roled(orders, "TD").draw(canvas, x + order_left, top - PAD_PT)
            roled(asked, "TD").draw(canvas, x + watch_left, top - PAD_PT)
            self._boxes(canvas, row.boxes, (x + self.boxes_left, top - height, height))
            canvas.rule(x, top - height, self.boxes_left)

        return roled(Block(height, draw), "TR")

    def _line(self, words: str, width: float, style: TypeStyle = SMALL) -> Block:
        return roled(self.text(words, width, style), "P")

    def _bed(self, bed: str) -> Block:
        width = BED_PT - GUTTER_PT
        fits = self.typesetter.width_of(bed, NAME_BOLD) <= width
        return self.text(bed, width, NAME_BOLD if fits else SMALL_BOLD)

    @property
    def box_width(self) -> float:
        """The width of an hour: many hours share a part of the page."""
        count = max(len(self.page.hours), 1)
        return max(min(BOX_PT, BOXES * self.width / count), LEAST_BOX_PT)

    @property
    def boxes_left(self) -> float:
        """Where the boxes begin."""
        return self.width - self.box_width * len(self.page.hours)

    def _columns(self) -> Sequence[tuple[float, float]]:
        """(left, width) of the columns of words beside the bed."""
        words = self.boxes_left - BED_PT
        ends = (0.0, WHO * words, (WHO + ORDER) * words, words)
        return [(BED_PT + left, right - left - GUTTER_PT) for left, right in pairwise(ends)]

    def _titles(self) -> Block:
        columns = [(0.0, BED_PT - GUTTER_PT), *self._columns()]
        titles = [
            (self.text(title, width, SMALL_BOLD), left)
            for title, (left, width) in zip(self.page.columns, columns, strict=True)
        ]
        hours = self._hours()
        height = max(block.height for block, _ in (*titles, *hours)) + 4

        def draw(canvas: Canvas, x: float, top: float) -> None:
            for block, left in (*titles, *hours):
                title = roled(block, COLUMN_HEAD)
                title.draw(canvas, x + left, top - height + block.height + 2)
            canvas.rule(x, top - height, self.width, 0.9)

        return roled(Block(height, draw), "TR")

    def _hours(self) -> list[tuple[Block, float]]:
        """The start of each hour above its box, and its left; of many hours every other one."""
        widest = max(self.typesetter.widest_word(each, SMALL_BOLD) for each in self.page.hours)
        step = ceil(widest / self.box_width)
        return [
            (
                self.text("" if number % step else hour, step * self.box_width, SMALL_BOLD),
                self.boxes_left + number * self.box_width,
            )
            for number, hour in enumerate(self.page.hours)
        ]

    def _nobody(self) -> Block:
        return self.text(self.page.empty, self.width)

    def _boxes(
        self, canvas: Canvas, boxes: Sequence[RoundBox], place: tuple[float, float, float]
    ) -> None:
        """The boxes of one row side by side, a cell each; hatched ones next to each other are one
        picture, in the cell of the first.
        """
        left, bottom, height = place
        width, count = self.box_width, len(boxes)
        ends = [number for number, box in enumerate(boxes) if box.open or box.hatched] + [count]
        canvas.saveState()
        canvas.setLineWidth(0.6)
        for number, box in enumerate(boxes):
            with canvas.within(Element("TD")):
                if box.hatched:
                    x, end = left + number * width, next(each for each in ends if each > number)
                    area = (x, bottom, x + (end - number) * width, bottom + height)
                    with canvas.within(Element("Figure", box.hatched, area)):
                        canvas.hatch((x, bottom, (end - number) * width, height))
        canvas.rect(left, bottom, count * width, height)
        for number, (before, box) in enumerate(pairwise(boxes), start=1):
            if box.begins or box.open != before.open:
                x = left + number * width
                canvas.line(x, bottom, x, bottom + height)
        canvas.restoreState()

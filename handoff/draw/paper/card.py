"""The card on the patient's table: one page in large print, with drawings.

Input: a `CardPage`. Output: a PDF. The text is `LARGEST_PT`; where words or a name are longer than
the page, all of it is set smaller, down to `SMALLEST_PT`. A unit's words longer than that continue
on another page and are never cut.
"""

from collections.abc import Sequence

from msgspec.structs import replace

from handoff.draw.chart import spread
from handoff.draw.paper.blocks import Block, Layout, broken, roled, stack
from handoff.draw.paper.canvas import MARGIN_PT, Box, Canvas, Document, Point
from handoff.draw.paper.little_figures import draw_step
from handoff.draw.paper.tags import COLUMN_HEAD, Element
from handoff.draw.paper.typeface import BOLD, TypeStyle
from handoff.draw.paper.typeset import BASELINE
from handoff.model.figure import Drawing
from handoff.model.pages import CardPage, ColumnMark, Fact, ScaleColumn, TickBoxes

LARGEST_PT, SMALLEST_PT, SIZE_STEP_PT = 18.0, 12.0, 0.5
FOR_STAFF = TypeStyle(10.0)
TITLE_SHARE = 1.4  # of the size of the text
LEAST_GAP_PT, MOST_GAP_PT = 6.0, 16.0
GUTTER_PT, BOX_PAD_PT, BEST_GRAY = 16.0, 8.0, 0.75
STEPS = ("sit", "lips", "in", "hold", "rest")
FIGURE_SHARE = 3.0  # width of a step's drawing, in sizes of the text
COLUMN_PT, LEAST_COLUMN_PT = 34.0, 170.0  # width of the drawn column, and its least height
TICK_PT, POINTER_PT = 5.0, 20.0
DAY_CELL_SHARE = 1.9  # height of a cell to write in, in sizes


def draw_card(page: CardPage, document: Document, beside: CardPage | None = None) -> bytes:
    """The card as PDF bytes; one page, unless a unit's own words are longer than any page. `beside`
    is the same card in another language: it follows, of the same size.
    """
    canvas = Canvas(document, document.paper)
    width, height = (length - 2 * MARGIN_PT for length in document.paper)
    pages = [page] if beside is None else [page, beside]

    def laid_out(size: float) -> list[Sequence[Block]]:
        typesetter = document.typesetter
        return [
            _Card(typesetter.running(from_right=each.language.right_to_left), width, size).blocks(
                each
            )
            for each in pages
        ]

    size = LARGEST_PT
    cards = laid_out(size)
    while size > SMALLEST_PT and max(map(_height, cards)) > height:
        size -= SIZE_STEP_PT
        cards = laid_out(size)
    for each, card in zip(pages, cards, strict=True):
        with canvas.running(from_right=each.language.right_to_left):
            for blocks in broken(card, height, LEAST_GAP_PT):
                free = height - sum(block.height for block in blocks)
                gap = min(max(free / max(len(blocks) - 1, 1), LEAST_GAP_PT), MOST_GAP_PT)
                stack(blocks, gap).draw(canvas, MARGIN_PT, document.paper[1] - MARGIN_PT)
                canvas.showPage()
    return canvas.finished()


def _height(blocks: Sequence[Block]) -> float:
    return sum(block.height + LEAST_GAP_PT for block in blocks)


def _marks(column: ScaleColumn) -> list[ColumnMark]:
    return [each for each in (column.goal, column.best) if each]


def _beside(drawing: Drawing, text: Block, indent: float) -> Block:
    """A drawing and the text beside it, both around the same middle."""
    height = max(drawing.height, text.height)

    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.saveState()
        canvas.setLineCap(1)
        canvas.setLineJoin(1)
        canvas.put_drawing(drawing, x, top - (height + drawing.height) / 2)
        canvas.restoreState()
        text.draw(canvas, x + indent, top - (height - text.height) / 2)

    return Block(height, draw)


class _Card(Layout):
    """The blocks of a card of a given width and size of text."""

    width: float
    size: float

    @property
    def _plain(self) -> TypeStyle:
        return TypeStyle(self.size)

    @property
    def _bold(self) -> TypeStyle:
        return TypeStyle(self.size, BOLD)

    def blocks(self, page: CardPage) -> Sequence[Block]:
        """The parts of the card from the top to the foot."""
        return [
            self._head(page),
            *([self._boxed(Fact("", page.wait), 2.4)] if page.wait else []),
            self._how(page),
            self.text(page.progress, self.width, self._bold),
            *(self._turns(each) for each in page.turns),
            self._boxed(page.stop, 2.4),
            *([self._days(page)] if page.days else []),
            self._foot(page),
        ]

    def _foot(self, page: CardPage) -> Block:
        """The fixed words; then what is known of the translation, for patient and staff."""
        language = page.language
        large = [page.foot, *filter(None, [language.warning])]
        for_staff = [self.text(each, self.width, FOR_STAFF) for each in language.for_staff]
        return stack([*(self.text(each, self.width, self._plain) for each in large), *for_staff], 2)

    def _head(self, page: CardPage) -> Block:
        """Whose card it is, over the title."""
        bed_width = min(self.typesetter.width_of(page.bed, self._bold), self.width / 3)
        name = self.text(page.name, self.width - bed_width - GUTTER_PT, self._bold)
        bed = self.text(page.bed, bed_width + 1, self._bold)
        height = max(name.height, bed.height)

        def draw(canvas: Canvas, x: float, top: float) -> None:
            name.draw(canvas, x, top)
            bed.draw(canvas, x + self.width - bed_width, top)
            canvas.rule(x, top - height - 3, self.width, 1.2)

        title = self.text(page.title, self.width, TypeStyle(self.size * TITLE_SHARE, BOLD))
        return stack([Block(height + 6, draw), roled(title, "H1")], gap=2)

    def _boxed(self, fact: Fact, weight: float) -> Block:
        """Words in a heavy outline, the first of them in bold."""
        style = self._plain if fact.label else self._bold
        text = self.text(fact.value, self.width - 2 * BOX_PAD_PT, style, lead=fact.label)
        height = text.height + 2 * BOX_PAD_PT

        def draw(canvas: Canvas, x: float, top: float) -> None:
            canvas.setLineWidth(weight)
            canvas.rect(x, top - height, self.width, height)
            text.draw(canvas, x + BOX_PAD_PT, top - BOX_PAD_PT)

        return Block(height, draw)

    def _how(self, page: CardPage) -> Block:
        """The column on the left, the steps beside it."""
        if page.column is None:
            return self._steps(page, self.width)
        left = self._numbers_width(page.column) + COLUMN_PT + POINTER_PT
        left += self._names_width(page.column) + GUTTER_PT
        steps = self._steps(page, self.width - left)
        column = self._column(page.column, max(steps.height, LEAST_COLUMN_PT))

        def draw(canvas: Canvas, x: float, top: float) -> None:
            column.draw(canvas, x, top)
            steps.draw(canvas, x + left, top)

        return Block(column.height, draw)

    def _steps(self, page: CardPage, width: float) -> Block:
        """A drawing and a sentence for each step."""
        figure = self.size * FIGURE_SHARE
        parts = []
        names = ("upright", *STEPS[1:]) if page.position_shown else STEPS
        for name, words in zip(names, page.steps, strict=False):
            text = roled(self.text(words, width - figure - 8, self._plain), "LI", "LBody")
            parts.append(_beside(draw_step(name, figure), text, figure + 8))
        return roled(stack(parts, gap=4), "L") if parts else stack([])

    def _numbers_width(self, column: ScaleColumn) -> float:
        numbers = column.numbers
        widest = max(
            (self.typesetter.width_of(each, self._plain) for _, each in numbers), default=0
        )
        return widest + TICK_PT + 4 if numbers else 0.0

    def _names_width(self, column: ScaleColumn) -> float:
        words = [words for mark in _marks(column) for words in (mark.label, mark.value)]
        widest = max((self.typesetter.width_of(each, self._bold) for each in words), default=0.0)
        return min(widest, self.width / 4)

    def _column(self, column: ScaleColumn, height: float) -> Block:
        """The column with its numbers on the left, and its marks on the right."""
        left = self._numbers_width(column)
        half = self.size / 2
        rise = height - 2 * half
        if column.goal and column.goal.over:
            rise -= self.size
        marks = _marks(column)
        wanted = [half + mark.share * rise for mark in marks]
        places = spread(wanted, 2.3 * self.size, self.size, height - self.size)

        def draw(canvas: Canvas, x: float, top: float) -> None:
            foot = top - height + half
            box = x + left, foot, COLUMN_PT, rise
            around = x, top - height, x + left + COLUMN_PT + self._names_width(column), top
            with canvas.within(Element("Figure", column.alt, around)):
                self._draw_scale(canvas, column, box)
                for mark, at, place in zip(marks, wanted, places, strict=True):
                    middle = x + left + COLUMN_PT, top - height + at
                    self._draw_mark(canvas, mark, middle, top - height + place)

        return Block(height, draw)

    def _draw_scale(self, canvas: Canvas, column: ScaleColumn, box: Box) -> None:
        """The column with its numbers, filled up to the best, and a heavy line at the goal."""
        left, foot, width, rise = box
        if column.best:
            canvas.saveState()
            canvas.setFillGray(BEST_GRAY)
            canvas.rect(left, foot, width, column.best.share * rise, fill=1)
            canvas.restoreState()
        right, top = left + width, foot + rise
        canvas.setLineWidth(1.6)
        for side in ((left, top, left, foot), (left, foot, right, foot), (right, foot, right, top)):
            canvas.line(*side)
        if column.numbers:
            canvas.line(left, top, right, top)
        for share, number in column.numbers:
            y = foot + share * rise
            canvas.rule(left - TICK_PT, y, TICK_PT, 1.0)
            at = left - TICK_PT - 4, y - 0.34 * self.size
            canvas.put_text(at, number, self._plain, align=1)
        if column.goal:
            canvas.rule(left - TICK_PT, foot + column.goal.share * rise, width + TICK_PT, 3.0)

    def _draw_mark(self, canvas: Canvas, mark: ColumnMark, at: Point, middle: float) -> None:
        """A pointer to a height of the column, and its two lines of words around `middle`."""
        x, y = at
        tip, ends = (x + 1, y), ((x + 9, y + 5), (x + 9, y - 5))
        if mark.over:  # an arrow up: it is higher than the column
            tip = x - COLUMN_PT / 2, y + 16
            ends = (tip[0] - 7, y + 5), (tip[0] + 7, y + 5)
        canvas.setLineWidth(2.2)
        for end in ends:
            canvas.line(*tip, *end)
        canvas.setLineWidth(0.8)
        canvas.line(x + 9, y, x + POINTER_PT, middle)
        left, baseline = x + POINTER_PT + 3, middle + (1.1 - BASELINE) * self.size
        canvas.put_text((left, baseline), mark.label, self._plain)
        canvas.put_text((left, baseline - 1.1 * self.size), mark.value, self._bold)

    def _turns(self, turns: TickBoxes) -> Block:
        """How much, and a box for each time, its hour above it."""
        words = self.text(turns.words, self.width, self._bold)
        if not turns.days:
            return words
        side = self.size * 1.35
        labels = [label for _, of_day in turns.days for label in of_day]
        widest = max(self.typesetter.width_of(label, self._plain) for label in labels)
        cell = max(side, widest) + 7
        placed: list[tuple[int, float, str, bool]] = []  # row, left, words, whether it is a box
        row, left = 0, 0.0
        for day, of_day in turns.days:
            day_width = self.typesetter.width_of(day, self._bold) + 6
            left += 10 if left else 0
            if left and left + day_width + cell > self.width:
                row, left = row + 1, 0.0
            placed.append((row, left, day, False))
            left += day_width
            for label in of_day:
                if left + cell > self.width:
                    row, left = row + 1, 0.0
                placed.append((row, left, label, True))
                left += cell
        row_height = self.size * 1.15 + side + 5
        height = (row + 1) * row_height

        def draw(canvas: Canvas, x: float, top: float) -> None:
            around = x, top - height, x + self.width, top
            with canvas.within(Element("Figure", turns.alt, around)):
                for number, at, text, is_box in placed:
                    row_top = top - number * row_height
                    if is_box:
                        self._draw_box(canvas, (x + at, row_top), text, (cell, side))
                        continue
                    middle = row_top - self.size * 1.15 - side / 2 - 0.34 * self.size
                    canvas.put_text((x + at, middle), text, self._bold)

        return stack([words, Block(height, draw)], gap=2)

    def _draw_box(self, canvas: Canvas, at: Point, label: str, size: tuple[float, float]) -> None:
        """A box to tick with its label above it, in the middle of a cell."""
        (left, top), (cell, side) = at, size
        middle = left + cell / 2, top - BASELINE * self.size
        canvas.put_text(middle, label, self._plain, align=0.5)
        canvas.setLineWidth(1.2)
        canvas.rect(left + (cell - side) / 2, top - self.size * 1.15 - side, side, side)

    def _fitting(self, texts: Sequence[str], style: TypeStyle, width: float) -> TypeStyle:
        """The style, smaller where a word is wider than its column: no word is broken."""
        widest = max(self.typesetter.widest_word(text, style) for text in texts)
        if widest <= width:
            return style
        return replace(style, size=style.size * width / widest // SIZE_STEP_PT * SIZE_STEP_PT)

    def _days(self, page: CardPage) -> Block:
        """A column a day: its best, or room to write it."""
        cell = self.width / len(page.days)
        head_style = self._fitting([day.label for day in page.days], self._plain, cell - 8)
        value_style = self._fitting([day.value for day in page.days], self._bold, cell - 8)
        heads = [self.text(day.label, cell - 8, head_style) for day in page.days]
        values = [self.text(day.value, cell - 8, value_style) for day in page.days]
        head = max(each.height for each in heads)
        room = max(self.size * DAY_CELL_SHARE, *(each.height + 6 for each in values))
        height = head + room + 6

        def draw(canvas: Canvas, x: float, top: float) -> None:
            canvas.setLineWidth(1.0)
            for number in range(len(page.days)):
                canvas.rect(x + number * cell, top - height, cell, height)
            canvas.rule(x, top - head - 4, self.width, 0.6)
            for role, blocks, drop in ((COLUMN_HEAD, heads, 2), ("TD", values, head + 4)):
                with canvas.within(Element("TR")):
                    for number, block in enumerate(blocks):
                        with canvas.within(Element(role)):
                            block.draw(canvas, x + number * cell + 4, top - drop)

        title = roled(self.text(page.days_title, self.width, self._bold), "H2")
        return stack([title, roled(Block(height, draw), "Table")], gap=2)

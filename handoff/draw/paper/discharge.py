"""The page to take home, both sides of one leaf, and the log to fill in on a leaf of its own.

Input: a `DischargePage`. Output: a PDF in large print: nothing is smaller than `SIZE_PT`. Text too
long for a side, such as a very long name or a unit's own words, continues on the next and is never
cut.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import chain

from handoff.draw.paper.blocks import Block, Layout, again, broken, roled, stack
from handoff.draw.paper.canvas import MARGIN_PT, Canvas, Document
from handoff.draw.paper.tags import COLUMN_HEAD, ROW_HEAD, Element
from handoff.draw.paper.typeface import BOLD, TypeStyle
from handoff.draw.paper.typeset import BASELINE, leading_of
from handoff.model.pages import Advice, DayBar, DischargePage, Fact, HomeLog

SIZE_PT = 16.0
TITLE_SHARE, HEADING_SHARE = 1.5, 1.15  # of the size of the text
LEAST_GAP_PT, LOG_GAP_PT, MOST_GAP_PT = 3.0, 7.0, 14.0
GUTTER_PT, BOX_PAD_PT, TO_WRITE_PT = 18.0, 7.0, 130.0
LEAST_ROW_PT, MOST_ROW_PT = 28.0, 64.0
# Shares of the log's width: date, three times of day, best, dizzy.
LOG_SHARES = (0.2, 0.165, 0.165, 0.165, 0.145, 0.16)
LINES_FOR_QUESTIONS = 2
BAR_GRAY = 0.35


def draw_discharge(page: DischargePage, document: Document) -> bytes:
    """The page to take home, and the log where there is one, as PDF bytes."""
    canvas = Canvas(document, document.paper)
    width, height = (length - 2 * MARGIN_PT for length in document.paper)
    part = _Part(document.typesetter, width)
    identity = part.identity(page)
    room = height - identity.height - LEAST_GAP_PT
    log = broken(part.log(page.log, room), room, LEAST_GAP_PT) if page.log else []
    for number, blocks in enumerate([*_leaf(part.exercise(page), part.dangers(page), room), *log]):
        free = (room - sum(block.height for block in blocks)) / len(blocks)
        gap = min(max(free, LEAST_GAP_PT), MOST_GAP_PT)
        top = again(identity) if number else identity
        stack([top, *blocks], gap).draw(canvas, MARGIN_PT, document.paper[1] - MARGIN_PT)
        canvas.showPage()
    return canvas.finished()


def _leaf(front: Sequence[Block], back: Sequence[Block], height: float) -> list[Sequence[Block]]:
    """Both sides; what does not fit on the front is above what stands on the back."""
    first, *over = broken(front, height, LEAST_GAP_PT)
    return [first, *broken([*chain(*over), *back], height, LEAST_GAP_PT)]


@dataclass(frozen=True)
class _Part(Layout):
    """The blocks of a part of the page, of a given width."""

    width: float
    size: float = SIZE_PT

    @property
    def _plain(self) -> TypeStyle:
        return TypeStyle(self.size)

    @property
    def _bold(self) -> TypeStyle:
        return TypeStyle(self.size, BOLD)

    def identity(self, page: DischargePage) -> Block:
        """The two identifiers over a line, the same on both sides."""
        line = Block(5, lambda canvas, x, top: canvas.rule(x, top - 5, self.width, 1.2))
        return stack([*(self._led(fact) for fact in page.identity), line])

    def exercise(self, page: DischargePage) -> Sequence[Block]:
        """How to go on with the exercise."""
        numbers = [f"{number}." for number, _ in enumerate(page.steps.lines, start=1)]
        return [
            self._title(page.title),
            self._led(page.purpose),
            self.advice_list(page.steps, numbers),
            self.advice_list(page.amount, "•" * len(page.amount.lines)),
            self.bests(page),
        ]

    def dangers(self, page: DischargePage) -> Sequence[Block]:
        """What to do when something is wrong, and when to call whom."""
        half = _Part(self.typesetter, (self.width - GUTTER_PT) / 2)
        return [
            *(self._led(fact) for fact in page.feelings),
            half.boxes([(page.call, 0.8), (page.emergency, 2.4)]),
            self._whom_to_call(page.unit),
            self._led(page.nobody_answers),
            self._led(page.device),
            self.text(page.standing, self.width, self._plain),
        ]

    def log(self, log: HomeLog, height: float) -> Sequence[Block]:
        """The log to fill in, its table as high as it may be."""
        above = [self._title(log.title), self._led(log.amount)]
        above.append(self.text(log.how, self.width, self._plain))
        below = [self._led(log.bring), self._questions(log.questions)]
        taken = sum(block.height + LOG_GAP_PT for block in (*above, *below))
        return [*above, self._table(log, height - taken - LOG_GAP_PT), *below]

    def advice_list(self, advice: Advice, marks: Sequence[str]) -> Block:
        """A heading, and a line for each sentence with its number or dot."""
        pairs = zip(marks, advice.lines, strict=True)
        lines = [self._item(mark, line, self.width) for mark, line in pairs]
        return stack([self._heading(advice.title), roled(stack(lines, gap=1), "L")], gap=1)

    def bests(self, page: DischargePage) -> Block:
        """A bar a day, its number at the end."""
        bars, width_of = page.bests, self.typesetter.width_of
        title = self._heading(page.bests_title)
        if not bars:
            return stack([title, self.text(page.no_bests, self.width, self._plain)])
        days = max(width_of(bar.day, self._plain) for bar in bars) + 6
        values = max(width_of(bar.value, self._bold) for bar in bars) + 6
        longest = max(self.width - days - values, 0)
        drawn = stack([self._bar(bar, days, longest) for bar in bars], gap=1)
        return stack([title, roled(drawn, "L")], gap=1)

    def boxes(self, advices: Sequence[tuple[Advice, float]]) -> Block:
        """Advice side by side, each in an outline of its weight; the heavier, the more urgent."""
        inner, boxes = self.width - 2 * BOX_PAD_PT, []
        for advice, weight in advices:
            title = roled(self.text(advice.title, inner, self._bold), "H2")
            lines = stack([self._item("•", line, inner) for line in advice.lines], gap=1)
            boxes.append((stack([title, roled(lines, "L")], gap=1), weight))
        height = max(text.height for text, _ in boxes) + 2 * BOX_PAD_PT

        def draw(canvas: Canvas, x: float, top: float) -> None:
            for text, weight in boxes:
                canvas.setLineWidth(weight)
                canvas.rect(x, top - height, self.width, height)
                text.draw(canvas, x + BOX_PAD_PT, top - BOX_PAD_PT)
                x += self.width + GUTTER_PT

        return Block(height, draw)

    def _title(self, words: str) -> Block:
        title = self.text(words, self.width, TypeStyle(self.size * TITLE_SHARE, BOLD))
        return roled(title, "H1")

    def _heading(self, words: str) -> Block:
        title = self.text(words, self.width, TypeStyle(self.size * HEADING_SHARE, BOLD))
        return roled(title, "H2")

    def _led(self, fact: Fact) -> Block:
        """A paragraph after its label in bold, or a line to write on where it has no words."""
        if not fact.value:
            return self._to_fill_in(fact.label)
        return self.text(fact.value, self.width, self._plain, lead=fact.label)

    def _whom_to_call(self, unit: Fact) -> Block:
        """The unit and its phone, all in bold; a line to write the phone on where none is known."""
        if not unit.value:
            return self._to_fill_in(unit.label)
        return self.text(f"{unit.label} {unit.value}", self.width, self._bold)

    def _item(self, mark: str, words: str, width: float) -> Block:
        """A sentence with a number or a dot before it."""
        indent = self.size * 1.3
        text = self.text(words, width - indent, self._plain)

        def draw(canvas: Canvas, x: float, top: float) -> None:
            with canvas.within(Element("Lbl")):
                canvas.put_text((x, top - BASELINE * self.size), mark, self._bold)
            text.draw(canvas, x + indent, top)

        text = roled(text, "LBody")
        return roled(Block(text.height, draw), "LI")

    def _bar(self, bar: DayBar, left: float, longest: float) -> Block:
        length, drop = bar.share * longest, BASELINE * self.size

        def draw(canvas: Canvas, x: float, top: float) -> None:
            with canvas.within(Element("Lbl")):
                canvas.put_text((x, top - drop), bar.day, self._plain)
            canvas.saveState()
            canvas.setFillGray(BAR_GRAY)
            canvas.rect(x + left, top - drop, length, self.size * 0.72, stroke=0, fill=1)
            canvas.restoreState()
            with canvas.within(Element("LBody")):
                canvas.put_text((x + left + length + 6, top - drop), bar.value, self._bold)

        return roled(Block(self.size * 1.2, draw), "LI")

    def _to_fill_in(self, label: str) -> Block:
        """A label in bold, and a line to write on after it."""
        width, size = self.width, self.size
        text = self.text(label, width - TO_WRITE_PT, self._bold)
        end = min(self.typesetter.width_of(label, self._bold), width - TO_WRITE_PT) + 5
        baseline = text.height - leading_of(size) + BASELINE * size

        def draw(canvas: Canvas, x: float, top: float) -> None:
            text.draw(canvas, x, top)
            canvas.rule(x + end, top - baseline - 3, width - end, 0.8)

        return Block(text.height + size * 0.3, draw)

    def _table(self, log: HomeLog, height: float) -> Block:
        """The rows to fill in: a day each, as high as the page allows."""
        width, size = self.width, self.size
        head = size * 1.7
        row = min(max((height - head) / len(log.days), LEAST_ROW_PT), MOST_ROW_PT)
        edges = [sum(LOG_SHARES[:index]) * width for index in range(len(LOG_SHARES) + 1)]
        taken = head + row * len(log.days)
        answer_width = width * LOG_SHARES[-1] / len(log.answers)

        def put_row(canvas: Canvas, x: float, top: float, day: str) -> None:
            with canvas.within(Element(ROW_HEAD)):
                canvas.put_text((x + 5, top - size * 1.15), day, self._plain)
            for _ in log.columns[1:-1]:
                canvas.add(Element("TD"))
            with canvas.within(Element("TD")):
                for place, answer in enumerate(log.answers):
                    left = x + edges[-2] + answer_width * (place + 0.5)
                    middle = top - row / 2 - size * 0.34
                    canvas.put_text((left, middle), answer, self._plain, align=0.5)

        def draw(canvas: Canvas, x: float, top: float) -> None:
            with canvas.within(Element("TR")):
                for left, column in zip(edges, log.columns, strict=False):
                    with canvas.within(Element(COLUMN_HEAD)):
                        canvas.put_text((x + left + 5, top - size * 1.15), column, self._bold)
            for index, day in enumerate(log.days):
                with canvas.within(Element("TR")):
                    put_row(canvas, x, top - head - row * index, day)
            for index in range(len(log.days) + 1):
                canvas.rule(x, top - head - row * index, width, 0.8)
            canvas.rule(x, top, width, 0.8)
            for edge in edges:
                canvas.line(x + edge, top, x + edge, top - taken)

        return roled(Block(taken, draw), "Table")

    def _questions(self, label: str) -> Block:
        """Lines to write on, the first after its label."""
        drop = self.size * 1.5
        more = Block(
            self.size * 1.7, lambda canvas, x, top: canvas.rule(x, top - drop, self.width, 0.8)
        )
        return stack([self._to_fill_in(label), *[more] * (LINES_FOR_QUESTIONS - 1)])

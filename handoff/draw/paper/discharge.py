"""The page to take home, both sides of one leaf, and the log to fill in on a leaf of its own.

Input: a `DischargePage`. Output: a PDF in large print: nothing is smaller than `SIZE_PT`. Text too
long for a side, such as a very long name or a unit's own words, continues on the next and is never
cut.
"""

from collections.abc import Sequence
from itertools import chain

from msgspec.structs import replace

from handoff.draw.paper.blocks import Block, Layout, again, broken, roled, space, stack
from handoff.draw.paper.canvas import MARGIN_PT, Canvas, Document, Point
from handoff.draw.paper.tags import ARTIFACT, COLUMN_HEAD, ROW_HEAD, Element
from handoff.draw.paper.typeface import BODY, BOLD, TypeStyle
from handoff.draw.paper.typeset import BASELINE, leading_of
from handoff.model.pages import Advice, DayBar, DischargePage, Fact, HomeLog, PageLanguage

SIZE_PT = 16.0
STAFF_PT = 10.0  # what is at the foot for the staff
NUMBER, NUMBER_GAP_PT = TypeStyle(8.0), 6.0  # of a sentence, in the margin
TITLE_SHARE, HEADING_SHARE = 1.5, 1.15  # of the size of the text
LEAST_GAP_PT, LOG_GAP_PT, MOST_GAP_PT = 1.5, 7.0, 14.0
GUTTER_PT, BOX_PAD_PT, CELL_PAD_PT, TO_WRITE_PT = 18.0, 7.0, 5.0, 130.0
LEAST_ROW_PT, MOST_ROW_PT = 28.0, 64.0
# Shares of the log's width: date, three times of day, best, dizzy.
LOG_SHARES = (0.2, 0.165, 0.165, 0.165, 0.145, 0.16)
LINES_FOR_QUESTIONS = 2
BAR_GRAY = 0.35


def draw_discharge(
    page: DischargePage, document: Document, beside: DischargePage | None = None
) -> bytes:
    """The page to take home, and the log where there is one, as PDF bytes. `beside` is the same
    in another language: it follows on leaves of its own, each sentence at the same place.
    """
    canvas = Canvas(document, document.paper)
    pages = [page] if beside is None else [page, beside]
    width = document.paper[0] - 2 * MARGIN_PT
    parts = [
        _Part(
            document.typesetter.running(from_right=each.language.right_to_left),
            width,
            each.language,
        )
        for each in pages
    ]
    foot_height = max(part.foot.height for part in parts)
    for each, part in zip(pages, parts, strict=True):
        whole = [Element("Part", language=each.language.code)] if beside else []
        with canvas.running(from_right=each.language.right_to_left), canvas.within(*whole):
            sides = _draw_page(each, part, canvas, document.paper, foot_height)
        if each is not pages[-1] and sides % 2:
            canvas.showPage()  # the other language begins on a leaf of its own
    return canvas.finished()


def _draw_page(
    page: DischargePage, part: "_Part", canvas: Canvas, paper: Point, foot_height: float
) -> int:
    """Draw every side of the page; the number of them."""
    # The last line of the foot, for the staff, stands in the margin.
    top, bottom = paper[1] - MARGIN_PT, MARGIN_PT + max(foot_height - leading_of(STAFF_PT), 0)
    identity = part.identity(page)
    room = top - bottom - identity.height - LEAST_GAP_PT
    log = broken(part.log(page.log, room), room, LEAST_GAP_PT) if page.log else []
    sides = [*_leaf(part.exercise(page), part.dangers(page), room), *log]
    for number, blocks in enumerate(sides):
        free = (room - sum(block.height for block in blocks)) / len(blocks)
        gap = min(max(free, LEAST_GAP_PT), MOST_GAP_PT)
        first = again(identity) if number else identity
        stack([first, *blocks], gap).draw(canvas, MARGIN_PT, top)
        (again(part.foot) if number else part.foot).draw(canvas, MARGIN_PT, bottom)
        canvas.showPage()
    return len(sides)


def _leaf(front: Sequence[Block], back: Sequence[Block], height: float) -> list[Sequence[Block]]:
    """Both sides; what does not fit on the front is above what stands on the back."""
    first, *over = broken(front, height, LEAST_GAP_PT)
    return [first, *broken([*chain(*over), *back], height, LEAST_GAP_PT)]


class _Part(Layout):
    """The blocks of a part of the page, of a given width. Where the same page is printed in another
    language, a sentence has its number in the margin, and takes as much room as it does there.
    """

    width: float
    language: PageLanguage
    # Where the number of a sentence is put: from the left edge of the part, and to which side.
    number_at: tuple[float, float] = (-NUMBER_GAP_PT, 1)
    size: float = SIZE_PT

    def text(self, words: str, width: float, style: TypeStyle = BODY, *, lead: str = "") -> Block:
        """A paragraph, with an optional bold lead, as high as it is in either language."""
        return self._text(words, width, style, lead=lead)

    def _text(
        self, words: str, width: float, style: TypeStyle, *, lead: str = "", left: float = 0
    ) -> Block:
        """The same, `left` points from the left edge of the part."""
        block = super().text(words, width, style, lead=lead)
        known = self.language.twins
        twin = known.get(lead or words)
        if twin is None:
            return block
        if lead:
            other = known[words].words if words in known else words
            there = super().text(other, width, style, lead=twin.words)
        else:
            there = super().text(twin.words, width, style)
        at, align = self.number_at

        def draw(canvas: Canvas, x: float, top: float) -> None:
            block.draw(canvas, x, top)
            place = x - left + at, top - BASELINE * style.size
            with canvas.within(ARTIFACT):
                canvas.put_text(place, str(twin.number or ""), NUMBER, align=align)

        return Block(max(block.height, there.height), draw)

    @property
    def _plain(self) -> TypeStyle:
        return TypeStyle(self.size)

    @property
    def _bold(self) -> TypeStyle:
        return TypeStyle(self.size, BOLD)

    @property
    def foot(self) -> Block:
        """What is known of the translation: for the patient in large print, then for the staff."""
        large, small = TypeStyle(self.size), TypeStyle(STAFF_PT)
        warned = [self.text(self.language.warning, self.width, large)] * bool(self.language.warning)
        told = [self.text(each, self.width, small) for each in self.language.for_staff]
        if not told:
            return stack([])
        line = Block(0, lambda canvas, x, top: canvas.rule(x, top, self.width))
        return stack([line, *warned, *told])

    def identity(self, page: DischargePage) -> Block:
        """The two identifiers over a line, the same on both sides."""
        line = Block(5, lambda canvas, x, top: canvas.rule(x, top - 5, self.width, 1.2))
        return stack([*(self._led(fact) for fact in page.identity), line])

    def exercise(self, page: DischargePage) -> Sequence[Block]:
        """How to go on with the exercise."""
        # Beside letters that run from right to left a full stop would stand before the number.
        stop = "" if self.language.right_to_left else "."
        numbers = [f"{number}{stop}" for number, _ in enumerate(page.steps.lines, start=1)]
        return [
            self._title(page.title),
            self._led(page.purpose),
            self.advice_list(page.steps, numbers),
            self.advice_list(page.amount, "•" * len(page.amount.lines)),
            self.bests(page),
        ]

    def dangers(self, page: DischargePage) -> Sequence[Block]:
        """What to do when something is wrong, and when to call whom."""
        width = (self.width - GUTTER_PT) / 2
        left = replace(self, width=width, number_at=(-BOX_PAD_PT - NUMBER_GAP_PT, 1))
        right = replace(self, width=width, number_at=(width - BOX_PAD_PT + NUMBER_GAP_PT, 0))
        return [
            *(self._led(fact) for fact in page.feelings),
            self.boxes([(page.call, 0.8, left), (page.emergency, 2.4, right)]),
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
        lines = [self.item(mark, line, self.width) for mark, line in pairs]
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

    def boxes(self, advices: Sequence[tuple[Advice, float, "_Part"]]) -> Block:
        """Advice side by side, each in an outline of its weight; the heavier, the more urgent."""
        boxes = []
        for advice, weight, part in advices:
            inner = part.width - 2 * BOX_PAD_PT
            title = roled(part.text(advice.title, inner, self._bold), "H2")
            lines = stack([part.item("•", line, inner) for line in advice.lines], gap=1)
            boxes.append((stack([title, roled(lines, "L")], gap=1), weight, part.width))
        height = max(text.height for text, *_ in boxes) + 2 * BOX_PAD_PT

        def draw(canvas: Canvas, x: float, top: float) -> None:
            for text, weight, width in boxes:
                canvas.setLineWidth(weight)
                canvas.rect(x, top - height, width, height)
                text.draw(canvas, x + BOX_PAD_PT, top - BOX_PAD_PT)
                x += width + GUTTER_PT

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
        return self._text(unit.value, self.width, self._bold, lead=unit.label)

    def item(self, mark: str, words: str, width: float) -> Block:
        """A sentence with a number or a dot before it."""
        indent = self.size * 1.3
        text = self._text(words, width - indent, self._plain, left=indent)

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
        edges = self._edges(log)
        taken = head + row * len(log.days)
        answer_width = (edges[-1] - edges[-2]) / len(log.answers)

        def put_row(canvas: Canvas, x: float, top: float, day: str) -> None:
            with canvas.within(Element(ROW_HEAD)):
                canvas.put_text((x + CELL_PAD_PT, top - size * 1.15), day, self._plain)
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
                    at = x + left + CELL_PAD_PT, top - size * 1.15
                    with canvas.within(Element(COLUMN_HEAD)):
                        canvas.put_text(at, column, self._bold)
            for index, day in enumerate(log.days):
                with canvas.within(Element("TR")):
                    put_row(canvas, x, top - head - row * index, day)
            for index in range(len(log.days) + 1):
                canvas.rule(x, top - head - row * index, width, 0.8)
            canvas.rule(x, top, width, 0.8)
            for edge in edges:
                canvas.line(x + edge, top, x + edge, top - taken)

        return roled(Block(taken, draw), "Table")

    def _edges(self, log: HomeLog) -> list[float]:
        """The edges of the columns: by their shares, but where a word needs more, in either
        language, the columns with room to spare give it.
        """
        texts = [*((column, self._bold) for column in log.columns), (log.days[-1], self._plain)]
        needs = [self._widest(*each) + 2 * CELL_PAD_PT for each in texts]
        needs[0] = max(needs[0], needs.pop())
        answers = max(self._widest(each, self._plain) for each in log.answers) + 2 * CELL_PAD_PT
        needs[-1] = max(needs[-1], answers * len(log.answers))
        spare = [share * self.width - need for share, need in zip(LOG_SHARES, needs, strict=True)]
        wanted = -sum(each for each in spare if each < 0)
        given = min(wanted / (sum(each for each in spare if each > 0) or 1), 1)
        widths = [
            need + max(each, 0) * (1 - given) for need, each in zip(needs, spare, strict=True)
        ]
        return [sum(widths[:index]) for index in range(len(widths) + 1)]

    def _widest(self, words: str, style: TypeStyle) -> float:
        """How wide the words are, in this language or the other."""
        twin = self.language.twins.get(words)
        both = [words, twin.words] if twin else [words]
        return max(self.typesetter.width_of(each, style) for each in both)

    def _questions(self, label: str) -> Block:
        """Lines to write on, the first after its label; the last is that above the foot, if any."""
        drop, height = self.size * 1.5, self.size * 1.7
        more = Block(height, lambda canvas, x, top: canvas.rule(x, top - drop, self.width, 0.8))
        lines = [*[more] * (LINES_FOR_QUESTIONS - 2), space(height) if self.foot.height else more]
        return stack([self._to_fill_in(label), *lines])

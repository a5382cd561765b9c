"""The pages to write a shift's entries on by hand: landscape, a column for each field.

Input: `BlankPage`s. Output: PDF bytes. Open matters are in a box above the rows, and the rows get
the rest of the page. Where too few rows would fit, the box has sheets of its own before. A page of
the unit continues on the next when its rows do not fit. Every page with rows is ruled to its foot.
"""

from collections.abc import Iterator, Sequence
from functools import cached_property

from handoff.draw.paper.blank_table import (
    HEAD_ROW_PT,
    PATIENT_ROW_PT,
    UNIT_ROW_PT,
    BlankTable,
    Row,
    filled,
    fitting,
)
from handoff.draw.paper.blocks import Block, Layout, once, put_in, roled, stack
from handoff.draw.paper.canvas import MARGIN_PT, Canvas, Document
from handoff.draw.paper.still_open import (
    DETAIL_LEVELS,
    OF_THE_UNIT,
    OpenBox,
    Shown,
    chunks,
    inside,
    outlined,
)
from handoff.draw.paper.tags import ARTIFACT, Element
from handoff.draw.paper.typeface import (
    BODY_BOLD,
    BODY_PT,
    BOLD,
    NAME_BOLD,
    NAME_PT,
    SMALL,
    SMALL_BOLD,
    TypeStyle,
)
from handoff.draw.paper.typeset import BASELINE
from handoff.model.pages import BlankPage, Fact, StillOpenBox

GAP_PT, PAD_PT, PAGE_NUMBER_PT = 5.0, 3.0, 70.0
FACTS_IN_A_LINE = 5
TALLEST_IDENTITY_PT = 140.0  # a bed or a name that takes more is printed smaller
LEAST_ROWS = 6  # to write on beside a box; under that it has sheets of its own
IDENTITY_SHARES = (0.14, 0.44, 0.22, 0.2)
HEAD_SHARES = (0.27, 0.37, 0.18, 0.18)


def draw_blank(pages: Sequence[BlankPage], document: Document) -> bytes:
    """The pages as PDF bytes, on the paper the long way across."""
    canvas = Canvas(document, document.across)
    width, height = (length - 2 * MARGIN_PT for length in document.across)
    sheets = [
        (page, sheet)
        for page in pages
        for sheet in _BlankSheets(document.typesetter, page, width, height).sheets()
    ]
    right, top = document.across[0] - MARGIN_PT, document.across[1] - MARGIN_PT
    before = None
    for number, (page, sheet) in enumerate(sheets, start=1):
        sheet.draw(canvas, MARGIN_PT, top)
        number_words = put_in(page.page_words, number=number, all=len(sheets))
        with canvas.within(ARTIFACT):
            canvas.put_text((right, top - 11), number_words, align=1)
        if page.bookmark and page is not before:
            canvas.bookmark(page.bookmark)
        before = page
        canvas.showPage()
    return canvas.finished()


class _BlankSheets(Layout, dict=True):
    """The sheets of paper of one page, of a given size."""

    page: BlankPage
    width: float
    height: float

    def sheets(self) -> Iterator[Block]:
        """As many sheets as the box and the filled rows need; at least one."""
        page = self.page
        table = BlankTable(self.typesetter, page.columns, self.width, page.tick_box)
        rows = [table.row(row) for row in page.rows]
        least = PATIENT_ROW_PT if page.identity else UNIT_ROW_PT
        needed = max([LEAST_ROWS * least, *(row.height for row in rows[:1])])
        # The key of the columns, and the standing caution.
        key = self.text(". ".join(page.key) + ".", self.width, SMALL)
        call = (
            [self.text(page.call_if.value, self.width, lead=page.call_if.label)]
            if page.call_if
            else []
        )
        below = stack([*call, key, self.text(page.standing, self.width, SMALL_BOLD)], 2)
        room = self.height - below.height - 2 * GAP_PT - HEAD_ROW_PT

        def sheet(top: Block, some: Sequence[Row]) -> Block:
            ruled = table.block(filled(some, room - top.height, least))
            return stack([top, ruled, below], GAP_PT)

        who, facts = self._who_and_what, self._facts()
        plain = stack([who, *self._precautions_box(), facts])
        first = plain if page.still_open is None else self._with_box(room - needed)
        if first is None:
            yield from self._boxes()
            first = stack([who, *self._in_short(), facts]) if page.identity else plain
        if page.facts and first.height + least > room:  # they leave no row to write in
            yield stack([who, facts], GAP_PT)
            first = stack([who, *(self._in_short() or self._precautions_box())])
        taken = fitting(rows, room - first.height)
        yield sheet(first, rows[:taken])
        while taken < len(rows):
            start, taken = taken, taken + fitting(rows[taken:], room - plain.height)
            yield sheet(plain, rows[start:taken])

    @cached_property
    def _who_and_what(self) -> Block:
        """Title, unit and shift, and on a patient's page the patient."""
        page, width = self.page, self.width
        left = self.typesetter.width_of(page.title, NAME_BOLD) + 12

        def draw(canvas: Canvas, x: float, top: float) -> None:
            with canvas.within(Element("H1")):
                canvas.put_text((x, top - 12), page.title, NAME_BOLD)
            room = width - left - PAGE_NUMBER_PT
            canvas.put_text((x + left, top - 12), page.carried, SMALL, longest=room)

        blocks = [Block(18, draw), self._line(page.head, width, HEAD_SHARES)]
        if page.identity:
            large = self._line(page.identity, width, IDENTITY_SHARES, NAME_PT)
            fits = large.height <= TALLEST_IDENTITY_PT
            blocks.append(large if fits else self._line(page.identity, width, IDENTITY_SHARES))
        notes = filter(None, (page.alert, page.later, page.unknown))
        # What warns is read aloud on each sheet.
        return stack([once(stack(blocks)), *(self.text(each, width, BODY_BOLD) for each in notes)])

    def _facts(self) -> Block:
        """The order and the set-up."""
        facts, even = self.page.facts, [1 / FACTS_IN_A_LINE] * FACTS_IN_A_LINE
        starts = range(0, len(facts), FACTS_IN_A_LINE)
        return stack(
            [self._line(facts[start:][:FACTS_IN_A_LINE], self.width, even) for start in starts]
        )

    def _precautions(self, width: float) -> list[Block]:
        """The precautions on one line, in heavy type where they are known."""
        precautions = self.page.precautions
        return [self._line(precautions, width, (1,))] if precautions else []

    def _precautions_box(self) -> list[Block]:
        """The precautions, in an outline where any are known."""
        if any(fact.value for fact in self.page.precautions):
            return [outlined(self._precautions(inside(self.width)), self.width)]
        return self._precautions(self.width)

    def _with_box(self, room: float) -> Block | None:
        """The blocks above the rows, with as much text on open matters as fits; None where the
        least does not fit.
        """
        known = self.page.still_open
        if known is None:
            return None
        box = OpenBox(self.typesetter, inside(self.width))
        who, facts = self._who_and_what, self._facts()
        within = [*self._precautions(box.width), self.text(known.title, box.width, SMALL)]
        for shown in DETAIL_LEVELS if self.page.identity else OF_THE_UNIT:
            blocks = [*within, *box.lines(known, shown), *_tell(box, known)]
            above = stack([who, outlined(blocks, self.width), facts])
            if above.height <= room:
                return above
        return None

    def _boxes(self) -> Iterator[Block]:
        """Sheets with only the patient and the open matters in full."""
        page, known = self.page, self.page.still_open
        if known is None:
            return
        box = OpenBox(self.typesetter, inside(self.width))
        above = self._who_and_what
        top = [*self._precautions(box.width), self.text(known.title, box.width, SMALL)]
        spare = sum(block.height + GAP_PT for block in top) + 4 * GAP_PT
        # On the page of the unit the key is about the exercise, and is printed with all rows.
        standing = self.text(page.standing if page.identity else "", self.width, SMALL_BOLD)
        room = self.height - above.height - spare - standing.height
        for lot in chunks(box.lines(known, Shown()), room):
            yield stack([above, outlined([*top, *lot], self.width), standing])

    def _in_short(self) -> list[Block]:
        """The box that names the open matters of the sheet before, and has room for who
        was told.
        """
        known = self.page.still_open
        if known is None:
            return []
        box = OpenBox(self.typesetter, inside(self.width))
        words = self.text(known.in_short, box.width, BODY_BOLD)
        within = [*self._precautions(box.width), words, *_tell(box, known)]
        return [outlined(within, self.width)]

    def _line(
        self, facts: Sequence[Fact], width: float, shares: Sequence[float], size: float = BODY_PT
    ) -> Block:
        """Facts beside each other."""
        cells = [
            self._labelled(fact, share * width - GAP_PT, size)
            for fact, share in zip(facts, shares, strict=False)
        ]

        def draw(canvas: Canvas, x: float, top: float) -> None:
            for cell, share in zip(cells, shares, strict=False):
                cell.draw(canvas, x, top)
                x += share * width

        return Block(max(cell.height for cell in cells), draw)

    def _labelled(self, fact: Fact, width: float, size: float) -> Block:
        """A label and its whole value, or a line to write on."""
        left = self.typesetter.width_of(fact.label, SMALL) + PAD_PT
        value = self.text(fact.value, width - left, TypeStyle(size, BOLD))
        drop = BASELINE * size + PAD_PT

        def draw(canvas: Canvas, x: float, top: float) -> None:
            canvas.put_text((x, top - drop), fact.label, SMALL)
            if fact.value:
                value.draw(canvas, x + left, top - PAD_PT)
            else:
                canvas.rule(x + left, top - drop - 2, width - left, 0.6)

        return roled(Block(value.height + 2 * PAD_PT, draw), "P")


def _tell(box: OpenBox, known: StillOpenBox) -> list[Block]:
    return [box.tell_line(known.tell)] if known.tell else []

"""The unit summary: landscape, as many pages as it takes, broken between rows only.

Input: a `UnitPage` and the function that draws a small trend line. Output: PDF bytes.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import groupby

from handoff.draw.paper.blocks import (
    Block,
    Layout,
    again,
    heading,
    lines_block,
    put_in,
    roled,
    space,
    stack,
)
from handoff.draw.paper.canvas import MARGIN_PT, Canvas, Document, Point
from handoff.draw.paper.tags import ARTIFACT, COLUMN_HEAD, ROW_HEAD, Element
from handoff.draw.paper.typeface import (
    BODY,
    BODY_BOLD,
    NAME_BOLD,
    SMALL,
    SMALL_BOLD,
    SMALL_PT,
)
from handoff.model.figure import Drawing, Spark
from handoff.model.frozen import Frozen
from handoff.model.pages import Line, UnitPage, UnitRow, UnitSection

SparkDrawer = Callable[[Spark, float, float], Drawing]

# Shares of the width: bed, who, why here, best and goal, trend, charted, caution, next, to write.
COLUMNS = (0.08, 0.13, 0.135, 0.105, 0.08, 0.09, 0.145, 0.145, 0.09)
COUNT_COLUMNS = (0, 1, 2, 3, 4, 6, 7)  # where the counts begin: how many, then which shares
SPARK_COLUMN = 4
INDENT_PT, MOST_LINES = 10, 20  # of a section's lines
HEADER_PT, GUTTER_PT, ROW_PAD_PT, LEAST_ROW_PT = 34.0, 6.0, 3.0, 36.0
LEVEL_PT = 11.0
NOTHING = space(0)  # in the column to write in


class Piece(Frozen):
    """A block that is never broken. Its title stands above the first of the pieces that share it,
    and again where they go on on the next page. Their `role` together is a list, "L", or a "Table".
    """

    block: Block
    title: Block | None = None
    role: str = ""


def draw_unit(page: UnitPage, document: Document, draw_spark: SparkDrawer) -> bytes:
    """The summary as PDF bytes, on the paper the long way across."""
    width, top = document.across[0] - 2 * MARGIN_PT, document.across[1] - MARGIN_PT
    canvas = Canvas(document, document.across)
    summary = _Summary(document.typesetter, page, width, draw_spark)
    foot = summary.foot()
    sheets = paginate(summary.pieces(), top - HEADER_PT - foot.height - MARGIN_PT)
    for number, blocks in enumerate(sheets, start=1):
        head = (page.unit, page.shift, page.as_of)
        draw_header(canvas, head, document.across, page.page_words, (number, len(sheets)))
        stack(blocks).draw(canvas, MARGIN_PT, top - HEADER_PT)
        last = number == len(sheets)
        (foot if last else again(foot)).draw(canvas, MARGIN_PT, MARGIN_PT + foot.height)
        canvas.showPage()
    return canvas.finished()


def draw_header(
    canvas: Canvas,
    head: tuple[str, str, str],
    across: Point,
    page_words: str,
    number: tuple[int, int],
) -> None:
    """Title, shift and 'data as of'; and which page of how many it is. Read aloud once."""
    top, right = across[1] - MARGIN_PT, across[0] - MARGIN_PT
    title, shift, as_of = head
    number_words = put_in(page_words, number=number[0], all=number[1])
    with canvas.within(*([ARTIFACT] if number[0] > 1 else [])):
        with canvas.within(Element("H1")):
            canvas.put_text((MARGIN_PT, top - 13), title, NAME_BOLD, longest=across[0] * 0.7)
        canvas.put_text((MARGIN_PT, top - 25), shift, longest=across[0] * 0.6)
        canvas.put_text((right, top - 25), as_of, align=1)
    with canvas.within(ARTIFACT):
        canvas.put_text((right, top - 13), number_words, align=1)
    canvas.rule(MARGIN_PT, top - 29, right - MARGIN_PT, 1.2)


def paginate(pieces: Iterable[Piece], height: float) -> list[list[Block]]:
    """Blocks page by page, a title never parted from the piece below it."""
    sheets: list[list[Piece]] = [[]]
    left = height
    for piece in pieces:
        goes_on = bool(sheets[-1]) and sheets[-1][-1].title is piece.title
        title = piece.title.height if piece.title else 0.0
        needed = piece.block.height + (0.0 if goes_on else title)
        if needed > left and sheets[-1]:
            sheets.append([])
            left, needed = height, piece.block.height + title
        sheets[-1].append(piece)
        left -= needed
    return [list(_blocks(sheet)) for sheet in sheets]


def _blocks(pieces: Sequence[Piece]) -> Iterator[Block]:
    """The pieces of one page, those of one title together under it: a list of its own on each page,
    or a table with its titles."""
    for _, group in groupby(pieces, key=lambda piece: (id(piece.title), piece.role)):
        first, *more = group
        blocks = [first.block, *(piece.block for piece in more)]
        title = [first.title] if first.title else []
        if first.role == "Table":
            yield roled(stack([*title, *blocks]), "Table")
        else:
            yield from title
            yield roled(stack(blocks), first.role) if first.role else stack(blocks)


class _Summary(Layout):
    """The blocks of the summary, of a given width."""

    page: UnitPage
    width: float
    draw_spark: SparkDrawer

    def pieces(self) -> Iterator[Piece]:
        """All that the pages hold between header and foot, in order."""
        page, width = self.page, self.width
        for alert in page.alerts:
            yield Piece(_padded(self.text(alert, width, BODY_BOLD)))
        yield Piece(self._counts())
        for section in page.before:
            yield from self._section(section)
        columns = self._column_titles()
        for row in page.rows:
            yield Piece(self._row(row), columns, "Table")
        if page.rows:
            yield Piece(stack([space(3), _padded(self.text(page.key, width, SMALL))]))
        for section in page.after:
            yield from self._section(section)

    def foot(self) -> Block:
        """The fixed words under a line."""
        line = Block(3, lambda canvas, x, top: canvas.rule(x, top, self.width))
        return stack([line, *(self.text(each, self.width, SMALL) for each in self.page.standing)])

    def _section(self, section: UnitSection) -> Iterator[Piece]:
        title = stack([space(4), heading(section.title, self.width)])
        for line in section.lines:
            for part in self._parts(line):
                item = roled(part, "LI", "LBody")
                yield Piece(_indented(item, bar=section.urgent), title, "L")

    def _parts(self, line: Line) -> Iterator[Block]:
        """A line of a section; a very long one in parts that may continue on the next page."""
        lines = self.typesetter.break_lines(line.text, BODY, self.width - INDENT_PT, line.who)
        for start in range(0, len(lines), MOST_LINES):
            yield lines_block(lines[start : start + MOST_LINES])

    def _counts(self) -> Block:
        """The counts side by side: the number large, its word below it."""
        columns = _columns(self.width)
        lefts = [columns[index][0] for index in COUNT_COLUMNS]
        rooms = [
            end - left - GUTTER_PT
            for left, end in zip(lefts, (*lefts[1:], self.width), strict=True)
        ]
        labels = [
            self.text(fact.label, room) for fact, room in zip(self.page.counts, rooms, strict=True)
        ]

        def draw(canvas: Canvas, x: float, top: float) -> None:
            for fact, left, room, label in zip(self.page.counts, lefts, rooms, labels, strict=True):
                with canvas.within(Element("LI"), Element("LBody")):
                    canvas.put_text((x + left, top - 15), fact.value, NAME_BOLD, longest=room)
                    label.draw(canvas, x + left, top - 18)

        return roled(Block(46, draw), "L")

    def _column_titles(self) -> Block:
        def draw(canvas: Canvas, x: float, top: float) -> None:
            columns = _columns(self.width)
            for title, (left, width) in zip(self.page.columns, columns, strict=True):
                with canvas.within(Element(COLUMN_HEAD)):
                    canvas.put_text((x + left, top - 14), title, SMALL_BOLD, longest=width)
            canvas.rule(x, top - 18, self.width, 0.9)

        return roled(Block(19, draw), "TR")

    def _row(self, row: UnitRow) -> Block:
        columns = _columns(self.width)
        cells = {
            index: stack([self.text(line, columns[index][1]) for line in lines])
            for index, lines in (
                (2, [row.why_here]),
                (3, [row.best, row.goal]),
                (5, [row.charted]),
                (6, [row.top_caution]),
                (7, [row.next_action]),
            )
        }
        who = columns[1][1]
        alerts = [self.text(alert, who, SMALL_BOLD) for alert in row.alerts]
        cells[1] = stack([self.text(row.id, who, lead=row.name), *alerts])
        bed_width = columns[0][1]
        fits = self.typesetter.width_of(row.bed, NAME_BOLD) <= bed_width
        bed = self.text(row.bed, bed_width, NAME_BOLD if fits else BODY_BOLD)
        level_height = LEVEL_PT * (2 if row.priority_mark else 1)
        spark_width = columns[SPARK_COLUMN][1]
        spark = self.draw_spark(row.spark, spark_width, LEAST_ROW_PT - 4)

        def draw_bed(canvas: Canvas, x: float, top: float) -> None:
            bed.draw(canvas, x, top)
            box = (x, top - bed.height - LEVEL_PT, bed_width, LEVEL_PT)
            canvas.put_level(row.priority, row.priority_words, box, SMALL_PT)
            if row.priority_mark:
                below = (x, box[1] - LEVEL_PT, bed_width, LEVEL_PT)
                canvas.put_mark(row.priority_mark, below, SMALL_PT)

        def draw_spark(canvas: Canvas, x: float, top: float) -> None:
            bottom = top + ROW_PAD_PT - LEAST_ROW_PT + 1
            canvas.put_drawing(spark, x, bottom, row.spark_words)

        cells[0] = Block(bed.height + level_height, draw_bed)
        cells[SPARK_COLUMN] = Block(0, draw_spark)
        tallest = max(cell.height for cell in cells.values())
        height = max(tallest + 2 * ROW_PAD_PT, LEAST_ROW_PT)

        def draw(canvas: Canvas, x: float, top: float) -> None:
            for index, (left, _) in enumerate(columns):
                with canvas.within(Element("TD" if index else ROW_HEAD)):
                    cells.get(index, NOTHING).draw(canvas, x + left, top - ROW_PAD_PT)
            canvas.rule(x, top - height, self.width)

        return roled(Block(height, draw), "TR")


def _indented(block: Block, *, bar: bool) -> Block:
    """A line of a section; a bar at its left marks an urgent one."""

    def draw(canvas: Canvas, x: float, top: float) -> None:
        if bar:
            canvas.rect(x, top - block.height, 3, block.height, stroke=0, fill=1)
        block.draw(canvas, x + INDENT_PT, top)

    return Block(block.height + 3, draw)


def _columns(width: float) -> list[tuple[float, float]]:
    """(left, width) of each column, a gutter between two."""
    lefts = [sum(COLUMNS[:index]) * width for index in range(len(COLUMNS))]
    return [(left, share * width - GUTTER_PT) for left, share in zip(lefts, COLUMNS, strict=True)]


def _padded(block: Block) -> Block:
    return Block(block.height + 4, block.draw)

"""The unit summary: landscape, as many pages as it takes, broken between rows only.

Input: a `UnitPage` and the function that draws a small trend line. Output: PDF bytes.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from reportlab.pdfgen.canvas import Canvas

from handoff.draw.paper.blocks import Block, heading, lines_block, put_in, space, stack, text_block
from handoff.draw.paper.canvas import (
    MARGIN_PT,
    open_canvas,
    put_drawing,
    put_level,
    put_mark,
    rule,
)
from handoff.draw.paper.typeface import BODY_PT, BOLD, NAME_PT, SMALL_PT
from handoff.draw.paper.typeset import break_lines, put_text, width_of
from handoff.model.figure import Drawing, Spark
from handoff.model.pages import Line, UnitPage, UnitRow, UnitSection

SparkDrawer = Callable[[Spark, float, float], Drawing]

# Shares of the width: bed, who, why here, best and goal, trend, charted, caution, next, to write.
COLUMNS = (0.08, 0.13, 0.135, 0.105, 0.08, 0.09, 0.145, 0.145, 0.09)
COUNT_COLUMNS = (0, 1, 2, 3, 4, 6, 7)  # where the counts begin: how many, then which shares
SPARK_COLUMN = 4
INDENT_PT, MOST_LINES = 10, 20  # of a section's lines
HEADER_PT, GUTTER_PT, ROW_PAD_PT, LEAST_ROW_PT = 34.0, 6.0, 3.0, 36.0
LEVEL_PT = 11.0


@dataclass(frozen=True, slots=True)
class Piece:
    """A block that is never broken. Its title stands above the first of the pieces that share it,
    and again where they go on on the next page."""

    block: Block
    title: Block | None = None


def draw_unit(
    page: UnitPage,
    paper: tuple[float, float],
    draw_spark: SparkDrawer,
    title: str,
    language: str = "en",
) -> bytes:
    """The summary as PDF bytes; `paper` is (width, height) in points, used the long way across."""
    across = (max(paper), min(paper))
    canvas, stream = open_canvas(across, title, language)
    width, top, foot = across[0] - 2 * MARGIN_PT, across[1] - MARGIN_PT, _foot(page, across)
    room = top - HEADER_PT - foot.height - MARGIN_PT
    sheets = _paginate(_pieces(page, width, draw_spark), room)
    for number, blocks in enumerate(sheets, start=1):
        _draw_header(canvas, page, across, put_in(page.page_words, number=number, all=len(sheets)))
        stack(blocks).draw(canvas, MARGIN_PT, top - HEADER_PT)
        foot.draw(canvas, MARGIN_PT, MARGIN_PT + foot.height)
        canvas.showPage()
    canvas.save()
    return stream.getvalue()


def _paginate(pieces: Iterable[Piece], height: float) -> list[list[Block]]:
    """Blocks page by page, a title never parted from the piece below it."""
    sheets: list[list[Block]] = [[]]
    left, title = height, None
    for piece in pieces:
        needed = [piece.block] if piece.title in (None, title) else [piece.title, piece.block]
        if sum(block.height for block in needed) > left and sheets[-1]:
            sheets.append([])
            left = height
            needed = [piece.title, piece.block] if piece.title else [piece.block]
        sheets[-1] += needed
        left -= sum(block.height for block in needed)
        title = piece.title
    return sheets


def _pieces(page: UnitPage, width: float, draw_spark: SparkDrawer) -> Iterator[Piece]:
    for alert in page.alerts:
        yield Piece(_padded(text_block(alert, width, bold=True)))
    yield Piece(_counts(page, width))
    for section in page.before:
        yield from _section(section, width)
    columns = _column_titles(page, width)
    for row in page.rows:
        yield Piece(_row(row, width, draw_spark), columns)
    if page.rows:
        yield Piece(stack([space(3), _padded(text_block(page.key, width, size=SMALL_PT))]))
    for section in page.after:
        yield from _section(section, width)


def _section(section: UnitSection, width: float) -> Iterator[Piece]:
    title = stack([space(4), heading(section.title, width)])
    for line in section.lines:
        for part in _parts(line, width - INDENT_PT):
            yield Piece(_indented(part, bar=section.urgent), title)


def _parts(line: Line, width: float) -> Iterator[Block]:
    """A line of a section; one that is very long in parts, to go on onto the next page."""
    lines = break_lines(line.text, BODY_PT, width, line.who)
    return (
        lines_block(lines[start : start + MOST_LINES]) for start in range(0, len(lines), MOST_LINES)
    )


def _indented(block: Block, *, bar: bool) -> Block:
    """A line of a section; a bar at its left marks an urgent one."""

    def draw(canvas: Canvas, x: float, top: float) -> None:
        if bar:
            canvas.rect(x, top - block.height, 3, block.height, stroke=0, fill=1)
        block.draw(canvas, x + INDENT_PT, top)

    return Block(block.height + 3, draw)


def _counts(page: UnitPage, width: float) -> Block:
    """The counts side by side: the number large, its word below it."""
    columns = _columns(width)
    lefts = [columns[index][0] for index in COUNT_COLUMNS]

    def draw(canvas: Canvas, x: float, top: float) -> None:
        for fact, left, end in zip(page.counts, lefts, (*lefts[1:], width), strict=True):
            room = end - left - GUTTER_PT
            put_text(canvas, x + left, top - 15, fact.value, NAME_PT, BOLD, longest=room)
            text_block(fact.label, room).draw(canvas, x + left, top - 18)

    return Block(46, draw)


def _column_titles(page: UnitPage, width: float) -> Block:
    def draw(canvas: Canvas, x: float, top: float) -> None:
        for title, (left, column) in zip(page.columns, _columns(width), strict=True):
            put_text(canvas, x + left, top - 14, title, SMALL_PT, BOLD, longest=column)
        rule(canvas, x, top - 18, width, 0.9)

    return Block(19, draw)


def _row(row: UnitRow, width: float, draw_spark: SparkDrawer) -> Block:
    columns = _columns(width)
    cells = {
        index: stack([text_block(line, columns[index][1]) for line in lines])
        for index, lines in (
            (2, [row.why_here]),
            (3, [row.best, row.goal]),
            (5, [row.charted]),
            (6, [row.top_caution]),
            (7, [row.next_action]),
        )
    }
    who = columns[1][1]
    alerts = [text_block(alert, who, size=SMALL_PT, bold=True) for alert in row.alerts]
    cells[1] = stack([text_block(row.id, who, lead=row.name), *alerts])
    bed_width = columns[0][1]
    bed_size = NAME_PT if width_of(row.bed, NAME_PT, BOLD) <= bed_width else BODY_PT
    bed = text_block(row.bed, bed_width, size=bed_size, bold=True)
    level_height = LEVEL_PT * (2 if row.priority_mark else 1)
    cells[0] = Block(bed.height + level_height, bed.draw)
    tallest = max(cell.height for cell in cells.values())
    height = max(tallest + 2 * ROW_PAD_PT, LEAST_ROW_PT)
    spark_left, spark_width = columns[SPARK_COLUMN]
    spark = draw_spark(row.spark, spark_width, LEAST_ROW_PT - 4)

    def draw(canvas: Canvas, x: float, top: float) -> None:
        box = (x, top - ROW_PAD_PT - bed.height - LEVEL_PT, bed_width, LEVEL_PT)
        put_level(canvas, row.priority, row.priority_words, box, SMALL_PT)
        if row.priority_mark:
            below = (x, box[1] - LEVEL_PT, bed_width, LEVEL_PT)
            put_mark(canvas, row.priority_mark, below, SMALL_PT)
        for index, cell in sorted(cells.items()):
            cell.draw(canvas, x + columns[index][0], top - ROW_PAD_PT)
        put_drawing(canvas, spark, x + spark_left, top - LEAST_ROW_PT + 1)
        rule(canvas, x, top - height, width)

    return Block(height, draw)


def _columns(width: float) -> list[tuple[float, float]]:
    """(left, width) of each column, a gutter between two."""
    lefts = [sum(COLUMNS[:index]) * width for index in range(len(COLUMNS))]
    return [(left, share * width - GUTTER_PT) for left, share in zip(lefts, COLUMNS, strict=True)]


def _draw_header(canvas: Canvas, page: UnitPage, across: tuple[float, float], number: str) -> None:
    top, right = across[1] - MARGIN_PT, across[0] - MARGIN_PT
    put_text(canvas, MARGIN_PT, top - 13, page.unit, NAME_PT, BOLD, longest=across[0] * 0.5)
    put_text(canvas, MARGIN_PT, top - 25, page.shift, BODY_PT, longest=across[0] * 0.6)
    put_text(canvas, right, top - 13, number, BODY_PT, align=1)
    put_text(canvas, right, top - 25, page.as_of, BODY_PT, align=1)
    rule(canvas, MARGIN_PT, top - 29, right - MARGIN_PT, 1.2)


def _foot(page: UnitPage, across: tuple[float, float]) -> Block:
    width = across[0] - 2 * MARGIN_PT
    lines = [text_block(line, width, size=SMALL_PT) for line in page.standing]
    return stack([Block(3, lambda canvas, x, top: rule(canvas, x, top, width)), *lines])


def _padded(block: Block) -> Block:
    return Block(block.height + 4, block.draw)

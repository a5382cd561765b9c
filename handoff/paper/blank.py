"""The pages to write a shift's entries on by hand: landscape, a column for each field.

Enters: `BlankPage`s. Leaves: PDF bytes. A page of the unit goes on onto the next when its rows do
not fit; every page is ruled to its foot.
"""

from collections.abc import Iterator, Sequence
from itertools import accumulate

from reportlab.pdfgen.canvas import Canvas

from handoff.page import BlankColumn, BlankPage, BlankRow, Fact
from handoff.paper.blocks import Block, put_in, space, stack, text_block
from handoff.paper.canvas import MARGIN_PT, open_canvas, rule
from handoff.paper.typeface import BODY_PT, BOLD, NAME_PT, SMALL_PT
from handoff.paper.typeset import BASELINE, clip, put_text, widest_word, width_of

# Widths of the columns; what is left of the page is the note's. Where that is too little the other
# columns give way, but for those that are filled in already.
WIDTHS_PT = {
    "bed": 32,
    "patient_id": 70,
    "at": 36,
    "until": 36,
    "what": 44,
    "about": 48,
    "breaths": 34,
    "volume_ml": 34,
    "hold_s": 26,
    "flow": 34,
    "seen_by": 34,
    "pain": 24,
    "symptoms": 56,
    "spo2": 26,
    "resp_rate": 28,
    "pulse": 28,
    "temp_c": 28,
    "on_oxygen": 32,
    "oxygen": 46,
    "position": 38,
}
FILLED_IN = ("bed", "patient_id")
LEAST_NOTE_PT = 90.0
PATIENT_ROW_PT, UNIT_ROW_PT = 19.0, 24.0
HEAD_ROW_PT, GAP_PT, PAD_PT, PAGE_NUMBER_PT = 31.0, 5.0, 3.0, 70.0
HAIR_PT = 2.0  # at least, between a column's title and the line after it
FACTS_IN_A_LINE = 5
BED_LINES, WHO_LINES = 3, 16  # at most, so that a row is never longer than a page
IDENTITY_SHARES = (0.14, 0.44, 0.22, 0.2)
HEAD_SHARES = (0.27, 0.37, 0.18, 0.18)


def draw_blank(
    pages: Sequence[BlankPage], paper: tuple[float, float], title: str, language: str = "en"
) -> bytes:
    """The pages as PDF bytes; `paper` is (width, height) in points, used the long way across."""
    across = (max(paper), min(paper))
    canvas, stream = open_canvas(across, title, language)
    width, height = (length - 2 * MARGIN_PT for length in across)
    sheets = [sheet for page in pages for sheet in _sheets(page, width, height)]
    for number, (page, sheet) in enumerate(sheets, start=1):
        sheet.draw(canvas, MARGIN_PT, across[1] - MARGIN_PT)
        number_words = put_in(page.page_words, number=number, all=len(sheets))
        put_text(canvas, across[0] - MARGIN_PT, across[1] - MARGIN_PT - 11, number_words, align=1)
        canvas.showPage()
    canvas.save()
    return stream.getvalue()


def _sheets(page: BlankPage, width: float, height: float) -> Iterator[tuple[BlankPage, Block]]:
    """As many sheets of paper as the rows that are not empty take; at least one."""
    above, below = _above(page, width), _below(page, width)
    rows = [_who(row) for row in page.rows]
    least = PATIENT_ROW_PT if page.identity else UNIT_ROW_PT
    row = max([least, *(cell.height + PAD_PT for cells in rows for cell in cells)])
    room = height - above.height - below.height - 2 * GAP_PT - HEAD_ROW_PT
    fitting = max(int(room // row), 1)
    for start in range(0, max(len(rows), 1), fitting):
        cells = rows[start : start + fitting]
        table = _table(page.columns, cells, width, room / fitting, fitting)
        yield page, stack([above, table, below], GAP_PT)


def _above(page: BlankPage, width: float) -> Block:
    """Title, unit and shift, and on a patient's page who it is and what is ordered."""

    def draw(canvas: Canvas, x: float, top: float) -> None:
        put_text(canvas, x, top - 12, page.title, NAME_PT, BOLD)
        left = width_of(page.title, NAME_PT, BOLD) + 12
        room = width - left - PAGE_NUMBER_PT
        put_text(canvas, x + left, top - 12, page.carried, SMALL_PT, longest=room)

    blocks = [Block(18, draw), _line(page.head, width, HEAD_SHARES)]
    if page.identity:
        blocks.append(_line(page.identity, width, IDENTITY_SHARES, NAME_PT))
    if page.alert:
        blocks.append(text_block(page.alert, width, bold=True))
    if page.precautions:  # as long as a line, and in heavy type where it is known
        blocks.append(_line(page.precautions, width, (1,)))
    even = [1 / FACTS_IN_A_LINE] * FACTS_IN_A_LINE
    starts = range(0, len(page.facts), FACTS_IN_A_LINE)
    lines = [_line(page.facts[start:][:FACTS_IN_A_LINE], width, even) for start in starts]
    return stack([*blocks, *lines])


def _line(
    facts: Sequence[Fact], width: float, shares: Sequence[float], size: float = BODY_PT
) -> Block:
    """Facts beside each other."""
    cells = [
        _fact(fact, share * width - GAP_PT, size)
        for fact, share in zip(facts, shares, strict=False)
    ]

    def draw(canvas: Canvas, x: float, top: float) -> None:
        for cell, share in zip(cells, shares, strict=False):
            cell.draw(canvas, x, top)
            x += share * width

    return Block(max(cell.height for cell in cells), draw)


def _fact(fact: Fact, width: float, size: float) -> Block:
    """A label and what is known, whole; or a line to write on."""
    left = width_of(fact.label, SMALL_PT) + PAD_PT
    value = text_block(fact.value, width - left, size=size, bold=True)
    drop = BASELINE * size + PAD_PT

    def draw(canvas: Canvas, x: float, top: float) -> None:
        put_text(canvas, x, top - drop, fact.label, SMALL_PT)
        if fact.value:
            value.draw(canvas, x + left, top - PAD_PT)
        else:
            rule(canvas, x + left, top - drop - 2, width - left, 0.6)

    return Block(value.height + 2 * PAD_PT, draw)


def _below(page: BlankPage, width: float) -> Block:
    """What may be written in the columns, and the standing caution."""
    key = text_block(". ".join(page.key) + ".", width, size=SMALL_PT)
    return stack([key, text_block(page.standing, width, size=SMALL_PT, bold=True)], 2)


def _who(row: BlankRow) -> tuple[Block, Block]:
    """What begins a row: the bed, and the patient by name and id."""
    width, patient = (WIDTHS_PT[name] - PAD_PT for name in ("bed", "patient_id"))
    bed = clip(row.bed, BODY_PT, width, BED_LINES, font=BOLD)
    both = [clip(each, SMALL_PT, patient, WHO_LINES) for each in (row.name, row.id)]
    lines = [text_block(each, patient, size=SMALL_PT) for each in both]
    alert = [text_block(row.alert, patient, size=SMALL_PT, bold=True)] if row.alert else []
    level = space(BASELINE * (BODY_PT - SMALL_PT))  # the first lines stand on one line
    return text_block(bed, width, bold=True), stack([level, *alert, *lines])


def _table(
    columns: Sequence[BlankColumn],
    rows: Sequence[Sequence[Block]],
    width: float,
    row: float,
    count: int,
) -> Block:
    edges = _edges(columns, width)
    height = HEAD_ROW_PT + row * count

    def draw(canvas: Canvas, x: float, top: float) -> None:
        for column, left, right in zip(columns, edges, edges[1:], strict=False):
            room = right - left - PAD_PT - HAIR_PT
            title = text_block(column.title, room, size=SMALL_PT, bold=True)
            title.draw(canvas, x + left + PAD_PT, top - 1)
        first = top - HEAD_ROW_PT
        for index, cells in enumerate(rows):
            for left, cell in zip(edges, cells, strict=False):
                cell.draw(canvas, x + left + PAD_PT, first - row * index - 1)
        rule(canvas, x, top, width, 0.8)
        for index in range(count + 1):
            rule(canvas, x, first - row * index, width, 0.8 if index == 0 else 0.4)
        canvas.setLineWidth(0.4)
        for edge in edges:
            canvas.line(x + edge, top, x + edge, top - height)

    return Block(height, draw)


def _edges(columns: Sequence[BlankColumn], width: float) -> list[float]:
    """Where each column begins, and the last ends. What the note lacks is taken from the others, of
    each as it has more than its title needs.
    """
    widths = [float(WIDTHS_PT.get(column.name, 0)) for column in columns]
    needs = [widest_word(each.title, SMALL_PT, BOLD) + PAD_PT + HAIR_PT for each in columns]
    least = [
        each if column.name in FILLED_IN else min(each, need)
        for column, each, need in zip(columns, widths, needs, strict=True)
    ]
    lacking = max(LEAST_NOTE_PT - (width - sum(widths)), 0)
    share = min(lacking / (sum(widths) - sum(least)), 1)
    widths = [each - share * (each - few) for each, few in zip(widths, least, strict=True)]
    rest = width - sum(widths)
    ends = accumulate(each or rest for each in widths)
    return [0.0, *ends]

"""The pages to write a shift's entries on by hand: landscape, a column for each field.

Input: `BlankPage`s. Output: PDF bytes. What is open stands in a box above the rows, which give way
to it; where too few would be left, the box has sheets of its own before. A page of the unit goes on
onto the next when its rows do not fit; every page with rows is ruled to its foot.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate

from reportlab.pdfgen.canvas import Canvas

from handoff.draw.paper.blocks import Block, put_in, space, stack, text_block
from handoff.draw.paper.canvas import MARGIN_PT, open_canvas, put_tick_box, rule
from handoff.draw.paper.still_open import (
    GIVING_WAY,
    OF_THE_UNIT,
    Shown,
    chunks,
    inside,
    open_lines,
    outlined,
    tell_line,
)
from handoff.draw.paper.typeface import BODY_PT, BOLD, NAME_PT, SMALL_PT
from handoff.draw.paper.typeset import BASELINE, clip, put_text, widest_word, width_of
from handoff.model.pages import BlankColumn, BlankPage, BlankRow, Fact, StillOpenBox

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
BOX_PT, BOX_DROP_PT = 10.0, 9.5  # a box to tick in a cell: its width, and where it stands
HAIR_PT = 2.0  # at least, between a column's title and the line after it
FACTS_IN_A_LINE = 5
BED_LINES, WHO_LINES = 3, 16  # at most, so that a row is never longer than a page
TALLEST_IDENTITY_PT = 140.0  # a bed or a name that takes more is printed smaller
LEAST_ROWS = 6  # to write on beside a box; under that it has sheets of its own
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


NOTHING = space(0)


@dataclass(frozen=True, slots=True)
class _Row:
    """A row to write in: what its first cells hold, and what stands under all of them."""

    height: float
    cells: Sequence[Block] = ()
    warning: Block = NOTHING


def _sheets(page: BlankPage, width: float, height: float) -> Iterator[tuple[BlankPage, Block]]:
    """As many sheets of paper as the box and the rows that are not empty take; at least one."""
    edges = _edges(page.columns, width)
    rows = [_row(row, edges) for row in page.rows]
    least = PATIENT_ROW_PT if page.identity else UNIT_ROW_PT
    needed = max([LEAST_ROWS * least, *(row.height for row in rows[:1])])
    below = _below(page, width)
    room = height - below.height - 2 * GAP_PT - HEAD_ROW_PT

    def sheet(top: Block, some: Sequence[_Row]) -> Block:
        filled = _filled(some, room - top.height, least)
        return stack([top, _table(page.columns, filled, edges, width), below], GAP_PT)

    who, facts = _who_and_what(page, width), _facts(page, width)
    plain = stack([who, *_box(page, width, None), facts])
    first = plain if page.still_open is None else _with_box(page, width, room - needed)
    if first is None:
        for block in _boxes(page, width, height):
            yield page, block
        first = stack([who, *_in_short(page, width), facts]) if page.identity else plain
    if page.facts and first.height + least > room:  # they leave no row to write in
        yield page, stack([who, facts], GAP_PT)
        first = stack([who, *(_in_short(page, width) or _box(page, width, None))])
    taken = _fitting(rows, room - first.height)
    yield page, sheet(first, rows[:taken])
    while taken < len(rows):
        start, taken = taken, taken + _fitting(rows[taken:], room - plain.height)
        yield page, sheet(plain, rows[start:taken])


def _fitting(rows: Sequence[_Row], room: float) -> int:
    """How many of the rows fit, one at least."""
    ends = accumulate(row.height for row in rows)
    return max(sum(end <= room for end in ends), 1)


def _filled(rows: Sequence[_Row], room: float, least: float) -> list[_Row]:
    """The rows, and empty ones to the foot of the page, all of them as much higher as fits."""
    left = room - sum(row.height for row in rows)
    empty = max(int(left // least), 0 if rows else 1)
    share = max(left - empty * least, 0) / (len(rows) + empty)
    together = [*rows, *(_Row(least) for _ in range(empty))]
    return [replace(row, height=row.height + share) for row in together]


def _who_and_what(page: BlankPage, width: float) -> Block:
    """Title, unit and shift, and on a patient's page who it is."""

    def draw(canvas: Canvas, x: float, top: float) -> None:
        put_text(canvas, x, top - 12, page.title, NAME_PT, BOLD)
        left = width_of(page.title, NAME_PT, BOLD) + 12
        room = width - left - PAGE_NUMBER_PT
        put_text(canvas, x + left, top - 12, page.carried, SMALL_PT, longest=room)

    blocks = [Block(18, draw), _line(page.head, width, HEAD_SHARES)]
    if page.identity:
        large = _line(page.identity, width, IDENTITY_SHARES, NAME_PT)
        fits = large.height <= TALLEST_IDENTITY_PT
        blocks.append(large if fits else _line(page.identity, width, IDENTITY_SHARES))
    notes = filter(None, (page.alert, page.unknown))
    return stack([*blocks, *(text_block(each, width, bold=True) for each in notes)])


def _facts(page: BlankPage, width: float) -> Block:
    """What is ordered, and how it is set up."""
    even = [1 / FACTS_IN_A_LINE] * FACTS_IN_A_LINE
    starts = range(0, len(page.facts), FACTS_IN_A_LINE)
    return stack([_line(page.facts[start:][:FACTS_IN_A_LINE], width, even) for start in starts])


def _precautions(page: BlankPage, width: float) -> list[Block]:
    """As long as a line, and in heavy type where they are known."""
    return [_line(page.precautions, width, (1,))] if page.precautions else []


def _box(page: BlankPage, width: float, shown: Shown | None) -> list[Block]:
    """The precautions, then what is open; an outline about them where anything is known."""
    known = page.still_open if shown else None
    precautions = _precautions(page, inside(width))
    if known is None or shown is None:
        is_known = any(fact.value for fact in page.precautions)
        return [outlined(precautions, width)] if is_known else _precautions(page, width)
    lines = open_lines(known, inside(width), shown)
    title = text_block(known.title, inside(width), size=SMALL_PT)
    return [outlined([*precautions, title, *lines, *_tell(known, width)], width)]


def _with_box(page: BlankPage, width: float, room: float) -> Block | None:
    """All that stands above the rows, with as much of what is open as there is room for; None where
    the least of it is too much."""
    for shown in GIVING_WAY if page.identity else OF_THE_UNIT:
        above = stack([_who_and_what(page, width), *_box(page, width, shown), _facts(page, width)])
        if above.height <= room:
            return above
    return None


def _boxes(page: BlankPage, width: float, height: float) -> Iterator[Block]:
    """Sheets with nothing but who it is and what is open, all of it in full."""
    known = page.still_open
    if known is None:
        return
    above, precautions = _who_and_what(page, width), _precautions(page, inside(width))
    title = text_block(known.title, inside(width), size=SMALL_PT)
    top = [*precautions, title]
    lines = open_lines(known, inside(width), Shown())
    spare = sum(block.height + GAP_PT for block in top) + 4 * GAP_PT
    # On the page of the unit it speaks of the exercise, and stands with the rows of all.
    words = page.standing if page.identity else ""
    standing = text_block(words, width, size=SMALL_PT, bold=True)
    for lot in chunks(lines, height - above.height - spare - standing.height):
        yield stack([above, outlined([*top, *lot], width), standing])


def _in_short(page: BlankPage, width: float) -> list[Block]:
    """The box that names what stands in full on the sheet before, and where to write who was
    told."""
    known = page.still_open
    if known is None:
        return []
    words = text_block(known.in_short, inside(width), bold=True)
    within = [*_precautions(page, inside(width)), words, *_tell(known, width)]
    return [outlined(within, width)]


def _tell(known: StillOpenBox, width: float) -> list[Block]:
    return [tell_line(known.tell, inside(width))] if known.tell else []


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


def _row(row: BlankRow, edges: Sequence[float]) -> _Row:
    """What begins a row: the bed, and the patient by name and id; under it what to beware of."""
    width, patient = (WIDTHS_PT[name] - PAD_PT for name in FILLED_IN)
    bed = clip(row.bed, BODY_PT, width, BED_LINES, font=BOLD)
    both = [clip(each, SMALL_PT, patient, WHO_LINES) for each in (row.name, row.id)]
    lines = [text_block(each, patient, size=SMALL_PT) for each in both]
    alert = [text_block(row.alert, patient, size=SMALL_PT, bold=True)] if row.alert else []
    level = space(BASELINE * (BODY_PT - SMALL_PT))  # the first lines stand on one line
    cells = text_block(bed, width, bold=True), stack([level, *alert, *lines])
    warning = NOTHING
    if row.warning:
        whole = edges[-1] - edges[1] - 2 * PAD_PT
        warning = stack([text_block(row.warning, whole, size=SMALL_PT, bold=True), space(PAD_PT)])
    height = max([UNIT_ROW_PT, *(cell.height + PAD_PT for cell in cells)])
    return _Row(height + warning.height, cells, warning)


def _table(
    columns: Sequence[BlankColumn], rows: Sequence[_Row], edges: Sequence[float], width: float
) -> Block:
    height = HEAD_ROW_PT + sum(row.height for row in rows)

    def draw(canvas: Canvas, x: float, top: float) -> None:
        for column, left, right in zip(columns, edges, edges[1:], strict=False):
            room = right - left - PAD_PT - HAIR_PT
            title = text_block(column.title, room, size=SMALL_PT, bold=True)
            title.draw(canvas, x + left + PAD_PT, top - 1)
        rule(canvas, x, top, width, 0.8)
        _put_edges(canvas, x, edges, top, HEAD_ROW_PT, 0)
        top -= HEAD_ROW_PT
        rule(canvas, x, top, width, 0.8)
        for row in rows:
            for column, left in zip(columns, edges, strict=False):
                if column.box:
                    put_tick_box(canvas, x + left + PAD_PT, top - BOX_DROP_PT)
                    box_left = x + left + PAD_PT + BOX_PT
                    put_text(canvas, box_left, top - BOX_DROP_PT, column.box, SMALL_PT)
            _put_row(canvas, x, top, row, edges)
            top -= row.height
            rule(canvas, x, top, width, 0.4)

    return Block(height, draw)


def _put_row(canvas: Canvas, x: float, top: float, row: _Row, edges: Sequence[float]) -> None:
    for left, cell in zip(edges, row.cells, strict=False):
        cell.draw(canvas, x + left + PAD_PT, top - 1)
    row.warning.draw(canvas, x + edges[1] + PAD_PT, top - row.height + row.warning.height)
    _put_edges(canvas, x, edges, top, row.height, row.warning.height)


def _put_edges(
    canvas: Canvas, x: float, edges: Sequence[float], top: float, height: float, warning: float
) -> None:
    """The lines between the cells of one row, the inner ones down to its warning."""
    canvas.setLineWidth(0.4)
    for edge in edges:
        inner = edge not in (edges[0], edges[1], edges[-1])
        canvas.line(x + edge, top, x + edge, top - height + (warning if inner else 0))


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

"""The box of a page to write on that says what is open: heavy outline, a mark for each thing.

Input: a `StillOpenBox`, the precautions, and how much of the texts is printed. Output: `Block`s.
What was told gives way first, then what was seen; a mark, a title and what would close a matter
never do. Where even that is too much the whole box stands on sheets of its own, in full.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from reportlab.pdfgen.canvas import Canvas

from handoff.draw.paper.blocks import Block, space, stack, text_block
from handoff.draw.paper.canvas import MARK_PAD_PT, put_mark, put_tick_box, rule
from handoff.draw.paper.typeface import BODY_PT, BOLD, SMALL_PT
from handoff.draw.paper.typeset import ELLIPSIS, leading_of, put_text, width_of
from handoff.model.pages import OpenLine, StillOpenBox, TellBoxes

OUTLINE_PT, INSET_PT, GAP_PT = 1.8, 6.0, 3.0
MARK_HEIGHT_PT = 11.5
TICK_PT = 11.0  # a box to tick and the space up to its word
LEAST_TO_WRITE_PT = 200.0


@dataclass(frozen=True, slots=True)
class Shown:
    """How much of the texts of each line is printed, in characters; None is all."""

    told: int | None = None
    seen: int | None = None
    closes_apart: bool = True  # on a line of its own


GIVING_WAY = (
    Shown(),
    Shown(closes_apart=False),
    *(Shown(told, None, closes_apart=False) for told in (260, 160, 100, 60)),
    *(Shown(60, seen, closes_apart=False) for seen in (240, 160, 110)),
)
OF_THE_UNIT = GIVING_WAY[:3]  # where a sheet more tells of many patients, it is not cut further


def open_lines(box: StillOpenBox, width: float, shown: Shown) -> list[Block]:
    """A block for each thing that is open; `width` is that of the box's inside."""
    marks = [width_of(line.mark, SMALL_PT, BOLD) for line in box.lines]
    beside = max(marks, default=0) + MARK_PAD_PT
    return [_line(line, width, beside, shown) for line in box.lines]


def _line(line: OpenLine, width: float, beside: float, shown: Shown) -> Block:
    left = beside + MARK_PAD_PT
    lead = " ".join(filter(None, (line.who, f"{line.title}." if line.title else "")))
    told, seen = _shortened(line.told, shown.told), _shortened(line.seen, shown.seen)
    last = "" if shown.closes_apart else line.closes
    words = " ".join(filter(None, (seen, told, last)))
    blocks = [text_block(words, width - left, lead=lead)]
    if shown.closes_apart and line.closes:
        blocks.append(text_block(line.closes, width - left))
    said = stack(blocks)

    def draw(canvas: Canvas, x: float, top: float) -> None:
        box = (x, top - MARK_HEIGHT_PT, beside, MARK_HEIGHT_PT)
        put_mark(canvas, line.mark, box, SMALL_PT, black=not line.outlined)
        said.draw(canvas, x + left, top)

    return Block(max(said.height, MARK_HEIGHT_PT), draw)


def _shortened(text: str, longest: int | None) -> str:
    if longest is None or len(text) <= longest:
        return text
    return text[: longest - 1].rstrip() + ELLIPSIS


def tell_line(tell: TellBoxes, width: float) -> Block:
    """A box to tick for each word; then whom and when, with a line to write on."""
    label, whom = (width_of(each, BODY_PT, BOLD) for each in (tell.label, tell.whom))
    places: list[tuple[float, int, str]] = []
    x, row = label + 8, 0
    for word in tell.words:
        taken = TICK_PT + width_of(word, BODY_PT) + 8
        if x + taken > width:
            x, row = 0.0, row + 1
        places.append((x, row, word))
        x += taken
    if x + whom + LEAST_TO_WRITE_PT > width:
        x, row = 0.0, row + 1
    step = leading_of(BODY_PT) + 5

    def draw(canvas: Canvas, left: float, top: float) -> None:
        def baseline(row: int) -> float:
            return top - 12 - row * step

        put_text(canvas, left, baseline(0), tell.label, BODY_PT, BOLD)
        for at, on, word in places:
            put_tick_box(canvas, left + at, baseline(on))
            put_text(canvas, left + at + TICK_PT, baseline(on), word)
        put_text(canvas, left + x, baseline(row), tell.whom, BODY_PT, BOLD)
        start = x + whom + 5
        rule(canvas, left + start, baseline(row) - 2, width - start, 0.6)

    return Block((row + 1) * step, draw)


def outlined(blocks: Sequence[Block], width: float) -> Block:
    """Blocks below each other in a heavy outline; what is inside is narrower by `inside`."""
    inner = stack(blocks, GAP_PT)
    height = inner.height + 2 * INSET_PT

    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.setLineWidth(OUTLINE_PT)
        half = OUTLINE_PT / 2
        canvas.rect(x + half, top - height + half, width - OUTLINE_PT, height - OUTLINE_PT)
        inner.draw(canvas, x + INSET_PT, top - INSET_PT)

    return stack([Block(height, draw), space(GAP_PT)])


def inside(width: float) -> float:
    """The width of what stands in an outline."""
    return width - 2 * INSET_PT


def chunks(blocks: Sequence[Block], room: float) -> Iterator[list[Block]]:
    """The blocks in as many lots as it takes for each to fit the room."""
    lot: list[Block] = []
    for block in blocks:
        if lot and sum(each.height + GAP_PT for each in (*lot, block)) > room:
            yield lot
            lot = []
        lot.append(block)
    if lot:
        yield lot

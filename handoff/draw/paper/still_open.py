"""The box of open matters on a page to write on: heavy outline, a mark for each.

Input: a `StillOpenBox`, the precautions, and how much of the texts is printed. Output: `Block`s.
Told texts are cut first, then what was seen. The mark, the title and the steps that close a matter
are never cut. Where even that is too much, the whole box is on sheets of its own, in full.
"""

from collections.abc import Iterator, Sequence

from handoff.draw.paper.blocks import Block, Layout, roled, space, stack, tagged
from handoff.draw.paper.canvas import MARK_PAD_PT, Canvas
from handoff.draw.paper.tags import Element
from handoff.draw.paper.typeface import BODY_BOLD, BODY_PT, SMALL_BOLD, SMALL_PT
from handoff.draw.paper.typeset import ELLIPSIS, leading_of
from handoff.model.frozen import Frozen
from handoff.model.pages import OpenLine, StillOpenBox, TellBoxes

OUTLINE_PT, INSET_PT, GAP_PT = 1.8, 6.0, 3.0
MARK_HEIGHT_PT = 11.5
TICK_PT = 11.0  # a box to tick and the space up to its word
LEAST_TO_WRITE_PT = 200.0


class Shown(Frozen):
    """How much of the texts of each line is printed, in characters; None is all."""

    told: int | None = None
    seen: int | None = None
    closes_apart: bool = True  # on a line of its own


DETAIL_LEVELS = (
    Shown(),
    Shown(closes_apart=False),
    *(Shown(told, None, closes_apart=False) for told in (260, 160, 100, 60)),
    *(Shown(60, seen, closes_apart=False) for seen in (240, 160, 110)),
)
OF_THE_UNIT = DETAIL_LEVELS[:3]  # with one more sheet for many patients, it is cut no further


class OpenBox(Layout):
    """The content of the box; `width` is its inner width."""

    width: float

    def lines(self, box: StillOpenBox, shown: Shown) -> list[Block]:
        """A block for each thing that is open, all of them one list."""
        listed = Element("L")
        marks = [self.typesetter.width_of(line.mark, SMALL_BOLD) for line in box.lines]
        beside = max(marks, default=0) + MARK_PAD_PT
        return [tagged(self._line(line, beside, shown), listed) for line in box.lines]

    def _line(self, line: OpenLine, beside: float, shown: Shown) -> Block:
        left = beside + MARK_PAD_PT
        lead = " ".join(filter(None, (line.who, f"{line.title}." if line.title else "")))
        told, seen = _shortened(line.told, shown.told), _shortened(line.seen, shown.seen)
        last = "" if shown.closes_apart else line.closes
        words = " ".join(filter(None, (seen, told, last)))
        blocks = [self.text(words, self.width - left, lead=lead)]
        if shown.closes_apart and line.closes:
            blocks.append(self.text(line.closes, self.width - left))
        text = stack(blocks)

        def draw(canvas: Canvas, x: float, top: float) -> None:
            box = (x, top - MARK_HEIGHT_PT, beside, MARK_HEIGHT_PT)
            with canvas.within(Element("Lbl")):
                canvas.put_mark(line.mark, box, SMALL_PT, black=not line.outlined)
            text.draw(canvas, x + left, top)

        text = roled(text, "LBody")
        return roled(Block(max(text.height, MARK_HEIGHT_PT), draw), "LI")

    def tell_line(self, tell: TellBoxes) -> Block:
        """A box to tick for each word; then whom and when, with a line to write on."""
        width_of, width = self.typesetter.width_of, self.width
        label, whom = (width_of(each, BODY_BOLD) for each in (tell.label, tell.whom))
        places: list[tuple[float, int, str]] = []
        x, row = label + 8, 0
        for word in tell.words:
            taken = TICK_PT + width_of(word) + 8
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

            canvas.put_text((left, baseline(0)), tell.label, BODY_BOLD)
            for at, on, word in places:
                canvas.put_tick_box(left + at, baseline(on), tell.tick_box)
                canvas.put_text((left + at + TICK_PT, baseline(on)), word)
            canvas.put_text((left + x, baseline(row)), tell.whom, BODY_BOLD)
            start = x + whom + 5
            canvas.rule(left + start, baseline(row) - 2, width - start, 0.6)

        return roled(Block((row + 1) * step, draw), "P")


def _shortened(text: str, longest: int | None) -> str:
    if longest is None or len(text) <= longest:
        return text
    return text[: longest - 1].rstrip() + ELLIPSIS


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
    """The blocks in groups, each small enough for the room."""
    lot: list[Block] = []
    for block in blocks:
        if lot and sum(each.height + GAP_PT for each in (*lot, block)) > room:
            yield lot
            lot = []
        lot.append(block)
    if lot:
        yield lot

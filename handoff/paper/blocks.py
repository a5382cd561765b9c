"""Blocks: pieces of a page that know their height and draw themselves from their top left corner.

Enters: finished words. Leaves: `Block`s, measured for a given width. Chooses nothing.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from reportlab.pdfgen.canvas import Canvas

from handoff.page import Fact
from handoff.paper.canvas import height_of, paragraph, put_paragraph, put_text
from handoff.paper.typeface import BODY_PT, BOLD, style

GAP_PT = 7.0
HEADING_PT = 13.0


@dataclass(frozen=True, slots=True)
class Block:
    """`draw(canvas, x, top)` draws within `height` points below `top`."""

    height: float
    draw: Callable[[Canvas, float, float], None]


def stack(blocks: Sequence[Block], gap: float = 0) -> Block:
    """Blocks below each other, `gap` points apart."""

    def draw(canvas: Canvas, x: float, top: float) -> None:
        for block in blocks:
            block.draw(canvas, x, top)
            top -= block.height + gap

    return Block(sum(block.height for block in blocks) + gap * max(len(blocks) - 1, 0), draw)


def heading(words: str, width: float) -> Block:
    """The title of a part of the page."""
    return Block(
        HEADING_PT,
        lambda canvas, x, top: put_text(canvas, x, top - 9.5, words, BODY_PT, BOLD, longest=width),
    )


def text_block(
    words: str, width: float, *, size: float = BODY_PT, lead: str = "", bold: bool = False
) -> Block:
    """A paragraph over the whole width, with an optional bold lead or all in bold."""
    said = paragraph("" if bold else words, size, lead=words if bold else lead)
    return Block(
        height_of(said, width),
        lambda canvas, x, top: _discard(put_paragraph(canvas, said, x, top, width)),
    )


def clip(words: str, width: float, lines: int | None, *, lead: str = "", bold: bool = False) -> str:
    """The words, or as many of them as fit on so many lines of body text, with an ellipsis."""

    if lines is None:
        return words
    highest = lines * float(style(BODY_PT).leading) + 0.1

    def fits(shown: str) -> bool:
        return text_block(shown, width, lead=lead, bold=bold).height <= highest

    if fits(words):
        return words
    low, high = 0, len(words)
    while low < high:
        middle = (low + high + 1) // 2
        low, high = (middle, high) if fits(f"{words[:middle].rstrip()}…") else (low, middle - 1)
    return f"{words[:low].rstrip()}…"


def fact_list(facts: Sequence[Fact], width: float, label_width: float, gap: float = 0) -> Block:
    """Bold labels in a column, their values beside them."""
    return stack([_fact(fact, width, label_width) for fact in facts], gap)


def _fact(fact: Fact, width: float, label_width: float) -> Block:
    value = paragraph(fact.value)
    value_width = width - label_width

    def draw(canvas: Canvas, x: float, top: float) -> None:
        put_text(canvas, x, top - 8.6, fact.label, BODY_PT, BOLD, longest=label_width - 4)
        put_paragraph(canvas, value, x + label_width, top, value_width)

    return Block(height_of(value, value_width), draw)


def _discard(_height: float) -> None:
    """A drawn paragraph's height is known to its block already."""

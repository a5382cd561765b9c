"""Blocks: pieces of a page that know their height and draw themselves from their top left corner.

Input: finished words. Output: `Block`s, measured for a given width. Chooses nothing.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from reportlab.pdfgen.canvas import Canvas

from handoff.draw.paper.typeface import BODY_PT, BOLD, REGULAR, SMALL_PT
from handoff.draw.paper.typeset import (
    Line,
    break_lines,
    clip,
    leading_of,
    put_lines,
    put_text,
    width_of,
)
from handoff.model.pages import Fact

GAP_PT = 7.0
TEXT_PT = 84  # where text begins beside the labels of a patient sheet
HEADING_PT = 13.0


@dataclass(frozen=True, slots=True)
class Block:
    """`draw(canvas, x, top)` draws within `height` points below `top`."""

    height: float
    draw: Callable[[Canvas, float, float], None]


def space(height: float) -> Block:
    """White space."""
    return Block(height, lambda _canvas, _x, _top: None)


def stack(blocks: Sequence[Block], gap: float = 0) -> Block:
    """Blocks below each other, `gap` points apart."""

    def draw(canvas: Canvas, x: float, top: float) -> None:
        for block in blocks:
            block.draw(canvas, x, top)
            top -= block.height + gap

    return Block(sum(block.height for block in blocks) + gap * max(len(blocks) - 1, 0), draw)


def put_in(words: str, **known: object) -> str:
    """Words with what is known once the page is laid out: `page [number] of [all]`."""
    for name, value in known.items():
        words = words.replace(f"[{name}]", str(value))
    return words


def heading(words: str, width: float) -> Block:
    """The title of a part of the page."""
    return Block(
        HEADING_PT,
        lambda canvas, x, top: put_text(canvas, x, top - 9.5, words, BODY_PT, BOLD, longest=width),
    )


def heading_with_key(words: str, key: str, width: float) -> Block:
    """The title of a part of the page, and in small type on its line what the marks mean."""
    left = width_of(words, BODY_PT, BOLD) + 10

    def draw(canvas: Canvas, x: float, top: float) -> None:
        put_text(canvas, x, top - 9.5, words, BODY_PT, BOLD)
        put_text(canvas, x + left, top - 9.5, key, SMALL_PT, longest=width - left)

    return Block(HEADING_PT, draw)


def text_block(
    words: str, width: float, *, size: float = BODY_PT, lead: str = "", bold: bool = False
) -> Block:
    """A paragraph over the whole width, with an optional bold lead or all in bold."""
    return lines_block(break_lines(words, size, width, lead, BOLD if bold else REGULAR), size)


def lines_block(lines: Sequence[Line], size: float = BODY_PT) -> Block:
    """Lines below each other."""
    return Block(
        len(lines) * leading_of(size),
        lambda canvas, x, top: put_lines(canvas, lines, x, top, size),
    )


def fact_list(facts: Sequence[Fact], width: float, label_width: float, gap: float = 0) -> Block:
    """Bold labels in a column, their values beside them."""
    return stack([_fact(fact, width, label_width) for fact in facts], gap)


def _fact(fact: Fact, width: float, label_width: float) -> Block:
    value = text_block(fact.value, width - label_width)
    label = clip(fact.label, BODY_PT, label_width - 4, 1, font=BOLD)

    def draw(canvas: Canvas, x: float, top: float) -> None:
        text_block(label, label_width, bold=True).draw(canvas, x, top)
        value.draw(canvas, x + label_width, top)

    return Block(value.height, draw)

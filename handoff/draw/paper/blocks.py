"""Blocks: pieces of a page that know their height and draw themselves from their top left corner.

Input: finished words. Output: `Block`s, measured for a given width. Chooses nothing.
"""

from collections.abc import Callable, Sequence

from handoff.draw.paper.canvas import Canvas
from handoff.draw.paper.tags import ARTIFACT, ROW_HEAD, Element
from handoff.draw.paper.typeface import BODY, BODY_BOLD, SMALL, TypeStyle
from handoff.draw.paper.typeset import Line, Typesetter, leading_of
from handoff.model.frozen import Frozen
from handoff.model.pages import Fact

GAP_PT = 7.0
TEXT_PT = 84  # where text begins beside the labels of a patient sheet
HEADING_PT = 13.0
# What facts are: all of them, one, its label, its value.
LISTED = ("L", "LI", "Lbl", "LBody")
TABLED = ("Table", "TR", ROW_HEAD, "TD")


class Block(Frozen):
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


def broken(blocks: Sequence[Block], height: float, gap: float) -> list[Sequence[Block]]:
    """The blocks in order, as many on a page as fit with `gap` under each; one at least."""
    pages: list[list[Block]] = [[]]
    for block in blocks:
        if pages[-1] and sum(each.height + gap for each in [*pages[-1], block]) > height:
            pages.append([])
        pages[-1].append(block)
    return list(pages)


def roled(block: Block, *roles: str) -> Block:
    """The block as an element of the last role, held by one of each role before it. They are made
    anew each time that it is drawn."""

    def draw(canvas: Canvas, x: float, top: float) -> None:
        with canvas.within(*map(Element, roles)):
            block.draw(canvas, x, top)

    return Block(block.height, draw)


def tagged(block: Block, *elements: Element) -> Block:
    """The block in the last of these elements, which other blocks share: a list or a table that
    goes on on the next page."""

    def draw(canvas: Canvas, x: float, top: float) -> None:
        with canvas.within(*elements):
            block.draw(canvas, x, top)

    return Block(block.height, draw)


def again(block: Block) -> Block:
    """What is printed again on a further page, and not read again: heads, feet, column titles."""
    return tagged(block, ARTIFACT)


def once(block: Block) -> Block:
    """What is printed again on the next page, and read aloud only where it is drawn first."""
    read = False

    def draw(canvas: Canvas, x: float, top: float) -> None:
        nonlocal read
        (again(block) if read else block).draw(canvas, x, top)
        read = True

    return Block(block.height, draw)


def put_in(words: str, **known: object) -> str:
    """Words with values known only after layout: `page [number] of [all]`."""
    for name, value in known.items():
        words = words.replace(f"[{name}]", str(value))
    return words


def heading(words: str, width: float) -> Block:
    """The title of a part of the page."""

    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.put_text((x, top - 9.5), words, BODY_BOLD, longest=width)

    return roled(Block(HEADING_PT, draw), "H2")


def headed_figure(title: str, key: str, figure: Block, words: str, width: float) -> Block:
    """A figure under its title, on whose line the meaning of the marks stands in small type. To
    who cannot see it, key and figure are the `words`.
    """
    height = HEADING_PT + figure.height

    def draw(canvas: Canvas, x: float, top: float) -> None:
        left = canvas.typesetter.width_of(title, BODY_BOLD) + 10
        with canvas.within(Element("H2")):
            canvas.put_text((x, top - 9.5), title, BODY_BOLD)
        with canvas.within(Element("Figure", words, (x, top - height, x + width, top))):
            canvas.put_text((x + left, top - 9.5), key, SMALL, longest=width - left)
            figure.draw(canvas, x, top - HEADING_PT)

    return Block(height, draw)


def lines_block(lines: Sequence[Line], size: float = BODY.size) -> Block:
    """Lines below each other."""
    return Block(
        len(lines) * leading_of(size),
        lambda canvas, x, top: canvas.put_lines(lines, x, top, size),
    )


class Layout(Frozen):
    """Lays out a page, or a part of one: words become blocks."""

    typesetter: Typesetter

    def text(self, words: str, width: float, style: TypeStyle = BODY, *, lead: str = "") -> Block:
        """A paragraph over the whole width, with an optional bold lead."""
        return lines_block(self.typesetter.break_lines(words, style, width, lead), style.size)

    def facts(
        self,
        facts: Sequence[Fact],
        widths: tuple[float, float],
        gap: float = 0,
        roles: tuple[str, str, str, str] = LISTED,
    ) -> Block:
        """Bold labels in a column, their values beside them: `widths` of all and of the labels."""
        whole, *parts = roles
        return roled(stack([self._fact(fact, widths, parts) for fact in facts], gap), whole)

    def _fact(self, fact: Fact, widths: tuple[float, float], roles: Sequence[str]) -> Block:
        (width, label_width), (of_fact, of_label, of_value) = widths, roles
        value = self.text(fact.value, width - label_width)
        label = self.text(
            self.typesetter.clip(fact.label, BODY_BOLD, label_width - 4, 1), label_width, BODY_BOLD
        )

        def draw(canvas: Canvas, x: float, top: float) -> None:
            with canvas.within(Element(of_fact)):
                with canvas.within(Element(of_label)):
                    label.draw(canvas, x, top)
                with canvas.within(Element(of_value)):
                    value.draw(canvas, x + label_width, top)

        return Block(value.height, draw)

"""The cautions of a patient sheet: urgency in a shape, what was seen, what to do, who was told.

Input: a `PatientPage` and how much of it is printed. Output: a `Block`. Never cuts an escalation,
and never puts one on the line of counted cautions.
"""

from handoff.draw.paper.blocks import TEXT_PT, Block, Layout, heading, put_in, roled, stack
from handoff.draw.paper.canvas import Canvas
from handoff.draw.paper.detail_levels import Detail
from handoff.draw.paper.tags import Element
from handoff.draw.paper.typeface import BODY, BODY_BOLD, SMALL, SMALL_PT, TypeStyle
from handoff.model.pages import Caution, PatientPage

BRIEF_LINES = 2  # of a matter on a full sheet, and as many more as its newest answer takes
TO_CHECK_LINES, NOT_JUDGED_LINES = 3, 2  # at most
LEVEL_PT = TEXT_PT - 8  # width of the word that says how urgent a caution is


class Cautions(Layout):
    """The cautions of one sheet, in so much detail."""

    page: PatientPage
    width: float
    detail: Detail

    def block(self) -> Block:
        """Escalations all in full, then others up to the number, then the rest on one line."""
        page, detail, width, clip = self.page, self.detail, self.width, self.typesetter.clip
        kept = max(detail.cautions, sum(caution.stays for caution in page.cautions))
        blocks = [heading(page.headings.cautions, width)] if detail.titles else []
        if not page.cautions:
            blocks.append(self.text(page.headings.no_cautions, width))
        set_caution = self._brief if detail.brief else self._caution
        listed = [set_caution(caution) for caution in page.cautions[:kept]]
        blocks += [roled(stack(listed, gap=detail.gap / 2), "L")] if listed else []
        if not detail.lines_to_write and any(caution.told == () for caution in page.cautions):
            blocks.append(_to_fill_in(page.headings.told_whom, width))
        if page.counted:
            blocks.append(self.text(page.counted, width))
        rest = page.cautions[kept:]
        if rest:
            names = ", ".join(caution.title for caution in rest)
            more = put_in(page.headings.more_cautions, number=len(rest), titles=names)
            blocks.append(self.text(clip(more, BODY, width, 1), width))
        if page.to_check:
            lines = detail.told_lines or TO_CHECK_LINES
            signs = clip(page.to_check, BODY_BOLD, width, lines)
            blocks.append(self.text(signs, width, BODY_BOLD))
        if page.not_judged:
            lines = detail.told_lines or NOT_JUDGED_LINES
            blocks.append(self.text(clip(page.not_judged, SMALL, width, lines), width, SMALL))
        return stack(blocks, gap=detail.gap / 2)

    def _caution(self, caution: Caution) -> Block:
        """The level's word in its shape; beside it the text of the caution."""
        words = stack(self._text_of(caution, self.width - TEXT_PT))

        def draw(canvas: Canvas, x: float, top: float) -> None:
            box = (x, top - 12, LEVEL_PT, 11.5)
            with canvas.within(Element("Lbl")):
                canvas.put_level(caution.level, caution.level_words, box, SMALL_PT, caution.mark)
            words.draw(canvas, x + TEXT_PT, top)

        words = roled(words, "LBody")
        return roled(Block(max(words.height, 12), draw), "LI")

    def _text_of(self, caution: Caution, width: float) -> list[Block]:
        """What was seen and what to do; then who was told, on lines of its own where needed."""
        detail, headings = self.detail, self.page.headings
        untold = caution.told == ()
        words = f"{caution.seen} {caution.action}".rstrip()
        lead = f"{caution.title}."
        if untold and not detail.lines_to_write:
            lead = f"{caution.title}, {headings.not_told}."
        seen = self.text(words, width, lead=lead)
        told, lines = _told(caution), detail.told_lines
        if lines is not None:
            lines = self._at_least(lines, _newest(caution), BODY, width)
        told = self.typesetter.clip(told, BODY, width, lines)
        together = self.text(f"{words} {told}".rstrip(), width, lead=lead)
        blocks = [together] if together.height == seen.height else [seen, self.text(told, width)]
        if untold and detail.lines_to_write:
            blocks.append(_to_fill_in(headings.not_told_by_whom, width))
        return blocks

    def _brief(self, caution: Caution) -> Block:
        """The caution in small lines over the whole width, for a sheet full of open matters."""
        untold = self.page.headings.untold if caution.told == () else ""
        marks = filter(None, (caution.level_words, caution.mark or untold, caution.title))
        lead = f"{' · '.join(marks)}."
        seen, clip = caution.brief or caution.seen, self.typesetter.clip
        first = f"{seen} {_newest(caution)}".rstrip()
        lines = self._at_least(BRIEF_LINES, first, SMALL, self.width, lead)
        shown = clip(f"{seen} {_told(caution)}".rstrip(), SMALL, self.width, lines, lead)
        shown = clip(shown, SMALL, self.width, self.detail.brief_lines, lead)
        return roled(self.text(shown, self.width, SMALL, lead=lead), "LI", "LBody")

    def _at_least(
        self, lines: int, words: str, style: TypeStyle, width: float, lead: str = ""
    ) -> int:
        """So many lines, or as many as the words take."""
        return max(lines, len(self.typesetter.break_lines(words, style, width, lead)))


def _told(caution: Caution) -> str:
    """The told texts about it, and those that may be, the newest first."""
    return " ".join([*(caution.told or ()), *([caution.asked] if caution.asked else [])])


def _newest(caution: Caution) -> str:
    """The newest told text. It is printed whole; older ones are cut for it."""
    return caution.told[0] if caution.told else caution.asked


def _to_fill_in(words: str, width: float) -> Block:
    """Words in bold, and a line to write on after them."""

    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.put_text((x, top - 11), words, BODY_BOLD)
        left = canvas.typesetter.width_of(words, BODY_BOLD) + 5
        canvas.rule(x + left, top - 13, width - left, 0.6)

    return Block(15, draw)

"""The cautions of a patient sheet: urgency in a shape, what was seen, what to do, who was told.

Input: a `PatientPage` and how much of it is printed. Output: a `Block`. An escalation is never
cut, and never on the line of those that are only counted.
"""

from reportlab.pdfgen.canvas import Canvas

from handoff.draw.paper.blocks import TEXT_PT, Block, heading, put_in, stack, text_block
from handoff.draw.paper.canvas import put_level, rule
from handoff.draw.paper.detail_levels import Detail
from handoff.draw.paper.typeface import BODY_PT, BOLD, SMALL_PT
from handoff.draw.paper.typeset import break_lines, clip, put_text, width_of
from handoff.model.pages import Caution, PatientPage

BRIEF_LINES = 2  # of a matter on a full sheet, and as many more as its newest answer takes
TO_CHECK_LINES, NOT_JUDGED_LINES = 3, 2  # at most
LEVEL_PT = TEXT_PT - 8  # width of the word that says how urgent a caution is


def cautions_block(page: PatientPage, width: float, detail: Detail) -> Block:
    """Escalations all in full, then others up to the number, then the rest on one line."""
    kept = max(detail.cautions, sum(caution.stays for caution in page.cautions))
    blocks = [heading(page.headings.cautions, width)]
    if not page.cautions:
        blocks.append(text_block(page.headings.no_cautions, width))
    draw = _brief if detail.brief else _caution
    blocks += [draw(page, caution, width, detail) for caution in page.cautions[:kept]]
    if not detail.lines_to_write and any(caution.told == () for caution in page.cautions):
        blocks.append(_to_fill_in(page.headings.told_whom, width))
    if page.counted:
        blocks.append(text_block(page.counted, width))
    rest = page.cautions[kept:]
    if rest:
        names = ", ".join(caution.title for caution in rest)
        more = put_in(page.headings.more_cautions, number=len(rest), titles=names)
        blocks.append(text_block(clip(more, BODY_PT, width, 1), width))
    if page.to_check:
        lines = detail.told_lines or TO_CHECK_LINES
        signs = clip(page.to_check, BODY_PT, width, lines, font=BOLD)
        blocks.append(text_block(signs, width, bold=True))
    if page.not_judged:
        reasons = clip(page.not_judged, SMALL_PT, width, detail.told_lines or NOT_JUDGED_LINES)
        blocks.append(text_block(reasons, width, size=SMALL_PT))
    return stack(blocks, gap=detail.gap / 2)


def _caution(page: PatientPage, caution: Caution, width: float, detail: Detail) -> Block:
    """The level's word in its shape; beside it what is said."""
    said = stack(_said(page, caution, width - TEXT_PT, detail))

    def draw(canvas: Canvas, x: float, top: float) -> None:
        box = (x, top - 12, LEVEL_PT, 11.5)
        put_level(canvas, caution.level, caution.level_words, box, SMALL_PT, caution.mark)
        said.draw(canvas, x + TEXT_PT, top)

    return Block(max(said.height, 12), draw)


def _said(page: PatientPage, caution: Caution, width: float, detail: Detail) -> list[Block]:
    """What was seen and what to do; then who was told, on lines of its own where it takes any."""
    untold = caution.told == ()
    words, told_words = f"{caution.seen} {caution.action}".rstrip(), _told(caution)
    lead = f"{caution.title}."
    if untold and not detail.lines_to_write:
        lead = f"{caution.title}, {page.headings.not_told}."
    seen = text_block(words, width, lead=lead)
    told = _clipped(told_words, _newest(caution), BODY_PT, width, detail.told_lines)
    together = text_block(f"{words} {told}".rstrip(), width, lead=lead)
    said = [together] if together.height == seen.height else [seen, text_block(told, width)]
    if untold and detail.lines_to_write:
        said.append(_to_fill_in(page.headings.not_told_by_whom, width))
    return said


def _told(caution: Caution) -> str:
    """What was told of it, or may have been, the newest first."""
    return " ".join([*(caution.told or ()), *([caution.asked] if caution.asked else [])])


def _newest(caution: Caution) -> str:
    """The newest answer, which is printed whole; older ones give way to it."""
    return caution.told[0] if caution.told else caution.asked


def _brief(page: PatientPage, caution: Caution, width: float, detail: Detail) -> Block:
    """What is open in a few small lines over the whole width: the sheet is full of it."""
    untold = page.headings.untold if caution.told == () else ""
    marks = filter(None, (caution.level_words, caution.mark or untold, caution.title))
    lead = f"{' · '.join(marks)}."
    seen = caution.brief or caution.seen
    words, first = f"{seen} {_told(caution)}".rstrip(), f"{seen} {_newest(caution)}".rstrip()
    shown = _clipped(words, first, SMALL_PT, width, BRIEF_LINES, lead)
    shown = clip(shown, SMALL_PT, width, detail.brief_lines, lead)
    return text_block(shown, width, size=SMALL_PT, lead=lead)


def _clipped(
    words: str, first: str, size: float, width: float, lines: int | None, lead: str = ""
) -> str:
    """The words on so many lines, or on as many as what they begin with takes."""
    if lines is not None:
        lines = max(lines, len(break_lines(first, size, width, lead)))
    return clip(words, size, width, lines, lead)


def _to_fill_in(words: str, width: float) -> Block:
    """Words in bold, and a line to write on after them."""

    def draw(canvas: Canvas, x: float, top: float) -> None:
        put_text(canvas, x, top - 11, words, BODY_PT, BOLD)
        left = width_of(words, BODY_PT, BOLD) + 5
        rule(canvas, x + left, top - 13, width - left, 0.6)

    return Block(15, draw)

"""The patient sheet: exactly one page, whatever the log holds.

Input: a `PatientPage` and the function that draws its chart. Output: the PDF of one page. When
there is too much, details give way one after the other; escalations, identity, chart, hours strip
and foot never do.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from reportlab.pdfgen.canvas import Canvas

from handoff.draw.paper.blocks import (
    TEXT_PT,
    Block,
    fact_list,
    heading,
    heading_with_key,
    put_in,
    space,
    stack,
    text_block,
)
from handoff.draw.paper.canvas import (
    MARGIN_PT,
    open_canvas,
    put_drawing,
    put_level,
    put_tick_box,
    rule,
)
from handoff.draw.paper.cautions import cautions_block
from handoff.draw.paper.detail_levels import WANTED_CHART_PT, Detail, ladder
from handoff.draw.paper.strip import strip_block
from handoff.draw.paper.typeface import BED_PT, BODY_PT, BOLD, NAME_PT, SMALL_PT
from handoff.draw.paper.typeset import clip, put_text, width_of
from handoff.model.figure import Drawing, VolumeChart
from handoff.model.pages import Fact, Identity, PatientPage

ChartDrawer = Callable[[VolumeChart, float, float], Drawing]

MOST_CHART_PT = 236
# The grid: labels from 0, text from TEXT_PT; beside them set-up, and at the right edge a column of
# RIGHT_PT for the priority, the names of the chart's lines and the next shift.
SET_UP_PT, RIGHT_PT, GUTTER_PT = 126, 136, 12
SET_UP_LABEL_PT = 54
AS_OF_PT, SHEET_PT = 38, 49.8  # baselines, those of unit and shift beside a name of one line
TICK_PT = 14  # a tick box and the space after it
MOVED_LINES = 3
CAPITALS = 0.27  # from the top of a line to that of its capitals, in sizes


@dataclass(frozen=True, slots=True)
class _Fitted:
    """The blocks that fit, and the height that they leave for the chart."""

    above: Sequence[Block]
    below: Sequence[Block]
    foot: Block
    chart_height: float
    gap: float


def draw_patient(
    page: PatientPage,
    paper: tuple[float, float],
    draw_chart: ChartDrawer,
    title: str,
    language: str = "en",
) -> bytes:
    """The sheet as the bytes of a one-page PDF; `paper` is (width, height) in points."""
    canvas, stream = open_canvas(paper, title, language, page.label)
    width, height = paper[0] - 2 * MARGIN_PT, paper[1] - 2 * MARGIN_PT
    fitted = _fit(page, width, height)
    most = MOST_CHART_PT if page.chart.readings else WANTED_CHART_PT
    chart = _chart(page, width, min(fitted.chart_height, most), draw_chart)
    top = paper[1] - MARGIN_PT
    for block in (*fitted.above, chart, *fitted.below):
        block.draw(canvas, MARGIN_PT, top)
        top -= block.height + fitted.gap
    fitted.foot.draw(canvas, MARGIN_PT, MARGIN_PT + fitted.foot.height)
    canvas.bookmarkPage("sheet")
    canvas.showPage()
    canvas.save()
    return stream.getvalue()


def _fit(page: PatientPage, width: float, height: float) -> _Fitted:
    """The first rung of the ladder on which everything fits above the foot."""
    foot, strip = _foot(page, width), strip_block(page, width)
    for detail in ladder():
        identity = _identity(page, width, detail)
        above = [identity, _paragraphs(page, width, detail), cautions_block(page, width, detail)]
        below = [strip, _lower(page, width, detail), _notes(page, width, detail)]
        blocks = [*above, *below, foot]
        taken = sum(block.height + detail.gap for block in blocks if block.height)
        if taken + detail.chart_pt <= height:
            break
    return _Fitted(above, below, foot, height - taken, detail.gap)


def _identity(page: PatientPage, width: float, detail: Detail) -> Block:
    """Bed, two identifiers, unit and shift, priority; a long name wraps and is never cut. On a full
    sheet the precautions stand below, over the whole width."""
    who = page.identity
    middle = width - TEXT_PT - RIGHT_PT - GUTTER_PT
    name_size = _largest(who.name, middle, (NAME_PT, BODY_PT))
    lines = [
        text_block(who.name, middle, size=name_size, bold=True),
        text_block(who.id, middle, bold=True),
        *([] if detail.brief else _precautions(who, middle, detail)),
        *_alerts(who, middle),
        text_block(clip(page.unit, BODY_PT, middle, 1), middle),
        text_block(clip(page.shift, BODY_PT, middle, 1), middle),
    ]
    names = stack(lines, gap=1)
    bed_size = _largest(who.bed, TEXT_PT - 6, (BED_PT, NAME_PT, BODY_PT))
    bed = text_block(who.bed, TEXT_PT - 6, size=bed_size, bold=True)
    moved = clip(who.moved, SMALL_PT, TEXT_PT - 6, MOVED_LINES, font=BOLD)
    word = stack(
        [
            text_block(page.bed_word, TEXT_PT - 6, size=SMALL_PT),
            *([text_block(moved, TEXT_PT - 6, size=SMALL_PT, bold=True)] if moved else []),
        ]
    )
    # The capitals of bed and name are level; marks over a letter would stand in the margin.
    raised = CAPITALS * (bed_size - NAME_PT) if who.bed.isascii() else 0
    below = stack(_precautions(who, width, detail) if detail.brief else [])
    height = max(names.height, bed.height - raised + word.height, 58) + below.height + 5

    def draw(canvas: Canvas, x: float, top: float) -> None:
        bed.draw(canvas, x, top + raised)
        word.draw(canvas, x, top + raised - bed.height)
        names.draw(canvas, x + TEXT_PT, top)
        right = x + width
        box = (right - RIGHT_PT, top - CAPITALS * NAME_PT - 24, RIGHT_PT, 24)
        put_level(canvas, page.priority, page.priority_words, box, NAME_PT, page.priority_mark)
        put_text(canvas, right, top - AS_OF_PT, page.as_of, BODY_PT, align=1, longest=RIGHT_PT)
        put_text(canvas, right, top - SHEET_PT, page.sheet, BODY_PT, align=1)
        below.draw(canvas, x, top - height + 5 + below.height)
        rule(canvas, x, top - height, width, 1.2)

    return Block(height, draw)


def _precautions(who: Identity, width: float, detail: Detail) -> list[Block]:
    """Never cut."""
    size = detail.precautions_pt
    return [text_block(who.precautions, width, size=size, bold=True)] if who.precautions else []


def _alerts(who: Identity, width: float) -> Iterator[Block]:
    """What must not be overlooked of the name and of the logs."""
    for words in filter(None, (who.alert, who.unknown)):
        yield text_block(clip(words, BODY_PT, width, 2, font=BOLD), width, bold=True)


def _largest(words: str, width: float, sizes: Sequence[float]) -> float:
    """The first size in which the words fit on a line in bold, else the last."""
    return next((size for size in sizes if width_of(words, size, BOLD) <= width), sizes[-1])


def _paragraphs(page: PatientPage, width: float, detail: Detail) -> Block:
    lines = detail.paragraph_lines
    facts = [
        replace(fact, value=clip(fact.value, BODY_PT, width - TEXT_PT, lines))
        for fact in page.paragraphs
    ]
    return fact_list(facts, width, TEXT_PT, gap=detail.gap / 2)


def _chart(page: PatientPage, width: float, height: float, draw_chart: ChartDrawer) -> Block:
    title = heading_with_key(page.chart_title, page.chart_key, width)
    drawing = draw_chart(page.chart, width, height - title.height)

    def draw(canvas: Canvas, x: float, top: float) -> None:
        title.draw(canvas, x, top)
        put_drawing(canvas, drawing, x, top - height)

    return Block(height, draw)


def _lower(page: PatientPage, width: float, detail: Detail) -> Block:
    """Numbers, beside set-up, beside what the next shift should do, which on a full sheet has half
    of the width: then the set-up stands below the numbers."""
    set_up_left = _set_up_left(width)
    numbers = [fact for fact in page.numbers if fact.rank <= detail.numbers]
    half = (width - GUTTER_PT) / 2
    columns: tuple[tuple[Block, float], ...]
    if detail.brief:
        columns = (
            (_numbers_and_set_up(page, numbers, half, detail), 0.0),
            (_ticks(page, half, detail), width - half),
        )
    else:
        columns = (
            (_facts(page.headings.numbers, numbers, set_up_left - GUTTER_PT, TEXT_PT), 0.0),
            (_facts(page.headings.set_up, page.set_up, SET_UP_PT, SET_UP_LABEL_PT), set_up_left),
            (_ticks(page, RIGHT_PT, detail), width - RIGHT_PT),
        )

    def draw(canvas: Canvas, x: float, top: float) -> None:
        for block, offset in columns:
            block.draw(canvas, x + offset, top)

    return Block(max(block.height for block, _ in columns), draw)


def _numbers_and_set_up(
    page: PatientPage, numbers: Sequence[Fact], width: float, detail: Detail
) -> Block:
    states = "; ".join(f"{fact.label}: {fact.value}" for fact in page.set_up)
    set_up = text_block(states, width, lead=page.headings.set_up)
    title = [heading(page.headings.numbers, width)] if detail.numbers_title else []
    return stack([*title, fact_list(numbers, width, TEXT_PT), set_up], gap=2)


def _set_up_left(width: float) -> float:
    return width - RIGHT_PT - GUTTER_PT - SET_UP_PT


def _facts(title: str, facts: Sequence[Fact], width: float, label_width: float) -> Block:
    return stack([heading(title, width), fact_list(facts, width, label_width)], gap=2)


def _ticks(page: PatientPage, width: float, detail: Detail) -> Block:
    kept = max(detail.ticks, page.closing)
    shown = (*page.next_shift[:kept], *[""] * detail.empty_ticks)
    lines = [
        _tick(clip(words, BODY_PT, width - TICK_PT, detail.tick_lines), width) for words in shown
    ]
    return stack(
        [heading(page.headings.next_shift, width), *lines], gap=min(max(detail.gap - 2, 0), 2)
    )


def _tick(words: str, width: float) -> Block:
    said = text_block(words, width - TICK_PT)
    height = max(said.height, 12)

    def draw(canvas: Canvas, x: float, top: float) -> None:
        put_tick_box(canvas, x, top - 9)
        said.draw(canvas, x + TICK_PT, top)
        if not words:
            rule(canvas, x + TICK_PT, top - 10.5, width - TICK_PT)

    return Block(height, draw)


def _notes(page: PatientPage, width: float, detail: Detail) -> Block:
    """The newest notes, newest first; the older ones as a count."""
    kept = page.notes[: detail.notes]
    older = len(page.notes) - len(kept)
    lines = [_note(note.at, note.text, width, detail.note_lines) for note in kept]
    if not page.notes:
        return space(0)
    if not kept:
        return heading(put_in(page.headings.only_counted_notes, number=older), width)
    if older:
        lines.append(text_block(put_in(page.headings.more_notes, number=older), width))
    return stack([heading(page.headings.notes, width), *lines], gap=1)


def _note(at: str, words: str, width: float, lines: int | None) -> Block:
    return text_block(clip(words, BODY_PT, width, lines, lead=at), width, lead=at)


def _foot(page: PatientPage, width: float) -> Block:
    words = [text_block(line, width, size=SMALL_PT) for line in page.standing]
    shown = clip(page.set_aside, SMALL_PT, width, 1, font=BOLD)
    aside = text_block(shown, width, size=SMALL_PT, bold=True)
    return stack(
        [_rule(width), *([aside] if page.set_aside else []), *words, _signatures(page, width)],
        gap=1,
    )


def _rule(width: float) -> Block:
    return Block(3, lambda canvas, x, top: rule(canvas, x, top, width, 0.8))


def _signatures(page: PatientPage, width: float) -> Block:
    second = _set_up_left(width)
    who = (
        (page.headings.outgoing, page.signature.outgoing, 0.0, second - GUTTER_PT),
        (page.headings.incoming, page.signature.incoming, second, width),
    )

    def draw(canvas: Canvas, x: float, top: float) -> None:
        for label, name, left, right in who:
            shown = clip(f"{label}: {name or ''}".rstrip(), BODY_PT, right - left - 90, 1)
            put_text(canvas, x + left, top - 18, shown)
            line = left + width_of(shown, BODY_PT) + 6
            rule(canvas, x + line, top - 19, right - line)

    return Block(20, draw)

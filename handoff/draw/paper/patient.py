"""The patient sheet: exactly one page, whatever the log holds.

Input: a `PatientPage` and the function that draws its chart. Output: the PDF of one page. When the
page is too full, details are cut one after the other; escalations, identity, chart, hours strip and
foot never are.
"""

from collections.abc import Callable, Sequence
from functools import cached_property
from operator import attrgetter
from typing import Any, NamedTuple

from msgspec.structs import replace

from handoff.draw.paper.blocks import (
    HEADING_PT,
    TABLED,
    TEXT_PT,
    Block,
    Layout,
    headed_figure,
    heading,
    put_in,
    roled,
    space,
    stack,
    tagged,
)
from handoff.draw.paper.canvas import MARGIN_PT, Canvas, Document
from handoff.draw.paper.cautions import Cautions
from handoff.draw.paper.detail_levels import (
    OF_CAUTIONS,
    WANTED_CHART_PT,
    Detail,
    detail_levels,
    with_more_notes,
    with_more_numbers,
)
from handoff.draw.paper.strip import strip_block
from handoff.draw.paper.tags import Element
from handoff.draw.paper.typeface import (
    BED_PT,
    BODY,
    BODY_BOLD,
    BODY_PT,
    BOLD,
    NAME_PT,
    SMALL,
    SMALL_BOLD,
    TypeStyle,
)
from handoff.model.figure import Drawing, VolumeChart
from handoff.model.frozen import Frozen
from handoff.model.pages import Fact, Note, Paragraph, PatientPage, Rank

ChartDrawer = Callable[[VolumeChart, float, float], Drawing]

MOST_CHART_PT = 236
# The grid: labels from 0, text from TEXT_PT; beside them set-up, and at the right edge a column of
# RIGHT_PT for the priority, the names of the chart's lines and the next shift.
SET_UP_PT, RIGHT_PT, GUTTER_PT = 126, 136, 12
SET_UP_LABEL_PT = 54
AS_OF_PT, SHEET_PT = 38, 49.8  # baselines, those of unit and shift beside a name of one line
TICK_PT = 14  # a tick box and the space after it
MOVED_LINES = 3
NOTES_GAP_PT = 4.0  # between the numbers or set-up and the notes under them
CAPITALS = 0.27  # from the top of a line to that of its capitals, in sizes


class Sheet(NamedTuple):
    """The bytes of a one-page PDF, and the notes that are not on it word for word."""

    content: bytes
    cut_notes: tuple[Note, ...]


def draw_patient(page: PatientPage, document: Document, draw_chart: ChartDrawer) -> Sheet:
    """The sheet, and what found no room on it."""
    canvas = Canvas(document, document.paper, page.label)
    width, height = (length - 2 * MARGIN_PT for length in document.paper)
    fitted = PatientSheet(document.typesetter, page, width).fit(height)
    most = MOST_CHART_PT if page.chart.readings else WANTED_CHART_PT
    chart = _chart(page, width, min(fitted.chart_height, most), draw_chart)
    top = document.paper[1] - MARGIN_PT
    for block in (*fitted.above, chart, *fitted.below):
        block.draw(canvas, MARGIN_PT, top)
        top -= block.height + fitted.gap
    fitted.foot.draw(canvas, MARGIN_PT, MARGIN_PT + fitted.foot.height)
    canvas.bookmarkPage("sheet")
    canvas.showPage()
    return Sheet(canvas.finished(), fitted.cut_notes)


def _chart(page: PatientPage, width: float, height: float, draw_chart: ChartDrawer) -> Block:
    drawing = draw_chart(page.chart, width, height - HEADING_PT)
    chart = Block(
        drawing.height, lambda canvas, x, top: canvas.put_drawing(drawing, x, top - drawing.height)
    )
    return headed_figure(page.chart_title, page.chart_key, chart, page.chart_words, width)


class Fitted(Frozen):
    """The blocks that fit, the height left for the chart, and the notes that are cut."""

    above: Sequence[Block]
    below: Sequence[Block]
    foot: Block
    chart_height: float
    gap: float
    cut_notes: tuple[Note, ...]


class Notes(Frozen):
    """The notes in the free space under numbers and set-up, and those below over the whole width;
    and those that are not printed word for word.
    """

    beside: Block
    below: Block
    cut: tuple[Note, ...]


class PatientSheet(Layout, dict=True):
    """The blocks of one sheet, of a given width."""

    page: PatientPage
    width: float

    def fit(self, height: float) -> Fitted:
        """The most detail with which all fits above the foot. More of the notes come back into the
        room that other parts gave, then more of the numbers into what is free beside the next
        shift's.
        """
        for detail in detail_levels():
            fitted = self._with(detail, height)
            if fitted.chart_height >= detail.chart_pt:
                break
        for more in with_more_notes(detail) if fitted.cut_notes else ():
            fuller = self._with(more, height)
            if fuller.chart_height >= more.chart_pt:
                fitted, detail = fuller, more
                break
        for more in with_more_numbers(detail):
            fuller = self._with(more, height)
            if fuller.chart_height >= more.chart_pt and fuller.cut_notes == fitted.cut_notes:
                return fuller
        return fitted

    def _with(self, detail: Detail, height: float) -> Fitted:
        """The blocks in so much detail, and what is left of the height."""
        cautions = self._once(
            self._cautions, **{part: getattr(detail, part) for part in OF_CAUTIONS}
        )
        identity = self._once(
            self._identity, brief=detail.brief, precautions_pt=detail.precautions_pt
        )
        paragraphs = self._once(
            self._paragraphs,
            lines=detail.paragraph_lines,
            said_twice=detail.said_twice,
            gap=detail.gap,
        )
        above = [identity, paragraphs, cautions]
        lower, notes = self._lower(detail)
        below = [self._strip, self._once(self._call_if, brief=detail.brief), lower, notes.below]
        blocks = [*above, *below, self._foot]
        taken = sum(block.height + detail.gap for block in blocks if block.height)
        return Fitted(above, below, self._foot, height - taken, detail.gap, notes.cut)

    def _once(self, make: Callable[..., Block], **given: object) -> Block:
        """What `make` makes of these, made once: a level of detail changes one part and leaves the
        others as they are.
        """
        key = (make.__name__, *given.values())
        if key not in self._made:
            self._made[key] = make(**given)
        return self._made[key]

    @cached_property
    def _made(self) -> dict[tuple[object, ...], Block]:
        return {}

    @cached_property
    def _strip(self) -> Block:
        return strip_block(self.page, self.width)

    def _identity(self, *, brief: bool, precautions_pt: float) -> Block:
        """Bed, two identifiers, unit and shift, priority; a long name wraps and is never cut. On a
        full sheet the precautions stand below, over the whole width."""
        page, who, clip = self.page, self.page.identity, self.typesetter.clip
        width, bed_width = self.width, TEXT_PT - 6
        middle = width - TEXT_PT - RIGHT_PT - GUTTER_PT
        name_style = self._largest(who.name, middle, (NAME_PT, BODY_PT))
        alerts = [
            clip(each, BODY_BOLD, middle, 2)
            for each in (who.judged_as, who.alert, who.unknown)
            if each
        ]
        lines = [
            *([] if brief else self._precautions(middle, precautions_pt)),
            *(self.text(alert, middle, BODY_BOLD) for alert in alerts),
            self.text(clip(page.unit, BODY, middle, 1), middle),
            self.text(clip(page.shift, BODY, middle, 1), middle),
        ]
        name, names = self.text(who.name, middle, name_style), stack(lines, gap=1)
        identifier = self.text(who.id, middle, BODY_BOLD)
        bed_style = self._largest(who.bed, bed_width, (BED_PT, NAME_PT, BODY_PT))
        bed = self.text(who.bed, bed_width, bed_style)
        word = self.text(page.bed_word, bed_width, SMALL)
        moved = (
            self.text(clip(who.moved, SMALL_BOLD, bed_width, MOVED_LINES), bed_width, SMALL_BOLD)
            if who.moved
            else space(0)
        )
        # The capitals of bed and name are level; marks over a letter would stand in the margin.
        raised = CAPITALS * (bed_style.size - NAME_PT) if who.bed.isascii() else 0
        below = stack(self._precautions(width, precautions_pt) if brief else [])
        left = bed.height - raised + word.height + moved.height
        height = (
            max(name.height + identifier.height + names.height + 2, left, 58) + below.height + 5
        )

        def draw(canvas: Canvas, x: float, top: float) -> None:
            title = Element("H1")  # read as 'bed 3A' and the name
            tagged(word, title).draw(canvas, x, top + raised - bed.height)
            tagged(bed, title).draw(canvas, x, top + raised)
            tagged(name, title).draw(canvas, x + TEXT_PT, top)
            identifier.draw(canvas, x + TEXT_PT, top - name.height - 1)
            right = x + width
            box = (right - RIGHT_PT, top - CAPITALS * NAME_PT - 24, RIGHT_PT, 24)
            canvas.put_level(page.priority, page.priority_words, box, NAME_PT, page.priority_mark)
            moved.draw(canvas, x, top + raised - bed.height - word.height)
            names.draw(canvas, x + TEXT_PT, top - name.height - identifier.height - 2)
            canvas.put_text((right, top - AS_OF_PT), page.as_of, align=1, longest=RIGHT_PT)
            canvas.put_text((right, top - SHEET_PT), page.sheet, align=1)
            below.draw(canvas, x, top - height + 5 + below.height)
            canvas.rule(x, top - height, width, 1.2)

        return Block(height, draw)

    def _precautions(self, width: float, size: float) -> list[Block]:
        """Never cut."""
        words = self.page.identity.precautions
        return [self.text(words, width, TypeStyle(size, BOLD))] if words else []

    def _largest(self, words: str, width: float, sizes: Sequence[float]) -> TypeStyle:
        """The first size in which the words fit on a line in bold, else the last."""
        styles = [TypeStyle(size, BOLD) for size in sizes]
        fitting = (each for each in styles if self.typesetter.width_of(words, each) <= width)
        return next(fitting, styles[-1])

    def _paragraphs(self, *, lines: int | None, said_twice: bool, gap: float) -> Block:
        width = self.width - TEXT_PT
        shown = self.page.paragraphs if said_twice else self.page.paragraphs[1:-1]
        facts = [Fact(each.label, self._in_lines(each, width, lines)) for each in shown]
        return self.facts(facts, (self.width, TEXT_PT), gap / 2)

    def _in_lines(self, paragraph: Paragraph, width: float, lines: int | None) -> str:
        """Its sentences without the least important ones that take it over so many lines. What is
        always said is whole; where nothing is, the end of the last sentence is cut.
        """
        setter, kept = self.typesetter, paragraph
        while lines and len(setter.break_lines(kept.value, BODY, width)) > lines:
            may_go = [each for each in kept.sentences if each.rank > Rank.ALWAYS]
            if not may_go:
                return kept.value
            if len(kept.sentences) == 1:
                return setter.clip(kept.value, BODY, width, lines)
            last = max(reversed(may_go), key=attrgetter("rank"))
            kept = replace(kept, sentences=tuple(each for each in kept.sentences if each != last))
        return kept.value

    def _cautions(self, **parts: Any) -> Block:  # noqa: ANN401 - the fields of a `Detail`
        return Cautions(self.typesetter, self.page, self.width, Detail(**parts)).block()

    def _lower(self, detail: Detail) -> tuple[Block, Notes]:
        """Numbers, set-up and the next shift's lines side by side. On a full sheet the next shift
        has half of the width, and the set-up is below the numbers. The notes begin in the free
        space that this leaves.
        """
        width = self.width
        columns: tuple[tuple[Block, float], ...]
        if detail.brief:
            ticks_width = left_width = (width - GUTTER_PT) / 2
            numbers = self._once(
                self._numbers_and_set_up,
                rank=detail.numbers,
                width=left_width,
                titled=detail.titles,
            )
            columns = ((numbers, 0.0),)
        else:
            ticks_width, left_width = RIGHT_PT, width - RIGHT_PT - GUTTER_PT
            numbers = self._once(self._numbers, rank=detail.numbers)
            columns = ((numbers, 0.0), (self._once(self._set_up), self._set_up_left))
        ticks = self._once(
            self._ticks,
            width=ticks_width,
            most=detail.ticks,
            longest=detail.tick_lines,
            empty=detail.empty_ticks,
            gap=detail.gap,
        )
        taken = max(each.height for each, _ in columns)
        notes = self._notes(detail, left_width, ticks.height - taken - NOTES_GAP_PT)

        def draw(canvas: Canvas, x: float, top: float) -> None:
            for block, offset in columns:
                block.draw(canvas, x + offset, top)
            ticks.draw(canvas, x + width - ticks_width, top)
            notes.beside.draw(canvas, x, top - taken - NOTES_GAP_PT)

        return Block(max(taken, ticks.height), draw), notes

    @property
    def _set_up_left(self) -> float:
        return self.width - RIGHT_PT - GUTTER_PT - SET_UP_PT

    def _numbers(self, *, rank: Rank) -> Block:
        width = self._set_up_left - GUTTER_PT
        return stack([heading(self.page.headings.numbers, width), self._table(rank, width)], gap=2)

    def _set_up(self) -> Block:
        title = heading(self.page.headings.set_up, SET_UP_PT)
        widths = SET_UP_PT, SET_UP_LABEL_PT
        return stack([title, self.facts(self.page.set_up, widths, roles=TABLED)], gap=2)

    def _numbers_and_set_up(self, *, rank: Rank, width: float, titled: bool) -> Block:
        titles = self.page.headings
        states = "; ".join(f"{fact.label}: {fact.value}" for fact in self.page.set_up)
        set_up = self.text(states, width, lead=titles.set_up)
        title = [heading(titles.numbers, width)] if titled else []
        return stack([*title, self._table(rank, width), set_up], gap=2)

    def _table(self, rank: Rank, width: float) -> Block:
        """The numbers of this rank or a higher one."""
        numbers = [fact for fact in self.page.numbers if fact.rank <= rank]
        return self.facts(numbers, (width, TEXT_PT), roles=TABLED)

    def _ticks(
        self, *, width: float, most: int, longest: int | None, empty: int, gap: float
    ) -> Block:
        page, clip = self.page, self.typesetter.clip
        kept = max(most, page.closing)
        shown = (*page.next_shift[:kept], *[""] * empty)
        lines = [self._tick(clip(words, BODY, width - TICK_PT, longest), width) for words in shown]
        gap = min(max(gap - 2, 0), 2)
        listed = roled(stack(lines, gap), "L")
        return stack([heading(page.headings.next_shift, width), listed], gap)

    def _tick(self, words: str, width: float) -> Block:
        text, box = roled(self.text(words, width - TICK_PT), "LBody"), self.page.headings.tick_box

        def draw(canvas: Canvas, x: float, top: float) -> None:
            if not words:  # a line to write on
                canvas.put_tick_box(x, top - 9)
                canvas.rule(x + TICK_PT, top - 10.5, width - TICK_PT)
                return
            with canvas.within(Element("LI")):
                with canvas.within(Element("Lbl")):
                    canvas.put_tick_box(x, top - 9, box)
                text.draw(canvas, x + TICK_PT, top)

        return Block(max(text.height, 12), draw)

    def _call_if(self, *, brief: bool) -> Block:
        """Never cut; on a full sheet in small type."""
        fact, style = self.page.call_if, SMALL if brief else BODY
        return self.text(fact.value, self.width, style, lead=fact.label)

    def _notes(self, detail: Detail, width: float, room: float) -> Notes:
        """The newest notes, newest first; the older ones as a count. They begin in a free space of
        `width` and `room`, where the title and the first note fit in it, and are whole there.
        """
        page, clip = self.page, self.typesetter.clip
        kept = page.notes[: detail.notes]
        older, cut = len(page.notes) - len(kept), list(page.notes[len(kept) :])
        if not page.notes:
            return Notes(space(0), space(0), ())
        words = page.headings.notes if kept else page.headings.only_counted_notes
        listed = Element("L")  # begun beside and gone on below

        def item(words: str, width: float, lead: str) -> Block:
            return tagged(roled(self.text(words, width, lead=lead), "LI", "LBody"), listed)

        beside, below = [heading(put_in(words, number=older), width)], list[Block]()
        for note in kept:
            if not below:
                block = item(note.text, width, note.at)
                if stack([*beside, block], gap=1).height <= room:
                    beside.append(block)
                    continue
            shown = clip(note.text, BODY, self.width, detail.note_lines, note.at)
            below.append(item(shown, self.width, note.at))
            cut += [note] if shown != note.text else []
        if older and kept:
            more = put_in(page.headings.more_notes, number=older)
            below.append(self.text(more, self.width))
        if stack(beside, gap=1).height > room or (kept and len(beside) == 1):
            beside, below = [], [*beside, *below]
        ordered = tuple(each for each in page.notes if each in cut)
        return Notes(stack(beside, gap=1), stack(below, gap=1), ordered)

    @cached_property
    def _foot(self) -> Block:
        page, width = self.page, self.width
        line = Block(3, lambda canvas, x, top: canvas.rule(x, top, width, 0.8))
        aside = self.text(
            self.typesetter.clip(page.set_aside, SMALL_BOLD, width, 1), width, SMALL_BOLD
        )
        standing = [self.text(each, width, SMALL) for each in page.standing]
        blocks = [line, *([aside] if page.set_aside else []), *standing, self._signatures()]
        return stack(blocks, gap=1)

    def _signatures(self) -> Block:
        titles, signature, second = self.page.headings, self.page.signature, self._set_up_left
        typesetter = self.typesetter
        who = (
            (titles.outgoing, signature.outgoing, 0.0, second - GUTTER_PT),
            (titles.incoming, signature.incoming, second, self.width),
        )

        def draw(canvas: Canvas, x: float, top: float) -> None:
            for label, name, left, right in who:
                words = f"{label}: {name or ''}".rstrip()
                shown = typesetter.clip(words, BODY, right - left - 90, 1)
                canvas.put_text((x + left, top - 18), shown)
                line = left + typesetter.width_of(shown) + 6
                canvas.rule(x + line, top - 19, right - line)

        return Block(20, draw)

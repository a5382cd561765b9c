"""The courses of all patients: small charts, four beside each other, twelve to a page.

Input: a `CoursesPage` and the function that draws one chart. Output: PDF bytes. The charts of a
page share the height that the words leave. Where that is too little for three rows of charts,
fewer are on the page. Nothing is cut.
"""

from collections.abc import Callable, Iterator, Sequence
from functools import cached_property
from itertools import accumulate

from handoff.draw.paper.blocks import Block, Layout, again, roled, stack
from handoff.draw.paper.canvas import MARGIN_PT, Canvas, Document
from handoff.draw.paper.tags import Element
from handoff.draw.paper.typeface import (
    BODY_BOLD,
    NAME_BOLD,
    NAME_PT,
    SMALL,
    SMALL_BOLD,
    SMALL_PT,
    TypeStyle,
)
from handoff.draw.paper.typeset import BASELINE, leading_of
from handoff.draw.paper.unit import HEADER_PT, draw_header
from handoff.model.figure import Drawing, VolumeChart
from handoff.model.frozen import Frozen
from handoff.model.lists import Course, CoursesPage

CourseDrawer = Callable[[VolumeChart, float, float, float], Drawing]

ACROSS, ROWS = 4, 3  # charts beside each other, rows on a page
GUTTER_PT, GAP_PT, PAD_PT = 14.0, 6.0, 3.0
LEAST_CHART_PT, MOST_CHART_PT = 56.0, 96.0
LEVEL_PT, LEVEL_WIDTH_PT, MARK_WIDTH_PT = 12.0, 54.0, 30.0


def draw_courses(page: CoursesPage, document: Document, draw_course: CourseDrawer) -> bytes:
    """The page as PDF bytes, on the paper the long way across."""
    width, top = document.across[0] - 2 * MARGIN_PT, document.across[1] - MARGIN_PT
    canvas = Canvas(document, document.across)
    layout = CoursesLayout(document.typesetter, page, width, draw_course)
    foot = layout.foot()
    height = top - HEADER_PT - foot.height - MARGIN_PT
    sheets = list(layout.sheets(height))
    for number, sheet in enumerate(sheets, start=1):
        head = (page.title, page.shift, page.as_of)
        draw_header(canvas, head, document.across, page.page_words, (number, len(sheets)))
        sheet.draw(canvas, MARGIN_PT, top - HEADER_PT)
        last = foot if number == len(sheets) else again(foot)
        last.draw(canvas, MARGIN_PT, MARGIN_PT + foot.height)
        canvas.showPage()
    return canvas.finished()


class Row(Frozen):
    """Courses side by side, with the words above and below their charts."""

    courses: Sequence[Course]
    above: Sequence[Block]
    below: Sequence[Block]

    @property
    def head(self) -> float:
        """The height of the words above."""
        return max(block.height for block in self.above)

    @property
    def least(self) -> float:
        """The height of the row with the lowest charts."""
        below = max(block.height for block in self.below)
        return PAD_PT + self.head + LEAST_CHART_PT + below + GAP_PT


class CoursesLayout(Layout, dict=True):
    """The blocks of the page, of a given width."""

    page: CoursesPage
    width: float
    draw_course: CourseDrawer

    def sheets(self, height: float) -> Iterator[Block]:
        """The page sheet by sheet; at least one, since a PDF without a page cannot be opened."""
        courses = self.page.courses
        rows = [self._row(courses[start:][:ACROSS]) for start in range(0, len(courses), ACROSS)]
        if not rows:
            yield self.text(self.page.empty, self.width)
        while rows:
            ends = accumulate(row.least for row in rows[:ROWS])
            count = max(sum(end <= height for end in ends), 1)
            spare = height - sum(row.least for row in rows[:count])
            chart = min(LEAST_CHART_PT + max(spare, 0) / count, MOST_CHART_PT)
            yield stack([self._drawn(row, chart) for row in rows[:count]])
            rows = rows[count:]

    def foot(self) -> Block:
        """What the marks mean, and the limits in force, under a line."""
        line = Block(3, lambda canvas, x, top: canvas.rule(x, top, self.width))
        words = (self.page.key, self.page.standing)
        return stack([line, *(self.text(each, self.width, SMALL) for each in words)])

    @cached_property
    def longest_name(self) -> float:
        """The width of the longest name of a line: so all time axes have one length."""
        names = [
            (line.label, SMALL_BOLD if course.chart.fell else SMALL)
            for course in self.page.courses
            for line in (*course.chart.levels, course.chart.usual)
            if line
        ]
        names += [(course.chart.last_label, SMALL_BOLD) for course in self.page.courses]
        return max((self.typesetter.width_of(*name) for name in names), default=0.0)

    def _row(self, courses: Sequence[Course]) -> Row:
        width = self._column
        above = [self._who(course, width) for course in courses]
        below = [self._below(course, width) for course in courses]
        return Row(courses, above, below)

    def _drawn(self, row: Row, chart_height: float) -> Block:
        """Courses side by side, their charts of one height and on one line."""
        width, longest = self._column, self.longest_name
        charts = [
            self.draw_course(each.chart, width, chart_height, longest) for each in row.courses
        ]

        def draw(canvas: Canvas, x: float, top: float) -> None:
            bottom = top - PAD_PT - row.head - chart_height
            both = zip(row.courses, charts, strict=True)
            for who, (course, chart), words in zip(row.above, both, row.below, strict=True):
                who.draw(canvas, x, top - PAD_PT)
                canvas.put_drawing(chart, x, bottom, course.chart_words)
                words.draw(canvas, x, bottom)
                x += width + GUTTER_PT

        return Block(row.least - LEAST_CHART_PT + chart_height, draw)

    @property
    def _column(self) -> float:
        return (self.width - (ACROSS - 1) * GUTTER_PT) / ACROSS

    def _who(self, course: Course, width: float) -> Block:
        """Bed and verdict; the urgency beside the name; then its reason, two identifiers, and what
        is heavy.
        """
        style = NAME_BOLD if course.is_heavy else SMALL
        beside = width - self.typesetter.width_of(course.verdict, style) - GAP_PT
        fits = self.typesetter.width_of(course.bed, NAME_BOLD) <= beside
        bed = self.text(course.bed, beside, NAME_BOLD if fits else SMALL_BOLD)
        first = max(bed.height, leading_of(NAME_PT))
        marks = LEVEL_WIDTH_PT + (MARK_WIDTH_PT if course.priority_mark else 0)
        name = self.text(course.name, width - marks - GAP_PT, BODY_BOLD)
        second = max(name.height, LEVEL_PT + 1)
        alerts = [self._line(each, width, SMALL_BOLD) for each in course.alerts]
        reason = [self._line(course.reason, width, SMALL_BOLD)] if course.reason else []
        small = stack([*reason, self._line(course.id, width), *alerts])

        def draw(canvas: Canvas, x: float, top: float) -> None:
            below = top - first
            with canvas.within(Element("H2")):
                bed.draw(canvas, x, top)
                name.draw(canvas, x + marks + GAP_PT, below)
            box = (x, below - LEVEL_PT, marks, LEVEL_PT)
            words, mark = course.priority_words, course.priority_mark
            canvas.put_level(course.priority, words, box, SMALL_PT, mark)
            with canvas.paragraph():
                baseline = top - BASELINE * NAME_PT
                canvas.put_text((x + width, baseline), course.verdict, style, align=1)
            small.draw(canvas, x, below - second)

        return Block(first + second + small.height, draw)

    def _line(self, words: str, width: float, style: TypeStyle = SMALL) -> Block:
        return roled(self.text(words, width, style), "P")

    def _below(self, course: Course, width: float) -> Block:
        """The lowest SpO2, and in heavy type a last reading off form and what is open."""
        off_form, opened = (
            [self._line(each, width, SMALL_BOLD)] if each else []
            for each in (course.off_form, course.open)
        )
        return stack([*off_form, self._line(course.spo2, width), *opened])

"""The figures of a unit's weeks: `BegunCurve`, `WeeksChart`, `HeatMap` -> `Drawing`.

Everything is black, white or grey: what matters differs in shape or line as well. Axes of shares
begin at zero.
"""

from collections.abc import Iterator, Sequence
from itertools import pairwise

from handoff.draw.chart.paths import CIRCLE, Point, area, grey, line, marks, segments
from handoff.draw.chart.volume import BLACK, DARK, MIDLINE_PT, PALE, SMALL_PT, WHITE
from handoff.model.figure import (
    BegunCurve,
    Drawing,
    HeatMap,
    Named,
    Path,
    ReviewChart,
    Text,
    WeeksChart,
)
from handoff.model.frozen import Frozen

LEFT_PT, RIGHT_PT, TOP_PT, BOTTOM_PT = 34.0, 14.0, 7.0, 15.0
MIDDLE_PT = 58.0  # right of a chart of weeks: for the name of its middle line
WAITING_PT = 12.0  # for the line of those still waiting
DAYS_PT = 34.0  # for the names of a heat map's rows
INTERVAL = grey(221 / 255)
LIMIT_DASH, MIDDLE_DASH = (2.5, 2.0), (7.0, 3.0)
ALL = 100  # per cent
RING_PT, DOT_PT, SMALL_DOT_PT, MANY_DOTS = 9.5, 4.6, 3.2, 30
# Tones of a heat map, from nothing done to all done. Words on it are white below `TURNS_WHITE`:
# both kinds then keep a contrast of 4.4 to 1 or more (WCAG 2.2).
DARKEST, LIGHTEST, TURNS_WHITE = 0.18, 0.97, 0.458


def draw_review_chart(chart: ReviewChart, width: float, height: float) -> Drawing:
    """A figure of the review in a box of `width` x `height` points."""
    match chart:
        case BegunCurve():
            paths, texts = _draw_begun(chart, width, height)
        case WeeksChart():
            paths, texts = _draw_weeks(chart, width, height)
        case HeatMap():
            paths, texts = _draw_heat(chart, width, height)
    return Drawing(width, height, tuple(path for path in paths if path.commands), tuple(texts))


class _Axes(Frozen):
    """The place of the axes, and the scales from numbers to points."""

    left: float
    bottom: float
    right: float
    top: float
    x_low: float
    x_high: float
    y_high: float

    def at(self, x: float, y: float) -> Point:
        across = (x - self.x_low) / ((self.x_high - self.x_low) or 1)
        up = self.bottom + y / self.y_high * (self.top - self.bottom)
        return self.left + across * (self.right - self.left), up

    def frame(self, xs: Sequence[Named], ys: Sequence[Named]) -> Iterator[Path]:
        """Hairlines at the numbers of the upward axis, the foot, and its ticks."""
        heights = [self.at(self.x_low, y)[1] for y, _ in ys]
        yield segments([((self.left, y), (self.right, y)) for y in heights], PALE, 0.4)
        yield segments([((self.left, self.bottom), (self.right, self.bottom))], BLACK, 0.8)
        feet = [self.at(x, 0)[0] for x, _ in xs]
        yield segments([((x, self.bottom), (x, self.bottom - 3)) for x in feet], BLACK, 0.6)

    def numbers(self, xs: Sequence[Named], ys: Sequence[Named]) -> Iterator[Text]:
        for y, words in ys:
            height = self.at(self.x_low, y)[1] - MIDLINE_PT
            yield Text(self.left - 4, height, words, SMALL_PT, align=1)
        for x, words in xs:
            yield Text(self.at(x, 0)[0], self.bottom - 11, words, SMALL_PT, align=0.5)


Marks = tuple[list[Path], list[Text]]


def _draw_begun(chart: BegunCurve, width: float, height: float) -> Marks:
    """A staircase with its interval behind it; under it how many are still waiting."""
    bottom = BOTTOM_PT + 2 * WAITING_PT
    axes = _Axes(LEFT_PT, bottom, width - RIGHT_PT, height - TOP_PT, 0, chart.until_h, 1)
    paths: list[Path] = []
    clip = (axes.left, axes.bottom, axes.right - axes.left, axes.top - axes.bottom)
    ends = [*(step[0] for step in chart.steps[1:]), chart.until_h]
    for (start, _, low, high), end in zip(chart.steps, ends, strict=True):
        (left, foot), (right, top) = axes.at(start, low), axes.at(end, high)
        paths.append(area((left, foot, right - left, top - foot), INTERVAL, clip))
    paths += axes.frame(chart.hours, chart.shares)
    stairs = [axes.at(0, 0)]
    for hour, share, _, _ in chart.steps:
        stairs += [(axes.at(hour, 0)[0], stairs[-1][1]), axes.at(hour, share)]
    stairs.append((axes.right, stairs[-1][1]))
    paths.append(line(stairs, BLACK, 1.4))
    texts = [*axes.numbers(chart.hours, chart.shares)]
    words = axes.bottom - 11 - WAITING_PT
    texts.append(Text(axes.left, words, chart.hours_label, SMALL_PT))
    for hour, waiting in chart.waiting:
        at = axes.at(hour, 0)[0]
        texts.append(Text(at, words - WAITING_PT, waiting, SMALL_PT, bold=True, align=0.5))
    texts.append(Text(0, words - WAITING_PT, chart.waiting_label, SMALL_PT))
    return paths, texts


def _draw_weeks(chart: WeeksChart, width: float, height: float) -> Marks:
    """Points joined where both are known: hollow where a part of the days has no log, ringed
    beyond a limit.
    """
    top = chart.percents[-1][0]
    last = len(chart.dots) - 0.5
    axes = _Axes(LEFT_PT, BOTTOM_PT, width - MIDDLE_PT, height - TOP_PT, -0.5, last, top)
    paths = [*axes.frame(chart.days, chart.percents)]
    texts = [*axes.numbers(chart.days, chart.percents)]
    for number, dot in enumerate(chart.dots):
        for limit in (dot.low, dot.high):
            if limit is not None and 0 < limit < ALL:  # at the ends it says nothing
                ends = [axes.at(number - 0.5, limit), axes.at(number + 0.5, limit)]
                paths.append(line(ends, DARK, 0.9, LIMIT_DASH))
    if chart.middle is not None:
        ends = [axes.at(-0.5, chart.middle), axes.at(last, chart.middle)]
        paths.append(line(ends, DARK, 0.9, MIDDLE_DASH))
        texts.append(Text(axes.right + 3, ends[0][1] - MIDLINE_PT, chart.middle_label, SMALL_PT))
    known = [(number, dot) for number, dot in enumerate(chart.dots) if dot.percent is not None]
    at = {number: axes.at(number, dot.percent or 0) for number, dot in known}
    joined = [(at[one], at[next_]) for one, next_ in pairwise(at) if next_ == one + 1]
    paths.append(segments(joined, DARK, 0.8))
    size = SMALL_DOT_PT if len(chart.dots) > MANY_DOTS else DOT_PT
    outside = [at[number] for number, dot in known if dot.is_outside]
    paths.append(marks(outside, CIRCLE, RING_PT, WHITE, 1.2))
    for is_whole, face in ((True, BLACK), (False, WHITE)):
        places = [at[number] for number, dot in known if dot.is_whole is is_whole]
        paths.append(marks(places, CIRCLE, size, face, 0.7))
    return paths, texts


def _draw_heat(chart: HeatMap, width: float, height: float) -> Marks:
    """A grid of tones, the number in each cell; a stroke where the cell is not shown."""
    across = (width - DAYS_PT) / len(chart.columns)
    down = (height - SMALL_PT - 6) / len(chart.rows)
    paths: list[Path] = []
    texts: list[Text] = []
    for place, column in enumerate(chart.columns):
        middle = DAYS_PT + (place + 0.5) * across
        texts.append(Text(middle, height - SMALL_PT, column, SMALL_PT, align=0.5))
    for row, (name, cells) in enumerate(chart.rows):
        foot = height - SMALL_PT - 6 - (row + 1) * down
        baseline = foot + down / 2 - MIDLINE_PT
        texts.append(Text(0, baseline, name, SMALL_PT))
        for place, cell in enumerate(cells):
            if cell is None:
                continue
            left = DAYS_PT + place * across
            box = (left + 0.5, foot + 0.5, across - 1, down - 1)
            if cell.share is None:
                middle, half = foot + down / 2, across / 5
                centre = left + across / 2
                ends = ((centre - half, middle), (centre + half, middle))
                paths.append(segments([ends], DARK, 0.6))
                continue
            tone = DARKEST + cell.share * (LIGHTEST - DARKEST)
            paths.append(area(box, grey(round(tone, 3)), box))
            centre, is_white = left + across / 2, tone < TURNS_WHITE
            number = Text(centre, baseline, cell.label, SMALL_PT, align=0.5, is_white=is_white)
            texts.append(number)
    return paths, texts

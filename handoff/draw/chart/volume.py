"""The volume chart: `VolumeChart` -> `Drawing`.

Every line is named at its end, in one column right of the axes; labels that would touch are moved
apart and tied to their line by a hairline. The volume axis starts at zero.
"""

from collections.abc import Iterable, Iterator, Sequence

from handoff.draw.chart.paths import (
    CIRCLE,
    CROSS,
    TRIANGLE,
    Rectangle,
    Segment,
    Shape,
    area,
    grey,
    line,
    marks,
    segments,
)
from handoff.model.figure import Drawing, Mark, Path, Style, Text, VolumeChart
from handoff.model.frozen import Frozen

SMALL_PT = 8
ROUNDING_PT = 0.1  # else the longest name may be cut, where a sum falls short by a hair
LABEL_GAP_PT = 9.0
LEFT_PT, RIGHT_PT, TOP_PT, BOTTOM_PT = 32.0, 136.0 + LABEL_GAP_PT, 6.0, 15.0
COURSE_LEFT_PT, COURSE_MARK_SIZE = 2.0, 0.62  # of one chart among others
LABEL_LEADING_PT = 9.5
MIDLINE_PT = SMALL_PT * 0.33  # from a label's baseline to the middle of its letters
LONG_TICK_PT, SHORT_TICK_PT = 12.0, 3.0
LONG_DASH = (14.0, 2.5)  # of the usual
RING_PT = 8.5  # around the last readings, where the volume fell
DIZZY_HEIGHT = 0.035  # of the axis: just above its foot
BLACK, DARK, PALE, NIGHT, WHITE = (grey(tone / 255) for tone in (0, 58, 200, 236, 255))
DASHES: dict[Style, tuple[float, ...]] = {
    Style.GOAL: (7, 2, 1.5, 2),
    Style.BASELINE: (1.5, 2),
    Style.SCALE: (),
}
WEIGHTS = {Style.GOAL: 1.1, Style.BASELINE: 1.0, Style.SCALE: 0.5}
MARKERS: dict[Mark, tuple[Shape, float]] = {
    Mark.GOOD: (CIRCLE, 3.8),
    Mark.OFF_FORM: (CIRCLE, 3.8),
    Mark.AT_SCALE: (TRIANGLE, 5.5),
}


class _Label(Frozen):
    """A name in the column right of the axes: its wanted height, and its height."""

    wanted: float
    placed: float
    text: str
    bold: bool


class Box(Frozen):
    """The axes' place, and the scales from hours and mL to points. Left of the axes is room for the
    volumes, right of them for the names of the lines, below for the days.
    """

    chart: VolumeChart
    width: float
    height: float
    left: float = LEFT_PT
    names_pt: float = RIGHT_PT
    bottom: float = BOTTOM_PT
    mark_size: float = 1.0

    @property
    def right(self) -> float:
        """The right end of the axes."""
        return self.width - self.names_pt

    @property
    def top(self) -> float:
        """The upper end of the axes."""
        return self.height - TOP_PT

    @property
    def axes(self) -> Rectangle:
        """The place of the axes."""
        return self.left, self.bottom, self.right - self.left, self.top - self.bottom

    def x(self, hours: float) -> float:
        """The place of an hour from 'data as of'."""
        share = (hours - self.chart.x_low_h) / (self.chart.x_high_h - self.chart.x_low_h)
        return self.left + share * (self.right - self.left)

    def y(self, volume_ml: float) -> float:
        """The height of a volume."""
        return self.bottom + volume_ml / self.chart.top_ml * (self.top - self.bottom)


def draw_volume(chart: VolumeChart, width: float, height: float) -> Drawing:
    """The volume chart in a box of `width` x `height` points."""
    box = Box(chart, width, height)
    labels = _placed(box)
    # From back to front: later marks cover earlier ones.
    paths = (
        *_nights(box),
        _steps(box),
        *_levels(box),
        *_usual(box),
        *_trend(box),
        *_readings(box),
        *_axis(box),
        _ties(box, labels),
    )
    return _drawing(box, paths, (*_volumes(box), *_days(box), *_names(box, labels)))


def draw_course(chart: VolumeChart, width: float, height: float, longest_name_pt: float) -> Drawing:
    """The chart of one patient among others, in a small box: smaller marks, and no volumes beside
    the axis, since the lines are named with theirs.
    """
    names_pt = LABEL_GAP_PT + longest_name_pt + ROUNDING_PT
    box = Box(chart, width, height, COURSE_LEFT_PT, names_pt, mark_size=COURSE_MARK_SIZE)
    labels = _placed(box)
    paths = (
        *_levels(box),
        *_usual(box),
        *_readings(box),
        *_axis(box),
        _ties(box, labels),
    )
    return _drawing(box, paths, (*_days(box), *_names(box, labels)))


def _drawing(box: Box, paths: Iterable[Path], texts: Iterable[Text]) -> Drawing:
    drawn = tuple(path for path in paths if path.commands)
    return Drawing(box.width, box.height, drawn, tuple(texts))


def _nights(box: Box) -> Iterator[Path]:
    for start, end in box.chart.nights:
        left, right = box.x(start), box.x(end)
        yield area((left, box.bottom, right - left, box.top - box.bottom), NIGHT, box.axes)


def _steps(box: Box) -> Path:
    """Hairlines at round steps."""
    heights = [box.y(step) for step in box.chart.steps_ml]
    return segments([((box.left, y), (box.right, y)) for y in heights], PALE, 0.4)


def _axis(box: Box) -> Iterator[Path]:
    """The foot of the axes; long ticks at midnights, short ones at shift changes."""
    yield segments([((box.left, box.bottom), (box.right, box.bottom))], BLACK, 0.8)
    # A pale shade is lost on a copy: the axis is thick at night as well.
    nights = [(box.x(start), box.x(end)) for start, end in box.chart.nights]
    yield segments(
        [((left, box.bottom), (right, box.bottom)) for left, right in nights], BLACK, 3.0
    )
    ticks: list[Segment] = []
    for tick in box.chart.ticks:
        length = LONG_TICK_PT if tick.label else SHORT_TICK_PT
        x = box.x(tick.x_h)
        ticks.append(((x, box.bottom), (x, box.bottom - length)))
    yield segments(ticks, BLACK, 0.6)


def _volumes(box: Box) -> Iterator[Text]:
    """The volumes at the hairlines."""
    for step in box.chart.steps_ml:
        yield Text(box.left - 4, box.y(step) - MIDLINE_PT, f"{step:,}", SMALL_PT, align=1)


def _days(box: Box) -> Iterator[Text]:
    """The days at the long ticks, and why there is no reading."""
    chart = box.chart
    for tick in chart.ticks:
        if tick.label:
            yield Text(box.x(tick.x_h) + 3, box.bottom - LONG_TICK_PT, tick.label, SMALL_PT)
    if chart.empty_words:
        middle = (box.left + box.right) / 2, (box.bottom + box.top) / 2
        yield Text(*middle, chart.empty_words, SMALL_PT, align=0.5)


def _levels(box: Box) -> Iterator[Path]:
    for level in box.chart.levels:
        height = box.y(level.volume_ml)
        across = [(box.left, height), (box.right, height)]
        yield line(across, DARK, WEIGHTS[level.style], DASHES[level.style], box.axes)


def _usual(box: Box) -> Iterator[Path]:
    """The usual volume; a heavy line where the volume fell under it."""
    usual = box.chart.usual
    if usual is not None:
        height = box.y(usual.volume_ml)
        across = [(box.x(usual.x0_h), height), (box.right, height)]
        width, dash = (2.2, ()) if box.chart.fell else (0.8, LONG_DASH)
        yield line(across, BLACK, width, dash, box.axes)


def _trend(box: Box) -> Iterator[Path]:
    trend = box.chart.trend
    if trend is None:
        return
    thin, thick = (0.5, (0.8, 2.2)), (1.3, (6.5, 3.2))
    for ends, (width, dash) in (
        (trend.low_ml, thin),
        (trend.high_ml, thin),
        (trend.middle_ml, thick),
    ):
        across = zip((trend.x0_h, trend.x1_h), ends, strict=True)
        points = [(box.x(hours), box.y(volume_ml)) for hours, volume_ml in across]
        yield line(points, BLACK, width, dash, box.axes)


def _readings(box: Box) -> Iterator[Path]:
    chart = box.chart
    middles = [(box.x(hours), box.y(volume_ml)) for hours, volume_ml in chart.middles]
    yield line(middles, DARK, 1.4 * box.mark_size, clip=box.axes)
    if chart.fell:
        last = [(box.x(hours), box.y(volume_ml)) for hours, volume_ml in chart.last]
        yield marks(last, CIRCLE, box.mark_size * RING_PT, WHITE, 1.4 * box.mark_size)
    for mark, (shape, size) in MARKERS.items():
        marked = [reading for reading in chart.readings if reading.mark is mark]
        places = [(box.x(reading.x_h), box.y(reading.volume_ml)) for reading in marked]
        face = WHITE if mark is Mark.OFF_FORM else BLACK
        yield marks(places, shape, box.mark_size * size, face, 0.7 * box.mark_size)
    dizzy = [(box.x(hours), box.y(chart.top_ml * DIZZY_HEIGHT)) for hours in chart.dizzy]
    yield marks(dizzy, CROSS, 4.5, BLACK, 1.1)


def _placed(box: Box) -> list[_Label]:
    """The names of the lines, with their wanted and their final heights."""
    chart = box.chart
    named = [(level.volume_ml, level.label, False) for level in chart.levels]
    if chart.trend:
        named.append((chart.trend.middle_ml[1], chart.trend.label, False))
    if chart.usual:
        named.append((chart.usual.volume_ml, chart.usual.label, chart.fell))
    if chart.last_label:
        named.append((chart.last[0][1] if chart.last else 0.0, chart.last_label, True))
    if chart.dizzy:
        named.append((chart.top_ml * DIZZY_HEIGHT, chart.dizzy_label, False))
    wanted = [min(max(box.y(volume_ml), box.bottom), box.top) for volume_ml, _, _ in named]
    placed = spread(wanted, LABEL_LEADING_PT, box.bottom + MIDLINE_PT, box.top)
    return [
        _Label(want, place, text, bold)
        for want, place, (_, text, bold) in zip(wanted, placed, named, strict=True)
    ]


def spread(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Heights as near as may be to those wanted, at least `gap` apart, within `low` to `high`.

    Keeps the order of the wanted heights (equals in the order given). Where the column is too
    short for all, the labels keep their distance and run over its lower end.
    """
    order = sorted(range(len(wanted)), key=lambda index: wanted[index], reverse=True)
    placed = [0.0] * len(wanted)
    ceiling = high
    for index in order:
        placed[index] = min(wanted[index], ceiling)
        ceiling = placed[index] - gap
    floor = low
    for index in reversed(order):
        if placed[index] >= floor:
            break
        placed[index] = floor
        floor += gap
    return placed


def _ties(box: Box, labels: Sequence[_Label]) -> Path:
    """A hairline from each line's end to its name."""
    gap = LABEL_GAP_PT - 2
    ends = [((box.right, each.wanted), (box.right + gap, each.placed)) for each in labels]
    return segments(ends, BLACK, 0.4)


def _names(box: Box, labels: Sequence[_Label]) -> Iterator[Text]:
    left = box.right + LABEL_GAP_PT
    return (Text(left, each.placed - MIDLINE_PT, each.text, SMALL_PT, each.bold) for each in labels)

"""The volume chart: `VolumeChart` -> `Drawing`.

matplotlib's artists draw the marks; the page sets the words in its own type. Every line is named at
its end, in one column right of the axes; labels that would touch are moved apart and tied to their
line by a hairline. The volume axis starts at zero.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from matplotlib.artist import Artist
from matplotlib.lines import Line2D
from matplotlib.patches import PathPatch, Rectangle
from matplotlib.path import Path as MarkPath
from matplotlib.transforms import Bbox

from handoff.chart.labels import spread
from handoff.chart.recorder import Recorder
from handoff.page import Drawing, Mark, Style, Text, VolumeChart

SMALL_PT = 8
LABEL_GAP_PT = 9.0
LEFT_PT, RIGHT_PT, TOP_PT, BOTTOM_PT = 32.0, 136.0 + LABEL_GAP_PT, 6.0, 15.0
LABEL_LEADING_PT = 9.5
MIDLINE_PT = SMALL_PT * 0.33  # from a label's baseline to the middle of its letters
LONG_TICK_PT, SHORT_TICK_PT = 12.0, 3.0
DIZZY_HEIGHT = 0.035  # of the axis: just above its foot
BLACK, DARK, PALE, NIGHT = "#000000", "#3A3A3A", "#C8C8C8", "#ECECEC"
DASHES: dict[Style, tuple[float, ...]] = {
    Style.GOAL: (7, 2, 1.5, 2),
    Style.BASELINE: (1.5, 2),
    Style.SCALE: (),
}
WEIGHTS = {Style.GOAL: 1.1, Style.BASELINE: 1.0, Style.SCALE: 0.6}
# A circle of four curves, which differs from one by 0.03 %; matplotlib's own takes eight.
BEND = 0.2652  # from the end of a quarter to its control point, in diameters
CIRCLE = MarkPath(
    [
        *((0.5, 0), (0.5, BEND), (BEND, 0.5), (0, 0.5), (-BEND, 0.5), (-0.5, BEND), (-0.5, 0)),
        *((-0.5, -BEND), (-BEND, -0.5), (0, -0.5), (BEND, -0.5), (0.5, -BEND), (0.5, 0), (0.5, 0)),
    ],
    [MarkPath.MOVETO, *(MarkPath.CURVE4,) * 12, MarkPath.CLOSEPOLY],
)
MARKERS: dict[Mark, tuple[str | MarkPath, float]] = {
    Mark.GOOD: (CIRCLE, 3.8),
    Mark.OFF_FORM: (CIRCLE, 3.8),
    Mark.AT_SCALE: ("^", 5.5),
}

Point = tuple[float, float]
Segment = tuple[Point, Point]


@dataclass(frozen=True, slots=True)
class _Label:
    """A name in the column right of the axes: the height that it wants, and the one it gets."""

    wanted: float
    placed: float
    text: str
    bold: bool


@dataclass(frozen=True, slots=True)
class _Box:
    """Where the axes stand, and the scales from hours and mL to points."""

    chart: VolumeChart
    width: float
    height: float

    @property
    def right(self) -> float:
        return self.width - RIGHT_PT

    @property
    def top(self) -> float:
        return self.height - TOP_PT

    @property
    def axes(self) -> Bbox:
        return Bbox.from_extents(LEFT_PT, BOTTOM_PT, self.right, self.top)

    def x(self, hours: float) -> float:
        share = (hours - self.chart.x_low_h) / (self.chart.x_high_h - self.chart.x_low_h)
        return LEFT_PT + share * (self.right - LEFT_PT)

    def y(self, volume_ml: float) -> float:
        return BOTTOM_PT + volume_ml / self.chart.top_ml * (self.top - BOTTOM_PT)


def draw_volume(chart: VolumeChart, width: float, height: float) -> Drawing:
    """The volume chart in a box of `width` x `height` points."""
    box = _Box(chart, width, height)
    labels = _placed(box)
    artists = [
        *_nights(box),
        *_frame(box),
        *_levels(box),
        *_trend(box),
        *_readings(box),
        _ties(box, labels),
    ]
    recorder = Recorder(width, height)
    for artist in sorted(artists, key=Artist.get_zorder):
        artist.draw(recorder)
    return Drawing(width, height, tuple(recorder.paths), (*_axis_words(box), *_names(box, labels)))


def _nights(box: _Box) -> Iterator[Artist]:
    for start, end in box.chart.nights:
        left, right = box.x(start), box.x(end)
        night = Rectangle((left, BOTTOM_PT), right - left, box.top - BOTTOM_PT, zorder=0)
        night.set(color=NIGHT, linewidth=0, clip_box=box.axes)
        yield night


def _frame(box: _Box) -> Iterator[Artist]:
    """Hairlines at round steps; long ticks at midnights, short ones at shift changes."""
    chart = box.chart
    hairlines: list[Segment] = [
        ((LEFT_PT, box.y(step)), (box.right, box.y(step))) for step in chart.steps_ml
    ]
    yield _segments(hairlines, PALE, 0.4, zorder=1)
    yield _segments([((LEFT_PT, BOTTOM_PT), (box.right, BOTTOM_PT))], BLACK, 0.8, zorder=7)
    # A pale shade is lost on a copy: the axis is thick at night as well.
    nights: list[Segment] = [
        ((box.x(start), BOTTOM_PT), (box.x(end), BOTTOM_PT)) for start, end in chart.nights
    ]
    yield _segments(nights, BLACK, 3.0, zorder=7)
    ticks: list[Segment] = []
    for tick in chart.ticks:
        length = LONG_TICK_PT if tick.label else SHORT_TICK_PT
        x = box.x(tick.x_h)
        ticks.append(((x, BOTTOM_PT), (x, BOTTOM_PT - length)))
    yield _segments(ticks, BLACK, 0.6, zorder=7)


def _axis_words(box: _Box) -> Iterator[Text]:
    """The volumes at the hairlines, the days at the long ticks, and why there is no reading."""
    chart = box.chart
    for step in chart.steps_ml:
        yield Text(LEFT_PT - 4, box.y(step) - MIDLINE_PT, f"{step:,}", SMALL_PT, align=1)
    for tick in chart.ticks:
        if tick.label:
            yield Text(box.x(tick.x_h) + 3, BOTTOM_PT - LONG_TICK_PT, tick.label, SMALL_PT)
    if chart.empty_words:
        middle = (LEFT_PT + box.right) / 2, (BOTTOM_PT + box.top) / 2
        yield Text(*middle, chart.empty_words, SMALL_PT, align=0.5)


def _levels(box: _Box) -> Iterator[Artist]:
    for level in box.chart.levels:
        height = box.y(level.volume_ml)
        across = [(LEFT_PT, height), (box.right, height)]
        yield _line(box, across, DARK, WEIGHTS[level.style], DASHES[level.style])


def _trend(box: _Box) -> Iterator[Artist]:
    trend = box.chart.trend
    if trend is None:
        return
    thin, thick = (BLACK, 0.5, (0.8, 2.2)), (BLACK, 1.3, (6.5, 3.2))
    for ends, style in ((trend.low_ml, thin), (trend.high_ml, thin), (trend.middle_ml, thick)):
        across = zip((trend.x0_h, trend.x1_h), ends, strict=True)
        yield _line(box, [(box.x(hours), box.y(volume_ml)) for hours, volume_ml in across], *style)


def _readings(box: _Box) -> Iterator[Artist]:
    chart = box.chart
    bests = [(box.x(hours), box.y(volume_ml)) for hours, volume_ml in chart.block_bests]
    yield _line(box, bests, DARK, 1.0, ())
    for mark, (shape, size) in MARKERS.items():
        marked = [reading for reading in chart.readings if reading.mark is mark]
        places = [(box.x(reading.x_h), box.y(reading.volume_ml)) for reading in marked]
        face = "#FFFFFF" if mark is Mark.OFF_FORM else BLACK
        yield _marks(places, shape, size, face, edge_width=0.7)
    dizzy = [(box.x(hours), box.y(chart.top_ml * DIZZY_HEIGHT)) for hours in chart.dizzy]
    yield _marks(dizzy, "x", 4.5, BLACK, edge_width=1.1)


def _placed(box: _Box) -> list[_Label]:
    """The names of the lines, with the heights that they want and those that they get."""
    chart = box.chart
    named = [(level.volume_ml, level.label, False) for level in chart.levels]
    if chart.trend:
        named.append((chart.trend.middle_ml[1], chart.trend.label, False))
    if chart.best_label and chart.block_bests:
        named.append((chart.block_bests[-1][1], chart.best_label, True))
    if chart.dizzy:
        named.append((chart.top_ml * DIZZY_HEIGHT, chart.dizzy_label, False))
    wanted = [min(max(box.y(volume_ml), BOTTOM_PT), box.top) for volume_ml, _, _ in named]
    placed = spread(wanted, LABEL_LEADING_PT, BOTTOM_PT + MIDLINE_PT, box.top)
    return [
        _Label(want, place, text, bold)
        for want, place, (_, text, bold) in zip(wanted, placed, named, strict=True)
    ]


def _ties(box: _Box, labels: Sequence[_Label]) -> Artist:
    """A hairline from each line's end to its name."""
    gap = LABEL_GAP_PT - 2
    ties: list[Segment] = [
        ((box.right, each.wanted), (box.right + gap, each.placed)) for each in labels
    ]
    return _segments(ties, BLACK, 0.4, zorder=7)


def _names(box: _Box, labels: Sequence[_Label]) -> Iterator[Text]:
    left = box.right + LABEL_GAP_PT
    return (Text(left, each.placed - MIDLINE_PT, each.text, SMALL_PT, each.bold) for each in labels)


def _line(
    box: _Box, points: Sequence[Point], color: str, width: float, dash: tuple[float, ...]
) -> Artist:
    """A line of data, cut at the edge of the axes; `dash` in points."""
    x, y = zip(*points, strict=True) if points else ((), ())
    line = Line2D(x, y, color=color, linewidth=width, zorder=4)
    line.set_clip_box(box.axes)
    if dash:
        line.set_dashes([part / width for part in dash])
    return line


def _marks(
    places: Sequence[Point], shape: str | MarkPath, size: float, face: str, edge_width: float
) -> Artist:
    """One mark at each place, whole also at the edge of the axes."""
    x, y = zip(*places, strict=True) if places else ((), ())
    return Line2D(
        x,
        y,
        linestyle="none",
        marker=shape,
        markersize=size,
        markerfacecolor=face,
        markeredgecolor=BLACK,
        markeredgewidth=edge_width,
        zorder=6,
    )


def _segments(segments: Sequence[Segment], color: str, width: float, zorder: float) -> Artist:
    """Straight lines as one path."""
    path = MarkPath.make_compound_path(*(MarkPath(segment) for segment in segments))
    return PathPatch(path, edgecolor=color, linewidth=width, fill=False, zorder=zorder)

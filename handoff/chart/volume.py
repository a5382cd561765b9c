"""The volume chart: `VolumeChart` -> `Drawing`.

matplotlib draws the marks; the page sets the words in its own type. Every line is named at its end,
in one column right of the axes; labels that would touch are moved apart and tied to their line by a
hairline. The volume axis starts at zero.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.transforms import IdentityTransform, Transform

from handoff.chart.labels import spread
from handoff.chart.recorder import Recorder
from handoff.page import Drawing, LevelLine, Mark, Style, Text, VolumeChart

SMALL_PT = 8
LEFT_PT, RIGHT_PT, TOP_PT, BOTTOM_PT = 32.0, 128.0, 12.0, 15.0
LABEL_GAP_PT = 9.0
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
MARKERS = {Mark.GOOD: ("o", 3.8), Mark.OFF_FORM: ("o", 3.8), Mark.AT_SCALE: ("^", 5.5)}

Segment = tuple[tuple[float, float], tuple[float, float]]


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

    def x(self, hours: float) -> float:
        share = (hours - self.chart.x_low_h) / (self.chart.x_high_h - self.chart.x_low_h)
        return LEFT_PT + share * (self.right - LEFT_PT)

    def y(self, volume_ml: float) -> float:
        return BOTTOM_PT + volume_ml / self.chart.top_ml * (self.top - BOTTOM_PT)


def draw_volume(chart: VolumeChart, width: float, height: float) -> Drawing:
    """The volume chart in a box of `width` x `height` points."""
    box = _Box(chart, width, height)
    labels = _placed(box)
    figure = _figure()
    (axes,) = figure.axes
    figure.set_size_inches(width / 72, height / 72)
    axes.set_position(
        (
            LEFT_PT / width,
            BOTTOM_PT / height,
            (box.right - LEFT_PT) / width,
            (box.top - BOTTOM_PT) / height,
        )
    )
    axes.set_xlim(chart.x_low_h, chart.x_high_h)
    axes.set_ylim(0, chart.top_ml)
    artists = [
        *_nights(axes, chart),
        *_frame(box),
        *_levels(axes, chart.levels),
        *_trend(chart),
        *_readings(chart),
        _ties(box, labels),
    ]
    for artist in artists:
        axes.add_artist(artist)
    recorder = Recorder(width, height)
    figure.draw(recorder)
    for artist in artists:
        artist.remove()
    words = (*_axis_words(box), *_names(box, labels))
    return Drawing(width, height, tuple(recorder.paths), words)


@cache
def _figure() -> Figure:
    """A figure of 72 dots an inch with bare axes, kept: making them costs more than a chart."""
    figure = Figure(dpi=72)
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set_axis_off()
    axes.set_autoscale_on(False)
    return figure


def _nights(axes: Axes, chart: VolumeChart) -> Iterator[Artist]:
    across = axes.get_xaxis_transform()
    for start, end in chart.nights:
        yield Rectangle(
            (start, 0), end - start, 1, transform=across, color=NIGHT, linewidth=0, zorder=0
        )


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
    yield Text(LEFT_PT - 4, box.top + 5, chart.unit_label, SMALL_PT, align=1)
    for tick in chart.ticks:
        if tick.label:
            yield Text(box.x(tick.x_h) + 3, BOTTOM_PT - LONG_TICK_PT, tick.label, SMALL_PT)
    if chart.empty_words:
        middle = (LEFT_PT + box.right) / 2, (BOTTOM_PT + box.top) / 2
        yield Text(*middle, chart.empty_words, SMALL_PT, align=0.5)


def _levels(axes: Axes, levels: Sequence[LevelLine]) -> Iterator[Artist]:
    along = axes.get_yaxis_transform()
    for level in levels:
        yield _line((0, 1), (level.volume_ml,) * 2, DARK, 0.9, DASHES[level.style], transform=along)


def _trend(chart: VolumeChart) -> Iterator[Artist]:
    trend = chart.trend
    if trend is None:
        return
    across = (trend.x0_h, trend.x1_h)
    for edge in (trend.low_ml, trend.high_ml):
        yield _line(across, edge, BLACK, 0.5, (0.8, 2.2))
    yield _line(across, trend.middle_ml, BLACK, 1.3, (6.5, 3.2))


def _readings(chart: VolumeChart) -> Iterator[Artist]:
    x, y = ([point[axis] for point in chart.block_bests] for axis in (0, 1))
    yield _line(x, y, DARK, 1.0, ())
    for mark, (marker, size) in MARKERS.items():
        readings = [reading for reading in chart.readings if reading.mark is mark]
        yield Line2D(
            [reading.x_h for reading in readings],
            [reading.volume_ml for reading in readings],
            linestyle="none",
            marker=marker,
            markersize=size,
            markerfacecolor="#FFFFFF" if mark is Mark.OFF_FORM else BLACK,
            markeredgecolor=BLACK,
            markeredgewidth=0.7,
            zorder=6,
            clip_on=False,
        )
    yield Line2D(
        chart.dizzy,
        [chart.top_ml * DIZZY_HEIGHT] * len(chart.dizzy),
        linestyle="none",
        marker="x",
        color=BLACK,
        markersize=4.5,
        markeredgewidth=1.1,
        zorder=6,
        clip_on=False,
    )


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
    x: Sequence[float],
    y: Sequence[float],
    color: str,
    width: float,
    dash: tuple[float, ...],
    transform: Transform | None = None,
) -> Artist:
    """A line in data coordinates, or those of `transform`; `dash` in points."""
    line = Line2D(x, y, color=color, linewidth=width, zorder=4)
    if dash:
        line.set_dashes([part / width for part in dash])
    if transform:
        line.set_transform(transform)
    return line


def _segments(segments: Sequence[Segment], color: str, width: float, zorder: float) -> Artist:
    """Straight lines in points."""
    return LineCollection(
        segments,
        colors=color,
        linewidths=width,
        zorder=zorder,
        transform=IdentityTransform(),
        clip_on=False,
    )

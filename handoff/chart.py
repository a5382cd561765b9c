"""The volume chart as vector marks: `VolumeChart` -> `Drawing`.

Enters: series in hours and mL, finished labels. Leaves: paths and words in points. Decides nothing
about the patient: what is drawn was chosen before. The only module that knows matplotlib, whose
axes place every mark; a small renderer writes down the paths instead of painting them, so that the
page draws them as vectors in its own typeface.

Every line is named at its end, in one column right of the axes; labels that would touch are moved
apart and tied to their line by a hairline.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import cast

from matplotlib.axes import Axes
from matplotlib.backend_bases import GraphicsContextBase, RendererBase
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.path import Path as MarkPath
from matplotlib.text import Text as MarkText
from matplotlib.transforms import IdentityTransform, Transform
from matplotlib.typing import ColorType

from handoff.page import Drawing, LevelLine, Mark, Path, Spark, Style, Text, VolumeChart

SMALL_PT = 8
LEFT_PT, RIGHT_PT, TOP_PT, BOTTOM_PT = 32, 128, 12, 15
LABEL_GAP_PT = 5
LABEL_LEADING_PT = 9.5
BLACK, DARK, MIDDLE, PALE, NIGHT = "#000000", "#3A3A3A", "#8C8C8C", "#C8C8C8", "#ECECEC"
DASHES: dict[Style, tuple[float, ...]] = {
    Style.GOAL: (7, 2, 1.5, 2),
    Style.BASELINE: (1.5, 2),
    Style.SCALE: (),
}
TREND_DASH = (5, 2.5)
MARKERS = {Mark.GOOD: "o", Mark.OFF_FORM: "o", Mark.AT_SCALE: "^"}


@dataclass(frozen=True, slots=True)
class _Label:
    """A name that wants to stand at height `volume_ml` in the column right of the axes."""

    volume_ml: float
    text: str
    bold: bool = False


def draw_volume(chart: VolumeChart, width: float, height: float, font_file: str) -> Drawing:
    """The volume chart in a box of `width` x `height` points, measured in the font of the page."""
    font = FontProperties(fname=font_file, size=SMALL_PT)
    figure = Figure(figsize=(width / 72, height / 72), dpi=72)
    axes = figure.add_axes(
        (
            LEFT_PT / width,
            BOTTOM_PT / height,
            1 - (LEFT_PT + RIGHT_PT) / width,
            1 - (TOP_PT + BOTTOM_PT) / height,
        )
    )
    axes.set_xlim(chart.x_low_h, chart.x_high_h)
    axes.set_ylim(0, chart.top_ml)
    _draw_frame(axes, chart, font)
    _draw_levels(axes, chart.levels)
    _draw_trend(axes, chart)
    _draw_readings(axes, chart)
    _draw_labels(axes, chart, font)
    recorder = _Recorder(width, height)
    figure.draw(recorder)
    return Drawing(width, height, tuple(recorder.paths), tuple(recorder.texts))


def draw_spark(spark: Spark, width: float, height: float) -> Drawing:
    """The small trend line of the unit summary: block bests joined, the goal as on the chart."""
    heights = [volume_ml for _, volume_ml in spark.points] + [spark.goal_ml or 0]
    if not spark.points:
        return Drawing(width, height, (), ())
    left = min(x for x, _ in spark.points)
    across = (width - 4) / max(-left, 1e-9)
    up = (height - 4) / max(heights)
    at = [(2 + (x - left) * across, 2 + y * up) for x, y in spark.points]
    paths = [_dot(*point, radius=1.5) for point in at]
    paths.insert(0, _line(at, 0.9, ()))
    if spark.goal_ml is not None:
        goal = 2 + spark.goal_ml * up
        paths.insert(0, _line([(0, goal), (width, goal)], 0.7, DASHES[Style.GOAL]))
    return Drawing(width, height, tuple(paths), ())


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


def _draw_frame(axes: Axes, chart: VolumeChart, font: FontProperties) -> None:
    for start, end in chart.nights:
        axes.axvspan(start, end, facecolor=NIGHT, edgecolor="none", zorder=0)
    steps = range(0, int(chart.top_ml) + 1, round(chart.step_ml))
    for step in steps:
        axes.axhline(step, color=PALE, linewidth=0.4, zorder=1)
    axes.set_yticks(list(steps), [f"{step:,}" for step in steps], fontproperties=font)
    axes.tick_params(axis="y", length=0, pad=4)
    axes.tick_params(axis="x", length=0)
    axes.set_xticks([])
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)
    axes.spines["bottom"].set_linewidth(0.8)
    axes.annotate(
        chart.unit_label, (0, 1), (-4, 5), "axes fraction", "offset points", ha="right", font=font
    )
    _draw_time_axis(axes, chart, font)


def _draw_time_axis(axes: Axes, chart: VolumeChart, font: FontProperties) -> None:
    """Long ticks at midnights with the day's name right of each, short ones at shift changes."""
    for tick in chart.ticks:
        length = 3 if tick.label is None else 12
        axes.annotate(
            "",
            (tick.x_h, 0),
            (0, -length),
            ("data", "axes fraction"),
            "offset points",
            arrowprops={"arrowstyle": "-", "linewidth": 0.6, "shrinkA": 0, "shrinkB": 0},
        )
        if tick.label:
            axes.annotate(
                tick.label,
                (tick.x_h, 0),
                (3, -12),
                ("data", "axes fraction"),
                "offset points",
                font=font,
            )


def _draw_levels(axes: Axes, levels: Sequence[LevelLine]) -> None:
    for level in levels:
        line = axes.axhline(level.volume_ml, color=DARK, linewidth=0.9, zorder=2)
        if DASHES[level.style]:
            line.set_dashes([part / 0.9 for part in DASHES[level.style]])


def _draw_trend(axes: Axes, chart: VolumeChart) -> None:
    trend = chart.trend
    if trend is None:
        return
    across = (trend.x0_h, trend.x1_h)
    for edge in (trend.low_ml, trend.high_ml):
        axes.plot(across, edge, color=MIDDLE, linewidth=0.6, dashes=(2, 2), zorder=3)
    axes.plot(across, trend.middle_ml, color=BLACK, linewidth=1.3, dashes=TREND_DASH, zorder=4)


def _draw_readings(axes: Axes, chart: VolumeChart) -> None:
    axes.plot(
        [x for x, _ in chart.block_bests],
        [y for _, y in chart.block_bests],
        color=DARK,
        linewidth=1.0,
        zorder=5,
    )
    for mark, marker in MARKERS.items():
        readings = [reading for reading in chart.readings if reading.mark is mark]
        axes.plot(
            [reading.x_h for reading in readings],
            [reading.volume_ml for reading in readings],
            linestyle="none",
            marker=marker,
            markersize=5.5 if mark is Mark.AT_SCALE else 3.8,
            markerfacecolor="#FFFFFF" if mark is Mark.OFF_FORM else BLACK,
            markeredgecolor=BLACK,
            markeredgewidth=0.7,
            zorder=6,
            clip_on=False,
        )
    low = [chart.top_ml * 0.035] * len(chart.dizzy)
    axes.plot(chart.dizzy, low, "x", color=BLACK, markersize=4.5, markeredgewidth=1.1, zorder=6)


def _draw_labels(axes: Axes, chart: VolumeChart, font: FontProperties) -> None:
    bold = font.copy()
    labels = [_Label(level.volume_ml, level.label) for level in chart.levels]
    if chart.trend:
        labels.append(_Label(chart.trend.middle_ml[1], chart.trend.label))
    if chart.best_label and chart.block_bests:
        labels.append(_Label(chart.block_bests[-1][1], chart.best_label, bold=True))
    if chart.dizzy:
        labels.append(_Label(chart.top_ml * 0.035, chart.dizzy_label))
    box = axes.get_position()
    height_pt = box.height * axes.figure.bbox.height
    to_points = height_pt / chart.top_ml
    wanted = [label.volume_ml * to_points for label in labels]
    placed = spread(wanted, LABEL_LEADING_PT, 2, height_pt)
    for label, want, place in zip(labels, wanted, placed, strict=True):
        axes.annotate(
            label.text,
            (1, 0),
            (LABEL_GAP_PT + 4, place - SMALL_PT * 0.33),
            "axes fraction",
            "offset points",
            font=bold if label.bold else font,
            weight="bold" if label.bold else "normal",
        )
        axes.annotate(
            "",
            (1, want / height_pt),
            (LABEL_GAP_PT + 2, place - want),
            "axes fraction",
            "offset points",
            arrowprops={"arrowstyle": "-", "linewidth": 0.4, "shrinkA": 0, "shrinkB": 0},
        )
    if chart.empty_words:
        axes.annotate(
            chart.empty_words, (0.5, 0.5), xycoords="axes fraction", ha="center", font=font
        )


class _Recorder(RendererBase):
    """Writes down what matplotlib would paint, in points from the lower left."""

    def __init__(self, width: float, height: float) -> None:
        super().__init__()
        self.paths: list[Path] = []
        self.texts: list[Text] = []
        self._size = (width, height)

    def get_canvas_width_height(self) -> tuple[float, float]:
        return self._size

    def flipy(self) -> bool:
        return False

    def points_to_pixels(self, points: float) -> float:  # type: ignore[override]
        return points  # the figure has 72 dots an inch

    def draw_path(
        self,
        gc: GraphicsContextBase,
        path: MarkPath,
        transform: Transform,
        rgbFace: ColorType | None = None,  # noqa: N803 - matplotlib's own name
    ) -> None:
        commands = tuple(_commands(path, transform))
        rectangle = gc.get_clip_rectangle()
        stroke = gc.get_rgb()
        visible = gc.get_linewidth() > 0 and stroke[3] > 0
        if commands:
            self.paths.append(
                Path(
                    commands,
                    stroke=_rgb(stroke) if visible else None,
                    fill=None if rgbFace is None else _rgb(to_rgb(rgbFace)),
                    width=gc.get_linewidth(),
                    dash=_dash(gc),
                    clip=tuple(rectangle.bounds) if rectangle else None,
                )
            )

    def draw_text(
        self,
        gc: GraphicsContextBase,  # noqa: ARG002
        x: float,
        y: float,
        s: str,
        prop: FontProperties,
        angle: float,  # noqa: ARG002
        ismath: bool | str = False,  # noqa: ARG002, FBT001, FBT002
        mtext: MarkText | None = None,  # noqa: ARG002
    ) -> None:
        bold = prop.get_weight() == "bold"
        self.texts.append(Text(x, y, s, prop.get_size_in_points(), bold))


def _commands(path: MarkPath, transform: Transform) -> list[tuple[str, *tuple[float, ...]]]:
    commands: list[tuple[str, *tuple[float, ...]]] = []
    at = (0.0, 0.0)
    for points, code in path.iter_segments(transform, simplify=False):
        numbers = tuple(float(number) for number in points)
        if code == MarkPath.MOVETO:
            commands.append(("M", *numbers))
        elif code == MarkPath.LINETO:
            commands.append(("L", *numbers))
        elif code == MarkPath.CURVE3:
            commands.append(("C", *_cubic(at, numbers)))
        elif code == MarkPath.CURVE4:
            commands.append(("C", *numbers))
        elif code == MarkPath.CLOSEPOLY:
            commands.append(("Z",))
            continue
        at = (numbers[-2], numbers[-1])
    return commands


def _cubic(start: tuple[float, float], quadratic: tuple[float, ...]) -> tuple[float, ...]:
    """A quadratic curve's control point and end as a cubic's two control points and end."""
    control_x, control_y, end_x, end_y = quadratic
    return (
        start[0] + 2 / 3 * (control_x - start[0]),
        start[1] + 2 / 3 * (control_y - start[1]),
        end_x + 2 / 3 * (control_x - end_x),
        end_y + 2 / 3 * (control_y - end_y),
        end_x,
        end_y,
    )


def _dash(context: GraphicsContextBase) -> tuple[float, ...]:
    lengths = cast("Sequence[float] | None", context.get_dashes()[1])
    return tuple(float(length) for length in lengths or ())


def _rgb(colour: Sequence[float]) -> tuple[float, float, float]:
    return float(colour[0]), float(colour[1]), float(colour[2])


def _line(points: Sequence[tuple[float, float]], width: float, dash: tuple[float, ...]) -> Path:
    commands = [("M" if index == 0 else "L", *point) for index, point in enumerate(points)]
    return Path(tuple(commands), (0, 0, 0), None, width, dash, None)


def _dot(x: float, y: float, radius: float) -> Path:
    circle = MarkPath.circle((x, y), radius)
    return Path(tuple(_commands(circle, IdentityTransform())), None, (0, 0, 0), 0, (), None)

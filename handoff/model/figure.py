"""The input and output of `draw.chart`: finished series, and the marks that draw them.

Input: nothing. Output: frozen records of series with their labels, and of paths and words to be
put on a page. Chart coordinates are hours relative to 'data as of' (x, negative before it) and mL
(y); drawing coordinates are points from the lower left.
"""

from collections.abc import Iterator
from enum import StrEnum
from operator import add

from handoff.model.frozen import Frozen


class Mark(StrEnum):
    """How a reading is drawn; the same marks on every sheet."""

    GOOD = "good"  # filled dot
    OFF_FORM = "off_form"  # hollow dot
    AT_SCALE = "at_scale"  # arrow-up: the true volume may be higher


class Dot(Frozen):
    """One reading of the chart."""

    x_h: float
    volume_ml: float
    mark: Mark


class Tick(Frozen):
    """A tick of the time axis: at local midnight with its day, at a shift change without words."""

    x_h: float
    label: str | None


class Style(StrEnum):
    """Which level line it is; each has its own dash pattern."""

    GOAL = "goal"
    BASELINE = "baseline"
    SCALE = "scale"


class LevelLine(Frozen):
    """A horizontal line with its name, such as 'goal 1,500 mL'."""

    volume_ml: float
    label: str
    style: Style


class TrendLine(Frozen):
    """The fitted line from x0 to x1 and the interval's two edges, all in mL, with its name."""

    x0_h: float
    x1_h: float
    middle_ml: tuple[float, float]
    low_ml: tuple[float, float]
    high_ml: tuple[float, float]
    label: str


class UsualLine(Frozen):
    """The usual volume in mL, from its first reading on, with its name."""

    x0_h: float
    volume_ml: float
    label: str


class VolumeChart(Frozen):
    """All that the volume chart shows. `middles` are the middle readings of blocks, joined.

    `last` are the shift's latest readings, the newest first; `fell`: they are ringed, and stand out
    with the usual. `empty_words` is printed where there is no reading.
    """

    x_low_h: float
    x_high_h: float
    top_ml: float
    step_ml: float
    nights: tuple[tuple[float, float], ...]
    ticks: tuple[Tick, ...]
    readings: tuple[Dot, ...]
    middles: tuple[tuple[float, float], ...]
    usual: UsualLine | None
    last: tuple[tuple[float, float], ...]
    last_label: str
    fell: bool
    levels: tuple[LevelLine, ...]
    trend: TrendLine | None
    dizzy: tuple[float, ...]
    dizzy_label: str
    empty_words: str | None

    @property
    def steps_ml(self) -> range:
        """The volumes that the axis names."""
        return range(0, int(self.top_ml) + 1, round(self.step_ml))


class Strip(Frozen):
    """One sign over the time of the chart: its name, its values, and the numbers of its axis.

    A value is its hour, and its share of the height from 0 to 1; `filled` is False where something
    was asked and was not there.
    """

    label: str
    values: tuple[tuple[float, float, bool], ...]
    low: str = ""
    high: str = ""


Command = tuple[str, *tuple[float, ...]]


class Path(Frozen):
    """One vector path in points.

    `commands` are ('M', x, y), ('L', x, y), ('C', x1, y1, x2, y2, x, y) and ('Z',). They are drawn
    at each of the `places`, which are added to their points: a mark is told once for all readings.
    Colours are RGB from 0 to 1, None for no stroke or fill; `clip` is (x, y, width, height).
    """

    commands: tuple[Command, ...]
    stroke: tuple[float, float, float] | None
    fill: tuple[float, float, float] | None
    width: float
    dash: tuple[float, ...]
    clip: tuple[float, float, float, float] | None
    places: tuple[tuple[float, float], ...] = ((0.0, 0.0),)

    @property
    def steps(self) -> Iterator[Command]:
        """The commands at each place."""
        for place in self.places:
            for name, *numbers in self.commands:
                yield (name, *map(add, numbers, place * 3))


class Text(Frozen):
    """One line of text in points: of its baseline, `align` 0 puts the left end at (x, y), 0.5 the
    middle, 1 the right end. Black unless `is_white`."""

    x: float
    y: float
    text: str
    size: float
    bold: bool = False
    align: float = 0
    is_white: bool = False


class Drawing(Frozen):
    """Vector marks and words of a chart, ready to be put on a page."""

    width: float
    height: float
    paths: tuple[Path, ...]
    texts: tuple[Text, ...]


class Spark(Frozen):
    """The small trend line of the unit summary: middle readings and the goal, the chart's marks."""

    points: tuple[tuple[float, float], ...]
    goal_ml: float | None


Named = tuple[float, str]  # a place on an axis, and its words


class BegunCurve(Frozen):
    """The share that has begun, over the hours since the order, with its interval.

    A step is (hour, share, low, high): from that hour on, the shares from 0 to 1. The curve ends
    at `until_h`. `hours` and `shares` are the numbers of the axes; `waiting` stand under the hours,
    in a line that is named `waiting_label`.
    """

    steps: tuple[tuple[float, float, float, float], ...]
    until_h: float
    hours: tuple[Named, ...]
    hours_label: str
    shares: tuple[Named, ...]
    waiting: tuple[Named, ...]
    waiting_label: str


class WeeksDot(Frozen):
    """One point of a chart of weeks, in per cent: None where it is not shown. `is_whole`: False
    where a part of its days has no log. `low` and `high` are the limits at this point, None without
    any; `is_outside` marks a point beyond them.
    """

    percent: float | None
    is_whole: bool
    low: float | None = None
    high: float | None = None
    is_outside: bool = False


class WeeksChart(Frozen):
    """Shares over weeks, with their middle line. `days` are named by the number of their point;
    `percents` are the numbers of the axis, the last one at its top.
    """

    dots: tuple[WeeksDot, ...]
    middle: float | None
    middle_label: str
    days: tuple[Named, ...]
    percents: tuple[Named, ...]


class HeatCell(Frozen):
    """One cell: its tone from 0 (none of it) to 1 (all), and its number. Without a tone it is not
    shown.
    """

    share: float | None
    label: str


class HeatMap(Frozen):
    """Rows of cells under named columns; None where there is nothing to show."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str, tuple[HeatCell | None, ...]], ...]


ReviewChart = BegunCurve | WeeksChart | HeatMap

"""The small trend line of the unit summary: the chart's marks, without its axes.

Enters: a `Spark`. Leaves: a `Drawing`.
"""

from collections.abc import Sequence

from matplotlib.transforms import Affine2D

from handoff.chart.recorder import commands_of, moved
from handoff.chart.volume import CIRCLE, DASHES
from handoff.page import Drawing, Path, Spark, Style

DOT = commands_of(CIRCLE, Affine2D().scale(3))


def draw_spark(spark: Spark, width: float, height: float) -> Drawing:
    """The small trend line of the unit summary: block bests joined, the goal as on the chart."""
    heights = [volume_ml for _, volume_ml in spark.points] + [spark.goal_ml or 0]
    if not spark.points:
        return Drawing(width, height, (), ())
    left = min(x for x, _ in spark.points)
    across = (width - 4) / max(-left, 1e-9)
    up = (height - 4) / max(heights)
    at = [(2 + (x - left) * across, 2 + y * up) for x, y in spark.points]
    paths = [_dot(*point) for point in at]
    paths.insert(0, _line(at, 0.9, ()))
    if spark.goal_ml is not None:
        goal = 2 + spark.goal_ml * up
        paths.insert(0, _line([(0, goal), (width, goal)], 0.7, DASHES[Style.GOAL]))
    return Drawing(width, height, tuple(paths), ())


def _line(points: Sequence[tuple[float, float]], width: float, dash: tuple[float, ...]) -> Path:
    commands = [("M" if index == 0 else "L", *point) for index, point in enumerate(points)]
    return Path(tuple(commands), (0, 0, 0), None, width, dash, None)


def _dot(x: float, y: float) -> Path:
    commands = tuple(moved(command, x, y) for command in DOT)
    return Path(commands, None, (0, 0, 0), 0, (), None)

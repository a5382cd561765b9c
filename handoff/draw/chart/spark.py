"""The small trend line of the unit summary: the chart's marks, without its axes.

Input: a `Spark`. Output: a `Drawing`.
"""

from handoff.draw.chart.paths import CIRCLE, line, marks
from handoff.draw.chart.volume import BLACK, DASHES
from handoff.model.figure import Drawing, Spark, Style


def draw_spark(spark: Spark, width: float, height: float, from_h: float | None = None) -> Drawing:
    """The small trend line of the unit summary: middle readings joined, the goal as on the chart.

    It begins at the hour `from_h`, by default at the first of the points.
    """
    heights = [volume_ml for _, volume_ml in spark.points] + [spark.goal_ml or 0]
    if not spark.points:
        return Drawing(width, height, (), ())
    left = min(x for x, _ in spark.points) if from_h is None else from_h
    across = (width - 4) / max(-left, 1e-9)
    up = (height - 4) / (max(heights) or 1)  # nothing to scale where every reading is 0 mL
    at = [(2 + (x - left) * across, 2 + y * up) for x, y in spark.points]
    paths = [line(at, BLACK, 0.9), marks(at, CIRCLE, 3, BLACK, 0)]
    if spark.goal_ml is not None:
        goal = 2 + spark.goal_ml * up
        paths.insert(0, line([(0, goal), (width, goal)], BLACK, 0.7, DASHES[Style.GOAL]))
    return Drawing(width, height, tuple(paths), ())

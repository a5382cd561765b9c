"""The rules of 2026-11-25 on a fall, and the trend of that day, in a few plain lines: what the
back-test shows beside today's.

The best of a shift was compared with the best of the 24 h before it. The line had the median of all
slopes between the bests of 12 h (Theil-Sen), with Sen's interval.
"""

from math import inf, sqrt
from statistics import median

import numpy as np

from handoff.model.measures import Direction
from handoff.model.verdicts import Level
from tests.tools.simulation import Course

DROP, DROP_WITH_SIGNS, FALLING = "volume-drop", "volume-drop-with-signs", "falling-trend"
Line = tuple[float, float, float, float]  # slope, low, high, value now


def old_levels(course: Course, as_of_h: float, shift_h: float) -> dict[str, Level]:
    """The rules on a fall that were met at a hand-over, without those replaced."""
    hours, start_h = course.reading_h, as_of_h - shift_h
    now = (start_h <= hours) & (hours < as_of_h)
    before = (start_h - 24 <= hours) & (hours < start_h)
    if not now.any() or not before.any():
        return {}
    share = course.reading_ml[now].max() / max(course.reading_ml[before].max(), 1)
    if (share <= 0.8 and course.fever[now].any()) or (share <= 0.7 and now.sum() >= 2):
        return {DROP_WITH_SIGNS: Level.ESCALATE}
    if share <= 0.8:
        return {DROP: Level.FOLLOW_UP if now.sum() >= 2 else Level.NOTE}
    return {}


def old_points(course: Course, as_of_h: float, shift_h: float) -> list[tuple[float, float]]:
    """Hours and mL of the bests of each 12 h of the last week, the earliest of equals."""
    bests: dict[float, tuple[float, float]] = {}
    for hour, ml in zip(course.reading_h.tolist(), course.reading_ml.tolist(), strict=True):
        if as_of_h - 168 <= hour < as_of_h:
            block = (hour - (as_of_h - shift_h)) // 12
            if block not in bests or ml > bests[block][1]:
                bests[block] = hour, ml
    return sorted(bests.values())


def old_line(points: list[tuple[float, float]], as_of_h: float) -> Line | None:
    """The line by Theil-Sen in mL a day, and its 95 % interval by Sen."""
    n = len(points)
    if n < 5 or points[-1][0] - points[0][0] < 48:
        return None
    x = np.array([(hour - as_of_h) / 24 for hour, _ in points])
    y = np.array([ml for _, ml in points])
    earlier, later = np.triu_indices(n, k=1)
    slopes = np.sort((y[later] - y[earlier]) / (x[later] - x[earlier]))
    _, ties = np.unique(y, return_counts=True)
    variance = (n * (n - 1) * (2 * n + 5) - (ties * (ties - 1) * (2 * ties + 5)).sum()) / 18
    width = 1.959964 * sqrt(variance)
    low = slopes[max(round((slopes.size - width) / 2) - 1, 0)]
    high = slopes[min(round((slopes.size + width) / 2), slopes.size - 1)]
    slope = float(np.median(slopes))
    now_ml = median(y) - slope * median(x)
    return slope, float(low), float(high), float(now_ml)


def old_direction(line: Line | None) -> Direction:
    if line is None:
        return Direction.TOO_FEW
    slope, low, high, _ = line
    if low > 0 and slope >= 50:
        return Direction.RISING
    return Direction.FALLING if high < 0 and slope <= -50 else Direction.NOT_CLEAR


def old_forecast(
    course: Course, line: Line | None, as_of_h: float, shift_h: float
) -> tuple[float, float] | None:
    """Days to the goal at both ends of the interval; inf for more than 14."""
    now = (as_of_h - shift_h <= course.reading_h) & (course.reading_h < as_of_h)
    if line is None or old_direction(line) is not Direction.RISING or not now.any():
        return None
    _, low, high, now_ml = line
    if course.reading_ml[now].max() >= course.goal_ml:
        return None
    first, second = (max((course.goal_ml - now_ml) / end, 0.0) for end in (high, low))
    return None if first > 14 else (first, second if second <= 14 else inf)

"""Average change of the volume a day: Theil-Sen over the bests of blocks of 12 hours.

Input: a patient's block bests, `as_of`. Output: `Trend`. Never looks ahead of `as_of`, and gives
no slope where there are too few points to bear one.

Readings of one shift rise and fall together (pain, position, sedation), so an interval over all of
them is far too narrow: hence one point a block.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import nan, sqrt
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike, NDArray

from handoff.model.measures import Direction, Point, Trend

# Common practice: no published source sets these three.
FEWEST_POINTS = 5
SHORTEST_SPAN_H = 48
SMALLEST_CHANGE_ML_PER_DAY = 50

CONFIDENCE = 0.95
TWO_SIDED_Z = NormalDist().inv_cdf(0.5 + CONFIDENCE / 2)


@dataclass(frozen=True, slots=True)
class Line:
    """A fitted line: slope in y a unit of x, y at x = 0, and the slope's 95 % interval."""

    slope: float
    intercept: float
    low: float
    high: float


def measure_trend(points: Sequence[Point], as_of: datetime) -> Trend:
    """Slope in mL a day with its 95 % interval, and the line's value in mL at `as_of`.

    Needs 5 points over 48 h; with fewer the direction is `too_few` and the numbers are None.
    """
    span_h = (points[-1].at - points[0].at) / timedelta(hours=1) if points else None
    if span_h is None or span_h < SHORTEST_SPAN_H or len(points) < FEWEST_POINTS:
        return Trend(len(points), span_h, None, None, None, Direction.TOO_FEW, tuple(points), None)
    days = [(point.at - as_of) / timedelta(days=1) for point in points]
    line = theil_sen(days, [point.volume_ml for point in points])
    return Trend(
        n=len(points),
        span_h=span_h,
        slope_ml_per_day=line.slope,
        low=line.low,
        high=line.high,
        direction=_direction(line),
        points=tuple(points),
        fitted_ml=line.intercept,
    )


def theil_sen(x: ArrayLike, y: ArrayLike) -> Line:
    """Median of the slopes of all pairs with different x; intercept from the two medians.

    The interval is that of Sen, J Am Stat Assoc 1968;63:1379, equation 2.6, with the correction
    for ties in x and in y, its ranks rounded half to even and kept within the slopes. Valid for
    two points or more that do not all share one x (else ValueError). Where ties in x leave no
    variance, low and high are nan; that cannot be where every x differs.
    """
    xs, ys = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    slopes, _, _ = pair_slopes(xs, ys)
    if not slopes.size:
        raise ValueError("a slope needs two points at different times")
    slope = float(np.median(slopes))
    ranks = interval_ranks(slopes.size, pairs_variance(xs, ys))
    low, high = (nan, nan) if ranks is None else (float(slopes[rank]) for rank in ranks)
    return Line(slope, float(np.median(ys) - slope * np.median(xs)), low, high)


def pair_slopes(
    x: ArrayLike, y: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.intp], NDArray[np.intp]]:
    """Slopes of all pairs with different x, in rising order; and each pair's two positions."""
    xs, ys = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    later, earlier = np.nonzero(np.subtract.outer(xs, xs) > 0)
    slopes = (ys[later] - ys[earlier]) / (xs[later] - xs[earlier])
    rising = np.argsort(slopes, kind="stable")
    return slopes[rising], earlier[rising], later[rising]


def pairs_variance(x: ArrayLike, y: ArrayLike) -> float:
    """Variance of the number of rising less falling pairs, were there no trend; ties taken out."""

    def term(count: int) -> int:
        return count * (count - 1) * (2 * count + 5)

    ties = [*np.unique(x, return_counts=True)[1], *np.unique(y, return_counts=True)[1]]
    return (term(np.size(x)) - sum(term(int(count)) for count in ties)) / 18


def interval_ranks(slopes: int, variance: float) -> tuple[int, int] | None:
    """Positions, from 0, of the interval's two ends among so many sorted slopes.

    None for a variance below 0, as ties in x can make it.
    """
    if variance < 0:
        return None
    half_width = TWO_SIDED_Z * sqrt(variance)
    low = max(round((slopes - half_width) / 2) - 1, 0)
    high = min(round((slopes + half_width) / 2), slopes - 1)
    return low, high


def _direction(line: Line) -> Direction:
    if line.low > 0 and line.slope >= SMALLEST_CHANGE_ML_PER_DAY:
        return Direction.RISING
    if line.high < 0 and line.slope <= -SMALLEST_CHANGE_ML_PER_DAY:
        return Direction.FALLING
    return Direction.NO_CLEAR_CHANGE

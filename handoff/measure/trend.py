"""Average change of the volume a day: Theil-Sen over the bests of blocks of 12 hours.

Input: a patient's block bests, `as_of`. Output: `Trend`. Never looks ahead of `as_of`, and gives
no slope where there are too few points to bear one.

Readings of one shift rise and fall together (pain, position, sedation). An interval over all of
them would be far too narrow; therefore each block has one point.
"""

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from math import nan, sqrt
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike

from handoff.model.measures import FEWEST_POINTS, SHORTEST_SPAN_H, Direction, Line, Point, Trend

SMALLEST_CHANGE_ML_PER_DAY = 50  # common practice: no published source sets it
CONFIDENCE = 0.95
TWO_SIDED_Z = NormalDist().inv_cdf(0.5 + CONFIDENCE / 2)


def measure_trend(points: Sequence[Point], as_of: datetime) -> Trend:
    """Slope in mL a day with its 95 % interval, and the line's value in mL at `as_of`.

    Needs 5 points over 48 h; with fewer the direction is `too_few` and the numbers are None.
    """
    span_h = (points[-1].at - points[0].at) / timedelta(hours=1) if points else None
    days = tuple((point.at - as_of) / timedelta(days=1) for point in points)
    line = None
    if span_h is not None and span_h >= SHORTEST_SPAN_H and len(points) >= FEWEST_POINTS:
        line = theil_sen(days, [point.volume_ml for point in points])
    return Trend(
        n=len(points),
        span_h=span_h,
        slope_ml_per_day=line.slope if line else None,
        low=line.low if line else None,
        high=line.high if line else None,
        direction=_direction(line) if line else Direction.TOO_FEW,
        points=tuple(points),
        fitted_ml=line.intercept if line else None,
        days=days,
        line=line,
    )


def theil_sen(x: ArrayLike, y: ArrayLike) -> Line:
    """Median of the slopes of all pairs with different x; intercept from the two medians.

    The interval is that of Sen, J Am Stat Assoc 1968;63:1379, equation 2.6, with the correction
    for ties in x and in y, its ranks rounded half to even and kept within the slopes. Valid for
    two points or more that do not all share one x (else ValueError). Where ties in x leave no
    variance, low and high are nan; that cannot be where every x differs.
    """
    xs, ys = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    later, earlier = np.nonzero(np.subtract.outer(xs, xs) > 0)
    slopes = (ys[later] - ys[earlier]) / (xs[later] - xs[earlier])
    if not slopes.size:
        raise ValueError("a slope needs two points at different times")
    rising = np.argsort(slopes, kind="stable")
    slopes, earlier, later = slopes[rising], earlier[rising], later[rising]
    ties = tuple(int(count) for count in np.unique(ys, return_counts=True)[1] if count > 1)
    variance = pairs_variance(xs.size, (*np.unique(xs, return_counts=True)[1].tolist(), *ties))
    low = high = nan
    half_width = unrounded = ranks = None
    if variance >= 0:
        half_width = TWO_SIDED_Z * sqrt(variance)
        unrounded = (slopes.size - half_width) / 2, (slopes.size + half_width) / 2
        ranks = max(round(unrounded[0]), 1), min(round(unrounded[1]) + 1, slopes.size)
        low, high = (float(slopes[rank - 1]) for rank in ranks)
    slope, median_x, median_y = (float(np.median(each)) for each in (slopes, xs, ys))
    return Line(
        slope=slope,
        intercept=median_y - slope * median_x,
        low=low,
        high=high,
        slopes=tuple(zip(slopes.tolist(), earlier.tolist(), later.tolist(), strict=True)),
        median_x=median_x,
        median_y=median_y,
        ties=ties,
        variance=variance,
        half_width=half_width,
        unrounded_ranks=unrounded,
        ranks=ranks,
    )


def pairs_variance(points: int, ties: Iterable[int]) -> float:
    """Variance of the number of rising minus falling pairs without a trend, corrected for ties.
    `ties` are the numbers of points that share one x or one y.
    """

    def term(count: int) -> int:
        return count * (count - 1) * (2 * count + 5)

    return (term(points) - sum(map(term, ties))) / 18


def _direction(line: Line) -> Direction:
    if line.low > 0 and line.slope >= SMALLEST_CHANGE_ML_PER_DAY:
        return Direction.RISING
    if line.high < 0 and line.slope <= -SMALLEST_CHANGE_ML_PER_DAY:
        return Direction.FALLING
    return Direction.NO_CLEAR_CHANGE

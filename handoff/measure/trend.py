"""Average change of the volume a day: a straight line through the middle reading of each 12 hours.

Input: a patient's points and good-form readings, `as_of`. Output: `Trend`. Never looks ahead of
`as_of`, and gives no slope where there are too few points to bear one.

Readings of one shift rise and fall together (pain, position, sedation). An interval over all of
them would be far too narrow; therefore each block of 12 h has one point. All numbers here were
chosen by simulation, on two generators, and are common practice: no published source says what a
recovery looks like.
"""

from collections.abc import Sequence
from datetime import datetime, timedelta
from itertools import starmap
from math import fsum, sqrt
from operator import mul
from statistics import fmean, median

from handoff.model.measures import (
    FEWEST_POINTS,
    LATELY_H,
    SHORTEST_SPAN_H,
    Direction,
    Lately,
    Line,
    Point,
    Trend,
)
from handoff.model.ward import Entry, Patient

# Student's t, two-sided 95 %, for 3 to 13 degrees of freedom: 5 to 15 points, one a block of 12 h.
T_95 = (
    *(3.182446, 2.776445, 2.570582, 2.446912, 2.364624, 2.306004),
    *(2.262157, 2.228139, 2.200985, 2.178813, 2.160369),
)
ALLOWANCE = 1.2  # shifts next to each other are alike: without it the interval is too narrow
LEAST_ML_PER_DAY = 50  # a smaller slope is neither rising nor falling,
LEAST_PART_A_DAY = 0.05  # or this part of the middle volume, whichever is less
STEADY_WITHIN_ML_PER_DAY = 75  # the widest interval of 'steady', or the same part
STEADY_SPAN_H = 96
FEWEST_LATELY = 3  # readings in each of the last two spans of 48 h
LEVEL_DAYS = 2  # a rise of less than so many days of the least slope has levelled off


def measure_trend(
    points: Sequence[Point], readings: Sequence[Entry], patient: Patient, as_of: datetime
) -> Trend:
    """Slope in mL a day with its 95 % interval, and the direction that they bear out.

    `readings` are the good-form readings of the stay. Needs 5 points over 48 h; with fewer the
    direction is `too_few` and the numbers are None.
    """
    span_h = (points[-1].at - points[0].at) / timedelta(hours=1) if points else None
    days = tuple((point.at - as_of) / timedelta(days=1) for point in points)
    line = None
    if span_h is not None and span_h >= SHORTEST_SPAN_H and len(points) >= FEWEST_POINTS:
        line = fit(days, [point.volume_ml for point in points])
    lately = _lately(readings, as_of)
    seen = [point.volume_ml for point in points] + [each.volume_ml for each in lately.readings]
    is_capped = any(map(patient.is_at_scale, seen))
    return Trend(
        n=len(points),
        span_h=span_h,
        slope_ml_per_day=line.slope if line else None,
        low=line.low if line else None,
        high=line.high if line else None,
        middle_at=as_of + timedelta(days=line.middle_x) if line else None,
        middle_ml=line.middle_y if line else None,
        direction=_direction(line, span_h or 0, lately, is_capped=is_capped),
        points=tuple(points),
        days=days,
        line=line,
        lately=lately,
        is_capped=is_capped,
    )


def fit(x: Sequence[float], y: Sequence[float]) -> Line:
    """The least-squares line through 5 to 15 points with at least two different x.

    The interval is the usual one of Student's t, widened by `ALLOWANCE`.
    """
    middle_x, middle_y = fmean(x), fmean(y)
    from_x, from_y = [each - middle_x for each in x], [each - middle_y for each in y]
    # `sum` is rounded in another way since Python 3.12; the bytes are the same from every Python.
    xx, xy = fsum(map(mul, from_x, from_x)), fsum(map(mul, from_x, from_y))
    slope = xy / xx
    residuals = tuple(starmap(lambda dx, dy: dy - slope * dx, zip(from_x, from_y, strict=True)))
    degrees = len(x) - 2
    spread = sqrt(fsum(map(mul, residuals, residuals)) / degrees)
    factor = ALLOWANCE * T_95[degrees - 3]
    half_width = factor * spread / sqrt(xx)
    return Line(
        slope=slope,
        low=slope - half_width,
        high=slope + half_width,
        middle_x=middle_x,
        middle_y=middle_y,
        xx=xx,
        xy=xy,
        residuals=residuals,
        spread=spread,
        factor=factor,
        half_width=half_width,
    )


def least_ml_per_day(middle_ml: float) -> float:
    """The least slope of a rise or a fall, so that small volumes can fall too."""
    return min(LEAST_ML_PER_DAY, LEAST_PART_A_DAY * middle_ml)


def steady_ml_per_day(middle_ml: float) -> float:
    """The change a day, either way, within which a volume is steady."""
    return min(STEADY_WITHIN_ML_PER_DAY, LEAST_PART_A_DAY * middle_ml)


def _lately(readings: Sequence[Entry], as_of: datetime) -> Lately:
    """The middle reading of the last 48 h and of the 48 h before, where each has enough."""
    span = timedelta(hours=LATELY_H)
    last = [each for each in readings if as_of - span <= each.at < as_of]
    before = [each for each in readings if as_of - 2 * span <= each.at < as_of - span]
    enough = min(len(last), len(before)) >= FEWEST_LATELY
    return Lately(
        readings=(*before, *last) if enough else (),
        last_ml=median(each.volume_ml or 0.0 for each in last) if enough else None,
        before_ml=median(each.volume_ml or 0.0 for each in before) if enough else None,
    )


def _direction(line: Line | None, span_h: float, lately: Lately, *, is_capped: bool) -> Direction:
    """The first direction that holds. A volume at the device's scale is neither steady nor levelled
    off: the ceiling makes both.
    """
    if line is None:
        return Direction.TOO_FEW
    least, within = least_ml_per_day(line.middle_y), steady_ml_per_day(line.middle_y)
    if line.low > 0 and line.slope >= least:
        rise_ml = lately.rise_ml
        is_level = rise_ml is not None and rise_ml < LEVEL_DAYS * least and not is_capped
        return Direction.LEVELLED_OFF if is_level else Direction.RISING
    if line.high < 0 and line.slope <= -least:
        return Direction.FALLING
    if span_h >= STEADY_SPAN_H and -within <= line.low <= line.high <= within and not is_capped:
        return Direction.STEADY
    return Direction.NOT_CLEAR

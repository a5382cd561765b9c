"""Explains the trend: its points, the line through them by least squares, and its interval.

Input: a `Subject`. Output: blocks of text, to be followed with a pencil. The numbers are those of
`Measures`.
"""

from collections.abc import Iterator
from datetime import timedelta

from handoff.explain.subject import Subject
from handoff.explain.text import Block, Result, Table
from handoff.measure.readings import block_of
from handoff.measure.trend import (
    ALLOWANCE,
    LEVEL_DAYS,
    STEADY_SPAN_H,
    least_ml_per_day,
    steady_ml_per_day,
)
from handoff.model import rounding
from handoff.model.measures import (
    BLOCK_H,
    FEWEST_POINTS,
    LATELY_H,
    SHORTEST_SPAN_H,
    TREND_D,
    Direction,
    Line,
    Trend,
)
from handoff.model.rounding import exact


def explain_trend(subject: Subject) -> Iterator[Block]:
    """Readings block by block, the points among them, and the line through the points."""
    trend = subject.measures.trend
    yield f"A point is the middle good-form reading of each block of {BLOCK_H} real hours, counted"
    yield f"back and forward from the shift's start, in the {TREND_D} days before 'data as of'."
    yield "Of an even number it is the higher of the two in the middle."
    yield from _blocks(subject)
    if trend.points:
        yield from _points(subject, trend)
    hours = "real hours from the first point to the last"
    yield Result("n", "points", trend.n, "count of the points")
    yield Result("span_h", hours, trend.span_h, "last - first", "there is no point")
    if trend.line is not None:
        yield from _line(subject, trend, trend.line)
        yield from _interval(subject, trend, trend.line)
    yield from _lately(trend)
    yield _direction(trend)


def _blocks(subject: Subject) -> Iterator[Block]:
    """Every row with a volume, its block, and whether it is that block's point."""
    earliest = subject.handover.as_of - timedelta(days=TREND_D)
    points = [point.entry for point in subject.measures.trend.points]
    rows = []
    for row, left_out in subject.volume_rows():
        use = "not the middle of its block"
        if left_out:
            use = f"left out: {left_out}"
        elif row.at < earliest:
            use = f"left out: more than {TREND_D} days before 'data as of'"
        elif row in points:
            use = f"point {points.index(row) + 1}"
        hours = timedelta(hours=BLOCK_H * block_of(row.at, subject.handover))
        block = subject.when(subject.handover.shift.start + hours)
        rows.append((str(row.place), subject.when(row.at), block, exact(row.volume_ml), use))
    if rows:
        yield Table(("row", "time", "block from", "mL", "use"), rows)
    else:
        yield "    No row charts a volume."


def _points(subject: Subject, trend: Trend) -> Iterator[Block]:
    """Two columns to reckon with; with a line, what each point leaves over."""
    yield "The points; x in days of 24 real hours, 0 at 'data as of', y in mL:"
    columns = ["point", "time", "x", "y"]
    rows = [
        [str(number), subject.when(point.at), exact(day), exact(point.volume_ml)]
        for number, (point, day) in enumerate(zip(trend.points, trend.days, strict=True), start=1)
    ]
    if trend.line is not None:
        columns.append("residual: y - line")
        for row, residual in zip(rows, trend.line.residuals, strict=True):
            row.append(exact(residual))
    yield Table(columns, rows)


def _line(subject: Subject, trend: Trend, line: Line) -> Iterator[Block]:
    """The slope, and the middle about which the line turns."""
    is_shown = subject.trend_is_given and trend.direction is not Direction.STEADY
    yield f"mean of x = {exact(line.middle_x)}, mean of y = {exact(line.middle_y)}"
    yield f"xx = sum of (x - mean)(x - mean) = {exact(line.xx)}"
    yield f"xy = sum of (x - mean)(y - mean) = {exact(line.xy)}"
    slope, at = line.slope, trend.middle_at
    yield Result(
        "slope_ml_per_day",
        "average change a day by least squares: xy / xx, in mL a day",
        slope,
        f"{exact(line.xy)} / {exact(line.xx)}",
        sheet=f"{rounding.slope(slope)} a day" if is_shown else None,
    )
    yield Result(
        "middle_at",
        "the time at the mean of x; the line turns about it",
        subject.when(at),
        f"'data as of' and {exact(line.middle_x)} days",
    )
    yield Result("middle_ml", "the mean of y, in mL", trend.middle_ml, "mean of the points")


def _interval(subject: Subject, trend: Trend, line: Line) -> Iterator[Block]:
    degrees, factor, half = trend.n - 2, exact(line.factor), exact(line.half_width)
    yield f"s = square root of (sum of residual x residual / {degrees}) = {exact(line.spread)}"
    yield f"factor = {ALLOWANCE:g} x Student's t (two-sided 95 %, {degrees} degrees) = {factor}"
    yield f"half = {factor} x {exact(line.spread)} / square root of {exact(line.xx)} = {half}"
    shown = None
    if subject.trend_is_given and trend.direction in {Direction.RISING, Direction.FALLING}:
        shown = f"{rounding.bare_slope(line.low)} to {rounding.slope(line.high)} a day"
    slope = exact(line.slope)
    ends = (("low", line.low, "-"), ("high", line.high, "+"))
    for name, value, sign in ends:
        working = f"{slope} {sign} {half}"
        yield Result(name, f"slope {sign} half", value, working, sheet=shown)


def _lately(trend: Trend) -> Iterator[Block]:
    last, before = trend.lately.last_ml, trend.lately.before_ml
    if last is not None and before is not None:
        yield f"middle reading of the last {LATELY_H} h = {exact(last)} mL; of the {LATELY_H} h"
        yield f"    before = {exact(before)} mL: a rise of {exact(last - before)} mL"


def _direction(trend: Trend) -> Result:
    reason = f"fewer than {FEWEST_POINTS} points, or less than {SHORTEST_SPAN_H} h"
    if trend.middle_ml is not None:
        least = exact(least_ml_per_day(trend.middle_ml))
        within = exact(steady_ml_per_day(trend.middle_ml))
        level = exact(LEVEL_DAYS * least_ml_per_day(trend.middle_ml))
        reason = {
            Direction.RISING: f"the whole interval is over 0, and the slope is {least} or more",
            Direction.LEVELLED_OFF: f"it rises, but by less than {level} mL in the last "
            f"{LATELY_H} h",
            Direction.FALLING: f"the whole interval is under 0, and the slope is -{least} or less",
            Direction.STEADY: f"{STEADY_SPAN_H} h or more, and the whole interval within {within} "
            "either way",
        }.get(trend.direction, "none of the others holds")
        if trend.is_capped:
            reason = f"{reason}; a reading at the device's scale rules out steady and levelled off"
    return Result(
        "direction",
        f"what the interval bears out; needs {FEWEST_POINTS} points over {SHORTEST_SPAN_H} h",
        str(trend.direction),
        reason,
    )

"""Explains the trend: its points, the slopes of all pairs, their median, the interval's ranks.

Input: a `Subject`. Output: blocks of text. The numbers, slopes and ranks are those of
`Measures`.
"""

from collections.abc import Iterator
from datetime import timedelta

from handoff.explain.subject import Subject
from handoff.explain.text import Block, Result, Table
from handoff.measure.readings import block_of
from handoff.measure.trend import SMALLEST_CHANGE_ML_PER_DAY, TWO_SIDED_Z
from handoff.model import rounding
from handoff.model.measures import (
    BLOCK_H,
    FEWEST_POINTS,
    SHORTEST_SPAN_H,
    TREND_D,
    Direction,
    Line,
    Point,
    Trend,
)
from handoff.model.rounding import exact

SLOPES_A_LINE = 5


def explain_trend(subject: Subject) -> Iterator[Block]:
    """Readings block by block, the points among them, and the line through the points."""
    trend = subject.measures.trend
    yield f"A point is the best good-form reading of each block of {BLOCK_H} real hours, counted"
    yield f"back and forward from the shift's start, in the {TREND_D} days before 'data as of'."
    yield from _blocks(subject)
    if trend.points:
        yield "The points; x in days of 24 real hours, 0 at 'data as of':"
        yield Table(
            ("point", "time", "x", "mL"),
            [
                (str(number), subject.when(point.at), exact(day), exact(point.volume_ml))
                for number, (point, day) in enumerate(
                    zip(trend.points, trend.days, strict=True), start=1
                )
            ],
        )
    hours = "real hours from the first point to the last"
    yield Result("n", "points", trend.n, "count of the points")
    yield Result("span_h", hours, trend.span_h, "last - first", "there is no point")
    if trend.line is not None:
        yield from _slopes(trend, trend.line)
        yield from _interval(trend, trend.line)
        median_ml, median_x = exact(trend.line.median_y), exact(trend.line.median_x)
        yield Result(
            "fitted_ml",
            "the line at 'data as of', in mL: median mL - slope x median x",
            trend.fitted_ml,
            f"{median_ml} - {exact(trend.slope_ml_per_day)} x {median_x}",
        )
    yield _direction(trend)


def _blocks(subject: Subject) -> Iterator[Block]:
    """Every row with a volume, its block, and whether it is that block's point."""
    earliest = subject.handover.as_of - timedelta(days=TREND_D)
    points = list(subject.measures.trend.points)
    rows = []
    for row, left_out in subject.volume_rows():
        point = Point(row.at, row.volume_ml or 0)
        use = f"left out: {left_out}"
        if left_out is None and row.at < earliest:
            use = f"left out: more than {TREND_D} days before 'data as of'"
        elif left_out is None and point in points:
            use = f"point {subject.measures.trend.points.index(point) + 1}"
            points.remove(point)
        elif left_out is None:
            use = "not the best of its block"
        hours = timedelta(hours=BLOCK_H * block_of(row.at, subject.handover))
        block = subject.when(subject.handover.shift.start + hours)
        rows.append((str(row.place), subject.when(row.at), block, exact(row.volume_ml), use))
    if rows:
        yield Table(("row", "time", "block from", "mL", "use"), rows)
    else:
        yield "    No row charts a volume."


def _slopes(trend: Trend, line: Line) -> Iterator[Block]:
    """The slope of each pair of points, in rising order, with the two points' numbers."""
    yield "Slope of each pair of points, (mL - mL) / (x - x), in rising order: rank. slope (points)"
    numbered = [
        f"{rank}. {exact(slope)} ({one + 1}, {other + 1})"
        for rank, (slope, one, other) in enumerate(line.slopes, start=1)
    ]
    width = max(map(len, numbered))
    for first in range(0, len(numbered), SLOPES_A_LINE):
        shown = numbered[first : first + SLOPES_A_LINE]
        yield "    " + "  ".join(each.ljust(width) for each in shown).rstrip()
    count = len(line.slopes)
    middle = f"rank {count // 2 + 1}" if count % 2 else f"ranks {count // 2} and {count // 2 + 1}"
    slope = trend.slope_ml_per_day
    yield Result(
        "slope_ml_per_day",
        "average change a day: median of the slopes, in mL a day (Theil-Sen)",
        slope,
        f"median of {count} slopes, {middle}",
        sheet=None if slope is None else f"{rounding.slope(slope)} a day",
    )


def _interval(trend: Trend, line: Line) -> Iterator[Block]:
    """Which slopes bound the 95 % interval: Sen, J Am Stat Assoc 1968;63:1379, equation 2.6."""
    if line.ranks is None or line.unrounded_ranks is None:
        return
    n, count, width = trend.n, len(line.slopes), exact(line.half_width)
    taken = "".join(f" - {t}({t} - 1)(2 x {t} + 5)" for t in line.ties)
    yield "The 95 % interval (Sen 1968) lies between two of the ranks; points of equal mL are ties:"
    yield f"    variance = ({n}({n} - 1)(2 x {n} + 5){taken}) / 18 = {exact(line.variance)}"
    yield f"    width w = {exact(TWO_SIDED_Z)} x square root of it = {width}"
    (low, high), (low_at, high_at) = line.ranks, map(exact, line.unrounded_ranks)
    shown = f"{rounding.bare_slope(line.low)} to {rounding.slope(line.high)} a day"
    yield Result(
        "low",
        f"the slope at rank ({count} - w) / 2, rounded, 1 at least",
        trend.low,
        f"({count} - {width}) / 2 is {low_at}: rank {low}",
        sheet=shown,
    )
    yield Result(
        "high",
        f"the slope at rank ({count} + w) / 2, rounded, and 1 more, {count} at most",
        trend.high,
        f"({count} + {width}) / 2 is {high_at}: rank {high}",
        sheet=shown,
    )


def _direction(trend: Trend) -> Result:
    least = SMALLEST_CHANGE_ML_PER_DAY
    reasons = {
        Direction.TOO_FEW: f"fewer than {FEWEST_POINTS} points, or less than {SHORTEST_SPAN_H} h",
        Direction.RISING: f"the whole interval is over 0, and the slope is {least} or more",
        Direction.FALLING: f"the whole interval is under 0, and the slope is -{least} or less",
        Direction.NO_CLEAR_CHANGE: f"the interval holds 0, or the slope is within {least} of it",
    }
    return Result(
        "direction",
        f"rising or falling, where the interval bears it out; needs {FEWEST_POINTS} points over "
        f"{SHORTEST_SPAN_H} h",
        str(trend.direction),
        reasons[trend.direction],
    )

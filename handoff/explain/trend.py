"""Explains the trend: its points, the line through them by least squares, and its interval.

Input: a `Subject`. Output: blocks of text, to be followed with a pencil. The numbers are those of
`Measures`.
"""

from collections.abc import Iterator
from datetime import timedelta

from handoff.explain.subject import Subject
from handoff.explain.text import Block, Result, Table, columns
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
from handoff.model.wording import EXPLAIN


def explain_trend(subject: Subject) -> Iterator[Block]:
    """Readings block by block, the points among them, and the line through the points."""
    trend = subject.measures.trend
    yield EXPLAIN.say("trend.how", block_h=BLOCK_H, days=TREND_D)
    yield from _blocks(subject)
    if trend.points:
        yield from _points(subject, trend)
    yield Result("n", EXPLAIN.say("trend.n"), trend.n, EXPLAIN.say("trend.count"))
    yield Result(
        "span_h",
        EXPLAIN.say("trend.span"),
        trend.span_h,
        EXPLAIN.say("trend.last-first"),
        EXPLAIN.say("trend.no-point"),
    )
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
        if left_out:
            use = EXPLAIN.say("any.left-out", why=left_out)
        elif row.at < earliest:
            use = EXPLAIN.say("any.left-out", why=EXPLAIN.say("trend.too-old", days=TREND_D))
        elif row in points:
            use = EXPLAIN.say("trend.point", number=points.index(row) + 1)
        else:
            use = EXPLAIN.say("trend.not-middle")
        hours = timedelta(hours=BLOCK_H * block_of(row.at, subject.handover))
        block = subject.when(subject.handover.shift.start + hours)
        rows.append((str(row.place), subject.when(row.at), block, exact(row.volume_ml), use))
    if rows:
        yield Table(columns("row", "time", "block-from", "ml", "use"), rows)
    else:
        yield f"    {EXPLAIN.say('any.no-volume')}"


def _points(subject: Subject, trend: Trend) -> Iterator[Block]:
    """Two columns to reckon with; with a line, what each point leaves over."""
    yield EXPLAIN.say("trend.points")
    heads = columns("point", "time", "x", "y")
    rows = [
        [str(number), subject.when(point.at), exact(day), exact(point.volume_ml)]
        for number, (point, day) in enumerate(zip(trend.points, trend.days, strict=True), start=1)
    ]
    if trend.line is not None:
        heads += columns("residual")
        for row, residual in zip(rows, trend.line.residuals, strict=True):
            row.append(exact(residual))
    yield Table(heads, rows)


def _line(subject: Subject, trend: Trend, line: Line) -> Iterator[Block]:
    """The slope, and the middle about which the line turns."""
    is_shown = subject.trend_is_given and trend.direction is not Direction.STEADY
    yield EXPLAIN.say(
        "trend.sums",
        x=exact(line.middle_x),
        y=exact(line.middle_y),
        xx=exact(line.xx),
        xy=exact(line.xy),
    )
    slope, at = line.slope, trend.middle_at
    yield Result(
        "slope_ml_per_day",
        EXPLAIN.say("trend.slope"),
        slope,
        f"{exact(line.xy)} / {exact(line.xx)}",
        sheet=EXPLAIN.say("any.a-day", value=rounding.slope(slope)) if is_shown else None,
    )
    yield Result(
        "middle_at",
        EXPLAIN.say("trend.middle-at"),
        subject.when(at),
        EXPLAIN.say("trend.at-and-days", days=exact(line.middle_x)),
    )
    yield Result(
        "middle_ml", EXPLAIN.say("trend.middle"), trend.middle_ml, EXPLAIN.say("trend.mean")
    )


def _interval(subject: Subject, trend: Trend, line: Line) -> Iterator[Block]:
    degrees, factor, half = trend.n - 2, exact(line.factor), exact(line.half_width)
    yield EXPLAIN.say(
        "trend.interval",
        degrees=degrees,
        spread=exact(line.spread),
        allowance=ALLOWANCE,
        factor=factor,
        xx=exact(line.xx),
        half=half,
    )
    shown = None
    if subject.trend_is_given and trend.direction in {Direction.RISING, Direction.FALLING}:
        low, high = rounding.bare_slope(line.low), rounding.slope(line.high)
        shown = EXPLAIN.say("trend.ends-on-sheet", low=low, high=high)
    slope = exact(line.slope)
    ends = (("low", line.low, "-"), ("high", line.high, "+"))
    for name, value, sign in ends:
        working = f"{slope} {sign} {half}"
        yield Result(name, EXPLAIN.say("trend.end", sign=sign), value, working, sheet=shown)


def _lately(trend: Trend) -> Iterator[Block]:
    last, before = trend.lately.last_ml, trend.lately.before_ml
    if last is not None and before is not None:
        yield EXPLAIN.say(
            "trend.lately",
            hours=LATELY_H,
            last=exact(last),
            before=exact(before),
            rise=exact(last - before),
        )


def _direction(trend: Trend) -> Result:
    needs = {"points": FEWEST_POINTS, "hours": SHORTEST_SPAN_H}
    if trend.middle_ml is None:
        reason = EXPLAIN.say("trend.needs-more", **needs)
    else:
        reason = EXPLAIN.say(
            f"trend.why.{trend.direction}",
            least=exact(least_ml_per_day(trend.middle_ml)),
            level=exact(LEVEL_DAYS * least_ml_per_day(trend.middle_ml)),
            lately=LATELY_H,
            steady=STEADY_SPAN_H,
            within=exact(steady_ml_per_day(trend.middle_ml)),
        )
        if trend.is_capped:
            reason = EXPLAIN.say("trend.capped", why=reason)
    return Result(
        "direction",
        EXPLAIN.say("trend.direction", **needs),
        str(trend.direction),
        reason,
    )

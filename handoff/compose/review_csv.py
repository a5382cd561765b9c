"""The numbers of a review for other programs: `review.csv`.

Input: a `Review`. Output: bytes: a row a number, unrounded. What is not shown is an empty cell.
"""

from collections.abc import Iterator

from handoff.log.spreadsheet import csv_bytes
from handoff.model.review import Curve, Delay, ProportionChart, Review, RunChart, Share

# `value` is in per cent beside a numerator and a denominator; else in the unit that `measure` says.
COLUMNS = ("measure", "group", "value", "numerator", "denominator")
WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")

Value = float | int | str | None
Row = tuple[str, str, Value, Value, Value]


def review_csv(review: Review) -> bytes:
    """Every number of a review, a row each: what it measures, the group that it is of (all, a week
    by its Monday, the start of a shift, a weekday and hour, the hours after the order), its value.
    """
    rows = (dict(zip(COLUMNS, map(_cell, row), strict=True)) for row in _rows(review))
    return csv_bytes(COLUMNS, rows)


def _cell(value: Value) -> str:
    if value is None:
        return ""
    return f"{value:.12g}" if isinstance(value, float) else str(value)


def _rows(review: Review) -> Iterator[Row]:
    gaps_s = sum((each.end - each.start).total_seconds() for each in review.logs.gaps)
    for name, number in (
        ("period.first", review.period.first.isoformat()),
        ("period.last", review.period.last.isoformat()),
        ("logs.given", review.logs.given),
        ("logs.used", review.logs.used),
        ("logs.not_used", len(review.logs.not_used)),
        ("logs.gaps", len(review.logs.gaps)),
        ("logs.gaps_h", gaps_s / 3600),
        ("logs.overlaps", review.logs.overlaps),
        ("stays", review.stays),
        ("entries", review.entries),
    ):
        yield name, "", number, None, None
    yield from _begun(review)
    yield from _curve(review.first_breath)
    for name in ("credited", "not_charted"):
        yield _share(f"done.{name}", "", getattr(review.done, name))
        for week, done in review.by_week.items():
            yield _share(f"done.{name}.week", week.isoformat(), getattr(done, name))
        for shift in review.by_shift:
            yield _share(f"done.{name}.shift", f"{shift.starts:%H:%M}", getattr(shift.done, name))
        for (day, hour), done in review.by_hour.items():
            group = f"{WEEKDAYS[day]} {hour:02}:00"
            yield _share(f"done.{name}.hour", group, getattr(done, name))
    practice = review.practice
    for name in ("blew", "fast", "short_hold", "dizzy", "declined", "pain", "taught_again"):
        yield _share(f"practice.{name}", "", getattr(practice, name))
    yield "practice.pain_from", "", practice.pain_from, None, None
    told = review.told
    yield "told.escalations", "", told.escalations, None, None
    for name in ("told", "settled", "open"):
        yield _share(f"told.{name}", "", getattr(told, name))
    yield from _delay("told.told_after", told.told_after)
    yield from _delay("told.settled_after", told.settled_after)
    for run in review.run_charts:
        yield from _run_chart(run)
    for chart in review.proportion_charts:
        yield from _proportion_chart(chart)


def _share(measure: str, group: str, share: Share) -> Row:
    return measure, group, share.percent, share.numerator, share.denominator


def _begun(review: Review) -> Iterator[Row]:
    begun = review.begun
    yield "begun.orders", "", begun.orders, None, None
    yield "begun.not_known", "", begun.not_known, None, None
    for name in ("device", "taught", "shown_back", "never"):
        yield _share(f"begun.{name}", "", getattr(begun, name))
    for hours, share in begun.within.items():
        yield _share("begun.within_h", str(hours), share)


def _curve(curve: Curve) -> Iterator[Row]:
    """The curve's steps in per cent, each with the ends of its interval and the orders waiting."""
    yield "curve.orders", "", curve.orders, None, None
    yield "curve.begun", "", curve.begun, None, None
    yield "curve.until_h", "", curve.until_h, None, None
    yield "curve.median_h", "", curve.median_h, None, None
    for step in curve.steps:
        after = f"{step.after_h:.12g}"
        yield "curve.begun_percent", after, 100 * step.begun, None, None
        yield "curve.low_percent", after, 100 * step.low, None, None
        yield "curve.high_percent", after, 100 * step.high, None, None
        yield "curve.waiting", after, step.waiting, None, None


def _delay(measure: str, delay: Delay) -> Iterator[Row]:
    yield f"{measure}.n", "", delay.n, None, None
    yield f"{measure}.median_h", "", delay.median_h, None, None
    yield f"{measure}.longest_h", "", delay.longest_h, None, None


def _run_chart(chart: RunChart) -> Iterator[Row]:
    name = f"run.{chart.measure}"
    for point in chart.points:
        yield _share(name, point.first.isoformat(), point.share)
    yield f"{name}.every_d", "", chart.every_d, None, None
    yield f"{name}.median_percent", "", chart.median, None, None
    for part in ("useful", "longest_run", "longest_usual", "crossings", "fewest_usual"):
        yield f"{name}.{part}", "", getattr(chart, part), None, None
    signal = int(chart.has_signal) if chart.is_judged else None  # too few points to say
    yield f"{name}.signal", "", signal, None, None


def _proportion_chart(chart: ProportionChart) -> Iterator[Row]:
    name = f"proportion.{chart.measure}"
    for each in chart.points:
        group = each.point.first.isoformat()
        yield _share(name, group, each.point.share)
        yield f"{name}.low_percent", group, each.low, None, None
        yield f"{name}.high_percent", group, each.high, None, None
    yield f"{name}.centre_percent", "", chart.centre, None, None
    yield f"{name}.outside", "", len(chart.outside), None, None

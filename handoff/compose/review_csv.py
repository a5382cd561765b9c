"""The numbers of a review for other programs: `review.csv`.

Input: a `Review`. Output: bytes: a row a number, unrounded but for shares of orders and escalations
over time, which are in whole per cent. What is not shown is an empty cell.
"""

from collections.abc import Iterator

from handoff.log.spreadsheet import csv_bytes
from handoff.model.review import (
    WITHIN_H,
    Curve,
    Delay,
    Measure,
    Point,
    ProportionChart,
    Review,
    RunChart,
    Share,
)

# `value` is in per cent beside a numerator and a denominator; else in the unit that `measure` says.
COLUMNS = ("measure", "group", "value", "numerator", "denominator")
OF_PEOPLE = frozenset({Measure.BEGUN, Measure.TOLD})  # an order or an escalation each
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
        ("entries", None if review.stays is None else review.entries),
    ):
        yield name, "", number, None, None
    if review.stays is None:
        return
    yield from _begun(review)
    yield from _curve(review.first_breath)
    yield from _done(review)
    yield from _practice(review)
    yield from _told(review)
    for run in review.run_charts:
        yield from _run_chart(run)
    for chart in review.proportion_charts:
        yield from _proportion_chart(chart)


def _done(review: Review) -> Iterator[Row]:
    for name in ("credited", "not_charted"):
        yield _share(f"done.{name}", "", getattr(review.done, name))
        for week, done in review.by_week.items():
            yield _share(f"done.{name}.week", week.isoformat(), getattr(done, name))
        for shift in review.by_shift:
            yield _share(f"done.{name}.shift", f"{shift.starts:%H:%M}", getattr(shift.done, name))
        for (day, hour), done in review.by_hour.items():
            group = f"{WEEKDAYS[day]} {hour:02}:00"
            yield _share(f"done.{name}.hour", group, getattr(done, name))


def _practice(review: Review) -> Iterator[Row]:
    practice = review.practice
    for name in ("blew", "fast", "short_hold", "dizzy", "declined", "pain", "taught_again"):
        yield _share(f"practice.{name}", "", getattr(practice, name))
    yield "practice.pain_from", "", practice.pain_from, None, None


def _told(review: Review) -> Iterator[Row]:
    told = review.told
    yield "told.escalations", "", told.escalations, None, None
    for name in ("told", "settled", "open"):
        yield _share(f"told.{name}", "", getattr(told, name))
    yield from _delay("told.told_after", told.told_after)
    yield from _delay("told.settled_after", told.settled_after)


def _share(measure: str, group: str, share: Share) -> Row:
    return measure, group, share.percent, share.numerator, share.denominator


def _begun(review: Review) -> Iterator[Row]:
    begun = review.begun
    yield "begun.orders", "", begun.orders, None, None
    yield "begun.not_known", "", begun.not_known, None, None
    for name in ("device", "taught", "shown_back", "never"):
        yield _share(f"begun.{name}", "", getattr(begun, name))
    for hours in WITHIN_H:
        share = review.first_breath.begun_by(hours)
        percent = share.percent if share else None
        yield "begun.within_h", str(hours), _percent(Measure.BEGUN, percent), None, None


def _curve(curve: Curve) -> Iterator[Row]:
    """The curve at whole hours, in whole per cent, with the ends of its interval."""
    yield "curve.orders", "", curve.orders, None, None
    yield "curve.until_h", "", curve.until_h, None, None
    yield "curve.median_h", "", curve.median_h, None, None
    for hour in range(1, int(curve.until_h) + 1):
        step, share = curve.at(hour), curve.begun_by(hour)
        if step and share and share.numerator is not None:
            for name in ("begun", "low", "high"):
                percent = round(100 * getattr(step, name))
                yield f"curve.{name}_percent", str(hour), percent, None, None


def _delay(measure: str, delay: Delay) -> Iterator[Row]:
    yield f"{measure}.median_h", "", delay.median_h, None, None
    yield f"{measure}.three_quarters_h", "", delay.three_quarters_h, None, None


def _percent(measure: Measure, percent: float | None) -> float | None:
    """As a chart's share is written: of orders and escalations whole, so that it does not tell of
    how many it is.
    """
    return percent if percent is None or measure not in OF_PEOPLE else round(percent)


def _point(name: str, measure: Measure, point: Point) -> Row:
    return name, point.first.isoformat(), _percent(measure, point.share.percent), None, None


def _run_chart(chart: RunChart) -> Iterator[Row]:
    name = f"run.{chart.measure}"
    for point in chart.points:
        yield _point(name, chart.measure, point)
    yield f"{name}.every_d", "", chart.every_d, None, None
    yield f"{name}.median_percent", "", _percent(chart.measure, chart.median), None, None
    for part in ("useful", "longest_run", "longest_usual", "crossings", "fewest_usual"):
        yield f"{name}.{part}", "", getattr(chart, part), None, None
    signal = int(chart.has_signal) if chart.is_judged else None  # too few points to say
    yield f"{name}.signal", "", signal, None, None


def _proportion_chart(chart: ProportionChart) -> Iterator[Row]:
    name = f"proportion.{chart.measure}"
    for each in chart.points:
        yield _point(name, chart.measure, each.point)
    for each in chart.outside:
        yield f"{name}.is_outside", each.point.first.isoformat(), 1, None, None
    yield f"{name}.centre_percent", "", _percent(chart.measure, chart.centre), None, None
    yield f"{name}.outside", "", len(chart.outside) if chart.is_judged else None, None, None

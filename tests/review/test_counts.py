"""The shares of a review, against a plain count of the same logs from the definitions."""

from collections.abc import Mapping
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from statistics import quantiles
from tempfile import TemporaryDirectory

import pandas as pd
import pytest

from handoff.model.review import (
    HIDDEN,
    Done,
    Logs,
    Measure,
    Period,
    Review,
    Share,
    count,
    share,
)
from handoff.review.counts import Cases, _points, _shares, _told
from handoff.review.curve import curve
from handoff.run.handovers import read_weeks
from handoff.run.review import Weeks, review_unit
from handoff.run.units import whole
from tests.support.builders import default_limits
from tests.support.logs import options
from tests.support.plain_review import Plain, Sum, plain_review
from tests.support.unit_weeks import Unit, write_logs
from tests.support.wards import row, written


@cache
def both() -> tuple[Review, Plain]:
    """The review of two weeks of an invented unit, and the plain count of its logs."""
    with TemporaryDirectory() as folder:
        unit = Unit(beds=10, days=14, vitals=True, first=date(2026, 2, 23))  # clocks go forward
        paths = write_logs(Path(folder), unit, seed=3)
        (logs,), findings, lost = read_weeks(paths, options())
    assert not lost
    assert not findings
    reviewed = review_unit(logs, default_limits(), Weeks())
    assert reviewed.review is not None
    return reviewed.review, plain_review([whole(each) for each in logs.logs])


def of(plain: Sum) -> Share:
    """As a share of rows is shown."""
    return share(plain.top, plain.bottom, len(plain.stays))


def of_people(plain: Sum) -> Share:
    return count(int(plain.top), int(plain.bottom), len(plain.stays))


def same(ours: Share, plain: Share) -> None:
    assert (ours.numerator, ours.denominator) == pytest.approx((plain.numerator, plain.denominator))


def same_done(ours: Done, plain: Plain, *group: object) -> None:
    same(ours.credited, of(plain.sums["credited", *group]))
    same(ours.not_charted, of(plain.sums["not_charted", *group]))


def groups(plain: Plain, name: str) -> set[tuple[object, ...]]:
    return {key[2:] for key in plain.sums if key[:2] == ("credited", name)}


def test_what_is_done_of_what_is_due_is_the_plain_count() -> None:
    review, plain = both()
    same_done(review.done, plain)
    assert {(week,) for week in review.by_week} == groups(plain, "week")
    for week, done in review.by_week.items():
        same_done(done, plain, "week", week)
    assert {(each.starts,) for each in review.by_shift} == groups(plain, "shift")
    for each in review.by_shift:
        same_done(each.done, plain, "shift", each.starts)
    assert set(review.by_hour) == groups(plain, "hour")
    for hour, done in review.by_hour.items():
        same_done(done, plain, "hour", *hour)
    shown = [each for each in review.by_hour.values() if each.credited.is_shown]
    assert len(shown) > 80  # it compares more than blanks


def test_what_became_of_the_orders_is_the_plain_count() -> None:
    review, plain = both()
    begun = review.begun
    for name in ("device", "taught", "shown_back", "never"):
        same(getattr(begun, name), of_people(plain.sums[name,]))
    assert begun.orders == len(plain.followed)
    assert review.first_breath.orders == len(plain.followed)
    steps = zip(review.first_breath.steps, curve(plain.followed).steps, strict=True)
    for step, theirs in steps:
        assert step.after_h == pytest.approx(theirs.after_h)
        assert step.begun == pytest.approx(theirs.begun)


def test_how_it_went_is_the_plain_count() -> None:
    review, plain = both()
    for name in ("blew", "fast", "short_hold", "dizzy", "declined", "pain"):
        ours = getattr(review.practice, name)
        same(ours, of(plain.sums[name,]))
        assert ours.numerator


def test_what_became_of_the_dangers_is_the_plain_count() -> None:
    review, plain = both()
    told = review.told
    assert told.escalations == plain.sums["told",].bottom
    for name in ("told", "settled", "open"):
        same(getattr(told, name), of_people(plain.sums[name,]))
    for delay, hours in (
        (told.told_after, plain.told_after_h),
        (told.settled_after, plain.settled_after_h),
    ):
        of_four = quantiles(hours, n=4, method="inclusive")
        assert (delay.median_h, delay.three_quarters_h) == pytest.approx(of_four[1:])


def test_the_points_of_the_charts_are_the_weeks_of_the_plain_count() -> None:
    review, plain = both()
    charts = {each.measure: each for each in review.run_charts}
    weeks = [date(2026, 2, 23) + timedelta(weeks=number) for number in range(2)]
    for measure in (Measure.CREDITED, Measure.NOT_CHARTED):
        assert [each.first for each in charts[measure].points] == weeks
        for point in charts[measure].points:
            same(point.share, of(plain.sums[measure, "week", point.first]))
    (begun,) = (each for each in review.proportion_charts if each.measure is Measure.BEGUN)
    assert [each.point.first for each in begun.points] == weeks
    for each in begun.points:
        same(each.point.share, of(plain.sums["within", 4, each.point.first]))


@pytest.mark.parametrize("what", ["spo2: 96", "what: declined, note: asleep"])
def test_entries_without_an_exercise_are_no_share_and_no_fault(what: str, tmp_path: Path) -> None:
    path = tmp_path / "quiet.yaml"
    path.write_text(written("4 day", row("4 12:00", what), None, "Tarn 5"), encoding="utf-8")
    (logs,), _, _ = read_weeks([str(path)], options())
    review = review_unit(logs, default_limits(), Weeks()).review
    assert review is not None
    assert review.entries == 1
    assert review.practice.dizzy == HIDDEN


# What is not shown


def test_a_share_of_fewer_than_five_stays_is_not_shown_and_one_of_five_is() -> None:
    assert share(3, 400, 4) == HIDDEN
    assert share(3, 400, 5) == Share(3, 400)
    assert share(0, 0, 0) == HIDDEN


@pytest.mark.parametrize(
    ("people", "shown"),
    [
        *((0, Share(0, 20)), (1, Share(None, 20, (1, 4))), (4, Share(None, 20, (1, 4)))),
        *((5, Share(5, 20)), (15, Share(15, 20)), (16, Share(None, 20, (16, 19)))),
        *((19, Share(None, 20, (16, 19))), (20, Share(20, 20))),
    ],
)
def test_1_to_4_people_are_not_shown_and_neither_are_all_but_1_to_4(
    people: int, shown: Share
) -> None:
    assert count(people, 20) == shown
    assert count(people, 4 if people <= 4 else people, stays=4) == HIDDEN


def stays_with(shown: dict[str, int]) -> tuple[pd.DataFrame, "pd.Series[str]"]:
    """Cases of groups of so many stays, nobody in two."""
    names = [name for name, stays in shown.items() for _ in range(stays)]
    rows = {"stay": range(len(names)), "top": 1.0, "bottom": 2.0}
    return pd.DataFrame(rows), pd.Series(names)


def test_one_hidden_group_is_not_the_total_less_the_others() -> None:
    shares = _shares(*stays_with({"one": 9, "two": 3, "three": 6, "four": 7}))
    assert [name for name, each in shares.items() if not each.is_shown] == ["three", "two"]
    shares = _shares(*stays_with({"one": 9, "two": 3, "three": 2, "four": 7}))
    assert [name for name, each in shares.items() if not each.is_shown] == ["three", "two"]
    assert all(each.is_shown for each in _shares(*stays_with({"one": 5, "two": 5})).values())


@pytest.mark.parametrize(
    ("both", "only_told", "only_settled", "neither", "shown"),
    [
        (20, 8, 6, 9, (28, 26, 23)),
        (20, 3, 6, 9, (23, 26, None)),
        (20, 8, 6, 2, (28, None, 16)),
        (20, 8, 2, 9, (28, None, 19)),
    ],
)
def test_told_settled_and_open_do_not_tell_of_few_by_subtraction(
    both: int, only_told: int, only_settled: int, neither: int, shown: tuple[int | None, ...]
) -> None:
    parts = [
        *([(True, True)] * both + [(True, False)] * only_told),
        *([(False, True)] * only_settled + [(False, False)] * neither),
    ]
    rows = pd.DataFrame(parts, columns=["told", "settled"])
    noon = pd.Timestamp("2026-03-04 12:00")
    told = _told(rows.assign(stay=rows.index, opened_at=noon, told_at=noon, settled_at=noon))
    assert (told.told.numerator, told.settled.numerator, told.open.numerator) == shown


def test_where_the_number_of_all_orders_is_hidden_no_point_of_their_chart_is_shown() -> None:
    day = pd.Timestamp("2026-03-04")
    period, logs = Period(day.date(), day.date()), Logs(1, 1, (), (), 0)
    for begun, shown in ((4, False), (5, True), (6, False)):
        rows = {"stay": range(10), "day": day, "top": [1.0] * begun + [0.0] * (10 - begun)}
        cases = Cases(pd.DataFrame(rows).assign(bottom=1.0), independent=True)
        (point,) = _points(cases, 7, period, logs)
        assert point.share.is_shown is shown


def shares(found: object) -> list[Share]:
    """Every share anywhere in a record."""
    if isinstance(found, Share):
        return [found]
    if isinstance(found, Mapping):
        return [each for value in found.values() for each in shares(value)]
    if isinstance(found, tuple | list):
        return [each for value in found for each in shares(value)]
    slots = getattr(found, "__slots__", ())
    return [each for name in slots for each in shares(getattr(found, name))]


def test_nothing_is_shown_of_a_unit_with_four_stays() -> None:
    with TemporaryDirectory() as folder:
        paths = write_logs(Path(folder), Unit(beds=2, days=3, danger=1), seed=1)
        (logs,), _, _ = read_weeks(paths, options())
    review = review_unit(logs, default_limits(), Weeks()).review
    assert review is not None
    assert review.stays is None
    assert set(shares(review)) == {HIDDEN}
    assert (review.begun.orders, review.told.escalations) == (None, None)
    assert review.first_breath.steps == ()
    assert review.told.told_after.median_h is None
    assert not any(each.has_signal for each in review.run_charts)

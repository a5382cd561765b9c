"""Block bests, and the line through them."""

from datetime import datetime, timedelta

import pytest

from handoff.measure.trend import measure_trend, theil_sen
from handoff.model.measures import Direction, Point, Trend
from handoff.model.ward import Entry
from tests.support.builders import at, entry, handover, measured

AS_OF = at("19:00")


def course(*volumes_ml: float, every_h: float = 12) -> Trend:
    """A reading every so many hours, the last an hour before `as_of`."""
    last = AS_OF - timedelta(hours=1)
    hours_back = [every_h * number for number in range(len(volumes_ml))]
    points = [
        Point(last - timedelta(hours=hours), volume_ml)
        for hours, volume_ml in zip(hours_back, reversed(volumes_ml), strict=True)
    ]
    return measure_trend(points[::-1], AS_OF)


def points(*entries: Entry, as_of: str | None = None) -> list[tuple[datetime, float]]:
    """The block bests of a stay that began ten days before the shift."""
    found = measured(handover(*entries, as_of=as_of, stay_start="-10 07:00"))
    return [(point.at, point.volume_ml) for point in found.trend.points]


# Block bests


def test_each_12_hours_from_the_shifts_start_give_their_best_at_its_own_time() -> None:
    found = points(
        entry("-1 18:59", volume_ml=800),
        entry("-1 19:00", volume_ml=900),
        entry("06:59", volume_ml=1000),
        entry("07:00", volume_ml=1100),
        entry("09:00", volume_ml=1100),
    )
    assert found == [(at("-1 18:59"), 800), (at("06:59"), 1000), (at("07:00"), 1100)]


def test_blocks_go_on_after_the_shift_where_as_of_does() -> None:
    entries = (entry("18:00", volume_ml=900), entry("19:00", volume_ml=800))
    assert points(*entries, as_of="20:00") == [(at("18:00"), 900), (at("19:00"), 800)]


def test_readings_of_more_than_seven_days_ago_are_out_even_of_their_block() -> None:
    entries = (
        entry("-7 18:59", volume_ml=1900),
        entry("-7 19:00", volume_ml=700),
    )
    assert points(*entries) == [(at("-7 19:00"), 700)]


def test_off_form_readings_give_no_point() -> None:
    assert points(entry("08:00", volume_ml=900, flow="fast")) == []


# Enough points


def test_no_point_has_no_span() -> None:
    found = measure_trend([], AS_OF)
    assert (found.n, found.span_h, found.direction) == (0, None, Direction.TOO_FEW)


def test_one_point_spans_nothing() -> None:
    found = course(900)
    assert (found.n, found.span_h, found.direction) == (1, 0, Direction.TOO_FEW)
    assert found.slope_ml_per_day is found.low is found.high is found.fitted_ml is None


def test_four_points_are_too_few() -> None:
    assert course(900, 1000, 1100, 1200, every_h=24).direction is Direction.TOO_FEW


def test_five_points_need_48_hours() -> None:
    volumes = (900, 1000, 1100, 1200, 1300)
    assert course(*volumes, every_h=11.9).direction is Direction.TOO_FEW
    found = course(*volumes, every_h=12)
    assert (found.n, found.span_h, found.direction) == (5, 48, Direction.RISING)


# Direction


def test_a_steady_rise_of_100_ml_a_day() -> None:
    found = course(900, 950, 1000, 1050, 1100)
    assert found.slope_ml_per_day == pytest.approx(100)
    assert found.low == pytest.approx(100)
    assert found.high == pytest.approx(100)
    assert found.direction is Direction.RISING


def test_the_fitted_value_is_that_of_as_of() -> None:
    """The last reading, on the line, is an hour before as_of."""
    assert course(900, 950, 1000, 1050, 1100).fitted_ml == pytest.approx(1100 + 100 / 24)


def test_a_fall_is_the_mirror_of_a_rise() -> None:
    rise, fall = course(900, 950, 1000, 1050, 1100), course(1100, 1050, 1000, 950, 900)
    assert fall.direction is Direction.FALLING
    assert (fall.low, fall.high) == (pytest.approx(-rise.high), pytest.approx(-rise.low))  # type: ignore[operator]


def test_a_rise_under_50_ml_a_day_is_no_clear_change() -> None:
    assert course(900, 924, 948, 972, 996).direction is Direction.NO_CLEAR_CHANGE
    assert course(900, 925, 950, 975, 1000).direction is Direction.RISING


def test_a_fall_under_50_ml_a_day_is_no_clear_change() -> None:
    assert course(996, 972, 948, 924, 900).direction is Direction.NO_CLEAR_CHANGE
    assert course(1000, 975, 950, 925, 900).direction is Direction.FALLING


def test_a_rise_whose_interval_holds_zero_is_no_clear_change() -> None:
    found = course(900, 1300, 1000, 1400, 1100)
    assert found.slope_ml_per_day is not None
    assert found.slope_ml_per_day >= 50
    assert found.low is not None
    assert found.low <= 0
    assert found.direction is Direction.NO_CLEAR_CHANGE


def test_a_flat_course_is_no_clear_change() -> None:
    found = course(*[1000] * 7)
    assert (found.slope_ml_per_day, found.low, found.high) == (0, 0, 0)
    assert found.direction is Direction.NO_CLEAR_CHANGE


# The line


def test_one_wild_reading_does_not_move_the_line() -> None:
    assert theil_sen([0, 1, 2, 3, 4], [0, 10, 20, 30, 9000]).slope == 10


def test_a_line_needs_two_times() -> None:
    with pytest.raises(ValueError, match="two points at different times"):
        theil_sen([1, 1, 1], [5, 6, 7])

"""Middle readings of blocks, and the line through them.

50 and 75 mL a day, 5 %, 48 h and 96 h are common practice, chosen by simulation.
"""

from datetime import datetime, timedelta
from fractions import Fraction

import pytest
from msgspec.structs import replace

from handoff.measure.trend import fit
from handoff.model.measures import Direction, Trend
from handoff.model.ward import Entry
from tests.support.builders import at, entry, handover, measured, order, patient

AS_OF = at("19:00")


def course(*volumes_ml: float, every_h: float = 12, scale_ml: float | None = None) -> Trend:
    """A reading every so many hours, the last an hour before `as_of`."""
    last = AS_OF - timedelta(hours=1)
    rows = [
        replace(entry("18:00", volume_ml=volume_ml), at=last - timedelta(hours=every_h * number))
        for number, volume_ml in enumerate(reversed(volumes_ml))
    ]
    return trend(*rows, scale_ml=scale_ml)


def trend(*rows: Entry, scale_ml: float | None = None) -> Trend:
    someone = patient(order=order("-10 07:00"), device_scale_ml=scale_ml)
    return measured(handover(*rows, patients=(someone,))).trend


def points(*entries: Entry, as_of: str | None = None) -> list[tuple[datetime, float]]:
    """The points of a stay that began ten days before the shift."""
    found = measured(handover(*entries, as_of=as_of, stay_start="-10 07:00"))
    return [(point.at, point.volume_ml) for point in found.trend.points]


# Points


def test_each_12_hours_from_the_shifts_start_give_their_middle_reading_at_its_own_time() -> None:
    found = points(
        entry("-1 18:59", volume_ml=800),
        entry("-1 19:00", volume_ml=900),
        entry("01:00", volume_ml=1300),
        entry("06:59", volume_ml=1000),
        entry("07:00", volume_ml=1100),
        entry("09:00", volume_ml=1100),
    )
    assert found == [(at("-1 18:59"), 800), (at("06:59"), 1000), (at("09:00"), 1100)]


def test_of_an_even_number_the_higher_in_the_middle_is_the_point() -> None:
    rows = (entry(f"{hour:02}:00", volume_ml=ml) for hour, ml in ((8, 900), (9, 700), (10, 1200)))
    assert points(*rows, entry("11:00", volume_ml=1000)) == [(at("11:00"), 1000)]


def test_one_lucky_breath_and_one_poor_effort_are_no_points() -> None:
    rows = (entry(f"{hour:02}:00", volume_ml=ml) for hour, ml in ((8, 1900), (9, 1000), (10, 300)))
    assert points(*rows) == [(at("09:00"), 1000)]


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


def test_a_week_of_blocks_gives_15_points_at_most() -> None:
    """The factors of the interval go so far."""
    hour, last = timedelta(hours=1), entry("19:00", volume_ml=1000)
    rows = [replace(last, at=AS_OF - number * hour) for number in range(169)]
    assert trend(*rows).n == 15


# Enough points


def test_no_point_has_no_span() -> None:
    found = course()
    assert (found.n, found.span_h, found.direction) == (0, None, Direction.TOO_FEW)


def test_one_point_spans_nothing() -> None:
    found = course(900)
    assert (found.n, found.span_h, found.direction) == (1, 0, Direction.TOO_FEW)
    assert found.slope_ml_per_day is found.low is found.high is found.middle_ml is None


def test_four_points_are_too_few() -> None:
    assert course(900, 1000, 1100, 1200, every_h=24).direction is Direction.TOO_FEW


def test_five_points_need_48_hours() -> None:
    volumes = (900, 1000, 1100, 1200, 1300)
    assert course(*volumes, every_h=11.9).direction is Direction.TOO_FEW
    found = course(*volumes, every_h=12)
    assert (found.n, found.span_h, found.direction) == (5, 48, Direction.RISING)


# The line


def test_the_worked_example() -> None:
    """By hand, from eight points half a day apart: mean of x -1.75, of y 1,200; sum of (x - mean) x
    (y - mean) 1,150, of squares 10.5; slope 109.524; sum of squared residuals 4,047.6, s 25.97;
    1.2 x 2.446912 x 25.97 / 3.2404 = 23.536.
    """
    x = [-3.5, -3, -2.5, -2, -1.5, -1, -0.5, 0]
    line = fit(x, [1000, 1050, 1150, 1150, 1250, 1300, 1300, 1400])
    found = (line.slope, line.low, line.high, line.middle_x, line.middle_y)
    assert found == pytest.approx((109.524, 85.988, 133.060, -1.75, 1200), abs=5e-4)


def test_points_on_a_line_leave_nothing_over() -> None:
    found = course(900, 950, 1000, 1050, 1100)
    assert (found.slope_ml_per_day, found.low, found.high) == pytest.approx((100, 100, 100))
    assert (found.middle_at, found.middle_ml) == (at("-1 18:00"), 1000)
    assert found.line is not None
    assert found.line.residuals == pytest.approx([0] * 5, abs=1e-9)


def test_a_fall_is_the_mirror_of_a_rise() -> None:
    rise, fall = course(900, 960, 1000, 1050, 1100), course(1100, 1040, 1000, 950, 900)
    assert fall.direction is Direction.FALLING
    assert (fall.low, fall.high) == (pytest.approx(-rise.high), pytest.approx(-rise.low))  # type: ignore[operator]


# Direction: the first that holds


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize(
    ("middle_ml", "step_ml", "is_called"),
    [(1000, 24, False), (1000, 25, True), (400, 9.9, False), (400, 10, True)],
)
def test_the_least_slope_is_50_ml_a_day_or_5_percent_of_a_small_volume(
    sign: int, middle_ml: float, step_ml: float, *, is_called: bool
) -> None:
    """Half of it in each step of half a day: 20 mL a day where the middle is 400 mL."""
    found = course(*(middle_ml + sign * step_ml * step for step in (-2, -1, 0, 1, 2)))
    called = Direction.RISING if sign > 0 else Direction.FALLING
    assert found.direction is (called if is_called else Direction.NOT_CLEAR)


def test_a_rise_whose_interval_holds_zero_is_not_clear() -> None:
    found = course(900, 1300, 1000, 1400, 1100)
    assert found.slope_ml_per_day is not None
    assert found.slope_ml_per_day >= 50
    assert found.low is not None
    assert found.low <= 0
    assert found.direction is Direction.NOT_CLEAR


RESTS = (500, 700, 1100, 1110, 1120, 1180, 1190, 1200, 1195)


def test_a_rise_that_came_to_rest_in_the_last_48_hours_has_levelled_off() -> None:
    """The middle of the last four readings, and of the four before: of each the mean of two."""
    found = course(*RESTS)
    assert (found.lately.last_ml, found.lately.before_ml) == (1192.5, 1105)
    assert found.direction is Direction.LEVELLED_OFF
    goes_on = course(500, 700, 800, 900, 1000, 1180, 1190, 1200, 1195)
    assert goes_on.direction is Direction.RISING


@pytest.mark.parametrize(
    ("last_ml", "direction"), [(1199, Direction.LEVELLED_OFF), (1200, Direction.RISING)]
)
def test_a_rise_of_100_ml_in_48_hours_goes_on(last_ml: float, direction: Direction) -> None:
    """Two days of the least slope, 50 mL a day."""
    rows = (600, 700, 800, 900, 1100, 1100, 1100, 1100, last_ml, last_ml, last_ml, last_ml)
    found = course(*rows)
    assert found.lately.rise_ml == last_ml - 1100
    assert found.direction is direction


def test_with_two_readings_in_48_hours_it_is_not_asked_whether_a_rise_goes_on() -> None:
    found = course(600, 800, 1000, 1200, 1250, 1240, every_h=24)
    assert found.lately.rise_ml is None
    assert found.direction is Direction.RISING


@pytest.mark.parametrize(
    ("scale_ml", "direction"), [(1201, Direction.LEVELLED_OFF), (1200, Direction.RISING)]
)
def test_at_the_devices_scale_nothing_levels_off(scale_ml: float, direction: Direction) -> None:
    assert course(*RESTS, scale_ml=scale_ml).direction is direction


def test_a_flat_course_is_steady_from_96_hours_on() -> None:
    found = course(*[1000] * 9)
    assert (found.slope_ml_per_day, found.low, found.high) == (0, 0, 0)
    assert (found.span_h, found.direction) == (96, Direction.STEADY)
    assert course(*[1000] * 8).direction is Direction.NOT_CLEAR


@pytest.mark.parametrize(
    ("middle_ml", "scatter_ml", "direction"),
    [
        (1000, 60, Direction.STEADY),
        (1000, 62, Direction.NOT_CLEAR),
        (4000, 90, Direction.STEADY),
        (4000, 92, Direction.NOT_CLEAR),
    ],
)
def test_steady_is_the_whole_interval_within_5_percent_or_75_ml_a_day(
    middle_ml: float, scatter_ml: float, direction: Direction
) -> None:
    """Up and down by turns, nine times half a day apart: the slope is 0, and the half width 1.2 x
    2.364624 x square root of (80 / 63) / square root of 15 = 0.826 of the scatter.
    """
    found = course(*(middle_ml + scatter_ml * (-1) ** number for number in range(9)))
    assert found.high == pytest.approx(0.8256 * scatter_ml, rel=1e-3)
    assert found.direction is direction


def test_at_the_devices_scale_nothing_is_steady() -> None:
    assert course(*[1000] * 9, scale_ml=1001).direction is Direction.STEADY
    assert course(*[1000] * 9, scale_ml=1000).direction is Direction.NOT_CLEAR


def test_the_sums_are_the_same_from_every_python() -> None:
    """Since Python 3.12 `sum` adds floats up in another way; here they are rounded once."""
    x = [day / 5 for day in range(8)]
    line = fit(x, [1000, 1050, 1150, 1150, 1250, 1300, 1300, 1400])
    squares = [(each - line.middle_x) ** 2 for each in x]
    assert line.xx == float(sum(map(Fraction, squares)))

"""What the volume chart shows, and when: days and shifts by the unit's clock, volumes from zero."""

from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise

import pytest
from msgspec.structs import replace

from handoff.compose.series import spark, volume_chart
from handoff.draw.chart import draw_volume
from handoff.model.figure import Mark, Style, VolumeChart
from handoff.model.measures import Direction
from handoff.model.ward import Handover, Shift, Unit
from tests.support.builders import UNIT, ZONE, at, entry, handover, measured, order, patient
from tests.support.charts import fallen_together
from tests.support.sheets import words

STAY = patient(order=order("-6 07:00", goal_ml=1500), device_scale_ml=2500)


def shown(given: Handover, *, fell: bool = False) -> VolumeChart:
    return volume_chart(given, measured(given), words(given.unit.time_zone), fell=fell)


def local(given: Handover, hours: float) -> datetime:
    return (given.as_of + timedelta(hours=hours)).astimezone(given.unit.time_zone)


def course(*volumes_ml: float, minutes: int = 60) -> Handover:
    """Readings so many minutes apart, the last at 18:00."""
    last = at("18:00")
    entries = [
        replace(entry("18:00", volume_ml=volume), at=last - timedelta(minutes=minutes * back))
        for back, volume in enumerate(reversed(volumes_ml))
    ]
    return handover(*entries, patients=(STAY,))


# Of time


def test_long_ticks_are_local_midnights_and_short_ones_shift_changes() -> None:
    given = course(*[1000.0] * 48)
    ticks = shown(given).ticks
    midnights = [local(given, tick.x_h) for tick in ticks if tick.label]
    changes = [local(given, tick.x_h) for tick in ticks if not tick.label]
    assert [each.time() for each in midnights] == [time(), time()]
    assert [tick.label for tick in ticks if tick.label] == ["11 May", "12 May"]
    assert changes == [at("-1 19:00"), at("07:00"), at("19:00")]


@pytest.mark.parametrize(
    ("night", "between", "quiet_h"),
    [(date(2026, 3, 7), 23, 7), (date(2026, 10, 31), 25, 9)],
    ids=["forward", "back"],
)
def test_midnights_and_quiet_hours_are_those_of_the_clock_also_when_it_changes(
    night: date, between: float, quiet_h: float
) -> None:
    """The clock changes at 02:00 in the night after `night`."""
    start, end = (
        datetime.combine(night + timedelta(days=day), time(7), ZONE).astimezone(UTC)
        for day in (0, 2)
    )
    two_days = Shift(start, end)
    given = replace(
        handover(unit=Unit("Harbour 3 East", ZONE, (time(22), time(6)))),
        shift=two_days,
        shifts=(two_days,),
        as_of=two_days.end,
    )
    chart = shown(given)
    labelled = [tick.x_h for tick in chart.ticks if tick.label]
    assert [local(given, hours).time() for hours in labelled] == [time(), time()]
    assert labelled[1] - labelled[0] == pytest.approx(between)
    first, *_ = chart.nights
    assert first[1] - first[0] == pytest.approx(quiet_h)
    assert [local(given, hours).time() for hours in first] == [time(22), time(6)]


def test_a_unit_without_quiet_hours_has_no_nights() -> None:
    assert shown(handover(unit=replace(UNIT, quiet_hours=None))).nights == ()


def test_nothing_older_than_seven_days_is_drawn_and_never_less_than_a_day() -> None:
    old = patient(order=order("-20 07:00"))
    given = handover(
        entry("-8 09:00", volume_ml=900), entry("-6 09:00", volume_ml=950), patients=(old,)
    )
    assert [reading.volume_ml for reading in shown(given).readings] == [950]
    assert shown(handover(as_of="09:00")).x_low_h == -24


# Of volume


@pytest.mark.parametrize(
    "volumes_ml",
    [
        (),
        (0.0,),
        (1000.0,),
        (1000.0,) * 30,
        (2500.0,) * 30,
        (50.0, 6000.0),
        tuple(500.0 + number for number in range(600)),
    ],
    ids=["none", "zero", "one", "all equal", "all at scale", "far apart", "six hundred"],
)
def test_the_axis_goes_from_zero_in_a_few_round_steps_to_over_all_that_is_drawn(
    volumes_ml: tuple[float, ...],
) -> None:
    chart = shown(course(*volumes_ml, minutes=5))
    assert len(chart.readings) == len(volumes_ml)
    assert chart.steps_ml[0] == 0
    assert 2 <= len(chart.steps_ml) <= 7
    assert {after - before for before, after in pairwise(chart.steps_ml)} <= {50, 250, 500, 1000}
    drawn = [reading.volume_ml for reading in chart.readings]
    drawn += [level.volume_ml for level in chart.levels]
    assert max(drawn) < chart.top_ml
    assert (chart.empty_words is None) == bool(volumes_ml)
    assert fallen_together(draw_volume(chart, 544, 100)) == []


@pytest.mark.parametrize(("scale_ml", "drawn"), [(2690.0, True), (2710.0, False)])
def test_a_scale_far_above_all_else_is_not_drawn_since_it_would_press_the_readings_flat(
    scale_ml: float, *, drawn: bool
) -> None:
    """Over 1.35 times the highest of what is drawn: common practice."""
    given = handover(entry("09:00", volume_ml=2000), patients=(patient(device_scale_ml=scale_ml),))
    chart = shown(given)
    assert (Style.SCALE in [level.style for level in chart.levels]) == drawn
    assert (chart.top_ml > scale_ml) == drawn


def test_no_reading_has_no_trend_no_usual_and_says_so() -> None:
    chart = shown(course())
    assert (chart.trend, chart.usual, chart.last, chart.middles) == (None, None, (), ())
    assert chart.empty_words == "No volume is recorded."


def test_one_reading_is_a_dot_and_the_last_one_without_a_trend() -> None:
    chart = shown(course(1000.0))
    assert [reading.mark for reading in chart.readings] == [Mark.GOOD]
    assert (chart.trend, chart.usual, chart.last_label) == (None, None, "last 1,000 mL")


def test_all_equal_readings_have_a_level_trend_with_no_width() -> None:
    given = course(*[1000.0] * 40, minutes=180)
    chart = shown(given)
    assert measured(given).trend.direction is Direction.STEADY
    assert chart.trend is not None
    assert chart.trend.middle_ml == chart.trend.low_ml == chart.trend.high_ml == (1000, 1000)


def test_the_ends_of_the_interval_turn_about_the_middle_point() -> None:
    """Half a day apart, the last at 18:00: at their mean time all are at 1,200 mL."""
    given = course(1000, 1050, 1150, 1150, 1250, 1300, 1300, 1400, minutes=720)
    trend, found = shown(given).trend, measured(given).trend
    assert trend is not None
    assert found.line is not None
    assert trend.x0_h == pytest.approx(-85)
    days = 85 / 24 + found.line.middle_x
    for (first, last), slope in (
        (trend.low_ml, 85.988),
        (trend.middle_ml, 109.524),
        (trend.high_ml, 133.060),
    ):
        assert first == pytest.approx(1200 - days * slope, abs=0.01)
        assert last == pytest.approx(1200 - found.line.middle_x * slope, abs=0.01)
    assert trend.label == "trend +110 mL a day"


UP = (1000, 1050, 1150, 1150, 1250, 1300, 1300, 1400)


@pytest.mark.parametrize(
    ("volumes_ml", "fell", "is_drawn"),
    [
        (UP, False, True),
        (UP, True, False),
        (UP[::-1], True, True),
        ((1000,) * 10, False, True),
        ((1000,) * 10, True, False),
        ((1000, 1300, 900, 1200, 1000, 1250), False, False),
        ((1000, 1100), False, False),
    ],
)
def test_a_trend_that_is_not_clear_or_contradicts_a_fall_is_not_drawn(
    volumes_ml: tuple[float, ...], *, fell: bool, is_drawn: bool
) -> None:
    chart = shown(course(*volumes_ml, minutes=720), fell=fell)
    assert (chart.trend is not None) == is_drawn


def test_where_the_volume_fell_all_that_was_compared_is_named() -> None:
    before = [entry(f"-1 {hour}:00", volume_ml=1200) for hour in (20, 21, 22)]
    low = [
        entry("08:00", volume_ml=1150),
        entry("16:00", volume_ml=900),
        entry("17:00", volume_ml=850),
    ]
    given = handover(*before, *low, patients=(STAY,))
    calm, fell = shown(given), shown(given, fell=True)
    assert calm.last_label == "last 850 mL"
    assert fell.last_label == "last 1,150 mL, 900 mL, 850 mL"
    assert [volume for _, volume in fell.last] == [850, 900, 1150]
    for chart in (calm, fell):
        assert chart.usual is not None
        assert (chart.usual.label, chart.usual.x0_h) == ("usual 1,200 mL", -23)


def test_early_in_a_stay_the_usual_is_not_known_and_a_fall_is_shown_from_what_was_before() -> None:
    given = handover(entry("08:00", volume_ml=900), entry("09:00", volume_ml=350), patients=(STAY,))
    assert shown(given).usual is None
    usual = shown(given, fell=True).usual
    assert usual is not None
    assert (usual.label, usual.x0_h) == ("before 900 mL", -11)


def test_readings_at_the_devices_scale_are_all_marked_so() -> None:
    chart = shown(course(*[2500.0] * 5))
    assert {reading.mark for reading in chart.readings} == {Mark.AT_SCALE}
    assert "device scale 2,500 mL" in [level.label for level in chart.levels]


def test_the_small_trend_line_has_the_points_of_the_chart_and_its_goal() -> None:
    given = course(1000, 1100, 1200, minutes=720)
    small = spark(measured(given), given.as_of)
    assert len(small.points) > 1
    assert small.points == shown(given).middles
    assert [small.goal_ml] == [
        level.volume_ml for level in shown(given).levels if level.style is Style.GOAL
    ]


def test_a_baseline_that_stands_in_for_a_goal_is_named_baseline() -> None:
    someone = patient(order=order(), baseline_ml=1900, device_scale_ml=None)
    given = handover(entry("09:00", volume_ml=950), patients=(someone,))
    assert measured(given).goal.goal_ml == 1900
    (level,) = shown(given).levels
    assert (level.label, level.style) == ("baseline 1,900 mL", Style.BASELINE)


def test_an_axis_with_nothing_on_it_names_no_volume_but_zero() -> None:
    someone = patient(order=order(), device_scale_ml=None)
    assert list(shown(handover(patients=(someone,))).steps_ml) == [0]


def test_a_device_scale_far_above_does_not_press_the_readings_flat() -> None:
    small = patient(order=order(goal_ml=700), device_scale_ml=5000)
    given = handover(entry("09:00", volume_ml=600), patients=(small,))
    assert [level.label for level in shown(given).levels] == ["goal 700 mL"]

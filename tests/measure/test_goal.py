"""Whose goal, how far, and how long it may take."""

import pytest
from msgspec.structs import replace

from handoff.measure.goal import days_to_goal
from handoff.measure.trend import fit
from handoff.model.measures import Direction, Goal, GoalSource, Lately, Trend
from handoff.model.ward import Entry
from tests.support.builders import at, entry, handover, measured, order, patient

# 85.988 to 133.060 mL a day about 1,200 mL, 1.75 days ago: the worked example of `test_trend`.
LINE = fit(
    [-3.5, -3, -2.5, -2, -1.5, -1, -0.5, 0], [1000, 1050, 1150, 1150, 1250, 1300, 1300, 1400]
)
RISING = Trend(
    n=8,
    span_h=84,
    slope_ml_per_day=LINE.slope,
    low=LINE.low,
    high=LINE.high,
    middle_at=at("00:00"),
    middle_ml=LINE.middle_y,
    direction=Direction.RISING,
    points=(),
    days=(),
    line=LINE,
    lately=Lately((), None, None),
    is_capped=False,
)


def goal(
    *entries: Entry,
    ordered_ml: float | None = None,
    baseline_ml: float | None = None,
    scale_ml: float | None = None,
) -> Goal:
    somebody = patient(
        order=order(goal_ml=ordered_ml), baseline_ml=baseline_ml, device_scale_ml=scale_ml
    )
    given = handover(*entries, patients=(somebody,), stay_start="-5 07:00")
    return measured(given).goal


def test_an_ordered_goal_comes_before_the_baseline() -> None:
    found = goal(ordered_ml=1500, baseline_ml=1900)
    assert (found.goal_ml, found.source) == (1500, GoalSource.ORDERED)


def test_the_baseline_is_the_goal_where_none_is_ordered() -> None:
    found = goal(baseline_ml=1900)
    assert (found.goal_ml, found.source) == (1900, GoalSource.BASELINE)


def test_without_either_the_aim_is_words_only() -> None:
    found = goal(entry("08:00", volume_ml=900), scale_ml=2500)
    assert found == Goal(None, GoalSource.OWN_BEST, None, None, None, None)


def test_percent_is_of_the_best_of_the_shift() -> None:
    before = entry("06:00", volume_ml=1400)
    assert goal(before, entry("08:00", volume_ml=1200), ordered_ml=1500).percent == 80
    assert goal(before, ordered_ml=1500).percent is None


def test_a_goal_is_reached_by_the_first_good_reading_of_the_stay_at_it() -> None:
    entries = (
        entry("-2 08:00", volume_ml=1700, flow="fast"),
        entry("-2 09:00", volume_ml=1499),
        entry("-2 10:00", volume_ml=1500),
        entry("08:00", volume_ml=1800),
    )
    assert goal(*entries, ordered_ml=1500).reached_at == at("-2 10:00")
    assert goal(*entries, ordered_ml=1900).reached_at is None


@pytest.mark.parametrize(
    ("ordered_ml", "scale_ml", "over"),
    [(2600, 2500, True), (2500, 2500, False), (2500, None, None), (None, 2500, None)],
)
def test_a_goal_over_the_scale(
    *, ordered_ml: float | None, scale_ml: float | None, over: bool | None
) -> None:
    assert goal(ordered_ml=ordered_ml, scale_ml=scale_ml).goal_over_scale is over


def test_a_goal_of_nothing_has_no_percentage() -> None:
    assert goal(entry("08:00", volume_ml=900), ordered_ml=0).percent is None


def test_days_to_a_goal_are_where_the_ends_of_the_interval_meet_it() -> None:
    """By hand: -1.75 + 600 / 133.060, and -1.75 + 600 / 85.988."""
    assert days_to_goal(1800, 1400, RISING) == pytest.approx((2.759, 5.228), abs=5e-4)


def test_more_than_14_days_are_not_counted() -> None:
    """Fourteen days from now and 1.75 more at 85.988 mL a day, and at 133.060."""
    latest, soonest = (1200 + 15.75 * slope for slope in (LINE.low, LINE.high))
    for goal_ml, ends in ((latest - 1, (True, True)), (latest + 1, (True, False))):
        found = days_to_goal(goal_ml, 1400, RISING)
        assert found is not None
        assert tuple(end is not None for end in found) == ends
    assert days_to_goal(soonest - 1, 1400, RISING) is not None
    assert days_to_goal(soonest + 1, 1400, RISING) is None


def test_a_line_already_over_the_goal_needs_no_days() -> None:
    assert days_to_goal(1300, 1250, RISING) == (0, 0)


def test_no_days_without_a_best_or_once_the_goal_is_reached() -> None:
    assert days_to_goal(1800, None, RISING) is None
    assert days_to_goal(1800, 1800, RISING) is None


@pytest.mark.parametrize("direction", [each for each in Direction if each is not Direction.RISING])
def test_no_days_unless_rising(direction: Direction) -> None:
    assert days_to_goal(1800, 1400, replace(RISING, direction=direction)) is None


def test_days_to_goal_of_a_whole_course() -> None:
    """Up 50 mL each 12 h to 1100 mL at 18:00; the line stands at 1104 mL at 19:00."""
    entries = [
        entry(clock, volume_ml=1100 - 50 * number)
        for number, clock in enumerate(("18:00", "06:00", "-1 18:00", "-1 06:00", "-2 18:00"))
    ]
    found = goal(*entries, ordered_ml=1300)
    days = (1300 - 1100 - 100 / 24) / 100
    assert found.days_to_goal == pytest.approx((days, days))

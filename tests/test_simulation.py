"""The simulator does what it says, and a small back-test stays within generous bounds."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from functools import cache
from importlib import import_module
from itertools import pairwise
from math import inf
from typing import Any

import numpy as np
import pytest

from handoff.model.measures import Direction
from handoff.model.verdicts import Level
from tests.support.builders import ZONE
from tests.tools.backtest import miss, percent
from tests.tools.follow import AnyAssumptions, Followed, Outcome, Slope, follow
from tests.tools.old_rules import DROP, DROP_WITH_SIGNS, old_levels, old_line, old_points
from tests.tools.other_simulation import OtherAssumptions, simulate_other
from tests.tools.scenarios import complicated
from tests.tools.simulation import (
    EVENING,
    FEVER_C,
    WAKING,
    Assumptions,
    Course,
    Path,
    hand_overs,
    simulate,
)

# Every waking round is charted, to the mL and without any error.
EXACT = Assumptions(
    swing_ml=0,
    shift_sd_ml=0,
    reading_sd_ml=0,
    poor_chance=0,
    steps_ml=(1,),
    order_h=(0, 0),
    charted_chance=1,
    missed_night_chance=0,
)


def path(**fields: Any) -> Path:
    """A flat 1,000 mL; `fields` stand in for the defaults."""
    flat = Path(
        start_ml=1000,
        gain_ml_per_day=0,
        ceiling_ml=inf,
        order_h=0,
        learning_ml=0,
        learning_h=6,
        onset_h=inf,
        loss=0,
        loss_over_h=1,
    )
    return replace(flat, **fields)


def course(given: Assumptions, seed: int = 1) -> Course:
    return simulate(given, np.random.default_rng(seed))


def courses(given: Assumptions, number: int) -> list[Course]:
    rng = np.random.default_rng(1)
    return [simulate(given, rng) for _ in range(number)]


def residuals(given: Assumptions, number: int) -> list[tuple[np.ndarray, np.ndarray]]:
    """Of each course: the shift of each reading, and how far it is from the underlying volume."""
    return [
        (each.reading_h // given.shift_h, each.reading_ml - each.path.at(each.reading_h))
        for each in courses(given, number)
    ]


# The truth


def test_a_straight_course_gains_the_same_every_day() -> None:
    assert path(gain_ml_per_day=100).at([0, 24, 60]).tolist() == [1000, 1100, 1250]


def test_a_plateau_ends_the_gain() -> None:
    assert path(gain_ml_per_day=100, ceiling_ml=1150).at([24, 36, 90]).tolist() == [
        1100,
        1150,
        1150,
    ]


def test_37_per_cent_is_not_learned_yet_after_the_learning_time() -> None:
    learning = path(learning_ml=200, order_h=3)
    assert learning.at([3, 9]) == pytest.approx([800, 1000 - 200 * 0.3679], abs=0.1)


def test_a_complication_takes_its_part_in_its_time_and_keeps_it() -> None:
    lost = path(onset_h=50, loss=0.3, loss_over_h=10)
    assert lost.at([50, 55, 60, 160]) == pytest.approx([1000, 850, 700, 700])


def test_on_a_straight_course_the_average_change_is_its_gain() -> None:
    assert path(gain_ml_per_day=-50).average_change(10, 90) == pytest.approx(-50)


def test_over_a_plateau_the_average_change_counts_its_days_too() -> None:
    level = path(gain_ml_per_day=200, ceiling_ml=1400)
    assert level.average_change(0, 96) == pytest.approx(100)


def test_the_goal_is_reached_when_the_underlying_volume_is_there() -> None:
    assert path(gain_ml_per_day=100).reaches_h(1200) == pytest.approx(48, abs=0.1)
    assert path(gain_ml_per_day=100, ceiling_ml=1150).reaches_h(1200) == inf


@pytest.mark.parametrize("gain", [-200, -50, 0, 100, 200])
def test_the_line_stays_within_the_volumes_for_a_week(gain: float) -> None:
    for each in courses(Assumptions(gain, volume_ml=(600, 2500)), 20):
        assert 600 <= each.path.at([0, 168]).min() <= each.path.at([0, 168]).max() <= 2500


# What is charted of it


def test_without_errors_every_waking_round_charts_the_underlying_volume() -> None:
    exact = course(replace(EXACT, gain_ml_per_day=100))
    assert exact.reading_h.size == 7 * len(WAKING)
    assert exact.reading_ml == pytest.approx(exact.path.at(exact.reading_h), abs=0.5)


def test_readings_stand_on_the_devices_marks() -> None:
    assert {ml % 50 for ml in course(Assumptions(steps_ml=(50,))).reading_ml} == {0}


def test_readings_of_a_shift_share_an_effect_and_spread_about_it() -> None:
    given = replace(EXACT, shift_sd_ml=120, reading_sd_ml=40)
    within, between = [], []
    for shift, residual in residuals(given, 60):
        effects = [residual[shift == number] for number in np.unique(shift)]
        within += [float(effect.std(ddof=1)) for effect in effects if effect.size > 3]
        between += [float(effect.mean()) for effect in effects if effect.size > 3]
    assert np.sqrt(np.mean(np.square(within))) == pytest.approx(40, rel=0.05)
    assert np.std(between) == pytest.approx(120, rel=0.1)


@pytest.mark.parametrize("carried", [0, 0.5])
def test_a_part_of_the_effect_is_carried_to_the_next_shift(carried: float) -> None:
    given = replace(EXACT, shift_sd_ml=100, carried=carried)
    pairs = []
    for shift, residual in residuals(given, 100):
        effects = [residual[shift == number].mean() for number in np.unique(shift)]
        pairs += list(pairwise(effects))
    before, after = np.transpose(pairs)
    assert np.corrcoef(before, after)[0, 1] == pytest.approx(carried, abs=0.08)
    assert np.std(after) == pytest.approx(100, rel=0.1)


@pytest.mark.parametrize("first_clock_h", [7, EVENING])
def test_the_swing_is_highest_at_16_o_clock(first_clock_h: int) -> None:
    swinging = course(replace(EXACT, swing_ml=100, first_clock_h=first_clock_h))
    best_h = swinging.reading_h[swinging.reading_ml.argmax()]
    assert (first_clock_h + best_h) % 24 == pytest.approx(16, abs=0.6)
    swing = swinging.reading_ml - swinging.path.at(swinging.reading_h)
    assert swing.max() == pytest.approx(100, abs=1)


def test_poor_efforts_give_their_part_and_are_as_common_as_told() -> None:
    given = replace(EXACT, poor_chance=0.1, poor_part=0.5, volume_ml=(1000, 1000))
    found = np.concatenate([each.reading_ml for each in courses(given, 20)])
    assert set(found.tolist()) == {500, 1000}
    assert np.mean(found == 500) == pytest.approx(0.1, abs=0.03)


def test_rounds_are_charted_as_often_as_told() -> None:
    given = replace(EXACT, charted_chance=0.4)
    rounds = [each.reading_h.size for each in courses(given, 20)]
    assert np.mean(rounds) / (7 * len(WAKING)) == pytest.approx(0.4, abs=0.05)


@pytest.mark.parametrize("first_clock_h", [7, EVENING])
def test_a_missed_night_leaves_no_reading_and_days_are_never_missed(first_clock_h: int) -> None:
    missed = course(replace(EXACT, missed_night_chance=1, first_clock_h=first_clock_h))
    clock = (first_clock_h + missed.reading_h) % 24
    assert set(np.floor(clock)) == set(range(7, 19))


def test_a_fever_stands_beside_the_last_reading_of_each_shift_once_it_is_there() -> None:
    ill = course(replace(EXACT, onset_h=(60, 60), sign_chance_ill=1))
    shifts = ill.reading_h[ill.fever] // 12
    assert shifts.tolist() == list(range(5, 14))
    assert not course(replace(EXACT, onset_h=(60, 60))).fever.any()


def test_the_same_seed_gives_the_same_course() -> None:
    one, same, other = (course(Assumptions(), seed) for seed in (1, 1, 2))
    assert one.reading_ml.tolist() == same.reading_ml.tolist()
    assert one.reading_ml.tolist() != other.reading_ml.tolist()


# The other generator

OTHER_EXACT = OtherAssumptions(
    missing_part=(0, 0),
    noise_part=(0, 0),
    swing_part=(0, 0),
    poor_chance=0,
    dips_a_day=0,
    steps_ml=(1,),
    order_h=(0, 0),
    charted_chance=1,
    missed_night_chance=0,
)


def others(given: OtherAssumptions, number: int) -> list[Course]:
    rng = np.random.default_rng(1)
    return [simulate_other(given, rng) for _ in range(number)]


def parts_left(given: OtherAssumptions, number: int) -> list[np.ndarray]:
    """Each reading as a part of the underlying volume."""
    return [each.reading_ml / each.path.at(each.reading_h) for each in others(given, number)]


def test_without_errors_the_other_charts_the_underlying_volume_of_every_waking_round() -> None:
    (exact,) = others(replace(OTHER_EXACT, gain_ml_per_day=100), 1)
    assert exact.reading_h.size == 7 * len(WAKING)
    assert exact.reading_ml == pytest.approx(exact.path.at(exact.reading_h), abs=0.5)


def test_its_slow_disturbance_knows_no_borders_and_fades() -> None:
    """Readings 8 h apart correlate by 1/e of the slow half, whatever the shift."""
    slow = replace(OTHER_EXACT, noise_part=(0.08, 0.08))
    near, far = [], []
    for left in parts_left(slow, 60):
        off = left - left.mean()
        near += list(pairwise(off))
        far += list(zip(off[:-8], off[8:], strict=True))
    near_by, far_by = (np.corrcoef(*np.transpose(each))[0, 1] for each in (near, far))
    assert 0.3 < near_by < 0.6
    assert -0.1 < far_by < near_by - 0.15


def test_its_large_errors_are_more_than_a_normal_spread_has() -> None:
    left = np.concatenate(parts_left(replace(OTHER_EXACT, noise_part=(0.1, 0.1)), 40))
    standard = (left - left.mean()) / left.std()
    assert np.mean(np.abs(standard) > 3) > 0.006  # 0.0027 of a normal one


def test_its_poor_efforts_come_in_runs() -> None:
    poor = np.concatenate(
        [left < 0.81 for left in parts_left(replace(OTHER_EXACT, poor_chance=0.05), 40)]
    )
    assert np.mean(poor[1:][poor[:-1]]) > 3 * np.mean(poor)


def test_less_is_charted_of_it_in_an_ill_patient() -> None:
    ill = others(replace(OTHER_EXACT, onset_h=(84, 84), loss=0.5), 20)
    before = sum(np.sum(each.reading_h < 84) for each in ill)
    after = sum(np.sum(each.reading_h >= 85) for each in ill)
    assert after / before == pytest.approx(1 - 1.3 * 0.5, abs=0.08)


def test_it_is_cut_at_the_top_of_its_device() -> None:
    for each in others(replace(OTHER_EXACT, volume_ml=(2400, 2400), noise_part=(0.1, 0.1)), 5):
        assert each.scale_ml == 2500
        assert each.reading_ml.max() == 2500


# The rules of before


def test_the_old_rules_compared_the_bests_of_a_shift_and_of_the_day_before() -> None:
    lost = course(replace(EXACT, volume_ml=(1000, 1000), onset_h=(66, 66), loss=0.5))
    assert old_levels(lost, 72, 12) == {}  # the best of the shift hides it
    assert old_levels(lost, 84, 12) == {DROP_WITH_SIGNS: Level.ESCALATE}
    assert old_levels(lost, 120, 12) == {}  # the loss is its own yardstick


def test_the_old_line_equals_scipy() -> None:
    """Oracle: scipy.stats.theilslopes, method 'separate' [run]."""
    points = old_points(course(Assumptions(100)), 168, 12)
    assert len(points) >= 12
    y, x = [ml for _, ml in points], [(hour - 168) / 24 for hour, _ in points]
    oracle = import_module("scipy.stats").theilslopes(y, x, 0.95, method="separate")
    slope, low, high, now_ml = old_line(points, 168) or (0, 0, 0, 0)
    expected = (oracle.slope, oracle.low_slope, oracle.high_slope, oracle.intercept)
    assert (slope, low, high, now_ml) == pytest.approx(expected)


# The hand-overs


@pytest.mark.parametrize(("first_clock_h", "shift_h"), [(7, 12), (EVENING, 12), (7, 8)])
def test_each_shift_is_handed_over_with_what_was_charted_until_then(
    first_clock_h: int, shift_h: int
) -> None:
    given = Assumptions(first_clock_h=first_clock_h, shift_h=shift_h)
    ward = courses(given, 3)
    told = list(hand_overs(given, ward))
    assert [hours for hours, _ in told] == list(range(shift_h, 169, shift_h))
    start = told[0][1].shift.start
    assert start.astimezone(ZONE).hour == first_clock_h
    for hours, handover in told:
        assert handover.as_of == handover.shift.end == start + timedelta(hours=hours)
        for patient, each in zip(handover.patients, ward, strict=True):
            rows = handover.entries_of(patient)
            assert len(rows) == np.sum(each.reading_h < hours)
            assert all(handover.stay_start[patient.id] <= row.at < handover.as_of for row in rows)
            assert [row.volume_ml for row in rows] == each.reading_ml[: len(rows)].tolist()


def test_a_fever_is_charted_as_a_temperature() -> None:
    given = replace(EXACT, sign_chance_well=1)
    *_, (_, handover) = hand_overs(given, [course(given)])
    (rows,) = handover.entries.values()
    assert {row.signs.temp_c for row in rows} == {None, FEVER_C}


# The clock of the truth is the clock of the program


@cache
def followed(given: AnyAssumptions, number: int = 60) -> Sequence[Followed]:
    return follow(given, number, seed=1)


def test_without_errors_trend_and_forecast_are_the_truth() -> None:
    """On a rise the middle reading of a block lies on the line, as the others do."""
    given = replace(EXACT, gain_ml_per_day=100, goal_after_d=(12, 12), length_d=12)
    for each in followed(given, 2):
        said = each.after(7)
        assert said.slope is not None
        assert said.slope.low == pytest.approx(100, abs=2)
        assert said.slope.high == pytest.approx(100, abs=2)
        assert said.slope.average == pytest.approx(100)
        assert said.forecast_d is not None
        assert said.goal_d == pytest.approx(5, abs=0.3)  # the goal is rounded to 50 mL
        assert said.forecast_d == pytest.approx((said.goal_d, said.goal_d), abs=0.2)
        assert said.charted_d == pytest.approx(said.goal_d, abs=0.7)  # not in quiet hours


def test_without_errors_half_a_volume_lost_is_flagged_in_its_very_shift() -> None:
    given = replace(EXACT, onset_h=(66, 66), loss=0.5)
    for each in followed(given, 2):
        during, after, *_ = each.since_onset
        assert (during.as_of_h, during.flagged) == (72, True)
        # With a reading every hour the usual of the next shift may be the lost volume already.
        assert {DROP_WITH_SIGNS: Level.ESCALATE} in (during.levels, after.levels)


# How the back-test counts

SAID = Outcome(
    as_of_h=72,
    direction=Direction.RISING,
    slope=Slope(low=20, high=120, average=90),
    levels={DROP: Level.NOTE},
    forecast_d=(2, 5),
    goal_d=3,
    charted_d=6,
)


@pytest.mark.parametrize(("day", "side"), [(1.9, -1), (2, 0), (5, 0), (5.1, 1), (inf, 1)])
def test_a_day_is_within_sooner_or_later_than_the_pair(day: float, side: int) -> None:
    assert miss(SAID, day) == side
    assert miss(replace(SAID, forecast_d=(2, inf)), day) == min(side, 0)


def test_an_interval_holds_what_lies_within_it() -> None:
    assert SAID.slope is not None
    assert SAID.slope.holds(SAID.slope.average)
    assert SAID.slope.holds(20 - 1e-9)
    assert not SAID.slope.holds(10)


def test_a_note_is_not_a_flag() -> None:
    assert (SAID.flagged, SAID.only_noted) == (False, True)
    grave = replace(SAID, levels={DROP: Level.FOLLOW_UP})
    assert (grave.flagged, grave.only_noted) == (True, False)
    calm = replace(SAID, levels={})
    assert (calm.flagged, calm.only_noted) == (False, False)


def test_shares_are_in_per_cent_and_a_share_of_nothing_is_a_dash() -> None:
    assert percent([True, False, False]) == "33"
    assert percent([True, False, False], digits=1) == "33.3"
    assert percent([]) == "–"


# A small back-test of 60 courses: the bounds are four standard errors or more from what 400 gave


def share(said: Sequence[bool]) -> float:
    return sum(said) / len(said)


@pytest.mark.long
@pytest.mark.parametrize("gain", [0, 200])
def test_the_interval_holds_the_true_slope_of_most_straight_courses(gain: float) -> None:
    slopes = [each.after(7).slope for each in followed(Assumptions(gain))]
    assert share([slope.holds(slope.average) for slope in slopes if slope]) >= 0.85


@pytest.mark.long
def test_few_flat_courses_are_called_rising_or_falling() -> None:
    called = [each.after(7).direction for each in followed(Assumptions())]
    moving = (Direction.RISING, Direction.LEVELLED_OFF, Direction.FALLING)
    assert share([each in moving for each in called]) <= 0.08
    assert share([each is Direction.STEADY for each in called]) >= 0.35


def test_a_steep_rise_is_called_one_after_a_week_and_never_a_fall() -> None:
    group = followed(Assumptions(200))
    assert share([each.after(7).direction is Direction.RISING for each in group]) >= 0.9
    said = [outcome.direction for each in group for outcome in each.outcomes]
    assert Direction.FALLING not in said


@pytest.mark.long
def test_half_a_volume_lost_is_flagged_within_two_whole_shifts() -> None:
    group = followed(complicated(0.5)["50 % of flat"])
    caught = [any(said.flagged for said in each.since_onset[:3]) for each in group]
    assert share(caught) >= 0.85


@pytest.mark.long
def test_a_flat_course_is_rarely_flagged() -> None:
    said = [outcome for each in followed(Assumptions()) for outcome in each.outcomes[1:]]
    assert share([each.flagged for each in said]) <= 0.08

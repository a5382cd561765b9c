"""Run charts and proportion charts, against published values."""

from collections.abc import Sequence
from datetime import date, timedelta
from functools import cache
from importlib import import_module
from math import comb
from random import Random

import pytest
from msgspec.structs import replace

from handoff.model.review import HIDDEN, Measure, Point, RunChart, Share
from handoff.review.charts import fewest_usual, longest_usual, proportion_chart, run_chart

MONDAY = date(2026, 1, 5)


def chart_of(values: Sequence[float | None]) -> RunChart:
    """A run chart of these shares in per cent; None is not shown."""
    shares = [HIDDEN if each is None else Share(each, 100) for each in values]
    points = [
        Point(MONDAY + timedelta(weeks=number), each, is_whole=True)
        for number, each in enumerate(shares)
    ]
    return run_chart(Measure.CREDITED, 7, points)


def of_sides(sides: str) -> RunChart:
    """A run chart whose points are above (+) or below (-) the median, as many each."""
    assert sides.count("+") == sides.count("-")
    return chart_of([60.0 + n if each == "+" else 40.0 - n for n, each in enumerate(sides)])


# Rules


# Critical values of run length as a hospital's pages on run charts print them, computed there as
# log2(n) + 3 [read, secondary to Anhøj and Olesen, PLoS ONE 2014;9:e113825]: the first and the last
# number of useful points with each limit.
LONGEST = {6: (10, 11), 7: (12, 22), 8: (23, 45), 9: (46, 90), 10: (91, 101)}


@pytest.mark.parametrize("longest", LONGEST)
def test_the_longest_usual_run_is_the_published_one(longest: int) -> None:
    first, last = LONGEST[longest]
    assert {longest_usual(each) for each in range(first, last + 1)} == {longest}
    assert longest_usual(first - 1) <= longest


def test_of_13_points_fewer_than_three_crossings_are_unusual() -> None:
    """Wentzel-Larsen and Anhøj in Science Trends, on their paper of 2019 [read]."""
    assert fewest_usual(13) == 3


def test_the_fewest_crossings_are_scipys_five_per_cent_point() -> None:
    binom = import_module("scipy.stats").binom  # takes a second
    for useful in range(2, 200):
        assert fewest_usual(useful) == binom.ppf(0.05, useful - 1, 0.5)


def test_a_published_chart_of_24_points_has_its_longest_run_and_crossings() -> None:
    """The manual of a package for this distribution (Anhøj and Wentzel-Larsen, PLoS ONE 2019;14:
    e0223233): of 24 points with the run 12 to 16, longest run 5 and 11 crossings.
    """
    chart = of_sides("++-+--++-++-----++-+++--")
    assert (chart.useful, chart.longest_run, chart.crossings) == (24, 5, 11)
    assert not chart.has_signal


@cache
def ways(points: int, crossings: int, longest: int) -> int:
    """How many of 2^(points - 1) courses from a given first side cross so often, with a longest run
    of just so many: by the length of the first run.
    """
    exactly = ways_up_to(points, crossings, longest)
    return exactly - ways_up_to(points, crossings, longest - 1)


@cache
def ways_up_to(points: int, crossings: int, longest: int) -> int:
    if crossings == 0:
        return int(0 < points <= longest)
    firsts = range(1, min(longest, points - 1) + 1)
    return sum(ways_up_to(points - first, crossings - 1, longest) for first in firsts)


def test_the_count_of_all_courses_is_the_published_one() -> None:
    """Of 14 points with 2 crossings, longest run 5 to 12 (the same manual)."""
    assert [ways(14, 2, longest) for longest in range(5, 13)] == [3, 12, 18, 15, 12, 9, 6, 3]
    assert sum(ways(14, c, run) for c in range(14) for run in range(1, 15)) == 2**13
    assert sum(ways(14, 2, longest) for longest in range(1, 15)) == comb(13, 2)


def test_a_run_chart_counts_runs_and_crossings_as_all_courses_have_them() -> None:
    """Every course of 10 points, five on each side, is counted in some cell."""
    found: dict[tuple[int, int], int] = {}
    for number in range(2**9):
        sides = "+" + "".join("+-"[number >> bit & 1] for bit in range(9))
        if sides.count("+") == 5:
            chart = of_sides(sides)
            key = chart.crossings, chart.longest_run
            found[key] = found.get(key, 0) + 1
    assert sum(found.values()) == comb(9, 4)
    assert all(count <= ways(10, *key) for key, count in found.items())


def test_points_on_the_median_and_points_not_shown_count_in_no_rule() -> None:
    chart = chart_of([40, 50, None, 60, 50, 60])
    assert (chart.median, chart.useful, chart.longest_run, chart.crossings) == (50, 3, 2, 1)


def test_nine_useful_points_bear_no_judgement_and_ten_do() -> None:
    few = chart_of([10] * 4 + [50] + [90] * 4)
    assert (few.useful, few.is_judged, few.has_signal) == (8, False, False)
    step = of_sides("-----+++++")
    assert (step.crossings, step.fewest_usual) == (1, 2)
    assert step.has_few_crossings
    assert not step.has_long_run


def test_a_long_run_is_a_signal_from_one_point_over_the_limit() -> None:
    usual = of_sides("++++++++" + "-+-+-+-+-+-+-+-+" + "--------")
    assert (usual.longest_run, usual.longest_usual) == (8, 8)
    assert not usual.has_long_run
    longer = of_sides("+++++++++" + "-+-+-+-+-+-+-+" + "---------")
    assert (longer.longest_run, longer.longest_usual) == (9, 8)
    assert longer.has_long_run


def test_no_points_are_no_signal() -> None:
    empty = chart_of([None] * 12)
    assert (empty.median, empty.useful, empty.has_signal) == (None, 0, False)


@pytest.mark.parametrize("weeks", [12, 26, 52])
def test_quiet_units_give_no_more_false_signals_than_the_rules_promise(weeks: int) -> None:
    """About 5 % whatever the number of points (Anhøj and Olesen 2014): of 1,000 simulated units
    in which nothing changes, by a median of their own rather fewer. Five standard errors over 5 %
    are 8.5 %.
    """
    draw = Random(weeks)
    quiet = (chart_of([draw.gauss(50, 5) for _ in range(weeks)]) for _ in range(1000))
    signals = sum(chart.has_signal for chart in quiet)
    assert signals <= 85
    # And a rule that never speaks would be no rule: most steps in the middle are seen.
    steps = (
        chart_of([draw.gauss(50 if week < weeks // 2 else 65, 5) for week in range(weeks)])
        for _ in range(200)
    )
    assert sum(chart.has_signal for chart in steps) >= 120


@pytest.mark.parametrize(
    ("sides", "turn"),
    [
        ("-----+++++", (5, True)),
        ("+++++-----", (5, False)),
        ("----+-++++", (4, True)),
        ("+++-----++", None),
        ("-+-+-+-+-+", None),
    ],
)
def test_where_a_chart_turns_once_the_day_and_the_way_are_known(
    sides: str, turn: tuple[int, bool] | None
) -> None:
    found = of_sides(sides).turn
    where = found and ((found.first - MONDAY).days // 7, found.is_higher)
    assert where == turn


# Proportion charts


def points_of(counts: Sequence[tuple[float, float]]) -> list[Point]:
    return [
        Point(MONDAY + timedelta(weeks=number), Share(*each), is_whole=True)
        for number, each in enumerate(counts)
    ]


# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.3.2: misregistered chips of 50 on each of 30
# wafers [memory; the published mean 0.2313 and limits are a check on the numbers].
NIST = [12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22, 8, 10, 5, 13, 11, 20, 18, 24, 15, 9]
NIST += [12, 7, 13, 9, 6]


def test_the_limits_are_those_of_the_handbooks_wafers() -> None:
    chart = proportion_chart(Measure.TOLD, points_of([(each, 50) for each in NIST]))
    assert chart.centre == pytest.approx(23.13, abs=0.005)
    for each in chart.points:
        assert (each.low, each.high) == pytest.approx((5.24, 41.02), abs=0.01)
    # 22 and 24 of 50 are over 41 %.
    counts = [each.point.share.numerator for each in chart.outside]
    assert [NIST.index(int(count or 0)) + 1 for count in counts] == [15, 23]


def test_limits_are_wider_where_n_is_smaller_and_stay_within_0_and_100() -> None:
    chart = proportion_chart(Measure.TOLD, points_of([(90, 100), (5, 5), (9, 10)]))
    lows = [each.low or 0 for each in chart.points]
    assert lows[1] < lows[2] < lows[0]
    assert {each.high for each in chart.points[1:]} == {100}


def test_a_point_that_is_not_shown_has_no_limits_and_no_part_in_the_centre() -> None:
    points = points_of([(50, 100), (50, 100)])
    hidden = Point(MONDAY, HIDDEN, is_whole=True)
    chart = proportion_chart(Measure.TOLD, [*points, hidden])
    assert chart.centre == 50
    assert (chart.points[2].low, chart.points[2].high) == (None, None)
    assert chart.outside == ()


def test_a_week_cut_short_is_no_signal_alone_and_three_weeks_are_not_judged() -> None:
    points = points_of([(90, 100), (90, 100), (90, 100), (30, 100)])
    assert len(proportion_chart(Measure.TOLD, points).outside) == 4
    cut = [*points[:3], replace(points[3], is_whole=False)]
    assert cut[3].first not in {
        each.point.first for each in proportion_chart(Measure.TOLD, cut).outside
    }
    three = proportion_chart(Measure.TOLD, points[1:])
    assert (three.is_judged, three.outside) == (False, ())


def test_quiet_weeks_are_seldom_outside_three_standard_deviations() -> None:
    """0.27 % of points by the normal distribution; 500 units of 26 weeks of 40 orders."""
    draw = Random(1)
    outside = points = 0
    for _ in range(500):
        counts = [(sum(draw.random() < 0.5 for _ in range(40)), 40) for _ in range(26)]
        chart = proportion_chart(Measure.BEGUN, points_of(counts))
        outside, points = outside + len(chart.outside), points + len(chart.points)
    assert outside / points < 0.005

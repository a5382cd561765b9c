"""What it costs the ward: a shorter simulated month, counted by today's rule and by the new one.

All rates are invented. The bands are about what nine days of this ward came to with seeds 1 to 8:
today 1.9 to 2.3 ESCALATE, 8.2 to 10.6 FOLLOW UP, 16.3 to 18.8 CONTINUE a shift; with matters 3.1 to
5.0, 8.6 to 10.7 and 13.9 to 17.2. A change of the rules that moves the figures has to say so.
"""

from dataclasses import replace

import pytest

from handoff.verdicts import Priority
from tests.builders import default_limits
from tests.month import Figures, Rates, count, hand_overs, report

SHORT = Rates(shifts=27)
SEEDS = (1, 2)


def figures(rates: Rates, seed: int) -> Figures:
    return count(hand_overs(rates, seed), default_limits())


@pytest.fixture(scope="module")
def weeks() -> list[Figures]:
    return [figures(SHORT, seed) for seed in SEEDS]


def test_the_bands(weeks: list[Figures]) -> None:
    def a_shift(name: str, priority: Priority) -> float:
        return sum(each.a_shift(getattr(each, name)[priority]) for each in weeks) / len(weeks)

    today = [a_shift("today", priority) for priority in Priority]
    new = [a_shift("new", priority) for priority in Priority]
    assert 1.7 <= today[0] <= 2.4, today
    assert 8.0 <= today[1] <= 11.0, today
    assert 16.0 <= today[2] <= 19.0, today
    assert 3.0 <= new[0] <= 5.0, new
    assert 8.0 <= new[1] <= 11.0, new
    assert 13.5 <= new[2] <= 17.5, new
    assert sum(today) == pytest.approx(sum(new))


def test_both_ways_of_counting_see_the_same_patients_and_all_states(weeks: list[Figures]) -> None:
    for each in weeks:
        assert each.shifts == SHORT.shifts
        assert each.today.total() == each.new.total()
        assert {"open", "settled", "closed"} <= each.states.keys()
        assert each.measurements_asked == each.states["open"] + each.states["told"]
        assert len(each.ages_h) == each.measurements_asked
        assert min(each.ages_h) >= 0


def test_the_same_seed_gives_the_same_month() -> None:
    tiny = replace(SHORT, beds=5, shifts=6)
    assert figures(tiny, 3) == figures(tiny, 3)
    assert figures(tiny, 3) != figures(tiny, 4)


def test_a_ward_without_dangers_has_nothing_open() -> None:
    """No danger, no fever, no symptom, and a volume that does not move: no rule escalates."""
    calm = replace(
        SHORT,
        beds=8,
        shifts=12,
        danger_chance=0,
        mild_chance=0,
        fever_chance=0,
        reading_spread=0.01,
        gain_ml_per_day=(0, 0),
    )
    counted = figures(calm, 1)
    assert counted.new[Priority.ESCALATE] == counted.today[Priority.ESCALATE] == 0
    assert not counted.states


def test_a_ward_that_tells_by_name_and_looks_again_is_asked_for_less() -> None:
    usual = replace(SHORT, beds=12, shifts=18)
    careful = replace(
        usual,
        told_chance=1,
        about_chance=1,
        again_chance=1,
        danger_h=(0.5, 1),
        on_oxygen_chance=0,
        none_chance=0.5,
        vitals_chance=1,
    )
    before, after = figures(usual, 1), figures(careful, 1)
    assert after.told_asked < before.told_asked
    assert after.new[Priority.ESCALATE] <= before.new[Priority.ESCALATE]


def test_the_report_prints_both_rows() -> None:
    lines = report(figures(replace(SHORT, beds=5, shifts=6), 3)).splitlines()
    assert [line.split()[0] for line in lines if line[:3] in ("tod", "new")] == ["today", "new"]

"""What it costs the ward: a shorter simulated month, counted by one shift alone and by the program.

All rates are invented. Nine days of this ward, 27 hand-overs, came with seeds 1 to 8 to, a shift:
one shift alone 1.9 to 2.3 ESCALATE, 8.7 to 10.8 FOLLOW UP, 15.8 to 18.3 CONTINUE; the program 3.1
to 5.0, 9.1 to 10.8 and 13.5 to 16.7. The bands are about the figures of seed 1, a tenth to either
side. A change of the rules that moves the figures has to say so: since rows charted by the patient
are not seeing the patient, and who was not seen for 6 h is followed up, 0.4 a shift more are.

The design's figures are 2.1 to 3.2 ESCALATE, about 10 FOLLOW UP, about 16 CONTINUE. More escalates
here: half of the patients have no regular vital signs, and what is not measured again stays open.
With regular vital signs in all of them 2.5 do, which a test shows.
"""

from dataclasses import replace
from itertools import islice

import pytest

from handoff.model.verdicts import Priority
from tests.support.builders import default_limits
from tests.support.how_many import few
from tests.tools.month import Figures, Rates, count, hand_overs, report

SHORT = Rates(shifts=27)
MORE = few(1) > 1
# Each hand-over is judged over its whole stay by itself: every second one of a month shows as much.
EVERY = 1 if MORE else 2


def figures(rates: Rates, seed: int) -> Figures:
    return count(hand_overs(rates, seed), default_limits())


@pytest.fixture(scope="module")
def weeks() -> Figures:
    return count(islice(hand_overs(SHORT, 1), 0, None, EVERY), default_limits())


def a_shift(counted: Figures, how: str) -> list[float]:
    """How many of each priority, the gravest first."""
    return [counted.a_shift(getattr(counted, how)[priority]) for priority in Priority]


def test_the_bands(weeks: Figures) -> None:
    alone, program = a_shift(weeks, "shift_alone"), a_shift(weeks, "program")
    assert alone == pytest.approx([1.9, 10.4, 15.8], rel=0.1)
    assert program == pytest.approx([5.0, 9.6, 13.5], rel=0.1)
    assert sum(alone) == pytest.approx(sum(program))


@pytest.mark.long
def test_where_everybody_is_measured_every_four_hours_less_stays_open(weeks: Figures) -> None:
    """That half of the patients are not is why the figures are over the design's 2.1 to 3.2."""
    escalated = a_shift(figures(replace(SHORT, vitals_chance=1), 1), "program")[0]
    assert escalated == pytest.approx(2.5, rel=0.1)
    assert escalated < 0.6 * a_shift(weeks, "program")[0]


def test_both_ways_of_counting_see_the_same_patients_and_all_states(weeks: Figures) -> None:
    assert weeks.shifts == -(-SHORT.shifts // EVERY)
    assert weeks.shift_alone.total() == weeks.program.total()
    assert {"open", "settled", "closed"} <= weeks.states.keys()
    assert weeks.measurements_asked == weeks.states["open"] + weeks.states["told"]
    assert len(weeks.ages_h) == weeks.measurements_asked
    assert min(weeks.ages_h) >= 0


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
    assert counted.program[Priority.ESCALATE] == counted.shift_alone[Priority.ESCALATE] == 0
    assert not counted.states


def test_a_ward_that_tells_by_name_and_looks_again_is_asked_for_less() -> None:
    usual = replace(SHORT, beds=12, shifts=18 if MORE else 12)
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
    assert after.program[Priority.ESCALATE] <= before.program[Priority.ESCALATE]


def test_the_report_prints_both_rows() -> None:
    lines = report(figures(replace(SHORT, beds=5, shifts=6), 3)).splitlines()
    names = [line[:10].rstrip() for line in lines if line[:3] in ("one", "pro")]
    assert names == ["one shift", "program"]

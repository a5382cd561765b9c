"""The stage agrees with the slow, plain computation on random hand-overs."""

from collections import Counter
from datetime import timedelta
from operator import attrgetter
from random import Random

import pytest
from hypothesis import given, settings
from msgspec.structs import replace

from handoff.measure import measure
from handoff.model.measures import Direction, Measures
from handoff.model.ward import Handover
from tests.support.builders import SHIFT, entry, handover, order, patient
from tests.support.how_many import few
from tests.support.plain_measures import Course, plain_measures
from tests.support.random_handovers import handovers


def found_by_name(measures: Measures, names: list[str]) -> dict[str, object]:
    """What the stage found, under the plain computation's names."""
    slots = measures.adherence.slots
    found: dict[str, object] = {
        "days": [(best.day, best.best_ml) for best in measures.volume.by_day],
        "points": [(point.at, point.volume_ml) for point in measures.trend.points],
        "last": [(row.at, row.volume_ml) for row in measures.volume.recent.last],
        "compared_ml": measures.volume.recent.compared_ml,
    }
    for name in names:
        if name.startswith("slots."):
            found[name] = [getattr(slot, name.removeprefix("slots.")) for slot in slots]
        elif name not in found:
            found[name] = attrgetter(name)(measures)
    return found


def near(value: object) -> object:
    """The value, or where it holds floats what is as good as equal to it."""
    if isinstance(value, float):
        return pytest.approx(value, rel=1e-9, abs=1e-9)
    if isinstance(value, list) and all(isinstance(item, float) for item in value):
        return pytest.approx(value, rel=1e-9, abs=1e-9)
    if isinstance(value, tuple) and value and isinstance(value[0], float):
        return tuple(near(item) for item in value)
    return value


@settings(max_examples=few(25))
@given(handovers())
def test_the_stage_agrees_with_the_definitions(handover: Handover) -> None:
    measures = measure(handover)
    assert list(measures) == [patient.id for patient in handover.patients]
    for each in handover.patients:
        expected = plain_measures(handover, each)
        found = found_by_name(measures[each.id], list(expected))
        for name, value in expected.items():
            assert found[name] == near(value), name


def random_stay(random: Random) -> Handover:
    """Readings of up to eight days, a few or many, rising or falling and then at rest or not, in
    steps that make equals; some off form, some of one minute.
    """
    days, slope = (
        random.choice([0.5, 3, 6, 8, 8]),
        random.choice([-120, -50, 0, 30, 120, 200, 200, 200]),
    )
    spread_ml, rests_at = random.choice([0, 20, 60, 150]), random.choice([-3, -2, -2, 0])
    begins_ml, step_ml = random.uniform(300, 2400), random.choice([10, 50, 100])
    as_of = SHIFT.start + timedelta(minutes=random.choice([720, 720, 720, random.randint(0, 1440)]))
    rows = []
    for _ in range(random.choice([0, 2, 10, 40, 60, 60, 60, 60])):
        day = -random.uniform(0, days) + 0.25
        volume_ml = begins_ml + slope * min(day, rests_at + 0.25) + random.gauss(0, spread_ml)
        row = entry(
            "19:00",
            volume_ml=max(step_ml * round(volume_ml / step_ml), 0),
            flow=random.choice([None, None, None, "steady", "fast", "blew"]),
        )
        minutes = 30 * round(48 * day) if random.random() < 0.3 else round(1440 * day)
        rows.append(replace(row, at=SHIFT.end + timedelta(minutes=minutes - 360)))
    goal_ml, scale_ml = random.choice([None, 1500.0, 2500.0]), random.choice([None, 2500.0])
    someone = patient(order=order("-9 07:00", goal_ml=goal_ml), device_scale_ml=scale_ml)
    given = handover(
        *rows, patients=(someone,), stay_start=random.choice([None, None, None, "-1 09:00"])
    )
    return replace(given, as_of=as_of)


def test_usual_trend_and_forecast_agree_on_random_stays_of_every_kind() -> None:
    random, seen = Random(20261128), Counter[object]()
    for number in range(few(350)):
        given = random_stay(random)
        (someone,) = given.patients
        plain = Course(given, someone)
        expected = {**plain.volume(), **plain.trend(), **plain.goal()}
        found = found_by_name(measure(given)[someone.id], list(expected))
        for name, value in expected.items():
            assert found[name] == near(value), (number, name)
        seen[expected["trend.direction"]] += 1
        seen["forecast"] += expected["goal.days_to_goal"] is not None
        seen["early"] += expected["volume.usual_ml"] is None and expected["compared_ml"] is not None
    least = few(350) // 46  # fewer stays have fewer of each kind
    assert min(seen[each] for each in (*Direction, "forecast", "early")) >= least, seen

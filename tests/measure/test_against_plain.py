"""The stage agrees with the slow, plain computation on random hand-overs."""

from operator import attrgetter

import pytest
from hypothesis import given, settings

from handoff.measure import measure
from handoff.model.measures import Measures
from handoff.model.ward import Handover
from tests.support.plain_measures import plain_measures
from tests.support.random_handovers import handovers


def found_by_name(measures: Measures, names: list[str]) -> dict[str, object]:
    """What the stage found, under the plain computation's names."""
    slots = measures.adherence.slots
    found: dict[str, object] = {
        "days": [(best.day, best.best_ml) for best in measures.volume.by_day],
        "points": [(point.at, point.volume_ml) for point in measures.trend.points],
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


@settings(max_examples=50)
@given(handovers())
def test_the_stage_agrees_with_the_definitions(handover: Handover) -> None:
    measures = measure(handover)
    assert list(measures) == [patient.id for patient in handover.patients]
    for patient in handover.patients:
        expected = plain_measures(handover, patient)
        found = found_by_name(measures[patient.id], list(expected))
        for name, value in expected.items():
            assert found[name] == near(value), name

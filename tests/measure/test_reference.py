"""When there is a reference volume, and of what age; its published values are in test_published."""

from datetime import date

import pytest
from msgspec.structs import replace

from handoff.measure.reference import EQUATION, age_y, find_reference, reference_volume
from handoff.model.ward import Shift
from tests.support.builders import at, handover, measured, order, patient

MAN = patient(sex="male", height_cm=175, born=date(1966, 5, 12))
TODAY = date(2026, 5, 12)


def test_a_reference_names_its_equation() -> None:
    found = find_reference(MAN, TODAY)
    assert found is not None
    assert found.equation == EQUATION
    assert found.lower_limit_ml < found.volume_ml


@pytest.mark.parametrize("missing", ["sex", "height_cm", "born"])
def test_no_reference_where_a_fact_is_not_recorded(missing: str) -> None:
    assert find_reference(replace(MAN, **{missing: None}), TODAY) is None


@pytest.mark.parametrize(
    ("age", "height_cm", "known"),
    [
        (18, 175, True),
        (17.99, 175, False),
        (80, 175, True),
        (80.01, 175, False),
        (40, 100, True),
        (40, 99, False),
        (40, 230, True),
        (40, 231, False),
    ],
)
def test_nothing_is_extrapolated(*, age: float, height_cm: float, known: bool) -> None:
    assert (reference_volume("female", age, height_cm) is not None) is known


def test_age_is_in_real_years() -> None:
    assert age_y(date(2006, 1, 1), date(2010, 1, 1)) == 4
    assert age_y(date(2007, 1, 1), date(2011, 1, 1)) == 1461 / 365.25
    assert age_y(date(2008, 2, 29), date(2026, 2, 28)) == 6574 / 365.25


def test_age_is_that_of_the_shifts_local_start() -> None:
    """23:30 on 11 May in Halifax is 12 May in UTC; a day of age changes the number."""
    night = Shift(at("-1 23:30"), at("07:30"))
    man = replace(MAN, order=order("-1 23:30"))
    found = measured(handover(patients=(man,), shift=night)).reference
    assert found == find_reference(MAN, date(2026, 5, 11))
    assert found != find_reference(MAN, date(2026, 5, 12))

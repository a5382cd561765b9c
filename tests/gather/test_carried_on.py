"""A blank in the newest log takes nothing away that the same order said before."""

import pytest

from handoff.model.ward import Handover, Symptom
from tests.support.sheets import sheet_words
from tests.support.wards import ID, codes, log, one_unit, ordered, row

OWN = (
    "spo2_min: 88, spo2_max: 92, resp_rate_max: 30, usual_symptoms: [confused], goal_ml: 1500, "
    "breaths: 5, by: Dr T. Quill"
)


def with_order(start: str, more: str, precautions: str = "") -> str:
    """The patient with more in the order."""
    text = ordered(start)
    assert "order: {breaths: 10, start: " in text
    said = f"precautions: {precautions}\n  " if precautions else ""
    return text.replace("order: {breaths: 10", f"{said}order: {{{more or 'by: '}")


def after(now: str, entries: str = "") -> Handover:
    """A night whose log says it all, and a day with `now`."""
    night = log("5 night", patients=with_order("2026-03-05 10:00", OWN, "flat, spine not cleared"))
    return one_unit(night, log("6 day", entries, now))


def test_limits_and_precautions_hold_on_where_the_newest_log_leaves_them_blank() -> None:
    given = after(
        with_order("2026-03-05 10:00", ""),
        row("6 09:00", "spo2: 97, on_oxygen: yes, oxygen: 4 L mask"),
    )
    (patient,) = (each for each in given.patients if each.id == ID)
    assert patient.precautions == "flat, spine not cleared"
    assert patient.order is not None
    assert (patient.order.spo2_min, patient.order.spo2_max, patient.order.breaths) == (88, 92, 5)
    assert patient.order.usual_symptoms == (Symptom.CONFUSED,)
    assert given.listings[ID][-1].patient == patient
    words = sheet_words(given, ID)
    assert "High oxygen" in words
    assert "SpO2 under 88 % or over 92 % on oxygen" in words
    assert "precautions changed" not in words
    assert "order changed" not in words
    (found,) = (each for each in given.findings if each.code == "not-repeated")
    assert "precautions, order_breaths, goal_ml, order_by, spo2_min, spo2_max" in found.message


def test_another_value_ends_what_was_said_and_another_order_all_but_goal_and_limits() -> None:
    other = after(with_order("2026-03-05 10:00", "spo2_min: 90, spo2_max: 94", "none"))
    (patient,) = (each for each in other.patients if each.id == ID)
    assert patient.order is not None
    assert (patient.precautions, patient.order.spo2_min) == ("none", 90)
    new = after(with_order("2026-03-06 08:00", ""))
    (patient,) = (each for each in new.patients if each.id == ID)
    assert patient.order is not None
    assert (patient.order.breaths, patient.order.by, patient.order.usual_symptoms) == (10, None, ())
    assert (patient.order.spo2_min, patient.order.goal_ml) == (88, 1500)
    assert "order-not-stated" in codes(new)
    assert patient.precautions == "flat, spine not cleared"


@pytest.mark.parametrize(
    ("cell", "code"), [("spo2_max: 9Z", "not-a-number"), ("spo2_max: 920", "out-of-range")]
)
def test_a_cell_that_cannot_be_read_is_no_blank(cell: str, code: str) -> None:
    given = after(with_order("2026-03-05 10:00", cell))
    (patient,) = (each for each in given.patients if each.id == ID)
    assert patient.order is not None
    assert patient.order.spo2_max is None
    assert code in codes(given)

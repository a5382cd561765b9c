"""The fall of the volume, its trend, and volumes too low for the exercise.

80 % and 70 % of the previous best, with 2 readings, are common practice: no limit for a fall is
published. A third of the reference and 10 mL/kg are from memory (AARC 1991, Respir Care
36(12):1402-1405).
"""

from datetime import timedelta
from typing import Any

import pytest

from handoff.model.ward import Entry, Handover
from tests.support.builders import (
    at,
    entry,
    found,
    handover,
    judged,
    lines,
    measured,
    order,
    patient,
    signs_beside,
    verdict,
    with_limit,
)

DROP, WITH_SIGNS, TOO_LOW = "volume-drop", "volume-drop-with-signs", "volume-too-low"
SIGNS_FINE = {"spo2": 96, "resp_rate": 16, "temp_c": 36.8}


def shift_after(previous_ml: float, *rows: Entry, **fields: Any) -> Handover:
    """A hand-over whose best of the 24 h before the shift is `previous_ml` (line 1)."""
    ward = patient(order=order("-2 10:00", goal_ml=2000), **fields)
    before = entry("-1 20:00", volume_ml=previous_ml, position="sitting")
    return handover(before, *rows, patients=(ward,))


def readings(*volumes_ml: float, **fields: Any) -> list[Entry]:
    """Readings of the shift at 08:00, 09:00, ..."""
    return [entry(f"{8 + n:02}:00", volume_ml=ml, **fields) for n, ml in enumerate(volumes_ml)]


@pytest.mark.parametrize(
    ("volumes_ml", "state", "level"),
    [
        ([1201, 1000], "not_met", "follow_up"),
        ([1200, 1000], "met", "follow_up"),
        ([1190, 1000], "met", "follow_up"),
        ([1200], "met", "note"),
        ([1201], "not_met", "follow_up"),
    ],
)
def test_drop_at_80_percent_and_milder_with_one_reading(
    volumes_ml: list[float], state: str, level: str
) -> None:
    given = verdict(DROP, shift_after(1500, *readings(*volumes_ml)))
    assert (given.state, given.level) == (state, level)


def test_drop_tells_what_was_compared() -> None:
    rows = [
        *readings(1200, 1100, 900, position="lying", **SIGNS_FINE),
        entry("12:00", volume_ml=1900, flow="fast"),
    ]
    given = verdict(DROP, shift_after(1500, *rows))
    assert (given.value, given.limit, given.unit) == (80, 80, "%")
    assert given.source == "common practice"
    assert (given.at, lines(given.entries)) == (at("08:00"), [2, 3, 4])
    assert found(given) == {
        "percent": 80,
        "readings": 3,
        "best_ml": 1200,
        "previous_best_ml": 1500,
        "position": "lying",
        "previous_position": "sitting",
        "why_not": None,
    }


def test_an_off_form_reading_is_no_second_reading() -> None:
    rows = [*readings(1000), entry("12:00", volume_ml=900, flow="slow")]
    assert verdict(DROP, shift_after(1500, *rows)).level == "note"


@pytest.mark.parametrize("rule", [DROP, WITH_SIGNS])
@pytest.mark.parametrize(
    ("previous_ml", "rows", "why"),
    [
        (1500, [entry("09:00")], "no reading in good form in the shift"),
        (
            1500,
            [entry("09:00", volume_ml=900, flow="fast")],
            "no reading in good form in the shift",
        ),
        (0, readings(900, 800), "the best of the 24 h before the shift is 0 mL"),
    ],
)
def test_drop_is_undecided_without_two_bests(
    rule: str, previous_ml: float, rows: list[Entry], why: str
) -> None:
    given = verdict(rule, shift_after(previous_ml, *rows))
    assert (given.state, given.why) == ("undecided", why)


@pytest.mark.parametrize("rule", [DROP, WITH_SIGNS])
def test_a_reading_more_than_24_h_before_the_shift_is_not_compared(rule: str) -> None:
    ward = patient(order=order("-3 10:00"))
    rows = [entry("-2 20:00", volume_ml=2000), *readings(900, 800)]
    given = verdict(rule, handover(*rows, patients=(ward,)))
    assert given.why == "no reading in good form in the 24 h before the shift"


def test_a_units_own_percent_and_readings_change_the_drop() -> None:
    rows = shift_after(1500, *readings(1300, 1250))
    assert verdict(DROP, rows).state == "not_met"
    assert verdict(DROP, rows, with_limit(DROP, "percent_at_or_under", "90")).state == "met"
    fallen = shift_after(1500, *readings(1100, 1000))
    three = with_limit(DROP, "readings_at_or_over", "3")
    assert verdict(DROP, fallen, three).level == "note"


@pytest.mark.parametrize(
    ("volumes_ml", "state", "limit"),
    [
        ([1050, 1000], "met", 70),
        ([1051, 1000], "not_met", None),
        ([1050], "not_met", None),
    ],
)
def test_a_fall_to_70_percent_escalates_without_signs_with_two_readings(
    volumes_ml: list[float], state: str, limit: float | None
) -> None:
    given = verdict(WITH_SIGNS, shift_after(1500, *readings(*volumes_ml, **SIGNS_FINE)))
    assert (given.state, given.limit) == (state, limit)


@pytest.mark.parametrize(
    ("rule", "symptoms", "vital_signs", "reads"),
    [
        ("low-oxygen", "", {"spo2": 91}, "SpO2 91 %"),
        ("breathing-rate", "", {"resp_rate": 25}, "breathing rate 25 /min"),
        ("fever", "", {"temp_c": 38.0}, "temperature 38 °C"),
        ("breathless", "wheeze", {}, "wheeze"),
    ],
)
def test_that_fall_beside_a_sign_escalates_with_one_reading(
    rule: str, symptoms: str, vital_signs: dict[str, float], reads: str
) -> None:
    sign = entry("17:00", symptoms, what="note", **vital_signs)
    given = verdict(WITH_SIGNS, shift_after(1500, *readings(1200), sign))
    assert (given.state, given.level) == ("met", "escalate")
    assert (given.value, given.limit) == (80, 80)
    assert (given.at, lines(given.entries)) == (at("08:00"), [2, 3])
    assert signs_beside(given) == [(rule, reads, at("17:00"))]
    assert found(given)["previous_best_ml"] == 1500
    no_fall = shift_after(1500, *readings(1201), sign)
    assert verdict(WITH_SIGNS, no_fall).state == "not_met"


@pytest.mark.parametrize(
    ("symptoms", "vital_signs"), [("dizzy faint cough", {}), ("", {"pulse": 140, "temp_c": 34})]
)
def test_that_fall_beside_other_signs_does_not(
    symptoms: str, vital_signs: dict[str, float]
) -> None:
    rows = [*readings(1200, 1100, **SIGNS_FINE), entry("17:00", symptoms, **vital_signs)]
    assert verdict(WITH_SIGNS, shift_after(1500, *rows)).state == "not_met"


@pytest.mark.parametrize(
    ("vital_signs", "why"),
    [
        ({}, "SpO2, breathing rate and temperature not recorded"),
        ({"spo2": 96, "resp_rate": 14}, "temperature not recorded"),
    ],
)
def test_a_fall_without_vital_signs_is_undecided(vital_signs: dict[str, float], why: str) -> None:
    given = verdict(WITH_SIGNS, shift_after(1500, *readings(1200, 1100, **vital_signs)))
    assert (given.state, given.why) == ("undecided", why)


def test_no_fall_is_decided_without_vital_signs() -> None:
    assert verdict(WITH_SIGNS, shift_after(1500, *readings(1400))).state == "not_met"


def test_the_graver_fall_takes_the_place_of_the_milder() -> None:
    fallen = shift_after(1500, *readings(1000, 900))
    drop = verdict(DROP, fallen)
    assert (drop.state, drop.replaced_by, drop.met) == ("met", WITH_SIGNS, False)


def course(*bests_ml: float) -> Handover:
    """A best every 12 h, the last one in the shift."""
    ward = patient(order=order("-5 07:00"))
    last, step = at("10:00"), timedelta(hours=12)
    ages = reversed(range(len(bests_ml)))
    rows = [
        entry("10:00", volume_ml=ml)._replace(at=last - age * step)
        for age, ml in zip(ages, bests_ml, strict=True)
    ]
    return handover(*rows, patients=(ward,))


def test_falling_trend() -> None:
    given = verdict("falling-trend", course(1900, 1800, 1700, 1600, 1500, 1400))
    assert (given.state, given.level, given.unit) == ("met", "follow_up", "mL/d")
    assert given.value == pytest.approx(-200)
    assert (given.at, lines(given.entries)) == (at("10:00"), [1, 2, 3, 4, 5, 6])
    assert found(given) == {
        "direction": "falling",
        "low": pytest.approx(-200),
        "high": pytest.approx(-200),
        "n": 6,
    }


def test_falling_trend_cites_only_the_readings_it_rests_on() -> None:
    given = course(1900, 1800, 1700, 1600, 1500, 1400)
    (ward,) = given.patients
    rows = [*given.entries_of(ward), entry("11:00", volume_ml=1100)]
    assert lines(verdict("falling-trend", handover(*rows, patients=(ward,))).entries) == [
        1, 2, 3, 4, 5, 6,
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("bests_ml", "state", "why"),
    [
        ((1400, 1500, 1600, 1700, 1800, 1900), "not_met", None),
        ((1500, 1500, 1500, 1500, 1500, 1500), "not_met", None),
        ((1900, 1800, 1700, 1600), "undecided", "too few readings for a trend"),
    ],
)
def test_no_falling_trend(bests_ml: tuple[float, ...], state: str, why: str | None) -> None:
    given = verdict("falling-trend", course(*bests_ml))
    assert (given.state, given.why) == (state, why)


def test_under_a_third_of_the_reference() -> None:
    known = {"sex": "female", "height_cm": 160.0, "weight_kg": 60.0}
    reference = measured(handover(entry("08:00"), patients=(patient(**known),))).reference
    assert reference is not None
    third_ml = reference.volume_ml / 3
    ward = (patient(**known),)
    at_third = handover(*readings(third_ml, 500), patients=ward)
    assert verdict(TOO_LOW, at_third).state == "not_met"
    under = verdict(TOO_LOW, handover(*readings(600, third_ml - 1), patients=ward))
    assert (under.state, under.level) == ("met", "follow_up")
    assert under.value == pytest.approx((third_ml - 1) / reference.volume_ml)
    assert (under.limit, under.unit) == (1 / 3, "1")
    assert under.source == "AARC 1991 (Respir Care 36(12):1402-1405), from memory"
    assert (under.at, lines(under.entries)) == (at("09:00"), [2])
    assert found(under) == {
        "best_ml": third_ml - 1,
        "limit_ml": pytest.approx(third_ml),
        "reference_ml": reference.volume_ml,
        "weight_kg": None,
        "readings": 2,
    }


@pytest.mark.parametrize(("volumes_ml", "state"), [([700, 600], "not_met"), ([699, 600], "met")])
def test_under_10_ml_per_kg_where_there_is_no_reference(
    volumes_ml: list[float], state: str
) -> None:
    ward = (patient(weight_kg=70.0),)
    given = verdict(TOO_LOW, handover(*readings(*volumes_ml), patients=ward))
    assert given.state == state
    if state == "met":
        assert (given.value, given.limit, given.unit) == (
            699 / 70,
            10,
            "mL/kg",
        )
        assert found(given)["limit_ml"] == 700
        assert (found(given)["weight_kg"], found(given)["reference_ml"]) == (70, None)


def test_the_weight_is_not_asked_where_the_reference_is_known() -> None:
    heavy = (patient(sex="female", height_cm=160.0, weight_kg=140.0),)
    assert verdict(TOO_LOW, handover(*readings(1000, 900), patients=heavy)).state == "not_met"


@pytest.mark.parametrize(
    ("volumes_ml", "weight_kg", "why"),
    [
        ([], 70.0, "too few readings in good form in the stay"),
        ([500], 70.0, "too few readings in good form in the stay"),
        ([500, 500], None, "neither reference volume nor weight is known"),
    ],
)
def test_too_low_is_undecided(volumes_ml: list[float], weight_kg: float | None, why: str) -> None:
    ward = (patient(weight_kg=weight_kg),)
    given = verdict(TOO_LOW, handover(*readings(*volumes_ml), patients=ward))
    assert (given.state, given.why) == ("undecided", why)


def test_a_units_own_ml_per_kg() -> None:
    ward = (patient(weight_kg=70.0),)
    given = handover(*readings(1000, 900), patients=ward)
    assert verdict(TOO_LOW, given, with_limit(TOO_LOW, "ml_per_kg_under", "15")).state == "met"


def test_a_single_poor_reading_is_a_note_and_leaves_the_priority() -> None:
    hours = [entry(f"{hour:02}:00", **SIGNS_FINE) for hour in range(7, 19)]
    given = judged(shift_after(1500, *hours, entry("08:30", volume_ml=1100)))
    assert [(each.rule, each.level) for each in given.cautions] == [(DROP, "note")]
    assert given.priority == "continue"

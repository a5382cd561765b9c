"""The fall of the volume, its trend, and volumes too low for the exercise.

The shares of the usual volume and the mL under it are common practice, chosen by simulation: no
limit for a fall is published. A third of the reference and 10 mL/kg are from memory (AARC 1991,
Respir Care 36(12):1402-1405).
"""

from datetime import date, timedelta
from typing import Any

import pytest
from msgspec.structs import replace

from handoff.measure.reference import reference_volume
from handoff.model.matters import FALLS
from handoff.model.verdicts import Priority
from handoff.model.ward import Entry, Handover
from handoff.run.judged import judge_unit
from tests.support.builders import (
    at,
    default_limits,
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
from tests.support.sheets import sheet_words

DROP, WITH_SIGNS, TOO_LOW = "volume-drop", "volume-drop-with-signs", "volume-too-low"
FEW = "fewer than 3 readings in good form in the 72 h before the shift"
NO_READING = "no reading in good form in the shift"
SIGNS_FINE = {"spo2": 96, "resp_rate": 16, "temp_c": 36.8}
STAY = order("-5 10:00", goal_ml=2000)


def shift_after(usual_ml: float, *rows: Entry, **fields: Any) -> Handover:
    """A hand-over whose usual volume is `usual_ml`: three readings of the night (lines 1 to 3)."""
    before = [
        entry(f"-1 {hour}:00", volume_ml=usual_ml, position="sitting") for hour in (20, 21, 22)
    ]
    return handover(*before, *rows, patients=(patient(order=STAY, **fields),))


def readings(*volumes_ml: float, **fields: Any) -> list[Entry]:
    """Readings of the shift at 08:00, 09:00, ..."""
    return [entry(f"{8 + n:02}:00", volume_ml=ml, **fields) for n, ml in enumerate(volumes_ml)]


# The check value, by hand: hours from 07:00 of the first of four days, and mL.
WORKED = {
    3: 1000,
    6: 950,
    9: 1050,
    24.5: 1150,
    28: 1100,
    31: 1050,
    34: 1150,
    37: 1100,
    49: 1250,
    52: 1150,
    55: 1200,
    58: 1250,
    61: 1150,
    71: 1200,
    74: 1250,
    77: 900,
    80: 850,
}


def worked(*more: Entry) -> Handover:
    start = at("-3 07:00")
    rows = [
        replace(entry("07:00", volume_ml=ml), at=start + timedelta(hours=hours))
        for hours, ml in WORKED.items()
    ]
    return handover(*rows, *more, patients=(patient(order=order("-3 07:00")),))


def test_the_worked_example() -> None:
    """The latest seven before the shift (hours 37 to 71): 1100 1250 1150 1200 1250 1150 1200. The
    highest and the lowest struck out three times leave 1,200. 80 % of it are 960, 85 % are 1,020.
    The last two readings are 900 and 850.
    """
    given = verdict(DROP, worked())
    assert (given.state, given.level, given.value, given.limit) == ("met", "follow_up", 75, 80)
    assert found(given) == {
        "last_ml": (850, 900),
        "usual_ml": 1200,
        "readings": 7,
        "is_early": False,
        "position": None,
        "usual_at_scale": False,
        "line": "two",
        "percent": 75,
        "why_not": None,
    }
    assert (given.at, lines(given.entries)) == (at("15:00"), [16, 17])
    assert verdict(WITH_SIGNS, worked()).state == "undecided"
    grave = verdict(WITH_SIGNS, worked(entry("16:00", what="seen", temp_c=38.0)))
    assert (grave.state, grave.level, grave.limit) == ("met", "escalate", 85)
    assert found(grave)["line"] == "sign"
    assert (grave.at, lines(grave.entries)) == (at("15:00"), [17, 18])


# Each line of the table, just at its limits and just beyond each of them


@pytest.mark.parametrize(
    ("usual_ml", "volumes_ml", "line", "level"),
    [
        # one: 50 % and 200 mL
        (1500, [1400, 750], "one", "follow_up"),
        (1500, [1400, 751], "alone", "note"),
        (400, [390, 200], "one", "follow_up"),
        (398, [390, 199], None, None),
        # two: 80 % and 200 mL
        (1500, [1400, 1200, 1100], "two", "follow_up"),
        (1500, [1400, 1201, 1200], "alone", "note"),
        (1000, [950, 800, 700], "two", "follow_up"),
        (900, [850, 701, 699], "alone", "note"),
        (900, [850, 700, 700], "two", "follow_up"),
        # three: 85 % and 150 mL
        (2000, [1900, 1700, 1650, 1700], "three", "follow_up"),
        (2000, [1900, 1701, 1650, 1700], None, None),
        (900, [880, 750, 740, 730], "three", "follow_up"),
        (900, [880, 751, 740, 730], None, None),
        # alone: 80 % and 200 mL
        (1500, [1500, 1200], "alone", "note"),
        (1500, [1500, 1201], None, None),
        (900, [900, 700], "alone", "note"),
        (900, [900, 701], None, None),
    ],
)
def test_a_drop_just_at_and_just_beyond_each_limit(
    usual_ml: float, volumes_ml: list[float], line: str | None, level: str | None
) -> None:
    given = verdict(DROP, shift_after(usual_ml, *readings(*volumes_ml)))
    assert (given.state, found(given)["line"]) == ("met" if line else "not_met", line)
    assert line is None or given.level == level


@pytest.mark.parametrize(
    ("usual_ml", "volumes_ml", "line"),
    [
        # deep: 70 % and 250 mL
        (1500, [1400, 1050, 1000], "deep"),
        (1500, [1400, 1051, 1000], None),
        (1500, [1050], None),
        (800, [790, 550, 500], "deep"),
        (800, [790, 551, 500], None),
    ],
)
def test_a_deep_fall_of_two_readings_escalates_without_a_sign(
    usual_ml: float, volumes_ml: list[float], line: str | None
) -> None:
    given = verdict(WITH_SIGNS, shift_after(usual_ml, *readings(*volumes_ml, **SIGNS_FINE)))
    assert (given.state, found(given)["line"]) == ("met" if line else "not_met", line)
    assert line is None or (given.level, given.limit) == ("escalate", 70)


@pytest.mark.parametrize(
    ("usual_ml", "last_ml", "is_met"),
    [(2000, 1700, True), (2000, 1701, False), (900, 750, True), (900, 751, False)],
)
def test_one_reading_beside_a_sign_at_85_percent_and_150_ml(
    usual_ml: float, last_ml: float, *, is_met: bool
) -> None:
    rows = readings(usual_ml, last_ml, **{**SIGNS_FINE, "temp_c": 38.2})
    given = verdict(WITH_SIGNS, shift_after(usual_ml, *rows))
    assert given.met == is_met
    assert not is_met or found(given)["line"] == "sign"


def test_a_drop_tells_what_was_compared() -> None:
    rows = [
        *readings(1450, 1200, 1100, position="lying", **SIGNS_FINE),
        entry("12:00", volume_ml=1900, flow="fast"),
    ]
    given = verdict(DROP, shift_after(1500, *rows))
    assert (given.value, given.limit, given.unit) == (80, 80, "%")
    assert given.source == "common practice"
    assert (given.at, lines(given.entries)) == (at("10:00"), [5, 6])
    assert found(given)["last_ml"] == (1100, 1200)
    assert found(given)["position"] == "lying"
    assert given.found.text(lambda _: "") == (
        "last 1100, 1200 mL; usual 1500 mL of 3; highest of them 80 % (line: two)"
    )


# Which readings are compared


def test_the_usual_is_of_seven_readings_of_72_hours_before_the_shift() -> None:
    """Of nine the first two are left out; one that is older than 72 h as well, and one of now."""
    low = [entry(f"-1 {hour:02}:00", volume_ml=800) for hour in (10, 11)]
    high = [entry(f"-1 {hour:02}:00", volume_ml=1500) for hour in range(12, 19)]
    someone = patient(order=STAY)
    given = handover(*low, *high, *readings(1200, 1200), patients=(someone,))
    assert found(verdict(DROP, given))["usual_ml"] == 1500
    assert found(verdict(DROP, given))["readings"] == 7
    for clock, state in (("-3 07:00", "met"), ("-3 06:59", "undecided")):
        old = [entry(clock, volume_ml=1500), *high[:2], *readings(1200, 1200)]
        given = handover(*old, patients=(someone,))
        assert verdict(DROP, given).state == state


def test_one_lucky_breath_is_not_the_usual() -> None:
    """The best of the day before was 1,900 mL: 1,400 is 74 % of it, and nothing fell."""
    lucky = entry("-1 23:00", volume_ml=1900)
    assert verdict(DROP, shift_after(1500, lucky, *readings(1400, 1400))).state == "not_met"


def test_a_good_reading_at_the_start_of_a_shift_does_not_hide_a_fall_at_its_end() -> None:
    given = judged(shift_after(1500, *readings(1550, 1500, 1000, 1000, **SIGNS_FINE)))
    assert given.cautions[0].rule == WITH_SIGNS


def test_a_good_reading_at_the_end_of_a_shift_ends_a_drop() -> None:
    assert verdict(DROP, shift_after(1500, *readings(900, 900, 1480))).state == "not_met"


def test_the_last_readings_may_begin_in_the_shift_before_up_to_24_h_ago() -> None:
    """24 h before 'data as of', 19:00."""
    for clock, line in (("-1 19:00", "two"), ("-1 18:59", "alone")):
        old = [entry(f"-2 {hour:02}:00", volume_ml=1500) for hour in (8, 9, 10)]
        rows = [*old, entry(clock, volume_ml=1200), *readings(1200)]
        given = verdict(DROP, handover(*rows, patients=(patient(order=STAY),)))
        assert found(given)["line"] == line


def test_of_one_minute_the_lower_reading_counts_as_earlier() -> None:
    rows = [entry("08:00", volume_ml=ml) for ml in (1500, 1000)]
    assert found(verdict(DROP, shift_after(1500, *rows)))["last_ml"][0] == 1500


def test_an_off_form_reading_is_no_second_reading() -> None:
    rows = [*readings(1000), entry("12:00", volume_ml=900, flow="slow")]
    assert verdict(DROP, shift_after(1500, *rows)).level == "note"


@pytest.mark.parametrize("rule", [DROP, WITH_SIGNS])
@pytest.mark.parametrize(
    ("usual_ml", "rows", "why"),
    [
        (1500, [entry("09:00")], NO_READING),
        (1500, [entry("09:00", volume_ml=900, flow="fast")], NO_READING),
        (0, readings(900, 800), "the usual is 0 mL"),
    ],
)
def test_nothing_to_compare_is_undecided(
    rule: str, usual_ml: float, rows: list[Entry], why: str
) -> None:
    given = verdict(rule, shift_after(usual_ml, *rows))
    assert (given.state, given.why) == ("undecided", why)


def test_a_drop_that_only_a_sign_would_make_is_named_by_what_it_is() -> None:
    """Nothing else on the sheet speaks of a drop then."""
    given = shift_after(1000, entry("09:00", volume_ml=850))
    words = sheet_words(given, given.patients[0].id)
    assert "not recorded beside a last volume of 85 % of the usual" in words


# Early in a stay


def early(*rows: Entry) -> Handover:
    return handover(*rows, patients=(patient(order=order("07:00", goal_ml=2000)),))


def test_900_and_then_350_ml_in_a_first_shift_are_seen() -> None:
    given = verdict(DROP, early(*readings(900, 350, **SIGNS_FINE)))
    assert (given.state, given.level, found(given)["line"]) == ("met", "follow_up", "one")
    assert found(given)["usual_ml"] == 900
    assert (found(given)["readings"], found(given)["is_early"]) == (1, True)
    assert judged(early(*readings(900, 350, **SIGNS_FINE))).priority == "follow_up"


def test_1500_and_then_700_ml_with_breathlessness_in_a_first_shift_escalate() -> None:
    rows = [*readings(1500, 700, **SIGNS_FINE), entry("09:10", "breathless", what="seen")]
    given = verdict(WITH_SIGNS, early(*rows))
    assert (given.state, found(given)["line"], found(given)["is_early"]) == ("met", "sign", True)
    assert judged(early(*rows)).priority == "escalate"
    assert "goal-reached" not in [each.rule for each in judged(early(*rows)).cautions]


def test_early_in_a_stay_no_other_line_is_asked() -> None:
    """Two readings at 55 % after two others: deep and two would be met, one is not."""
    given = early(*readings(1500, 1500, 830, 820, **SIGNS_FINE))
    for rule in (DROP, WITH_SIGNS):
        assert (verdict(rule, given).state, verdict(rule, given).why) == ("undecided", FEW)


def test_two_readings_of_the_days_before_are_few_as_well() -> None:
    before = [entry(f"-1 {hour}:00", volume_ml=1500) for hour in (20, 21)]
    given = handover(*before, *readings(700), patients=(patient(order=STAY),))
    assert found(verdict(DROP, given))["is_early"] is True
    assert verdict(DROP, given).level == "follow_up"


def test_the_first_reading_of_all_has_nothing_to_be_compared_with() -> None:
    given = verdict(DROP, early(*readings(900)))
    assert (given.state, given.why) == ("undecided", FEW)
    assert found(given)["usual_ml"] is None


# Signs


@pytest.mark.parametrize(
    ("rule", "symptoms", "vital_signs", "reads"),
    [
        ("low-oxygen", "", {"spo2": 91}, "SpO2 91 %"),
        ("breathing-rate", "", {"resp_rate": 25}, "breathing rate 25 /min"),
        ("fever", "", {"temp_c": 38.0}, "temperature 38 °C"),
        ("breathless", "wheeze", {}, "wheeze"),
    ],
)
def test_each_sign_that_counts_beside_a_fall(
    rule: str, symptoms: str, vital_signs: dict[str, float], reads: str
) -> None:
    sign = entry("17:00", symptoms, what="note", **vital_signs)
    given = verdict(WITH_SIGNS, shift_after(1500, *readings(1200), sign))
    assert (given.state, given.level) == ("met", "escalate")
    assert (given.value, given.limit) == (80, 85)
    assert (given.at, lines(given.entries)) == (at("08:00"), [4, 5])
    assert signs_beside(given) == [(rule, reads, at("17:00"))]


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


def test_near_the_usual_it_is_decided_without_vital_signs() -> None:
    assert verdict(WITH_SIGNS, shift_after(1500, *readings(1400))).state == "not_met"


def test_a_fall_is_what_these_two_rules_meet_beyond_a_note() -> None:
    assert {DROP, WITH_SIGNS} == FALLS
    for volumes_ml, fell in (([1400], False), ([1100], False), ([1200, 1200], True), ([700], True)):
        assert judged(shift_after(1500, *readings(*volumes_ml, **SIGNS_FINE))).fell is fell


def test_the_graver_fall_takes_the_place_of_the_milder() -> None:
    fallen = shift_after(1500, *readings(1000, 900))
    drop = verdict(DROP, fallen)
    assert (drop.state, drop.replaced_by, drop.met) == ("met", WITH_SIGNS, False)


@pytest.mark.parametrize(
    ("rule", "name", "own", "usual_ml", "volumes_ml"),
    [
        (DROP, "one_percent_at_or_under", "60", 1500, [1400, 900]),
        (DROP, "one_ml_under_at_or_over", "150", 300, [290, 150]),
        (DROP, "two_percent_at_or_under", "90", 2500, [2250, 2250]),
        (DROP, "two_ml_under_at_or_over", "150", 750, [600, 600]),
        (DROP, "three_percent_at_or_under", "90", 1500, [1350, 1350, 1350]),
        (DROP, "three_ml_under_at_or_over", "100", 700, [590, 590, 590]),
        (DROP, "alone_percent_at_or_under", "90", 2500, [2500, 2250]),
        (DROP, "alone_ml_under_at_or_over", "150", 750, [750, 600]),
        (WITH_SIGNS, "deep_percent_at_or_under", "80", 1500, [1200, 1200]),
        (WITH_SIGNS, "deep_ml_under_at_or_over", "200", 700, [490, 490]),
        (WITH_SIGNS, "sign_percent_at_or_under", "90", 1700, [1530]),
        (WITH_SIGNS, "sign_ml_under_at_or_over", "100", 700, [590]),
    ],
)
def test_a_unit_may_set_each_limit(
    rule: str, name: str, own: str, usual_ml: float, volumes_ml: list[float]
) -> None:
    """Each is not met by the default, and is met by the unit's own."""
    temp_c = 38.2 if name.startswith("sign") else 36.8
    given = shift_after(usual_ml, *readings(*volumes_ml, **{**SIGNS_FINE, "temp_c": temp_c}))
    line = name.partition("_")[0]
    assert found(verdict(rule, given))["line"] != line
    assert found(verdict(rule, given, with_limit(rule, name, own)))["line"] == line


def course(*volumes_ml: float) -> Handover:
    """A reading every 12 h, the last one in the shift."""
    ward = patient(order=order("-5 07:00"))
    last, step = at("10:00"), timedelta(hours=12)
    ages = reversed(range(len(volumes_ml)))
    rows = [
        replace(entry("10:00", volume_ml=ml), at=last - age * step)
        for age, ml in zip(ages, volumes_ml, strict=True)
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
    rows = [*given.entries_of(ward), *readings(1500, 1100)]
    assert lines(verdict("falling-trend", handover(*rows, patients=(ward,))).entries) == [
        1, 2, 3, 4, 5, 6,
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("volumes_ml", "state", "why"),
    [
        ((1400, 1500, 1600, 1700, 1800, 1900), "not_met", None),
        ((1500, 1500, 1500, 1500, 1500, 1500), "not_met", None),
        ((1900, 1800, 1700, 1600), "undecided", "too few readings for a trend"),
    ],
)
def test_no_falling_trend(volumes_ml: tuple[float, ...], state: str, why: str | None) -> None:
    given = verdict("falling-trend", course(*volumes_ml))
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
        "factor": 1 / 3,
        "limit_ml": pytest.approx(third_ml),
        "reference_ml": reference.volume_ml,
        "reference_age_y": None,
        "weight_kg": None,
        "predicted": False,
        "readings": 2,
    }


def test_over_80_years_the_reference_at_80_is_used_and_no_weight() -> None:
    known = {"sex": "female", "height_cm": 160.0, "weight_kg": 140.0}
    old = patient(**known, born=date(1940, 5, 5))
    at_80 = reference_volume("female", 80, 160.0)
    assert at_80 is not None
    third_ml = at_80.volume_ml / 3
    assert measured(handover(patients=(old,))).reference is None
    at_third = handover(*readings(third_ml, 500), patients=(old,))
    assert verdict(TOO_LOW, at_third).state == "not_met"
    under = verdict(TOO_LOW, handover(*readings(third_ml - 1, 500), patients=(old,)))
    assert (under.state, under.unit) == ("met", "1")
    assert (found(under)["reference_age_y"], found(under)["weight_kg"]) == (80, None)


# The worked values of the ARDS Network's predicted weight: male 180 cm 75.1 kg, female 160 cm
# 52.4 kg. 10 mL/kg of them is 751 and 524 mL. It is used where no reference is known.
@pytest.mark.parametrize(
    ("sex", "height_cm", "best_ml", "state"),
    [
        ("male", 180.0, 751, "met"),
        ("male", 180.0, 752, "not_met"),
        ("female", 160.0, 524, "met"),
        ("female", 160.0, 525, "not_met"),
    ],
)
def test_without_a_reference_it_is_10_ml_per_kg_of_the_predicted_weight(
    sex: str, height_cm: float, best_ml: float, state: str
) -> None:
    heavy = patient(sex=sex, height_cm=height_cm, weight_kg=160.0, born=None)
    given = verdict(TOO_LOW, handover(*readings(best_ml, 500), patients=(heavy,)))
    assert (given.state, found(given)["predicted"]) == (state, True)


def test_the_weight_of_a_child_and_of_somebody_short_is_not_predicted() -> None:
    child = {"sex": "male", "height_cm": 160.0, "weight_kg": 40.0, "born": date(2012, 5, 5)}
    short = {"sex": "female", "height_cm": 150.0, "weight_kg": 40.0, "born": None}
    for known in (child, short):
        given = verdict(TOO_LOW, handover(*readings(399, 300), patients=(patient(**known),)))
        assert given.state == "met"
        assert (found(given)["weight_kg"], found(given)["predicted"]) == (40, False)


def test_too_low_is_of_the_shift_and_not_of_the_stay() -> None:
    known = patient(order=order("-1 10:00"), weight_kg=70.0)
    began_well = (entry("-1 12:00", volume_ml=1500), entry("-1 20:00", volume_ml=1500))
    sank = handover(*began_well, *readings(600, 500), patients=(known,))
    given = verdict(TOO_LOW, sank)
    assert (given.state, lines(given.entries)) == ("met", [3])
    once = handover(*began_well, *readings(600), patients=(known,))
    assert verdict(TOO_LOW, once).state == "undecided"


def test_a_best_at_the_devices_scale_is_not_said_to_be_too_low() -> None:
    small_device = patient(weight_kg=70.0, device_scale_ml=600)
    given = verdict(TOO_LOW, handover(*readings(600, 500), patients=(small_device,)))
    assert (given.state, given.why) == (
        "undecided",
        "the best is at the device's scale, and may be higher",
    )


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
        ([], 70.0, "too few readings in good form in the shift"),
        ([500], 70.0, "too few readings in good form in the shift"),
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


def test_a_deep_fall_is_a_matter_where_no_sign_at_all_is_charted_in_the_stay() -> None:
    """The last two at 70 % of the usual or less and 250 mL under it: no sign is needed."""
    rows = [entry(f"-1 {hour}:00", volume_ml=1500) for hour in (19, 20, 21)]
    rows += [entry(f"{hour}:00", volume_ml=900) for hour in (10, 11)]
    given = handover(*rows, patients=(patient(order=order("-1 08:00")),))
    unit = judge_unit(given, default_limits())
    assert [each.rule for each in unit.matters["10442"]] == ["volume-drop-with-signs"]
    assert unit.verdicts["10442"].priority is Priority.ESCALATE

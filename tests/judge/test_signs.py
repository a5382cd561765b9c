"""Vital signs and symptoms against their limits.

The limits of low-oxygen, breathing-rate, pulse and low-temperature are those of a single parameter
scoring 3 in NEWS2 (Royal College of Physicians 2017): SpO2 scale 1 91 % or less; respiration 8 or
less, 25 or more a minute; pulse 40 or less, 131 or more; temperature 35.0 degrees or less.
Fever at 38.0 degrees or more is common practice, and so are the rules on symptoms.
"""

import pytest

from handoff.judge.signs import SYMPTOMS, LatestValue, reads
from handoff.judge.vitals import VITALS
from tests.support.builders import (
    at,
    entry,
    found,
    handover,
    lines,
    order,
    patient,
    verdict,
    with_limit,
)

NEWS2 = "NEWS2 (Royal College of Physicians 2017), one parameter scoring 3"


@pytest.mark.parametrize(
    ("rule", "sign", "value", "against"),
    [
        ("low-oxygen", "spo2", 92, None),
        ("low-oxygen", "spo2", 91, (91, "%", "low")),
        ("low-oxygen", "spo2", 90, (91, "%", "low")),
        ("breathing-rate", "resp_rate", 0, (8, "/min", "low")),
        ("breathing-rate", "resp_rate", 8, (8, "/min", "low")),
        ("breathing-rate", "resp_rate", 9, None),
        ("breathing-rate", "resp_rate", 24, None),
        ("breathing-rate", "resp_rate", 25, (25, "/min", "high")),
        ("pulse", "pulse", 40, (40, "/min", "low")),
        ("pulse", "pulse", 41, None),
        ("pulse", "pulse", 130, None),
        ("pulse", "pulse", 131, (131, "/min", "high")),
        ("low-temperature", "temp_c", 35.0, (35, "Cel", "low")),
        ("low-temperature", "temp_c", 35.1, None),
        ("fever", "temp_c", 37.9, None),
        ("fever", "temp_c", 38.0, (38, "Cel", "high")),
        ("fever", "temp_c", 39.0, (38, "Cel", "high")),
        ("fever", "temp_c", 39.1, (39.1, "Cel", "high")),
    ],
)
def test_vital_sign_on_both_sides_of_its_limit(
    rule: str, sign: str, value: float, against: tuple[float, str, str] | None
) -> None:
    given = verdict(rule, handover(entry("09:00"), entry("10:00", **{sign: value})))
    if against is None:
        assert given.state == "not_met"
    else:
        assert (given.state, given.value) == ("met", value)
        side = "low" if found(given)["bound"].low else "high"
        assert (given.limit, given.unit, side) == against
        assert (given.at, lines(given.entries)) == (at("10:00"), [2])


@pytest.mark.parametrize(
    ("rule", "source"),
    [
        (
            "low-oxygen",
            "NEWS2 (Royal College of Physicians 2017), scale 1, one parameter scoring 3",
        ),
        ("breathing-rate", NEWS2),
        ("pulse", NEWS2),
        ("low-temperature", NEWS2),
        ("fever", "common practice"),
    ],
)
def test_vital_sign_names_the_source_of_its_limit(rule: str, source: str) -> None:
    low = entry("10:00", spo2=80, resp_rate=4, pulse=30, temp_c=34)
    given = verdict(rule, handover(entry("09:00", temp_c=39), low))
    assert given.source == source


@pytest.mark.parametrize(
    ("rule", "why"),
    [
        ("low-oxygen", "SpO2 not recorded"),
        ("breathing-rate", "breathing rate not recorded"),
        ("pulse", "pulse not recorded"),
        ("low-temperature", "temperature not recorded"),
        ("fever", "temperature not recorded"),
    ],
)
def test_vital_sign_not_recorded_is_undecided(rule: str, why: str) -> None:
    before_the_shift = entry("-1 22:00", spo2=80, resp_rate=4, pulse=30, temp_c=34)
    given = verdict(rule, handover(before_the_shift, entry("10:00")))
    assert (given.state, given.why) == ("undecided", why)


def test_every_entry_counts_whatever_it_records() -> None:
    rows = [
        entry("08:00", what="note", spo2=90),
        entry("09:00", what="asleep", until="10:00", spo2=89),
        entry("11:00", what="told", spo2=88),
        entry("12:00", what="declined", spo2=87),
    ]
    assert lines(verdict("low-oxygen", handover(*rows)).entries) == [1, 2, 3, 4]


def test_an_entry_before_the_stay_is_read_and_one_after_as_of_is_not() -> None:
    ward = patient(order=order("09:00"))
    rows = (entry("08:00", spo2=90), entry("11:00", spo2=80))
    given = verdict("low-oxygen", handover(*rows, patients=(ward,), as_of="10:00"))
    assert (given.value, lines(given.entries)) == (90, [1])


def test_value_is_the_worst_reading_and_of_equals_the_latest() -> None:
    readings = [("08:00", 88), ("09:00", 86), ("10:00", 86), ("11:00", 90), ("12:00", 95)]
    given = verdict("low-oxygen", handover(*(entry(when, spo2=spo2) for when, spo2 in readings)))
    assert (given.value, given.at) == (86, at("10:00"))
    assert lines(given.entries) == [1, 2, 3, 4]
    assert given.times == tuple(at(when) for when, _ in readings[:4])


@pytest.mark.parametrize(
    ("rates", "worst", "limit"),
    [((7, 29), 29, 25), ((3, 29), 3, 8), ((6, 27), 27, 25), ((27, 6), 6, 8)],
)
def test_of_a_low_and_a_high_rate_the_one_farthest_beyond_its_limit_is_worst(
    rates: tuple[int, int], worst: int, limit: int
) -> None:
    first, second = rates
    rows = (entry("08:00", resp_rate=first), entry("09:00", resp_rate=second))
    given = verdict("breathing-rate", handover(*rows))
    assert (given.value, given.limit) == (worst, limit)
    assert lines(given.entries) == [1, 2]


@pytest.mark.parametrize(
    ("ordered", "spo2", "state"),
    [(88, 88, "not_met"), (88, 87, "met"), (94, 93, "met"), (94, 94, "not_met")],
)
def test_the_ordered_spo2_limit_stands_before_the_units_and_is_met_under_it(
    ordered: int, spo2: int, state: str
) -> None:
    ward = patient(order=order(spo2_min=ordered))
    unit = with_limit("low-oxygen", "spo2_at_or_under", "95")
    given = verdict("low-oxygen", handover(entry("10:00", spo2=spo2), patients=(ward,)), unit)
    assert given.state == state
    if state == "met":
        assert (given.limit, given.source) == (ordered, "the order")
        assert found(given)["bound"].ordered is True


@pytest.mark.parametrize(
    ("on_oxygen", "oxygen"), [(True, "2 L nasal"), (True, None), (False, None), (None, None)]
)
def test_low_oxygen_says_whether_the_worst_reading_was_on_oxygen_and_on_how_much(
    on_oxygen: bool | None, oxygen: str | None
) -> None:
    rows = (
        entry("09:00", spo2=90, on_oxygen=not on_oxygen, oxygen="4 L mask"),
        entry("10:00", spo2=85),
    )
    worst = entry("11:00", spo2=84, on_oxygen=on_oxygen, oxygen=oxygen)
    shown = found(verdict("low-oxygen", handover(*rows, worst)))
    assert shown.pop("bound").low is True
    assert shown == {
        "name": "SpO2",
        "values": (90, 85, 84),
        "of_order": "",
        "missing": (),
        "on_oxygen": on_oxygen,
        "oxygen": oxygen,
        "latest": None,
    }


def test_a_vital_sign_says_what_was_recorded_last_and_stays_met() -> None:
    later = entry("10:00", spo2=97, on_oxygen=True, oxygen="2 L nasal")
    given = verdict("low-oxygen", handover(entry("09:00", spo2=85), later, entry("11:00")))
    assert (given.state, given.value) == ("met", 85)
    assert found(given)["latest"] == LatestValue(
        97, at("10:00"), on_oxygen=True, oxygen="2 L nasal"
    )


def test_a_units_own_limit_changes_the_outcome_and_is_cited() -> None:
    given = handover(entry("10:00", temp_c=38.2))
    assert verdict("fever", given).state == "met"
    unit = with_limit("fever", "temp_c_at_or_over", "38.3")
    assert verdict("fever", given, unit).state == "not_met"
    over = verdict("fever", handover(entry("10:00", temp_c=38.3)), unit)
    assert over.limit == 38.3
    assert over.source == "unit.yaml, approved by Dr T. Quill on 2026-03-01"


@pytest.mark.parametrize("rule", SYMPTOMS)
def test_each_symptom_of_a_rule_meets_it(rule: str) -> None:
    for symptom in SYMPTOMS[rule]:
        rows = (entry("08:00", symptom), entry("09:00", symptom), entry("10:00", "cough"))
        given = verdict(rule, handover(*rows))
        assert (given.state, given.value, given.unit) == ("met", 2, "{entries}")
        assert (given.at, lines(given.entries)) == (at("09:00"), [1, 2])
        assert given.source == "common practice"
        assert found(given)["symptoms"] == (symptom,)


@pytest.mark.parametrize("rule", SYMPTOMS)
def test_other_symptoms_do_not_meet_a_rule(rule: str) -> None:
    others = {"cough", "fatigue"}.union(*SYMPTOMS.values()).difference(SYMPTOMS[rule])
    assert verdict(rule, handover(entry("08:00", " ".join(others)))).state == "not_met"


@pytest.mark.parametrize("rule", SYMPTOMS)
def test_without_an_entry_in_the_shift_a_symptom_is_undecided(rule: str) -> None:
    earlier = entry("-1 22:00", "faint drowsy dizzy wheeze")
    given = verdict(rule, handover(earlier))
    assert (given.state, given.why) == ("undecided", "no entry in the shift")


def test_a_symptom_is_found_with_the_times_of_its_entries() -> None:
    rows = (entry("08:00", "tingling"), entry("09:00", "dizzy cough"))
    assert found(verdict("dizziness", handover(*rows))) == {
        "symptoms": ("dizzy", "tingling"),
        "charted_at": (at("08:00"), at("09:00")),
        "of_rows": 2,
        "seen_before": (),
        "usual": False,
        "at_once": 10,
    }


def test_drowsiness_charted_before_the_shift_still_escalates_and_says_so() -> None:
    ward = patient(order=order("-1 10:00"))
    rows = (entry("-1 22:00", "drowsy"), entry("07:00", "drowsy confused"))
    given = verdict("drowsy-or-confused", handover(*rows, patients=(ward,)))
    assert (given.state, given.level) == ("met", "escalate")
    assert lines(given.entries) == [2]
    assert found(given)["seen_before"] == ("drowsy",)


def test_every_vital_sign_has_a_rule_that_reads_as_a_nurse_would_write_it() -> None:
    assert {rule: reads(rule, 38.0) for rule in VITALS} == {
        "low-oxygen": "SpO2 38 %",
        "high-oxygen": "SpO2 38 %",
        "breathing-rate": "breathing rate 38 /min",
        "pulse": "pulse 38 /min",
        "low-temperature": "temperature 38 °C",
        "fever": "temperature 38 °C",
        "pain-again": "pain 38 of 10",
    }

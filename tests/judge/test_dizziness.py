"""Dizziness and tingling: again, beside a grave sign, after too many breaths.

All of these limits are common practice: 2 times, within 60 min of a sign, more than 10 breaths.
"""

from typing import Any

import pytest

from tests.support.builders import (
    at,
    entry,
    found,
    handover,
    judged,
    lines,
    order,
    patient,
    signs_beside,
    verdict,
    with_limit,
)

AGAIN, WITH_SIGNS, TOO_MANY = "dizziness-again", "dizziness-with-signs", "too-many-at-once"


def test_one_time_is_not_again_and_two_are() -> None:
    once = (entry("08:00", "dizzy"), entry("09:00", "cough"))
    assert verdict(AGAIN, handover(*once)).state == "not_met"
    given = verdict(AGAIN, handover(*once, entry("10:00", "tingling")))
    assert (given.state, given.level) == ("met", "follow_up")
    assert (given.value, given.limit, given.unit) == (2, 2, "{times}")
    assert (given.at, lines(given.entries)) == (at("10:00"), [1, 3])
    assert given.source == "common practice"
    assert found(given) == {
        "symptoms": ("dizzy", "tingling"),
        "charted_at": (at("08:00"), at("10:00")),
        "of_rows": 3,
        "seen_before": (),
        "usual": False,
        "at_once": 10,
    }


def test_at_a_third_time_it_escalates_and_opens_a_matter() -> None:
    twice = (entry("08:00", "dizzy"), entry("09:00", "dizzy"))
    assert judged(handover(*twice)).matters == ()
    given = handover(*twice, entry("10:00", "tingling"))
    third = verdict(AGAIN, given)
    assert (third.state, third.level) == ("met", "escalate")
    assert (third.value, third.limit, third.unit) == (3, 3, "{times}")
    (matter,) = judged(given).matters
    assert (matter.rule, matter.state, matter.opened_at) == (AGAIN, "open", at("10:00"))
    assert matter.symptoms == ("tingling",)


def test_telling_of_the_second_time_does_not_tell_of_the_third() -> None:
    told = entry("09:10", what="told", note="Dr Quill", about=("dizzy",))
    rows = (entry("08:00", "dizzy"), entry("09:00", "dizzy"), told, entry("10:00", "dizzy"))
    (matter,) = judged(handover(*rows)).matters
    assert matter.state == "open"


@pytest.mark.parametrize(("clock", "settled"), [("11:00", True), ("10:59", False)])
def test_the_third_dizziness_is_over_by_none_an_hour_later(clock: str, settled: bool) -> None:
    dizzy = [entry(f"{hour:02}:00", "dizzy") for hour in (8, 9, 10)]
    (matter,) = judged(handover(*dizzy, entry(clock, "none"))).matters
    assert (matter.settled_at is not None) is settled


@pytest.mark.parametrize(("clock", "state"), [("06:00", "met"), ("05:59", "not_met")])
def test_dizziness_of_the_hour_before_the_shift_counts(clock: str, state: str) -> None:
    rows = (entry(clock, "dizzy"), entry("15:00", "dizzy"))
    ward = patient(order=order("-1 10:00"))
    assert verdict(AGAIN, handover(*rows, patients=(ward,))).state == state


@pytest.mark.parametrize(
    ("fields", "at_once"),
    [
        ({"breaths": 10}, 10),
        ({"breaths": 4}, 4),
        ({"breaths": 3}, None),  # as advised: common practice
        ({"breaths": 12, "until": "09:00"}, None),  # over an hour, not at once
        ({"what": "note"}, None),
    ],
)
def test_the_breaths_done_at_one_time_are_found(
    fields: dict[str, Any], at_once: int | None
) -> None:
    given = verdict("dizziness", handover(entry("08:00", "dizzy", **fields)))
    assert found(given)["at_once"] == at_once


def test_two_entries_of_one_time_are_not_again() -> None:
    assert verdict(AGAIN, handover(entry("08:00", "dizzy"), entry("08:00", "tingling"))).state == (
        "not_met"
    )


def test_again_is_undecided_without_an_entry() -> None:
    given = verdict(AGAIN, handover())
    assert (given.state, given.why) == ("undecided", "no entry in the shift")


def test_a_units_own_number_of_times() -> None:
    given = handover(entry("08:00", "dizzy"), entry("09:00", "dizzy"))
    unit = with_limit(AGAIN, "times_at_or_over", "3")
    assert verdict(AGAIN, given, unit).state == "not_met"


@pytest.mark.parametrize(
    ("sign_at", "state"),
    [
        ("10:59", "not_met"),
        ("11:00", "met"),
        ("12:30", "met"),
        ("13:00", "met"),
        ("13:01", "not_met"),
    ],
)
def test_a_sign_counts_60_min_before_and_after(sign_at: str, state: str) -> None:
    recorded = entry("12:00", "dizzy", spo2=96, resp_rate=16, pulse=80)
    given = verdict(WITH_SIGNS, handover(recorded, entry(sign_at, spo2=88)))
    assert given.state == state


@pytest.mark.parametrize(
    ("rule", "symptoms", "vital_signs", "reads"),
    [
        ("low-oxygen", "", {"spo2": 91}, "SpO2 91 %"),
        ("breathing-rate", "", {"resp_rate": 8}, "breathing rate 8 /min"),
        ("breathing-rate", "", {"resp_rate": 25}, "breathing rate 25 /min"),
        ("pulse", "", {"pulse": 40}, "pulse 40 /min"),
        ("pulse", "", {"pulse": 131}, "pulse 131 /min"),
        ("faint-or-chest-pain", "faint", {}, "faint"),
        ("faint-or-chest-pain", "chest_pain", {}, "chest pain"),
        ("drowsy-or-confused", "drowsy", {}, "drowsy"),
        ("drowsy-or-confused", "confused", {}, "confused"),
    ],
)
def test_each_grave_sign_beside_dizziness_escalates(
    rule: str, symptoms: str, vital_signs: dict[str, float], reads: str
) -> None:
    rows = (entry("12:00", "tingling"), entry("12:40", symptoms, **vital_signs))
    given = verdict(WITH_SIGNS, handover(*rows))
    assert (given.state, given.level) == ("met", "escalate")
    assert signs_beside(given) == [(rule, reads, at("12:40"))]
    assert (given.value, given.limit, given.unit) == (40, 60, "min")
    assert (given.at, lines(given.entries)) == (at("12:40"), [1, 2])


@pytest.mark.parametrize(
    ("symptoms", "vital_signs"),
    [("breathless wheeze cough fatigue", {}), ("", {"temp_c": 39.0}), ("", {"temp_c": 34.0})],
)
def test_other_signs_beside_dizziness_do_not(symptoms: str, vital_signs: dict[str, float]) -> None:
    recorded = entry("12:00", "dizzy", spo2=96, resp_rate=16, pulse=80)
    rows = (recorded, entry("12:10", symptoms, **vital_signs))
    assert verdict(WITH_SIGNS, handover(*rows)).state == "not_met"


def test_only_the_rows_within_the_minutes_are_cited_each_once() -> None:
    rows = (
        entry("08:00", "dizzy"),
        entry("12:00", "dizzy", spo2=90, pulse=140),
        entry("12:10", "tingling"),
        entry("15:00", spo2=88),
    )
    given = verdict(WITH_SIGNS, handover(*rows))
    assert lines(given.entries) == [2, 3]
    assert given.value == 0
    assert found(given)["symptoms"] == ("dizzy", "tingling")
    assert [read for _, read, _ in signs_beside(given)] == ["SpO2 90 %", "pulse 140 /min"]


@pytest.mark.parametrize(
    ("vital_signs", "why"),
    [
        ({}, "SpO2, breathing rate and pulse not recorded within 60 min"),
        ({"spo2": 96}, "breathing rate and pulse not recorded within 60 min"),
        ({"spo2": 96, "resp_rate": 16}, "pulse not recorded within 60 min"),
    ],
)
def test_dizziness_without_vital_signs_near_it_is_undecided(
    vital_signs: dict[str, float], why: str
) -> None:
    late = entry("13:01", spo2=96, resp_rate=16, pulse=80)
    rows = (entry("12:00", "dizzy"), entry("12:59", **vital_signs), late)
    given = verdict(WITH_SIGNS, handover(*rows))
    assert (given.state, given.why) == ("undecided", why)


def test_vital_signs_near_one_dizziness_do_not_settle_another() -> None:
    near_one = entry("08:30", spo2=96, resp_rate=16, pulse=80)
    rows = (entry("08:00", "dizzy"), near_one, entry("15:00", "dizzy", spo2=96))
    given = verdict(WITH_SIGNS, handover(*rows))
    assert given.why == "breathing rate and pulse not recorded within 60 min"


def test_vital_signs_near_dizziness_settle_it() -> None:
    rows = (entry("12:00", "dizzy"), entry("13:00", spo2=96, resp_rate=16, pulse=80))
    assert verdict(WITH_SIGNS, handover(*rows)).state == "not_met"


def test_without_dizziness_or_without_an_entry_there_is_nothing_to_pair() -> None:
    assert verdict(WITH_SIGNS, handover(entry("12:00", spo2=80))).state == "not_met"
    assert verdict(WITH_SIGNS, handover()).why == "no entry in the shift"


def test_the_graver_rule_takes_the_place_of_its_milder_twins() -> None:
    dizzy = (entry("08:00", "dizzy"), entry("09:00", "dizzy"))
    replaced = {each.rule: each.replaced_by for each in judged(handover(*dizzy)).all}
    assert replaced["dizziness"] == AGAIN
    assert replaced[AGAIN] is None

    given = judged(handover(*dizzy, entry("09:30", spo2=85)))
    replaced = {each.rule: each.replaced_by for each in given.all}
    assert (replaced["dizziness"], replaced[AGAIN]) == (WITH_SIGNS, WITH_SIGNS)
    assert [each.rule for each in given.cautions][:2] == ["low-oxygen", WITH_SIGNS]
    assert "dizziness" not in [each.rule for each in given.cautions]


@pytest.mark.parametrize(("breaths", "state"), [(10, "not_met"), (11, "met")])
def test_more_than_ten_breaths_with_dizziness(breaths: int, state: str) -> None:
    given = verdict(TOO_MANY, handover(entry("10:00", "dizzy", breaths=breaths)))
    assert given.state == state


def test_the_largest_dizzy_exercise_is_the_value() -> None:
    rows = (
        entry("08:00", "tingling", breaths=15),
        entry("09:00", "dizzy", breaths=15),
        entry("10:00", "dizzy", breaths=12),
        entry("11:00", breaths=40),
        entry("12:00", "dizzy", breaths=40, until="14:00"),
    )
    given = verdict(TOO_MANY, handover(*rows))
    assert (given.value, given.limit, given.unit) == (15, 10, "{breaths}")
    assert (given.at, lines(given.entries)) == (at("09:00"), [1, 2, 3])
    assert found(given) == {"counts": (15, 15, 12)}


def test_breaths_not_recorded_at_a_dizzy_exercise_is_undecided() -> None:
    given = verdict(TOO_MANY, handover(entry("08:00", "dizzy", breaths=None, volume_ml=900)))
    assert (given.state, given.why) == ("undecided", "breaths not recorded at the dizzy exercise")
    assert verdict(TOO_MANY, handover(entry("08:00", "dizzy", what="note"))).state == "not_met"

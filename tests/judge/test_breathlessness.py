"""Breathlessness and wheeze: once, and until when the exercise waits; again, or beside other signs.

Limits: 2 times, or within 60 min of a sign. All common practice.
"""

import pytest

from handoff.model.ward import SeenBy
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
)

ONCE, AGAIN = "breathless", "breathless-again"
WARD = patient(order=order("-1 10:00"))
FINE = {"spo2": 96, "resp_rate": 16, "pulse": 80, "pain": 2}


def test_once_is_followed_up_and_the_exercise_waits() -> None:
    given = judged(handover(entry("09:00", "wheeze", **FINE)))
    (caution,) = (each for each in given.cautions if each.rule == ONCE)
    assert (caution.level, caution.holds_back) == ("follow_up", True)
    assert given.holds_back
    assert given.matters == ()


@pytest.mark.parametrize(
    ("clock", "symptoms", "fields", "waits"),
    [
        ("10:00", "none", {}, False),
        ("09:59", "none", {}, True),
        ("10:00", "none", {"seen_by": SeenBy.PATIENT}, True),
        ("10:00", "cough", {}, True),
        ("09:10", "", {"what": "settled", "note": "Dr Quill", "about": ("wheeze",)}, False),
        ("09:10", "", {"what": "settled", "note": "Dr Quill", "about": ("pulse",)}, True),
        ("09:10", "", {"what": "told", "note": "Dr Quill", "about": ("wheeze",)}, True),
    ],
)
def test_it_waits_until_it_is_seen_or_said_to_be_over(
    clock: str, symptoms: str, fields: dict[str, object], waits: bool
) -> None:
    rows = (entry("09:00", "wheeze", **FINE), entry(clock, symptoms, **fields))
    given = judged(handover(*rows))
    assert given.holds_back is waits
    over_at = None if waits else at(clock)
    assert found(verdict(ONCE, handover(*rows)))["over_at"] == over_at


@pytest.mark.parametrize(
    ("clock", "later", "state"),
    [("06:00", "", "met"), ("05:59", "", "not_met"), ("06:00", "none", "not_met")],
)
def test_breathless_in_the_hour_before_the_shift_waits_into_it(
    clock: str, later: str, state: str
) -> None:
    rows = (entry(clock, "breathless", **FINE), entry("07:00", later, **FINE))
    assert verdict(ONCE, handover(*rows, patients=(WARD,))).state == state


def test_at_two_times_it_escalates_and_takes_the_place_of_once() -> None:
    rows = (entry("09:00", "breathless", **FINE), entry("12:00", "wheeze", **FINE))
    given = verdict(AGAIN, handover(*rows))
    assert (given.state, given.level) == ("met", "escalate")
    assert (given.value, given.limit, given.unit) == (2, 2, "{times}")
    assert (given.at, lines(given.entries)) == (at("12:00"), [1, 2])
    assert found(given)["symptoms"] == ("breathless", "wheeze")
    rules = [each.rule for each in judged(handover(*rows)).cautions]
    assert ONCE not in rules


def test_two_entries_of_one_time_are_not_again() -> None:
    rows = (entry("09:00", "breathless", **FINE), entry("09:00", "wheeze"))
    assert verdict(AGAIN, handover(*rows)).state == "not_met"


@pytest.mark.parametrize(("clock", "state"), [("06:00", "met"), ("05:59", "not_met")])
def test_a_time_of_the_hour_before_the_shift_counts(clock: str, state: str) -> None:
    rows = (entry(clock, "breathless", **FINE), entry("15:00", "breathless", **FINE))
    assert verdict(AGAIN, handover(*rows, patients=(WARD,))).state == state


@pytest.mark.parametrize(
    ("vital_signs", "reads"),
    [
        ({"spo2": 91}, ("low-oxygen", "SpO2 91 %")),
        ({"resp_rate": 25}, ("breathing-rate", "breathing rate 25 /min")),
        ({"pulse": 131}, ("pulse", "pulse 131 /min")),
        ({"pain": 7}, ("pain-again", "pain 7 of 10")),
    ],
)
@pytest.mark.parametrize(
    ("clock", "state"), [("10:59", "not_met"), ("11:00", "met"), ("13:00", "met")]
)
def test_once_beside_a_grave_sign_or_strong_pain_escalates(
    vital_signs: dict[str, float], reads: tuple[str, str], clock: str, state: str
) -> None:
    rows = (entry("12:00", "wheeze", **FINE), entry(clock, what="seen", **vital_signs))
    given = verdict(AGAIN, handover(*rows))
    assert given.state == state
    if state == "met":
        assert signs_beside(given) == [(*reads, at(clock))]


@pytest.mark.parametrize("beside", [{"pain": 6}, {"temp_c": 39.5}, {"spo2": 92}])
def test_other_values_beside_it_do_not(beside: dict[str, float]) -> None:
    rows = (entry("12:00", "wheeze", **FINE), entry("12:10", what="seen", **beside))
    assert verdict(AGAIN, handover(*rows)).state == "not_met"


def test_signs_not_recorded_near_it_are_named() -> None:
    given = verdict(AGAIN, handover(entry("12:00", "wheeze", spo2=96)))
    assert given.state == "undecided"
    assert given.why == "breathing rate, pulse and pain not recorded within 60 min"


def test_it_is_over_by_none_and_by_the_signs_that_it_had() -> None:
    sick = entry("12:00", "breathless", spo2=85, on_oxygen=False, pain=8)
    rows = [sick, entry("13:00", "none"), entry("13:30", spo2=96, on_oxygen=False)]

    def settled() -> bool:
        (matter,) = (each for each in judged(handover(*rows)).matters if each.rule == AGAIN)
        return matter.settled_at is not None

    assert not settled()
    rows.append(entry("14:00", pain=4))
    assert not settled()
    rows.append(entry("15:00", pain=3))
    assert settled()


def test_telling_of_the_first_time_does_not_tell_of_the_second() -> None:
    told = entry("09:10", what="told", note="Dr Quill", about=("wheeze",))
    rows = (entry("09:00", "wheeze", **FINE), told, entry("10:00", "wheeze", **FINE))
    (matter,) = judged(handover(*rows)).matters
    assert (matter.state, matter.about) == ("open", ("breathless", "wheeze"))

"""Whose limits a patient is judged by: the order's own, the unit's, those of adults, of comfort
care, and what is usual; and signs that nobody can read. Most of it from a log to the printed words.

Sources: a single parameter scoring 3 in the early-warning score NEWS2 (Royal College of Physicians
2017): SpO2 scale 2, for a prescribed target of 88 to 92 %, 97 % or more on oxygen; 39.1 degrees or
more scores 2 only, so that it escalates here is common practice. That an order with a lower limit
of 90 % or less and no upper one is read as that target, the 60 minutes beside a high SpO2, the age
of 16 years, and what is judged in comfort care are common practice.
"""

from datetime import date
from typing import Any

import pytest
from msgspec.structs import replace

from handoff.judge.vitals import bounds_in_force
from handoff.model.pages import Caution, PatientPage
from handoff.model.ward import Handover, Symptom
from tests.support.builders import (
    default_limits,
    entry,
    handover,
    judged,
    order,
    patient,
    set_aside,
    signs,
    verdict,
    with_limit,
)
from tests.support.cases import CASES
from tests.support.logs import log_of
from tests.support.sheets import patient_page, unit_page
from tests.support.wards import one_unit

LOG = """
unit: {{name: Harbour 3 East, time_zone: America/Halifax, quiet_hours: none}}
shift: {{start: 2026-03-09 07:00, end: 2026-03-09 19:00}}
patients:
- id: "10442"
  name: Larkspur, Odile
  born: {born}
  bed: 12A
  weight_kg: {weight_kg}
  order: {{start: 2026-03-09 07:00, by: Dr Quill{order}}}
entries:
{rows}
"""


def page_of(*rows: str, order: str = "", born: str = "1958-04-02", weight_kg: int = 70) -> Any:
    """The sheet of a patient, from the text of a log; `order` continues the order's own fields."""
    text = "".join(f'- {{patient: "10442", at: {row}}}\n' for row in rows)
    log = LOG.format(born=born, weight_kg=weight_kg, order=order and f", {order}", rows=text)
    return patient_page(one_unit(log_of(log)))


def caution(page: PatientPage, rule: str) -> Caution:
    (found,) = (each for each in page.cautions if each.rule == rule)
    return found


def levels(given: Handover) -> dict[str, str]:
    return {each.rule: str(each.level) for each in judged(given).cautions}


# Oxygen


def on_oxygen(*values: tuple[str, float, bool | None], **ordered: Any) -> Handover:
    rows = (entry(clock, spo2=spo2, on_oxygen=oxygen) for clock, spo2, oxygen in values)
    return handover(*rows, patients=(patient(order=order(**ordered)),))


@pytest.mark.parametrize(
    ("spo2", "oxygen", "ordered", "level"),
    [
        (92, True, {"spo2_max": 92}, None),
        (93, True, {"spo2_max": 92}, "follow_up"),
        (96, True, {"spo2_max": 92}, "follow_up"),
        (97, True, {"spo2_max": 92}, "escalate"),
        (97, True, {"spo2_max": 94}, "follow_up"),
        (98, True, {"spo2_max": 98}, None),
        (99, False, {"spo2_max": 92}, None),
        (93, True, {"spo2_min": 90}, "follow_up"),
        (97, True, {"spo2_min": 88}, "escalate"),
        (99, True, {"spo2_min": 91}, None),
        (99, True, {"spo2_min": 88, "spo2_max": 99}, None),
        (99, True, {}, None),
    ],
)
def test_high_oxygen_on_both_sides_of_its_limits(
    spo2: float, oxygen: bool, ordered: dict[str, float], level: str | None
) -> None:
    given = on_oxygen(("09:00", spo2, oxygen), **ordered)
    assert levels(given).get("high-oxygen") == level


def test_high_oxygen_where_nobody_wrote_whether_on_oxygen_is_undecided() -> None:
    given = verdict("high-oxygen", on_oxygen(("09:00", 95, None), spo2_max=92))
    assert (given.state, given.why) == ("undecided", "whether on oxygen is not recorded")


@pytest.mark.parametrize(
    ("clock", "words", "rate", "level"),
    [
        ("09:59", "drowsy", None, "escalate"),
        ("10:00", "confused", None, "escalate"),
        ("10:01", "drowsy", None, "follow_up"),
        ("08:00", "", 8, "escalate"),
        ("08:00", "", 9, "follow_up"),
        ("08:00", "", 26, "follow_up"),
        ("08:00", "dizzy", None, "follow_up"),
    ],
)
def test_high_oxygen_escalates_beside_drowsiness_or_slow_breathing(
    clock: str, words: str, rate: float | None, level: str
) -> None:
    high = entry("09:00", spo2=94, on_oxygen=True)
    given = handover(
        high, entry(clock, words, resp_rate=rate), patients=(patient(order=order(spo2_max=92)),)
    )
    assert str(verdict("high-oxygen", given).level) == level


def test_high_oxygen_looks_back_over_the_start_of_the_shift() -> None:
    rows = (entry("06:30", spo2=94, on_oxygen=True), entry("07:20", "drowsy"))
    given = handover(*rows, patients=(patient(order=order("-1 08:00", spo2_max=92)),))
    (matter,) = (each for each in judged(given).matters if each.rule == "high-oxygen")
    assert [row.signs.spo2 for row in matter.rows] == [94, None]


@pytest.mark.parametrize(
    ("spo2", "oxygen", "state"),
    [
        (92, True, "settled"),
        (93, True, "open"),
        (92, None, "settled"),
        (93, None, "open"),
        (96, False, "settled"),
    ],
)
def test_high_oxygen_settles_within_the_limit_or_on_air(
    spo2: float, oxygen: bool | None, state: str
) -> None:
    given = on_oxygen(("09:00", 98, True), ("10:30", spo2, oxygen), spo2_max=92)
    (matter,) = judged(given).matters
    assert (matter.rule, str(matter.state)) == ("high-oxygen", state)


def test_too_much_oxygen_and_slow_breathing_from_log_to_sheet() -> None:
    page = page_of(
        "09:00, spo2: 97, resp_rate: 14, oxygen: 4 L nasal",
        "10:00, spo2: 98, resp_rate: 11, oxygen: 4 L nasal",
        "11:00, spo2: 98, resp_rate: 9, symptoms: [drowsy], oxygen: 4 L nasal",
        order="spo2_min: 88, spo2_max: 92",
    )
    assert page.priority_words == "ESCALATE"
    high = caution(page, "high-oxygen")
    assert high.seen == (
        "SpO2 98 % at 11:00, on oxygen (4 L nasal); ordered 92 % or less; with drowsy (11:00). "
        "Not measured since."
    )
    assert high.action == (
        "Stop, count the breathing, check, and call: ask whether the oxygen should be turned down."
    )
    background = page.paragraphs[1].value
    assert "SpO2 at least 88 %, SpO2 at most 92 % on oxygen" in background


@pytest.mark.parametrize(
    ("last", "seen", "asked"),
    [
        ("spo2: 94, oxygen: 2 L", "Last 94 % at 11:00, on oxygen (2 L).", True),
        ("spo2: 94", "Last 94 % at 11:00, air or oxygen not recorded.", True),
        ("spo2: 88, oxygen: 0.5 L", "Last 88 % at 11:00, on oxygen (0.5 L).", False),
        ("spo2: 94, on_oxygen: no", "Last 94 % at 11:00, on air.", False),
        ("on_oxygen: no", "ordered 92 % or less. On air at 11:00.", False),
        ("spo2: 87, oxygen: 0.5 L", "Last 87 % at 11:00, on oxygen (0.5 L).", False),
    ],
)
def test_oxygen_is_to_be_turned_down_only_while_the_last_value_is_over(
    last: str, seen: str, asked: bool
) -> None:
    page = page_of(
        "09:00, spo2: 95, oxygen: 2 L", f"11:00, {last}", order="spo2_min: 88, spo2_max: 92"
    )
    high = caution(page, "high-oxygen")
    assert high.seen.startswith("SpO2 95 % at 09:00")
    assert high.seen.endswith(seen)
    assert any("turned down" in line for line in (high.action, *page.next_shift)) is asked
    assert len([line for line in page.next_shift if "SpO2" in line]) == 1
    assert high.action == (
        "Ask whether the oxygen should be turned down." if asked else "Measure SpO2 again."
    )


def test_an_escalated_high_oxygen_that_is_over_asks_for_no_less_oxygen() -> None:
    page = page_of(
        "10:30, spo2: 98, oxygen: 2 L",
        "11:00, spo2: 90, oxygen: 1 L",
        order="spo2_min: 88, spo2_max: 92",
    )
    assert caution(page, "high-oxygen").action == "Stop, count the breathing, check, and call."


def test_a_low_limit_alone_brings_the_published_upper_one_and_says_so() -> None:
    page = page_of("09:00, spo2: 94, on_oxygen: yes", order="spo2_min: 88")
    seen = caution(page, "high-oxygen").seen
    assert seen.endswith("no upper limit ordered: 92 % used, as the lower one is 88 %.")


@pytest.mark.parametrize(
    ("rows", "met"),
    [
        (("08:00 no", "09:00 yes"), True),
        (("-1 22:00 no", "09:00 yes"), True),
        (("08:00 no", "09:00 yes", "10:00 yes"), True),
        (("08:00 no", "09:00 yes", "10:00 no"), False),
        (("-1 20:00 no", "-1 22:00 yes", "09:00 yes"), False),
        (("09:00 yes",), False),
    ],
)
def test_new_oxygen_is_oxygen_now_and_air_before(rows: tuple[str, ...], met: bool) -> None:
    parted = (row.rpartition(" ") for row in rows)
    given = handover(
        *(entry(clock, on_oxygen=word == "yes") for clock, _, word in parted),
        patients=(patient(order=order("-1 08:00")),),
    )
    assert (str(verdict("new-oxygen", given).state) == "met") is met


def test_new_oxygen_from_log_to_sheet() -> None:
    page = page_of("08:00, spo2: 95, on_oxygen: no", "09:00, spo2: 96, oxygen: 2 L nasal")
    new = caution(page, "new-oxygen")
    assert (str(new.level), new.seen) == (
        "follow_up",
        "On oxygen (2 L nasal) since 09:00, on air 08:00.",
    )
    assert new.action == "Ask why, and for the ordered SpO2 limits."


# The order's own limits


@pytest.mark.parametrize(
    ("ordered", "sign", "values", "rule"),
    [  # at the ordered limit, beyond it, and beyond the unit's alone
        ("spo2_min", "spo2", (85, 84, 90), "low-oxygen"),
        ("resp_rate_min", "resp_rate", (6, 5, 7), "breathing-rate"),
        ("resp_rate_max", "resp_rate", (30, 31, 27), "breathing-rate"),
        ("pulse_min", "pulse", (35, 34, 38), "pulse"),
        ("pulse_max", "pulse", (150, 151, 140), "pulse"),
        ("temp_max", "temp_c", (39.5, 39.6, 39.2), "fever"),
    ],
)
def test_an_ordered_limit_is_met_beyond_it_and_replaces_the_units(
    ordered: str, sign: str, values: tuple[float, float, float], rule: str
) -> None:
    at_it, beyond_it, units = values
    limits: dict[str, Any] = {ordered: at_it}
    own = (patient(order=order(**limits)),)
    for value, state in ((units, "not_met"), (at_it, "not_met"), (beyond_it, "met")):
        given = handover(entry("09:00", **{sign: value}), patients=own)
        assert str(verdict(rule, given).state) == state
    beyond = verdict(rule, handover(entry("09:00", **{sign: beyond_it}), patients=own))
    assert (beyond.limit, beyond.source, str(beyond.level)) == (at_it, "the order", "escalate")
    assert str(verdict(rule, handover(entry("09:00", **{sign: units}))).state) == "met"


def test_the_other_side_of_an_ordered_limit_is_still_the_units() -> None:
    bounds = bounds_in_force("pulse", order(pulse_max=150), default_limits())
    assert [(each.limit, each.low, each.inclusive, each.ordered) for each in bounds] == [
        (40, True, True, False),
        (150, False, False, True),
    ]


@pytest.mark.parametrize(
    ("rule", "ordered", "than"),
    [
        ("pulse", {"pulse_min": 50}, 40),
        ("pulse", {"pulse_min": 41}, None),  # met at 40, as the unit's
        ("pulse", {"pulse_max": 130}, None),
        ("pulse", {"pulse_max": 129}, 131),
        ("low-oxygen", {"spo2_min": 92}, None),
        ("low-oxygen", {"spo2_min": 94}, 91),
        ("fever", {"temp_max": 39.0}, None),
        ("fever", {"temp_max": 38.5}, 39.1),
    ],
)
def test_an_ordered_limit_that_is_stricter_than_the_units_is_said_to_be(
    rule: str, ordered: dict[str, Any], than: float | None
) -> None:
    bounds = bounds_in_force(rule, order(**ordered), default_limits())
    assert [each.stricter_than for each in bounds if each.ordered] == [than]


def test_ordered_limits_from_log_to_sheet() -> None:
    page = page_of("09:00, pulse: 48, resp_rate: 27", order="pulse_min: 50, resp_rate_max: 30")
    assert caution(page, "pulse").seen.startswith(
        "48 a minute at 09:00; ordered 50 or more, stricter than the unit's 40."
    )
    assert [each.rule for each in page.cautions if str(each.level) == "escalate"] == ["pulse"]
    background = page.paragraphs[1].value
    assert "breathing at most 30 a minute, pulse at least 50" in background


def test_reversed_limits_are_lost_both_and_a_mending_is_said() -> None:
    page = page_of("09:00, pulse: 45", order="pulse_min: 60, pulse_max: 50, goal_ml: 1500")
    assert "pulse" not in {each.rule for each in page.cautions}
    assert "pulse at" not in page.paragraphs[1].value
    assert page.to_check == (
        "In the log but not understood, so not known: Pulse at most, Pulse at least."
    )


def test_an_ordered_limit_counts_wherever_the_sign_is_read() -> None:
    rows = (entry("09:00", "dizzy", pulse=48), entry("10:30", "none", pulse=49))
    loose, strict = order(), order(pulse_min=50)
    assert "dizziness-with-signs" not in levels(handover(*rows, patients=(patient(order=loose),)))
    verdicts = judged(handover(*rows, patients=(patient(order=strict),)))
    assert {each.rule: str(each.state) for each in verdicts.matters} == {
        "pulse": "open",
        "dizziness-with-signs": "open",
    }


# Fever


def test_a_high_fever_escalates_until_it_is_under_38() -> None:
    warm = handover(entry("09:00", temp_c=39.0))
    assert (levels(warm)["fever"], judged(warm).matters) == ("follow_up", ())
    for later, state in ((38.0, "open"), (37.9, "settled")):
        given = handover(entry("09:00", temp_c=39.1), entry("10:30", temp_c=later))
        (matter,) = judged(given).matters
        assert (matter.rule, matter.about, str(matter.state)) == ("fever", ("temperature",), state)


def test_a_fever_that_was_told_is_not_asked_for_again() -> None:
    told = '08:10, what: told, about: [temperature], note: "Dr Quill: cultures taken"'
    page = page_of("08:00, temp_c: 38.6", told, "17:00, temp_c: 38.9")
    fever = caution(page, "fever")
    assert (fever.mark, fever.action) == ("TOLD", "Goes on, take the temperature again.")
    assert fever.told == ('Told 08:10: "Dr Quill: cultures taken".',)
    assert not any("report" in line.lower() for line in page.next_shift)
    higher = page_of("08:00, temp_c: 38.4", told, "17:00, temp_c: 38.9")
    assert caution(higher, "fever").action == "Report a new fever."


def test_while_a_high_fever_is_open_a_lower_one_is_not_reported_as_new() -> None:
    rows = (entry("-1 22:00", temp_c=39.5), entry("09:00", temp_c=38.5))
    given = handover(*rows, patients=(patient(order=order("-1 08:00")),))
    assert "fever" not in levels(given)
    (matter,) = judged(given).matters
    assert (matter.rule, str(matter.state)) == ("fever", "open")


# Children


def test_a_child_of_19_kg_from_log_to_sheet() -> None:
    rows = ("09:00, breaths: 5, volume_ml: 500, resp_rate: 30, pulse: 140, spo2: 97",)
    page = page_of(*rows, born="2020-01-05", weight_kg=19)
    assert page.identity.judged_as == "A CHILD: judge by the children's chart."
    assert caution(page, "pulse").seen.startswith(
        "140 a minute at 09:00; over the adult limit, 131 or more."
    )
    assert caution(page, "breathing-rate").seen.startswith(
        "30 breaths a minute at 09:00; over the adult limit, 25 or more."
    )
    low = page_of("09:00, pulse: 40, spo2: 91, temp_c: 35.0", born="2020-01-05", weight_kg=19)
    assert "limit 40 or less" in caution(low, "pulse").seen
    assert {"low-oxygen", "low-temperature"} <= {each.rule for each in low.cautions}
    own = page_of(*rows, born="2020-01-05", weight_kg=19, order="pulse_max: 150, resp_rate_max: 34")
    assert not {"pulse", "breathing-rate"} & {each.rule for each in own.cautions}


def test_the_summary_says_that_a_patient_is_a_child() -> None:
    child = patient(born=date(2020, 1, 5), weight_kg=19)
    (row,) = unit_page(handover(entry("09:00"), patients=(child,))).rows
    assert row.alerts == ("A CHILD: children's chart",)


# Comfort care


def test_in_comfort_care_only_pain_and_breathlessness_are_judged() -> None:
    rows = (
        "09:00, spo2: 80, pulse: 160, symptoms: [breathless, drowsy]",
        "10:00, pain: 8, breaths: 3",
    )
    page = page_of(*rows, order="comfort_care: yes")
    assert page.identity.judged_as == (
        "COMFORT CARE ORDERED by Dr Quill, since 9 Mar 07:00: only pain and breathlessness are "
        "judged."
    )
    rules = {each.rule for each in page.cautions}
    assert rules <= {"breathless", "breathless-again", "pain-limits", "pain-again"}
    assert rules >= {"pain-limits"}
    assert "low-oxygen" in {each.rule for each in page_of(*rows).cautions}


def test_in_comfort_care_nobody_is_coached_and_all_that_is_charted_is_printed() -> None:
    page = page_of("09:00, spo2: 78, resp_rate: 6, symptoms: drowsy", order="comfort_care: yes")
    assert "Ask whether the exercise is still wanted" in page.next_shift
    words = " ".join(
        (*(fact.value for fact in (*page.paragraphs, *page.numbers)), *page.next_shift)
    )
    assert "Coach " not in words
    assert "drowsy once" in words
    assert "78 % at 09:00" in words


def test_comfort_care_ends_the_following_of_other_matters_and_says_which() -> None:
    given = CASES["comfort care, in danger before"]
    (low,) = (each for each in judged(given).matters if each.rule == "low-oxygen")
    assert (str(low.state), str(low.level), len(low.rows)) == ("open", "note", 1)
    says = patient_page(given).identity.judged_as
    assert "Open before, not followed now: low oxygen." in says
    assert "COMFORT CARE ORDERED by Dr Quill, since 12 May 07:00" in says


def test_in_comfort_care_a_row_set_aside_is_no_danger() -> None:
    comfort = patient(order=order(comfort_care=True))
    given = handover(patients=(comfort,), set_aside=(set_aside("09:00", "faint", spo2=80),))
    assert judged(given).matters == ()


# Usual symptoms


@pytest.mark.parametrize(
    ("words", "more", "level"),
    [
        ("confused", {}, "note"),
        ("confused cough", {}, "note"),
        ("confused drowsy", {}, "escalate"),
        ("confused", {"spo2": 88}, "escalate"),
        ("confused wheeze", {}, "escalate"),
        ("confused dizzy", {}, "note"),  # both are usual
    ],
)
def test_a_usual_symptom_is_judged_only_beside_another_sign(
    words: str, more: dict[str, Any], level: str
) -> None:
    usual = patient(order=order(usual_symptoms=(Symptom.CONFUSED, Symptom.DIZZY)))
    given = handover(entry("09:00", words, **more), patients=(usual,))
    assert str(verdict("drowsy-or-confused", given).level) == level
    confused = {each.name for each in judged(given).matters} & {"drowsy-or-confused:confused"}
    assert bool(confused) is (level == "escalate")


@pytest.mark.parametrize(("clock", "level"), [("10:00", "escalate"), ("10:01", "note")])
def test_another_sign_counts_within_an_hour_of_a_usual_symptom(clock: str, level: str) -> None:
    usual = patient(order=order(usual_symptoms=(Symptom.CONFUSED,)))
    given = handover(entry("09:00", "confused"), entry(clock, pulse=140), patients=(usual,))
    assert str(verdict("drowsy-or-confused", given).level) == level


@pytest.mark.parametrize("symptom", [Symptom.FAINT, Symptom.CHEST_PAIN, Symptom.DROWSY])
def test_some_symptoms_are_never_usual(symptom: Symptom) -> None:
    usual = patient(order=order(usual_symptoms=(symptom,)))
    given = judged(handover(entry("09:00", str(symptom)), patients=(usual,)))
    assert [each.symptom for each in given.matters] == [str(symptom)]


def test_a_usual_symptom_from_log_to_sheet() -> None:
    page = page_of("09:00, symptoms: [confused]", order="usual_symptoms: [confused]")
    (usual,) = (each for each in page.cautions if each.rule == "drowsy-or-confused")
    assert (str(usual.level), usual.title) == ("note", "Usual for this patient: confused")
    assert usual.seen == (
        "Confused charted at 09:00; usual as Dr Quill says, no other sign within an hour."
    )
    assert page.priority_words != "ESCALATE"
    assert "while awake. Usual for this patient: confused." in page.paragraphs[1].value


def test_a_usual_symptom_in_a_row_set_aside_is_no_danger_alone() -> None:
    usual = patient(order=order(usual_symptoms=(Symptom.CONFUSED,)))
    for words, named in (("confused", False), ("confused drowsy", True)):
        given = handover(patients=(usual,), set_aside=(set_aside("09:00", words),))
        assert bool(judged(given).matters) is named


# Signs that cannot be read


def test_an_unreadable_spo2_that_was_probably_81_escalates_from_log_to_sheet() -> None:
    page = page_of("09:00, spo2: 8l, breaths: 5")
    assert page.priority_words == "ESCALATE"
    unsure = caution(page, "sign-unreadable")
    assert unsure.seen.startswith("SpO2 '8l' (may be SpO2 81 %) not understood in row ")
    assert unsure.action == "Read it now, measure or ask again, mend the row."
    assert "Measure again: SpO2" in page.next_shift
    assert "Tell the provider and record it: SpO2 not readable" in page.next_shift
    assert "low-oxygen" not in {each.rule for each in page.cautions}


def test_an_unreadable_sign_that_was_probably_fine_is_followed_up() -> None:
    page = page_of("09:00, spo2: 9S, pulse: 8O, breaths: 5")
    assert str(caution(page, "sign-unreadable").level) == "follow_up"
    assert judged_rules("09:00, symptoms: [feint], breaths: 5") == {"sign-unreadable": "escalate"}


def judged_rules(row: str) -> dict[str, str]:
    page = page_of(row)
    return {each.rule: str(each.level) for each in page.cautions if each.rule == "sign-unreadable"}


def test_an_unreadable_sign_is_told_by_its_own_word_and_settles_by_a_readable_value() -> None:
    slip = replace(entry("09:00"), unread=("spo2",), raw={"spo2": "8l"}, likely=signs(spo2=81))
    told = entry("09:10", what="told", note="Dr Quill", about=("oxygen",))
    for spo2, state in ((91, "told"), (95, "closed")):
        given = judged(handover(slip, told, entry("10:00", spo2=spo2, on_oxygen=True)))
        (matter,) = (each for each in given.matters if each.rule == "sign-unreadable")
        assert (matter.name, str(matter.state)) == ("sign-unreadable:low-oxygen", state)


def test_an_unreadable_sign_is_held_to_the_orders_own_limit() -> None:
    slip = replace(entry("09:00"), unread=("spo2",), raw={"spo2": "8g"}, likely=signs(spo2=89))
    own = patient(order=order(spo2_min=88))
    assert str(verdict("sign-unreadable", handover(slip)).level) == "escalate"
    given = handover(slip, patients=(own,))
    assert str(verdict("sign-unreadable", given).level) == "follow_up"


def test_a_row_set_aside_without_a_time_settles_only_after_its_shift() -> None:
    row = set_aside(None, spo2=80)
    for clock, state in (("18:30", "open"), ("+1 08:00", "settled")):
        listed = (patient(order=order("07:00")),)
        given = handover(entry(clock, spo2=97), patients=listed, set_aside=(row,), as_of="+1 09:00")
        (matter,) = judged(given).matters
        assert str(matter.state) == state


def test_a_units_own_limit_is_what_an_order_is_stricter_than() -> None:
    unit = with_limit("pulse", "pulse_at_or_under", "55")
    (low, _) = bounds_in_force("pulse", order(pulse_min=50), unit)
    assert low.stricter_than is None

"""Symptoms, pain and the ages of signs from a log's text to the printed words.

Each limit behind them is common practice; the levels are tested beside the rules.
"""

import re
from pathlib import Path

import pytest

from handoff.compose.blank import compose_patient_blanks, compose_unit_blank
from handoff.model.pages import PatientPage
from handoff.model.ward import Handover
from handoff.run.blank import blank_after
from tests.support.logs import hand_over, log_of
from tests.support.sheets import patient_page, results, texts, unit_page, words

LOG = """
unit: {name: Harbour 3 East, time_zone: America/Halifax, quiet_hours: none}
shift: {start: 2026-03-06 07:00, end: 2026-03-06 19:00}
patients:
- {id: "10442", name: "Larkspur, Odile", born: 1958-04-02, bed: 12A,
   precautions: "flat, spine not cleared", order: {start: 2026-03-05 10:00, goal_ml: 1500},
   device: {given: yes, labelled: yes}, teaching: {taught: yes, shown_back: yes}}
entries:
"""
FINE = "spo2: 96, resp_rate: 16, pulse: 80, pain: 2, on_oxygen: no"


def given(*rows: str) -> Handover:
    """The hand-over of a log with these entries."""
    lines = [f'- {{patient: "10442", {row}}}\n' for row in rows]
    return hand_over(log_of(LOG + "".join(lines)))


def page(*rows: str) -> PatientPage:
    return patient_page(given(*rows))


def caution(of: PatientPage, rule: str) -> str:
    """Title, what was seen and what to do, of one caution."""
    (only,) = (each for each in of.cautions if each.rule == rule)
    return f"{only.title}: {only.seen} {only.action}"


def everywhere(of: Handover) -> list[str]:
    """What sheet, summary and the pages for the next shift say."""
    blank, said = blank_after(results(of)), words(of.unit.time_zone)
    pages = (
        patient_page(of),
        unit_page(of),
        compose_patient_blanks(blank, said),
        compose_unit_blank(blank, said),
    )
    return [" ".join(texts(each)) for each in pages]


def test_after_breathlessness_no_page_asks_for_the_exercise_until_it_is_over() -> None:
    breathless = f"at: 09:00, breaths: 5, symptoms: [breathless], {FINE}"
    waiting = given(breathless)
    sheet = patient_page(waiting)
    assert sheet.next_shift[0] == (
        "No exercise until the breathing has settled; ask again, chart it or none"
    )
    assert caution(sheet, "breathless") == (
        "Breathless: Breathless charted at 09:00. Not seen to be over. Stop, rest, position of "
        "ease as precautions allow; call if it does not settle."
    )
    assert not any("Coach" in each or "each round" in each for each in everywhere(waiting))
    assert all("no exercise" in each.lower() for each in everywhere(waiting))
    over = given(breathless, "at: 10:00, breaths: 5, symptoms: [none]")
    assert "Over at 10:00." in caution(patient_page(over), "breathless")
    assert "Coach 10 breaths" in everywhere(over)[0]


def test_breathless_again_is_escalated_and_named_on_every_page() -> None:
    rows = [f"at: {clock}, what: note, symptoms: [wheeze], {FINE}" for clock in ("09:00", "11:00")]
    of = given(*rows, "at: 13:00, breaths: 5, symptoms: [breathless]")
    sheet = patient_page(of)
    assert sheet.priority == "escalate"
    assert caution(sheet, "breathless-again") == (
        "Breathless and wheeze again: Breathless and wheeze charted at 09:00, 11:00 and 13:00. "
        "SpO2, breathing rate, pulse and pain not recorded within 60 min of it. "
        "Not recorded since as none: breathless and wheeze. Stop, stay with the patient, position "
        "of ease as precautions allow, call."
    )
    assert all("breathless and wheeze again" in each.lower() for each in everywhere(of))


def test_breathless_again_says_what_was_not_measured_beside_it() -> None:
    rows = [f"at: {clock}, what: note, symptoms: [wheeze]" for clock in ("11:00", "13:00")]
    of = page("at: 07:30, breaths: 8, spo2: 95, on_oxygen: no", *rows)
    missing = "SpO2, breathing rate, pulse and pain not recorded within 60 min of it."
    assert missing in caution(of, "breathless-again")
    lowest = next(fact.value for fact in of.numbers if fact.label == "Lowest SpO2")
    assert lowest == "95 % at 07:30, 5 h before the last entry, on air"


def test_breathless_beside_strong_pain_names_the_pain() -> None:
    of = page("at: 09:00, breaths: 5, symptoms: [breathless]", "at: 09:40, what: note, pain: 8")
    assert "charted at 09:00, within 60 min of pain 8 of 10 (09:40)" in (
        caution(of, "breathless-again")
    )


def test_dizziness_names_the_breaths_done_at_one_time() -> None:
    of = page("at: 09:00, breaths: 10, symptoms: [dizzy]")
    assert "Dizzy charted at 09:00; 10 breaths at one time." in caution(of, "dizziness")
    few = page("at: 09:00, breaths: 3, symptoms: [dizzy]")
    assert "at one time" not in caution(few, "dizziness")
    again = page(*(f"at: {clock}, breaths: 12, symptoms: [dizzy]" for clock in ("09:00", "11:00")))
    assert "2 times, limit 2 or more; 12 breaths at one time." in caution(again, "dizziness-again")


def test_dizzy_three_times_is_escalated() -> None:
    of = page(*(f"at: {hour}:00, breaths: 8, symptoms: [dizzy]" for hour in ("09", "11", "13")))
    assert of.priority == "escalate"
    said = caution(of, "dizziness-again")
    assert "09:00, 11:00 and 13:00: 3 times, limit 3 or more; 8 breaths at one time." in said
    assert said.endswith("Stop, rest, breathe normally, call.")
    assert not any("Coach" in line for line in of.next_shift)


def test_a_decline_names_its_pain_first_and_pain_asks_for_relief() -> None:
    of = page("at: 09:00, what: declined, pain: 9", "at: 09:20, what: declined, pain: 8")
    assert caution(of, "declined").startswith("Declined with pain 9 and 8: Declined at 09:00")
    assert caution(of, "pain-limits") == (
        "Pain: Pain 9 of 10 at 09:00; 7 or more in 2 entries. Ask about pain relief before the "
        "next round; a pillow held against a cut."
    )


def test_strong_pain_that_goes_on_is_not_under_control() -> None:
    of = page("at: 09:00, what: declined, pain: 9", "at: 10:00, what: declined, pain: 8")
    assert of.priority == "escalate"
    said = caution(of, "pain-again")
    assert said.startswith("The pain is not under control: Pain 9 of 10 at 09:00, 1 h before the")
    assert said.endswith("Stop, ask about pain relief, tell the provider.")
    assert "Ask about pain relief first, then offer again" not in said


def test_a_sign_is_printed_with_its_age_from_an_hour_on() -> None:
    def lowest(later: str) -> str:
        of = page("at: 08:10, breaths: 8, spo2: 95, on_oxygen: no", f"at: {later}, breaths: 8")
        return next(fact.value for fact in of.numbers if fact.label == "Lowest SpO2")

    assert lowest("18:30") == "95 % at 08:10, 10 h before the last entry, on air"
    assert lowest("09:10") == "95 % at 08:10, 1 h before the last entry, on air"
    assert lowest("09:09") == "95 % at 08:10, on air"


def test_a_sign_in_a_caution_is_printed_with_its_age_on_every_page() -> None:
    of = given("at: 08:10, breaths: 8, spo2: 85, on_oxygen: no", "at: 18:30, what: note, note: in")
    assert all(
        "85 % at 08:10, 10 h before the last entry, on air" in each for each in everywhere(of)
    )
    again = page(
        "at: 08:10, breaths: 8, spo2: 85, on_oxygen: no",
        "at: 09:30, breaths: 8, spo2: 95, on_oxygen: no",
        "at: 18:30, what: note, note: in",
    )
    said = caution(again, "low-oxygen")
    assert "SpO2 85 % at 08:10, on air;" in said
    assert "Then 95 % at 09:30, 9 h before the last entry, on air." in said
    fever = page("at: 08:10, breaths: 8, temp_c: 38.4", "at: 12:10, breaths: 8")
    assert "38.4 °C at 08:10, 4 h before the last entry;" in caution(fever, "fever")


def test_of_several_signs_the_last_value_has_the_age() -> None:
    of = page(
        "at: 08:10, breaths: 8, symptoms: [dizzy], spo2: 85, pulse: 140", "at: 12:10, breaths: 8"
    )
    assert "within 60 min of SpO2 85 % (08:10) and pulse 140 /min (08:10, 4 h before the last" in (
        caution(of, "dizziness-with-signs")
    )


def test_cough_and_fatigue_are_printed_with_the_numbers() -> None:
    rows = [f"at: {hour}:00, breaths: 8, symptoms: [fatigue]" for hour in (12, 13, 14)]
    of = page(*rows, "at: 15:00, breaths: 8, symptoms: [cough]")
    (also,) = (fact for fact in of.numbers if fact.label == "Also charted")
    assert also.value == "cough once, fatigue 3 times"
    assert not any(fact.label == "Also charted" for fact in page("at: 09:00, breaths: 8").numbers)


# Words that order a position; the log's own word for it stands by itself.
ORDERS = re.compile(
    r"sits? up|(?<!sitting: )sitting(?! if allowed|: sitting)|upright|"
    r"(?:lies?|lying) (?:down|flat)(?! as precautions allow)|position (?=as )(?!as precautions)"
)


def test_nothing_on_a_page_for_staff_orders_a_position() -> None:
    templates = Path(__file__).parents[2] / "templates"
    files = [templates / "en" / f"{name}.yaml" for name in ("cautions", "sheet", "blank")]
    for path in (*files, *(templates / "desk").glob("*.html")):
        assert ORDERS.findall(path.read_text(encoding="utf-8").lower()) == [], path.name


@pytest.mark.parametrize("symptom", ["faint", "dizzy", "breathless"])
def test_precautions_stand_on_every_page_and_nothing_contradicts_them(symptom: str) -> None:
    of = given(f"at: 09:00, breaths: 8, symptoms: [{symptom}]")
    for text in everywhere(of):
        assert "flat, spine not cleared" in text
        assert "sit up" not in text.lower()
    if symptom == "faint":
        said = caution(patient_page(of), "faint-or-chest-pain")
        assert "who faints lies flat as precautions allow" in said


def test_the_standing_words_name_the_hazards_of_the_exercise() -> None:
    """AARC 1991, from memory: keep oxygen on; not where it cannot be understood or done; fatigue,
    bronchospasm, pain.
    """
    standing = page("at: 09:00, breaths: 8").standing[0]
    for each in ("oxygen stays on", "cannot understand or do it", "tired", "wheezing", "in pain"):
        assert each in standing
    assert "sitting if allowed" in standing

"""What a sheet must not do when it is read as a whole: say a thing twice, ask for what was told,
contradict itself. From a log's text to the printed words.

No source outside the project: how a sheet reads is common practice.
"""

import pytest

from handoff.model.pages import PatientPage
from handoff.model.ward import Handover
from tests.support.logs import hand_over, log_of
from tests.support.sheets import paragraph, patient_page, section, texts, unit_page

UNIT = "unit: {name: Harbour 3 East, time_zone: America/Halifax, quiet_hours: none}\n"
DAY = "shift: {name: day, start: 2026-03-06 07:00, end: 2026-03-06 19:00}\n"
NIGHT = "shift: {name: night, start: 2026-03-06 19:00, end: 2026-03-07 07:00}\n"
READY = "device: {given: yes, labelled: yes}, teaching: {taught: yes, shown_back: yes}"
FINE = "spo2: 96, resp_rate: 16, pulse: 80, pain: 2, on_oxygen: no"


def log(shift: str, *rows: str, order: str = "goal_ml: 1500", facts: str = READY) -> str:
    """A log of one patient with an order since the day before."""
    listed = f'{{id: "10442", name: "Larkspur, Odile", born: 1958-04-02, bed: 12A, {facts},'
    ordered = f" order: {{start: 2026-03-05 10:00, {order}}}}}"
    entries = "".join(f'- {{patient: "10442", {row}}}\n' for row in rows)
    return f"{UNIT}{shift}patients:\n- {listed}{ordered}\nentries:\n{entries}"


def of_day(*rows: str, order: str = "goal_ml: 1500", facts: str = READY) -> Handover:
    return hand_over(log_of(log(DAY, *rows, order=order, facts=facts)))


def after_a_day(day: tuple[str, ...], night: tuple[str, ...]) -> Handover:
    return hand_over(log_of(log(DAY, *day), "day.yaml"), log_of(log(NIGHT, *night)))


def caution(page: PatientPage, rule: str) -> str:
    (only,) = (each for each in page.cautions if each.rule == rule)
    return f"{only.seen} {only.action}"


def rules(page: PatientPage) -> list[str]:
    return [each.rule for each in page.cautions]


def test_pain_counts_the_entries_at_the_limit_that_is_printed() -> None:
    page = patient_page(of_day("at: 09:00, pain: 7", "at: 10:00, pain: 5", "at: 11:00, pain: 4"))
    assert "Pain 7 of 10 at 09:00, 2 h before the last entry; 7 or more in 1 entry." in (
        caution(page, "pain-limits")
    )
    lower = patient_page(of_day("at: 09:00, pain: 6", "at: 10:00, pain: 5"))
    assert "4 or more in 2 entries." in caution(lower, "pain-limits")


def test_what_was_told_is_not_asked_again() -> None:
    page = patient_page(
        of_day(
            "at: 09:00, breaths: 5, volume_ml: 400, pain: 8, spo2: 91, on_oxygen: no",
            "at: 10:00, breaths: 5, volume_ml: 400, pain: 5, spo2: 94, on_oxygen: yes",
            "at: 10:10, what: told, about: all, note: Dr Quill sees to it",
            order="spo2_min: 88, spo2_max: 92",
            facts=f"{READY}, weight_kg: 70",
        )
    )
    told = {each.rule: each.action for each in page.cautions if each.mark == "TOLD"}
    assert told["pain-limits"].startswith("Ask whether it is eased before the next round")
    assert told["high-oxygen"] == "Measure SpO2 again."
    assert told["new-oxygen"] == "Chart what was ordered."
    assert told["volume-too-low"] == "Watch one round."


def test_no_line_to_tick_off_asks_the_same_as_another() -> None:
    declined = [f"at: {clock}, what: declined, pain: 6" for clock in ("09:00", "09:20")]
    page = patient_page(of_day(*declined, "at: 10:00, breaths: 12, symptoms: [dizzy]"))
    asked = " | ".join(page.next_shift)
    assert {"declined", "pain-limits", "dizziness", "too-many-at-once"} <= set(rules(page))
    assert asked.count("Ask about pain relief") == 1
    assert asked.count("2 or 3 breaths at a time with rests") == 1
    assert "Once the pain is eased, offer the exercise again" in asked


def test_exercises_during_a_hold_never_precede_its_start() -> None:
    held = ["at: 08:00, what: hold, note: Dr Quill", "at: 11:00, what: hold, note: Dr Quill again"]
    page = patient_page(of_day(*held, "at: 09:00, breaths: 5", "at: 12:00, breaths: 5"))
    assert "at 09:00 and 12:00, while it was held: from 6 Mar 08:00" in (
        caution(page, "exercise-on-hold")
    )
    two = ["at: 08:00, until: 09:00, what: hold, note: A", "at: 11:00, what: hold, note: B"]
    page = patient_page(of_day(*two, "at: 08:30, breaths: 5", "at: 12:00, breaths: 5"))
    assert 'at 08:30 and 12:00, while it was held, "B".' in caution(page, "exercise-on-hold")


def test_a_hold_that_is_charted_once_more_is_not_new() -> None:
    held = "what: hold, note: Dr Quill"
    again = after_a_day((f"at: 08:00, {held}",), (f"at: 20:00, {held}",))
    assert "held since" not in paragraph(patient_page(again), "Situation")
    new = after_a_day(("at: 08:00, breaths: 5",), (f"at: 20:00, {held}",))
    assert "held since 20:00" in paragraph(patient_page(new), "Situation")


def test_a_new_follow_up_is_not_called_nothing_new() -> None:
    of = after_a_day(("at: 08:00, breaths: 5",), ("at: 20:00, breaths: 5, symptoms: [dizzy]",))
    said = " ".join([*texts(patient_page(of)), *texts(unit_page(of))])
    assert "dizziness" in rules(patient_page(of))
    assert "Nothing new" not in said


BREATHLESS = f"breaths: 5, symptoms: [breathless], {FINE}"
TWICE = (f"at: 09:00, {BREATHLESS}", f"at: 11:00, {BREATHLESS}")


def test_breathlessness_that_is_open_stands_once_after_a_shift_change() -> None:
    page = patient_page(after_a_day(TWICE, (f"at: 21:00, {BREATHLESS}",)))
    assert "breathless" not in rules(page)
    assert "charted at 09:00 and 11:00. Then breathless at 21:00." in (
        caution(page, "breathless-again")
    )
    assert "Then breathless" not in caution(
        patient_page(after_a_day(TWICE, (f"at: 21:00, {FINE}",))), "breathless-again"
    )


def test_breathlessness_after_the_telling_keeps_its_own_caution() -> None:
    """What came after the provider was told must not pass as told."""
    told = "at: 11:10, what: told, about: breathless, note: Dr Quill"
    page = patient_page(after_a_day((*TWICE, told), (f"at: 06:00, {BREATHLESS}",)))
    assert {"breathless-again", "breathless"} <= set(rules(page))


@pytest.mark.parametrize(
    ("rows", "says"),
    [
        ((f"at: 09:00, {BREATHLESS}",), "see first that the breathing has settled"),
        (TWICE, "NOT CLOSED, ask the provider before the patient leaves"),
    ],
)
def test_going_home_says_what_it_waits_for(rows: tuple[str, ...], says: str) -> None:
    of = of_day(*rows, facts=f"{READY}, home_on: 2026-03-06")
    (line,) = section(unit_page(of), "Going home soon")
    assert says in line.text
    assert "hold back the page to take home" in line.text
    assert ("NOT CLOSED" in line.text) == (rows == TWICE)
    asked = next(each for each in patient_page(of).next_shift if each.startswith("Going home"))
    assert ("not closed" in asked) == (rows == TWICE)


def test_a_danger_is_measured_now_though_only_a_later_value_settles_it() -> None:
    page = patient_page(of_day("at: 18:34, breaths: 5, spo2: 84, on_oxygen: no"))
    assert "Measure now, then again from 19:34 on: SpO2" in page.next_shift
    faint = patient_page(of_day("at: 18:34, symptoms: [faint], what: note"))
    assert any(each.startswith("Ask now, then again from 19:34 on") for each in faint.next_shift)


def test_a_baseline_is_not_called_a_goal_above_the_scale() -> None:
    facts = f"{READY}, baseline_ml: 1900".replace("labelled: yes", "labelled: yes, scale_ml: 1500")
    page = patient_page(of_day("at: 09:00, breaths: 5, volume_ml: 900", order="by: Q", facts=facts))
    said = caution(page, "goal-over-scale")
    assert said.startswith("The patient's own baseline of 1,900 mL is above 1,500 mL")
    assert said.endswith("Ask for a goal, then for a larger device.")


def test_no_new_goal_is_asked_for_an_order_that_has_ended() -> None:
    page = patient_page(
        of_day("at: 09:00, volume_ml: 1600", order="goal_ml: 1500, stop: 2026-03-06 12:00")
    )
    assert "goal-reached" in rules(page)
    assert not any("new goal" in each for each in page.next_shift)


def test_in_comfort_care_nothing_waits_for_what_is_not_followed_any_more() -> None:
    low = "at: 09:00, breaths: 5, spo2: 84, on_oxygen: no"
    told = "at: 09:10, what: told, about: oxygen, note: Dr Quill"
    now = log(NIGHT, "at: 20:00, breaths: 5, pain: 2", order="comfort_care: yes")
    page = patient_page(hand_over(log_of(log(DAY, low, told), "day.yaml"), log_of(now)))
    assert "Open before, not followed now: low oxygen." in page.identity.judged_as
    assert page.next_shift[0] == "Ask the provider before the exercise goes on"


def test_pain_before_the_order_is_not_unrecorded_among_the_numbers() -> None:
    late = log(DAY, "at: 09:00, what: note, pain: 8").replace(
        "2026-03-05 10:00", "2026-03-06 18:00"
    )
    page = patient_page(hand_over(log_of(late)))
    assert "Pain 8 of 10 at 09:00" in caution(page, "pain-limits")
    assert next(each.value for each in page.numbers if each.label == "Pain") == "8 of 10"

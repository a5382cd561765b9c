"""From a log's text to the printed words: charting, setting up, scale, size, going home.

Every limit here is common practice, but for those of a volume that is too low (AARC 1991, from
memory) and the predicted weight (ARDS Network 2000, after Devine 1974).
"""

from handoff.model.pages import Caution, PatientPage
from tests.support.bad_logs import UNIT, night
from tests.support.logs import hand_over, log_of
from tests.support.sheets import paragraph, patient_page

SHIFT = "shift:\n  start: 2026-03-07 07:00\n  end: 2026-03-07 19:00\n"
NAMED = '- id: "10442"\n  name: Larkspur, Odile\n  born: {born}\n  bed: 12A\n'
SET_UP = """\
  device: {given: yes, labelled: yes, scale_ml: 2500}
  teaching: {taught: yes, shown_back: yes}
"""
ORDERED = "  order: {start: 2026-03-06 08:00, goal_ml: 3000}\n"
BEFORE = "2026-03-06 18:00, breaths: 10"


def page(*rows: str, facts: str = SET_UP + ORDERED, born: str = "1958-04-02") -> PatientPage:
    """The sheet of one patient of a day shift; each row is its time and its further cells."""
    entries = "".join(f'- {{patient: "10442", at: {row}}}\n' for row in rows) or "[]\n"
    text = night(entries, NAMED.format(born=born) + facts, UNIT, SHIFT)
    return patient_page(hand_over(log_of(text.replace("entries:\n[]", "entries: []"))))


def caution(given: PatientPage, rule: str) -> Caution:
    (found,) = [each for each in given.cautions if each.rule == rule]
    return found


def rules(given: PatientPage) -> list[str]:
    return [each.rule for each in given.cautions]


def number(given: PatientPage, label: str) -> str:
    return next((each.value for each in given.numbers if each.label == label), "")


def test_twelve_spans_uncharted_and_one_note_is_followed_up() -> None:
    given = page(BEFORE, "12:00, what: note, note: asleep when I looked in")
    assert given.priority_words == "FOLLOW UP"
    assert caution(given, "nothing-charted").seen == (
        "No exercise, decline, symptom, pain or vital sign charted by staff in this shift, "
        "with 12 spans due; last exercise 6 Mar 18:00."
    )
    assert given.next_shift[0] == "See the patient, ask what was done, chart it"


def test_what_the_patient_charts_is_not_seeing_the_patient() -> None:
    rows = [f"{hour:02}:10, breaths: 10, seen_by: patient" for hour in range(7, 19)]
    assert "nothing-charted" in rules(page(BEFORE, *rows))
    assert "nothing-charted" not in rules(page(BEFORE, *rows, "09:00, symptoms: [none]"))


def test_not_seen_for_six_hours_awake_and_here() -> None:
    given = caution(page("08:00, breaths: 10"), "not-seen")
    assert given.title == "11 h not charted as seen"
    assert given.seen == (
        "Since 08:00 staff charted no exercise, decline or sign: 11 h, leaving out sleep, away and "
        "quiet hours (limit 6 h)."
    )
    assert given.action == "See the patient first."


def test_a_hold_or_a_danger_that_nobody_looks_at_for_four_hours_is_named() -> None:
    held = page("08:00, what: hold, note: Dr Quill", "10:00, breaths: 10", "13:00, spo2: 96")
    given = caution(held, "not-seen")
    assert given.title == "6 h without a sign charted"
    assert given.seen == (
        "No vital sign, pain or symptom charted by staff since 13:00, while the exercise is held "
        "(limit 4 h)."
    )
    danger = page("08:00, pulse: 150", "08:10, what: told, about: [pulse], note: Dr Quill")
    assert "while a danger is not seen to be over" in caution(danger, "not-seen").seen
    ask = "See the patient, chart vital signs and symptoms, or none"
    assert ask in held.next_shift
    assert ask in danger.next_shift


def test_never_taught_is_taught_before_it_is_shown_back() -> None:
    not_taught = "  device: {given: yes, labelled: yes}\n  teaching: {taught: no}\n"
    given = page("08:00, breaths: 10", "15:00, breaths: 10", facts=not_taught + ORDERED)
    assert given.priority_words == "FOLLOW UP"
    assert caution(given, "not-taught").title == "Not taught"
    assert caution(given, "not-taught").action == "Teach, then have it shown back."
    assert "no-return-demonstration" not in rules(given)
    held = page(
        "08:00, breaths: 10", "15:00, what: hold, note: Dr Quill", facts=not_taught + ORDERED
    )
    assert caution(held, "not-taught").action == (
        "Once the exercise may go on, teach, then have it shown back."
    )


def test_shown_back_without_a_record_of_teaching_asks_for_the_record() -> None:
    facts = "  device: {given: yes, labelled: yes}\n  teaching: {shown_back: yes}\n"
    given = caution(page("08:00, breaths: 10", facts=facts + ORDERED), "not-taught")
    assert given.action == "It was shown back: chart the teaching."


def test_not_started_names_just_what_is_missing() -> None:
    def asked(set_up: str, *rows: str) -> str:
        return caution(page(*rows, facts=set_up + ORDERED), "not-started").action

    taught = "  teaching: {taught: yes, shown_back: yes}\n"
    assert asked("  device: {given: no, labelled: no}\n  teaching: {taught: no}\n") == (
        "Get a device, label it and teach; then start."
    )
    assert (
        asked("  device: {given: yes, labelled: no}\n" + taught) == "Label the device; then start."
    )
    assert asked("  device: {given: yes}\n" + taught) == (
        "See that the device is labelled; then start."
    )
    assert asked("  device: {given: no, labelled: yes}\n" + taught) == "Get a device; then start."
    assert asked(SET_UP) == "Ask what was done and what stands in the way; start."
    hold = "08:00, what: hold, note: Dr Quill"
    assert asked("  device: {given: no, labelled: yes}\n" + taught, hold) == (
        "Once the exercise may begin: get a device."
    )


def test_a_device_that_was_never_given_is_got_and_nobody_is_asked_what_was_done() -> None:
    given = page(facts="  device: {given: no}\n" + ORDERED)
    assert "ask what was done" not in " ".join(given.next_shift)
    assert given.next_shift[0].startswith("Get a device")
    exercised = page(BEFORE, facts="  device: {given: no}\n" + ORDERED)
    assert "ask what was done" not in " ".join(exercised.next_shift)
    assert exercised.next_shift[0] == "See the patient, get a device"


def test_breaths_blown_out_are_the_reason_and_not_pain_reach_or_sleep() -> None:
    rows = [f"{hour:02}:10, breaths: 10, flow: blew" for hour in (7, 8, 9, 10)]
    given = caution(page(*rows), "low-adherence")
    assert "Breathed out into the device at 4 exercises: no breaths counted." in given.seen
    assert given.action == "Show again: breathe in, slow and steady."
    fast = [f"{hour:02}:10, breaths: 2, flow: fast" for hour in (7, 8, 9, 10)]
    assert "Too fast or too slow at 4." in caution(page(*fast), "low-adherence").seen
    steady = [f"{hour:02}:10, breaths: 2, flow: steady" for hour in (7, 8, 9, 10)]
    assert caution(page(*steady), "low-adherence").action == (
        "Ask why: pain, reach, sleep, nausea."
    )
    no_device = "  device: {given: no}\n  teaching: {taught: yes, shown_back: yes}\n"
    without = caution(page(*steady, facts=no_device + ORDERED), "low-adherence")
    assert without.action == "Get a device."


def test_a_volume_that_sank_is_very_low_although_the_stay_began_well() -> None:
    known = "  weight_kg: 70\n"
    began = "2026-03-06 09:00, breaths: 10, volume_ml: 1500"
    sank = page(began, "08:00, volume_ml: 600", "09:00, volume_ml: 550", facts=known + ORDERED)
    assert caution(sank, "volume-too-low").seen == (
        "Best of this shift 600 mL, under 700 mL (10 mL/kg of 70 kg)."
    )


def test_over_80_years_a_third_of_the_reference_at_80_is_the_limit() -> None:
    heavy = "  sex: female\n  height_cm: 160\n  weight_kg: 140\n"
    rows = ("08:00, volume_ml: 500", "09:00, volume_ml: 450")
    given = caution(page(*rows, facts=heavy + ORDERED, born="1940-04-02"), "volume-too-low")
    assert "(33 % of the reference for healthy people at 80 years, 1,847 mL)" in given.seen
    fine = ("08:00, volume_ml: 1000", "09:00, volume_ml: 1000")
    assert "volume-too-low" not in rules(page(*fine, facts=heavy + ORDERED, born="1940-04-02"))


def test_a_reading_at_scale_is_at_least_that_wherever_it_is_printed() -> None:
    before = "2026-03-06 09:00, breaths: 10, volume_ml: 2000"
    given = page(before, "08:00, volume_ml: 2500, flow: steady", "09:00, volume_ml: 2400")
    said = paragraph(given, "Situation")
    assert "Best volume this shift at least 2,500 mL at 08:00 (last 2,400 mL at 09:00)" in said
    assert "at least 83 % of the ordered goal" in said
    assert "That is at least 500 mL more than the best of the 24 h before (2,000 mL)." in said
    assert number(given, "Best").startswith("at least 2,500 mL")
    assert number(given, "Stay best").startswith("at least 2,500 mL")
    assert number(given, "Goal") == "3,000 mL, at least 83 %"
    chart = page(before, "08:00, volume_ml: 2400", "09:00, volume_ml: 2500").chart
    assert chart.last_label == "last at least 2,500 mL"
    assert caution(given, "reading-at-scale").seen == (
        "The device's scale ends at 2,500 mL: at least 2,500 mL at 08:00."
    )
    assert caution(given, "goal-over-scale").action == (
        "Ask whether the goal is right, then for a larger device."
    )


def test_a_fall_from_a_reading_at_scale_is_at_least_so_deep() -> None:
    before = "2026-03-06 09:00, breaths: 10, volume_ml: 2500"
    earlier = [before.replace("09:00", f"{hour}:00") for hour in (10, 11)]
    given = page(before, *earlier, "08:00, volume_ml: 1500", "09:00, volume_ml: 1400")
    fall = next(each for each in given.cautions if each.rule.startswith("volume-drop"))
    assert "usual at least 2,500 mL" in fall.seen
    assert "the highest at most 60 % of it" in fall.seen
    assert "That is at least 1,000 mL less" in paragraph(given, "Situation")
    both = page(before, "08:00, volume_ml: 2500")
    assert "at the device's scale too: whether it changed cannot be seen" in paragraph(
        both, "Situation"
    )


def test_going_home_names_just_what_is_missing() -> None:
    def asked(facts: str, *rows: str) -> Caution:
        return caution(page(*rows, facts=f"  home_on: 2026-03-08\n{facts}{ORDERED}"), "going-home")

    taught = "  teaching: {taught: yes, shown_back: yes}\n"
    label = asked("  device: {given: yes, labelled: no}\n" + taught, "08:00, breaths: 10")
    assert label.seen == "Planned for 8 Mar. Not labelled."
    assert label.action == "Before the patient leaves: label the device."
    danger = asked(SET_UP, "08:00, pulse: 150")
    assert danger.seen == "Planned for 8 Mar. Not seen to be over: 2 dangers above.".replace(
        "2 dangers", "1 danger"
    )
    assert danger.action == "Ask the provider before the patient leaves."
    hold = asked(SET_UP, "08:00, what: hold, note: Dr Quill")
    assert hold.seen == "Planned for 8 Mar. The exercise is held."


def test_the_hours_away_are_printed() -> None:
    given = page("08:00, breaths: 10", "09:00, until: '11:30', what: away, note: dialysis")
    assert number(given, "Not due") == "away 09:00 to 11:30"
    held = ("08:00, what: hold, note: Dr Quill", "10:00, what: hold, note: again")
    given = page(*held, "09:00, until: '09:30', what: away", "12:00, what: resume, note: Dr Quill")
    assert number(given, "Not due") == "held 08:00 to 12:00, away 09:00 to 09:30"


def test_slivers_between_two_times_away_are_no_uncharted_spans() -> None:
    away = ("07:10, until: '09:50', what: away", "10:00, until: '11:55', what: away")
    given = page(*away, *(f"{hour}:10, breaths: 10" for hour in range(12, 19)))
    assert "not-charted" not in rules(given)


def test_every_exercise_on_hold_is_named() -> None:
    rows = [f"{hour:02}:10, breaths: 5" for hour in range(9, 16)]
    given = page("08:00, what: hold, note: Dr Quill", *rows)
    assert caution(given, "exercise-on-hold").seen.startswith(
        "Exercise charted at 09:10, 10:10, 11:10, 12:10, 13:10, 14:10 and 15:10, while it was held"
    )


def test_more_exercises_on_hold_than_a_sheet_has_room_for_are_counted() -> None:
    rows = [f"{9 + number // 6:02}:{number % 6}1, breaths: 5" for number in range(20)]
    given = caution(page("08:00, what: hold, note: Dr Quill", *rows), "exercise-on-hold")
    assert "Exercise charted at 20 times, last 10:21, 10:31," in given.seen


def test_nothing_that_was_told_is_asked_for_again() -> None:
    falling = [
        f"2026-03-0{day} {clock}, breaths: 10, volume_ml: {volume}"
        for day, clock, volume in (
            *(("4", "08:00", 1900), ("4", "20:00", 1800), ("5", "08:00", 1700)),
            *(("5", "20:00", 1600), ("6", "08:00", 1500), ("6", "20:00", 1400)),
        )
    ]
    ordered = SET_UP + ORDERED.replace("03-06", "03-04")
    rows = (
        *falling,
        "08:00, volume_ml: 1300",
        "09:00, what: hold, note: Dr Quill",
        "09:30, breaths: 5",
    )
    said = page(*rows, "10:00, what: told, about: [all], note: Dr Quill", facts=ordered)
    assert {"falling-trend", "exercise-on-hold"} <= set(rules(said))
    actions = " ".join(each.action for each in said.cautions)
    assert "ell the provider" not in actions
    assert "ell whoever" not in actions
    untold = page(*rows, facts=ordered)
    actions = " ".join(each.action for each in untold.cautions)
    assert "tell the provider" in actions
    assert "Tell whoever ordered the hold" in actions


def test_what_settled_a_danger_is_named_and_not_what_was_seen_later() -> None:
    given = page("09:00, symptoms: [faint]", "11:00, symptoms: [none]", "13:00, symptoms: [cough]")
    said = caution(given, "faint-or-chest-pain").seen
    assert said == "Faint charted at 09:00. None at 11:00. Settled by what is charted."


def test_a_row_of_the_day_before_is_printed_with_its_day() -> None:
    given = page("2026-03-06 20:00, pulse: 150", "2026-03-06 21:00, pain: 8, breaths: 5")
    assert caution(given, "pulse").seen.startswith("From 6 Mar 20:00: 150 a minute")
    assert caution(given, "pain-limits").seen.startswith("From 6 Mar 21:00: Pain 8 of 10")


def test_a_best_that_the_patient_charted_is_said_to_be_so() -> None:
    given = page("09:00, volume_ml: 900, seen_by: patient")
    assert number(given, "Best").endswith(", charted by the patient")


def test_a_reading_above_the_scale_asks_which_scale_it_is() -> None:
    given = caution(page("09:00, volume_ml: 2600"), "reading-at-scale")
    assert (
        given.action == "Above the scale nothing can be read: check which device and scale it is."
    )

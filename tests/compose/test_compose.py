"""Each sentence is chosen by what is recorded, and says no more than the numbers bear."""

import re
from datetime import date
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from msgspec.structs import replace

from handoff.compose.words import WordingError, Words
from handoff.judge import BY_NAME
from handoff.judge.signs import SYMPTOMS
from handoff.judge.vitals import VITALS
from handoff.model.measures import SlotState
from handoff.model.pages import PatientPage
from handoff.model.verdicts import Level, Priority
from handoff.model.ward import Entry, SeenBy, Unit
from tests.support.builders import (
    at,
    default_limits,
    entry,
    handover,
    order,
    patient,
    set_aside,
    without_rules,
)
from tests.support.sheets import paragraph, patient_page, section, unit_page

ZONE = ZoneInfo("America/Halifax")
OPEN_MATTERS = "Open matters, until told and settled"
RISING = [
    entry(f"{day} {clock}", volume_ml=volume)
    for day, clock, volume in (
        ("-2", "20:00", 800),
        ("-1", "08:00", 900),
        ("-1", "20:00", 1000),
        ("+0", "08:00", 1110),
        ("+0", "18:30", 1200),
    )
]
STAYED = patient(order=order("-2 19:00", goal_ml=1500))


def situation(*entries: Entry, **fields: object) -> str:
    given = handover(*entries, patients=(patient(**fields),))
    return paragraph(patient_page(given), "Situation")


def test_never_started_says_so_and_claims_no_volume() -> None:
    said = situation()
    assert "has not been started" in said
    assert "mL" not in said


def test_nothing_charted_is_not_said_to_be_not_done() -> None:
    given = handover(*RISING[:2], patients=(STAYED,))
    page = patient_page(given)
    assert "Nothing is charted in this shift." in paragraph(page, "Situation")
    assert "not the same as not done" in paragraph(page, "Assessment")


def test_all_declined_counts_them() -> None:
    said = situation(
        entry("-1 10:00"),
        entry("09:00", what="declined"),
        entry("11:00", what="declined"),
        order=order("-1 08:00"),
    )
    assert "declined 2 times" in said


def test_asleep_all_shift_has_nothing_due() -> None:
    given = handover(entry("07:00", what="asleep", until="19:00"))
    page = patient_page(given)
    assert "No breaths were due" in paragraph(page, "Assessment")
    assert {cell.state for cell in page.strip} == {SlotState.NOT_DUE}


def test_off_form_only_claims_no_best() -> None:
    said = situation(entry("09:00", volume_ml=1500, flow="fast"))
    assert "no volume in good form" in said


def test_best_is_held_against_goal_and_the_24_hours_before() -> None:
    said = situation(
        entry("-1 20:00", volume_ml=1000),
        entry("09:00", volume_ml=1200),
        order=order("-1 08:00", goal_ml=2000),
    )
    assert "Best volume this shift 1,200 mL at 09:00, 60 % of the ordered goal (2,000 mL)." in said
    assert "200 mL more than the best of the 24 h before (1,000 mL)" in said


@pytest.mark.parametrize(
    ("volume_ml", "words"), [(900, "100 mL less than"), (1000, "The same as the best of the 24 h")]
)
def test_a_smaller_or_equal_best_is_worded_so(volume_ml: int, words: str) -> None:
    before = entry("-1 20:00", volume_ml=1000)
    said = situation(before, entry("09:00", volume_ml=volume_ml), order=order("-1 08:00"))
    assert words in said


def test_no_goal_and_no_baseline_give_no_percentage() -> None:
    said = situation(entry("09:00", volume_ml=1200), order=order())
    assert "%" not in said
    page = patient_page(
        handover(entry("09:00", volume_ml=1200), patients=(patient(order=order()),))
    )
    assert "beat your best so far" in next(f.value for f in page.numbers if f.label == "Goal")


def test_a_baseline_as_goal_is_named_the_patients_own() -> None:
    said = situation(entry("09:00", volume_ml=950), order=order(), baseline_ml=1900)
    assert "50 % of the patient's own baseline (1,900 mL)" in said


def test_too_few_readings_name_how_many_there_are() -> None:
    page = patient_page(handover(entry("09:00", volume_ml=1200)))
    said = paragraph(page, "Assessment")
    assert "the middle readings of 1 block of 12 h, where 5 over 48 h are needed" in said
    page = patient_page(handover(*RISING[2:], patients=(STAYED,)))
    assert (
        "Not enough for a trend: the middle readings of 2 blocks of 12 h over 22 h, where 5 over "
        "48 h are needed."
    ) in paragraph(page, "Assessment")


def test_no_reading_at_all_has_no_trend() -> None:
    page = patient_page(handover(entry("09:00")))
    assert "No trend: no volume in good form" in paragraph(page, "Assessment")
    assert page.chart.trend is None


def long_course(volumes: list[int]) -> str:
    clocks = ("-2 20:00", "-1 08:00", "-1 20:00", "+0 08:00", "+0 18:30")
    course = [entry("-3 20:00", volume_ml=volumes[0])]
    course += [
        entry(clock, volume_ml=volume) for clock, volume in zip(clocks, volumes[1:], strict=True)
    ]
    ordered = patient(order=order("-3 19:00", goal_ml=1500))
    return paragraph(patient_page(handover(*course, patients=(ordered,))), "Assessment")


def test_a_rising_trend_gives_interval_and_the_day_before_which_the_goal_is_not_reached() -> None:
    """By hand: six points 10 to 12 h apart; see `explain` for the arithmetic."""
    said = long_course([700, 820, 930, 1050, 1090, 1130])
    assert re.search(
        r"Volume is rising, \+\d+ mL a day on average over 3 days \(95 % interval \+\d+ to \+\d+",
        said,
    )
    assert (
        "At this pace the usual reading is not at the goal before 13 May (1 day), later if the "
        "rise slows."
    ) in said


def test_the_day_before_which_it_is_not_reached_is_rounded_down_and_not_said_for_today() -> None:
    said = long_course([700, 820, 930, 1050, 1150, 1280])
    assert "Volume is rising" in said
    assert "At this pace" not in said


def test_a_falling_trend_is_said_to_fall_and_projects_nothing() -> None:
    said = long_course([1280, 1150, 1050, 930, 820, 700])
    assert "Volume is falling, −" in said
    assert "At this pace" not in said


def test_a_trend_that_is_not_clear_is_an_interval_and_claims_nothing() -> None:
    said = long_course([1000, 1100, 950, 1050, 1000, 1020])
    assert re.search(r"Trend not clear yet: −\d+ to \+\d+ mL a day \(95 % interval\)\.", said)
    for word in ("rising", "falling", "steady", "no change", "no clear"):
        assert word not in said


def two_of_every_day(*volumes: int) -> str:
    """A reading at 06:00 and one at 18:00 of each day, up to this one."""
    days = len(volumes) // 2
    course = [
        entry(f"-{days - 1 - number // 2} {'18' if number % 2 else '06'}:00", volume_ml=volume)
        for number, volume in enumerate(volumes)
    ]
    ordered = patient(order=order(f"-{days - 1} 05:00", goal_ml=3000), device_scale_ml=None)
    return paragraph(patient_page(handover(*course, patients=(ordered,))), "Assessment")


def test_a_rise_that_levelled_off_is_said_so_and_projects_nothing() -> None:
    said = two_of_every_day(500, 700, 1100, 1100, 1120, 1180, 1190, 1200, 1195, 1200)
    assert re.search(
        r"Volume rose \+\d+ mL a day over 4 days, but little in the last 48 h "
        r"\(middle reading 1,19\d mL, 1,1\d\d mL in the 48 h before\)\.",
        said,
    )
    assert "rising" not in said
    assert "At this pace" not in said


def test_a_steady_volume_is_said_to_change_by_less_than_so_much() -> None:
    said = two_of_every_day(1000, 1010, 990, 1000, 1010, 990, 1000, 1010, 990, 1000)
    assert "Volume is steady: it changes by less than 10 mL a day either way." in said


def test_beside_a_fall_no_trend_is_given_but_a_falling_one() -> None:
    said = two_of_every_day(600, 800, 1000, 1200, 1400, 1600, 1800, 2000, 1100, 1000)
    assert "The volume fell: no trend is given beside it." in said
    assert "rising" not in said
    falling = two_of_every_day(1900, 1850, 1800, 1700, 1600, 1500, 1400, 1300, 900, 880)
    assert "Volume is falling, −" in falling
    assert "no trend is given" not in falling


def test_uncharted_is_said_apart_from_not_done() -> None:
    page = patient_page(handover(entry("07:10"), entry("08:10")))
    assert "10 of 12 spans are not charted, which is not the same as not done" in paragraph(
        page, "Assessment"
    )


def test_background_counts_days_from_surgery_else_from_the_order() -> None:
    operated = patient(surgery_on=date(2026, 5, 10), reason="open bowel surgery")
    page = patient_page(handover(patients=(operated,)))
    assert "Open bowel surgery, day 2 after surgery (10 May)" in paragraph(page, "Background")
    page = patient_page(handover(patients=(patient(order=order("-1 09:00")),)))
    assert "Reason not recorded, day 2 of the order" in paragraph(page, "Background")


def told(clock: str, note: str, *about: str) -> Entry:
    return entry(clock, what="told", note=note, about=about)


def test_an_escalation_not_told_leaves_a_line_and_one_told_prints_the_note() -> None:
    low = entry("09:00", spo2=85, on_oxygen=False)
    untold = patient_page(handover(low))
    assert untold.priority is Priority.ESCALATE
    assert (untold.cautions[0].told, untold.cautions[0].mark, untold.priority_mark) == ((), "", "")
    assert paragraph(untold, "Situation").startswith(
        "Escalate: low oxygen; not yet recorded as told."
    )
    page = patient_page(handover(low, told("09:20", "Dr Quill: mask, 15 min obs", "oxygen")))
    assert page.priority is Priority.ESCALATE
    assert page.cautions[0].told == ('Told 09:20: "Dr Quill: mask, 15 min obs".',)
    assert (page.cautions[0].mark, page.priority_mark) == ("TOLD", "TOLD")
    assert paragraph(page, "Situation").startswith(
        "Escalate: low oxygen; told, not seen to be over."
    )


def test_what_was_told_of_something_not_recorded_is_asked_about_and_answers_nothing() -> None:
    page = patient_page(handover(entry("09:00", spo2=85), told("09:20", "Dr Quill: mask")))
    caution = page.cautions[0]
    assert (caution.told, caution.mark) == ((), "")
    assert caution.asked == (
        'Told 09:20, about what is not recorded: "Dr Quill: mask". Does it cover this?'
    )
    assert "Tell the provider and record it: low oxygen" in page.next_shift


@pytest.mark.parametrize("about", ["oxygen", ""])
def test_what_was_told_before_the_last_low_value_is_said_to_be_before_it(about: str) -> None:
    """Five points lower than when it was told: that answers it no more."""
    before = told("09:20", "Dr Quill: mask", *filter(None, [about]))
    page = patient_page(handover(entry("09:00", spo2=88), before, entry("10:00", spo2=83)))
    caution = page.cautions[0]
    assert (caution.told, caution.mark) == ((), "")
    assert caution.asked == "Told 09:20, before this."


def test_a_sheet_has_the_first_160_characters_of_what_was_told_and_the_summary_all() -> None:
    said = " ".join(f"word{number:03}" for number in range(40))
    given = handover(entry("09:00", spo2=85), told("09:20", said, "all"))
    (short,) = patient_page(given).cautions[0].told or ()
    assert short == f'Told 09:20: "{said[:159].rstrip()}…".'
    line = section(unit_page(given), OPEN_MATTERS)[0]
    assert f'"{said}"' in line.text


def test_a_sheet_has_the_newest_answer_and_the_summary_the_older_ones_too() -> None:
    rows = told("09:20", "Dr Quill: mask", "oxygen"), told("10:00", "no more rounds", "oxygen")
    given = handover(entry("09:00", spo2=85), *rows)
    assert patient_page(given).cautions[0].told == (
        'Told 10:00: "no more rounds".',
        "Also told 09:20.",
    )
    line = section(unit_page(given), OPEN_MATTERS)[0]
    assert 'Told 10:00: "no more rounds". Told 09:20: "Dr Quill: mask".' in line.text


def test_one_note_that_answers_two_escalations_stands_beside_each_and_not_among_the_notes() -> None:
    both = entry("09:00", spo2=85, resp_rate=30)
    page = patient_page(handover(both, told("09:20", "Dr Quill", "oxygen", "breathing")))
    grave = [(each.title, each.told) for each in page.cautions if each.stays]
    answer = ('Told 09:20: "Dr Quill".',)
    assert grave == [("Low oxygen", answer), ("Breathing rate", answer)]
    assert not page.notes
    one = patient_page(handover(both, told("09:20", "Dr Quill", "breathing")))
    grave = [(each.title, each.told) for each in one.cautions if each.stays]
    assert grave == [("Low oxygen", ()), ("Breathing rate", answer)]


@pytest.mark.parametrize(
    ("on_oxygen", "words"), [(True, "on oxygen"), (False, "on air"), (None, "oxygen not recorded")]
)
def test_low_oxygen_says_on_what(on_oxygen: bool | None, words: str) -> None:
    page = patient_page(handover(entry("09:00", spo2=85, on_oxygen=on_oxygen)))
    assert words in page.cautions[0].seen


def test_set_up_tells_done_from_not_done_from_not_recorded() -> None:
    page = patient_page(
        handover(
            patients=(
                patient(
                    device_given=at("08:10"), device_labelled=False, taught=None, shown_back=True
                ),
            )
        )
    )
    assert [fact.value for fact in page.set_up] == [
        "done 12 May 08:10, scale 4,000 mL",
        "not done",
        "not recorded",
        "done",
    ]


def test_a_danger_sign_in_a_row_set_aside_is_printed() -> None:
    page = patient_page(handover(set_aside=(set_aside("09:00", "faint", line=14),)))
    (caution,) = (each for each in page.cautions if each.rule == "sign-unreadable")
    assert caution.seen.startswith("Faint in row day.yaml:14, set aside.")
    assert (str(caution.level), page.to_check) == ("escalate", "")


def test_three_to_five_ticks() -> None:
    calm = patient_page(handover(entry("09:00", volume_ml=2000)))
    assert 3 <= len(calm.next_shift) <= 5
    ill = entry("09:00", "dizzy faint drowsy breathless", spo2=80, resp_rate=40, pulse=150, pain=9)
    assert len(patient_page(handover(ill)).next_shift) == 5


GRAVE = "dizzy faint drowsy breathless"
HELD = "No exercise until the provider has answered"


def test_nobody_is_coached_while_something_is_to_be_escalated() -> None:
    for signs in ({"temp_c": 34.5}, {"spo2": 80}, {"pulse": 140}):
        page = patient_page(handover(entry("09:00", volume_ml=2000, **signs)))
        said = " ".join((*page.next_shift, paragraph(page, "Recommendation")))
        assert "Coach" not in said
        assert page.next_shift[0] == "Ask the provider before the exercise goes on"
        assert page.next_shift[0] in paragraph(page, "Recommendation")


def test_a_symptom_that_was_asked_about_since_is_not_called_not_asked_again() -> None:
    def faint(*later: Entry) -> str:
        page = patient_page(handover(entry("08:00", "faint"), *later))
        return next(each.seen for each in page.cautions if each.title == "Faint")

    assert faint().endswith("Not asked again.")
    assert faint(entry("08:30", "none")).endswith("None at 08:30, too soon after it to settle it.")
    assert faint(entry("10:00", "cough")).endswith("Then cough at 10:00, which does not settle it.")
    by_patient = entry("10:00", "cough", seen_by=SeenBy.PATIENT)
    assert faint(by_patient).endswith("Not asked again.")


def test_what_holds_the_exercise_back_stands_before_all_else() -> None:
    ill = entry("09:00", GRAVE, spo2=80, resp_rate=40, pulse=150, temp_c=34, pain=9)
    page = patient_page(handover(ill))
    assert page.next_shift[0] == HELD
    assert page.next_shift.count(HELD) == 1
    assert HELD in paragraph(page, "Recommendation")


def test_an_order_that_has_stopped_is_not_coached_or_started() -> None:
    stopped = order("-1 07:00", stop="12:00", goal_ml=1500)
    for entries in ([], [entry("09:00", volume_ml=1000)]):
        page = patient_page(handover(*entries, patients=(patient(order=stopped),)))
        said = " ".join((*page.next_shift, paragraph(page, "Recommendation")))
        assert "Coach" not in said
        assert "Start" not in said


def test_while_the_exercise_is_held_back_no_caution_asks_for_it() -> None:
    poor = (
        entry("08:00", "dizzy", breaths=20, flow="blew", hold_s=1),
        entry("10:00", "dizzy", volume_ml=400, flow="fast", hold_s=1),
        entry("11:00", volume_ml=400, flow="fast", hold_s=1),
        *(entry(f"{hour}:00", what="declined") for hour in (12, 13)),
    )
    someone = patient(shown_back=None)
    stopped = patient(shown_back=None, order=order("-1 07:00", stop="14:00", goal_ml=1500))
    free, danger, ended = (
        patient_page(handover(*rows, patients=(who,)))
        for rows, who in (
            (poor, someone),
            ((*poor, entry("14:00", spo2=80)), someone),
            (poor, stopped),
        )
    )
    again = "Show again: breathe in, slow and steady."
    assert again in [caution.action for caution in free.cautions]
    for page in (danger, ended):
        said = [caution.action for caution in page.cautions if not caution.stays]
        asks = ("2 or 3", "show again", "show it back", "count the hold")
        for words in (*said, *page.next_shift):
            assert not any(words.lower().startswith(each) for each in asks)
        assert again.lower() in " ".join(said)
        assert not any("offer again" in words for words in (*said, *page.next_shift))
    assert ended.next_shift[0].startswith("The order ended 12 May 14:00")
    assert ended.next_shift[0] in paragraph(ended, "Recommendation")


def test_an_order_still_to_begin_is_not_called_begun() -> None:
    given = handover(patients=(patient(order=order("+1 08:00")),))
    page = patient_page(given)
    assert paragraph(page, "Situation").startswith("The order begins 13 May 08:00.")
    assert "not been started" not in paragraph(page, "Situation")
    assert page.next_shift[0].startswith("The order begins 13 May 08:00")
    (line,) = section(unit_page(given), "Ordered, not started")
    assert line.text.startswith("Order begins 13 May 08:00")


def test_who_is_to_escalate_does_not_go_home_unasked() -> None:
    for limits in (default_limits(), without_rules("going-home")):
        given = handover(
            entry("09:00", spo2=80),
            patients=(patient(home_on=date(2026, 5, 13), device_labelled=None),),
        )
        (going,) = section(unit_page(given, limits), "Going home soon")
        assert "NOT CLOSED, ask the provider before the patient leaves" in going.text
        assert "label not recorded" in going.text
        assert patient_page(given, limits).next_shift[1].startswith("Going home 13 May, ask")


def unreadable(page: PatientPage) -> str:
    (caution,) = (each for each in page.cautions if each.rule == "sign-unreadable")
    return caution.seen


def test_a_sign_that_could_not_be_read_is_followed_up_and_is_no_escalation() -> None:
    row = replace(entry("09:00", pulse=80), unread=("temp_c",), raw={"temp_c": "101"})
    given = handover(*(entry(f"{hour:02}:30", volume_ml=900) for hour in range(7, 19)), row)
    page = patient_page(given)
    assert unreadable(page) == "Temperature '101' not understood in row day.yaml:13."
    assert (str(page.priority), page.to_check) == ("follow_up", "")
    assert "Read it now: temperature; mend the row" in page.next_shift
    assert section(unit_page(given), OPEN_MATTERS) == ()
    (of_patient,) = unit_page(given).rows
    assert str(of_patient.priority) == "follow_up"


def test_cells_alike_that_could_not_be_read_are_named_together() -> None:
    rows = [
        replace(entry(f"{hour:02}:00"), unread=("symptoms",), raw={"symptoms": "fint"})
        for hour in range(8, 14)
    ]
    said = unreadable(patient_page(handover(*rows)))
    places = "day.yaml:1, day.yaml:2, day.yaml:3, day.yaml:4 and 2 more"
    assert said == f"Symptoms 'fint' not understood in row {places}."
    slip = replace(entry("14:00"), unread=("temp_c",), raw={"temp_c": "101"})
    assert unreadable(patient_page(handover(*rows, slip))).startswith("Temperature '101' not")


def test_a_fall_within_the_shift_is_not_hidden_by_its_best() -> None:
    first, off = entry("08:00", volume_ml=1200), entry("17:00", volume_ml=500, flow="fast")
    for rows, hidden in (((first, off), ""), ((first, entry("16:00", volume_ml=700), off), "700")):
        said = paragraph(patient_page(handover(*rows)), "Situation")
        assert said.startswith("Best volume this shift 1,200 mL at 08:00")
        assert ("(last 700 mL at 16:00)" in said) is bool(hidden)


@pytest.mark.parametrize(
    ("breaths", "said"),
    [
        (1, "Coach 1 breath every hour while awake"),
        (3, "Coach 3 breaths every hour while awake"),
        (10, "Coach 10 breaths every hour while awake, 2 or 3 at a time"),
    ],
)
def test_few_breaths_are_not_coached_in_parts(breaths: int, said: str) -> None:
    page = patient_page(handover(entry("09:00"), patients=(patient(order=order(breaths=breaths)),)))
    assert said in page.next_shift


@pytest.mark.parametrize("about", ["other", "oxygen", ""])
def test_told_of_something_else_is_not_called_told_of_it(about: str) -> None:
    other = told("10:00", "Dr Quill: diet", *filter(None, [about]))
    page = patient_page(handover(entry("09:00", "confused"), other))
    said = paragraph(page, "Situation")
    assert said.startswith("Escalate: confused; not yet recorded as told.")
    assert page.priority_mark == ""
    assert [note.text for note in page.notes] == ["Dr Quill: diet"]


def test_breaths_not_recorded_are_not_called_few() -> None:
    rows = [entry(f"{hour:02}:10", breaths=None, volume_ml=900) for hour in range(7, 12)]
    page = patient_page(handover(*rows))
    (few,) = [caution for caution in page.cautions if caution.rule == "low-adherence"]
    assert "Breaths not recorded at 5 exercises, 1 counted for each" in few.seen
    assert few.action.startswith("Ask how many were done.")
    numbers = {fact.label: fact.value for fact in page.numbers}
    assert "not recorded at 5 exercises" in numbers["Breaths"]


def test_a_childs_sheet_says_at_the_top_to_judge_by_the_childrens_chart() -> None:
    for born, named in ((date(2010, 5, 13), True), (date(2010, 5, 12), False), (None, False)):
        page = patient_page(handover(entry("09:00"), patients=(patient(born=born),)))
        says = page.identity.judged_as == "A CHILD: judge by the children's chart."
        assert says is named


@pytest.mark.parametrize(
    ("known", "titles"),
    [
        (None, {"Showing back not recorded", "Label not recorded"}),
        (False, {"Not shown back", "Device not labelled"}),
    ],
)
def test_a_title_tells_not_done_from_not_recorded(known: bool | None, titles: set[str]) -> None:
    someone = patient(device_labelled=known, shown_back=known)
    page = patient_page(handover(entry("09:00", volume_ml=1000), patients=(someone,)))
    assert titles <= {caution.title for caution in page.cautions}


def test_the_foot_names_the_phone_where_the_unit_has_one() -> None:
    unit = Unit("Harbour 3 East", ZONE, None, phone="ext. 4410")
    assert "ext. 4410" in " ".join(patient_page(handover(unit=unit)).standing)


def test_every_rule_has_title_what_was_seen_and_what_to_do() -> None:
    words = Words(ZONE)
    for rule in BY_NAME:
        assert all(words.has(f"{rule}.{part}") for part in ("title", "seen", "action")), rule


def test_a_name_and_a_bed_that_are_not_known_say_so() -> None:
    given = handover(patients=(patient(name="", bed=""),))
    who = patient_page(given).identity
    assert (who.bed, who.name) == ("not recorded", "name not recorded")
    (row,) = unit_page(given).rows
    assert (row.bed, row.name) == ("not recorded", "name not recorded")
    (line,) = section(unit_page(given), "Ordered, not started")
    assert line.who == "Bed not recorded, name not recorded, id 10442"


def test_a_name_alert_stands_in_the_row_of_the_summary_too() -> None:
    alike = replace(handover(), name_alerts={"10442": ("5", "7B")})
    (row,) = unit_page(alike, initials=True).rows
    assert row.alerts == ("NAME ALERT: bed 5, 7B",)


def test_what_is_not_told_stands_first_among_the_escalations_of_the_summary() -> None:
    """Though low oxygen stands before pulse where both are told, or neither."""
    both = entry("09:00", spo2=80), entry("09:40", pulse=150)

    def leads(*more: Entry) -> list[str]:
        lines = section(unit_page(handover(*both, *more)), OPEN_MATTERS)[:-1]
        return [line.who.removeprefix("Bed 12A, Larkspur, Odile, id 10442. ") for line in lines]

    assert leads() == ["NOT TOLD: low oxygen.", "NOT TOLD: pulse."]
    low = told("09:50", "Dr Quill: mask", "oxygen")
    assert leads(low) == ["NOT TOLD: pulse.", "TOLD: low oxygen."]
    assert leads(low, told("09:50", "Dr Quill", "pulse")) == ["TOLD: low oxygen.", "TOLD: pulse."]


def test_breaths_due_in_a_part_of_a_slot_are_printed_whole() -> None:
    off = entry("07:00", what="away", until="07:40")
    page = patient_page(handover(off, entry("08:10", breaths=10)))
    assert [(cell.done, cell.due) for cell in page.strip[:2]] == [("", "3"), ("10", "10")]


def test_initials_leave_no_name_and_no_whole_id() -> None:
    given = handover(entry("09:00", spo2=80), set_aside=(set_aside(line=3),))
    said = repr(unit_page(given, initials=True))
    assert "Larkspur" not in said
    assert "10442" not in said
    assert "L. O." in said
    assert "…0442" in said


def test_a_unit_changes_a_cautions_words_in_a_file_of_its_own(tmp_path: Path) -> None:
    (tmp_path / "cautions.yaml").write_text("low-oxygen:\n  action: Ring the bell.\n")
    given = handover(entry("09:00", spo2=80))
    caution = patient_page(given, own_folder=str(tmp_path)).cautions[0]
    assert caution.action == "Ring the bell."
    assert caution.title == "Low oxygen"


@pytest.mark.parametrize(
    ("text", "line", "code"),
    [
        ("low-oxygen:\n  action: '{{ no_such_fact }}'\n", 2, "bad-template"),
        ("low-oxygen:\n  action: '{% if %}'\n", 2, "bad-template"),
        ("low-oxygen:\n  actoin: x\n", 2, "unknown-words"),
        ("low-oxygen: [\n", 2, "yaml-syntax"),
        ("low-oxygen:\n  action: '{{ ().__class__.__base__ }}'\n", 2, "bad-template"),
    ],
)
def test_a_fault_in_a_units_words_names_file_and_line(
    tmp_path: Path, text: str, line: int, code: str
) -> None:
    (tmp_path / "cautions.yaml").write_text(text)
    with pytest.raises(WordingError) as raised:
        patient_page(handover(entry("09:00", spo2=80)), own_folder=str(tmp_path))
    found = raised.value.why
    assert found.place.file == str(tmp_path / "cautions.yaml")
    assert found.place.line == line
    assert found.code == code


def said(template: str, **facts: object) -> str:
    return Words(ZoneInfo("UTC")).say(f"said.{template}", **facts)


def test_slopes_are_said_a_day_and_an_interval_names_its_unit_once() -> None:
    assert said("slope", slope=123) == "+120 mL a day"
    assert said("interval", low=-802, high=1_240) == "−800 to +1,240 mL a day"


def test_every_escalation_says_why_it_could_not_be_judged() -> None:
    words = Words(ZoneInfo("UTC"))
    levels = default_limits().rules
    grave = [name for name, rule in levels.items() if rule.level == Level.ESCALATE]
    assert len(grave) == 14
    undecided = {rule for rule in grave if words.has(f"{rule}.undecided")}
    assert undecided == {*grave} - {"sign-unreadable"}


@pytest.mark.parametrize("rule", [*VITALS, *SYMPTOMS])
def test_every_sign_has_words(rule: str) -> None:
    """`dizziness` is no sign that another rule or a row set aside asks for."""
    assert Words(ZoneInfo("UTC")).has(f"{rule}.sign") == (rule != "dizziness")


def test_text_from_a_log_is_never_read_as_a_template() -> None:
    page = patient_page(handover(entry("09:00", note="{{ 7 * 7 }} {% raw %}")))
    assert page.notes[0].text == "{{ 7 * 7 }} {% raw %}"


def test_an_hour_that_occurs_twice_says_which_one() -> None:
    words = Words(ZONE)
    assert words.clock(at("2026-11-01 00:30")) == "00:30"
    first = at("2026-11-01 01:30")
    assert words.clock(first) == "01:30 ADT"

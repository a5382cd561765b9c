"""The round list in words: everybody on the list, and nothing asked of who is in danger.

From a hand-over to the finished words; no source outside the project: what an aide needs on a round
is common practice.
"""

import re
from datetime import date, time
from typing import Any

import pytest
from msgspec.structs import replace

from handoff.draw.paper.direction import drawn_order
from handoff.model.lists import RoundPage, RoundRow
from handoff.model.ward import Entry, Handover, Shift, Symptom
from tests.support.builders import UNIT, at, entry, handover, order, patient, with_limit
from tests.support.cases import with_gone
from tests.support.sheets import (
    courses_page,
    paragraph,
    patient_page,
    round_page,
    section,
    unit_page,
)

LOW = entry("09:00", spo2=85, on_oxygen=False)
TOLD = entry("09:20", what="told", note="Dr Quill: mask", about=("oxygen",))


def row(*entries: Entry, **fields: Any) -> RoundRow:
    """The row of one patient."""
    (only,) = round_page(handover(*entries, patients=(patient(**fields),))).rows
    return only


def is_open(given: RoundRow) -> set[bool]:
    return {box.open for box in given.boxes}


def test_a_row_names_the_patient_by_two_identifiers_the_order_goal_and_last_volume() -> None:
    given = row(entry("08:00", volume_ml=1200), entry("18:00", volume_ml=1100, on_oxygen=False))
    assert (given.bed, given.name) == ("12A", "Larkspur, Odile")
    assert given.id == "id 10442 · born 2 Apr 1958"
    assert given.order == ("10 breaths every hour", "goal 2,000 mL, last 1,100 mL", "on air")
    assert is_open(given) == {True}
    assert given.heavy == ""


def test_the_last_volume_is_in_good_form_and_one_of_an_earlier_shift_has_its_time() -> None:
    before = entry("-1 20:00", volume_ml=900)
    fast = entry("18:00", volume_ml=1900, flow="fast")
    given = row(before, fast, order=order("-1 08:00"))
    assert given.order[1] == (
        "no goal ordered, last 1,900 mL at 18:00, off form, in good form 900 mL on 11 May 20:00"
    )
    after = row(before, entry("18:00", volume_ml=800), order=order("-1 08:00"))
    assert after.order[1] == "no goal ordered, last 800 mL"
    assert row().order[1:3] == ("goal 2,000 mL, no volume yet", "air or oxygen not recorded")


@pytest.mark.parametrize(
    ("flow", "why"), [("fast", "off form"), ("unreadable", "flow not understood")]
)
def test_a_last_reading_off_form_is_named_beside_the_last_in_good_form(flow: str, why: str) -> None:
    """On all pages: a steady 1,000 mL would hide that 400 mL is the last that was seen."""
    good = [entry(f"{hour}:00", volume_ml=volume) for hour, volume in ((15, 1100), (16, 1000))]
    given = handover(*good, entry("18:30", volume_ml=400, flow=flow))
    off_form, said = f"last 400 mL at 18:30, {why}", f"Last 400 mL at 18:30, {why}"
    assert round_page(given).rows[0].order[1] == (
        f"goal 2,000 mL, {off_form}, in good form 1,000 mL"
    )
    (course,) = courses_page(given).courses
    assert (course.off_form, course.chart.last_label) == (said, "good form 1,000")
    assert f"{said}." in paragraph(patient_page(given), "Situation")
    only = handover(entry("18:30", volume_ml=400, flow=flow))
    assert round_page(only).rows[0].order[1] == f"goal 2,000 mL, {off_form}"
    (course,) = courses_page(only).courses
    assert (course.off_form, course.chart.last_label) == (said, "none in good form")
    assert f"{said}." in paragraph(patient_page(only), "Situation")


def test_how_much_oxygen_is_that_of_the_last_row_by_staff_that_says() -> None:
    rows = (
        entry("08:00", on_oxygen=True, oxygen="2 L nasal"),
        entry("10:00", on_oxygen=False, seen_by=None),
        entry("11:00"),
    )
    assert row(*rows).order[2] == "on air"
    assert row(*rows[:1]).order[2] == "on oxygen (2 L nasal)"


def fetch_if(given: RoundRow) -> str:
    return given.order[-1] if given.order[-1].startswith("fetch") else ""


def test_a_row_names_only_limits_that_are_other_than_those_at_the_foot() -> None:
    page = round_page(handover())
    assert page.fetch.label == "Fetch the nurse if"
    assert page.fetch.value.startswith("SpO2 91 % or less, breathing 8 or less or 25 or more")
    assert fetch_if(page.rows[0]) == ""
    own = row(order=order(spo2_min=88, spo2_max=92))
    assert fetch_if(own) == "fetch if SpO2 under 88 % or over 92 % on oxygen"
    assert fetch_if(row(order=order(usual_symptoms=(Symptom.CONFUSED,)))) == (
        "fetch, but not for confused alone"
    )


def test_the_volume_at_which_to_call_is_that_of_the_sheet() -> None:
    rows = tuple(entry(f"{hour}:00", volume_ml=1200) for hour in ("08", "10", "12"))
    given = handover(*rows)
    assert fetch_if(round_page(given).rows[0]) == "fetch also if 2 readings of 960 mL or less"
    assert "2 good readings of 960 mL or less" in patient_page(given).call_if.value


def test_in_comfort_care_a_row_says_what_alone_calls() -> None:
    given = row(order=order(comfort_care=True))
    assert fetch_if(given) == (
        "fetch if pain or breathlessness is not eased; comfort care is ordered"
    )
    assert "COMFORT CARE ORDERED" in given.heavy


def test_in_comfort_care_a_row_asks_whether_the_exercise_is_wanted_and_no_box_is_open() -> None:
    comfort = handover(patients=(patient(order=order(comfort_care=True)),))
    (given,) = round_page(comfort).rows
    assert given.watch == ("Ask whether the exercise is still wanted",)
    assert given.watch[0] in patient_page(comfort).next_shift
    assert is_open(given) == {False}
    assert given.boxes[0].hatched == "Ask first, 19:00 to 07:00."


def test_comfort_care_of_later_asks_first_says_so_once_and_names_no_usual_number() -> None:
    comfort = order("21:00", comfort_care=True, unstated=("breaths", "every_h"))
    given = handover(patients=(patient(earlier_orders=(order(),), order=comfort),))
    (shown,) = round_page(given).rows
    assert is_open(shown) == {False}
    assert shown.watch[0] == "Ask whether the exercise is still wanted"
    assert shown.order[0] == "10 breaths every hour"
    assert shown.heavy == "LATER ORDER: from 12 May 21:00: number not stated (comfort care)."
    assert shown.watch[0] in patient_page(given).next_shift
    now = row(order=order(comfort_care=True, unstated=("breaths", "every_h")))
    assert now.order[0] == "number not stated"


def test_of_a_fall_it_says_which_volume_settles_it() -> None:
    fell = (entry("-1 12:00", volume_ml=1500), entry("-1 20:00", volume_ml=600, temp_c=38.5))
    known = patient(order=order("-1 07:00"))
    given = handover(*fell, patients=(known,))
    said = "repeat the volume in good form (over when more than 1,275 mL)"
    (shown,) = round_page(given).rows
    assert f"Once the exercise may go on, {said}" in shown.watch
    (line,) = section(unit_page(given), "Open matters, until told and settled")[:1]
    assert f"; once the exercise may go on, {said}." in line.text
    for volume_ml, heavy in ((1275, "OPEN"), (1276, "SETTLED")):
        later = entry("18:00", volume_ml=volume_ml, temp_c=37)
        (shown,) = round_page(handover(*fell, later, patients=(known,))).rows
        assert shown.heavy.startswith(heavy)


def test_a_last_reading_as_low_is_one_of_the_two_at_which_to_call() -> None:
    rows = [entry(f"{hour}:00", volume_ml=1200) for hour in range(10, 16)]
    given = handover(*rows, entry("18:00", volume_ml=960))
    assert fetch_if(round_page(given).rows[0]) == "fetch also if the next reading is 960 mL or less"
    assert "; the next good reading is 960 mL or less" in patient_page(given).call_if.value
    before = handover(*rows, entry("18:00", volume_ml=961))
    assert "2 readings of 960 mL or less" in fetch_if(round_page(before).rows[0])


def test_a_rows_own_limits_come_before_those_at_the_foot_in_the_same_words() -> None:
    page = round_page(handover(patients=(patient(order=order(spo2_min=88)),)))
    assert page.fetch.value.endswith("confused. Where a row says otherwise, the row counts.")
    assert page.fetch.label == "Fetch the nurse if"
    assert page.columns[2].endswith("fetch the nurse if")
    assert fetch_if(page.rows[0]).startswith("fetch if SpO2 under 88 %")


@pytest.mark.parametrize(
    ("rows", "heavy"),
    [
        ((LOW,), "OPEN: low oxygen, not told. NO EXERCISE: ask first."),
        ((LOW, TOLD), "OPEN: low oxygen, told. NO EXERCISE: ask first."),
        ((entry("09:00", what="hold", note="Dr Quill"),), "HELD, NO EXERCISE."),
    ],
    ids=["not told", "told", "held"],
)
def test_while_something_is_open_or_held_no_box_asks_for_the_exercise(
    rows: tuple[Entry, ...], heavy: str
) -> None:
    given = row(*rows, precautions="flat, spine not cleared")
    assert given.heavy == f"{heavy} PRECAUTIONS: flat, spine not cleared."
    assert is_open(given) == {False}
    assert given.watch
    assert not any("Coach" in each for each in given.watch)


def test_a_hold_and_a_time_away_have_their_end() -> None:
    held = entry("09:00", what="hold", note="Dr Quill", until="+1 10:00")
    assert row(held).heavy == "HELD, NO EXERCISE until 13 May 10:00."
    ends = row(entry("09:00", what="hold", note="Dr Quill", until="23:00"))
    assert [box.open for box in ends.boxes] == [False] * 4 + [True] * 8
    assert ends.boxes[0].hatched == "Ask first, 19:00 to 23:00."
    assert ends.watch[0] == "No exercise while it is held; ask before it goes on"
    away = row(entry("18:00", what="away", until="23:00", note="imaging"))
    assert away.order[1] == "away until 23:00"
    later = row(
        entry("18:00", what="asleep", until="20:00"), entry("18:30", what="away", until="21:00")
    )
    assert later.order[1] == "asleep until 20:00, away until 21:00"
    gone = row(entry("18:00", what="away", until="23:00"), order=None, earlier_orders=(order(),))
    assert is_open(gone) == {False}
    assert "until" not in " ".join(row(entry("12:00", what="away", until="13:00")).order)


def test_what_is_asked_for_before_going_home_is_asked_once() -> None:
    done = entry("18:00", volume_ml=900)
    leaves = row(done, home_on=date(2026, 5, 13), device_labelled=None)
    assert "Before going home: see that the device is labelled" in leaves.watch
    assert "See that the device is labelled" not in leaves.watch
    assert "See that the device is labelled" in row(done, device_labelled=None).watch


def test_breaths_that_are_blank_are_asked_for() -> None:
    given = row(entry("09:00", volume_ml=1200, breaths=None), entry("10:00", breaths=10))
    assert given.watch[-1] == "Ask how many were done: breaths blank at 1 exercise"
    assert not any("how many" in each for each in row(entry("10:00", breaths=10)).watch)


def test_what_is_settled_and_never_told_is_named_and_the_exercise_goes_on() -> None:
    given = row(LOW, entry("11:00", spo2=95, on_oxygen=False))
    assert given.heavy == "SETTLED: low oxygen, not told."
    assert is_open(given) == {True}
    assert given.watch[0] == "Tell the provider and record it: low oxygen"


def test_precautions_and_what_could_cause_a_mix_up_are_heavy() -> None:
    alike = replace(handover(), name_alerts={"10442": ("5", "7B")})
    assert round_page(alike).rows[0].heavy == "NAME ALERT: bed 5, 7B."


def test_what_is_heavy_ends_each_part_in_one_full_stop() -> None:
    given = replace(
        handover(patients=(patient(precautions="flat…"),)), name_alerts={"10442": ("5",)}
    )
    assert round_page(given).rows[0].heavy == "PRECAUTIONS: flat… NAME ALERT: bed 5."


def test_everybody_on_the_list_has_a_row_and_nobody_who_left() -> None:
    """Those without an order too: a bed left out would be looked for on the round."""
    ward = (
        patient(id="1", bed="1", order=None),
        patient(id="2", bed="2", order=None, unread=("order_start",)),
        patient(id="3", bed="3", device_given=False, order=order("-1 07:00")),
    )
    page = round_page(handover(patients=ward))
    assert [each.bed for each in page.rows] == ["1", "2", "3"]
    assert [each.order[0] for each in page.rows] == [
        "no order",
        "ordered, since when is not known: ask first",
        "10 breaths every hour",
    ]
    assert [is_open(each) for each in page.rows] == [{False}, {False}, {True}]
    assert "Get a device, see that" not in page.rows[0].watch
    assert page.rows[2].watch[0].startswith("Get a device")
    left = entry("08:00", what="left", patient_id="20002", note="home")
    assert [each.name for each in round_page(with_gone(left)).rows] == ["Larkspur, Odile"]


def test_two_patients_in_a_bed_of_one_name_have_a_row_each() -> None:
    page = round_page(handover(patients=(patient(), patient(id="2", name="Petrel, Ivo"))))
    assert [(each.bed, each.name) for each in page.rows] == [
        ("12A", "Larkspur, Odile"),
        ("12A", "Petrel, Ivo"),
    ]


def test_the_foot_says_the_units_own_limits() -> None:
    strict = with_limit("pulse", "pulse_at_or_over", "120")
    page = round_page(handover(), strict)
    assert "pulse 40 or less or 120 or more" in page.fetch.value
    assert fetch_if(page.rows[0]) == ""
    assert any("unit.yaml of the unit" in each for each in page.standing)


def test_an_order_of_later_is_named_with_its_time() -> None:
    given = row(order=order("+1 05:00", every_h=2))
    assert given.order[0] == "from 13 May 05:00: 10 breaths every 2 hours"
    changed = row(earlier_orders=(order(),), order=order("21:00", breaths=5))
    assert changed.order[0] == "10 breaths every hour, from 12 May 21:00: 5 breaths every hour"
    assert row(order=order("07:00", "12:00")).order[0] == "order ended 12 May 12:00"
    ending = row(order=order("07:00", "21:00"))
    assert ending.order[0] == "10 breaths every hour, ends 12 May 21:00"
    assert [box.open for box in ending.boxes] == [True] * 2 + [False] * 10
    assert row(order=order("07:00", "+1 21:00")).order[0] == "10 breaths every hour"


def test_the_hours_are_those_of_the_next_shift_on_the_units_clock() -> None:
    quiet = replace(UNIT, quiet_hours=(time(22), time(6)))
    page = round_page(handover(unit=quiet))
    assert page.hours[:2] == ("19:00", "20:00")
    assert len(page.hours) == 12
    boxes = "".join("o" if box.open else "." for box in page.rows[0].boxes)
    assert boxes == "ooo........o"
    assert page.shift == "for the night shift, 12 May 2026 19:00 to 13 May 07:00"


def with_next_at(day: date) -> Handover:
    shift = Shift(at(f"{day} 07:00"), at(f"{day} 19:00"))
    started = patient(order=order(f"{day} 07:00"))
    return handover(shift=shift, shifts=(shift,), patients=(started,), as_of=f"{day} 19:00")


@pytest.mark.parametrize(
    ("day", "count", "twice"),
    [(date(2026, 3, 7), 11, []), (date(2026, 10, 31), 13, ["01:00 ADT", "01:00 AST"])],
    ids=["forward", "back"],
)
def test_on_the_night_of_the_clock_change_each_hour_has_its_box(
    day: date, count: int, twice: list[str]
) -> None:
    page = round_page(with_next_at(day))
    assert len(page.hours) == len(page.rows[0].boxes) == count
    assert [each for each in page.hours if " " in each] == twice
    assert f"({count} h)" in page.shift


def test_with_initials_no_name_id_or_birth_date_is_on_it() -> None:
    page = round_page(handover(LOW, TOLD), initials=True)
    (given,) = page.rows
    assert (given.name, given.id) == ("L. O.", "id …0442")


def test_with_initials_the_same_ones_are_alerted_and_with_names_only_similar_ones() -> None:
    """Two ids of one person have their own alert; a name that is not recorded has no initials."""
    names = {"1": "Ferrier, Joan", "2": "Fenner, Joan", "3": "Adair, Tom", "4": "", "5": ""}
    of_names = tuple(patient(id=key, name=name, bed=key) for key, name in names.items())
    given = handover(patients=of_names)

    def alerts(given: Handover, *, initials: bool) -> list[str]:
        rows = round_page(given, initials=initials).rows
        found = {row.bed: re.findall("NAME ALERT: bed [^.]*", str(row.heavy)) for row in rows}
        return [f"{bed}: {alert}" for bed, of_one in sorted(found.items()) for alert in of_one]

    both = ["1: NAME ALERT: bed 2", "2: NAME ALERT: bed 1"]
    assert alerts(given, initials=True) == both
    assert alerts(given, initials=False) == []
    similar = replace(given, name_alerts={"1": ("2", "3"), "3": ("1",)})
    assert alerts(similar, initials=True) == [
        *("1: NAME ALERT: bed 2, 3", "2: NAME ALERT: bed 1", "3: NAME ALERT: bed 1")
    ]
    courses = courses_page(given, initials=True).courses
    summary = unit_page(given, initials=True).rows
    for page in (courses, summary):
        assert sum("NAME ALERT" in str(row.alerts) for row in page) == 2


def test_a_list_of_nobody_says_so() -> None:
    empty: RoundPage = round_page(replace(handover(), patients=()))
    assert empty.rows == ()
    assert empty.empty == "Nobody is on the list."


def test_initials_that_run_from_right_to_left_keep_their_last_full_stop() -> None:
    """On an English page it is drawn at the left, after the last initial as it is read."""
    (given,) = round_page(handover(patients=(patient(name="سمير, أحمد"),)), initials=True).rows
    assert drawn_order(f"1 {given.name} 2") == "1 .أ .س 2"
    assert drawn_order(given.name) == ".أ .س"

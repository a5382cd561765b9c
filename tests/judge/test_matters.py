"""Dangers that are handed over: the stories that began it, the table of told and settled, and what
must never be lost, on the sheet, the summary and the pages of the next shift.

The definitions are the project's own (common practice); `test_plain_matters.py` holds the fold to a
second, plain implementation.
"""

from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handoff.compose.blank import compose_patient_blanks, compose_unit_blank
from handoff.compose.patient import compose_patient
from handoff.compose.words import Words
from handoff.model.matters import Eased, Matter, MatterState, Verdicts
from handoff.model.pages import PatientPage
from handoff.model.verdicts import Level, Priority
from handoff.model.ward import Handover
from handoff.run.blank import blank_after
from handoff.run.sheets import Printing, produce_unit
from tests.support.builders import default_limits
from tests.support.how_many import few
from tests.support.random_stays import random_handover
from tests.support.sheets import read_pdf, results, texts, unit_page, words
from tests.support.wards import ID, NOBODY, log, one_unit, ordered, row

NIGHT, DAY, NEXT = "4 night", "5 day", "5 night"
LOW = row("4 23:50", "spo2: 84, on_oxygen: no")


def told(at: str, about: str = "oxygen", note: str = "Dr T. Quill") -> str:
    named = f", about: [{about}]" if about else ""
    return row(at, f'what: told{named}, note: "{note}"')


def matter(handover: Handover, rule: str = "low-oxygen") -> Matter:
    """The one matter of a rule, of the hand-over's first patient."""
    (found,) = (each for each in judged(handover).matters if each.rule == rule)
    return found


def judged(handover: Handover) -> Verdicts:
    return results(handover).verdicts[ID]


def sheet(handover: Handover, patient_id: str = ID) -> PatientPage:
    patient = next(each for each in handover.patients if each.id == patient_id)
    said = words(handover.unit.time_zone)
    return compose_patient(results(handover), patient, said, (1, 1))


def coached(handover: Handover) -> list[str]:
    """What the sheet asks of the exercise."""
    page = sheet(handover)
    return [line for line in page.next_shift if line.startswith("Coach")]


# the three stories


def test_a_harmless_note_does_not_make_a_danger_continue() -> None:
    """SpO2 under its limit, a faint with a pulse of 134, a fall: then a day with one note."""
    night = log(
        NIGHT,
        row("4 20:00", "breaths: 8, volume_ml: 1500")
        + row("4 21:10", "symptoms: [faint], pulse: 134")
        + row("4 23:00", "spo2: 91, on_oxygen: no"),
    )
    quiet = log(DAY, row("09:00", "what: note, note: ate breakfast"))
    handover = one_unit(night, quiet)
    assert {each.name for each in judged(handover).open_matters} == {
        "low-oxygen",
        "pulse",
        "faint-or-chest-pain:faint",
    }
    assert judged(handover).priority is Priority.ESCALATE
    assert coached(handover) == []
    page = " ".join(texts(sheet(handover)))
    assert "no longer met" not in page
    assert "Not measured since." in page
    assert "Not asked again." in page
    assert "1" in [fact.value for fact in unit_page(handover).counts if "escalate" in fact.label]


def test_a_danger_told_to_nobody_is_there_from_the_first_minute_of_the_next_log() -> None:
    """SpO2 84 %, chest pain and a faint at 03:50, told to nobody; the 04:00 log has nothing yet."""
    grave = "symptoms: [chest_pain, faint], spo2: 84"
    night = log("2026-03-04 19:00 / 2026-03-05 04:00", row("03:50", grave))
    new = log("2026-03-05 04:00 / 2026-03-05 12:00")
    handover = one_unit(night, new, as_of="2026-03-05 04:01")
    assert judged(handover).priority is Priority.ESCALATE
    titles = [each.title for each in sheet(handover).cautions if each.matter]
    assert titles == ["Low oxygen", "Faint", "Chest pain"]


def test_no_exercise_till_seen_tomorrow_is_not_gone_the_next_morning() -> None:
    note = "Dr P. Marwood: no exercise till I have seen her tomorrow"
    night = log(NIGHT, row("5 06:45", f'what: hold, note: "{note}"'))
    for handover in (one_unit(night, log(DAY)), one_unit(night, log(DAY), log(NEXT))):
        page = sheet(handover)
        assert judged(handover).priority is Priority.FOLLOW_UP
        assert coached(handover) == []
        assert note in page.paragraphs[3].value
        assert results(handover).measures[ID].adherence.slots_due == 0
    day_later = sheet(one_unit(night, log(DAY), log(NEXT))).paragraphs[3].value
    assert day_later.startswith("Held since 5 Mar 06:45: does it still stand?")


# told and settled, two by two

TOLD = told("4 23:55")
MEASURED = row("5 01:00", "spo2: 96, on_oxygen: no")
CELLS = {
    # rows of the night: state, level in the night, in the day after it, and a shift later
    "open": (LOW, MatterState.OPEN, *["escalate"] * 3),
    "told": (LOW + TOLD, MatterState.TOLD, *["escalate"] * 3),
    "settled": (LOW + MEASURED, MatterState.SETTLED, "escalate", "follow_up", "note"),
    "closed": (LOW + TOLD + MEASURED, MatterState.CLOSED, "follow_up", "note", "note"),
}


@pytest.mark.parametrize("cell", CELLS)
def test_each_cell_of_told_and_settled(cell: str) -> None:
    night_rows, state, *levels = CELLS[cell]
    logs = [log(NIGHT, night_rows), log(DAY), log(NEXT)]
    for count, level in enumerate(levels, start=1):
        handover = one_unit(*logs[:count])
        found = matter(handover)
        assert (found.state, found.level) == (state, level), count
        has_sheet = found.level is not Level.NOTE
        page = sheet(handover)
        assert ("Low oxygen" in [each.title for each in page.cautions]) is has_sheet
    assert ("Never recorded as told, long settled: 1." in page.counted) is (cell == "settled")


def test_a_matter_that_closes_in_a_later_shift_is_said_once() -> None:
    logs = [
        log(NIGHT, LOW),
        log(DAY, told("08:00") + row("08:10", "spo2: 97, on_oxygen: no")),
        log(NEXT),
    ]
    said = "'Low oxygen' told and seen to be over"
    assert said in sheet(one_unit(*logs[:2])).paragraphs[0].value
    assert matter(one_unit(*logs[:2])).level is Level.NOTE
    assert said not in " ".join(texts(sheet(one_unit(*logs))))


def test_a_matter_settled_later_and_never_told_is_followed_up_once_more() -> None:
    logs = [log(NIGHT, LOW), log(DAY), log(NEXT, row("5 20:00", "spo2: 97, on_oxygen: no"))]
    assert matter(one_unit(*logs)).level is Level.FOLLOW_UP
    assert matter(one_unit(*logs, log("6 day"))).level is Level.NOTE


ON_OXYGEN = "spo2: 95, on_oxygen: yes"


@pytest.mark.parametrize(
    ("rows", "eased"),
    [
        (row("09:00", ON_OXYGEN) + row("10:00", ON_OXYGEN), True),
        (row("09:00", ON_OXYGEN) + row("09:59", ON_OXYGEN), False),
        (row("09:00", "spo2: 95") + row("10:00", "spo2: 96"), False),
    ],
)
def test_on_oxygen_and_not_off_it_is_followed_up(rows: str, eased: bool) -> None:
    found = matter(one_unit(log(NIGHT, LOW + TOLD), log(DAY, rows)))
    assert (found.eased is Eased.ON_OXYGEN) is eased
    assert found.level == ("follow_up" if eased else "escalate")
    assert found.state is MatterState.TOLD


# what settles, and what does not: each of these was once tried as a change of the program


@pytest.mark.parametrize(
    ("danger", "after", "settled"),
    [
        ("spo2: 84, on_oxygen: no", "23:05 spo2: 96, on_oxygen: no", False),  # after five minutes
        ("spo2: 84, on_oxygen: no", "23:59 spo2: 96, on_oxygen: no", False),
        ("spo2: 84, on_oxygen: no", "00:00 spo2: 96, on_oxygen: no", True),
        ("spo2: 84, on_oxygen: no", "00:00 spo2: 96, on_oxygen: yes", False),
        ("spo2: 84, on_oxygen: no", "00:00 spo2: 96", False),
        ("spo2: 84, on_oxygen: no", "00:00 pulse: 80, resp_rate: 14", False),  # another sign
        ("spo2: 84, on_oxygen: no", "00:00 spo2: 96, on_oxygen: no, seen_by: patient", False),
        ("spo2: 84, oxygen: 2 L nasal", "00:00 spo2: 96, oxygen: 2 L nasal", True),
        ("spo2: 84, oxygen: 2 L nasal", "00:00 spo2: 96, oxygen: 1 L nasal", True),
        ("spo2: 84, oxygen: 2 L nasal", "00:00 spo2: 96, oxygen: 4 L nasal", False),
        ("spo2: 84, oxygen: 2 L nasal", "00:00 spo2: 96, oxygen: 28 %", False),
        ("spo2: 84, oxygen: 2 L nasal", "00:00 spo2: 96, on_oxygen: yes", False),
        ("spo2: 84, oxygen: 2 L nasal", "00:00 spo2: 96, on_oxygen: no", True),
        ("spo2: 84", "00:00 spo2: 96", True),
        ("spo2: 84", "00:00 spo2: 96, on_oxygen: yes", False),
        ("symptoms: [faint]", "00:00 symptoms: [none]", True),
        ("symptoms: [faint]", "23:30 symptoms: [none]", False),
        ("symptoms: [faint]", "00:00 symptoms: [cough]", False),  # another symptom
        ("symptoms: [faint]", "00:00 breaths: 10, volume_ml: 1500", False),
        ("symptoms: [faint]", "00:00 symptoms: [none], seen_by: patient", False),
        ("pulse: 134", "00:00 pulse: 96", True),
        ("pulse: 134", "00:00 symptoms: [none]", False),
    ],
)
def test_what_settles_a_danger(danger: str, after: str, settled: bool) -> None:
    clock, _, more = after.partition(" ")
    day = "5 " if clock < "12" else "4 "
    handover = one_unit(log(NIGHT, row("4 23:00", danger) + row(day + clock, more)))
    (found,) = judged(handover).matters
    assert (found.settled_at is not None) is settled


def test_somebody_licensed_settles_by_name_and_with_a_note() -> None:
    def settle(about: str, note: str) -> MatterState:
        what = f"what: settled{about}{note}"
        return matter(one_unit(log(NIGHT, LOW + TOLD + row("5 00:10", what)))).state

    assert settle(", about: oxygen", ", note: Dr T. Quill") is MatterState.CLOSED
    assert settle(", about: all", ", note: Dr T. Quill") is MatterState.CLOSED
    assert settle(", about: pulse", ", note: Dr T. Quill") is MatterState.TOLD
    assert settle(", about: oxygen", "") is MatterState.TOLD
    assert settle("", ", note: Dr T. Quill") is MatterState.TOLD


def test_a_told_row_that_names_nothing_answers_only_what_is_settled() -> None:
    asked = "Does it cover this?"
    rows = LOW + told("5 00:30", about="")
    handover = one_unit(log(NIGHT, rows))
    assert matter(handover).state is MatterState.OPEN
    assert asked in next(each.asked for each in sheet(handover).cautions if each.matter)
    settled = one_unit(log(NIGHT, rows + MEASURED))
    assert matter(settled).state is MatterState.CLOSED
    late = one_unit(log(NIGHT, LOW + told("5 00:51", about="") + MEASURED))
    assert matter(late).state is MatterState.SETTLED  # more than an hour after


@pytest.mark.parametrize(
    ("again", "answered"),
    [
        ("5 03:55 spo2: 85", True),
        ("5 03:56 spo2: 85", False),  # more than four hours
        ("5 01:00 spo2: 83", True),
        ("5 01:00 spo2: 82", False),  # worse by 2
    ],
)
def test_what_was_told_answers_later_rows_for_a_while_unless_it_is_worse(
    again: str, answered: bool
) -> None:
    day, clock, more = again.split(" ", 2)
    rows = LOW + TOLD + row(f"{day} {clock}", more)
    found = matter(one_unit(log(NIGHT, rows)))
    assert (found.state is MatterState.TOLD) is answered


# over the logs


def test_two_halves_of_a_shift_and_any_order_of_logs_say_the_same() -> None:
    """`one_unit` gives the logs in several orders; here one of them is two nurses' halves."""
    rows = [LOW, told("4 23:55"), row("5 02:00", "symptoms: [faint]"), MEASURED]
    whole = one_unit(log(NIGHT, "".join(rows)), log(DAY))
    halves = one_unit(
        log(NIGHT, rows[0] + rows[2], file="a.yaml"),
        log(NIGHT, rows[1] + rows[3], file="b.yaml"),
        log(DAY),
    )

    def said(handover: Handover) -> list[tuple[object, ...]]:
        return [
            (each.name, each.state, each.level, each.opened_at, each.last_at, each.settled_at)
            for each in judged(handover).matters
        ]

    assert said(whole) == said(halves)


def test_a_danger_of_a_gap_is_judged_with_the_next_shift_and_the_gap_is_named() -> None:
    handover = one_unit(log(NIGHT), log(NEXT, row("5 15:00", "spo2: 84, on_oxygen: no")))
    assert matter(handover).state is MatterState.OPEN
    gap = "No log of 5 Mar 07:00 to 5 Mar 19:00: what happened then is not known here."
    assert sheet(handover).identity.unknown == gap
    assert gap in unit_page(handover).alerts


def test_a_matter_outlives_the_order() -> None:
    stopped = ordered().partition("  order:")[0] + NOBODY
    handover = one_unit(log(NIGHT, LOW), log(DAY, patients=stopped))
    assert judged(handover).priority is Priority.ESCALATE
    page = sheet(handover)
    assert "No order in this log" in page.paragraphs[1].value
    assert coached(handover) == []
    closed = one_unit(log(NIGHT, LOW + TOLD + MEASURED), log(DAY, patients=stopped))
    assert ID not in results(closed).measures


def test_who_left_with_something_open_stands_on_the_summary_for_one_hand_over() -> None:
    away = log(DAY, patients=NOBODY)
    handover = one_unit(log(NIGHT, LOW), away)
    section = next(each for each in unit_page(handover).before if each.title.startswith("Left"))
    assert ID in section.lines[0].who
    assert "SpO2 84 %" in section.lines[1].text
    later = one_unit(log(NIGHT, LOW), away, log(NEXT, patients=NOBODY))
    section = next(each for each in unit_page(later).before if each.title.startswith("Left"))
    assert section.lines == ()


@pytest.mark.parametrize(
    ("rows", "order", "why"),
    [
        (LOW, "", "not closed"),
        (LOW + TOLD, "", "not closed"),
        (row("4 20:00", "what: hold, note: Dr Quill"), "", "on hold"),
        (row("4 20:99", "spo2: 84"), "", "not closed"),
        ("", ", comfort_care: yes, by: Dr Q", "comfort care"),
    ],
)
def test_the_page_to_take_home_is_kept_back_unless_it_is_asked_for_and_the_pages_say_why(
    rows: str, order: str, why: str
) -> None:
    home = ordered(order=order) + "  home_on: 2026-03-06\n" + NOBODY
    handover = one_unit(log(NIGHT, rows, patients=home))

    def pages(printing: Printing) -> list[str]:
        names = [name for name, _ in produce_unit(handover, default_limits(), printing)]
        return [name for name in names if name.startswith("discharge/")]

    assert pages(Printing()) == []
    assert len(pages(Printing(discharge_beds=frozenset({"12A"})))) == 1
    asked = "hold back the page to take home"
    assert any(f"{asked} ({why})" in line for line in sheet(handover).next_shift)
    lines = [line.text for each in unit_page(handover).after for line in each.lines]
    assert any(why.upper() in line and asked in line for line in lines)


# whatever is charted


@cache
def blank_words() -> Words:
    return words(random_handover(0).unit.time_zone)


@settings(max_examples=few(20))
@given(st.integers(0, 100_000))
def test_whatever_is_not_told_and_settled_is_on_every_page(seed: int) -> None:
    """On sheet, summary and the pages of the next shift, in words; and nobody is coached."""
    handover = random_handover(seed)
    of_unit = results(handover, default_limits())
    (patient,) = handover.patients
    if patient.id not in of_unit.verdicts:
        return
    verdicts = of_unit.verdicts[patient.id]
    page = sheet(handover, patient.id)
    on_sheet = " ".join(texts(page))
    summary = " ".join(texts(unit_page(handover)))
    blank = blank_after(of_unit, 0)
    on_blank = [
        " ".join(texts(compose_patient_blanks(blank, blank_words()))),
        " ".join(texts(compose_unit_blank(blank, blank_words()))),
    ]
    for each in verdicts.matters:
        if each.state is MatterState.CLOSED:
            continue
        if each.level is Level.NOTE:
            if each.is_counted:
                assert "Never recorded as told, long settled" in on_sheet
            else:  # comfort care: named once, not followed
                assert "Open before, not followed now" in page.identity.judged_as
            continue
        (caution,) = (one for one in page.cautions if one.matter == each.name)
        assert caution.level is each.level
        assert caution.seen in summary
        title = caution.title.lower()
        assert all(title in text.lower() for text in on_blank), title
    grave = any(each.level is Level.ESCALATE for each in verdicts.matters)
    assert (verdicts.priority is Priority.ESCALATE) is grave
    if verdicts.holds_back or of_unit.measures[patient.id].hold:
        for text in (on_sheet, summary):
            assert "Coach " not in text


@pytest.mark.parametrize("seed", [16, 67, 126, 255])
def test_what_is_open_is_found_again_in_the_printed_pages(seed: int) -> None:
    handover = random_handover(seed)
    files = dict(produce_unit(handover, default_limits(), Printing()))
    verdicts = results(handover).verdicts[handover.patients[0].id]
    open_ones = [each for each in verdicts.matters if each.level is Level.ESCALATE]
    assert open_ones
    page = sheet(handover, handover.patients[0].id)
    printed = " ".join(read_pdf(files["patient-sheets.pdf"]).pages)
    summary = " ".join(read_pdf(files["unit-summary.pdf"]).pages)
    for each in open_ones:
        (caution,) = (one for one in page.cautions if one.matter == each.name)
        assert caution.title in printed
        assert caution.title.lower() in summary


def test_without_the_earlier_shifts_the_sheet_says_that_it_does_not_know() -> None:
    unknown = "No log of this stay before 5 Mar 07:00 is given"
    assert unknown in sheet(one_unit(log(DAY))).paragraphs[1].value
    ordered_now = ordered("2026-03-05 06:30") + NOBODY
    assert "No log of" not in sheet(one_unit(log(DAY, patients=ordered_now))).paragraphs[1].value


# holds


def hold_rows(*rows: tuple[str, str]) -> Handover:
    """A patient who is otherwise fine: seen each hour or two, everything done, and these rows."""
    fine = "".join(row(f"{hour:02}:05", "breaths: 10, volume_ml: 1500") for hour in range(7, 19))
    return one_unit(log(DAY, fine + "".join(row(at, what) for at, what in rows), CARED_FOR))


CARED_FOR = (
    ordered("2026-03-05 07:00")
    + "  device: {given: yes, labelled: yes}\n  teaching: {taught: yes, shown_back: yes}\n"
    + NOBODY
)
HOLD, RESUME = 'what: hold, note: "Dr T. Quill"', 'what: resume, note: "Dr T. Quill"'


def test_a_hold_in_force_is_followed_up_and_one_that_was_lifted_is_not() -> None:
    assert judged(hold_rows()).priority is Priority.CONTINUE
    held = hold_rows(("18:30", HOLD))
    assert judged(held).priority is Priority.FOLLOW_UP
    lifted = hold_rows(("18:30", HOLD), ("18:45", RESUME))
    assert judged(lifted).priority is Priority.CONTINUE
    assert results(lifted).measures[ID].hold is None


def test_holds_that_follow_each_other_are_one_since_the_first() -> None:
    untimely = hold_rows(
        ("18:20", f"{HOLD}, until: 18:40"), ("18:35", HOLD), ("18:40", "what: note, note: asleep")
    )
    hold = results(untimely).measures[ID].hold
    assert hold is not None
    assert f"{hold.since:%H:%M}" == "18:20"
    assert hold.until is None


def test_nothing_is_due_while_held_and_what_was_done_is_named() -> None:
    def due(handover: Handover) -> float:
        return results(handover).measures[ID].adherence.breaths_due

    held = hold_rows(("12:00", HOLD), ("15:00", RESUME))
    assert due(hold_rows()) - due(held) == 30
    met = {each.rule for each in judged(held).cautions}
    assert "exercise-on-hold" in met
    times = [f"{each.at:%H:%M}" for each in results(held).measures[ID].exercised_on_hold]
    assert times == ["12:05", "13:05", "14:05"]


def test_a_follow_up_of_a_gap_is_met_in_the_next_shift() -> None:
    handover = one_unit(log(NIGHT), log(NEXT, row("5 15:00", "temp_c: 38.4, pulse: 90")))
    assert "fever" in {each.rule for each in judged(handover).cautions}

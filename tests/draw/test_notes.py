"""Notes are lost nowhere: the newest is the last thing to go from a full sheet, free space is used
first, and what finds no room stands word for word in the unit summary.
"""

from itertools import pairwise

from msgspec.structs import replace

from handoff.draw.chart import draw_volume
from handoff.draw.paper import draw_patient
from handoff.model.pages import Note, PatientPage
from handoff.model.ward import Entry, Handover
from handoff.run.sheets import Printing, produce_unit
from tests.support.builders import (
    all_changed,
    default_limits,
    entry,
    handover,
    order,
    patient,
)
from tests.support.logs import hand_over, log_of
from tests.support.random_pages import gravest
from tests.support.sheets import document, patient_page, patient_pdf, read_pdf

TITLE = "Notes that found no room on the sheets"
CHOKES = "cannot lift head, chokes on tea"
SICKEST = f"""\
unit: {{name: Harbour 3 East, time_zone: America/Halifax}}
shift: {{start: 2026-03-07 07:00, end: 2026-03-07 19:00}}
patients:
- id: "10442"
  name: Larkspur, Odile
  born: 1958-04-02
  bed: 12A
  precautions: flat, spine not cleared
  order: {{start: 2026-03-06 10:00, goal_ml: 2000}}
entries:
- {{patient: "10442", at: 2026-03-06 12:00, breaths: 10, volume_ml: 1500}}
- {{patient: "10442", at: 08:00, breaths: 30, volume_ml: 700, spo2: 80, resp_rate: 34, pulse: 150,
   temp_c: 34, pain: 9,
   symptoms: [dizzy, faint, chest_pain, drowsy, confused, breathless, wheeze]}}
- {{patient: "10442", at: 09:00, breaths: 10, volume_ml: 650}}
- {{patient: "10442", at: 10:00, what: note, note: "{CHOKES}"}}
"""


def test_the_patient_with_the_most_escalations_keeps_the_only_note() -> None:
    page = patient_page(hand_over(log_of(SICKEST)))
    assert len([each for each in page.cautions if each.level == "escalate"]) >= 10
    sheet = draw_patient(page, document(), draw_volume)
    (text,) = read_pdf(sheet.content).pages
    assert f"Notes of the shift, newest first (read them, no rule does) 10:00 {CHOKES}" in text
    assert sheet.cut_notes == ()


def tops(page: PatientPage) -> dict[str, float]:
    """The baseline of each piece of text on the printed sheet."""
    return {each.text: each.baseline for each in read_pdf(patient_pdf(page)).pieces[0]}


def test_free_space_beside_the_ticks_is_used_first() -> None:
    """The notes begin above the last tick, where the numbers are shorter than the ticks."""
    page = patient_page(hand_over(log_of(SICKEST)))
    at = tops(replace(page, numbers=page.numbers[:4]))
    title = next(at[each] for each in at if each.startswith("Notes of the shift"))
    last_tick = next(at[each] for each in at if each.startswith("Once the exercise may go on"))
    assert title > last_tick


def with_notes(*rows: Entry) -> Handover:
    danger = entry("08:00", "faint drowsy", spo2=80, resp_rate=34, pulse=150)
    earlier = order("-1 08:00", goal_ml=2000)
    return handover(danger, *rows, patients=(patient(order=earlier),))


LONG = [
    f"note {number}: {'drain on the left, swallows thickened only, ' * 8}" for number in range(9)
]


def test_what_finds_no_room_stands_word_for_word_in_the_summary() -> None:
    rows = [
        entry(f"{9 + number:02}:00", what="note", note=note) for number, note in enumerate(LONG)
    ]
    given = with_notes(*rows)
    files = dict(produce_unit(given, default_limits(), Printing()))
    sheet = " ".join(read_pdf(files["patient-sheets.pdf"]).pages)
    summary = " ".join(read_pdf(files["unit-summary.pdf"]).pages)
    whole = [note for note in map(str.strip, LONG) if note in sheet]
    cut = [note for note in map(str.strip, LONG) if note not in sheet]
    assert cut
    assert TITLE in summary
    assert all(note in summary for note in cut)
    assert not any(note in summary for note in whole)


def test_a_summary_with_initials_only_counts_them() -> None:
    """A note may name somebody."""
    rows = [
        entry(f"{9 + number:02}:00", what="note", note=note) for number, note in enumerate(LONG)
    ]
    given = with_notes(*rows)
    files = dict(produce_unit(given, default_limits(), Printing(initials=True)))
    summary = " ".join(read_pdf(files["unit-summary.pdf"]).pages)
    assert "Notes in the log: " in summary
    assert "drain on the left" not in summary


def test_a_summary_of_sheets_that_hold_all_notes_has_no_such_list() -> None:
    files = dict(produce_unit(hand_over(log_of(SICKEST)), default_limits(), Printing()))
    assert TITLE not in " ".join(read_pdf(files["unit-summary.pdf"]).pages)


def test_every_note_is_on_the_sheet_word_for_word_or_named_as_cut() -> None:
    """The fuller the sheet, the fewer notes; never one that is neither here nor there."""
    notes = tuple(Note(f"1{number}:00", LONG[number].strip()) for number in range(9))
    counts = []
    for cautions in (1, 4, 8, 12):
        grave = [each for each in gravest().cautions if each.stays] * 2
        page = replace(gravest(), notes=notes, cautions=tuple(grave[:cautions]))
        sheet = draw_patient(page, document(), draw_volume)
        (text,) = read_pdf(sheet.content).pages
        whole = tuple(each for each in notes if each.text in text)
        assert {*whole, *sheet.cut_notes} == set(notes)
        counts.append(len(sheet.cut_notes))
    assert all(fewer <= more for fewer, more in pairwise(counts))


def test_the_longest_foot_and_when_to_call_give_way_to_nothing() -> None:
    """A unit that changed all that it can, and a patient with every escalation."""
    page = patient_page(hand_over(log_of(SICKEST)), all_changed())
    (text,) = read_pdf(patient_pdf(page)).pages
    assert all(each in text for each in page.standing)
    assert f"Call if {page.call_if.value}" in text
    assert f"10:00 {CHOKES}" in text


def test_what_was_told_at_length_of_what_is_over_is_a_note_too() -> None:
    """Beside the caution there is room for 160 characters of it."""
    said = "Dr Marwood by phone: " + "gave oxygen, sat up, looked again. " * 6
    for note, is_a_note in ((said, True), ("Dr Marwood", False)):
        rows = (
            entry("08:00", pulse=150),
            entry("08:10", what="told", about=("pulse",), note=note),
            entry("10:00", pulse=80),
        )
        notes = [each.text for each in patient_page(handover(*rows)).notes]
        assert (note in notes) is is_a_note

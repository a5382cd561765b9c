"""The unit summary: one patient or sixty, whatever the log holds, on as many pages as it takes."""

import re
from functools import cache
from random import Random

import pytest
from msgspec.structs import replace

from handoff.draw.paper import PAPERS
from handoff.draw.paper.canvas import MARGIN_PT
from handoff.draw.paper.typeface import BODY_PT, NAME_PT, SMALL, SMALL_PT
from handoff.gather import gather
from handoff.model.pages import Line, UnitPage, UnitRow, UnitSection
from handoff.model.ward import Entry, Gap
from tests.support.bad_logs import ENTRY, PATIENT, night
from tests.support.builders import at, entry, handover, order, patient
from tests.support.cases import CASES, with_gone
from tests.support.how_many import few
from tests.support.logs import NOW, log_of
from tests.support.random_pages import DANGERS, random_text
from tests.support.sheets import (
    TYPESETTER,
    Read,
    is_inside,
    overlaps,
    patient_page,
    read_pdf,
    section,
    sheet_words,
    unit_page,
    unit_pdf,
)


@cache
def composed() -> UnitPage:
    """The summary of a patient who is well and of one who is not."""
    well = patient(id="20001", bed="2", order=order("-1 07:00", goal_ml=2000))
    entries = (DANGERS, *(entry(clock, patient_id="20001", volume_ml=900) for clock in CLOCKS))
    return unit_page(handover(*entries, patients=(patient(), well, patient(id="3", order=None))))


CLOCKS = ("-1 08:00", "-1 20:00", "08:00", "09:00")


def random_summary(number: int) -> UnitPage:
    """Up to sixty patients, with names, reasons and words of any length and script."""
    random, page = Random(number), composed()

    def row(index: int) -> UnitRow:
        return replace(
            random.choice(page.rows),
            bed=random.choice((f"{index}", f"Long corridor bay {index} window")),
            alerts=tuple(random_text(random, 60) for _ in range(random.choice((0, 0, 1, 2)))),
            id=f"7{index:04}",
            name=random_text(random, 120),
            why_here=random_text(random, 100),
            top_caution=random_text(random, 80),
            next_action=random_text(random, 80),
        )

    def section(each: UnitSection) -> UnitSection:
        lines = [
            Line(f"Bed {index}, id 8{index:04}", random_text(random, 1000))
            for index in range(random.choice((0, 1, 8)))
        ]
        return replace(each, lines=tuple(lines))

    return replace(
        page,
        unit=random_text(random, 200),
        rows=tuple(row(index) for index in range(random.choice((1, 2, 9, 30, 60)))),
        alerts=tuple(random_text(random, 800) for _ in range(random.choice((0, 0, 2)))),
        before=tuple(map(section, page.before)),
        after=tuple(map(section, page.after)),
    )


@pytest.mark.parametrize("number", range(few(6)))
def test_nothing_is_cut_or_overlaps_and_a_row_is_on_one_page_between_its_rules(number: int) -> None:
    page, paper = random_summary(number), ("a4", "letter")[number % 2]
    read = read_pdf(unit_pdf(page, paper))
    across = (max(PAPERS[paper]), min(PAPERS[paper]))
    for pieces in read.pieces:
        assert {piece.size for piece in pieces} <= {SMALL_PT, BODY_PT, NAME_PT}
        assert [piece for piece in pieces if not is_inside(piece, across)] == []
        assert list(overlaps(pieces)) == []
    whole = " ".join(read.pages)
    assert all(row.id in whole for row in page.rows)
    assert whole.count("window") == sum("window" in row.bed for row in page.rows)
    lines = [line for part in (*page.before, *page.after) for line in part.lines]
    assert all(line.who.split()[-1] in whole for line in lines)
    # The row's id and the level in its shape stand on the same page, each id once.
    beds = [re.findall(r"\b7\d{4}\b", text) for text in read.pages]
    assert sorted(each for ids in beds for each in ids) == sorted(row.id for row in page.rows)
    for text, ids in zip(read.pages, beds, strict=True):
        levels = sum(text.count(row.priority_words) for row in composed().rows)
        assert levels >= len(ids)
        assert ("Top caution" in text) == bool(ids)


@pytest.mark.parametrize("paper", PAPERS)
def test_the_key_of_the_table_takes_one_line(paper: str) -> None:
    width = max(PAPERS[paper]) - 2 * MARGIN_PT
    assert len(TYPESETTER.break_lines(composed().key, SMALL, width)) == 1


def header(read: Read) -> list[str]:
    """What stands at the top of each page: its right half, which holds the page's number."""
    found = []
    for pieces in read.pieces:
        top = max(piece.box[3] for piece in pieces)
        found.append(" ".join(each.text for each in pieces if each.box[3] > top - 30))
    return found


def test_every_page_has_the_same_header_but_for_its_number() -> None:
    read = read_pdf(unit_pdf(random_summary(2)))
    tops = [re.sub(r"page \d+ of", "page of", " ".join(top.split())) for top in header(read)]
    assert len(read.pages) > 2
    assert len(set(tops)) == 1
    numbers = [re.findall(r"page (\d+) of (\d+)", text)[0] for text in read.pages]
    of = str(len(read.pages))
    assert numbers == [(str(number), of) for number in range(1, len(read.pages) + 1)]


def test_a_part_that_goes_on_on_the_next_page_has_its_title_again() -> None:
    lines = tuple(Line(f"Bed {number}", "said " * 40) for number in range(60))
    page = replace(composed(), before=(), after=(UnitSection("Set aside: 60 of 60", lines),))
    pages = read_pdf(unit_pdf(page)).pages
    assert len(pages) > 2
    assert all(text.count("Set aside: 60 of 60") == ("Bed " in text) for text in pages)
    for text in pages:
        assert text.rfind("Set aside") < text.rfind("Bed "), "a title has a line below it"


def test_a_line_longer_than_a_page_goes_on_onto_the_next() -> None:
    told = " ".join(f"told{number:04}" for number in range(3000))
    page = replace(composed(), before=(UnitSection("Escalations", (Line("Bed 1", told),)),))
    read = read_pdf(unit_pdf(page))
    whole = " ".join(read.pages)
    assert len(read.pages) > 3
    assert all(f"told{number:04}" in whole for number in range(3000))
    lowest = min(piece.box[1] for pieces in read.pieces for piece in pieces)
    assert lowest >= MARGIN_PT - 2


LOST = """\
unit: {name: Harbour 3 East, time_zone: America/Halifax}
shift: {start: 2026-03-06 19:00, end: 2026-03-07 07:00}
patients:
- id: "10442"
  name: "Larkspur, Odile"
  born: 1958-04-02
  bed: 12A
  order: {start: 2026-03-06 10:00, spo2_min: 9O}
entries:
- {patient: "10442", at: 19:40, breaths: 8, symptoms: [dizy], spo2: 94}
- {patient: "10442", at: 25:40, breaths: 8}
"""


@pytest.mark.parametrize("initials", [False, True])
def test_cells_that_could_not_be_used_are_named_on_paper_and_rows_set_aside_only_once(
    initials: bool,
) -> None:
    """A limit or a symptom that cannot be read is not one that was never written."""
    (given,), _ = gather([log_of(LOST)], None, NOW)
    *_, aside, lost = unit_page(given, initials=initials).after
    assert len(aside.lines) == 1
    assert lost.title.startswith("Cells that could not be used: 2.")
    shown = [line.text for line in lost.lines]
    assert [re.findall("spo2_min|symptoms", line)[:1] for line in shown] == [
        ["spo2_min"],
        ["symptoms"],
    ]
    assert any('"9O"' in line for line in shown) is not initials


def test_that_nothing_was_set_aside_takes_no_section_of_its_own() -> None:
    page = unit_page(handover(entry("09:00")))
    assert not [each for each in page.after if each.lines and "set aside" in each.title]
    assert page.standing[-1].startswith("1 read, 1 used, nothing set aside. Limits in force: ")


WITHOUT_START = (
    "Ordered, but since when is not known: nothing is counted, and a sheet is made only of a danger"
)


def test_a_danger_of_a_patient_whose_order_has_no_known_start_has_a_sheet() -> None:
    """As in a ward's first log: no sheet at all was printed, of anybody."""
    no_start = PATIENT.replace("start: 2026-03-06 10:00", "start: now")
    faint = ENTRY.replace("breaths: 8", "symptoms: [faint]")
    (given,), _ = gather([log_of(night(faint, no_start))], None, NOW)
    words = sheet_words(given, "10442")
    assert "Faint charted at 19:40" in words
    assert "Ordered, but since when is not known: no breaths are counted." in words
    wrong = ("10 breaths", "No order in this log", "day 1", "since the order of", "none ordered")
    assert all(each not in words for each in (*wrong, "none were due", "No breaths were due"))
    page = unit_page(given)
    said = {each.title: [line.who for line in each.lines] for each in page.before}
    assert said["Ordered, not started"] == []
    assert len(said[WITHOUT_START]) == 1


def test_in_comfort_care_nobody_is_to_be_begun_with() -> None:
    care = patient(order=order("-1 10:00", comfort_care=True))
    for who, listed in ((care, 0), (patient(order=order("-1 10:00")), 1)):
        page = unit_page(handover(patients=(who,)))
        said = {each.title: each.lines for each in page.before}
        assert len(said["Ordered, not started"]) == listed


@pytest.mark.parametrize("start", ["start: 2026-03-06 1O:00, ", ""])
def test_an_order_whose_start_is_not_known_is_not_called_no_order(start: str) -> None:
    text = night(
        patients=PATIENT.replace(
            "{breaths: 10, start: 2026-03-06 10:00}", f"{{{start}breaths: 10}}"
        )
    )
    (given,), _ = gather([log_of(text)], None, NOW)
    page = unit_page(given)
    said = {each.title: [line.who for line in each.lines] for each in (*page.before, *page.after)}
    who = ["Bed 12A, Larkspur, Odile, id 10442"]
    assert said[WITHOUT_START] == who
    assert said["On the list, no order"] == []
    assert ("ordered", "1") in {(each.label, each.value) for each in page.counts}


def test_where_every_cell_could_be_used_nothing_is_said_of_it() -> None:
    assert not [each for each in composed().after if each.title.startswith("Cells")]


def test_a_fact_that_cannot_be_read_is_not_one_that_was_never_written() -> None:
    """Neither on the patient's sheet, nor as the caution that no goal is ordered."""
    wrong = LOST.replace("spo2_min: 9O", "spo2_min: 9O, goal_ml: 15OO")
    (given,), _ = gather([log_of(wrong)], None, NOW)
    assert given.patients[0].unread == ("goal_ml", "spo2_min")
    page = patient_page(given)
    assert "not understood, so not known: Goal (mL), SpO2 at least (%)." in page.to_check
    assert "goal not understood" in str(page)
    assert "No goal ordered" not in str(page)
    assert "no goal" not in str(page)


def test_a_fact_that_another_log_of_the_shift_has_is_known() -> None:
    wrong = LOST.replace("spo2_min: 9O", "spo2_min: 9O, goal_ml: 15OO")
    (given,), _ = gather([log_of(wrong, "a.yaml"), log_of(RIGHT, "b.yaml")], None, NOW)
    (merged,) = given.patients
    assert merged.unread == ("spo2_min",)
    assert merged.order is not None
    assert merged.order.goal_ml == 1500


RIGHT = LOST.partition("entries:")[0].replace("spo2_min: 9O", "goal_ml: 1500")


OPEN_MATTERS, LEFT = "Open matters, until told and settled", "Left with something open"
WHO = "Bed 12A, Larkspur, Odile, id 10442"
LOW = entry("09:00", spo2=85, on_oxygen=False)
TOLD = entry("09:20", what="told", note="Dr Quill: mask", about=("oxygen",))


def counts(page: UnitPage) -> dict[str, str]:
    return {each.label: each.value for each in page.counts}


def test_each_open_matter_has_a_line_that_says_whether_it_was_told_and_what_would_close_it() -> (
    None
):
    line, key = section(unit_page(handover(LOW)), OPEN_MATTERS)
    assert key.text == (
        "What is not settled closes too where somebody licensed says that it is over, charted as "
        "settled with a note."
    )
    assert line.who == f"{WHO}. NOT TOLD: low oxygen."
    assert line.text == (
        "SpO2 85 % at 09:00, on air; limit 91 % or less. Not measured since. "
        "To close: Tell the provider and record it (about: oxygen); "
        "measure SpO2 again (a value on oxygen does not settle it)."
    )
    line, _ = section(unit_page(handover(LOW, TOLD)), OPEN_MATTERS)
    assert line.who == f"{WHO}. TOLD: low oxygen."
    assert 'Told 09:20: "Dr Quill: mask". To close: Measure SpO2 again' in line.text


@pytest.mark.parametrize(
    ("oxygen", "again"),
    [
        (["2 L"], "on more than 2 L does not settle it"),
        (["2 L", "4 L"], "on more than 2 L does not settle it"),
        (["4 L", "28 %"], "a value on oxygen does not settle it"),
        (["mask"], "a value on oxygen does not settle it"),
        ([None], "a value on oxygen does not settle it"),
    ],
)
def test_the_least_amount_of_oxygen_that_a_value_was_low_on_is_what_settles_it(
    oxygen: list[str | None], again: str
) -> None:
    rows = [
        entry(f"09:0{minute}", spo2=85, on_oxygen=True, oxygen=amount)
        for minute, amount in enumerate(oxygen)
    ]
    line, _ = section(unit_page(handover(*rows)), OPEN_MATTERS)
    assert line.text.endswith(f"measure SpO2 again ({again}).")


def test_what_is_told_and_settled_has_no_line_there() -> None:
    over = entry("11:00", spo2=95, on_oxygen=False)
    assert section(unit_page(handover(LOW, TOLD, over)), OPEN_MATTERS) == ()
    (line,) = section(unit_page(handover(LOW, over)), OPEN_MATTERS)
    assert line.who.endswith("NOT TOLD: low oxygen.")
    assert "To close: Tell the provider and record it (about: oxygen)." in line.text


def test_the_counts_say_for_how_many_something_is_not_told() -> None:
    well, other = patient(id="2", bed="2"), patient(id="3", bed="3")
    others = entry("09:00", patient_id="3", pulse=150)
    ward = (patient(), well, other)
    assert counts(unit_page(handover(LOW, others, patients=ward)))["to escalate, 2 not told"] == "2"
    one_told = counts(unit_page(handover(LOW, TOLD, others, patients=ward)))
    assert one_told["to escalate, 1 not told"] == "2"
    assert counts(unit_page(handover(LOW, TOLD)))["to escalate"] == "1"
    assert counts(unit_page(handover()))["to escalate"] == "0"


@pytest.mark.parametrize(
    ("left", "said"),
    [
        (
            [entry("08:00", what="left", patient_id="20002", note="ward 7, nurse told")],
            'Left 08:00: "ward 7, nurse told".',
        ),
        ([], "No longer on the list; where to is not recorded."),
    ],
)
def test_who_left_with_something_open_stands_on_the_summary(left: list[Entry], said: str) -> None:
    first, open_one = section(unit_page(with_gone(*left)), LEFT)
    assert "Petrel, Ivo, id 20002" in first.who
    assert "6" in first.who
    assert first.text.startswith(said)
    assert open_one.who.endswith("NOT TOLD: low oxygen.")
    assert "SpO2 80 % at 20:00, on air" in open_one.text


def test_who_left_with_nothing_open_does_not() -> None:
    left = entry("08:00", what="left", patient_id="20002", note="home")
    told = entry("-1 20:10", what="told", patient_id="20002", note="Dr Quill", about=("oxygen",))
    over = entry("-1 22:00", patient_id="20002", spo2=95, on_oxygen=False)
    assert section(unit_page(with_gone(told, over, left)), LEFT) == ()


def test_a_time_that_no_log_tells_of_stands_at_the_head_once() -> None:
    gap = (Gap(at("-1 19:00"), at("07:00")),)
    both = (patient(), patient(id="2", bed="2"))
    page = unit_page(replace(handover(patients=both), gaps={"10442": gap, "2": gap}))
    said = "No log of 11 May 19:00 to 12 May 07:00: what happened then is not known here."
    assert [each for each in page.alerts if "No log" in each] == [said]
    assert said in read_pdf(unit_pdf(page)).pages[0]


NOTED = "Ms Larkspur's daughter and Dr Quill: 10442"


def test_with_initials_nothing_that_was_told_or_noted_is_printed() -> None:
    """A note is free text and may name anybody: of the rows only their times are printed."""
    rows = (
        LOW,
        replace(TOLD, note=NOTED),
        entry("09:40", pulse=150),
        entry("09:50", what="told", note=NOTED),
        entry("10:00", resp_rate=30),
        entry("10:10", what="settled", note=NOTED, about=("breathing",)),
        entry("10:20", what="hold", note=NOTED),
    )
    page = unit_page(handover(*rows), initials=True)
    said = " ".join(f"{line.who} {line.text}" for line in section(page, OPEN_MATTERS))
    assert "Told 09:20. To close" in said
    assert "Told 09:50, about what is not recorded. Does it cover this?" in said
    assert "Settled 10:10, by a person." in said
    assert "held since 10:20. Ask before it goes on." in said
    left = entry("08:00", what="left", patient_id="20002", note=NOTED)
    held = entry("-1 21:00", what="hold", patient_id="20002", note=NOTED)
    gone = unit_page(with_gone(left, held), initials=True)
    assert section(gone, LEFT)[0].text.startswith("Left 08:00.")
    for each in (page, gone):
        printed = " ".join(read_pdf(unit_pdf(each)).pages)
        assert not re.search("Larkspur|Petrel|Quill|daughter", printed)
        assert not re.search("10442|20002", printed)
    assert "Dr Quill" in " ".join(read_pdf(unit_pdf(unit_page(handover(*rows)))).pages)


def test_a_hold_alone_is_why_somebody_is_followed_up() -> None:
    (row,) = unit_page(CASES["held, and nothing else"]).rows
    assert (row.priority_words, row.top_caution) == ("FOLLOW UP", "the exercise is held")


def test_signs_in_a_row_of_nobody_stand_at_the_top_as_they_are_written() -> None:
    """An unknown id, and an id of two people: somebody is in danger, and no sheet says so."""
    other = PATIENT.replace("Larkspur, Odile", "Larkspur, Otto").replace("12A", "12B")
    rows = (
        '- {patient: "20141", at: 2026-03-08 02:30, spo2: 85, note: "Strake, bed 7B"}\n'
        '- {patient: "10442", at: 20:10, symptoms: faint, spo2: 84}\n'
        '- {patient: "20142", at: 21:00, breaths: 8, symptoms: none}\n'
    )
    given = gather([log_of(night(rows, PATIENT + other))], None, NOW)[0][0]
    of_nobody = [each for each in unit_page(given).alerts if each.startswith("WHOSE IS THIS?")]
    assert len(of_nobody) == 2
    assert '02:30: SpO2 85, note "Strake, bed 7B". On nobody\'s sheet' in of_nobody[0]
    assert "20:10: symptoms faint, SpO2 84. On nobody's sheet" in of_nobody[1]

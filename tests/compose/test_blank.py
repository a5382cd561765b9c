"""A log to fill in: the starters pass the checks, invent nobody, and the pages have every field.

What is open of a patient stands on every page and in `blank.yaml`, whatever there is of it.
"""

import re
import stat
from datetime import UTC, date, datetime, timedelta
from io import BytesIO
from pathlib import Path
from typing import Any
from zoneinfo import available_timezones

import pikepdf
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace
from openpyxl import load_workbook

from handoff.cli import main as cli
from handoff.compose.blank import SELDOM_ORDERED, compose_patient_blanks, compose_unit_blank
from handoff.compose.still_open import open_comments
from handoff.draw.paper import PAPERS, draw_blank
from handoff.draw.paper.blank_table import BlankTable
from handoff.draw.paper.canvas import MARGIN_PT
from handoff.draw.paper.typeface import SMALL_BOLD, SMALL_PT
from handoff.log.blank import Blank, starter_csv, starter_xlsx, starter_yaml
from handoff.log.fields import EXAMPLES, FIELDS, Kind, Section, fields_of
from handoff.log.new_workbook import workbook_bytes
from handoff.model.findings import Severity
from handoff.model.matters import MatterState
from handoff.model.pages import BlankPage
from handoff.model.ward import Entry, Handover, Log, Patient, Shift, Symptom, Unit, What
from handoff.run.blank import blank_after
from tests.support.bad_logs import IN_OPTIONS, night
from tests.support.builders import ZONE, entry, handover, order, patient
from tests.support.builders import found as found_by
from tests.support.desks import fields_of_form
from tests.support.desks import night as start_desk
from tests.support.how_many import few
from tests.support.logs import as_text, check_text, log_of
from tests.support.random_patients import NOWHERE, PATIENTS
from tests.support.runs import WARD, content
from tests.support.sheets import (
    TYPESETTER,
    Read,
    document,
    grey,
    overlaps,
    read_pdf,
    results,
    words,
)
from tests.support.tags import Tagged, faults, structure_faults
from tests.support.wording import FORBIDDEN

UNIT = Unit("Harbour 3 East", ZONE, None, phone="ext. 4410")
NIGHT = Shift(datetime(2026, 3, 7, 23, tzinfo=UTC), datetime(2026, 3, 8, 10, tzinfo=UTC))
GIVEN = [f"--{name.replace('_', '-')}={text}" for name, text in IN_OPTIONS.items()]


def blank(out: Path, *arguments: str) -> dict[str, bytes]:
    """Run `handoff blank` and read what it wrote, by relative name."""
    assert cli.main(["blank", *arguments, "--out", str(out)]) == cli.DONE
    return content(out)


@pytest.fixture(scope="module")
def of_ward(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    return blank(tmp_path_factory.mktemp("ward") / "out", *WARD)


@pytest.fixture(scope="module")
def of_unit(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """The same with the page of the unit instead of the patients' pages."""
    return blank(tmp_path_factory.mktemp("unit") / "out", *WARD, "--for", "unit")


# starters


@pytest.mark.parametrize("name", ["blank.yaml", "blank.csv", "blank.xlsx"])
@pytest.mark.parametrize("arguments", [[*GIVEN], [*GIVEN, "--patients", "8"]])
def test_a_starter_passes_the_checks_and_tells_of_nobody(
    tmp_path: Path, name: str, arguments: list[str]
) -> None:
    files = blank(tmp_path / "out", *arguments)
    assert set(files) == {"blank.yaml", "blank.csv", "blank.xlsx", "blank.pdf"}
    assert cli.main(["check", str(tmp_path / "out" / name)]) == cli.DONE
    log = log_of(as_text(files[name], name), name)
    assert (log.patients, log.entries, log.set_aside) == ((), (), ())
    assert {each.severity for each in log.findings} == {Severity.NOTE}
    assert log.unit.name == "Harbour 3 East"


@pytest.mark.parametrize("name", ["blank.yaml", "blank.csv", "blank.xlsx"])
def test_all_that_is_wrong_with_a_starter_of_examples_is_that_they_are_left(
    tmp_path: Path, name: str
) -> None:
    starter = as_text(blank(tmp_path / "out")[name], name)
    log, findings = check_text(starter, name)
    assert log is None
    errors = [each for each in findings if each.severity is not Severity.NOTE]
    assert [(each.code, each.raw) for each in errors] == [
        ("example-left", example) for example in EXAMPLES.values()
    ]
    assert all(example in starter for example in EXAMPLES.values())


def test_no_example_can_be_true() -> None:
    """A time zone that exists is read, whatever it is called; the example is the name of none."""
    assert EXAMPLES["time_zone"] not in available_timezones()
    log = log_of(night(unit="unit: {name: East, time_zone: Etc/UTC}\n"))
    assert log.unit.time_zone.key == "Etc/UTC"


def filled_in(text: str) -> str:
    """The YAML starter with one patient and one entry typed into it."""
    for key, value in (("id", '"10442"'), ("name", "Larkspur"), ("born", "1958-04-02")):
        text = re.sub(rf"^([- ] {key}:) +(?=#.*(id|name|date))", rf"\1 {value}  ", text, flags=re.M)
    text = re.sub(r"^(  bed:) ", r"\1 12A ", text, flags=re.M)
    return text.replace("{patient: , at: ,", '{patient: "10442", at: 19:40,').replace(
        "breaths: , volume", "breaths: 8, volume"
    )


def test_a_starter_that_is_filled_in_is_a_log(tmp_path: Path) -> None:
    log = log_of(filled_in(blank(tmp_path / "out", *GIVEN)["blank.yaml"].decode()))
    assert log.findings == ()
    assert [(each.id, each.name, each.bed) for each in log.patients] == [
        ("10442", "Larkspur", "12A")
    ]
    assert [each.breaths for each in log.entries] == [8]


@pytest.mark.parametrize("left", ["unit", "time_zone", "shift"])
def test_an_example_that_is_left_is_never_handed_over(tmp_path: Path, left: str) -> None:
    told = [
        f"--{name.replace('_', '-')}={text}" for name, text in IN_OPTIONS.items() if name != left
    ]
    text = filled_in(blank(tmp_path / "out", *told)["blank.yaml"].decode())
    log, findings = check_text(text)
    assert log is None
    examples = {each.raw for each in findings if each.code == "example-left"}
    assert examples == {text for name, text in EXAMPLES.items() if name.startswith(left)}


def carried_by(name: str, starter: bytes) -> Log:
    """The log that a starter with the patients of another log is."""
    given = {"shift": IN_OPTIONS["shift"]}
    log, findings = check_text(as_text(starter, name), name, given)
    assert log is not None, findings
    assert log.entries == ()
    return log


@settings(max_examples=few(30))
@given(st.lists(PATIENTS, max_size=4, unique_by=lambda each: each.id))
def test_patients_are_carried_as_they_are(patients: list[Patient]) -> None:
    carried = Blank(UNIT, 0, before=NIGHT, patients=tuple(patients))
    for name, starter in (
        ("night.yaml", starter_yaml(carried, words(ZONE).say)),
        ("night.csv", starter_csv(carried)),
    ):
        log = carried_by(name, starter)
        assert [replace(each, place=NOWHERE) for each in log.patients] == patients


@settings(max_examples=10)
@given(st.lists(PATIENTS, max_size=4, unique_by=lambda each: each.id))
def test_patients_are_carried_in_a_workbook_too(patients: list[Patient]) -> None:
    starter = starter_xlsx(Blank(UNIT, 0, before=NIGHT, patients=tuple(patients)))
    log = carried_by("night.xlsx", starter)
    assert [replace(each, place=NOWHERE) for each in log.patients] == patients


def test_a_blank_workbook_offers_words_and_spoils_nothing_that_is_typed(
    of_ward: dict[str, bytes],
) -> None:
    workbook = load_workbook(BytesIO(of_ward["blank.xlsx"]))
    table = workbook["Log"]
    columns = {str(cell.value): str(cell.column_letter) for cell in table["1"]}
    text = {
        name for name, at in columns.items() if table.column_dimensions[at].number_format == "@"
    }
    assert {"patient_id", "name", "born", "bed", "at", "until", "taught", "note"} <= text
    assert text.isdisjoint({"breaths", "volume_ml", "spo2", "temp_c", "weight_kg"})
    offered = {
        str(each.sqref).partition("2:")[0]: (each.type, each.formula1)
        for each in table.data_validations.dataValidation
    }
    assert offered[columns["flow"]] == ("list", '"steady,fast,slow,blew"')
    assert offered[columns["on_oxygen"]] == ("list", '"yes,no"')
    assert columns["note"] not in offered
    assert workbook.properties.modified == datetime(2000, 1, 1)  # noqa: DTZ001 - as it is read


@pytest.mark.parametrize("name", ["blank.yaml", "blank.csv", "blank.xlsx"])
def test_the_times_of_the_next_shift_are_left_to_fill_in(
    of_ward: dict[str, bytes], name: str
) -> None:
    text = as_text(of_ward[name], name)
    log, findings = check_text(text, name)
    assert log is None
    errors = [each for each in findings if each.severity is Severity.ERROR]
    assert [(each.code, each.field) for each in errors] == [
        ("missing-shift", "shift_start"),
        ("missing-shift", "shift_end"),
    ]
    given = {"shift": "2026-03-07T19:00/2026-03-08T07:00"}
    log = log_of(text, name, given)
    assert len(log.patients) == 21
    assert not [each for each in log.findings if each.severity is Severity.ERROR]


def test_every_field_has_its_hint_and_its_range(tmp_path: Path) -> None:
    text = blank(tmp_path / "out")["blank.yaml"].decode()
    for field in FIELDS:
        key = field.path.rpartition(".")[2]
        (hint,) = re.findall(rf"^(?:[- ] |#|   ) *{key}\b.*", text, flags=re.M)[:1]
        assert all(word in text for word in field.choices)
        if field.kind in {Kind.NUMBER, Kind.WHOLE}:
            assert f"{field.high:,.0f}" in text
        assert hint


# pages


def pages_of(content: bytes) -> Read:
    read = read_pdf(content)
    assert read.embedded
    return read


@pytest.mark.parametrize(("arguments", "pages"), [([], 1), (["--patients", "8"], 8)])
def test_there_is_a_page_for_each_patient(tmp_path: Path, arguments: list[str], pages: int) -> None:
    read = pages_of(blank(tmp_path / "out", *arguments)["blank.pdf"])
    assert len(read.pages) == pages
    for number, text in enumerate(read.pages, start=1):
        assert f"page {number} of {pages}" in text
        assert "EXAMPLE" not in text
        assert "2000" not in text


def test_a_page_has_a_column_for_each_field_its_words_and_the_cautions(tmp_path: Path) -> None:
    (text,) = pages_of(blank(tmp_path / "out")["blank.pdf"]).pages
    for field in fields_of(Section.ENTRY):
        if field.name != "patient_id":
            assert words(ZONE).say(f"blank.column.{field.name}") in text
        for word in field.choices:
            assert word.replace("_", " ") in text
    for field in fields_of(Section.PATIENT):
        label = words(ZONE).say(f"blank.label.{field.name}")
        assert (label in text) == (field.name not in SELDOM_ORDERED)
    assert "Stop and rest when dizzy" in text
    assert "A blank means not recorded, never no" in text


def test_a_part_that_few_orders_have_is_printed_where_it_is_known() -> None:
    own = order(spo2_max=92, usual_symptoms=(Symptom.CONFUSED, Symptom.COUGH))
    known = Blank(UNIT, 0, before=NIGHT, patients=(patient(order=own),))
    (text,) = pages_of(draw_blank(compose_patient_blanks(known, words(ZONE)), document())).pages
    assert "SpO2 at most (%) 92" in text
    assert "Usual symptoms confused, cough" in text
    assert "Pulse at most" not in text


def test_a_page_says_that_a_patient_is_a_child_and_that_comfort_care_is_ordered() -> None:
    child = patient(born=date(2020, 1, 5), order=order(comfort_care=True))
    known = Blank(UNIT, 0, before=NIGHT, patients=(child, patient(id="2")))
    pages = compose_patient_blanks(known, words(ZONE))
    said = "COMFORT CARE ORDERED A CHILD: children's chart"
    assert [page.alert for page in pages] == [said, ""]
    assert [row.alert for row in compose_unit_blank(known, words(ZONE)).rows] == [said, ""]


def test_a_page_has_the_order_in_force_when_the_shift_ends_and_the_later_one_beside_it() -> None:
    later = order("+1 08:00", breaths=5, goal_ml=900, comfort_care=True, spo2_min=85)
    first = order("-1 08:00", goal_ml=1500, spo2_min=88)
    known = after(order=later, earlier_orders=(first,))
    said = (
        "LATER ORDER: from 13 May 08:00: 5 breaths every hour (goal 900 mL, SpO2 at least 85 %, "
        "comfort care)"
    )
    (page,) = compose_patient_blanks(known, words(ZONE))
    facts = {each.label: each.value for each in page.facts}
    assert facts["Order from"] == "11 May 2026 08:00"
    assert (facts["Goal (mL)"], facts["SpO2 at least (%)"]) == ("1,500", "88")
    assert (page.alert, page.later) == ("", said)
    assert said in " ".join(text_of(known).split())
    (row,) = compose_unit_blank(known, words(ZONE)).rows
    assert row.alert == ""
    assert row.warning.endswith(said)
    # Begun during the shift, it is in force when the shift ends.
    known = after(order=replace(later, start=order("17:00").start), earlier_orders=(first,))
    (page,) = compose_patient_blanks(known, words(ZONE))
    assert (page.alert, page.later) == ("COMFORT CARE ORDERED", "")


def test_a_page_of_a_known_patient_has_identity_order_alert_and_whence(
    of_ward: dict[str, bytes],
) -> None:
    read = pages_of(of_ward["blank.pdf"])
    (text,) = (page for page in read.pages if "Harrowell, Joanne" in page)
    for said in ("Bed 8B", "Id 00718", "NAME ALERT: another patient has a similar name (bed 5A)"):
        assert said in text
    assert "Printed from the log of 7 Mar 2026 07:00 to 7 Mar 19:00" in text
    assert "Goal (mL) 1," in text
    assert "Harrowell, Joan " not in text


def test_precautions_stand_on_the_page_whole() -> None:
    said = " ".join(f"careful{number}" for number in range(45))
    known = Blank(UNIT, 0, before=NIGHT, patients=(patient(precautions=said),))
    text = pages_of(draw_blank(compose_patient_blanks(known, words(ZONE)), document()))
    assert f"Precautions {said} Sex" in " ".join(text.pages[0].split())


@pytest.mark.parametrize("paper", PAPERS)
def test_every_column_has_room_for_its_title_and_the_note_for_words(paper: str) -> None:
    known = Blank(UNIT, 1, before=NIGHT)
    width = max(PAPERS[paper]) - 2 * MARGIN_PT
    for page in pages(known):
        edges = BlankTable(TYPESETTER, page.columns, width, page.tick_box)._edges
        assert edges[-1] == pytest.approx(width)
        for column, left, right in zip(page.columns, edges, edges[1:], strict=False):
            assert right - left >= width_of_widest(column.title)
        assert page.columns[-1].name == "note"
        assert edges[-1] - edges[-2] >= 90


def width_of_widest(title: str) -> float:
    return max(TYPESETTER.width_of(word, SMALL_BOLD) for word in title.split())


def test_the_page_of_the_unit_has_every_ordered_patient_once(of_unit: dict[str, bytes]) -> None:
    read = pages_of(of_unit["blank.pdf"])
    everything = " ".join(read.pages)
    handed_over = log_of(Path(WARD[-1]).read_text(encoding="utf-8"))
    left = {each.patient_id for each in handed_over.entries if each.what is What.LEFT}
    for each in handed_over.patients:
        if each.order is not None and each.id not in left:
            assert f"id {each.id} " in everything
    rows = everything.index("Bed Patient Time")  # after the box of what is open
    assert everything.index("1A", rows) < everything.index("9A", rows)
    assert everything.count("NAME ALERT") == 2


def test_two_runs_give_the_same_bytes(of_ward: dict[str, bytes], tmp_path: Path) -> None:
    assert blank(tmp_path / "again", *WARD) == of_ward


def test_a_workbook_does_not_tell_on_which_system_it_was_made(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    made = workbook_bytes("night", FIELDS, [])
    monkeypatch.setattr("sys.platform", "win32")
    assert workbook_bytes("night", FIELDS, []) == made


def test_pages_have_no_error_prone_abbreviation(
    of_ward: dict[str, bytes], of_unit: dict[str, bytes], tmp_path: Path
) -> None:
    for files in (blank(tmp_path / "empty"), of_ward, of_unit):
        text = " ".join(pages_of(files["blank.pdf"]).pages)
        for name in ("do-not-use abbreviation", "trailing zero", "no leading zero"):
            assert FORBIDDEN[name].search(text) is None, name


LONG = st.text(st.characters(exclude_categories=["Cs"]), max_size=200)
LONGEST = st.text(st.characters(exclude_categories=["Cs"]), max_size=500)
LONG_PATIENTS = st.builds(
    lambda name, bed, reason, precautions: patient(
        name=name, bed=bed, reason=reason, precautions=precautions
    ),
    *(LONG, LONG, LONG, LONGEST),
)


def pages(blank: Blank) -> tuple[BlankPage, ...]:
    said = words(ZONE)
    return (*compose_patient_blanks(blank, said), compose_unit_blank(blank, said))


@settings(max_examples=few(10), phases=(Phase.explicit, Phase.reuse, Phase.generate))
@given(LONG_PATIENTS, st.sampled_from(sorted(PAPERS)))
def test_whatever_the_log_holds_nothing_is_cut_or_off_the_page(of: Patient, paper: str) -> None:
    known = Blank(UNIT, 0, before=NIGHT, patients=(of,), name_alerts={of.id: ("5",)})
    read = pages_of(draw_blank(pages(known), document(paper)))
    hold_to_the_page(read, paper)
    own = f"{of.name} {of.bed} {of.reason} {of.precautions}"
    assert "…" in own or "…" not in read.pages[0]


# what is open

TOLD_NOTE = "Dr P. Marwood by phone: coming now, oxygen by mask, nothing by mouth until seen"
LOW = entry("08:00", spo2=84, on_oxygen=False)
HELD = entry("06:45", what="hold", note="Dr P. Marwood: until the film is read")


def told(clock: str, about: str, note: str = TOLD_NOTE) -> Entry:
    return entry(clock, what="told", about=tuple(about.split()), note=note)


def after(*rows: Entry, **fields: object) -> Blank:
    """The log after a shift with these rows, of a patient whose order began the day before."""
    of = patient(**{"order": order("-1 08:00"), **fields})
    return blank_after(results(handover(*rows, patients=(of,))))


def pdf_of(blank: Blank, *, for_unit: bool = False, paper: str = "letter") -> bytes:
    said = words(ZONE)
    composed = (compose_unit_blank(blank, said),) if for_unit else None
    return draw_blank(composed or compose_patient_blanks(blank, said), document(paper))


def text_of(blank: Blank, *, for_unit: bool = False) -> str:
    return " ".join(read_pdf(pdf_of(blank, for_unit=for_unit)).pages)


def yaml_of(blank: Blank) -> str:
    said = words(ZONE)
    return starter_yaml(blank, said.say, open_comments(blank, said)).decode()


def comments_of(text: str) -> str:
    """The comments under who a patient is, each line of which must be one, on one line."""
    found = [line.strip() for line in text.partition("entries:")[0].splitlines() if "  # " in line]
    return " ".join(line.removeprefix("# ") for line in found if line.startswith("# "))


ALL_KINDS = (
    entry("-1 10:00", volume_ml=2000, flow="steady"),
    entry(
        "-1 20:00",
        "dizzy faint chest_pain drowsy confused",
        spo2=84,
        resp_rate=30,
        pulse=140,
        temp_c=34.5,
        on_oxygen=False,
        volume_ml=900,
        flow="steady",
    ),
    told("-1 20:30", "all", 2 * TOLD_NOTE),
    told("09:15", "", 2 * TOLD_NOTE),
)


def most_open(**fields: object) -> Blank:
    """Twelve matters at once, more than there are kinds of, on hold too."""
    most = after(*ALL_KINDS, HELD, precautions="flat, spine not cleared", **fields)
    ((key, known),) = most.still_open.items()
    matters = (*known.matters, *known.matters)[:12]
    assert len(matters) == 12
    return replace(most, still_open={key: replace(known, matters=matters)})


def test_what_is_open_stands_in_a_box_with_what_would_close_it() -> None:
    text = text_of(after(LOW, precautions="flat, spine not cleared"))
    for said in (
        "Precautions flat, spine not cleared",
        "Open at 12 May 19:00, by the logs given",
        "NO EXERCISE Ask the provider before the exercise goes on.",
        "NOT TOLD Low oxygen. From day, 12 May 08:00: SpO2 84 % at 08:00, on air",
        "Not measured since.",
        "To close: Tell the provider and record it (about: oxygen); measure SpO2 again",
        "Told the provider about: oxygen all other whom, when, what was said:",
    ):
        assert said in text
    assert text.index("flat, spine") < text.index("NO EXERCISE") < text.index("NOT TOLD")


def test_what_was_told_is_there_word_for_word_and_marked() -> None:
    blank = after(LOW, told("08:10", "oxygen"))
    text, comments = text_of(blank), comments_of(yaml_of(blank))
    assert "NOT TOLD" not in text
    assert "TOLD Low oxygen." in text
    assert "OPEN, TOLD: Low oxygen." in comments
    for said in (text, comments):
        assert f'Told 12 May 08:10: "{TOLD_NOTE}".' in said
        assert "To close: Measure SpO2 again" in said
        assert "ask the provider before the exercise goes on" in said.lower()


def test_what_was_settled_and_not_told_is_there_and_keeps_nobody_from_the_exercise() -> None:
    blank = after(LOW, entry("10:00", spo2=96, on_oxygen=False))
    text, comments = text_of(blank), comments_of(yaml_of(blank))
    assert "NOT TOLD Low oxygen." in text
    assert comments.startswith("SETTLED, NOT TOLD: Low oxygen.")
    for said in (text, comments):
        assert "Then 96 % at 12 May 10:00, on air. Settled by what is charted." in said
        assert "To close: Tell the provider and record it (about: oxygen)." in said
        assert "NO EXERCISE" not in said
    assert "Spread the breaths out" in text


def test_what_is_closed_is_not_carried() -> None:
    closed = after(LOW, told("08:10", "oxygen"), entry("10:00", spo2=96, on_oxygen=False))
    assert "Low oxygen" not in text_of(closed) + yaml_of(closed)
    assert "TOLD" not in text_of(closed) + text_of(closed, for_unit=True)
    assert "Low oxygen" not in comments_of(yaml_of(closed))


def test_an_exercise_on_hold_is_said_before_all_else() -> None:
    blank = after(HELD, LOW)
    why = 'Held since 12 May 06:45. "Dr P. Marwood: until the film is read". Ask before it goes on.'
    text, comments = text_of(blank), comments_of(yaml_of(blank))
    assert f"NO EXERCISE {why}" in text
    assert comments.startswith(f"NO EXERCISE: {why}")
    assert f"NO EXERCISE 12A Larkspur, Odile, id 10442. {why}" in text_of(blank, for_unit=True)
    assert text.index("Held since") < text.index("Low oxygen")


def test_an_old_hold_is_asked_about() -> None:
    blank = after(entry("-1 09:00", what="hold", note="Dr P. Marwood: film"))
    for said in (text_of(blank), comments_of(yaml_of(blank))):
        assert re.search(r"NO EXERCISE:? Held since 11 May 09:00: does it still stand\?", said)


@pytest.mark.parametrize(
    ("rows", "coached"),
    [([], True), ([HELD], False), ([LOW], False), ([LOW, told("08:10", "oxygen")], False)],
)
def test_nobody_is_coached_while_the_exercise_is_held_back(
    rows: list[Entry], coached: bool
) -> None:
    text = text_of(after(*rows))
    assert ("Spread the breaths out" in text) == coached
    assert ("No exercise now: ask before it goes on" in text) != coached
    unit = text_of(after(*rows), for_unit=True)
    assert ("NO EXERCISE" in unit) != coached


def test_the_page_of_the_unit_lists_it_and_warns_under_the_row() -> None:
    text = text_of(after(HELD, LOW, precautions="flat, spine not cleared"), for_unit=True)
    assert "NOT TOLD 12A Larkspur, Odile, id 10442. Low oxygen. From day, 12 May 08:00:" in text
    warning = "HELD, NO EXERCISE. OPEN: low oxygen, not told. PRECAUTIONS: flat, spine not cleared"
    assert warning in text
    assert text.count("NOT TOLD") == 1
    assert "OPEN" not in text_of(after(), for_unit=True)


def test_a_patient_whose_order_has_ended_is_carried_while_something_is_open() -> None:
    ended = patient(order=None)
    given = after(LOW)
    (known,) = given.still_open.values()
    carried = replace(given, patients=(ended,), still_open={ended.id: known})
    for for_unit in (False, True):
        assert "Low oxygen" in text_of(carried, for_unit=for_unit)
        assert "Larkspur" not in text_of(replace(carried, still_open={}), for_unit=for_unit)


def test_none_is_the_first_word_of_the_symptoms() -> None:
    assert "Symptoms: none (asked, and none), dizzy, tingling" in text_of(after())
    key, cells = 2, 14  # twice in the key, and a box in each row to write on
    assert text_of(after()).count("none") == key + cells


def test_the_boxes_for_the_provider_have_the_words_of_what_is_open_and_no_others() -> None:
    text = text_of(after(LOW, entry("09:00", "chest_pain", pulse=140)))
    assert "Told the provider about: oxygen pulse chest pain all other whom, when" in text


def test_what_the_logs_given_do_not_tell_is_said(tmp_path: Path) -> None:
    unknown = "No log of this stay before 7 Mar 07:00 is given: what was open then is not known"
    for name, arguments in (("patients", []), ("unit", ["--for", "unit"])):
        one = blank(tmp_path / name, WARD[-1], *arguments)
        assert unknown in " ".join(read_pdf(one["blank.pdf"]).pages)
    assert unknown in comments_of(one["blank.yaml"].decode())
    gap = blank(tmp_path / "gap", *[each for each in WARD if "05-" not in each])
    missing = "No log of 5 Mar 07:00 to 6 Mar 07:00: what happened then is not known here."
    for said in (
        " ".join(read_pdf(gap["blank.pdf"]).pages),
        comments_of(gap["blank.yaml"].decode()),
    ):
        assert missing in said


def test_earlier_logs_of_the_stay_are_read_and_the_latest_is_carried(tmp_path: Path) -> None:
    files = blank(tmp_path / "out", *reversed(WARD))
    text = " ".join(read_pdf(files["blank.pdf"]).pages)
    assert "Printed from the log of 7 Mar 2026 07:00 to 7 Mar 19:00" in text
    (page,) = (each for each in read_pdf(files["blank.pdf"]).pages if "Bed 3A" in each)
    assert "TOLD Low oxygen. From night, 6 Mar 19:16: SpO2 90 %" in page
    assert "OPEN, TOLD: Low oxygen. From night, 6 Mar 19:16: SpO2 90 %" in comments_of(
        files["blank.yaml"].decode()
    )


def test_the_units_own_limits_are_in_force(
    of_ward: dict[str, bytes], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    own = tmp_path / "own.yaml"
    own.write_text(
        "approved_by: Dr T. Quill\napproved_on: 2026-03-01\n"
        'rules:\n  low-oxygen:\n    limits: {spo2_at_or_under: {value: 94, unit: "%"}}\n'
    )
    usual = of_ward["blank.yaml"].decode()
    stricter = blank(tmp_path / "own", *WARD, "--limits", str(own))["blank.yaml"].decode()
    assert usual.count(": Low oxygen.") < stricter.count(": Low oxygen.")
    own.write_text("rules: {no-such-rule: off}\n")
    arguments = ["blank", *WARD, "--limits", str(own), "--out", str(tmp_path / "bad")]
    assert cli.main(arguments) == cli.NOTHING_PRODUCED
    assert "own.yaml" in capsys.readouterr().err
    assert not (tmp_path / "bad").exists()


HOSTILE = st.text(
    st.sampled_from(
        "ab #:-'\"{}[]&*!|>%@`\\\n\r\t\0\x07\x1b\x7f\x85\u2028\u2029\ufeff\u202e…\ud800"
    ),
    min_size=1,
    max_size=60,
)


@settings(max_examples=few(25), phases=(Phase.explicit, Phase.reuse, Phase.generate))
@given(HOSTILE)
def test_whatever_a_log_holds_a_comment_stays_one(note: str) -> None:
    blank = after(LOW, told("08:10", "oxygen", note), replace_note(HELD, note))
    said = words(ZONE)
    with_comments = starter_yaml(blank, said.say, open_comments(blank, said)).decode()
    without = starter_yaml(blank, said.say).decode()
    kept = [line for line in with_comments.splitlines() if not line.startswith("  # ")]
    assert kept == without.splitlines()
    given = {"shift": IN_OPTIONS["shift"]}
    (log, found), (plain, usual) = (
        check_text(text, "night.yaml", given) for text in (with_comments, without)
    )
    assert log is not None
    assert plain is not None
    assert [each.code for each in found] == [each.code for each in usual]
    assert len(log.patients) == 1
    assert log.entries == ()


def replace_note(row: Entry, note: str) -> Entry:
    return replace(row, note=note)


KINDS: tuple[dict[str, Any], ...] = (
    {"spo2": 84, "on_oxygen": False},
    {"spo2": 97, "on_oxygen": False},
    {"resp_rate": 30},
    {"resp_rate": 16},
    {"pulse": 140},
    {"temp_c": 34.0},
    {"symptoms": "faint drowsy"},
    {"symptoms": "dizzy chest_pain"},
    {"symptoms": "none"},
    {"what": "told", "about": ("all",), "note": TOLD_NOTE},
    {"what": "told", "about": ("oxygen",), "note": TOLD_NOTE},
    {"what": "settled", "about": ("all",), "note": "Dr P. Marwood: over"},
    {"what": "hold", "note": "Dr P. Marwood: film"},
    {"what": "resume", "note": "Dr P. Marwood"},
)


@st.composite
def wards(draw: st.DrawFn) -> Handover:
    """A few patients, each with some rows of the shift and the day before, told, settled or not."""
    rows: list[Entry] = []
    patients = []
    for number in range(draw(st.integers(1, 4))):
        key = f"1{number:04}"
        patients.append(patient(id=key, bed=f"{number}A", order=order("-1 08:00")))
        course = st.tuples(st.integers(0, 35 * 6), st.sampled_from(KINDS))
        for tens, kind in draw(st.lists(course, max_size=7)):
            fields = dict(kind)
            row = entry("-1 08:00", fields.pop("symptoms", ""), patient_id=key, **fields)
            rows.append(replace(row, at=row.at + timedelta(minutes=10 * tens)))
    return handover(*rows, patients=tuple(patients))


@settings(max_examples=few(12), phases=(Phase.explicit, Phase.reuse, Phase.generate))
@given(wards())
def test_all_that_is_open_of_a_ward_stands_on_its_pages_and_in_its_log(given: Handover) -> None:
    found = results(given)
    blank, said = blank_after(found), words(ZONE)
    pages = read_pdf(pdf_of(blank)).pages
    unit, comments = text_of(blank, for_unit=True), open_comments(blank, said)
    for key, verdicts in found.verdicts.items():
        own = " ".join(page for page in pages if f"Id {key}" in page)
        in_yaml = " ".join(comments[key])
        expected = [each for each in verdicts.matters if each in verdicts.open_matters]
        for each in expected:
            assert each.state is not MatterState.CLOSED
            title = said.say(f"{each.rule}.title", **{**found_by(each.verdict), "signs": True})
            for text in (own, in_yaml):
                assert f"{title}. From" in text
            assert f", id {key}. {title}. From" in unit
        assert own.count("To close:") == len(expected)
        assert in_yaml.count("To close:") == len(expected)
        held = found.measures[key].hold is not None or verdicts.holds_back
        assert ("NO EXERCISE" in own) == held == ("NO EXERCISE" in in_yaml)


WIDE = "Wj" * 100


@pytest.mark.parametrize("paper", sorted(PAPERS))
@pytest.mark.parametrize("for_unit", [False, True])
@pytest.mark.parametrize(
    "more",
    [
        {},
        {"name": "Featherstonehaugh-Cholmondeley, " * 6, "precautions": "flat, not cleared " * 27},
        {"name": WIDE, "bed": WIDE, "reason": WIDE, "precautions": "W" * 500},
    ],
    ids=["usual", "long", "widest"],
)
def test_twelve_matters_fit_whatever_else_there_is(
    paper: str, for_unit: bool, more: dict[str, Any]
) -> None:
    blank = most_open()
    (of,) = blank.patients
    blank = replace(blank, patients=(replace(of, **more),), name_alerts={of.id: ("5", "6")})
    read = read_pdf(pdf_of(blank, for_unit=for_unit, paper=paper))
    hold_to_the_page(read, paper)
    everything = " ".join(read.pages)
    assert everything.count("To close:") == 12
    assert len(re.findall(r"\bTOLD (?:\S+ .{0,250}?id 10442\. )?[A-Z]", everything)) >= 12
    assert "Ask before it goes on." in everything
    assert for_unit or "Breaths ordered 10" in everything
    assert everything.count("Told the provider about:") == (0 if for_unit else 1)
    (writes,) = (each for each in read.pages if "Seen by" in each)
    assert "NO EXERCISE" in writes


def hold_to_the_page(read: Read, paper: str) -> None:
    """No text is off the page, too small or over another."""
    wide, high = max(PAPERS[paper]), min(PAPERS[paper])
    for page in read.pieces:
        for piece in page:
            left, bottom, right, top = piece.box
            assert piece.size >= SMALL_PT
            assert left >= MARGIN_PT - 1
            assert right <= wide - MARGIN_PT + 1
            assert bottom >= MARGIN_PT - 1
            assert top <= high - MARGIN_PT + 1
        assert list(overlaps(page)) == []


@pytest.mark.parametrize("paper", sorted(PAPERS))
def test_the_page_of_a_unit_of_thirty_has_all_of_it(paper: str) -> None:
    most = most_open()
    (of,), (known,) = most.patients, most.still_open.values()
    many = tuple(
        replace(of, id=f"1{number:04}", bed=f"{number}A", name="Larkspur, Odile")
        for number in range(30)
    )
    known = replace(known, matters=known.matters[:4])
    blank = replace(most, patients=many, still_open={each.id: known for each in many})
    read = read_pdf(pdf_of(blank, for_unit=True, paper=paper))
    hold_to_the_page(read, paper)
    everything = " ".join(read.pages)
    assert everything.count("To close:") == 4 * 30
    for each in many:
        assert everything.count(f", id {each.id}.") == 5
    assert everything.count("PRECAUTIONS: flat, spine not cleared") == 30
    assert everything.count("HELD, NO EXERCISE.") == 30


def test_not_told_is_white_on_black_and_told_is_not() -> None:
    for rows, black in (([LOW], True), ([LOW, told("08:10", "oxygen")], False)):
        content = pdf_of(after(*rows))
        (page, *_), shown = read_pdf(content).pieces, grey(content)
        (mark,) = (each for each in page if each.text.strip() in {"NOT TOLD", "TOLD"})
        left, bottom, right, top = (round(edge * 200 / 72) for edge in mark.box)
        around = shown[len(shown) - top - 3 : len(shown) - bottom + 3, left - 3 : right + 3]
        assert (around.mean() < 128) == black
        assert mark.tone == (1 if black else 0)


def test_a_log_that_is_started_at_the_desk_says_the_same(tmp_path: Path) -> None:
    night = Path(WARD[-1]).read_text(encoding="utf-8")
    opened = start_desk(tmp_path, night)
    form = fields_of_form(opened.get("/logs/new").get_data(as_text=True), "/logs/new")
    page = opened.get("/logs/new").get_data(as_text=True)
    kept = re.findall(r'name="keep" value="(\w+)" checked', page)
    assert opened.post("/logs/new", {**form, "name": "day", "keep": kept}).status_code == 303
    (started,) = tmp_path.glob("*-day.yaml")
    made = blank(tmp_path / "out", WARD[-1])["blank.yaml"].decode()
    assert comments_of(started.read_text()) == comments_of(made)
    assert "OPEN, NOT TOLD: Drowsy." in comments_of(made)


# files and options


def test_files_are_the_owners_alone(tmp_path: Path) -> None:
    blank(tmp_path / "out")
    for path in [tmp_path / "out", *(tmp_path / "out").iterdir()]:
        assert stat.S_IMODE(path.stat().st_mode) == (0o700 if path.is_dir() else 0o600)


def test_a_log_that_may_be_filled_in_is_never_replaced(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    before = blank(out)
    assert cli.main(["blank", "--out", str(out)]) == cli.NOTHING_PRODUCED
    assert "other files" in capsys.readouterr().err
    assert cli.main(["sheets", WARD[-1], "--out", str(out)]) == cli.NOTHING_PRODUCED
    assert {path.name: path.read_bytes() for path in out.iterdir()} == before


def test_nor_is_a_set_of_sheets(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "measures.json").write_text("{}")
    assert cli.main(["blank", "--out", str(out)]) == cli.NOTHING_PRODUCED
    assert "other files" in capsys.readouterr().err
    assert [path.name for path in out.iterdir()] == ["measures.json"]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--time-zone", "Halifax"], "not the name of a time zone"),
        (["--shift", "tonight"], "not a start and an end"),
        (["missing.yaml"], "no such file"),
        (["--templates", "{tmp}"], "blank.yaml:1"),
    ],
)
def test_what_is_wrong_is_said_and_nothing_is_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], said: str
) -> None:
    (tmp_path / "blank.yaml").write_text("blank: {unknown: words}\n")
    filled = [each.replace("{tmp}", str(tmp_path)) for each in arguments]
    assert cli.main(["blank", *filled, "--out", str(tmp_path / "out")]) == cli.NOTHING_PRODUCED
    assert said in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("number", ["-1", "201", "eight", "1.5", "²"])
def test_so_many_patients_are_a_usage_error(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], number: str
) -> None:
    with pytest.raises(SystemExit) as raised:
        cli.main(["blank", f"--patients={number}", "--out", str(tmp_path / "out")])
    assert raised.value.code == cli.NOTHING_PRODUCED
    assert "from 0 to 200" in capsys.readouterr().err


def test_a_unit_s_own_words_are_printed(tmp_path: Path) -> None:
    (tmp_path / "blank.yaml").write_text("blank: {title: {patient: Bedside log}}\n")
    files = blank(tmp_path / "out", "--templates", str(tmp_path))
    assert "Bedside log" in pages_of(files["blank.pdf"]).pages[0]


@pytest.mark.parametrize("page_for", ["patients", "unit"])
def test_without_a_patient_there_is_still_a_page_to_write_on(tmp_path: Path, page_for: str) -> None:
    files = blank(tmp_path / "out", *GIVEN, "--patients", "0", "--for", page_for)
    (page,) = read_pdf(files["blank.pdf"]).pages
    assert "Harbour 3 East" in page


@pytest.mark.parametrize("for_unit", [False, True])
def test_a_log_to_fill_in_is_for_everyone_and_for_the_archive(*, for_unit: bool) -> None:
    """Each patient has a bookmark; an empty row is read aloud, and not all of them."""
    ward = tuple(patient(id=f"{n}", bed=f"{n}", order=order("-1 08:00")) for n in range(3))
    blank = blank_after(results(handover(entry("09:00", spo2=88), patients=ward)))
    content = pdf_of(blank, for_unit=for_unit)
    read = Tagged(content)
    assert [*faults(content), *structure_faults(read)] == []
    rows = [node for node in read.root.all() if node.role == "TR"]
    assert len(rows) == (1 + 3 + 1 if for_unit else 3 * (1 + 1))
    with pikepdf.open(BytesIO(content)) as pdf, pdf.open_outline() as outline:
        beds = [] if for_unit else ["Bed 0", "Bed 1", "Bed 2"]
        assert [item.title for item in outline.root] == beds

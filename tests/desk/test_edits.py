"""A change to a log's text is what was asked for, and nothing else."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handoff.desk.edits.change import Row, line_of, with_cells, with_entry, with_line, without_row
from handoff.desk.edits.failures import EditError
from handoff.log.fields import Section
from handoff.read import decode, parse
from tests.support.desks import EVENING_CSV, NIGHT
from tests.support.how_many import few
from tests.support.logs import SAMPLES

ENTRY = {"patient_id": "10442", "at": "22:10", "breaths": "9", "volume_ml": "1200"}
LOGS = {"night.yaml": NIGHT, "evening.csv": EVENING_CSV}
SAMPLE_LOGS = [
    *sorted((SAMPLES / "ward").iterdir()),
    SAMPLES / "2026-03-06-night.csv",
    SAMPLES / "messy.csv",
]


def text_of(path: Path) -> str:
    text, _ = decode(path.read_bytes()) or ("", "")
    return text


@pytest.mark.parametrize("name", LOGS)
def test_an_entry_is_added_behind_all_that_was_there(name: str) -> None:
    edited = with_entry(LOGS[name], name, {**ENTRY, "symptoms": "dizzy;chest_pain"})
    assert edited.startswith(LOGS[name])
    assert edited.count("\n") == LOGS[name].count("\n") + 1
    *before, added = parse(edited, name).entries
    assert tuple(before) == parse(LOGS[name], name).entries
    wanted = {**ENTRY, "symptoms": "dizzy;chest_pain"}
    assert {each: added.cells[each] for each in wanted} == wanted


def test_an_entry_is_written_as_the_guide_shows_one() -> None:
    edited = with_entry(NIGHT, "night.yaml", {**ENTRY, "symptoms": "dizzy", "note": "sat: up"})
    assert edited.removeprefix(NIGHT) == (
        '- {patient: "10442", at: 22:10, breaths: 9, volume_ml: 1200, symptoms: [dizzy], '
        'note: "sat: up"}\n'
    )


@pytest.mark.parametrize("line_end", ["\r\n", "\n", "\r"])
@pytest.mark.parametrize("last", [True, False])
@pytest.mark.parametrize("name", LOGS)
def test_line_ends_stay_those_of_the_log(name: str, line_end: str, last: bool) -> None:
    text = LOGS[name].replace("\r\n", "\n").replace("\n", line_end)
    text = text if last else text.removesuffix(line_end)
    added = with_entry(text, name, ENTRY).removeprefix(text)
    assert added.endswith(line_end)
    assert added.removesuffix(line_end).startswith(line_end) is not last


@settings(max_examples=few(40))
@given(note=st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=40))
def test_any_text_comes_back_as_it_was_typed_or_is_refused(note: str) -> None:
    for name, text in LOGS.items():
        try:
            edited = with_entry(text, name, {**ENTRY, "note": note})
        except EditError:
            # What a log of this kind cannot hold: signs that end a line or that YAML forbids.
            assert len(note.splitlines()) != 1 or not note.isprintable()
            continue
        assert parse(edited, name).entries[-1].cells["note"] == note


@pytest.mark.parametrize("path", SAMPLE_LOGS, ids=lambda path: path.name)
def test_every_cell_of_the_samples_can_be_changed_alone(path: Path) -> None:
    name, text = path.name, text_of(path)
    sheet = parse(text, name)
    for index, record in enumerate(sheet.entries):
        if record.broken or not record.cells or index % 30:
            continue
        for field in ("volume_ml", "at"):
            edited = with_cells(text, name, Row(Section.ENTRY, index), {field: "1234"})
            cells = [each.cells for each in parse(edited, name).entries]
            assert cells[index] == {**record.cells, field: "1234"}
            assert cells[:index] == [each.cells for each in sheet.entries[:index]]
            assert cells[index + 1 :] == [each.cells for each in sheet.entries[index + 1 :]]
            assert abs(len(edited) - len(text)) < 40
            assert edited.count("\n") == text.count("\n")


CHANGES = [
    ('- {patient: "10442", at: 19:40}', {"at": "19:45"}, '- {patient: "10442", at: 19:45}'),
    ('- {patient: "10442", at: }', {"at": "19:45"}, '- {patient: "10442", at: 19:45}'),
    ('- {patient: "10442"}', {"at": "19:45"}, '- {at: 19:45, patient: "10442"}'),
    ("- {}", {"at": "19:45"}, "- {at: 19:45}"),
    ("- {at: 1:1, note: 'it''s'}", {"note": "ok"}, '- {at: 1:1, note: "ok"}'),
    ("- at:\n  breaths: 3", {"at": "19:45"}, "- at: 19:45\n  breaths: 3"),
    ("- breaths: 3", {"at": "19:45"}, "- at: 19:45\n  breaths: 3"),
    ("- at: 1:1\n  symptoms:\n  - dizzy\n  pain: 3", {"symptoms": "faint"}, None),
    (
        "- at: 1:1\n  note: |\n    a\n    b\n  pain: 3",
        {"note": "c"},
        '- at: 1:1\n  note: "c"\n  pain: 3',
    ),
    ("- at: 1:1 # why\n  pain: 3 # how", {"pain": ""}, "- at: 1:1 # why\n  pain:  # how"),
]


@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
@pytest.mark.parametrize(("entry", "changes", "wanted"), CHANGES)
def test_a_yaml_cell_is_changed_where_it_stands(
    entry: str, changes: dict[str, str], wanted: str | None, line_end: str
) -> None:
    head = NIGHT.split("entries:")[0] + "entries:\n# first\n"
    text = f"{head}{entry}\n# last\n".replace("\n", line_end)
    edited = with_cells(text, "a.yaml", Row(Section.ENTRY, 0), changes)
    assert edited.count("\n") == edited.count(line_end)
    edited = edited.replace(line_end, "\n")
    assert edited.startswith(head)
    assert edited.endswith("\n# last\n")
    if wanted is not None:
        assert edited == f"{head}{wanted}\n# last\n"


def test_a_cell_of_a_group_is_changed_or_put_in() -> None:
    row = Row(Section.PATIENT, 0)
    edited = with_cells(NIGHT, "night.yaml", row, {"goal_ml": "1600", "device_given": "yes"})
    assert edited == NIGHT.replace("goal_ml: 1500", "goal_ml: 1600").replace(
        '- id: "10442"', '- device: {given: yes}\n  id: "10442"'
    )


def test_a_csv_cell_keeps_the_signs_around_it() -> None:
    edited = with_cells(EVENING_CSV, "a.csv", Row(Section.ENTRY, 1), {"volume_ml": "2500"})
    assert edited == EVENING_CSV.replace("25O0", "2500")
    edited = with_cells(EVENING_CSV, "a.csv", Row(Section.ENTRY, 0), {"note": '=a;"b"'})
    assert edited == EVENING_CSV.replace('"said ""fine""; sat up"', '"\'=a;""b"""')


def test_a_row_is_taken_out_whole() -> None:
    edited = without_row(NIGHT, "night.yaml", Row(Section.ENTRY, 0))
    assert edited == NIGHT.replace(
        '- {patient: "10442", at: 19:40, breaths: 8, volume_ml: 1100}   # the first\n', ""
    )
    edited = without_row(NIGHT + "# end\n", "night.yaml", Row(Section.ENTRY, 1))
    assert edited == NIGHT[: NIGHT.index('- patient: "00718"')] + "# end\n"
    again = EVENING_CSV + ";;;;10442;;;;;19:40;8;;;\r\n"
    assert without_row(again, "a.csv", Row(Section.ENTRY, 2)) == EVENING_CSV


def test_a_row_that_tells_of_the_unit_is_not_taken_out() -> None:
    with pytest.raises(EditError):
        without_row(EVENING_CSV, "a.csv", Row(Section.ENTRY, 0))


def test_a_line_is_replaced_with_its_end() -> None:
    assert line_of(EVENING_CSV, 3).startswith(";;;;00718")
    edited = with_line(EVENING_CSV, "a.csv", 3, ";;;;00718;;;;;20:10;10;2500;;")
    assert edited.splitlines(keepends=True)[2] == ";;;;00718;;;;;20:10;10;2500;;\r\n"
    with pytest.raises(EditError, match="could not be read"):
        with_line(NIGHT, "night.yaml", 2, "shift: {")


REFUSED = {
    "not the last part": NIGHT.replace("entries:", "x:", 1) + "entries: []\nunit2: {}\n",
    "between brackets": NIGHT.split("entries:")[0] + "entries: []\n",
    "one flow": "{unit: {name: A, time_zone: Etc/UTC}, patients: [], entries: [{at: 1:1}]}\n",
    "ended": NIGHT + "...\n",
    "not YAML": "unit: {",
}


@pytest.mark.parametrize("text", REFUSED.values(), ids=REFUSED)
def test_a_log_with_no_place_at_its_end_is_left_alone(text: str) -> None:
    with pytest.raises(EditError, match=r"\. "):
        with_entry(text, "night.yaml", ENTRY)


def test_a_csv_without_the_column_says_so() -> None:
    with pytest.raises(EditError, match="no column pain"):
        with_entry(EVENING_CSV, "a.csv", {**ENTRY, "pain": "3"})

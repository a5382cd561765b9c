"""Files become sheets: the same from YAML and CSV, whatever a spreadsheet made of the text."""

import codecs
import errno
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from handoff.log.fields import CSV_NAMES, FIELDS, Section, fields_of, match_header, nearest
from handoff.model.bounds import Bounds
from handoff.model.findings import Severity
from handoff.read import RawLog, Record, read
from handoff.read.from_csv import read_csv
from handoff.read.from_yaml import read_yaml
from tests.support.bad_logs import (
    AGAIN,
    ENTRY,
    HEADER,
    IN_OPTIONS,
    PATIENT,
    ROW,
    Found,
    night,
    table,
)
from tests.support.logs import found_in, log_of


def csv_sheet(text: str) -> RawLog:
    return read_csv(text, "night.csv", [])


def cells(sheet: RawLog) -> list[dict[str, str]]:
    return [filled(record) for record in sheet.entries]


def faults(sheet: RawLog) -> list[Found]:
    """What is found in a table that is too small to have names and birth dates."""
    return [found for found in found_in(sheet.findings) if found[2] != "missing-column"]


def filled(record: Record) -> dict[str, str]:
    return {name: cell for name, cell in record.cells.items() if cell}


# the file


@pytest.mark.parametrize(
    "encoded",
    [
        table(ROW.replace("Odile", "Zoë")).encode(),
        codecs.BOM_UTF8 + table(ROW.replace("Odile", "Zoë")).encode(),
        codecs.BOM_UTF16_LE + table(ROW.replace("Odile", "Zoë")).encode("utf-16-le"),
        codecs.BOM_UTF16_BE + table(ROW.replace("Odile", "Zoë")).encode("utf-16-be"),
    ],
    ids=["utf-8", "utf-8 with mark", "utf-16 little", "utf-16 big"],
)
def test_unicode_is_read_without_a_word(encoded: bytes, tmp_path: Path) -> None:
    path = tmp_path / "night.csv"
    path.write_bytes(encoded)
    sheet = read(str(path))
    assert sheet.findings == ()
    assert sheet.entries[0].cells["name"] == "Larkspur, Zoë"
    assert sheet.entries[0].cells["patient_id"] == "10442"


def test_a_log_that_powershell_wrote_is_read_as_the_one_it_was_made_from(tmp_path: Path) -> None:
    logs = tmp_path / "night.yaml", tmp_path / "redirected.yaml"
    logs[0].write_text(night(), encoding="utf-8")
    logs[1].write_bytes(night().replace("\n", "\r\n").encode("utf-16"))
    first, second = (read(str(log)) for log in logs)
    assert first.entries
    assert (second.findings, [each.cells for each in second.entries]) == (
        first.findings,
        [each.cells for each in first.entries],
    )


def test_windows_1252_is_read_and_said(tmp_path: Path) -> None:
    path = tmp_path / "night.yaml"
    path.write_bytes(night().replace("Odile", "Zoë").encode("windows-1252"))
    sheet = read(str(path))
    assert found_in(sheet.findings) == [(None, None, "encoding-assumed")]
    assert sheet.patients[0].cells["name"] == "Larkspur, Zoë"


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"", "empty-file"),
        (codecs.BOM_UTF8, "empty-file"),
        (b"\r\n \t\r\n", "empty-file"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "binary-file"),
        (b"%PDF-1.7\n%\xe2\xe3\x01\xcf\xd3\n", "binary-file"),
        (b"patient_id,at\n1\x81,19:40\n", "binary-file"),
        (table(ROW).encode("utf-16-le"), "nul-bytes"),
        (codecs.BOM_UTF16_LE + b"a\0b", "nul-bytes"),
    ],
)
def test_what_is_no_text_is_refused(content: bytes, code: str, tmp_path: Path) -> None:
    path = tmp_path / "night.csv"
    path.write_bytes(content)
    sheet = read(str(path))
    assert not sheet.usable
    assert [each.code for each in sheet.findings] == [code]


def test_a_file_over_the_limit_is_refused_and_one_at_it_is_read(tmp_path: Path) -> None:
    path = tmp_path / "night.csv"
    path.write_text(table(ROW))
    size_mb = path.stat().st_size / 2**20
    assert read(str(path), Bounds(size_mb=size_mb)).usable
    sheet = read(str(path), Bounds(size_mb=size_mb - 1 / 2**20))
    assert found_in(sheet.findings) == [(None, None, "file-too-large")]


@pytest.mark.parametrize(
    ("number", "code"),
    # Windows takes `*.yaml` for no name of a file: an invalid argument.
    [(errno.EACCES, "no-permission"), (errno.EINVAL, "no-such-file"), (errno.EIO, "cannot-read")],
)
def test_a_file_that_the_system_does_not_open_is_named(
    number: int, code: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, opened = tmp_path / "night.csv", Path.open

    def refuse(self: Path, *given: Any, **named: Any) -> object:
        if self == path:
            raise OSError(number, "why")
        return opened(self, *given, **named)

    path.write_text(table(ROW))
    monkeypatch.setattr(Path, "open", refuse)
    assert found_in(read(str(path)).findings) == [(None, None, code)]


def test_the_file_is_named_as_it_was_given(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "night.csv").write_text(table(ROW, "10442,,\n"))
    monkeypatch.chdir(tmp_path)
    sheet = read("./night.csv")
    assert sheet.file == "./night.csv"
    assert {each.place.file for each in sheet.findings} == {"./night.csv"}


# column names


@pytest.mark.parametrize(
    ("header", "name"),
    [
        ("volume_ml", "volume_ml"),
        ("Volume (mL)", "volume_ml"),
        ("VOLUME [ml]", "volume_ml"),
        ("  Volume-mL ", "volume_ml"),
        ("Volume\n(mL)", "volume_ml"),
        ("Volume_mL (mL)", "volume_ml"),
        ("Temp. (°C)", "temp_c"),
        ("Hold (sec)", "hold_s"),
        ("SpO₂ (%)", "spo2"),
        ("Pain (0-10)", "pain"),
        ("Patient ID", "patient_id"),
        ("order.start", "order_start"),
        ("Order every (h)", "order_every_h"),
        ("Volume (L)", None),
        ("Temp (F)", None),
        ("Height (in)", None),
        ("Volume", None),
        ("id", None),
        ("", None),
        ("(mL)", None),
    ],
)
def test_a_header_is_matched_but_for_case_spaces_dashes_and_its_own_unit(
    header: str, name: str | None
) -> None:
    assert match_header(header) == name


def test_every_name_of_the_contract_is_its_own_header() -> None:
    assert {match_header(name) for name in CSV_NAMES} == CSV_NAMES


def test_names_and_paths_are_unique_within_their_section() -> None:
    for attribute in ("name", "path"):
        keys = [(each.section, getattr(each, attribute)) for each in FIELDS]
        assert len(keys) == len(set(keys))


def test_a_wrong_name_gets_the_nearest_known_one() -> None:
    assert nearest("Volume", sorted(CSV_NAMES)) == "volume_ml"
    assert nearest("symptons", sorted(CSV_NAMES)) == "symptoms"
    assert nearest("zzz", sorted(CSV_NAMES)) is None
    sheet = csv_sheet(table(ROW.replace("\n", ",x\n"), header=HEADER.replace("\n", ",Puls\n")))
    (found,) = sheet.findings
    assert (found.code, found.place.column, found.raw) == ("unknown-field", "Puls", "Puls")
    assert "Did you mean pulse?" in found.fix
    assert sheet.entries[0].cells["Puls"] == "x"


def test_an_unknown_name_is_reported_once_and_where_it_is_met_first() -> None:
    entry = '- {patient: "10442", at: 19:40, breath: 8}\n'
    sheet = read_yaml(night(entry * 3), "night.yaml", [])
    assert found_in(sheet.findings) == [(14, "breath", "unknown-field")]


# rows


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
def test_delimiters_and_line_ends(delimiter: str, line_end: str) -> None:
    rows = [["patient_id", "at", "note"], ["1", "19:40", "a"], ["2", "19:50", '"b, c;\td"']]
    lines = [delimiter.join(row) for row in rows]
    sheet = csv_sheet(line_end.join(lines) + line_end)
    assert faults(sheet) == []
    assert [record.line for record in sheet.entries] == [2, 3]
    assert cells(sheet)[1] == {"patient_id": "2", "at": "19:50", "note": "b, c;\td"}
    assert sheet.decimal_comma is (delimiter != ",")


def test_a_comma_in_a_cell_does_not_make_the_delimiter() -> None:
    sheet = csv_sheet('patient_id;at;"note, if any"\n1;19:40;x\n')
    assert cells(sheet) == [{"patient_id": "1", "at": "19:40", "note, if any": "x"}]


def test_a_row_knows_the_line_it_starts_on() -> None:
    sheet = csv_sheet('patient_id,at,note\n1,19:40,"a\nb\n\nc"\n\n2,19:50,d\n')
    assert [record.line for record in sheet.entries] == [2, 6, 7]
    assert sheet.entries[0].cells["note"] == "a\nb\n\nc"


def test_text_is_kept_as_it_stands() -> None:
    sheet = csv_sheet('patient_id,at,note\n007,19:40,"NA ""x"" <b>&amp;</b> =1+1"\n')
    assert cells(sheet) == [
        {"patient_id": "007", "at": "19:40", "note": 'NA "x" <b>&amp;</b> =1+1'}
    ]


def test_a_lost_quotation_mark_costs_one_row() -> None:
    rows = [f"{number},19:{number},fine\n" for number in range(10, 20)]
    rows[3] = '13,19:13,"open\n'
    rows[7] = '17,19:17,"closed" too early\n'
    sheet = csv_sheet("patient_id,at,note\n" + "".join(rows))
    assert faults(sheet) == [(5, None, "unclosed-quote"), (9, None, "unclosed-quote")]
    assert [record.line for record in sheet.entries if record.broken] == [5, 9]
    assert len(sheet.entries) == 10
    assert sheet.entries[3].cells["at"] == "19:13"


def test_many_lost_quotation_marks_take_no_longer() -> None:
    sheet = csv_sheet("patient_id,at,note\n" + '1,19:40,"open\n' * 20_000)
    assert len(sheet.entries) == 20_000


def test_blank_cells_too_many_are_harmless() -> None:
    sheet = csv_sheet("patient_id,at\n1,19:40,,, \n")
    assert faults(sheet) == []
    assert cells(sheet) == [{"patient_id": "1", "at": "19:40"}]


def test_a_blank_cell_too_many_in_one_row_may_be_a_comma_that_shifts_it() -> None:
    """The comma of an unquoted name makes one cell more, and the last cell is blank."""
    sheet = csv_sheet("patient_id,name,at,note\n1,Larkspur, Odile,19:40,\n2,Quince,19:40,\n")
    assert faults(sheet) == [(2, None, "long-row")]
    assert [bool(record.broken) for record in sheet.entries] == [True, False]
    every = csv_sheet("patient_id,name,at,note\n1,Larkspur,19:40,,\n,,,\n2,Quince,19:40,,\n")
    assert faults(every) == []


def test_a_column_that_is_there_twice_is_compared_in_rows_with_blank_cells_too_many() -> None:
    sheet = csv_sheet("patient_id,at,pain,Pain\n1,19:40,6,7,\n")
    assert faults(sheet)[-1] == (2, "pain", "columns-disagree")


def test_rows_that_a_spreadsheet_put_into_one_cell_each() -> None:
    whole = csv_sheet('"patient_id,name,at"\n"1,""Larkspur, Odile"",19:40"\n')
    assert (whole.usable, found_in(whole.findings)) == (False, [(1, None, "row-in-one-cell")])
    rows = csv_sheet('patient_id,name,at\n"1,""Larkspur, Odile"",19:40"\n2,Quince,19:40\n')
    assert faults(rows) == [(2, None, "row-in-one-cell")]


def test_a_row_that_does_not_fit_keeps_every_cell() -> None:
    sheet = csv_sheet("patient_id,at,note\n1,19:40\n1,19:40,faint,dizzy\n")
    assert faults(sheet) == [(2, None, "short-row"), (3, None, "long-row")]
    assert filled(sheet.entries[1]) == {
        "patient_id": "1",
        "at": "19:40",
        "note": "faint",
        "column 4": "dizzy",
    }


def test_a_title_is_quoted_without_its_blank_cells_and_blank_cells_alone_are_none() -> None:
    sheet = csv_sheet("Breathing log;;\r\n;;\r\npatient_id;name;at\r\n1;Larkspur;19:40\r\n")
    assert [(each.code, each.place.line, each.raw) for each in sheet.findings] == [
        ("title-row", 1, "Breathing log")
    ]


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("DOB", "born"),
        ("Room", "bed"),
        ("Patient Name", "name"),
        ("Time", "at"),
        ("MRN", "patient_id"),
        ("O2 Sat", "spo2"),
        ("Comments", "note"),
        ("Best vol", "volume_ml"),
        ("HR", "pulse"),
    ],
)
def test_a_name_in_other_words_is_asked_about_and_not_read(written: str, meant: str) -> None:
    columns = [name for name in ("patient_id", "name", "at") if name != meant]
    sheet = csv_sheet(f"{','.join(columns)},{written}\n{'1,' * len(columns)}7\n")
    found = next(each for each in sheet.findings if each.code == "unknown-field")
    assert found.fix.endswith(f"Did you mean {meant}?")
    assert all(written in entry.cells and meant not in entry.cells for entry in sheet.entries)


@pytest.mark.parametrize("written", ["ROOM", "MRN", "Full name"])
def test_no_name_is_offered_that_another_column_has(written: str) -> None:
    sheet = csv_sheet(f"patient_id,name,bed,at,{written}\n1,Larkspur,12A,19:40,7\n")
    (found,) = sheet.findings
    assert (found.code, "mean" in found.fix) == ("unknown-field", False)


def test_two_columns_are_not_offered_one_name() -> None:
    sheet = csv_sheet("patient_id,name,at,Room,Bay\n1,Larkspur,19:40,7,8\n")
    assert ["mean bed?" in each.fix for each in sheet.findings] == [True, False]


@pytest.mark.parametrize(
    "line", ["| patient_id | at | breaths |", "patient_id   at   breaths", "patient_id|at|breaths"]
)
def test_a_table_whose_columns_are_otherwise_parted_is_told_from_one_without_names(
    line: str,
) -> None:
    sheet = csv_sheet(f"Hello\n\n{line}\n10442 19:40 8\n")
    assert faults(sheet) == [(3, None, "columns-not-parted")]
    assert not sheet.usable


def test_titles_above_and_headers_between_are_no_records() -> None:
    title = "Breathing log,,\nsep=;,,\n\n"
    sheet = csv_sheet(f"{title}patient_id,at,note\n1,19:40,\npatient_id,at,note\n2,19:50,\n")
    assert faults(sheet) == [
        (1, None, "title-row"),
        (2, None, "title-row"),
        (6, None, "repeated-header"),
    ]
    assert [record.line for record in sheet.entries] == [5, 7]


def test_two_columns_of_one_name_are_read_where_they_agree() -> None:
    sheet = csv_sheet("patient_id,at,pain,Pain\n1,19:40,3,\n2,19:40,,4\n3,19:40,5,5\n4,19:40,6,7\n")
    assert [record.cells.get("pain") for record in sheet.entries] == ["3", "4", "5", None]
    assert faults(sheet) == [
        (1, "Pain", "duplicate-column"),
        (5, "pain", "columns-disagree"),
    ]
    assert set(sheet.entries[3].lost) == {"pain"}


@pytest.mark.parametrize(
    ("header", "missing"),
    [
        ("patient_id,at,breaths", ["name", "born"]),
        ("patient_id,name,at,breaths", []),
        ("patient_id,born,breaths,pain", ["at"]),
        ("patient_id,name,bed", []),
        ("name,at,breaths", ["patient_id"]),
    ],
)
def test_columns_that_no_row_can_do_without(header: str, missing: list[str]) -> None:
    sheet = csv_sheet(f"{header}\n")
    assert found_in(sheet.findings) == [(1, name, "missing-column") for name in missing]
    assert sheet.usable is ("patient_id" not in missing)


def test_text_under_a_column_without_a_name_is_lost_and_said_where_it_stands() -> None:
    sheet = csv_sheet("patient_id,at,,\n1,19:40,,\n1,19:50,fainted at the sink, \n")
    assert faults(sheet) == [(3, "column 3", "column-without-name")]
    assert sheet.findings[-1].raw == "fainted at the sink"
    assert sheet.findings[-1].severity is Severity.ERROR
    assert cells(sheet)[0] == {"patient_id": "1", "at": "19:40"}


@pytest.mark.parametrize(
    ("header", "name"),
    [
        ("Name (nurse)", None),
        ("Breaths (ordered)", None),
        ("At (UTC)", None),
        ("Volume_mL (L)", None),
        ("Volume mL (goal)", None),
        ("Temp C (F)", None),
        ("Pain (0-100)", None),
        ("Pain (0-10) (worst)", None),
        ("At (24 h)", "at"),
        ("Born (yyyy-mm-dd)", "born"),
        ("Bed (room)", "bed"),
        ("Pulse (bpm)", "pulse"),
        ("Resp. rate (/min)", "resp_rate"),
        ("Flow (steady, fast, slow, blew)", "flow"),
        ("On oxygen (yes/no)", "on_oxygen"),
        ("Note (optional)", "note"),
        ("Note ()", "note"),
    ],
)
def test_a_word_in_brackets_is_the_fields_unit_or_the_column_is_another_one(
    header: str, name: str | None
) -> None:
    assert match_header(header) == name


def test_no_name_is_offered_for_a_column_with_a_word_in_brackets() -> None:
    sheet = csv_sheet("patient_id,name,at,Breaths (ordered)\n1,Larkspur,19:40,10\n")
    (found,) = sheet.findings
    assert (found.code, found.raw) == ("unknown-field", "Breaths (ordered)")
    assert "mean" not in found.fix
    assert "breaths" not in sheet.entries[0].cells


def test_a_second_header_in_another_order_reads_the_rows_below_it() -> None:
    sheet = csv_sheet(
        "patient_id,name,at,pulse,resp_rate\n10442,Larkspur,19:40,80,16\n"
        "Resp rate,at,Patient ID,Pulse\n18,19:50,10442,82\n17,20:00,10442\n"
    )
    assert found_in(sheet.findings) == [(3, None, "other-header"), (5, None, "short-row")]
    assert [each.line for each in sheet.entries] == [2, 4, 5]
    assert cells(sheet)[1] == {
        "patient_id": "10442",
        "at": "19:50",
        "pulse": "82",
        "resp_rate": "18",
    }


@pytest.mark.parametrize("row", ["1,at,19:40,note,pulse", ",,note,oxygen,pulse"])
def test_a_row_with_some_names_of_columns_among_its_cells_is_a_row(row: str) -> None:
    sheet = csv_sheet(f"patient_id,name,at,what,note\n{row}\n")
    assert (len(sheet.entries), sheet.findings) == (1, ())


def test_the_header_is_the_row_with_the_columns_names_and_not_the_block_above_it() -> None:
    block = "Ward round\nUnit,Harbour 3 East\nshift_start,shift_end,outgoing\n"
    times = "2026-03-07 19:00,2026-03-08 07:00,\nTime zone: America/Halifax\n\n"
    sheet = csv_sheet(f"{block}{times}{table(ROW)}")
    assert found_in(sheet.findings) == [
        (1, None, "title-row"),
        *((line, None, "read-above") for line in (2, 3, 4, 5)),
    ]
    assert sheet.unit.cells == {"unit": "Harbour 3 East", "time_zone": " America/Halifax"}
    assert sheet.unit.lines == {"unit": 2, "time_zone": 5}
    assert sheet.shift.lines == {"shift_start": 4, "shift_end": 4}
    assert [record.line for record in sheet.entries] == [8]


def test_the_block_above_holds_and_a_row_of_another_unit_is_set_aside() -> None:
    header = "patient_id,name,born,bed,at,breaths,unit\n"
    who = "1,Ida Quince,1958-04-02,3,"
    rows = f"{who}19:40,8,Harbour 3 East\n{who}19:50,8,Harbour 3 West\n{who}20:00,8,\n"
    given = {**IN_OPTIONS, "unit": ""}
    log = log_of(f"Unit: Harbour 3 East\n{header}{rows}", "night.csv", given)
    assert log.unit.name == "Harbour 3 East"
    assert [(row.place.line, row.reason.code) for row in log.set_aside] == [(4, "other-shift")]


def test_what_rows_say_of_a_patient_is_kept_once() -> None:
    sheet = csv_sheet(table(ROW, AGAIN + "19:50,,,8,,,\n", ROW, ROW.replace("12A", "14")))
    assert [(record.line, record.cells["bed"]) for record in sheet.patients] == [
        (2, "12A"),
        (5, "14"),
    ]


# YAML


def test_yaml_and_csv_give_the_same_records() -> None:
    both = [
        read_yaml(
            night(
                '- {patient: "10442", at: 19:40, breaths: 8}\n',
                PATIENT.replace("breaths: 10, ", ""),
            ),
            "night.yaml",
            [],
        ),
        csv_sheet(table(ROW)),
    ]
    for section, records in (
        (Section.ENTRY, [sheet.entries for sheet in both]),
        (Section.PATIENT, [sheet.patients for sheet in both]),
    ):
        names = {each.name for each in fields_of(section)}
        in_yaml, in_csv = (filled(of_sheet[0]) for of_sheet in records)
        assert in_yaml == {name: cell for name, cell in in_csv.items() if name in names}


def test_groups_become_flat_names_and_cells_know_their_line() -> None:
    sheet = read_yaml(night(), "night.yaml", [])
    patient = sheet.patients[0]
    assert patient.cells["order_start"] == "2026-03-06 10:00"
    assert (patient.line, patient.lines["order_start"]) == (8, 12)


@pytest.mark.parametrize(
    ("cells", "expected", "codes"),
    [
        ("note: sat up, slept", {"note": "sat up, slept"}, ["comma-in-text"]),
        ("note: a, b, c", {"note": "a, b, c"}, ["comma-in-text"]),
        ("symptoms: dizzy, faint", {"symptoms": "dizzy, faint"}, ["comma-in-text"]),
        ("note: sat up, 8 breaths", {"note": "sat up, 8 breaths"}, ["comma-in-text"]),
        ("note: , slept", {}, ["unknown-field"]),
        ("flow: steady, slow", {"flow": "steady"}, ["unknown-field"]),
        ("note: sat up, slept: yes", {"note": "sat up"}, ["unknown-field"]),
        ("note: sat up, flow: ", {"note": "sat up"}, []),
        ("spo2 94, pain: 3", {"pain": "3"}, ["no-colon"]),
        ("spo2:94, pain=3", {}, ["no-colon"] * 2),
        ("spo2：94", {}, ["no-colon"]),
        (
            "pain: 3, note: sleepy, pain 4",
            {"pain": "3", "note": "sleepy, pain 4"},
            ["comma-in-text"],
        ),
        ("note: sleepy, pain in chest", {"note": "sleepy, pain in chest"}, ["comma-in-text"]),
    ],
)
def test_what_a_slip_between_braces_makes_of_a_cell(
    cells: str, expected: dict[str, str], codes: list[str]
) -> None:
    sheet = read_yaml(night(f'- {{patient: "1", at: 19:40, {cells}}}\n'), "night.yaml", [])
    assert [each.code for each in sheet.findings] == codes
    (entry,) = sheet.entries
    assert filled(entry) == {"patient_id": "1", "at": "19:40", **expected}
    assert set(entry.lost) == {each.field for each in sheet.findings if each.code == "no-colon"}


def test_many_commas_in_a_text_take_no_longer() -> None:
    pieces = ", ".join(f"word {number}" for number in range(100_000))
    text = night(f'- {{patient: "1", at: 19:40, note: sat up, {pieces}}}\n')
    sheet = read_yaml(text, "night.yaml", [])
    assert [each.code for each in sheet.findings] == ["comma-in-text"]
    assert 2000 < len(sheet.entries[0].cells["note"]) < 2100


def test_a_name_between_braces_keeps_what_stands_after_its_comma() -> None:
    patient = '- {id: "1", name: Larkspur, Odile, order: {start: 2026-03-06 10:00, by: Dr A, MD}}\n'
    (record,) = read_yaml(night(patients=patient), "night.yaml", []).patients
    assert (record.cells["name"], record.cells["order_by"]) == ("Larkspur, Odile", "Dr A, MD")


def test_a_part_of_a_patient_at_the_left_margin_is_told_where_it_belongs() -> None:
    text = night(patients=PATIENT.replace("  order:", "order:"))
    (found,) = read_yaml(text, "night.yaml", []).findings
    assert (found.place.line, found.code) == (12, "unknown-section")
    assert "Did you mean order of a patient, two spaces further to the right?" in found.fix


def test_a_list_of_symptoms_is_one_text() -> None:
    entry = '- {patient: "10442", at: 19:40, symptoms: [dizzy, "", chest pain]}\n'
    sheet = read_yaml(night(entry), "night.yaml", [])
    assert sheet.entries[0].cells["symptoms"] == "dizzy;chest pain"


@pytest.mark.parametrize(
    ("symptoms", "expected"),
    [("dizzy", "dizzy"), ("[]", None), ("{dizzy: yes}", None), ("[[dizzy]]", None)],
)
def test_symptoms_of_another_shape(symptoms: str, expected: str | None) -> None:
    entry = f'- {{patient: "10442", at: 19:40, symptoms: {symptoms}}}\n'
    sheet = read_yaml(night(entry), "night.yaml", [])
    assert sheet.entries[0].cells.get("symptoms") == expected
    assert ("symptoms" in sheet.entries[0].lost) is (symptoms not in {"dizzy", "[]"})


@pytest.mark.parametrize(
    "text",
    [
        "- a\n- b\n",
        "unit: x\nunit: y\n",
        night("  patient: 1\n"),
        night(patients="  id: 1\n"),
        night() + "entries: []\n",
    ],
)
def test_a_log_whose_records_cannot_be_told_apart_is_not_used(text: str) -> None:
    sheet = read_yaml(text, "night.yaml", [])
    assert not sheet.usable
    assert sheet.findings


def test_an_item_that_is_no_patient_is_named_and_a_blank_one_is_nothing() -> None:
    sheet = read_yaml(night(patients=PATIENT + "- \n- Ida Quince\n"), "night.yaml", [])
    assert len(sheet.patients) == 1
    assert found_in(sheet.findings) == [(14, "patients", "wrong-shape")]


def test_the_unit_is_not_taken_from_a_broken_row() -> None:
    header = "patient_id,name,unit,outgoing\n"
    sheet = csv_sheet(header + "1,Ida,West,A. Nurse,x\n" + "1,Ida,East\n" + "1,Ida,North,\n")
    assert sheet.unit.cells == {"unit": "North"}
    assert sheet.unit.lines == {"unit": 4}


def test_a_group_that_is_lost_loses_all_its_fields() -> None:
    patient = '- {id: "1", order: at once, device: {given: yes, given: no}}\n'
    record = read_yaml(night(patients=patient), "night.yaml", []).patients[0]
    assert {"order_start", "goal_ml", "spo2_min"} < set(record.lost)
    assert record.lost["device_given"].code == "duplicate-key"
    assert "device_labelled" not in record.lost


@pytest.mark.parametrize(
    ("cell", "text", "cut"),
    [
        ("note: told #2 doctor, SpO2 84, coming", "told", "#2 doctor, SpO2 84, coming"),
        ("note: #2 doctor told", None, "#2 doctor told"),
        ("note: told # 2 doctor", "told", "# 2 doctor"),
        ("note: told  #2 doctor", "told", "#2 doctor"),
        ("symptoms: [dizzy, faint #new\n    ]", "dizzy;faint", "#new"),
        ("note: told  # as the doctor asked", "told", None),
        ("note: told\t# as the doctor asked", "told", None),
        ('note: "told #2 doctor"', "told #2 doctor", None),
        ('note: "told" #2 doctor', "told", None),
        ("note: told#2 doctor", "told#2 doctor", None),
        ("what: told #2 doctor, SpO2 84", "told", "#2 doctor, SpO2 84"),
        ("spo2: 94 #on 2 L", None, None),
    ],
)
def test_a_comment_that_cuts_a_text_is_said(cell: str, text: str | None, cut: str | None) -> None:
    sheet = read_yaml(night(f'- patient: "10442"\n  at: 19:40\n  {cell}\n'), "night.yaml", [])
    found = [(each.code, each.place.line) for each in sheet.findings]
    assert found == ([("cut-by-comment", 16)] if cut else [])
    assert all(f"so this is not read: {cut}." in each.message for each in sheet.findings)
    assert sheet.entries[0].cells.get(cell.partition(":")[0]) in {text, "94 #on 2 L", "94"}


@pytest.mark.parametrize("name", ["name: Larkspur, Odile", "bed: 12A"])
def test_a_comment_that_cuts_a_name_or_a_bed_is_said(name: str) -> None:
    cut = night(patients=PATIENT.replace(name, f"{name} #2"))
    assert [each.code for each in read_yaml(cut, "night.yaml", []).findings] == ["cut-by-comment"]


@pytest.mark.parametrize("section", ["entries", "Entries", "shift"])
def test_a_part_of_the_log_inside_another_one_is_never_read_as_none(section: str) -> None:
    inside = {"entries": f"  - {ENTRY[2:]}", "shift": "    name: night\n"}[section.lower()]
    text = night(patients=f"{PATIENT}  {section}:\n{inside}").removesuffix(f"entries:\n{ENTRY}")
    sheet = read_yaml(text, "night.yaml", [])
    assert not sheet.usable
    assert (13, section, "indented-section") in found_in(sheet.findings)
    assert "missing-section" not in {each.code for each in sheet.findings} or section == "shift"


def test_a_missing_dash_loses_both_records_and_asks_for_the_dash() -> None:
    two = '- patient: "10442"\n  at: 19:40\n  breaths: 8\n  patient: "10442"\n  at: 20:40\n'
    sheet = read_yaml(night(f"{two}  breaths: 9\n"), "night.yaml", [])
    assert found_in(sheet.findings) == [(17, "patient", "missing-dash")]
    assert set(sheet.entries[0].lost) == {"patient_id", "at", "breaths"}


@pytest.mark.parametrize("again", ["entries", "Entries"])
def test_a_list_begun_twice_asks_to_join_them(again: str) -> None:
    sheet = read_yaml(f"{night()}{again}:\n{ENTRY}", "night.yaml", [])
    assert (sheet.usable, found_in(sheet.findings)) == (False, [(15, again, "list-twice")])


def test_names_in_capitals_are_the_same_names_and_two_of_one_are_lost() -> None:
    capitals = night().replace("unit:", "UNIT:").replace("entries:", "Entries:")
    capitals = capitals.replace("name: Lark", "NAME: Lark").replace(
        "order: {start", "Order: {Start"
    )
    plain = read_yaml(night(), "night.yaml", [])
    sheet = read_yaml(capitals, "night.yaml", [])
    assert replace(sheet, patients=()) == replace(plain, patients=())
    assert [filled(each) for each in sheet.patients] == [filled(each) for each in plain.patients]
    twice = read_yaml(night(ENTRY.replace("}", ", Breaths: 9}")), "night.yaml", [])
    assert found_in(twice.findings) == [(14, "Breaths", "duplicate-key")]
    assert set(twice.entries[0].lost) == {"breaths"}


def test_a_field_at_the_left_margin_is_told_whose_it_is() -> None:
    sheet = read_yaml(f"{night()}breaths: 8\nname: x\n", "night.yaml", [])
    fixes = [each.fix for each in sheet.findings]
    assert "mean breaths of an entry, two spaces further to the right?" in fixes[0]
    assert "mean" not in fixes[1]

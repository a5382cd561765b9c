"""Workbooks are read as a spreadsheet keeps them, and no workbook does harm."""

import io
import random
import zipfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handoff.compose.export import set_aside_csv
from handoff.log import workbook as bounded
from handoff.log.spreadsheet import csv_bytes
from handoff.log.workbook import MOST_PARTS, table_of
from handoff.model.bounds import USUAL, Bounds
from handoff.model.findings import Severity, text
from handoff.read import RawLog, parse, read
from handoff.read.from_csv import read_csv
from tests.support.bad_logs import IN_OPTIONS
from tests.support.logs import check_file, options, read_handovers
from tests.support.workbooks import MAIN, cell, rows, sheet_of, workbook, zipped

HEADER = ("patient_id", "name", "born", "bed", "order_start", "at", "spo2", "note")
WHO = ("10442", "Larkspur, Odile", "1958-04-02", "12A", "2026-03-06 10:00", "19:40")


def log(tmp_path: Path, content: bytes, bounds: Bounds = USUAL) -> RawLog:
    path = tmp_path / "night.xlsx"
    path.write_bytes(content)
    return read(str(path), bounds)


def cells_of(tmp_path: Path, *given_cells: str) -> list[str]:
    """The texts that are read from cells of one row."""
    names = [f"x{number}" for number, _ in enumerate(given_cells)]
    data = rows(["patient_id", "at", *names, "end"], ["1", "19:40", *given_cells, "end"])
    (record,) = log(tmp_path, workbook({"Night": data})).entries
    return [record.cells.get(name, "") for name in names]


def parts_of(content: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def one(found: RawLog) -> str:
    """The code of the one finding of a workbook that cannot be read."""
    assert not found.usable
    assert found.entries == ()
    (only,) = found.findings
    assert "\n" not in text(only)
    return only.code


# Cells


@pytest.mark.parametrize(
    ("made", "read_as"),
    [
        (cell(718, "00000"), "00718"),
        (cell("00718"), "00718"),
        (cell(123456789012), "123456789012"),
        (cell(1100.0), "1100"),
        (cell("1100.50"), "1100.50"),
        (cell("1100.50", kind="n"), "1100.5"),
        (cell(38.399999999999999), "38.4"),
        (cell(1100, "#,##0"), "1100"),
        (cell(0.94, "0%"), "94%"),
        (cell(0.07, "0.0 %"), "7%"),
        (cell(1, kind="b"), "yes"),
        (cell(0, kind="b"), "no"),
        # 19:40 is 0.8194444..., and 2026-03-07 is day 46088.
        (cell(0.8194444444, "h:mm"), "19:40"),
        (cell(0.819444444, "h:mm AM/PM"), "19:40"),
        (cell(0.81944, "h:mm"), "19:40"),
        (cell(0.8194560185, "hh:mm:ss"), "19:40:01"),
        (cell(0, "h:mm"), "00:00"),
        (cell(1, "h:mm"), "24:00"),
        (cell(1, "[h]:mm"), "24:00"),
        (cell(0.9999999, "h:mm"), "24:00"),
        (cell(1.25, "h:mm"), "06:00"),
        (cell(46088, "yyyy-mm-dd"), "2026-03-07"),
        (cell(46088, "dd/mm/yyyy;@"), "2026-03-07"),
        (cell(46088, '[$-409]d/m/yy" s"'), "2026-03-07"),
        (cell(46088.8194444, "yyyy\\-mm\\-dd hh:mm"), "2026-03-07 19:40"),
        (cell(46088.9999999, "yyyy\\-mm\\-dd hh:mm"), "2026-03-08 00:00"),
        (cell(46088.8194444, "h:mm"), "2026-03-07 19:40"),  # the date is there, though not shown
        (cell(46088.8194444, "yyyy-mm-dd"), "2026-03-07 19:40"),  # and the time
        (cell(15, formula="10+5"), "15"),
        (cell("", kind="str", formula='IF(A1="","",A1)'), ""),
        ('<c t="str"><f>""</f></c>', ""),
        (cell("=1+1"), "=1+1"),  # a text
        (cell("said:\nnot now"), "said:\u2028not now"),  # a line of a note stays one
        ("<c/>", ""),
    ],
)
def test_a_cell_is_read_as_one_would_type_it(tmp_path: Path, made: str, read_as: str) -> None:
    assert cells_of(tmp_path, made) == [read_as]


def test_the_calendar_of_1904_is_kept(tmp_path: Path) -> None:
    own = (
        f'<workbook xmlns="{MAIN}" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/'
    )
    own += 'relationships"><workbookPr date1904="1"/><sheets><sheet name="A" sheetId="1" '
    own += 'r:id="rId1"/></sheets></workbook>'
    data = rows(["patient_id", "at"], ["1", cell(46088 - 1462 + 0.5, "h:mm")])
    (record,) = log(tmp_path, workbook({"A": data}, {"xl/workbook.xml": own})).entries
    assert record.cells["at"] == "2026-03-07 12:00"


@pytest.mark.parametrize(
    ("made", "said"),
    [
        (cell("#N/A", kind="e", formula="VLOOKUP(1,A:A,1)"), 'note "#N/A": this is an error'),
        (cell("#REF!", kind="e"), 'note "#REF!": this is an error'),
        (cell(-5, "yyyy-mm-dd"), 'note "#####": this is an error'),
        (cell(None, formula="A1+1"), 'note "=": this is a formula whose result was not saved'),
        ("<c><f>A1+1</f><v/></c>", 'note "=": this is a formula whose result was not saved'),
    ],
)
def test_what_has_no_value_is_lost_and_said_at_its_sheet_and_cell(
    tmp_path: Path, made: str, said: str
) -> None:
    path = tmp_path / "night.xlsx"
    path.write_bytes(workbook({"Night": rows(["On the ward"], HEADER, [*WHO, 94, made])}))
    checked, findings = check_file(path, IN_OPTIONS)
    assert checked
    (read_entry,) = checked.entries
    assert (read_entry.note, read_entry.signs.spo2) == (None, 94)
    (lost,) = (each for each in findings if each.severity is Severity.ERROR)
    assert text(lost).startswith(f"{path}:Night!H3 {said}")


def test_findings_on_cells_and_rows_name_sheet_and_cell(tmp_path: Path) -> None:
    path = tmp_path / "night.xlsx"
    data = rows(HEADER, [*WHO[:-1], "19:4O", 94, ""], [], [*WHO, "9A", "well"])
    path.write_bytes(workbook({"7 March": data}))
    checked, findings = check_file(path, IN_OPTIONS)
    assert checked
    places = {each.code: str(each.place) for each in findings}
    assert places["not-a-time"] == f"{path}:7 March!F2"
    assert places["not-a-number"] == f"{path}:7 March!G4"
    assert [str(row.place) for row in checked.set_aside] == [f"{path}:7 March!2"]
    assert checked.counts.read == 3
    lost = [each for each in findings if each.place.row == checked.set_aside[0].place]
    assert [each.code for each in lost] == ["not-a-time"]


def test_no_cell_is_named_where_the_columns_change_their_places(tmp_path: Path) -> None:
    path = tmp_path / "night.xlsx"
    again = (*HEADER[:5], "spo2", "at", "note")
    below = [*WHO[:-1], "9A", "20:40", "well"]
    path.write_bytes(workbook({"Night": rows(HEADER, [*WHO, 94, "well"], again, below)}))
    checked, findings = check_file(path, IN_OPTIONS)
    assert checked
    (lost,) = (each for each in findings if each.severity is Severity.ERROR)
    assert (str(lost.place), lost.field, lost.raw) == (f"{path}:Night!4", "spo2", "9A")


def test_a_row_set_aside_is_mended_as_that_of_a_csv(tmp_path: Path) -> None:
    path, mended = tmp_path / "night.xlsx", tmp_path / "mended.csv"
    path.write_bytes(workbook({"7 March": rows(HEADER, [*WHO[:-1], "19:4O", 94, "a\nb"])}))
    (log_before,), _ = read_handovers([str(path)], options(**IN_OPTIONS), None)
    rows_aside = set_aside_csv(log_before.logs).decode()
    assert f"{path}:7 March!2" in rows_aside
    mended.write_text(rows_aside.replace(",19:4O,", ",19:40,"), encoding="utf-8")
    (after,), findings = read_handovers([str(path), str(mended)], options(**IN_OPTIONS), None)
    assert after.set_aside == ()
    assert [(each.code, str(each.related[0])) for each in findings if each.related] == [
        ("mended-row", f"{path}:7 March!2")
    ]


# Sheets


def test_the_sheet_with_most_known_names_is_the_log_and_the_others_are_named(
    tmp_path: Path,
) -> None:
    night = rows(["Harbour 3 East"], [], HEADER, [*WHO, 94, "well"])
    other = rows(["patient_id", "phone", "bed"], ["10442", "555", "12A"])
    codes = rows(["What the words mean"])
    second = rows(["patient_id", "at", "spo2"], ["10442", "19:40", 94])
    sheets = {"Codes": codes, "Phones": other, "Night": night, "Empty": "", "Day": second}
    found = log(tmp_path, workbook(sheets))
    assert [record.line for record in found.entries] == [4]
    said = {each.code: each.message for each in found.findings}
    assert (
        "from the sheet Night, and other sheets are not read: Codes, Phones"
        in said["sheet-not-read"]
    )
    assert "not read: Day. Only Night is." in said["second-log"]
    assert [str(each.severity) for each in found.findings[:2]] == ["note", "warning"]


def test_of_two_sheets_alike_the_one_that_is_shown_is_the_log(tmp_path: Path) -> None:
    content = workbook({"Old": rows(HEADER, [*WHO, 80, ""]), "Now": rows(HEADER, [*WHO, 94, ""])})
    parts = parts_of(content)
    sheets = parts["xl/workbook.xml"].replace(b'name="Old"', b'name="Old" state="hidden"')
    (record,) = log(tmp_path, zipped({**parts, "xl/workbook.xml": sheets})).entries
    assert record.cells["spo2"] == "94"
    (record,) = log(tmp_path, content).entries
    assert record.cells["spo2"] == "80"


@pytest.mark.parametrize("sheets", [{"A": ""}, {"A": rows([], [""])}])
def test_a_workbook_without_anything_is_an_empty_file(
    tmp_path: Path, sheets: dict[str, str]
) -> None:
    assert one(log(tmp_path, workbook(sheets))) == "empty-file"


TEXTS = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs", "Co"]), max_size=12)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.lists(TEXTS, min_size=3, max_size=3), min_size=1, max_size=4))
def test_text_in_a_sheet_is_read_as_the_same_text_in_a_csv(table: list[list[str]]) -> None:
    names = ["patient_id", "at", "note"]
    given_rows = [dict(zip(names, row, strict=True)) for row in table]
    as_csv = csv_bytes(names, given_rows).decode("utf-8-sig")
    content = workbook({"A": sheet_of(as_csv)})
    found, findings = table_of(content, "night.xlsx", 1)
    assert found
    assert findings == []
    records = parse(found, "night.xlsx").entries
    wanted = list(read_csv(as_csv, "night.csv", []).entries)
    while wanted and not any(map(str.strip, wanted[-1].cells.values())):
        wanted.pop()  # a sheet has no end but its last text
    assert [each.cells for each in records] == [each.cells for each in wanted]


# Harm

FAR = '<row r="1"><c t="inlineStr"><is><t>patient_id</t></is></c>'
FAR += '<c t="inlineStr"><is><t>name</t></is></c><c t="inlineStr"><is><t>born</t></is></c>'
FAR += '<c t="inlineStr"><is><t>at</t></is></c></row>'
FAR += '<row r="50000"><c r="F50000"><v>1</v></c></row>'
BOMB = '<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;">]>'
GOOD = rows(HEADER, [*WHO, 94, "well"])


def of_sheet(xml: str) -> bytes:
    return workbook({"A": ""}, {"xl/worksheets/sheet1.xml": xml})


def shared(texts: int, length: int) -> bytes:
    """A workbook with one long text that many cells share."""
    link = "http://schemas.openxmlformats.org/officeDocument/2006/relationships/sharedStrings"
    parts = parts_of(workbook({"A": ""}))
    rels, types = parts["xl/_rels/workbook.xml.rels"], parts["[Content_Types].xml"]
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml.sharedStrings+xml"
    part = f'<Override PartName="/xl/sharedStrings.xml" ContentType="{kind}"/></Types>'
    more: dict[str, str | bytes] = {
        "xl/sharedStrings.xml": f'<sst xmlns="{MAIN}"><si><t>{"a" * length}</t></si></sst>',
        "xl/_rels/workbook.xml.rels": rels.replace(
            b"</Relationships>",
            b'<Relationship Id="s" Type="%s" Target="sharedStrings.xml"/></Relationships>'
            % link.encode(),
        ),
        "[Content_Types].xml": types.replace(b"</Types>", part.encode()),
    }
    return workbook({"A": rows(['<c t="s"><v>0</v></c>'] * texts)}, more)


HARM = {
    "one cell far below the others": (workbook({"A": FAR}), "too-many-rows"),
    "far cells in many rows": (
        workbook(
            {"A": "".join(f'<row r="{n}"><c r="XFD{n}"><v>1</v></c></row>' for n in range(1, 9))}
        ),
        "too-many-cells",
    ),
    "cells without end": (workbook({"A": f"<row>{'<c/>' * 17_000}</row>"}), "not-a-workbook"),
    "rows without end": (workbook({"A": "<row/>" * 20_001}), "too-many-cells"),
    "styles without end": (
        workbook({"A": GOOD}, {"xl/styles.xml": f'<x xmlns="{MAIN}">{"<xf/>" * 2_001}</x>'}),
        "too-many-cells",
    ),
    "one large cell": (workbook({"A": rows([cell("a" * 2**21)])}), "file-too-large"),
    "one text in many cells": (shared(30, 2**16), "file-too-large"),
    "a bomb of entities": (
        of_sheet(f'{BOMB}<worksheet xmlns="{MAIN}"><sheetData/></worksheet>'),
        "not-a-workbook",
    ),
    "an entity that is a file": (
        of_sheet('<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]><x>&a;</x>'),
        "not-a-workbook",
    ),
    "rows out of order": (workbook({"A": '<row r="2"/><row r="1"/>'}), "not-a-workbook"),
    "cells out of order": (
        workbook({"A": '<row r="1"><c r="B1"/><c r="A1"/></row>'}),
        "not-a-workbook",
    ),
    "a cell of another row": (workbook({"A": '<row r="1"><c r="A2"/></row>'}), "not-a-workbook"),
    "a row beyond all sheets": (
        workbook({"A": f'{rows(HEADER)}<row r="99999999999"><c><v>1</v></c></row>'}),
        "not-a-workbook",
    ),
    "a row beyond all sheets, where no rows belong": (
        of_sheet(f'<worksheet xmlns="{MAIN}"><x><row r="99999999999"><c/></row></x></worksheet>'),
        "not-a-workbook",
    ),
    "a row within a row": (workbook({"A": "<row><row/></row>"}), "not-a-workbook"),
    "a row that is no number": (workbook({"A": '<row r="x"/>'}), "not-a-workbook"),
    "a style that there is not": (
        workbook({"A": rows(['<c s="999"><v>1</v></c>'])}),
        "not-a-workbook",
    ),
    "a number that is none": (workbook({"A": rows(["<c><v>x</v></c>"])}), "not-a-workbook"),
    "not XML": (of_sheet("<worksheet"), "not-a-workbook"),
    "no parts": (zipped({}), "not-a-workbook"),
    "parts without end": (
        zipped(dict.fromkeys(map(str, range(MOST_PARTS + 1)), "")),
        "too-many-cells",
    ),
    "cut short": (workbook({"A": GOOD})[:-100], "not-a-workbook"),
    "an old workbook by a new name": (
        b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600),
        "not-a-workbook",
    ),
    "text": (b"patient_id,at\n1,19:40\n", "not-a-workbook"),
    "nothing": (b"", "not-a-workbook"),
}


@pytest.mark.parametrize("harm", HARM)
def test_a_workbook_that_is_made_to_do_harm_costs_one_line(
    tmp_path: Path, harm: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With lower bounds on cells and elements, so that it takes no time."""
    monkeypatch.setattr(bounded, "MOST_ELEMENTS", 20_000)
    monkeypatch.setattr(bounded, "MOST_CELLS", 100_000)
    content, code = HARM[harm]
    size_mb = 1 if code == "file-too-large" else 64
    assert one(log(tmp_path, content, Bounds(size_mb=size_mb, rows=1000))) == code


def test_links_and_macros_are_not_followed(tmp_path: Path) -> None:
    link = "xl/externalLinks/externalLink1.xml"
    more: dict[str, str | bytes] = {
        link: f'<externalLink xmlns="{MAIN}"/>',
        "xl/externalLinks/_rels/externalLink1.xml.rels": "<x/>",
        "xl/vbaProject.bin": b"\xd0\xcf\x11\xe0",
    }
    formula = cell(94, formula="[1]Sheet1!A1")
    (record,) = log(tmp_path, workbook({"A": rows(HEADER, [*WHO, formula, "w"])}, more)).entries
    assert record.cells["spo2"] == "94"


def test_no_change_of_a_byte_makes_a_traceback() -> None:
    """Each byte of the parts, and of the zip around them, may be any other."""
    chance = random.Random(7)
    good = workbook({"Night": GOOD, "Codes": rows(["x", 1, cell(0.5, "h:mm")])})
    parts = parts_of(good)
    for _ in range(80):
        name = chance.choice(list(parts))
        part = bytearray(parts[name])
        for _ in range(chance.randint(1, 3)):
            part[chance.randrange(len(part))] = chance.randrange(256)
        spoiled = bytearray(good)
        spoiled[chance.randrange(len(spoiled))] = chance.randrange(256)
        for content in (zipped({**parts, name: bytes(part)}), bytes(spoiled)):
            table, findings = table_of(content, "night.xlsx", 1)
            assert table is not None or len(findings) == 1
            if table is not None:
                parse(table, "night.xlsx")


@pytest.mark.parametrize("suffix", [".xls", ".ods", ".xlsm", ".XLSB"])
def test_other_spreadsheets_are_told_how_to_be_saved(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"night{suffix}"
    path.write_bytes(b"PK\x03\x04 whatever")
    found = read(str(path))
    assert one(found) == "other-spreadsheet"
    assert "save it as .xlsx or as CSV" in found.findings[0].fix

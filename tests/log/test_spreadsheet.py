"""Tables for spreadsheets: no cell is run as a formula, and each is read back as it was."""

import csv
import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handoff.log.spreadsheet import as_written, csv_bytes, may_be_marked
from handoff.read.from_csv import read_csv
from tests.support.how_many import few

CELL = st.text(st.characters(codec="utf-8", exclude_categories=["Cc"]), max_size=20)
TRICKY = st.builds(str.__add__, st.sampled_from(["", "'", "''", "'''"]), CELL)
SIGNED = st.builds(
    str.__add__, st.sampled_from(["=", "+", "-", "@", "'=", "''-", "'x", "\t"]), CELL
)


def cells_of(content: bytes) -> list[list[str]]:
    return list(csv.reader(io.StringIO(content.decode("utf-8-sig"), newline="")))


@pytest.mark.parametrize("cell", ["=1+1", "+1", "-1", "@x", "\tx", "\r=x", "'=1", "''=1"])
def test_what_a_spreadsheet_would_run_is_marked(cell: str) -> None:
    (_, (shown,)) = cells_of(csv_bytes(["note"], [{"note": cell}]))
    assert shown == f"'{cell}"
    assert may_be_marked(shown)
    assert as_written(shown) == cell


@pytest.mark.parametrize("cell", ["'", "'tis", "O'Brien", "8", "1=1", "", "''"])
def test_other_text_stays_as_it_is(cell: str) -> None:
    (_, (shown,)) = cells_of(csv_bytes(["note"], [{"note": cell}]))
    assert shown == cell == as_written(shown)


def test_a_column_name_is_no_formula_either() -> None:
    ((shown,), _) = cells_of(csv_bytes(["=1+1"], [{"=1+1": "8"}]))
    assert shown == "'=1+1"


def test_numbers_stay_numbers() -> None:
    assert csv_bytes(["change_ml"], [{"change_ml": -50.5}]).endswith(b"\r\n-50.5\r\n")


def test_what_no_text_file_holds_is_replaced() -> None:
    (_, (shown,)) = cells_of(csv_bytes(["note"], [{"note": "a\x07b\0"}]))
    assert shown == "a\N{REPLACEMENT CHARACTER}b\N{REPLACEMENT CHARACTER}"


@settings(max_examples=few(40))
@given(st.lists(st.one_of(CELL, TRICKY, SIGNED), min_size=1, max_size=5))
def test_a_log_reads_every_cell_as_it_was(notes: list[str]) -> None:
    rows = [{"patient_id": "1", "at": "19:40", "note": note} for note in notes]
    content = csv_bytes(["patient_id", "at", "note"], rows)
    sheet = read_csv(content.decode("utf-8-sig"), "night.csv", [])
    assert [record.cells.get("note", "") for record in sheet.entries] == notes

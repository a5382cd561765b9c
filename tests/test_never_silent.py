"""What a log says is never read silently wrong: from its text to the words that are printed.

Each test has the smallest log with one danger. The command says it, and no page prints what nobody
wrote.
"""

from collections.abc import Callable
from pathlib import Path

import pytest

from handoff.cli import main as cli
from tests.support.bad_logs import (
    AGAIN,
    ENTRY,
    HEADER,
    IN_OPTIONS,
    PATIENT,
    ROW,
    night,
    shift,
    table,
)
from tests.support.logs import hand_over, log_of
from tests.support.sheets import patient_page, texts, unit_page

Checked = tuple[int, str]
Check = Callable[..., Checked]
DAY = shift("2026-03-07 07:00", "2026-03-07 19:00")


@pytest.fixture
def checked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Check:
    """The exit code and the output of `handoff check` of a text."""

    def run(text: str, name: str = "night.yaml") -> Checked:
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        given = [f"--{name.replace('_', '-')}={each}" for name, each in IN_OPTIONS.items()]
        code = cli.main(["check", *(given if name.endswith(".csv") else []), str(path)])
        return code, capsys.readouterr().out

    return run


def page_of(text: str, name: str = "night.yaml") -> str:
    """The words of the patient's page."""
    given = IN_OPTIONS if name.endswith(".csv") else {}
    return " ".join(texts(patient_page(hand_over(log_of(text, name, given)))))


def entry(cells: str) -> str:
    return f'- {{patient: "10442", {cells}}}\n'


def test_text_under_a_column_without_a_name(checked: Check) -> None:
    text = "fainted at the sink, SpO2 82, Dr Quill told"
    row = ROW.replace("\n", f',"{text}"\n')
    code, out = checked(table(row, header=HEADER.replace("\n", ",\n")), "night.csv")
    assert code == cli.DONE_WITH_ERRORS
    assert f'night.csv:2 "{text}": this stands in a column without a name' in out


def test_a_comment_that_cuts_a_note(checked: Check) -> None:
    told = (
        "- patient: '10442'\n  at: 19:40\n  what: told\n  note: told #2 doctor, SpO2 84, coming\n"
    )
    _, out = checked(night(told))
    assert "so this is not read: #2 doctor, SpO2 84, coming." in out


@pytest.mark.parametrize("spoiled", ["1.23457E+11", "10442.0", "#N/A", "#REF!"])
def test_an_id_or_a_bed_that_a_spreadsheet_spoiled(spoiled: str, checked: Check) -> None:
    code, out = checked(table(ROW.replace("10442", spoiled)), "night.csv")
    assert code == cli.DONE_WITH_ERRORS
    assert f'patient_id "{spoiled}": ' in out
    code, out = checked(table(ROW.replace("12A", spoiled)), "night.csv")
    assert code == cli.DONE_WITH_ERRORS
    assert spoiled not in page_of(table(ROW.replace("12A", spoiled)), "night.csv")


@pytest.mark.parametrize("bed", ["2-Jan", "46085"])
def test_a_bed_that_may_be_a_date(bed: str, checked: Check) -> None:
    code, out = checked(table(ROW.replace("12A", bed)), "night.csv")
    assert code == cli.DONE
    assert f'bed "{bed}": a spreadsheet may have made a date of this bed' in out


def test_a_nurses_name_is_not_the_patients(checked: Check) -> None:
    header = "patient_id,born,bed,order_start,at,breaths,Name (nurse)\n"
    row = "10442,1958-04-02,12A,2026-03-06 10:00,19:40,8,M. Adeyemi\n"
    code, out = checked(header + row, "night.csv")
    assert code == cli.DONE_WITH_ERRORS  # the name is missing
    assert '"Name (nurse)": a log has no field of this name' in out
    assert "Adeyemi" not in page_of(header + row, "night.csv")


def test_ordered_breaths_are_not_done_ones(checked: Check) -> None:
    header = HEADER.replace("breaths", "Breaths (ordered)").replace("volume_ml", "Volume (mL)")
    row = ROW.replace(",8,,", ",10,1100,")
    _, out = checked(table(row, header=header), "night.csv")
    assert '"Breaths (ordered)": a log has no field of this name' in out
    assert log_of(table(row, header=header), "night.csv", IN_OPTIONS).entries[0].breaths is None


def test_a_time_in_another_zone_is_no_local_time(checked: Check) -> None:
    header = HEADER.replace(",at,", ",At (UTC),")
    code, out = checked(table(ROW, header=header), "night.csv")
    assert code == cli.DONE_WITH_ERRORS
    assert '"At (UTC)": a log has no field of this name' in out
    assert "1 read, 0 used, 1 set aside" in out


def test_a_symptom_that_is_denied_is_not_charted(checked: Check) -> None:
    text = night(entry("at: 19:40, breaths: 8, symptoms: denies chest pain"))
    code, out = checked(text)
    assert code == cli.DONE_WITH_ERRORS
    assert "symptoms \"denies chest pain\": 'denies' denies something here" in out
    page = page_of(text)
    assert "Chest pain charted" not in page
    assert "symptoms" in page.casefold()  # the row that could not be read is named


@pytest.mark.parametrize("name", ["entries", "Entries", "ENTRIES"])
def test_entries_indented_under_a_patient(name: str, checked: Check) -> None:
    text = night().replace(f"entries:\n{ENTRY}", f"  {name}:\n  {ENTRY}")
    code, out = checked(text)
    assert code == cli.NOTHING_PRODUCED
    assert "Move entries: to the left margin" in out
    assert "0 read" not in out


def test_away_until_a_time_before_it_began(checked: Check) -> None:
    text = night(ENTRY + entry("at: 19:55, until: 19:25, what: away"))
    code, out = checked(text)
    assert code == cli.DONE_WITH_ERRORS
    assert 'until "19:25": the next such time after the start is more than an hour after' in out
    assert "2 read, 1 used, 1 set aside" in out


def test_a_morning_before_a_day_shift_is_not_tomorrow(checked: Check) -> None:
    text = night(entry("at: 06:30, breaths: 8, volume_ml: 1100"), shift=DAY)
    code, out = checked(text)
    assert code == cli.DONE_WITH_ERRORS
    assert "Did you mean 2026-03-07 06:30?" in out


def test_a_shift_that_is_yet_to_come(checked: Check) -> None:
    coming = shift("2070-03-07 19:00", "2070-03-08 07:00")
    code, out = checked(night("", PATIENT.replace("2026", "2070"), shift=coming))
    assert code == cli.DONE
    assert "the shift starts more than 24 hours from now" in out


def test_a_second_header_in_another_order(checked: Check) -> None:
    header = "patient_id,name,born,bed,order_start,at,pulse,resp_rate,spo2\n"
    who = '10442,"Larkspur, Odile",1958-04-02,12A,2026-03-06 10:00,'
    second = header.replace("pulse,resp_rate", "resp_rate,pulse")
    text = table(who + "19:40,62,16,95\n", second, AGAIN + "20:40,17,64,95\n", header=header)
    _, out = checked(text, "night.csv")
    assert "night.csv:3: this row holds other column names" in out
    signs = [each.signs for each in log_of(text, "night.csv", IN_OPTIONS).entries]
    assert [(each.pulse, each.resp_rate) for each in signs] == [(62, 16), (64, 17)]
    assert "tell the provider" not in page_of(text, "night.csv").casefold()


def test_a_row_of_totals_is_not_asked_to_be_filled_in(checked: Check) -> None:
    _, out = checked(table(ROW, ",,,,,,,,52,,,Total\n"), "night.csv")
    assert "delete the row if it is no entry, such as one of totals." in out


def test_a_unit_named_above_the_table_is_read() -> None:
    text = "Unit: Harbour 3 East\nTime zone,America/Halifax\nShift start,Shift end\n"
    text += "2026-03-07 19:00,2026-03-08 07:00\n\n" + table(ROW)
    log = log_of(text, "night.csv", {})
    assert (log.unit.name, log.shift.hours) == ("Harbour 3 East", 11)
    assert log.counts.used == 1
    assert "Harbour 3 East" in " ".join(texts(unit_page(hand_over(log))))

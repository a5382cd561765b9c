"""The unit's phone and quiet hours are set at the desk, into the log, as a correction."""

from datetime import time
from pathlib import Path

import pytest

from tests.support.desks import EVENING_CSV, NIGHT, Opened, fields_of_form, night, said

UNIT = "unit: {name: Harbour 3 East, time_zone: America/Halifax"


@pytest.fixture
def opened(tmp_path: Path) -> Opened:
    return night(tmp_path)


def send(opened: Opened, **typed: str) -> tuple[int, str]:
    form = fields_of_form(opened.get("/unit").get_data(as_text=True), "/unit")
    form.pop("quiet_none", None)
    answer = opened.post("/unit", {**form, **typed})
    shown = opened.get(answer.location) if answer.location else answer
    return answer.status_code, said(shown)


def log(opened: Opened) -> str:
    return Path(opened.desk.paths[0]).read_bytes().decode()


def test_phone_and_quiet_hours_are_written_into_the_log_and_can_be_undone(opened: Opened) -> None:
    assert "In force: 22:00 to 06:00, as nothing is written." in said(opened.get("/unit"))
    status, page = send(opened, phone="ext. 4412", quiet_start="23:00", quiet_end="05:30")
    assert status == 303
    assert "Undo this" in page
    (unit,) = (each.unit for each in opened.desk.ward().handovers)
    assert (unit.phone, unit.quiet_hours) == ("ext. 4412", (time(23), time(5, 30)))
    assert log(opened).partition("\n")[2] == NIGHT.partition("\n")[2]
    form = fields_of_form(opened.get("/unit").get_data(as_text=True), "/unit")
    assert (form["phone"], form["quiet_start"], form["quiet_end"]) == (
        "ext. 4412",
        "23:00",
        "05:30",
    )
    assert send(opened, quiet_none="yes")[0] == 303
    assert opened.desk.ward().handovers[0].unit.quiet_hours is None


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"quiet_start": "23:00"}, "Give both times of the quiet hours, or neither."),
        ({"quiet_start": "23:00", "quiet_end": "23:00"}, "23:00"),
        ({"quiet_start": "x", "quiet_end": "y"}, "Not written yet"),
        ({}, "Nothing was changed"),
    ],
)
def test_what_is_wrong_is_said_and_not_written(
    opened: Opened, typed: dict[str, str], words: str
) -> None:
    status, page = send(opened, **typed)
    assert status in {409, 422}
    assert words in page
    assert log(opened) == NIGHT


def test_a_table_without_the_columns_says_which(tmp_path: Path) -> None:
    opened = night(tmp_path, EVENING_CSV, "evening.csv")
    page = said(opened.get("/unit"))
    assert "has no column for this: phone, home_phone, quiet_hours" in page
    with_phone = EVENING_CSV.replace("unit;", "unit;phone;", 1).replace(
        "Harbour 3 East;", "Harbour 3 East;;", 1
    )
    with_phone = with_phone.replace("\r\n;;;;", "\r\n;;;;;", 1)
    (tmp_path / "phone").mkdir()
    opened = night(tmp_path / "phone", with_phone, "evening.csv")
    assert send(opened, phone="4412")[0] == 303
    assert log(opened) == with_phone.replace("East;;", "East;4412;", 1)

"""What the record says of a ward, as logs: all of it, of nobody else, and nothing is changed."""

import json
import stat
from pathlib import Path
from typing import Any

import pytest

from handoff.cli import main as cli
from handoff.fhir.get import _nth_shift
from tests.fhir.bad_servers import capabilities, gives
from tests.fhir.record import Asked, Handler, Record, serving
from tests.fhir.ward import NIGHT, NUMBERS, WARD, ZONE, ward_record
from tests.support.builders import SHIFT
from tests.support.runs import content


def get(record: Record, out: Path, *more: str, shift: str = NIGHT, ward: str = WARD) -> int:
    with serving(record) as base:
        options = ["--ward", ward, "--time-zone", ZONE, "--shift", shift, "--out", str(out)]
        system = ["--patient-system", NUMBERS]
        return cli.main(["fhir", "get", base, *options, *system, *more])


def ids(file: bytes) -> set[str]:
    return {each["resource"].get("id", "the shift") for each in json.loads(file)["entry"]}


FACTS = {
    *("the shift", "w", "room", "b12a", "b12b", "other", "p1", "p2", "e1", "e2"),
    *("o1", "o2", "height", "taught", "goal", "careful"),
}


def test_a_log_has_all_of_its_shift_and_of_its_patients_and_of_nobody_else(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record = ward_record()
    assert get(record, tmp_path / "out") == cli.DONE
    files = content(tmp_path / "out")
    assert list(files) == ["2026-03-06-1900.json"]
    assert ids(files["2026-03-06-1900.json"]) == {
        *FACTS,
        *("first", "second", "toms", "away", "told", "declined"),
    }
    assert capsys.readouterr().out == f"1 log of 2 patients in {tmp_path / 'out'}\n"
    assert record.writes == []


def test_each_earlier_shift_has_a_log_and_a_row_is_in_the_one_it_began_in(tmp_path: Path) -> None:
    assert get(ward_record(), tmp_path / "out", "--earlier", "2") == cli.DONE
    files = content(tmp_path / "out")
    rows = {name: ids(file) - FACTS for name, file in files.items()}
    assert rows == {
        "2026-03-05-1900.json": set(),
        "2026-03-06-0700.json": {"earlier", "away"},
        "2026-03-06-1900.json": {"first", "second", "toms", "told", "declined"},
    }


def shift_in(file: bytes) -> tuple[str, str, str]:
    (period,) = [
        each["resource"]["effectivePeriod"]
        for each in json.loads(file)["entry"]
        if "id" not in each["resource"]
    ]
    return period["start"], period["end"], period["_start"]["extension"][0]["valueCode"]


def test_shifts_go_by_the_clock_of_the_ward_where_it_is_put_forward(tmp_path: Path) -> None:
    """On 2026-03-08 the clocks of Halifax go from 02:00 to 03:00 (tzdata)."""
    assert get(ward_record(), tmp_path / "out", "--earlier", "1",
               shift="2026-03-08T07:00/2026-03-08T19:00") == cli.DONE  # fmt: skip
    files = content(tmp_path / "out")
    assert {name: shift_in(file) for name, file in files.items()} == {
        "2026-03-07-1900.json": ("2026-03-07T23:00:00Z", "2026-03-08T10:00:00Z", ZONE),
        "2026-03-08-0700.json": ("2026-03-08T10:00:00Z", "2026-03-08T22:00:00Z", ZONE),
    }


def test_a_row_without_a_time_is_in_a_log_so_that_its_checks_can_say_so() -> None:
    assert _nth_shift({"effectiveDateTime": "2026-03"}, [SHIFT, SHIFT]) == 1


def test_pages_do_not_change_what_is_found(tmp_path: Path) -> None:
    get(ward_record(), tmp_path / "one")
    get(ward_record(page_size=1), tmp_path / "two")

    def found(folder: Path) -> Any:
        (file,) = content(folder).values()
        return [each["resource"] for each in json.loads(file)["entry"]]

    assert found(tmp_path / "one")[:-1] == found(tmp_path / "two")[:-1]


def test_entries_are_in_the_order_of_type_and_id(tmp_path: Path) -> None:
    get(ward_record(), tmp_path / "out")
    (file,) = content(tmp_path / "out").values()
    entries = json.loads(file)["entry"][:-1]
    names = [(each["resource"]["resourceType"], each["resource"]["id"]) for each in entries]
    assert names == sorted(names)
    assert json.loads(file)["type"] == "collection"


def test_only_their_owner_reads_the_logs(tmp_path: Path) -> None:
    get(ward_record(), tmp_path / "out")
    (path,) = (tmp_path / "out").iterdir()
    assert stat.S_IMODE(path.stat().st_mode) == stat.S_IRUSR | stat.S_IWUSR


def fails_late(handler: Handler, asked: Asked) -> bool:
    """A server that breaks down at the second patient."""
    if ("patient", "Patient/p2") in asked.query:
        return gives("", "text/html", 500)(handler, asked)
    return False


@pytest.mark.parametrize(
    ("record", "words"),
    [
        (ward_record(before=fails_late), "cannot answer this (status 500)"),
        (ward_record(before=capabilities(fhirVersion="5.0.0")), "FHIR R4 or R4B"),
        (ward_record(token="other"), "does not accept the token"),  # noqa: S106 - of no server
        (Record(), "does not have this"),
    ],
)
def test_where_something_is_wrong_nothing_is_written_and_one_line_says_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], record: Record, words: str
) -> None:
    assert get(record, tmp_path / "out") == cli.NOTHING_PRODUCED
    out, err = capsys.readouterr()
    assert out == ""
    assert words in err
    assert len(err.splitlines()) == 1
    assert not (tmp_path / "out").exists()


def test_a_ward_where_nobody_is_gives_no_log(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert get(ward_record(), tmp_path / "out", ward="Location/room2") == cli.NOTHING_PRODUCED
    capsys.readouterr()
    record = ward_record()
    record.put({"resourceType": "Location", "id": "empty"})
    assert get(record, tmp_path / "out", ward="Location/empty") == cli.NOTHING_PRODUCED
    assert "nobody is on this ward now" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("ward", "shift", "words"),
    [
        ("Location/../Patient", NIGHT, "--ward names no place"),
        ("Location/w?x=y", NIGHT, "--ward names no place"),
        ("w", NIGHT, "--ward names no place"),
        (WARD, "2026-03-06T19:00", "--shift"),
        (WARD, "2026-03-06T19:00/2026-03-06T18:00", "--shift"),
        (WARD, "19:00/07:00", "--shift"),
    ],
)
def test_what_cannot_be_meant_is_refused_before_the_server_is_asked(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], ward: str, shift: str, words: str
) -> None:
    record = ward_record()
    assert get(record, tmp_path / "out", ward=ward, shift=shift) == cli.NOTHING_PRODUCED
    assert words in capsys.readouterr().err
    assert record.asked == []


def test_a_folder_that_holds_something_is_left_as_it_is(tmp_path: Path) -> None:
    (tmp_path / "kept").write_text("kept")
    record = ward_record()
    assert get(record, tmp_path) == cli.NOTHING_PRODUCED
    assert content(tmp_path) == {"kept": b"kept"}
    assert record.asked == []


def test_a_number_is_written_as_the_record_has_it(tmp_path: Path) -> None:
    written = b'"valueQuantity":{"value":36.60,"code":"Cel"}'

    def exact(handler: Handler, asked: Asked) -> bool:
        if asked.path == "Goal":
            text = (
                b'{"resourceType":"Bundle","type":"searchset","entry":[{"resource":'
                b'{"resourceType":"Goal","id":"g",' + written + b"}}]}"
            )
            return gives(text)(handler, asked)
        return False

    get(ward_record(before=exact), tmp_path / "out")
    (file,) = content(tmp_path / "out").values()
    assert written in file

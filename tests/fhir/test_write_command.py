"""`handoff fhir write`: one log, one new file, for its owner only, whole or not at all."""

import json
import os
from pathlib import Path

import pytest

from handoff import portable
from handoff.cli import main as cli
from handoff.store.folder import StoreError, write_new
from tests.support.full_log import FULL
from tests.support.runs import content, is_its_owners
from tests.support.samples import MESSY, NIGHT, NIGHT_CSV
from tests.support.written_bundles import SYSTEM


def write(log: Path, out: Path, *arguments: str) -> int:
    return cli.main(
        ["fhir", "write", str(log), "--out", str(out), "--patient-system", SYSTEM, *arguments]
    )


def test_it_says_what_it_wrote_and_only_the_owner_can_read_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log, out = tmp_path / "full.yaml", tmp_path / "night.json"
    log.write_text(FULL, encoding="utf-8")
    before = os.umask(0)
    try:
        assert write(log, out) == cli.DONE
    finally:
        os.umask(before)
    assert capsys.readouterr() == (
        f"12 read, 12 used, 0 set aside\n12 rows of 2 patients in {out}\n",
        "",
    )
    assert is_its_owners(out)
    bundle = json.loads(out.read_bytes())
    assert (bundle["resourceType"], bundle["type"]) == ("Bundle", "collection")
    assert {each.name for each in tmp_path.iterdir()} == {"full.yaml", "night.json"}


def test_a_csv_and_a_yaml_of_one_night_give_the_same_bundle(tmp_path: Path) -> None:
    for log in (NIGHT, NIGHT_CSV):
        assert write(log, tmp_path / f"{log.suffix}.json") == cli.DONE
    yaml, csv = (json.loads((tmp_path / f".{each}.json").read_bytes()) for each in ("yaml", "csv"))
    # A CSV has no name of the shift and this one no phones: the ward and the shift differ.
    entries = [{json.dumps(each) for each in bundle["entry"][2:]} for bundle in (yaml, csv)]
    assert entries[0] == entries[1]


def test_rows_that_are_set_aside_are_not_in_it_and_it_ends_with_1(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert write(MESSY, tmp_path / "messy.json") == cli.DONE_WITH_ERRORS
    said, _ = capsys.readouterr()
    counts, rows = said.splitlines()
    used = int(counts.split(" used")[0].rpartition(" ")[2])
    without = int(counts.split(" without")[0].rpartition("(")[2])
    assert int(rows.split(" rows")[0]) == used - without


@pytest.mark.parametrize("name", ["night.json", ".", "link.json"])
def test_a_file_that_is_there_is_never_replaced(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "night.json"
    out.write_text("dear", encoding="utf-8")
    if name == "link.json":
        (tmp_path / name).symlink_to(tmp_path / "nowhere")
    assert write(NIGHT, tmp_path / name) == cli.NOTHING_PRODUCED
    assert "is there already. Give a new file with --out" in capsys.readouterr().err
    assert content(tmp_path) == {"night.json": b"dear"}


@pytest.mark.parametrize("log", ["missing.yaml", "empty.csv"])
def test_a_log_that_cannot_be_read_gives_no_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], log: str
) -> None:
    (tmp_path / "empty.csv").write_bytes(b"")
    assert write(tmp_path / log, tmp_path / "night.json") == cli.NOTHING_PRODUCED
    assert len(capsys.readouterr().err.splitlines()) == 1
    assert not (tmp_path / "night.json").exists()


def test_an_error_in_the_units_own_codes_gives_no_file(tmp_path: Path) -> None:
    codes = tmp_path / "codes.yaml"
    codes.write_text("concepts: {spirometry: {read: loinc 1-8}}\n", encoding="utf-8")
    code = write(NIGHT, tmp_path / "night.json", "--fhir-codes", str(codes))
    assert code == cli.NOTHING_PRODUCED
    assert not (tmp_path / "night.json").exists()


def test_a_units_own_codes_are_written(tmp_path: Path) -> None:
    codes = tmp_path / "codes.yaml"
    own = "edition: '1'\nconcepts:\n  exercise: {write: [loinc 19852-3]}\n"
    codes.write_text(own, encoding="utf-8")
    assert write(NIGHT, tmp_path / "night.json", "--fhir-codes", str(codes)) == cli.DONE
    assert '"code": "19852-3"' in (tmp_path / "night.json").read_text(encoding="utf-8")


def test_a_full_disk_leaves_nothing_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_room(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", no_room)
    with pytest.raises(StoreError, match=r"No space left on device\. Nothing was changed"):
        write_new(str(tmp_path / "night.json"), b"{}")
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_not_there_is_said(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="give another file"):
        write_new(str(tmp_path / "no" / "night.json"), b"{}")


def test_what_a_run_that_was_killed_left_is_taken_away_by_the_next(tmp_path: Path) -> None:
    (tmp_path / ".night.json.new-abc").write_bytes(b"half")
    (tmp_path / ".night.json.new-running").write_bytes(b"half")
    (tmp_path / ".day.json.new-abc").write_bytes(b"half")
    with portable.in_use(tmp_path / ".night.json.new-running"):
        write_new(str(tmp_path / "night.json"), b"{}")
    left = {each.name for each in tmp_path.iterdir()}
    assert left == {"night.json", ".night.json.new-running", ".day.json.new-abc"}

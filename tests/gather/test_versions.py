"""Two versions of one log: no sheet is made of both, and `--newest` takes the file changed last."""

import os
import re
from pathlib import Path

import pytest
from msgspec.structs import replace

from handoff.cli import main as cli
from handoff.gather.versions import find_versions
from handoff.model.ward import Log
from tests.support.bad_logs import ENTRY, OTHER, PATIENT, night
from tests.support.logs import log_of, options, read_handovers
from tests.support.wards import ID


def entry(at: str, volume_ml: int = 1100, patient: str = ID, what: str = "breaths: 8") -> str:
    return f'- {{patient: "{patient}", at: "{at}", {what}, volume_ml: {volume_ml}}}\n'


OLD = entry("19:40", 2100) + entry("20:40") + entry("21:40")
NEW = entry("19:40", 1200) + entry("20:40") + entry("21:40")  # a slip of 2,100 was corrected
BOTH = PATIENT + OTHER.replace("12A", "5")


def of(rows: str, name: str) -> Log:
    return log_of(night(rows, BOTH), name)


def rows_that_differ(one: str, other: str) -> list[str]:
    """Places of the rows that differ, of a log `a.yaml` and a log `b.yaml`."""
    logs = of(one, "a.yaml"), of(other, "b.yaml")
    found = list(find_versions(logs))
    assert list(find_versions(logs[::-1])) == found
    return [str(place) for pair in found for place in pair.finding.related]


@pytest.mark.parametrize(
    ("one", "other", "places"),
    [
        (OLD, NEW, ["a.yaml:19", "b.yaml:19"]),
        (OLD, NEW + entry("22:40"), ["a.yaml:19", "b.yaml:19"]),
        (NEW, NEW.replace("21:40", "21:50"), ["a.yaml:21", "b.yaml:21"]),
        (NEW + entry("22:40"), NEW + entry("22:40", patient="10557"), ["a.yaml:22", "b.yaml:22"]),
    ],
    ids=["a slip corrected", "and a row more", "a time corrected", "a patient corrected"],
)
def test_rows_that_differ_between_two_versions(one: str, other: str, places: list[str]) -> None:
    assert rows_that_differ(one, other) == places


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (NEW, NEW),
        (NEW, NEW + entry("22:40")),
        (NEW, NEW.replace(ID, "10557")),
        (NEW, entry("19:40", 900) + entry("22:40") + entry("23:40")),
        (NEW, re.sub("breaths: 8, volume_ml: [0-9]+", "what: note, note: pale", NEW)),
        (NEW, ""),
        ("", ""),
    ],
    ids=["a copy", "a row more", "halves", "few agree", "of other kinds", "empty", "both empty"],
)
def test_what_is_no_version(one: str, other: str) -> None:
    assert rows_that_differ(one, other) == []


@pytest.fixture
def logs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The corrected log, which was changed last, and the one before, under a later name."""
    monkeypatch.chdir(tmp_path)
    for name, rows, changed_at in (("night.yaml", NEW, 2000), ("night-old.yaml", OLD, 1000)):
        Path(name).write_text(night(rows), encoding="utf-8")
        os.utime(name, (changed_at, changed_at))
    return ["night.yaml", "night-old.yaml"]


def test_of_two_versions_no_sheet_is_made(
    logs: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["sheets", *logs, "--out", "out"]) == cli.NOTHING_PRODUCED
    out, err = capsys.readouterr()
    assert out == ""
    assert not Path("out").exists()
    assert "night.yaml: this log and night-old.yaml are two versions of one shift's log" in err
    assert "See also night-old.yaml:14, night.yaml:14." in err
    assert cli.main(["check", *logs]) == cli.NOTHING_PRODUCED
    assert "two versions of one shift's log, and 1 row differs" in capsys.readouterr().out


def test_the_newest_is_the_file_that_was_changed_last(
    logs: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["check", *logs, "--newest"]) == cli.DONE
    note, counts = capsys.readouterr().out.splitlines()
    assert note.startswith("note: night-old.yaml: this is an older version of night.yaml")
    assert counts == "3 read, 3 used, 0 set aside"
    (handover,), _ = read_handovers(logs, replace(options(), newest=True), None)
    assert [each.volume_ml for each in handover.entries[ID]] == [1200, 1100, 1100]


def test_where_both_were_changed_at_one_time_the_newest_is_not_known(logs: list[str]) -> None:
    os.utime(logs[1], (2000, 2000))
    handovers, findings = read_handovers(logs, replace(options(), newest=True), None)
    assert handovers == ()
    assert [each.code for each in findings] == ["two-versions"]


def test_mended_rows_are_no_version_of_their_log(logs: list[str]) -> None:
    bad = night(ENTRY.replace("8}", "8, volume_ml: 12OO}") + ENTRY.replace("19:40", "2O:40"))
    Path(logs[0]).write_text(bad, encoding="utf-8")
    assert cli.main(["sheets", logs[0], "--out", "out"]) == cli.DONE_WITH_ERRORS
    aside = Path("out/set-aside.csv")
    Path("mended.csv").write_bytes(aside.read_bytes().replace(b"2O:40", b"19:40"))
    handovers, _ = read_handovers([logs[0], "mended.csv"], options(), None)
    assert len(handovers) == 1

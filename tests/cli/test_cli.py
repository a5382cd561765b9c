"""The command line: exit codes, where results and findings go, one clear line for a fault."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from handoff import __version__
from handoff.cli import main as cli
from handoff.limits.reading import load_limits
from tests.support.bad_logs import AGAIN, IN_OPTIONS, ROW, table
from tests.support.logs import ROOT

WARD = ROOT / "sample_inputs" / "ward"
NIGHT = str(WARD / "2026-03-06-night.yaml")
MESSY = str(ROOT / "sample_inputs" / "messy.csv")


def run(*arguments: str) -> int:
    return cli.main(arguments)


def test_check_of_a_good_log_exits_0_and_counts(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("check", NIGHT) == cli.DONE
    out, err = capsys.readouterr()
    assert out.splitlines()[-1] == "86 read, 86 used, 0 set aside"
    assert err == ""


def test_check_of_a_messy_log_exits_1_and_the_counts_add_up(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert run("check", "--json", MESSY) == cli.DONE_WITH_ERRORS
    document = json.loads(capsys.readouterr().out)
    counts = document["counts"]
    assert counts["read"] == counts["used"] + counts["set_aside"]
    assert set(document["findings"][0]) == {
        *("severity", "code", "file", "line", "column", "at", "field", "raw", "message", "fix")
    }


def test_one_sheet_and_one_page_to_take_home_are_said_as_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bed = ("--bed", "1A", "--discharge", "1A")
    assert run("sheets", NIGHT, "--out", str(tmp_path / "out"), *bed) == cli.DONE
    _, sheets, pages = capsys.readouterr().out.splitlines()
    assert sheets == f"1 patient sheet in {tmp_path / 'out'}"
    assert pages == "take-home pages for 1 patient"


UNREADABLE = {
    "missing.yaml": None,
    "empty.yaml": b"",
    "empty.csv": b"",
    "broken.yaml": b"unit: {name: x\nshift: [",
    "binary.csv": b"\x00\x01\x02\xff" * 100,
    "columns.csv": b"name,bed\nLarkspur,1\n",
    "no-shift.csv": b"patient_id,name,born,bed,at,breaths\n1,Larkspur,1958-04-02,1,19:40,8\n",
    "no-unit.yaml": b"shift: {start: 2026-03-07 19:00, end: 2026-03-08 07:00}\npatients: []\n",
}


@pytest.mark.parametrize("name", UNREADABLE)
@pytest.mark.parametrize("command", ["check", "sheets"])
def test_a_log_that_cannot_be_used_exits_2_names_the_file_and_writes_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], command: str, name: str
) -> None:
    path, content = tmp_path / name, UNREADABLE[name]
    if content is not None:
        path.write_bytes(content)
    out = tmp_path / "out"
    more = ["--out", str(out)] if command == "sheets" else []
    assert run(command, str(path), *more) == cli.NOTHING_PRODUCED
    said = "".join(capsys.readouterr())
    assert str(path) in said
    assert "Traceback" not in said
    assert not out.exists()


def many_of_a_kind(path: Path, count: int) -> list[str]:
    """A log with so many volumes in litres, one pain that is no number, and ids of nobody."""
    rows = [
        f"10442,,,,{(19 + n // 60) % 24}:{n % 60:02},8,1.{n % 9},\n" for n in range(1, count + 1)
    ]
    strangers = [f"{10500 + n},,,,20:{50 + n},8,1100,\n" for n in range(4)]
    path.write_text(
        "patient_id,name,born,bed,at,breaths,volume_ml,pain\n"
        '10442,"Larkspur, Odile",1958-04-02,12A,19:00,8,1100,bad\n' + "".join(rows + strangers)
    )
    shift = "2026-03-07T19:00/2026-03-08T07:00"
    return [str(path), "--unit", "3 East", "--time-zone", "America/Halifax", "--shift", shift]


@pytest.mark.parametrize(
    ("count", "likewise"),
    [
        (4, "Likewise on lines 4, 5 and 6; handoff check --every shows each."),
        (5, "Likewise on lines 4, 5, 6 and 1 more; handoff check --every shows each."),
        (404, "Likewise on lines 4, 5, 6 and 400 more; handoff check --every shows each."),
    ],
)
def test_many_of_a_kind_in_one_column_are_said_once_and_nothing_else_is(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], count: int, likewise: str
) -> None:
    log = many_of_a_kind(tmp_path / "night.csv", count)
    assert run("check", *log) == cli.DONE_WITH_ERRORS
    of_pain, of_volume, *of_ids, counts = capsys.readouterr().out.splitlines()
    assert 'pain "bad"' in of_pain
    assert 'night.csv:3 volume_ml "1.1"' in of_volume
    assert of_volume.endswith(f"Did you mean 1100? {likewise}")
    assert [f'patient_id "{10500 + n}"' in line for n, line in enumerate(of_ids)] == 4 * [True]
    assert counts == f"{count + 5:,} read, {count + 1:,} used, 4 set aside"


def test_up_to_three_of_a_kind_have_a_line_each(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log = many_of_a_kind(tmp_path / "night.csv", 3)
    run("check", *log)
    assert capsys.readouterr().out.count("looks like litres") == 3


def test_every_finding_has_a_line_where_that_is_asked_for(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log = many_of_a_kind(tmp_path / "night.csv", 40)
    run("check", "--json", *log)
    findings = json.loads(capsys.readouterr().out)["findings"]
    run("check", "--every", *log)
    said = capsys.readouterr().out.splitlines()[:-1]
    assert len(said) == len(findings) == 45
    for line, found in zip(said, findings, strict=True):
        assert f"{found['file']}:{found['line']} {found['field']} " in line
        assert line.endswith(found["fix"])


def test_json_of_a_log_that_cannot_be_read_has_null_counts_and_a_finding(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("check", "--json", str(tmp_path / "none.yaml")) == cli.NOTHING_PRODUCED
    document = json.loads(capsys.readouterr().out)
    assert document["counts"] == {"read": None, "used": None, "set_aside": None}
    assert document["findings"]


def test_a_folder_in_the_place_of_a_log(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("check", str(tmp_path)) == cli.NOTHING_PRODUCED
    assert "folder" in capsys.readouterr().out


def test_findings_go_to_standard_error_and_results_to_standard_output(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("sheets", MESSY, "--out", str(tmp_path / "out")) == cli.DONE_WITH_ERRORS
    out, err = capsys.readouterr()
    assert out.splitlines()[0] == "32 read, 19 used (1 without an entry), 13 set aside"
    assert "volume_ml" in err
    assert "volume_ml" not in out


def test_as_of_before_the_shift_is_a_usage_error(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    code = run("sheets", NIGHT, "--as-of", "2026-03-01 12:00", "--out", str(out))
    assert code == cli.NOTHING_PRODUCED
    assert "shift" in capsys.readouterr().err
    assert not out.exists()


def test_an_unknown_bed_is_a_usage_error(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    assert run("sheets", NIGHT, "--bed", "99Z", "--out", str(out)) == cli.NOTHING_PRODUCED
    assert "99Z" in capsys.readouterr().err
    assert not out.exists()


def test_a_folder_with_other_files_is_left_alone(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "letter.txt").write_text("dear")
    assert run("sheets", NIGHT, "--bed", "1A", "--out", str(tmp_path)) == cli.NOTHING_PRODUCED
    assert "other files" in capsys.readouterr().err
    assert [each.name for each in tmp_path.iterdir()] == ["letter.txt"]


def test_bad_limits_print_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own = tmp_path / "unit.yaml"
    own.write_text("approved_by: Dr T. Quill\napproved_on: 2026-03-01\nrules:\n  fevre: off\n")
    out = tmp_path / "out"
    arguments = ("sheets", NIGHT, "--limits", str(own), "--out", str(out))
    assert run(*arguments) == cli.NOTHING_PRODUCED
    assert "fever" in capsys.readouterr().err
    assert not out.exists()


def test_bad_words_print_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "words").mkdir()
    (tmp_path / "words" / "sheet.yaml").write_text("bed: '{{ nothing_known }}'\n")
    out = tmp_path / "out"
    arguments = ("sheets", NIGHT, "--templates", str(tmp_path / "words"), "--out", str(out))
    assert run(*arguments) == cli.NOTHING_PRODUCED
    assert "sheet.yaml:1" in capsys.readouterr().err
    assert not out.exists()


def test_limits_prints_every_limit_with_unit_and_source(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert run("limits") == cli.DONE
    out = capsys.readouterr().out
    limits, _ = load_limits()
    assert limits is not None
    assert all(rule in out for rule in limits.rules)
    assert "NEWS2" in out
    assert "common practice" in out


def test_limits_as_yaml_can_be_given_back(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("limits", "--yaml") == cli.DONE
    own = tmp_path / "unit.yaml"
    text = capsys.readouterr().out
    text = text.replace("approved_by:", "approved_by: Dr T. Quill")
    own.write_text(text.replace("approved_on:", "approved_on: 2026-03-01"))
    assert run("limits", "--limits", str(own)) == cli.DONE
    assert "Dr T. Quill" in capsys.readouterr().out


def test_a_fault_of_the_program_is_one_line_and_exit_3(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def fault(*_given: object) -> None:
        raise ZeroDivisionError("Larkspur, Odile")

    monkeypatch.setattr("handoff.run.handovers.read_text", fault)
    out = tmp_path / "out"
    assert run("sheets", NIGHT, "--out", str(out)) == cli.FAULT
    err = capsys.readouterr().err
    assert "fault of the program" in err
    assert len(err.splitlines()) == 1
    assert "Larkspur" not in err
    assert not out.exists()


def test_debug_shows_the_trace(monkeypatch: pytest.MonkeyPatch) -> None:
    def fault(*_given: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("handoff.run.handovers.read_text", fault)
    with pytest.raises(ZeroDivisionError):
        run("--debug", "check", NIGHT)


def test_progress_shows_on_a_terminal_only(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("handoff.cli.progress.QUIET_S", 0)
    run("sheets", NIGHT, "--bed", "1A", "--out", str(tmp_path / "out"))
    assert "sheet " not in capsys.readouterr().err
    monkeypatch.setattr("sys.stderr.isatty", lambda: True)
    run("sheets", NIGHT, "--bed", "1A", "--out", str(tmp_path / "out"))
    assert "\rsheet 1 of 1, about 0 s left" in capsys.readouterr().err.replace("\x1b[K", "")


@pytest.mark.parametrize(
    ("option", "words"),
    [
        (("--bed", "99Z", "--matter", "all"), "bed 99Z is not on the list"),
        (("--bed", "1A", "--matter", "low-oxgen"), "the nearest is low-oxygen"),
    ],
)
def test_a_danger_of_an_unknown_bed_or_rule_is_a_usage_error(
    capsys: pytest.CaptureFixture[str], option: tuple[str, ...], words: str
) -> None:
    assert run("explain", NIGHT, *option) == cli.NOTHING_PRODUCED
    out, err = capsys.readouterr()
    assert out == ""
    assert words in err


COMMANDS = [[], ["sheets"], ["check"], ["explain"], ["blank"], ["limits"]]


@pytest.mark.parametrize("command", COMMANDS)
def test_help_has_an_example_in_each_command(
    capsys: pytest.CaptureFixture[str], command: list[str]
) -> None:
    with pytest.raises(SystemExit) as raised:
        run(*command, "--help")
    assert raised.value.code == 0
    out = capsys.readouterr().out
    assert "example:" in out or not command


def test_python_m_handoff_is_the_same_program() -> None:
    said = subprocess.run(
        [sys.executable, "-m", "handoff", "--version"], capture_output=True, text=True, check=True
    )
    assert said.stdout == f"handoff {__version__}\n"


def test_no_command_is_a_usage_error(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as raised:
        run()
    assert raised.value.code == cli.NOTHING_PRODUCED
    assert "COMMAND" in capsys.readouterr().err


@pytest.mark.parametrize("closed", ["stdout", "stderr"])
def test_with_a_stream_closed_the_work_is_done_and_nothing_goes_to_the_other(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    closed: str,
) -> None:
    monkeypatch.setattr(sys, closed, None)
    code = run("sheets", MESSY, "--out", str(tmp_path / "out"))
    getattr(sys, closed).close()
    assert code == cli.DONE_WITH_ERRORS
    assert (tmp_path / "out" / "unit-summary.pdf").exists()
    out, err = capsys.readouterr()
    assert ("volume_ml" in out, "volume_ml" in err) == (False, closed != "stderr")
    assert (" read, " in out, " read, " in err) == (closed != "stdout", False)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="the system has no device that is full")
def test_results_that_find_no_room_are_no_fault_of_the_program() -> None:
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "handoff", "check", NIGHT],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
            env={**os.environ, "PYTHONUNBUFFERED": ""},
        )
    assert done.returncode == cli.NOTHING_PRODUCED
    assert done.stderr == "handoff: standard output cannot be written: No space left on device.\n"


def test_the_counts_say_how_many_rows_hold_no_entry(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "night.csv"
    path.write_text(table(ROW, AGAIN + "20:40,,,8,,,\n", ",,,,,,,,,,,\n" * 50), encoding="utf-8")
    given = [f"--{name.replace('_', '-')}={each}" for name, each in IN_OPTIONS.items()]
    assert run("check", *given, str(path)) == cli.DONE
    assert capsys.readouterr().out.endswith("52 read, 52 used (50 without an entry), 0 set aside\n")

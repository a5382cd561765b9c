"""What a run may take at most: one clear line where it would take more, and nothing is changed."""

import json
import re
import signal
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from handoff.cli import main as cli
from handoff.cli.arguments import bounds_of, parse
from handoff.model.bounds import USUAL, Bounds
from handoff.read import RawLog, read
from handoff.run.bounds import OutOfBounds, within
from tests.support.bad_logs import ENTRY, ROW, night, table
from tests.support.logs import found_in
from tests.support.runs import content

NIGHT = "sample_inputs/ward/2026-03-06-night.yaml"
READING = ("check", "sheets", "explain", "blank")
BOUNDS = ("size", "rows", "nesting", "seconds", "memory")


@pytest.fixture(autouse=True)
def _looking_often(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("handoff.run.bounds._LOOK_EVERY_S", 0.01)


def arguments(command: str, out: Path) -> list[str]:
    more = {"sheets": ["--out", str(out)], "blank": ["--out", str(out)], "explain": ["--bed", "1A"]}
    return [command, NIGHT, *more.get(command, [])]


@pytest.mark.parametrize("command", READING)
def test_every_bound_is_an_option_with_its_default_in_the_help(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], command: str
) -> None:
    assert bounds_of(parse(arguments(command, tmp_path))) == USUAL
    with pytest.raises(SystemExit):
        parse([command, "--help"])
    shown = " ".join(capsys.readouterr().out.split("bounds:")[1].split())
    usual = (USUAL.size_mb, USUAL.rows, USUAL.nesting, USUAL.seconds, USUAL.memory_mb)
    for name, value in zip(BOUNDS, usual, strict=True):
        about = shown.partition(f"--max-{name} ")[2]
        assert re.findall(r"\(default: ([\d,]+)\)", about)[0] == f"{value:,}"


@pytest.mark.parametrize("name", BOUNDS)
@pytest.mark.parametrize("value", ["0", "-1", "x", "1e9", "9" * 30])
def test_a_bound_that_is_no_number_is_a_usage_error(
    capsys: pytest.CaptureFixture[str], name: str, value: str
) -> None:
    with pytest.raises(SystemExit) as raised:
        parse(["check", NIGHT, f"--max-{name}={value}"])
    assert raised.value.code == cli.NOTHING_PRODUCED
    assert "a whole number from 1 to" in capsys.readouterr().err


def codes(sheet: RawLog) -> list[str]:
    return [code for _, _, code in found_in(sheet.findings)]


@pytest.mark.parametrize("name", ["night.csv", "night.yaml"])
def test_rows_are_read_to_their_bound_and_no_further(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    path.write_text(table(ROW, ROW, ROW) if name.endswith("csv") else night(ENTRY * 3))
    allowed = read(str(path), Bounds(rows=3))
    assert (allowed.usable, len(allowed.entries)) == (True, 3)
    refused = read(str(path), Bounds(rows=2))
    assert not refused.usable
    assert codes(refused) == ["too-many-rows"]


@pytest.mark.parametrize(
    ("option", "code"),
    [("--max-rows=5", "too-many-rows"), ("--max-nesting=2", "yaml-nesting")],
)
def test_a_log_over_a_bound_is_named_with_the_option_that_raises_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], option: str, code: str
) -> None:
    out = tmp_path / "out"
    assert cli.main([*arguments("sheets", out), option]) == cli.NOTHING_PRODUCED
    (line,) = capsys.readouterr().err.splitlines()
    assert NIGHT in line
    assert option.partition("=")[0] in line, code
    assert not out.exists()


def test_a_large_file_is_named_with_the_option_that_raises_the_bound(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log = tmp_path / "large.csv"
    log.write_bytes(b"x" * (2**20 + 1))
    assert cli.main(["check", str(log), "--max-size", "1"]) == cli.NOTHING_PRODUCED
    assert "--max-size" in capsys.readouterr().out


def forever(*_arguments: object, **_more: object) -> Iterator[tuple[str, bytes]]:
    """A stage that never ends, and hands out one file first."""
    yield "measures.json", b"half"
    while True:
        time.sleep(0.01)


def endless(*_arguments: object) -> None:
    for _ in forever():
        pass


@pytest.mark.parametrize("command", ["check", "sheets"])
def test_reading_that_takes_too_long_ends_with_one_line(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    command: str,
) -> None:
    monkeypatch.setattr("handoff.cli.logs.read_units", endless)
    given = [*arguments(command, tmp_path / "out"), "--max-seconds", "1"]
    assert cli.main(given) == cli.NOTHING_PRODUCED
    (line,) = capsys.readouterr().err.splitlines()
    assert "takes longer than 1 s" in line
    assert "--max-seconds" in line
    assert list(tmp_path.iterdir()) == []


def test_making_sheets_that_takes_too_long_leaves_the_old_set(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "measures.json").write_bytes(b"old")
    monkeypatch.setattr("handoff.cli.sheets.produce", forever)
    given = [*arguments("sheets", tmp_path / "out"), "--max-seconds", "1"]
    assert cli.main(given) == cli.NOTHING_PRODUCED
    assert "takes longer than 1 s" in capsys.readouterr().err
    assert content(tmp_path) == {"out/measures.json": b"old"}
    assert [each.name for each in tmp_path.iterdir()] == ["out"]


def test_workers_of_a_pool_keep_the_bounds(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Words that take forever: neither this process nor a worker goes on."""
    twice = "{% for x in range(99999) %}{% for y in range(99999) %}{% endfor %}{% endfor %}"
    (tmp_path / "sheet.yaml").write_text(f"bed: {json.dumps(twice)}\n")
    given = [*arguments("sheets", tmp_path / "out"), "--templates", str(tmp_path), "--jobs", "2"]
    assert cli.main([*given, "--max-seconds", "1"]) == cli.NOTHING_PRODUCED
    assert "takes longer than 1 s" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["sheet.yaml"]


def test_work_that_takes_too_much_memory_ends_with_one_line(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("handoff.cli.logs.read_units", endless)
    assert cli.main(["check", NIGHT, "--max-memory", "1"]) == cli.NOTHING_PRODUCED
    (line,) = capsys.readouterr().err.splitlines()
    assert "takes more memory than 1 MB" in line
    assert "--max-memory" in line


def test_a_bound_holds_also_where_the_first_end_is_swallowed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("handoff.run.bounds._TIDY_S", 0.01)
    with within(Bounds(seconds=0)):
        for _ in range(3):
            with pytest.raises(OutOfBounds):
                endless()


def test_what_is_in_its_bounds_is_left_alone_and_the_clock_given_back() -> None:
    before = signal.getsignal(signal.SIGALRM)
    with within(USUAL):
        time.sleep(0.05)
    assert signal.getsignal(signal.SIGALRM) is before
    assert signal.getitimer(signal.ITIMER_REAL) == (0, 0)


def test_an_interrupted_run_says_so_and_changes_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupted(*_arguments: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("handoff.cli.logs.read_units", interrupted)
    assert cli.main(arguments("sheets", tmp_path / "out")) == cli.NOTHING_PRODUCED
    assert capsys.readouterr().err == "handoff: stopped.\n"
    assert list(tmp_path.iterdir()) == []

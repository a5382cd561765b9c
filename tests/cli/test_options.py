"""Options as a person types them: in full, in any place, with patterns where no shell expands them;
and where the results go.
"""

import errno
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from handoff.cli import main as cli
from handoff.cli.arguments import parse
from handoff.limits.reading import load_limits
from tests.support.logs import ROOT

NIGHT = str(ROOT / "sample_inputs" / "ward" / "2026-03-06-night.yaml")
GET = ["--ward", "Location/1", "--shift", "a/b", "--time-zone", "UTC", "--patient-system", "urn:x"]
COMMANDS = {
    "sheets": ["sheets", NIGHT, "--out", "out"],
    "check": ["check", NIGHT],
    "explain": ["explain", NIGHT, "--bed", "1A"],
    "blank": ["blank", "--out", "out"],
    "desk": ["desk"],
    "limits": ["limits"],
    "codes": ["codes"],
    "fhir write": ["fhir", "write", NIGHT, "--out", "out", "--patient-system", "urn:x"],
    "fhir get": ["fhir", "get", "https://a.example", "--out", "out", *GET],
    "fhir send": ["fhir", "send", "out", "https://a.example"],
}


@pytest.mark.parametrize("command", COMMANDS)
def test_debug_is_taken_in_any_place(command: str) -> None:
    given = COMMANDS[command]
    for place in range(len(given) + 1):
        before = given[place - 1] if place else ""
        if not before.startswith("--"):  # else it would be the value of that option
            assert parse([*given[:place], "--debug", *given[place:]]).debug
    assert not parse(given).debug


@pytest.mark.parametrize(
    ("given", "line"),
    [
        (["sheets", NIGHT, "--out", "out", "--pap", "a4"], "write --paper"),
        (["check", NIGHT, "--max-s=9"], "write --max-seconds or --max-size"),
        (["check", NIGHT, "--time_zone", "UTC"], "write --time-zone"),
        (["check", NIGHT, "--colour"], "--help lists what it takes"),
        (["codes", "night.yaml"], "does not take night.yaml"),
        (["fhir", "send", "out", "https://a.example", "--dry"], "fhir send has no option --dry; "),
    ],
)
def test_an_option_is_written_in_full_and_the_line_says_which(
    capsys: pytest.CaptureFixture[str], given: list[str], line: str
) -> None:
    with pytest.raises(SystemExit) as raised:
        parse(given)
    assert raised.value.code == cli.NOTHING_PRODUCED
    assert line in capsys.readouterr().err.splitlines()[-1]


@pytest.mark.parametrize("command", COMMANDS)
def test_help_names_where_it_goes_first_and_the_bounds_last(
    capsys: pytest.CaptureFixture[str], command: str
) -> None:
    with pytest.raises(SystemExit):
        parse([*command.split(), "--help"])
    options = re.findall(r"^  (--[\w-]+)", capsys.readouterr().out, re.MULTILINE)
    assert "--out" not in options[1:]
    bounds = [each.startswith("--max-") for each in options]
    assert bounds == sorted(bounds)


def test_a_pattern_that_no_shell_expanded_means_its_files_in_order(tmp_path: Path) -> None:
    for name in ("b.yaml", "a.yaml", "c.csv", "night[1].yaml"):
        (tmp_path / name).write_text("")
    pattern = str(tmp_path / "?.yaml")
    logs = parse(["check", pattern, "late.csv"]).logs
    assert logs == [str(tmp_path / "a.yaml"), str(tmp_path / "b.yaml"), "late.csv"]
    literal = str(tmp_path / "night[1].yaml")
    assert parse(["check", literal]).logs == [literal]


def test_a_pattern_of_no_file_is_named_as_it_was_typed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    pattern = str(tmp_path / "ward" / "*.yaml")
    assert cli.main(["check", pattern]) == cli.NOTHING_PRODUCED
    assert capsys.readouterr().out.startswith(f"error: {pattern}: there is no such file")


def test_a_pattern_of_two_logs_where_one_is_wanted_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in ("a.yaml", "b.yaml"):
        (tmp_path / name).write_text("")
    pattern = str(tmp_path / "*.yaml")
    with pytest.raises(SystemExit):
        parse(["fhir", "write", pattern, "--out", "out", "--patient-system", "urn:x"])
    assert f"{pattern} means 2 logs; give one" in capsys.readouterr().err


def approved(text: str) -> str:
    text = text.replace("approved_by:", "approved_by: Dr T. Quill")
    return text.replace("approved_on:", "approved_on: 2026-03-01")


def test_what_goes_into_a_file_is_utf_8_whatever_the_machine_speaks(tmp_path: Path) -> None:
    """As a shell of Windows does it, whose own encoding handoff refuses."""
    own = tmp_path / "unit-limits.yaml"
    with own.open("wb") as file:
        subprocess.run(
            [sys.executable, "-m", "handoff", "limits", "--yaml"],
            stdout=file,
            check=True,
            env={**os.environ, "PYTHONIOENCODING": "cp1252"},
        )
    text = own.read_bytes().decode("utf-8")
    assert "°C" in text
    own.write_text(approved(text), encoding="utf-8")
    limits, findings = load_limits(str(own))
    assert limits is not None
    assert findings == []


def test_limits_go_into_a_new_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own = tmp_path / "unit-limits.yaml"
    given = ["limits", "--yaml", "--out", str(own)]
    assert cli.main(given) == cli.DONE
    assert capsys.readouterr().out == f"limits in {own}\n"
    text = own.read_text(encoding="utf-8")
    assert cli.main(["limits", "--yaml"]) == cli.DONE
    assert capsys.readouterr().out == text
    assert cli.main(given) == cli.NOTHING_PRODUCED
    assert "is there already" in capsys.readouterr().err
    assert own.read_text(encoding="utf-8") == text


def test_a_folder_that_may_not_be_opened_is_a_folder_all_the_same(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Windows says of any folder that it may not be read."""

    def opened(self: Path, *given: Any, **more: Any) -> Any:
        if self.is_dir():
            raise PermissionError(errno.EACCES, "Permission denied")
        return open(self, *given, **more)  # noqa: PTH123

    monkeypatch.setattr("handoff.read.content.Path.open", opened)
    assert cli.main(["check", str(tmp_path)]) == cli.NOTHING_PRODUCED
    assert "this is a folder, not a log" in capsys.readouterr().out

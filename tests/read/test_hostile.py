"""Text that is made to do harm is printed letter by letter or named, and nothing comes of it."""

import csv
import io
import json
import re
import sys
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path

import pytest

from handoff.cli import main as cli
from handoff.draw.paper import FontError, Typesetter
from handoff.draw.paper.typeface import REGULAR, _file_of
from handoff.limits.reading import load_limits
from tests.support.guarded import CANARY, Guard, guarded
from tests.support.hostile import (
    NOT_IN_CSV,
    ONLY_YAML,
    PRINTED,
    REFUSED,
    STRUCTURES,
    TEXT_FIELDS,
    cell,
    csv_log,
    yaml_log,
)
from tests.support.how_many import few
from tests.support.logs import check_text
from tests.support.sheets import read_pdf

LOGS: Mapping[str, Callable[[str], str]] = {"yaml": yaml_log, "csv": csv_log}
# The foot of a sheet has room for the start of a name.
CUT = ("outgoing", "incoming")


def squeezed(text: str) -> str:
    """Without white space, which a page puts where its lines end."""
    return "".join(text.split())


@pytest.mark.parametrize("form", LOGS)
def test_hostile_text_is_printed_letter_by_letter_and_nothing_comes_of_it(
    tmp_path: Path, form: str
) -> None:
    """Each text in every text field of a log of its own; all logs in one guarded run. In CSV a
    third of them and in YAML half, unless there are many examples.
    """
    logs = {}
    each_nth = {"csv": 3, "yaml": 2}[form] if few(1) == 1 else 1
    for number, text in enumerate([*PRINTED.values()][::each_nth]):
        path = tmp_path / f"{number}.{form}"
        path.write_text(LOGS[form](text), encoding="utf-8", newline="")
        logs[str(path)] = text
    out = tmp_path / "out"
    arguments = ["--debug", "sheets", *logs, "--out", str(out)]
    run = guarded(arguments, [Path(path) for path in logs], out)
    assert run.noted == []
    assert run.code == cli.DONE_WITH_ERRORS, run.err
    assert {each.name for each in tmp_path.iterdir()} == {"out", *(Path(p).name for p in logs)}
    folders = list(out.iterdir())
    assert len(folders) == len(logs)
    for folder in folders:
        path = json.loads((folder / "measures.json").read_bytes())["findings"][0]["file"]
        assert_printed(folder, logs[path].removeprefix("'" if form == "csv" else ""), form)
        assert_named(run.err, path, logs[path])
        for table in ("measures.csv", "set-aside.csv"):
            assert_no_formula((folder / table).read_bytes())


def assert_printed(folder: Path, text: str, form: str) -> None:
    (sheet,), (home,) = (list((folder / name).iterdir()) for name in ("patients", "discharge"))
    page = squeezed(read_pdf(sheet.read_bytes()).pages[0])
    for field in TEXT_FIELDS:
        if form == "csv" and field in ONLY_YAML:
            continue
        whole = squeezed(cell(text, field))
        printed = whole.casefold() in page.casefold()
        cut = any(f"{whole[:length]}…" in page for length in range(8, len(whole)))
        assert printed or (field in CUT and cut), (field, text, page)
    summary = " ".join(read_pdf((folder / "unit-summary.pdf").read_bytes()).pages)
    assert squeezed(cell(text, "unit")) in squeezed(summary)
    assert squeezed(cell(text, "name")) in squeezed(read_pdf(home.read_bytes()).pages[0])


def assert_named(said: str, path: str, text: str) -> None:
    """The row whose cell makes no sense is named with the text that stands there."""
    (line,) = (each for each in said.splitlines() if f"{path}:" in each and ' what "' in each)
    assert f'what "{text}": ' in line or f'what "{text.removeprefix(chr(39))}": ' in line


def assert_no_formula(content: bytes) -> None:
    """A spreadsheet that opens the table has nothing to run."""
    for row in csv.reader(io.StringIO(content.decode("utf-8-sig"), newline="")):
        for each in row:
            if re.match(r"\s*[=+\-@\t\r]", each):
                float(each)  # a number below nought


@pytest.mark.parametrize("name", REFUSED)
@pytest.mark.parametrize("form", LOGS)
def test_text_that_cannot_be_printed_is_named_where_it_stands(form: str, name: str) -> None:
    text, code = REFUSED[name]
    if form == "csv" and name in NOT_IN_CSV:
        pytest.skip("makes the whole file no CSV; see the structures")
    for field in TEXT_FIELDS:
        if form == "csv" and field in ONLY_YAML:
            continue
        harmless = {each: "x" for each in TEXT_FIELDS if each != field}
        _, findings = check_text(LOGS[form](text, **harmless), f"night.{form}")
        assert (code, field) in {(each.code, each.field) for each in findings}


@pytest.mark.parametrize("name", STRUCTURES)
def test_a_file_made_to_do_harm_ends_with_its_finding(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str
) -> None:
    log, code = tmp_path / name.rsplit(maxsplit=1)[-1], STRUCTURES[name].code
    log.write_bytes(STRUCTURES[name].content)
    assert cli.main(["--debug", "check", "--json", str(log)]) != cli.FAULT
    assert code in {each["code"] for each in json.loads(capsys.readouterr().out)["findings"]}


FILE_NAMES = (
    *("<b>x<i> & co.yaml", "{{ 7 * 7 }}.yaml", "=1+1.yaml", "-rf.yaml", "--out.yaml", "%s%n.yaml"),
    *("$(id).yaml", "a;b|c.yaml", "' OR 1.yaml", "CON.yaml", "a\\b.yaml", "~.yaml"),
)
# Windows has no files of these names.
NOT_ON_WINDOWS = re.compile(r'[<>|"*?\\]|CON\.')
HIDING_NAMES = ("a\nb.yaml", "a\tb.yaml", "\x1b[31m.yaml", "\u202elmay.yaml", "\udcff.yaml")


def test_the_name_of_a_log_is_text_and_nothing_else(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    logs = []
    on_windows = sys.platform == "win32"
    names = [each for each in FILE_NAMES if not (on_windows and NOT_ON_WINDOWS.search(each))]
    for number, name in enumerate(names):
        log = tmp_path / name
        log.write_text(yaml_log("x", unit=f"Unit {number}"), encoding="utf-8")
        logs.append(str(log))
    out = tmp_path / "out"
    assert cli.main(["--debug", "sheets", *logs, "--out", str(out)]) == cli.DONE_WITH_ERRORS
    said = capsys.readouterr().err
    # A word that is none, the patient of that name on the lists of the others, and no number to
    # call from home.
    assert len(said.splitlines()) == 3 * len(logs)
    for number, path in enumerate(logs):
        assert f"{path}:18 what" in said
        summary = read_pdf((out / f"Unit-{number}-unit{CANARY}" / "unit-summary.pdf").read_bytes())
        assert squeezed(f"{path}:18") in squeezed(" ".join(summary.pages))


@pytest.mark.parametrize("name", HIDING_NAMES)
def test_a_file_name_that_hides_something_is_refused_on_one_plain_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str
) -> None:
    log = tmp_path / name
    with suppress(OSError):  # Windows makes no files of some of these names
        log.write_text(yaml_log("x"))
    assert cli.main(["--debug", "check", str(log)]) == cli.NOTHING_PRODUCED
    (line,) = capsys.readouterr().out.splitlines()
    assert line.isprintable()
    assert "Rename it" in line
    assert cli.main(["--debug", "check", "--json", str(log)]) == cli.NOTHING_PRODUCED
    (found,) = json.loads(capsys.readouterr().out)["findings"]
    assert (found["code"], found["file"]) == ("bad-file-name", str(log))


def limits_file(text: str) -> str:
    return f"approved_by: {json.dumps(text)}\napproved_on: 2026-03-01\nrules: {{no-goal: off}}\n"


def test_hostile_text_in_a_units_limits_is_printed_letter_by_letter(tmp_path: Path) -> None:
    log = tmp_path / "night.yaml"
    log.write_text(yaml_log("x"), encoding="utf-8")
    own = tmp_path / ("{{ 7 }}.yaml" if sys.platform == "win32" else "<b>{{ 7 * 7 }}.yaml")
    for text in ("<img src='/etc/passwd'/>", "{{ 7 * 7 }}{% x %}", "=1+1"):
        own.write_text(limits_file(f"{text} {CANARY}"), encoding="utf-8")
        out = tmp_path / "out"
        arguments = ["--debug", "sheets", str(log), "--limits", str(own), "--out", str(out)]
        assert cli.main(arguments) == cli.DONE_WITH_ERRORS
        (sheet,) = (out / "patients").iterdir()
        page = squeezed(read_pdf(sheet.read_bytes()).pages[0])
        assert squeezed(f"{text} {CANARY}") in page
        assert squeezed(own.name) in page


@pytest.mark.parametrize("name", [each for each in STRUCTURES if each.endswith(".yaml")])
def test_limits_made_to_do_harm_end_with_a_finding(tmp_path: Path, name: str) -> None:
    own = tmp_path / "limits.yaml"
    own.write_bytes(STRUCTURES[name].content)
    limits, findings = load_limits(str(own))
    assert limits is None
    assert findings


@pytest.mark.parametrize("path", ["/dev/zero", "/dev/urandom", "/proc/self/mem"])
@pytest.mark.parametrize("option", ["LOG", "--limits", "--font"])
def test_a_file_without_an_end_ends_with_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], option: str, path: str
) -> None:
    log = tmp_path / "night.yaml"
    log.write_text(yaml_log("x"), encoding="utf-8")
    endless = tmp_path / "endless.yaml"
    endless.symlink_to(path)
    more = [str(endless)] if option == "LOG" else [str(log), option, str(endless)]
    given = ["--debug", "sheets", *more, "--out", str(tmp_path / "out")]
    assert cli.main(given) == cli.NOTHING_PRODUCED
    assert "endless.yaml" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("part", range(20))
def test_a_damaged_font_is_refused(tmp_path: Path, part: int) -> None:
    """Cut short, with the rest turned about: whatever reading it comes to is one clear message."""
    whole = _file_of(REGULAR).read_bytes()
    cut = len(whole) * part // 40
    own = tmp_path / "font.ttf"
    own.write_bytes(whole[:cut] + whole[cut : cut + 2000][::-1])
    with pytest.raises(FontError, match="is not a TrueType font that can be printed"):
        Typesetter(str(own))


@pytest.mark.parametrize("address", ["http://127.0.0.1:9/font.ttf", "ftp://x/y", "data:,x"])
def test_an_address_is_no_font_and_is_not_fetched(address: str) -> None:
    with pytest.raises(FontError, match="No such file"):
        Typesetter(address)


def test_words_that_would_take_forever_or_divide_by_nought_end_with_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log = tmp_path / "night.yaml"
    log.write_text(yaml_log("x"), encoding="utf-8")
    for words in (
        *("{{ 1 / 0 }}", "{% for x in range(10 ** 9) %}{% endfor %}", "{{ ''.__class__ }}"),
        "x" * 2**21,
    ):
        (tmp_path / "sheet.yaml").write_text(f"bed: {json.dumps(words)}\n")
        given = ["sheets", str(log), "--templates", str(tmp_path), "--out", str(tmp_path / "out")]
        assert cli.main(given) == cli.NOTHING_PRODUCED
        assert "sheet.yaml" in capsys.readouterr().err


def test_the_guard_notes_what_a_run_must_not_do(tmp_path: Path) -> None:
    """So that a run which does nothing of the kind is known to have been watched."""
    guard = Guard([tmp_path / "given.yaml"], tmp_path / "ward" / "out")
    ward = tmp_path / "ward"
    for allowed in (
        ("open", (str(tmp_path / "given.yaml"), "r", 0)),
        ("open", (str(ward / "out" / "unit-summary.pdf"), "wb", 0o101)),
        ("open", (str(ward / ".out.new-x" / "measures.json"), "wb", 0o101)),
        ("os.rename", (str(ward / ".out.new-x"), str(ward / "out"), -1, -1)),
    ):
        guard(*allowed)
    assert guard.noted == []
    forbidden: tuple[str, tuple[object, ...]]
    for forbidden in (
        ("open", ("/etc/passwd", "r", 0)),
        ("open", (str(tmp_path / "given.yaml"), "w", 0o101)),
        ("open", (str(ward / "other"), "w", 0o101)),
        ("open", (str(ward / "out" / ".." / "other"), "w", 0o101)),
        ("os.rename", (str(ward / ".out.new-x"), str(tmp_path / "x"), -1, -1)),
        ("socket.connect", (None, ("127.0.0.1", 9))),
        ("subprocess.Popen", ("fc-list", [], None, None)),
        ("os.system", ("id",)),
        ("compile", (f"{CANARY}()", "<template>")),
    ):
        before = len(guard.noted)
        guard(*forbidden)
        assert len(guard.noted) == before + 1, forbidden

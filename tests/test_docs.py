"""What the documents say is what the program does."""

import re
import shlex
import tomllib
from importlib.util import find_spec
from itertools import chain

import pytest

from handoff.cli.arguments import parse
from handoff.judge import RULES
from handoff.model.bounds import USUAL
from handoff.model.wording import DESK
from tests.support.logs import DEVELOPERS, README, ROOT, SAMPLES
from tests.tools.pictures import PICTURES

PACKAGE = ROOT / "handoff"


def shell_blocks(text: str) -> list[str]:
    return re.findall(r"```sh\n(.*?)```", text, flags=re.DOTALL)


def handoff_commands(text: str) -> list[list[str]]:
    """Every `handoff ...` of the shell blocks, as arguments, without redirections and comments."""
    joined = "\n".join(shell_blocks(text)).replace("\\\n", " ")
    parts = re.split(r"&&|\n", joined)
    lines = [re.sub(r"\s+(#|>).*", "", part).strip() for part in parts]
    lines = [line.removeprefix(".venv/bin/") for line in lines]
    return [shlex.split(line)[1:] for line in lines if line.startswith("handoff ")]


@pytest.mark.parametrize("arguments", handoff_commands(README + DEVELOPERS), ids=" ".join)
def test_every_documented_command_is_understood(arguments: list[str]) -> None:
    assert find_spec(f"handoff.cli.{parse(arguments).command}")


def test_every_command_is_shown_in_the_readme() -> None:
    shown = {parse(arguments).command for arguments in handoff_commands(README)}
    commands = {
        path.stem
        for path in (PACKAGE / "cli").glob("*.py")
        if "\ndef run(" in path.read_text("utf-8")
    }
    assert commands - shown == set()


def test_the_readme_says_how_the_desk_is_opened_for_good_and_closed() -> None:
    desk = README.partition("## In the browser")[2].partition("\n## ")[0]
    for words in (
        f"'{DESK.say('logs.close-desk')}'",
        "--documents",
        "handoff card",
        "handoff review",
    ):
        assert words in desk


def test_the_readme_opens_with_one_paragraph_that_states_the_job() -> None:
    title, paragraph, *_ = README.split("\n\n")
    assert title == "# handoff"
    assert "incentive spirometer" in paragraph
    assert "prints one page for each patient" in paragraph.replace("\n", " ")


def test_ci_runs_exactly_the_readmes_test_command() -> None:
    test_command = next(block for block in shell_blocks(README) if "pytest" in block).strip()
    assert test_command in (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()


@pytest.mark.parametrize(
    "document",
    [
        *("README.md", "DEVELOPERS.md", "sample_inputs/README.md"),
        *("tests/faults.md", "tests/benchmarks/README.md", "tests/windows/README.md"),
        *("tests/tools/backtest.md", "tests/tools/month.md"),
    ],
)
def test_every_link_leads_to_a_place(document: str) -> None:
    path = ROOT / document
    for link in re.findall(r"\]\((?!https:)([^)]+)\)", path.read_text(encoding="utf-8")):
        file, _, heading = link.partition("#")
        target = path.parent / file if file else path
        assert target.exists(), link
        if heading:
            headings = re.findall(r"^#+ (.*)", target.read_text(encoding="utf-8"), re.MULTILINE)
            assert heading in {
                re.sub(r"[^\w -]", "", each).lower().replace(" ", "-") for each in headings
            }, link


def test_every_module_that_the_documents_name_is_there() -> None:
    """But `from_x.py`, which stands for a format that is still to come, and a unit's own folder."""
    paths = re.findall(r"`((?!FOLDER)(?:\w+/)*\w+\.(?:py|yaml))`", DEVELOPERS)
    folders = (
        *(PACKAGE, ROOT, ROOT / "tests" / "desk", PACKAGE / "draw" / "paper", PACKAGE / "desk"),
        *(PACKAGE / "fhir", ROOT / "templates" / "en"),
    )
    missing = {each for each in paths if not any((folder / each).exists() for folder in folders)}
    assert missing == {"read/from_x.py"}


def test_the_stage_table_names_every_room() -> None:
    table = DEVELOPERS.split("## How to add")[0]
    rooms = {path.name for path in PACKAGE.iterdir() if path.is_dir()} - {"__pycache__"}
    assert {name for name in rooms if f"| `{name}/` |" not in table} == set()


def test_every_package_that_is_needed_is_listed_with_its_licence() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    needed = [*project["dependencies"], *chain(*project["optional-dependencies"].values())]
    names = {re.split(r"[\[>]", each)[0].casefold() for each in needed}
    listed = DEVELOPERS.partition("## Dependencies\n")[2].casefold()
    assert {name for name in names if not re.search(rf"\b{re.escape(name)}\b", listed)} == set()


def test_the_bounds_in_the_readme_are_the_usual_ones() -> None:
    said = " ".join(README.split())
    assert f"{USUAL.size_mb} MB, {USUAL.rows:,} rows or {USUAL.nesting} levels" in said
    assert (USUAL.seconds, USUAL.memory_mb) == (10 * 60, 2 * 1024)
    assert "more than ten minutes for reading or making, or more than 2 GB" in said


def test_the_number_of_rules_in_the_readme_is_true() -> None:
    assert f"{len(RULES)} rules" in README


def test_files_at_the_top_are_those_of_the_layout() -> None:
    shown = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    made = {"out", "build", "dist"}
    assert shown - made <= {
        *("README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml"),
        *("handoff", "templates", "tests", "sample_inputs"),
    }


def test_every_picture_is_there_is_small_and_is_shown() -> None:
    files = {path.stem: path for path in SAMPLES.glob("*.png")}
    assert set(files) == {*PICTURES, "desk"}
    assert all(path.stat().st_size < 100_000 for path in files.values())
    named = re.findall(r"\]\(([\w-]+)\.png\)", (SAMPLES / "README.md").read_text(encoding="utf-8"))
    assert set(named) == set(files)

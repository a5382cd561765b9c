"""The shape of the program, read from the code's own imports."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import handoff

PACKAGE = Path(handoff.__file__).parent

# The stages in their order: a module may import only what stands before it. Packages count whole.
ORDER = (
    "forgetting",
    "findings",
    "refused",
    "codes",
    "bounds",
    "model",
    "measures",
    "verdicts",
    "matters",
    "changes",
    "yaml_slips",
    "yaml_nodes",
    "limits",
    "limits_text",
    "fields",
    "cell",
    "clock",
    "spreadsheet",
    "written",
    "names",
    "entries",
    "read",
    "check",
    "gather",
    "mend",
    "in_order",
    "processes",
    "reading",
    "measure",
    "judge",
    "judged",
    "since",
    "rounding",
    "explain",
    "figure",
    "page",
    "languages",
    "blank",
    "compose",
    "chart",
    "paper",
    "export",
    "store",
    "file_names",
    "workers",
    "produce",
    "produce_blank",
    "desk",
    "arguments",
    "progress",
    "commands",
    "cli",
    "__main__",
)

# Each heavy library, and the one module or package that may import it; the desk asks Jinja2 only to
# be as strict about missing names as compose is.
HOME = {
    "numpy": {"measure"},
    "pandas": {"measure"},
    "jinja2": {"compose", "desk"},
    "matplotlib": {"chart"},
    "reportlab": {"paper"},
    "pikepdf": {"paper"},
    "yaml": {"yaml_nodes"},
    "flask": {"desk"},
    "werkzeug": {"desk"},
    "markupsafe": {"desk"},
    "waitress": {"desk"},
}
# Which stages a stage may know besides the types.
STAGES = (
    *("read", "check", "gather", "mend", "measure", "judge", "since", "explain"),
    *("compose", "chart", "paper", "store"),
)
KNOWS_OF_STAGES = {
    "check": {"read"},
    "mend": {"read"},
    "reading": {"read", "check", "gather", "mend"},
    "compose": set(),
    "judged": {"measure", "judge"},
    "since": set(),
    "explain": {"measure", "judge"},
    "produce": set(STAGES),
    "produce_blank": set(STAGES),
    "desk": set(STAGES),
    "commands": set(STAGES),
}


def modules() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


def name_of(path: Path) -> str:
    """`measure` for every module of handoff/measure/, `cli` for handoff/cli.py."""
    first = path.relative_to(PACKAGE).parts[0]
    return first.removesuffix(".py")


def imports(path: Path) -> set[str]:
    """Every module that a file imports, anywhere in it."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
            if node.module == "handoff":
                found |= {f"handoff.{alias.name}" for alias in node.names}
    return found


def own_imports(path: Path) -> set[str]:
    """The names of this package's modules that a file imports, other than its own package."""
    names = {each.split(".")[1] for each in imports(path) if each.startswith("handoff.")}
    return names & set(ORDER) - {name_of(path)}


def test_every_module_has_its_place_in_the_order() -> None:
    assert {name_of(path) for path in modules()} == {*ORDER, "__init__"}


@pytest.mark.parametrize("path", modules(), ids=lambda path: str(path.relative_to(PACKAGE)))
def test_imports_only_point_upstream(path: Path) -> None:
    if name_of(path) == "__init__":
        assert not own_imports(path)
        return
    before = set(ORDER[: ORDER.index(name_of(path))])
    assert own_imports(path) <= before


@pytest.mark.parametrize("path", modules(), ids=lambda path: str(path.relative_to(PACKAGE)))
def test_a_stage_knows_types_and_no_other_stage(path: Path) -> None:
    known = own_imports(path) & set(STAGES)
    assert known <= KNOWS_OF_STAGES.get(name_of(path), set())


@pytest.mark.parametrize("path", modules(), ids=lambda path: str(path.relative_to(PACKAGE)))
def test_each_heavy_library_has_one_home(path: Path) -> None:
    heavy = {each.split(".")[0] for each in imports(path)} & set(HOME)
    assert all(name_of(path) in HOME[library] for library in heavy)


def test_findings_model_and_limits_import_no_stage() -> None:
    for name in ("findings", "model", "measures", "verdicts", "limits"):
        assert not own_imports(PACKAGE / f"{name}.py") & set(STAGES)


@pytest.mark.parametrize("command", [["check", "LOG"], ["limits"]])
def test_check_and_limits_load_none_of_the_heavy_libraries(command: list[str]) -> None:
    log = "sample_inputs/ward/2026-03-06-night.yaml"
    arguments = [log if each == "LOG" else each for each in command]
    program = (
        "import sys; from handoff.cli import main; code = main(sys.argv[1:]); "
        "print('loaded:', *sorted({'numpy', 'pandas', 'jinja2', 'matplotlib', 'reportlab', "
        "'pikepdf'} & set(sys.modules))); sys.exit(code)"
    )
    run = subprocess.run(
        [sys.executable, "-c", program, *arguments],
        capture_output=True,
        text=True,
        check=True,
        cwd=PACKAGE.parent,
    )
    assert run.stdout.splitlines()[-1] == "loaded:"


BROAD = {"Exception", "BaseException"}


def catches_broadly(node: ast.AST) -> bool:
    """An `except` of everything, alone or among others, or the same by `suppress`."""
    if isinstance(node, ast.ExceptHandler):
        caught = [node.type] if node.type else []
        return not caught or bool(names_in(*caught) & BROAD)
    if isinstance(node, ast.Call) and ast.unparse(node.func).endswith("suppress"):
        return bool(names_in(*node.args) & BROAD)
    return False


def names_in(*nodes: ast.expr) -> set[str]:
    return {each.id for node in nodes for each in ast.walk(node) if isinstance(each, ast.Name)}


@pytest.mark.parametrize(
    ("code", "broad"),
    [
        ("try: x\nexcept: pass", True),
        ("try: x\nexcept Exception: pass", True),
        ("try: x\nexcept (OSError, BaseException) as error: pass", True),
        ("with contextlib.suppress(Exception): x", True),
        ("try: x\nexcept (OSError, ValueError): pass", False),
        ("with suppress(OSError): x", False),
    ],
)
def test_a_broad_except_is_seen(code: str, *, broad: bool) -> None:
    assert any(catches_broadly(node) for node in ast.walk(ast.parse(code))) is broad


def test_exceptions_are_caught_broadly_at_the_top_and_to_be_raised_again() -> None:
    broad = [
        (name_of(path), ast.unparse(node))
        for path in modules()
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if catches_broadly(node)
    ]
    assert [name for name, _ in broad] == ["cli", "processes"]
    assert "return FAULT" in broad[0][1]
    assert "return (None, fault)" in broad[1][1]

"""The shape of the program, read from the code's own imports."""

import ast
import subprocess
import sys
from collections.abc import Iterable, Iterator
from functools import cache
from pathlib import Path

import pytest

import handoff
from handoff import portable
from tests.support.full_log import FULL

PACKAGE = Path(handoff.__file__).parent
TESTS = Path(__file__).parent

# The rooms in their order: a module may import only rooms that stand before its own.
ORDER = (
    "portable",
    "model",
    "log",
    "limits",
    "fhir",
    "read",
    "check",
    "gather",
    "measure",
    "judge",
    "review",
    "explain",
    "compose",
    "draw",
    "store",
    "run",
    "desk",
    "cli",
)
# What stands at the top of the package besides rooms.
FACE = {"__init__.py", "__main__.py", "LICENSE", "py.typed"}

# Each library that weighs on a start, and the rooms that may import it; the desk asks Jinja2 only
# to be as strict about missing names as compose is, and the model reads its own words as YAML,
# never a log.
HOME = {
    "dataclasses": set(),  # every start would compile their methods: values are `model.frozen`'s
    "numpy": set(),  # pandas counts with it
    "pandas": {"review"},
    "jinja2": {"compose", "desk"},
    "matplotlib": set(),  # only its fonts are read
    "reportlab": {"draw"},
    "pikepdf": {"draw"},
    "yaml": {"log", "model"},
    "openpyxl": {"log"},
    "flask": {"desk"},
    "werkzeug": {"desk"},
    "markupsafe": {"desk"},
    "waitress": {"desk"},
}
# Which stages a stage may know besides the types; what runs them knows them all.
STAGES = (
    *("read", "check", "gather", "measure", "judge", "review", "explain", "compose", "draw"),
    "store",
)
KNOWS_OF_STAGES = {
    "check": {"read"},
    "gather": {"read"},
    "explain": {"measure", "judge"},
    "run": set(STAGES),
    "desk": set(STAGES),
    "cli": set(STAGES),
}


def modules() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


def room_of(path: Path) -> str:
    """`measure` for every module of handoff/measure/; the last room for the program's face."""
    first = path.relative_to(PACKAGE).parts[0]
    return ORDER[-1] if first in FACE else first


@cache
def tree_of(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


@cache
def nodes(path: Path) -> tuple[ast.AST, ...]:
    return tuple(ast.walk(tree_of(path)))


@cache
def imports(path: Path) -> set[str]:
    """Every module that a file imports, anywhere in it, and every name from one."""
    found: set[str] = set()
    for node in nodes(path):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
    return found


def own_imports(path: Path) -> set[str]:
    """The rooms of this package that a file imports, other than its own."""
    names = {each.split(".")[1] for each in imports(path) if each.startswith("handoff.")}
    return names & set(ORDER) - {room_of(path)}


def test_nothing_is_loose_but_the_face_of_the_program() -> None:
    there = {path.name for path in PACKAGE.iterdir()} - {"__pycache__", "templates"}
    assert there == {*ORDER, *FACE}


@pytest.mark.parametrize("room", ORDER)
def test_every_room_says_what_it_takes_and_gives(room: str) -> None:
    said = ast.get_docstring(ast.parse((PACKAGE / room / "__init__.py").read_text("utf-8"))) or ""
    assert "Input: " in said
    assert "Output: " in said


def test_imports_only_point_upstream() -> None:
    upstream = {room: set(ORDER[:number]) for number, room in enumerate(ORDER)}
    assert [path for path in modules() if own_imports(path) - upstream[room_of(path)]] == []


def test_nobody_imports_what_a_user_sees() -> None:
    """But the desk, which `handoff desk` starts."""
    assert not [path for path in modules() if own_imports(path) & {"cli"}]
    assert {room_of(path) for path in modules() if own_imports(path) & {"desk"}} == {"cli"}


def test_a_stage_knows_types_and_no_other_stage() -> None:
    known = {path: own_imports(path) & set(STAGES) for path in modules()}
    allowed = {path: KNOWS_OF_STAGES.get(room_of(path), set()) for path in modules()}
    assert [path for path in modules() if known[path] - allowed[path]] == []


def test_no_room_uses_a_private_name_of_another() -> None:
    private = [
        (path, f"{node.module}.{alias.name}")
        for path in modules()
        for node in nodes(path)
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("handoff")
        for alias in node.names
        if alias.name.startswith("_") and not alias.name.startswith("__")
    ]
    assert private == []


def test_each_heavy_library_has_one_home() -> None:
    libraries = {path: {each.split(".")[0] for each in imports(path)} for path in modules()}
    away = [
        (path, library)
        for path, imported in libraries.items()
        for library in imported & set(HOME)
        if room_of(path) not in HOME[library]
    ]
    assert away == []


# What a system has and another lacks, or does in another way.
DIFFERS = {
    *("fcntl", "resource", "msvcrt", "winreg", "ctypes", "psutil", "pwd", "grp", "termios"),
    *("os.fchmod", "os.chmod", "os.chown", "os.fsync", "os.fork", "os.getuid", "os.O_BINARY"),
    *("signal.setitimer", "signal.alarm", "signal.SIGALRM", "signal.SIGKILL", "signal.SIGHUP"),
    *("socket.SO_REUSEADDR", "socket.SO_EXCLUSIVEADDRUSE", "error.strerror", "error.winerror"),
    *("sys.platform", "os.name", "platform.system"),
}


def what_differs(tree: ast.AST) -> set[str]:
    """What of `DIFFERS` a module imports or names, and each call of a method `chmod`."""
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
        elif isinstance(node, ast.Attribute):
            found |= {ast.unparse(node), "os.chmod" if node.attr == "chmod" else ""}
    return found & DIFFERS


@pytest.mark.parametrize(
    ("code", "differs"),
    [
        ("import fcntl", {"fcntl"}),
        ("from signal import setitimer", {"signal.setitimer"}),
        ("os.fchmod(descriptor, mode)", {"os.fchmod"}),
        ("folder.chmod(0o700)", {"os.chmod"}),
        ("words(error.strerror)", {"error.strerror"}),
        ("from importlib.resources import files", set()),
        ("os.open(path, flags)", set()),
    ],
)
def test_what_differs_between_systems_is_seen(code: str, differs: set[str]) -> None:
    assert what_differs(ast.parse(code)) == differs


def test_what_differs_between_systems_has_one_home() -> None:
    """But `os.fsync` of a file that is open for writing, which is the same everywhere."""
    away = {
        path.relative_to(PACKAGE).as_posix(): found
        for path in modules()
        if room_of(path) != "portable" and (found := what_differs(tree_of(path)) - {"os.fsync"})
    }
    assert away == {}


def test_both_systems_have_the_same_functions() -> None:
    """By their names and what they are given, as this machine's are."""
    posix, windows = (
        {
            node.name: ast.unparse(node.args)
            for node in ast.parse((PACKAGE / "portable" / f"{name}.py").read_text("utf-8")).body
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_")
        }
        for name in ("posix", "windows")
    )
    assert posix == windows
    assert {*posix, "START_METHOD"} == set(portable.__all__)


def test_no_test_imports_from_another_test() -> None:
    """What tests share stands in `tests/support/`."""
    ours = {
        ".".join(path.relative_to(TESTS.parent).with_suffix("").parts)
        for path in TESTS.rglob("test_*.py")
    }
    assert "tests.test_architecture" in ours
    names = {path: imports(path) for path in TESTS.rglob("*.py")}
    assert [(path, found) for path, each in names.items() if (found := each & ours)] == []


LOG = "sample_inputs/ward/2026-03-06-night.yaml"
FOR_ONE_USE = {  # what a desk, a workbook, a review, an exchange, workers or a cluster need
    *("flask", "werkzeug", "waitress", "openpyxl", "pandas", "numpy", "dask", "distributed"),
    *("urllib.request", "http.client", "ssl", "socket", "multiprocessing", "matplotlib"),
    *("handoff.desk", "handoff.review", "handoff.fhir", "handoff.read.from_fhir"),
}
TO_PRINT = {"jinja2", "reportlab", "pikepdf", "handoff.draw"}


RUN = "from handoff.cli.main import main; code = main(sys.argv[1:])"


def loaded_by(*command: str, program: str = RUN) -> set[str]:
    """The modules that a process has loaded after a command, or a program that sets `code`."""
    run = subprocess.run(
        [
            *(sys.executable, "-c"),
            f"import sys; {program}; print('loaded:', *sys.modules); sys.exit(code)",
            *command,
        ],
        capture_output=True,
        text=True,
        check=True,
        cwd=PACKAGE.parent,
    )
    return set(run.stdout.splitlines()[-1].split())


@pytest.mark.parametrize("command", [["check", LOG], ["limits"], ["codes"]])
def test_commands_that_only_say_load_none_of_the_heavy_libraries(command: list[str]) -> None:
    assert loaded_by(*command) & (FOR_ONE_USE | TO_PRINT) == set()


def test_sheets_load_no_library_that_only_something_else_needs(tmp_path: Path) -> None:
    """A library costs each ward up to a quarter of a second at each start. ReportLab loads what it
    likes: its older editions also what opens connections.
    """
    log = tmp_path / "night.yaml"
    log.write_text(FULL, encoding="utf-8")
    loaded = loaded_by("sheets", str(log), "--out", str(tmp_path / "out"))
    of_reportlab = loaded_by(program="import reportlab.pdfgen.canvas; code = 0")
    assert loaded & FOR_ONE_USE <= of_reportlab
    assert loaded > TO_PRINT


def test_only_the_command_that_exchanges_can_open_a_connection() -> None:
    """`client` is the only home of what connects, and what reads, prints and shows logs does not
    load it.
    """
    connecting = {"urllib.request", "http.client", "ssl"}
    homes = [path for path in modules() if imports(path) & connecting]
    assert {path.relative_to(PACKAGE).as_posix() for path in homes} <= {"fhir/client.py"}
    program = (
        "import sys; from importlib import import_module\n"
        "for name in ('check', 'sheets', 'explain', 'desk', 'blank', 'limits', 'codes'):\n"
        "    import_module(f'handoff.cli.{name}')\n"
        "print('handoff.fhir.client' in sys.modules)"
    )
    run = subprocess.run(
        [sys.executable, "-c", program],
        capture_output=True,
        text=True,
        check=True,
        cwd=TESTS.parent,
    )
    assert run.stdout == "False\n"


def makers_of_findings(nodes: Iterable[ast.AST]) -> list[str]:
    """What a module calls to make a `Finding` of its own, by whatever name it knows it."""
    nodes = tuple(nodes)
    imported = [
        each
        for node in nodes
        if isinstance(node, ast.ImportFrom | ast.Import)
        for each in node.names
    ]
    names = {"Finding", *(each.asname or "" for each in imported if each.name == "Finding")}
    calls = [ast.unparse(node.func) for node in nodes if isinstance(node, ast.Call)]
    return [each for each in calls if each.rpartition(".")[2] in names]


@pytest.mark.parametrize(
    "code",
    [
        "Finding(severity)",
        "findings.Finding(severity)",
        "from handoff.model.findings import Finding as Wrong\nWrong(severity)",
    ],
)
def test_a_finding_that_is_made_is_seen(code: str) -> None:
    assert makers_of_findings(ast.walk(ast.parse(code)))


def test_every_finding_is_made_from_the_one_list() -> None:
    makers = [path for path in modules() if makers_of_findings(nodes(path))]
    assert [path.relative_to(PACKAGE).as_posix() for path in makers] == ["model/codes.py"]


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
        (path.relative_to(PACKAGE).as_posix(), ast.unparse(node))
        for path in modules()
        for node in nodes(path)
        if catches_broadly(node)
    ]
    assert [name for name, _ in broad] == ["cli/main.py", "run/processes.py"]
    assert "return FAULT" in broad[0][1]
    assert "return _pickled(fault)" in broad[1][1]


# What may outlive a run in its process, and why no run can see another by it.
OUTLIVES = {
    "model/wording.py: keeps what _sentences returns": "words that come with the program",
    "compose/words.py: keeps what _compiled returns": "by all that it depends on; compiling all "
    "words takes a third of a second, and a worker is given one unit at a time",
    "draw/paper/direction.py: keeps what _reshaper returns": "rules that come with a library; they "
    "take 3 ms, and a page in Arabic has hundreds of words",
    "check/cells.py: keeps what _known returns": "values by all that they depend on, never written "
    "to a disk, of so many texts at most; most texts of a year's logs occur many times",
    "log/clock.py: keeps what _usual_moment returns": "by all that it depends on; a patient's "
    "facts are the same in log after log",
    "draw/paper/typeset.py: keeps what leading_of returns": "a number by all that it depends on, "
    "of the few sizes of type",
    "measure/reference.py: keeps what _spline_table returns": "a table that comes with the program",
    "draw/paper/canvas.py: sets rl_config.useA85": "ReportLab has it once for a process; it is set "
    "before the first page, and never again",
}
STATEFUL = {"count", "cycle", "iter", "deque", "Lock", "RLock", "Event", "Condition", "local"}
STATEFUL |= {"ContextVar", "ThreadPoolExecutor"}
CONTAINERS = {"dict", "list", "set", "defaultdict", "Counter", "OrderedDict"}
DISPLAYS = ast.Dict | ast.List | ast.Set | ast.DictComp | ast.ListComp | ast.SetComp
CHANGES = {"append", "extend", "insert", "remove", "pop", "popitem", "clear", "update", "add"}
CHANGES |= {"discard", "setdefault", "sort", "reverse"}


def called(node: ast.AST | None) -> str:
    """The last name of what is called: `count` of `itertools.count(1)`; '' of all else."""
    return ast.unparse(node.func).split(".")[-1] if isinstance(node, ast.Call) else ""


def names_at_the_top(tree: ast.Module) -> Iterator[tuple[str, ast.expr]]:
    """Each name that a module gives to something, and to what."""
    for node in tree.body:
        if isinstance(node, ast.Assign):
            yield from ((ast.unparse(target), node.value) for target in node.targets)
        elif isinstance(node, ast.AnnAssign) and node.value:
            yield ast.unparse(node.target), node.value


def changed_in_functions(tree: ast.Module) -> set[str]:
    """What functions put into, take out of or name anew, as it is written there."""
    found: set[str] = set()
    functions = [each for each in ast.walk(tree) if isinstance(each, ast.FunctionDef)]
    for node in (node for function in functions for node in ast.walk(function)):
        targets: list[ast.expr] = []
        if isinstance(node, ast.Assign | ast.Delete):
            targets = node.targets
        elif isinstance(node, ast.AugAssign):
            targets = [node.target]
        elif isinstance(node, ast.Global):
            found |= set(node.names)
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            found |= {ast.unparse(node.func.value)} if node.func.attr in CHANGES else set()
        found |= {ast.unparse(each.value) for each in targets if isinstance(each, ast.Subscript)}
    return found


def state_of(tree: ast.Module) -> Iterator[str]:
    """What of a module can be another after a function ran."""
    changed = changed_in_functions(tree)
    for name, value in names_at_the_top(tree):
        is_container = isinstance(value, DISPLAYS) or called(value) in CONTAINERS
        if called(value) in STATEFUL or (name in changed and is_container):
            yield f"changes {name}"
        if called(value) in {"cache", "lru_cache"}:
            yield f"keeps what {name} returns"
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef):
            decorators = {ast.unparse(each).split("(")[0] for each in node.decorator_list}
            if {each.split(".")[-1] for each in decorators} & {"cache", "lru_cache"}:
                yield f"keeps what {node.name} returns"
        elif isinstance(node, ast.Global):
            yield from (f"changes {name}" for name in node.names)
    imported = {
        alias.asname or alias.name.split(".")[0]
        for node in ast.walk(tree)
        if isinstance(node, ast.Import | ast.ImportFrom)
        for alias in node.names
    }
    # A function of a module may be called `add`; what is in capitals is no module.
    yield from (f"changes {name}" for name in sorted(imported & changed) if name.isupper())
    yield from (f"sets {each}" for each in set_in_others(tree, imported))


def set_in_others(tree: ast.Module, imported: set[str]) -> Iterator[str]:
    """What a module sets of those that it imports."""
    for node in ast.walk(tree):
        for target in node.targets if isinstance(node, ast.Assign) else ():
            if isinstance(target, ast.Attribute) and ast.unparse(target.value) in imported:
                yield ast.unparse(target)


@pytest.mark.parametrize(
    ("code", "state"),
    [
        ("KNOWN = {}\ndef f(x): KNOWN[x] = 1", ["changes KNOWN"]),
        ("KNOWN: list[int] = []\ndef f(x): KNOWN.append(x)", ["changes KNOWN"]),
        ("KNOWN = dict(a=1)\ndef f(x): del KNOWN[x]", ["changes KNOWN"]),
        ("from a import KNOWN\ndef f(x): KNOWN.update(x)", ["changes KNOWN"]),
        ("NEXT = itertools.count(1)", ["changes NEXT"]),
        ("LOCK = RLock()", ["changes LOCK"]),
        ("TIMES = 0\ndef f():\n global TIMES\n TIMES += 1", ["changes TIMES"]),
        ("@lru_cache(maxsize=9)\ndef f(x): return x", ["keeps what f returns"]),
        ("class A:\n @functools.cache\n def f(self): return 1", ["keeps what f returns"]),
        ("f = cache(g)", ["keeps what f returns"]),
        ("from reportlab import rl_config\nrl_config.useA85 = 0", ["sets rl_config.useA85"]),
        ("KNOWN = {1: 2}\ndef f(x): return KNOWN[x]", []),
        ("KNOWN = {}\nfor x in 'ab': KNOWN[x] = 1", []),
        ("def f(x):\n known = []\n known.append(x)", []),
    ],
)
def test_state_is_seen(code: str, state: list[str]) -> None:
    assert list(state_of(ast.parse(code))) == state


def test_nothing_outlives_a_run_in_its_process() -> None:
    """No state but of objects that a run owns, so that two runs are as two processes."""
    found = {
        f"{path.relative_to(PACKAGE).as_posix()}: {state}"
        for path in modules()
        for state in state_of(tree_of(path))
    }
    assert found == set(OUTLIVES)

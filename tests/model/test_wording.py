"""Words stand in files of words: each has its key there once, is used, and gets all its values.

This is read from the code, so that a wording is wrong here and not on a ward at night. Where a code
is chosen only while the program runs, tests/test_finding_codes.py triggers it.
"""

import ast
import re
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from string import Formatter

import pytest
import yaml
from jinja2 import Environment, nodes

import handoff
from handoff.model import wording
from handoff.model.codes import CODES
from handoff.model.wording import Wording, shipped_templates

PACKAGE = Path(handoff.__file__).parent
PAGES = sorted((shipped_templates() / "desk").glob("*.html"))
FILES = {name: each for name, each in vars(wording).items() if isinstance(each, Wording)}
OF_CODES = {f"{code}.{each}" for code in CODES for each in ("message", "fix")}
# Where a key is an argument: it stands in the code that calls this.
TAKES_A_KEY = {
    *("log/cell.py: or_blank", "desk/edits/logbook.py: kind"),
    "desk/edits/logbook.py: _READ_ONLY[suffix]",
    *("model/codes.py: f'{code}.fix'", "model/codes.py: f'{code}.message'"),
}
# What puts a group before a key that it is given.
SAYS = {"EditError": ("DESK", "refusal."), "_NotToSendError": ("FINDINGS", "send-file.problem.")}


@dataclass
class Source:
    """What a module calls, what it gives to each name, its texts, and those but docstrings."""

    calls: list[ast.Call] = field(default_factory=list)
    given: dict[str, list[ast.expr]] = field(default_factory=lambda: defaultdict(list))
    texts: set[str] = field(default_factory=set)
    shown: list[str] = field(default_factory=list)
    functions: list[ast.FunctionDef] = field(default_factory=list)


def source_of(code: str) -> Source:
    source, docstrings = Source(), set()
    for node in ast.walk(ast.parse(code)):
        if isinstance(node, ast.Expr):
            docstrings.add(node.value)
        elif isinstance(node, ast.Call):
            source.calls.append(node)
        elif isinstance(node, ast.Assign | ast.AugAssign):
            for target in node.targets if isinstance(node, ast.Assign) else [node.target]:
                pairs = [(target, node.value)]
                if isinstance(target, ast.Tuple) and isinstance(node.value, ast.Tuple):
                    pairs = list(zip(target.elts, node.value.elts, strict=True))
                for name, value in pairs:
                    source.given[name.id if isinstance(name, ast.Name) else ""].append(value)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            source.texts.add(node.value)
            source.shown += [] if node in docstrings else [node.value]
        elif isinstance(node, ast.FunctionDef):
            source.functions.append(node)
    return source


@cache
def sources() -> dict[str, Source]:
    paths = sorted(PACKAGE.rglob("*.py"))
    return {
        each.relative_to(PACKAGE).as_posix(): source_of(each.read_text("utf-8")) for each in paths
    }


@cache
def texts() -> set[str]:
    """Every text that stands in the code by itself."""
    return {text for source in sources().values() for text in source.texts}


def keys(source: Source, key: ast.expr, known: set[str]) -> set[str]:
    """Every key that an expression may be; of one that is put together, those that fit it and
    whose changing part stands in the code.
    """
    match key:
        case ast.Constant():
            return {str(key.value)}
        case ast.IfExp():
            return keys(source, key.body, known) | keys(source, key.orelse, known)
        case ast.Name():
            return {key for each in source.given[key.id] for key in keys(source, each, known)}
        case ast.JoinedStr():
            parts = [
                re.escape(str(each.value)) if isinstance(each, ast.Constant) else r"([\w-]+)"
                for each in key.values
            ]
            fitting = ((each, re.fullmatch("".join(parts), each)) for each in known - OF_CODES)
            return {each for each, fits in fitting if fits and texts().issuperset(fits.groups())}
    return set()


SCRIPTS = {
    path.name: path.read_text("utf-8")
    for path in sorted((shipped_templates() / "desk" / "static").glob("*.js"))
}
SAID_BY_SCRIPTS = {
    name or other
    for text in SCRIPTS.values()
    for name, other in re.findall(r"\bWORDS(?:\.(\w+)|\[\"([\w-]+)\"\])", text)
}


def fields(sentence: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(sentence) if name}


def values(source: Source, call: ast.Call) -> set[str] | None:
    """The names of the values that a call gives; None where that cannot be read from it."""
    names = {each.arg for each in call.keywords if each.arg}
    for each in (each.value for each in call.keywords if each.arg is None):
        groups = source.given[each.id] if isinstance(each, ast.Name) else [each]
        for group in groups or [each]:
            if not isinstance(group, ast.Dict):
                return None
            names |= {str(key.value) for key in group.keys if isinstance(key, ast.Constant)}
    return names


def name_of(call: ast.Call) -> str:
    """`say` of `FINDINGS.say(key)`; '' where what is called has no name."""
    match call.func:
        case ast.Name(name) | ast.Attribute(attr=name):
            return name
    return ""


def sayings(source: Source) -> Iterator[tuple[str, ast.Call, set[str]]]:
    """Each call for words, such as `FINDINGS.say(key, value=1)`, with its file's name and every key
    that it may name.
    """
    for call in source.calls:
        match call.func:
            case ast.Attribute(value=ast.Name(file), attr="say") if file in FILES:
                yield file, call, keys(source, call.args[0], set(FILES[file].sentences))
            case ast.Name(name) if name in SAYS:
                file, group = SAYS[name]
                yield file, call, {f"{group}{key}" for key in keys(source, call.args[0], set())}


def page_keys(key: nodes.Node, known: set[str]) -> set[str]:
    """Every key that an expression of a page may be; of one that is put together, all that fit."""
    match key:
        case nodes.Const():
            return {key.value}
        case nodes.CondExpr(expr1=one, expr2=nodes.Node() as other):
            return page_keys(one, known) | page_keys(other, known)
        case nodes.Concat():
            parts = [
                re.escape(each.value) if isinstance(each, nodes.Const) else r"[\w-]+"
                for each in key.nodes
            ]
            return {each for each in known if re.fullmatch("".join(parts), each)}
    return set()


@cache
def page_sayings() -> list[tuple[str, set[str], set[str]]]:
    """Of each call for words in a page of the desk its text, its keys, and the values it gives."""
    known, found = set(wording.DESK.sentences), []
    for page in PAGES:
        for call in (
            Environment(autoescape=True).parse(page.read_text("utf-8")).find_all(nodes.Call)
        ):
            if isinstance(call.node, nodes.Name) and call.node.name == "say":
                given = {each.key for each in call.kwargs}
                where = f"{page.name}:{call.lineno}"
                found.append((where, page_keys(call.args[0], known), given))
    return found


@cache
def makers() -> dict[str, set[str]]:
    """What makes a finding of a code that it is given, and the values that it adds itself."""
    added: dict[str, set[str]] = {"finding": set(), "BadCell": {"or_blank"}, "_Unfit": set()}
    for function in (each for source in sources().values() for each in source.functions):
        for call in (each for each in ast.walk(function) if isinstance(each, ast.Call)):
            if name_of(call) == "finding" and ast.unparse(call.args[0]) == "code":
                own = {each.arg for each in call.keywords if each.arg}
                added[function.name] = added.get(function.name, set()) | own
    return added


def findings_of(source: Source) -> Iterator[tuple[str, set[str]]]:
    """The code of each finding that is made, and the values that it is given, where both can be
    read from the call.
    """
    for call in source.calls:
        if name_of(call) in makers():
            codes = {str(each.value) for each in call.args[:2] if isinstance(each, ast.Constant)}
            given = values(source, call)
            if given is not None:
                yield from ((code, given | makers()[name_of(call)]) for code in codes & set(CODES))


@pytest.mark.parametrize("path", sorted(shipped_templates().rglob("*.yaml")), ids=str)
def test_no_key_stands_twice_in_a_file_of_words(path: Path) -> None:
    def twice(node: yaml.Node | None, group: str) -> Iterator[str]:
        if isinstance(node, yaml.MappingNode):
            names = [name.value for name, _ in node.value]
            yield from (f"{group}{name}" for name in set(names) if names.count(name) > 1)
            for name, value in node.value:
                yield from twice(value, f"{group}{name.value}.")

    assert list(twice(yaml.compose(path.read_text("utf-8"), yaml.CSafeLoader), "")) == []


def test_every_code_has_words_for_what_is_wrong_and_how_to_mend_it() -> None:
    known = wording.FINDINGS.sentences.keys()
    assert sorted(OF_CODES - known) == []
    assert sorted({key.split(".")[0] for key in known} - set(CODES) - {"any"}) == []


@pytest.mark.parametrize("file", FILES)
def test_the_keys_that_the_code_names_are_those_of_the_file(file: str) -> None:
    known = set(FILES[file].sentences)
    grouped = {f"{group}{text}" for of, group in SAYS.values() for text in texts() if of == file}
    used = (OF_CODES | texts() | grouped) & known
    for name, source in sources().items():
        for call, found in ((call, found) for of, call, found in sayings(source) if of == file):
            where = f"{name}: {ast.unparse(call.args[0])}"
            assert found or where in TAKES_A_KEY, where
            used |= found
    if file == "DESK":
        assert [where for where, found, _ in page_sayings() if not found] == []
        used |= {key for _, found, _ in page_sayings() for key in found} | {"language"}
        used |= {f"script.{name}" for name in SAID_BY_SCRIPTS}
    assert sorted(used - known) == []
    assert sorted(known - used) == []


def test_every_wording_is_given_the_values_that_it_names() -> None:
    lacking = []
    for name, source in sources().items():
        for file, call, found in sayings(source):
            given, sentences = values(source, call), FILES[file].sentences
            for key in () if given is None else found & sentences.keys():
                lacking += [(name, key, each) for each in fields(sentences[key]) - (given or set())]
        for code, given in findings_of(source):
            for key in (f"{code}.message", f"{code}.fix"):
                wanted = fields(wording.FINDINGS.sentences[key])
                lacking += [(name, key, each) for each in wanted - given]
    sentences = wording.DESK.sentences
    for name, found, given in page_sayings():
        lacking += [(name, key, each) for key in found for each in fields(sentences[key]) - given]
    assert sorted(lacking) == []


@pytest.mark.parametrize(
    ("code", "given"),
    [
        ("finding('too-long', place, longest=1)", {"longest"}),
        ("a = {'low': 1}\na |= {'high': 2}\nfinding('too-long', it, **a)", {"low", "high"}),
        ("about(entry, 'before-order', at=1)", {"at"}),
    ],
)  # fmt: skip
def test_the_values_of_a_finding_are_read_from_the_code(code: str, given: set[str]) -> None:
    assert next(findings_of(source_of(code)))[1] == given


def test_the_values_of_most_findings_are_read_from_the_code() -> None:
    read = {code for source in sources().values() for code, _ in findings_of(source)}
    assert len(read) > 0.7 * len(CODES), sorted(set(CODES) - read)


# Words that stand in code, and why. Nobody but a program or this program's makers reads them.
LEFT = {
    r"log/fields\.py: .*": "other spellings that a log may have",
    r"log/yaml_slips\.py: .*": "what the library says, to be put in plain words",
    r"check/parse\.py: (not (known|recorded|measured)|as above)": "what a cell may say",
    r"check/numbers\.py: (.*out of.*|per min(ute)?)": "what a cell may say",
    r"model/ward\.py: not recorded": "the name of a state",
    r"fhir/(bundle|outgoing)\.py: .*not recorded.*": "how the exchange writes who it is",
    r"read/from_fhir\.py: the default codes cannot be read": "a fault of the program",
    r"limits/reading\.py: (limits\.yaml: .*| is not .*)": "a fault of the program",
    r"desk/still_open\.py: breathing rate": "the name of a vital sign in a matter",
    r"judge/vitals\.py: breathing rate": "the name of a vital sign in a verdict",
    r"desk/edits/history\.py: (taken out|line corrected|list made anew)": "how a history names it",
    r"desk/pages/put_back\.py: (put back|rows of )": "the value of a button; a name within",
    r"desk/(drawing|pages/printing)\.py: (<| \(|inline).*": "marks of a page or a header",
    r"limits/(printing|reading)\.py: .*": "what `handoff limits` prints",
    r"fhir/send\.py: .*": "what `handoff send` prints",
}
ROOMS = ("model", "log", "limits", "fhir", "read", "check", "gather", "judge", "explain", "desk")
SENTENCE = re.compile(r"[a-z]{2,}[,;:.]? [a-z]{2,}")


def sentences_in(source: Source) -> list[str]:
    """Texts with two words or more side by side, but for docstrings and patterns."""
    return sorted(text for text in source.shown if SENTENCE.search(text))


@pytest.mark.parametrize(
    ("code", "found"),
    [
        ('def f():\n    """Two words."""\n    g("Two more words")', ["Two more words"]),
        ('f(f"{x} more words")', [" more words"]),
        ('f("one", "two_words", "kg", "Aide, RN")', []),
    ],
)
def test_words_in_code_are_seen(code: str, found: list[str]) -> None:
    assert sentences_in(source_of(code)) == found


def test_no_words_are_left_in_code() -> None:
    found = {
        f"{name}: {text}"
        for name, source in sources().items()
        if name.split("/")[0] in ROOMS
        for text in sentences_in(source)
    }
    assert (
        sorted(
            each for each in found if not any(re.fullmatch(left, each, re.DOTALL) for left in LEFT)
        )
        == []
    )
    assert [
        left for left in LEFT if not any(re.fullmatch(left, each, re.DOTALL) for each in found)
    ] == []


JINJA = re.compile(r"\{#.*?#\}|\{%.*?%\}|\{\{.*?\}\}", re.DOTALL)
SHOWN_ATTRIBUTE = re.compile(r'(?:aria-label|placeholder|title|alt)="([^"]*)"')
CLASSES = {"button small", "button small quiet"}


def words_of_page(text: str) -> list[str]:
    """The words of a page that stand in it: as text, in an attribute that is shown or read aloud,
    or in an expression.
    """
    plain = JINJA.sub("", text)
    texts = [*re.sub(r"<[^<>]*>", "\n", plain).splitlines(), *SHOWN_ATTRIBUTE.findall(plain)]
    consts = (each.value for each in Environment(autoescape=True).parse(text).find_all(nodes.Const))
    named = (each for each in consts if isinstance(each, str))
    put_in = {each for each in named if re.search(r"^[A-Z][a-z]|[a-z] [a-z]", each)}
    return [each.strip() for each in texts if re.search("[A-Za-z]{2}", each)] + sorted(
        put_in - CLASSES
    )


@pytest.mark.parametrize(
    ("page", "words"),
    [
        ("<p>Put right</p>", ["Put right"]),
        ('<nav aria-label="Desk">{{ x }}</nav>', ["Desk"]),
        ("{{ tab('ward.ward', 'Ward') }}", ["Ward"]),
        ("{% if x %}<b class='one two'>{{ say('any.put-right') }}</b> · {% endif %}", []),
    ],
)
def test_words_in_a_page_are_seen(page: str, words: list[str]) -> None:
    assert words_of_page(page) == words


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_no_words_are_left_in_a_page_of_the_desk(page: Path) -> None:
    assert words_of_page(page.read_text("utf-8")) == []


@pytest.mark.parametrize("script", SCRIPTS)
def test_no_words_are_left_in_a_script_of_the_desk(script: str) -> None:
    code = re.sub(r"//.*|/\*.*?\*/", "", SCRIPTS[script])
    texts = (text for _, text in re.findall(r"(['\"`])(.*?)\1", code))
    assert [each for each in texts if re.search(r"[a-z]{3,} [a-z]{2,}", each)] == ["use strict"][
        : script == "desk.js"
    ]

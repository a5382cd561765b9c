"""YAML text becomes nodes that know their line; what could mislead is refused where it stands."""

from collections.abc import Iterator

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from handoff.log import yaml_nodes
from handoff.log.yaml_nodes import Mapping, Node, Scalar, Sequence, load_nodes
from handoff.model.bounds import USUAL


@pytest.fixture(params=["CLoader", "Loader"], autouse=True)
def _each_loader(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each test runs with the C loader and with the one that is always there."""
    loader = getattr(yaml, request.param, None)
    if loader is None:
        pytest.skip("this PyYAML was built without the C loader")
    monkeypatch.setattr(yaml_nodes, "_Loader", loader)


def load(text: str) -> Node:
    node, findings = load_nodes(text, "log.yaml")
    assert findings == []
    assert node is not None
    return node


def refusal(text: str) -> tuple[str, int | None]:
    node, findings = load_nodes(text, "log.yaml")
    assert node is None
    (found,) = findings
    assert found.place.file == "log.yaml"
    return found.code, found.place.line


def test_nothing_is_interpreted() -> None:
    node = load("a: 010\nb: 12:30\nc: no\nd: 2026-03-07\ne: 1_000\nf: 0x1F\ng: '8'\n")
    assert isinstance(node, Mapping)
    texts = [each.text for each in node.values.values() if isinstance(each, Scalar)]
    assert texts == ["010", "12:30", "no", "2026-03-07", "1_000", "0x1F", "8"]


def test_a_null_is_blank_and_a_quoted_null_is_text() -> None:
    node = load("[null, ~, '', 'null', '~']")
    assert isinstance(node, Sequence)
    assert [each.text for each in node.items if isinstance(each, Scalar)] == [
        "",
        "",
        "",
        "null",
        "~",
    ]


def test_every_node_and_name_knows_its_line() -> None:
    node = load("# a comment\na: 1\nb:\n- x\n- {c: 2,\n   d: 3}\n")
    assert isinstance(node, Mapping)
    assert (node.line, node.key_lines) == (2, {"a": 2, "b": 3})
    listed = node.values["b"]
    assert isinstance(listed, Sequence)
    assert [item.line for item in listed.items] == [4, 5]
    inner = listed.items[1]
    assert isinstance(inner, Mapping)
    assert inner.key_lines == {"c": 5, "d": 6}


def test_a_name_written_twice_has_no_value_and_says_so_each_time() -> None:
    node, findings = load_nodes("a: 1\nb: 2\na: 3\na: 4\n", "log.yaml")
    assert isinstance(node, Mapping)
    assert node.values == {"b": Scalar("2", 2)}
    assert set(node.lost) == {"a"}
    assert [(f.code, f.place.line, f.place.column) for f in findings] == [
        ("duplicate-key", 3, "a"),
        ("duplicate-key", 4, "a"),
    ]


@pytest.mark.parametrize(
    ("text", "lost", "known"),
    [
        ("{a: 1,200, b: 2}", {"a": "1,200"}, ["b"]),
        ("{a: 37,2, b: 4,5}", {"a": "37,2", "b": "4,5"}, []),
        ("{a: 37,5, b: 4,5}", {"a": "37,5", "b": "4,5"}, []),
        ("{a: 1,200 mL}", {"a": "1,200 mL"}, []),
        ("{b: 8, a: 1,200,500}", {"a": "1,200"}, ["b", "500"]),
        ("{a: x,200}", {}, ["a", "200"]),
        ("{a: 1, 200: 3}", {}, ["a", "200"]),
        ("{200, a: 1}", {}, ["200", "a"]),
        ("a: 1\n200:\n", {}, ["a", "200"]),
    ],
)
def test_a_number_that_a_comma_cuts_short_has_no_value(
    text: str, lost: dict[str, str], known: list[str]
) -> None:
    node, findings = load_nodes(text, "log.yaml")
    assert isinstance(node, Mapping)
    assert list(node.values) == known
    assert {name: each.raw for name, each in node.lost.items()} == lost
    assert [each.code for each in findings] == ["comma-in-number"] * len(lost)


def test_names_in_different_groups_may_be_the_same() -> None:
    load("- {a: 1}\n- {a: 2, b: {a: 3}}\n")


@pytest.mark.parametrize(
    ("text", "code", "line"),
    [
        ("a: 1\nb: &x 2\n", "yaml-alias", 2),
        ("a: 1\nb: [*x]\n", "yaml-alias", 2),
        ("? *x\n: 1\n", "yaml-alias", 1),
        ("a: !!str 2\n", "yaml-tag", 1),
        ("a:\n- !important sat up\n", "yaml-tag", 2),
        ("a: ! x\n", "yaml-tag", 1),
        ("a: 1\n<<: {b: 2}\n", "yaml-merge-key", 2),
        ("a: 1\n--- \nb: 2\n", "yaml-documents", 2),
        ("a: 1\n? {b: 1}\n: 2\n", "yaml-key", 2),
        ("a: [1\n", "yaml-syntax", 1),
        ("a: 1\nb: c: d\n", "yaml-syntax", 2),
        ("a: 1\n\tb: 2\n", "yaml-syntax", 2),
        ("a: 1\nb: \x07\n", "yaml-syntax", 2),
    ],
)
def test_what_could_mislead_is_refused(text: str, code: str, line: int) -> None:
    assert refusal(text) == (code, line)


ITEM = "entries:\n- patient: 2\n  at: 20:40\n  note: ok\n"
LINE = ITEM.splitlines().index("  note: ok") + 1


@pytest.mark.parametrize(
    ("right", "typed", "line", "words"),
    [
        ("  at:", "\tat:", 3, "a tab stands where spaces belong"),
        ("- p", "-\tp", 2, "a tab stands where spaces belong"),
        ("  at:", "    at:", 3, "a name stands further to the right than those above it"),
        ("  at:", " at:", 3, "this stands too far to the left or right"),
        ("ok", "said: fine", LINE, "text that holds a colon has no quotation marks"),
        ("ok", "% of goal", LINE, "text that begins with a mark"),
        ("ok", "* see chart", LINE, "text that begins with a mark"),
        ("ok", "> 5 breaths", LINE, "text that begins with a mark"),
        ("ok", '"sat up', LINE, "a quotation mark is opened and not closed"),
        ("ok", '"ok" she said', LINE, "behind a mark that closes what is before it"),
        ("ok", "[ok", LINE, "the closing bracket ] is missing"),
        ("  at: ", "  at ", 3, "there is no colon and space after a name"),
        ("- patient: 2\n  at: 20:40", "- {patient: 2, at: 20:40", 2, "closing brace } is missing"),
        (
            "  at: 20:40\n  note: ok",
            "  {at: 20:40}",
            3,
            "a dash and a space are missing before the",
        ),
        ("  at: 20:40\n  note: ok", "{at: 20:40}\n- a: 1", 3, "a dash and a space are missing"),
        (
            "- patient: 2\n  at: 20:40\n  note: ok",
            '- {a: 1}\n-{a: "2", b: 1}',
            3,
            "no space after the dash",
        ),
        ("- patient: 2", "- {patient: 2, note: told #2 man}", 2, "text that holds a # has no quot"),
    ],
)
def test_a_slip_of_the_key_is_told_in_plain_words_where_it_is(
    right: str, typed: str, line: int, words: str
) -> None:
    text = ITEM.replace(right, typed)
    _, (found,) = load_nodes(text, "log.yaml")
    assert (found.code, found.place.line) == ("yaml-syntax", line)
    assert words in found.message
    assert found.raw == text.splitlines()[line - 1].strip()


def test_a_space_that_cannot_be_seen_is_named() -> None:
    _, (found,) = load_nodes("- a: 1\n\u00a0 b: 2\n", "log.yaml")
    assert (found.place.line, found.code) == (2, "yaml-syntax")
    assert "(a non-breaking space is near it)" in found.message


def test_a_merge_sign_in_quotation_marks_is_a_name() -> None:
    assert load("'<<': 1") == Mapping({"<<": Scalar("1", 1)}, {"<<": 1}, 1)


def test_nesting_is_allowed_to_its_limit_and_no_deeper() -> None:
    load("[" * USUAL.nesting + "]" * USUAL.nesting)
    assert refusal("[" * (USUAL.nesting + 1) + "]" * (USUAL.nesting + 1)) == ("yaml-nesting", 1)
    block = "".join(f"{' ' * level}a:\n" for level in range(USUAL.nesting + 1))
    assert refusal(block) == ("yaml-nesting", USUAL.nesting + 1)


def test_a_nest_that_is_never_closed_ends_quickly() -> None:
    code, _ = refusal("[" * 200_000)
    assert code in {"yaml-nesting", "yaml-syntax"}


def test_an_empty_document_is_no_node_and_no_finding() -> None:
    assert load_nodes("", "log.yaml") == (None, [])
    assert load_nodes("# nothing yet\n", "log.yaml") == (None, [])


PLAIN_TEXT = st.text(st.characters(codec="ascii", categories=["L", "N", "P", "S"]), max_size=12)
TREES = st.recursive(
    PLAIN_TEXT,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(PLAIN_TEXT, inner, max_size=4),
    max_leaves=12,
)


def plain(node: Node) -> object:
    if isinstance(node, Scalar):
        return node.text
    if isinstance(node, Sequence):
        return [plain(item) for item in node.items]
    return {name: plain(value) for name, value in node.values.items()}


@settings(max_examples=60, deadline=None)
@given(TREES.filter(lambda tree: tree != ""))
def test_whatever_a_yaml_writer_writes_comes_back(tree: object) -> None:
    written = yaml.safe_dump(tree, default_style='"')
    assert plain(load(written)) == tree


@settings(max_examples=60, deadline=None)
@given(st.text(alphabet="ab: -[]{}#&*!|>'\"%\n\t<?,@`0", max_size=40))
def test_any_text_is_a_node_or_a_finding_and_never_an_exception(text: str) -> None:
    node, findings = load_nodes(text, "log.yaml")
    assert all(each.place.line is not None for each in findings)
    if node is None and not findings:
        assert list(_lines_with_content(text)) == []


def _lines_with_content(text: str) -> Iterator[str]:
    for line in text.splitlines():
        stripped = line.strip()
        if stripped and not stripped.startswith(("#", "---", "...", "%")):
            yield stripped

"""YAML text as plain nodes that know their line: names, lists and raw text, nothing interpreted.

Input: the text of one document. Output: a tree of `Scalar`, `Mapping` and `Sequence`, and findings
on refused parts. Never turns text into numbers, dates or yes and no (`010`, `12:30` and `no` stay
as typed), and never expands anything: anchors, aliases, tags and merge keys are refused.
"""

import codecs
import errno
import os
import re
from collections.abc import Callable
from enum import Enum, auto
from pathlib import Path
from typing import Any, cast

import yaml
from msgspec import field
from yaml.events import (
    AliasEvent,
    DocumentStartEvent,
    MappingEndEvent,
    MappingStartEvent,
    NodeEvent,
    ScalarEvent,
    SequenceEndEvent,
    SequenceStartEvent,
)

from handoff import portable
from handoff.log.yaml_slips import slip_of
from handoff.model.bounds import USUAL, Bounds
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place
from handoff.model.frozen import Frozen
from handoff.model.wording import FINDINGS

_LARGEST_OWN_FILE_BYTES = 2**20

# The marks that a text may begin with; PowerShell writes `> file` in UTF-16.
_MARKED = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)

_NULLS = frozenset({"", "~", "null", "Null", "NULL"})

_COMMENT = re.compile(r"[ \t]+(#[^\r\n]*)")
_CLEARLY_COMMENT = re.compile(r"(?:[ ]{2,}|[ ]*\t[ \t]*)#+(?:[ \t]|$)")

_Loader = getattr(yaml, "CLoader", yaml.Loader)
_Event = Any  # of the library, whose types do not name all that an event has


class Scalar(Frozen):
    """A single value as typed, quotation marks removed; an empty or null one is ''.

    `cut` is the text from ` #` on, a comment in YAML, where it may belong to the value.
    """

    text: str
    line: int
    cut: str = ""


class Sequence(Frozen):
    """A list, in order."""

    items: "tuple[Node, ...]"
    line: int


class Mapping(Frozen):
    """Named values, in order, and the line of each name.

    A name whose value is not known is only in `lost`, with the finding that says why: the name is
    written more than once, a dash is missing before it, or a comma cut its number short.
    """

    values: "dict[str, Node]"
    key_lines: dict[str, int]
    line: int
    lost: dict[str, Finding] = field(default_factory=dict)


Node = Scalar | Mapping | Sequence


def load_nodes(text: str, file: str, bounds: Bounds = USUAL) -> tuple[Node | None, list[Finding]]:
    """The document in `text`, or None when it is refused, empty, or not YAML.

    An empty document is None without a finding. With a finding the node is None unless every
    finding is of a name in `lost`; reading ends at the first refused part.
    """
    builder = _Builder(text, file, bounds)
    try:
        return builder.document(), builder.findings
    except _Refused as refused:
        return None, [*builder.findings, refused.finding]
    except yaml.YAMLError as error:
        return None, [*builder.findings, _syntax_finding(error, text, file)]


def encoding_of(content: bytes) -> str:
    """The encoding that the byte-order mark of a text names; UTF-8 where there is no mark."""
    return next((name for mark, name in _MARKED if content.startswith(mark)), "utf-8")


def load_own_file(path: str, unreadable: str) -> tuple[Node | None, list[Finding]]:
    """The document in a unit's own file, of limits or words, and what is refused; a finding of the
    code `unreadable` where it cannot be read, is far larger than any such file, or is neither in
    UTF-8 nor in UTF-16 with its mark.
    """
    try:
        text = _own_text(path)
    except (OSError, UnicodeDecodeError) as error:
        reason = (
            portable.reason(error) if isinstance(error, OSError) else FINDINGS.say("any.not-utf-8")
        )
        return None, [finding(unreadable, Place(path), reason=reason)]
    return load_nodes(text, path)


def _own_text(path: str) -> str:
    if Path(path).is_dir():  # Windows says of a folder that it may not be read
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
    with Path(path).open("rb") as file:
        content = file.read(_LARGEST_OWN_FILE_BYTES + 1)
    if len(content) > _LARGEST_OWN_FILE_BYTES:
        raise OSError(errno.EFBIG, os.strerror(errno.EFBIG))
    return content.decode(encoding_of(content))


class Layout(Enum):
    """How a node is written."""

    SCALAR = auto()
    FLOW = auto()  # in brackets or braces
    BLOCK = auto()  # by indentation


class Span(Frozen):
    """Where a node stands: the characters from `start` to before `end`; `column` counts from 0."""

    start: int
    end: int
    column: int
    layout: Layout


NodePath = tuple[str | int, ...]


def spans(text: str) -> dict[NodePath, Span]:
    """The span of each node of a document, in order, by its path of names and positions.

    For a text that `load_nodes` reads without a finding. The root's path is ().
    """
    found: dict[NodePath, Span] = {}

    def walk(node: yaml.Node, path: NodePath) -> None:
        start, end = node.start_mark, node.end_mark
        layout = Layout.SCALAR
        if isinstance(node, yaml.CollectionNode):
            layout = Layout.FLOW if node.flow_style else Layout.BLOCK
        found[path] = Span(start.index, end.index, start.column, layout)
        if isinstance(node, yaml.MappingNode):
            for key, value in node.value:
                walk(value, (*path, key.value))
        elif isinstance(node, yaml.SequenceNode):
            for index, item in enumerate(node.value):
                walk(item, (*path, index))

    root = yaml.compose(text, _Loader)
    if root is not None:
        walk(root, ())
    return found


class _Refused(Exception):  # noqa: N818 - it is a decision, not an error of the program
    def __init__(self, finding: Finding) -> None:
        super().__init__(finding.code)
        self.finding = finding


class _Builder:
    """Builds nodes from the parser's events; recursion ends at the bound of nesting."""

    def __init__(self, text: str, file: str, bounds: Bounds) -> None:
        self.text = text
        self.has_comments = " #" in text
        self.file = file
        self.bounds = bounds
        self.findings: list[Finding] = []
        self.next_event: Callable[[], _Event]
        self.texts: dict[str, str] = {}  # each text once: most occur many times

    def document(self) -> Node | None:
        self.next_event = _Loader(self.text).get_event
        root: Node | None = None
        started = False
        while event := self.next_event():
            if isinstance(event, DocumentStartEvent):
                if started:
                    raise self._refusal("yaml-documents", event)
                started = True
            elif isinstance(event, NodeEvent):
                root = self._node(event, 1)
        return root

    def _node(self, event: _Event, depth: int, *, is_item: bool = False) -> Node:
        """The node that begins with an event. An alias has an anchor too: the one it names."""
        if isinstance(event, ScalarEvent):
            return self._scalar(event)
        if event.anchor or event.tag:
            raise self._marked(event)
        if depth > self.bounds.nesting:
            raise self._refusal("yaml-nesting", event)
        if isinstance(event, SequenceStartEvent):
            return self._sequence(event, depth)
        return self._mapping(event, depth, has_dash=is_item and not event.flow_style)

    def _scalar(self, event: _Event) -> Scalar:
        if event.anchor or event.tag:
            raise self._marked(event)
        text, line = event.value, event.start_mark.line + 1
        text = self.texts.setdefault(text, text)
        if not event.implicit[0]:  # in quotation marks, or a block
            return Scalar(text, line)
        if text in _NULLS:
            text = ""
        return Scalar(text, line, self._cut(event) if self.has_comments else "")

    def _marked(self, event: _Event) -> _Refused:
        return self._refusal("yaml-alias" if event.anchor else "yaml-tag", event)

    def _cut(self, event: _Event) -> str:
        """What stands after a value without quotation marks, from its ` #` on; '' where that is
        clearly a comment, two spaces away and with a space after the mark.
        """
        found = _COMMENT.match(self.text, event.end_mark.index)
        return found[1] if found and not _CLEARLY_COMMENT.match(found[0]) else ""

    def _sequence(self, start: SequenceStartEvent, depth: int) -> Sequence:
        items: list[Node] = []
        while not isinstance(event := self.next_event(), SequenceEndEvent):
            if len(items) == self.bounds.rows:
                raise self._refusal("too-many-rows", event)
            items.append(self._node(event, depth + 1, is_item=True))
        return Sequence(tuple(items), _line(start))

    def _mapping(self, start: MappingStartEvent, depth: int, *, has_dash: bool) -> Mapping:
        mapping = Mapping({}, {}, _line(start))
        values, key_lines = mapping.values, mapping.key_lines
        while not isinstance(event := self.next_event(), MappingEndEvent):
            if not isinstance(event, ScalarEvent):
                code = "yaml-alias" if isinstance(event, AliasEvent) else "yaml-key"
                raise self._refusal(code, event)
            key = self._scalar(event)
            name = key.text
            if name == "<<" and event.implicit[0]:
                raise self._refusal("yaml-merge-key", event)
            value = self._node(self.next_event(), depth + 1)
            if name[:1].isdecimal() and _is_rest_of_number(key, value, mapping):
                self._cut_number(mapping, key)
            elif name in key_lines:
                self._repeat(mapping, key, value, has_dash=has_dash)
            else:
                key_lines[name] = key.line
                values[name] = value
        return mapping

    def _repeat(self, mapping: Mapping, key: Scalar, value: Node, *, has_dash: bool) -> None:
        """Loses a name that is written again. Where the first name comes again after others, a dash
        is missing: another record begins. Then all names that come again are lost for that reason.
        """
        first, before = next(iter(mapping.key_lines)), mapping.values.pop(key.text, None)
        dash = mapping.lost.get(first)
        if dash is not None and dash.code == "missing-dash":
            mapping.lost[key.text] = dash
            return
        code = "duplicate-key"
        if has_dash and key.text == first and len(mapping.key_lines) > 1:
            code = "missing-dash"
        elif isinstance(value, Sequence) and isinstance(before, Sequence | None):
            code = "list-twice"
        mapping.lost[key.text] = finding(
            code,
            Place(self.file, key.line, key.text),
            name=key.text,
            first_line=mapping.key_lines[key.text],
        )
        self.findings.append(mapping.lost[key.text])

    def _cut_number(self, mapping: Mapping, rest: Scalar) -> None:
        """Removes the value before a comma: it is only the first part of a number."""
        name, first = mapping.values.popitem()
        raw = f"{cast('Scalar', first).text},{rest.text}"
        place = Place(self.file, rest.line, name)
        mapping.lost[name] = finding("comma-in-number", place, raw=raw)
        self.findings.append(mapping.lost[name])

    def _refusal(self, code: str, event: yaml.Event) -> _Refused:
        place, bounds = Place(self.file, _line(event)), self.bounds
        return _Refused(finding(code, place, deepest=bounds.nesting, most=bounds.rows))


def _is_rest_of_number(key: Scalar, value: Node, before: Mapping) -> bool:
    """Whether a key is what follows the comma of a number, as in `{volume_ml: 1,200, pain: 4}`."""
    if not _is_blank(value) or not before.key_lines:
        return False
    last = before.values.get(next(reversed(before.key_lines)))
    return isinstance(last, Scalar) and last.text.isdecimal() and last.line == key.line


def _is_blank(node: Node) -> bool:
    return isinstance(node, Scalar) and not node.text


def _line(event: yaml.Event) -> int:
    return cast("yaml.Mark", event.start_mark).line + 1


def _syntax_finding(error: yaml.YAMLError, text: str, file: str) -> Finding:
    lines = text.split("\n")
    index = _line_index(error, "problem_mark", text.count("\n", 0, getattr(error, "position", 0)))
    problem = getattr(error, "problem", None) or getattr(error, "reason", None) or ""
    began = _line_index(error, "context_mark", index)
    slip = slip_of(problem, *("".join(lines[each : each + 1]) for each in (index, began)))
    index = began if slip.is_where_it_began else index
    near = "\n".join(lines[max(index - 1, 0) : index + 1])
    unseen = FINDINGS.say("yaml-syntax.unseen") if "\u00a0" in near else ""
    raw = "".join(lines[index : index + 1]).strip() or None
    return finding("yaml-syntax", Place(file, index + 1), raw=raw, problem=f"{slip.words}{unseen}")


def _line_index(error: yaml.YAMLError, mark: str, otherwise: int) -> int:
    """The line, counted from 0, that the library's mark is on, where it has set one."""
    found = getattr(error, mark, None)
    return otherwise if found is None else int(found.line)

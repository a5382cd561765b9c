"""A YAML log: text -> `RawLog`.

Input: the text of the file. Output: a raw log whose cells are the scalars as typed, by contract
name. Never interprets a cell. A list or group instead of a plain value is a lost cell.
"""

import re
from collections import defaultdict
from collections.abc import Iterable

from msgspec.structs import replace

from handoff.log.fields import BY_PATH, FIELDS, Field, Kind, Section, fields_of, nearest
from handoff.log.yaml_nodes import Mapping, Node, Scalar, Sequence, load_nodes
from handoff.model.bounds import USUAL, Bounds
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place
from handoff.model.wording import FINDINGS
from handoff.read.raw_log import RawLog, Record, unusable

_GROUPS = {(field.section, field.path.rpartition(".")[0]) for field in FIELDS if "." in field.path}
_BESIDE_GROUP = {
    (field.section, field.path.rpartition(".")[2]): field for field in FIELDS if "." in field.path
}
_NAMES_UNDER: defaultdict[tuple[Section, str], set[str]] = defaultdict(set)
for _field in FIELDS:
    _group, _, _name = _field.path.rpartition(".")
    _NAMES_UNDER[_field.section, _group].add(_name)
    if _group:
        _NAMES_UNDER[_field.section, ""].add(_group)
ORDERS = ("order", "orders")  # each a group of fields, or a list of such groups
_OF_WORDS = frozenset({Kind.TEXT, Kind.CHOICES})
_MAY_BE_CUT = _OF_WORDS | {Kind.CHOICE}
_NO_COLON = re.compile(r"(\w[\w.]*)(?:\s*[:\uff1a=]\s*|\s+(?=\d))(\S.*)")
# Keys of what may stand somewhere.
_FOUND = {Scalar: "text", Sequence: "list", Mapping: "fields"}


def read_yaml(text: str, file: str, findings: list[Finding], bounds: Bounds = USUAL) -> RawLog:
    """The raw log of a YAML log; `findings` are those of the file so far."""
    root, node_findings = load_nodes(text, file, bounds)
    reader = _Reader(file, [*findings, *node_findings])
    if root is None:
        if not node_findings:
            reader.findings.append(finding("empty-file", Place(file)))
        return unusable(file, reader.findings)
    return reader.raw_log(root)


class _Reader:
    """Reads one log's nodes and collects findings. A wrong name is reported once, at its first
    place.
    """

    def __init__(self, file: str, findings: list[Finding]) -> None:
        self.file = file
        self.findings = findings
        self.reported: set[tuple[Section, str]] = set()
        self.indented: set[str] = set()  # parts of the log that stand inside another

    def raw_log(self, node: Node) -> RawLog:
        if not isinstance(node, Mapping):
            self._wrong_shape(node, node.line, "", "parts")
            return unusable(self.file, self.findings)
        root = self._in_small_letters(node, set(Section))
        for name in (each for each in root.values if each not in set(Section)):
            place = Place(self.file, root.key_lines[name], name)
            hint = _at_home(name) or nearest(name, list(Section))
            self.findings.append(finding("unknown-section", place, raw=name, hint=hint))
        lists = [self._items(root, section) for section in (Section.PATIENT, Section.ENTRY)]
        if any(items is None for items in lists) or set(root.lost) & set(Section):
            return unusable(self.file, self.findings)
        patients, entries = (items or () for items in lists)
        unit, shift = (self._single(root, section) for section in (Section.UNIT, Section.SHIFT))
        raw_log = RawLog(
            file=self.file,
            usable=True,
            unit=unit,
            shift=shift,
            patients=tuple(self._patients(patients)),
            entries=tuple(self._entry(item) for item in entries),
            findings=(),
        )
        if self.indented:
            missed = {"missing-section": self.indented}
            found = [
                each
                for each in self.findings
                if each.place.column not in missed.get(each.code, set())
            ]
            return unusable(self.file, found)
        return replace(raw_log, findings=tuple(self.findings))

    def _items(self, root: Mapping, section: Section) -> tuple[Node, ...] | None:
        """The items of a list section; None when something else stands there."""
        node = root.values.get(section)
        if node is None:
            if section not in root.lost:
                place = Place(self.file, column=section)
                self.findings.append(finding("missing-section", place, section=section))
            return ()
        if isinstance(node, Sequence):
            return node.items
        if _is_blank(node):
            return ()
        self._wrong_shape(node, root.key_lines[section], section, "items")
        return None

    def _single(self, root: Mapping, section: Section) -> Record:
        node = root.values.get(section, Scalar("", root.line))
        line = root.key_lines.get(section, root.line)
        if isinstance(node, Mapping) or _is_blank(node):
            return self._record(node, section, line)
        lost = self._wrong_shape(node, line, section, "fields")
        return Record(line, {}, lost={field.name: lost for field in fields_of(section)})

    def _patients(self, items: Iterable[Node]) -> Iterable[Record]:
        for item in items:
            if isinstance(item, Mapping):
                yield from self._patient(item)
            elif not _is_blank(item):
                self._wrong_shape(item, item.line, Section.PATIENT, "patient")

    def _patient(self, item: Mapping) -> Iterable[Record]:
        """A record of the patient, and one for each order of a list, under the same id."""
        lists = {
            name: node.items if isinstance(node, Sequence) else (node,)
            for name, node in item.values.items()
            if name.casefold() == "orders" or isinstance(node, Sequence)
            if name.casefold() in ORDERS
        }
        plain = Mapping(
            {name: node for name, node in item.values.items() if name not in lists},
            {name: line for name, line in item.key_lines.items() if name not in lists},
            item.line,
            item.lost,
        )
        yield self._record(plain, Section.PATIENT, item.line)
        orders = [order for of_list in lists.values() for order in of_list]
        identity = {name: node for name, node in item.values.items() if name.casefold() == "id"}
        for order in orders:
            if isinstance(order, Mapping):
                values: dict[str, Node] = {**identity, "order": order}
                lines = {name: item.key_lines.get(name, order.line) for name in values}
                yield self._record(Mapping(values, lines, order.line), Section.PATIENT, order.line)
            elif not _is_blank(order):
                self._wrong_shape(order, order.line, "order", "order")

    def _entry(self, item: Node) -> Record:
        if isinstance(item, Mapping) or _is_blank(item):
            return self._record(item, Section.ENTRY, item.line)
        raw = item.text if isinstance(item, Scalar) else None
        place = Place(self.file, item.line, Section.ENTRY)
        broken = finding("not-a-record", place, raw=raw, found=_found(item))
        self.findings.append(broken)
        return Record(item.line, {} if raw is None else {"entry": raw}, broken=broken)

    def _record(self, node: Node, section: Section, line: int) -> Record:
        record = _Draft(section, line)
        if isinstance(node, Mapping):
            self._fill(record, node, "")
        return Record(line, record.cells, record.lines, record.lost)

    def _in_small_letters(self, mapping: Mapping, known: set[str]) -> Mapping:
        """The mapping with names in capitals as the known ones; two of one are lost."""
        if mapping.key_lines.keys() <= known:
            return mapping
        plain = Mapping({}, {}, mapping.line)
        for name, line in mapping.key_lines.items():
            small = name.casefold()
            key = small if name not in known and small in known else name
            if key not in plain.key_lines:
                plain.key_lines[key] = line
                if name in mapping.lost:
                    plain.lost[key] = mapping.lost[name]
                else:
                    plain.values[key] = mapping.values[name]
            elif key not in plain.lost:
                both = plain.values.pop(key), mapping.values.get(name)
                are_lists = all(isinstance(each, Sequence) for each in both)
                code, place = (
                    "list-twice" if are_lists else "duplicate-key",
                    Place(self.file, line, name),
                )
                plain.lost[key] = finding(code, place, first_line=plain.key_lines[key])
                self.findings.append(plain.lost[key])
        return plain

    def _fill(self, draft: "_Draft", as_written: Mapping, group: str) -> None:
        """Adds the cells of a mapping to the draft; `group` is the path that leads to them."""
        names = _NAMES_UNDER[draft.section, group.rstrip(".")]
        mapping = self._in_small_letters(as_written, names)
        for name, why in mapping.lost.items():
            draft.lose(group + name, why)
        before = None
        for name, node in mapping.values.items():
            path = group + name
            line = mapping.key_lines[name]
            field = BY_PATH.get((draft.section, path))
            if field:
                self._cell(draft, field, node, line)
                before = (field, line) if field.kind in _OF_WORDS else None
            elif (draft.section, path) not in _GROUPS:
                if name.casefold() in set(Section) and not isinstance(node, Scalar):
                    place, words = Place(self.file, line, path), {"section": name.casefold()}
                    self.findings.append(finding("indented-section", place, **words))
                    self.indented.add(name.casefold())
                elif not _is_blank(node) or not self._is_slip(draft, path, line, before):
                    self._unknown(draft, path, line, mapping)
            elif isinstance(node, Mapping):
                self._fill(draft, node, f"{path}.")
            elif not _is_blank(node):
                lost = self._wrong_shape(node, line, path, "fields")
                draft.lose(path, lost)

    def _cell(self, draft: "_Draft", field: Field, node: Node, line: int) -> None:
        text, cut = _text(node, field)
        if text is None:
            lost = self._wrong_shape(node, line, field.column, "value", field.name)
            draft.lost[field.name] = lost
            return
        if text:
            draft.cells[field.name] = text
            if line != draft.line:
                draft.lines[field.name] = line
        if cut and field.kind in _MAY_BE_CUT:
            place, raw = Place(self.file, line, field.column), f"{text} {cut}".strip()
            instead = "quotation-marks" if field.kind is Kind.TEXT else "note"
            words = {"cut": cut, "instead": FINDINGS.say(f"cut-by-comment.{instead}")}
            self.findings.append(finding("cut-by-comment", place, field.name, raw, **words))

    def _is_slip(
        self, draft: "_Draft", path: str, line: int, before: tuple[Field, int] | None
    ) -> bool:
        """Whether a name without a value is a typing slip: a field and its value in one, or the
        rest of a text.

        Between braces `breaths 8` and `breaths:8` are names, and `note: sat up, slept` is two.
        """
        written = _NO_COLON.fullmatch(path)
        field = BY_PATH.get((draft.section, written[1])) if written else None
        if written and field and field.name not in draft.cells:
            place = Place(self.file, line, field.column)
            words = {"name": field.path.rpartition(".")[2], "text": written[2]}
            draft.lost[field.name] = finding("no-colon", place, field.name, path, **words)
            self.findings.append(draft.lost[field.name])
            return True
        if before is None or before[1] != line or before[0].name not in draft.cells:
            return False
        self._join(draft, before[0], path, line)
        return True

    def _join(self, draft: "_Draft", field: Field, path: str, line: int) -> None:
        """Joins the rest of a text to the part before its comma, and reports it once."""
        text = draft.cells[field.name]
        if len(text) <= field.longest:  # longer than that it is not read at all
            group = field.path.rpartition(".")[0]
            draft.cells[field.name] = f"{text}, {path.removeprefix(f'{group}.')}"
        if field.name not in draft.joined:
            draft.joined.add(field.name)
            place = Place(self.file, line, field.column)
            raw = draft.cells[field.name]
            self.findings.append(finding("comma-in-text", place, field.name, raw))

    def _unknown(self, draft: "_Draft", path: str, line: int, beside_it: Mapping) -> None:
        section = draft.section
        beside = _BESIDE_GROUP.get((section, path))
        if beside:
            place, group = Place(self.file, line, path), beside.path.partition(".")[0]
            draft.lost[beside.name] = finding("wrong-group", place, beside.name, group=group)
            self.findings.append(draft.lost[beside.name])
        elif (section, path) not in self.reported:
            self.reported.add((section, path))
            place = Place(self.file, line, path)
            hint = nearest(path, [field.path for field in fields_of(section)])
            hint = None if (hint or "").rpartition(".")[2] in beside_it.key_lines else hint
            self.findings.append(finding("unknown-field", place, raw=path, hint=hint))

    def _wrong_shape(
        self, node: Node, line: int, column: str, wanted: str, field: str | None = None
    ) -> Finding:
        place = Place(self.file, line, column or None)
        words = {"found": _found(node), "wanted": FINDINGS.say(f"wrong-shape.wanted.{wanted}")}
        found = finding("wrong-shape", place, field, **words)
        self.findings.append(found)
        return found


class _Draft:
    """A record that is being filled."""

    def __init__(self, section: Section, line: int) -> None:
        self.section = section
        self.line = line
        self.cells: dict[str, str] = {}
        self.lines: dict[str, int] = {}
        self.lost: dict[str, Finding] = {}
        self.joined: set[str] = set()

    def lose(self, path: str, why: Finding) -> None:
        """Marks the field at `path`, or all fields of the group `path`, as lost."""
        for field in FIELDS:
            if field.section is self.section and f"{field.path}.".startswith(f"{path}."):
                self.lost[field.name] = why


def _text(node: Node, field: Field) -> tuple[str | None, str]:
    """A cell as one text, the words of a list of choices joined by `;` (None for another shape);
    and what YAML takes for a comment behind it, or behind a word of the list.
    """
    if isinstance(node, Scalar):
        return node.text, node.cut
    if field.kind is Kind.CHOICES and isinstance(node, Sequence):
        words = [item for item in node.items if isinstance(item, Scalar)]
        if len(words) == len(node.items):
            texts, cuts = [each.text for each in words], [each.cut for each in words]
            return ";".join(filter(None, texts)), " ".join(filter(None, cuts))
    return None, ""


def _at_home(name: str) -> str | None:
    """The part of a log that a field belongs to, where just one has a field or group so named."""
    homes = [section for section in Section if name.casefold() in _NAMES_UNDER[section, ""]]
    if len(homes) != 1:
        return None
    return FINDINGS.say(f"unknown-section.likely.{homes[0]}", name=name)


def _found(node: Node) -> str:
    return FINDINGS.say(f"any.found.{_FOUND[type(node)]}")


def _is_blank(node: Node) -> bool:
    return isinstance(node, Scalar) and not node.text

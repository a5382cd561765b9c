"""The codes of the exchange: what a resource means, what is written, and which units are read.

Input: `codes.yaml` of this package and, by path, a unit's own file over it. Output: `Codes`, or
findings on the unit's file. Never reads a resource. Never uses a part of a file that has an error.
"""

import re
from collections.abc import Iterable, Iterator
from collections.abc import Mapping as Map
from fractions import Fraction
from importlib.resources import files
from typing import Any

from msgspec.structs import replace

from handoff.log.yaml_nodes import Mapping, Node, Scalar, Sequence, load_nodes, load_own_file
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place, Severity, worst
from handoff.model.frozen import Frozen
from handoff.model.wording import FINDINGS

_ANNOTATION = re.compile(r"\{[^{}]*\}")
_SYSTEM = re.compile(r"[a-z][a-z0-9+.-]*:\S+", re.IGNORECASE)  # an absolute address
_CODE = re.compile(r"[^\s]+(\s[^\s]+)*")  # as the standard defines a code


class Coding(Frozen):
    """A code of a system, both as a resource has them."""

    system: str
    code: str


class Concept(Frozen):
    """What one thing is called. Its first code is also what stands first when it is written.

    `read`: the codes that mean it; `write`: those that are written. `unit` is its UCUM unit in the
    log; None for what is no quantity. `method` says how a result is found.
    """

    name: str
    text: str
    read: tuple[Coding, ...]
    write: tuple[Coding, ...]
    unit: str | None = None
    method: str | None = None


class Codes(Frozen):
    """All codes in force. `concepts` and `results` are by name; `words` by group.

    `results` are written only. `file` is None without a unit's own file.
    """

    edition: str
    systems: Map[str, str]
    extensions: Map[str, str]
    concepts: Map[str, Concept]
    results: Map[str, Concept]
    words: Map[str, tuple[str, ...]]
    units: Map[str, Map[str, tuple[Fraction, Fraction]]]
    names: Map[Coding, str]  # by each code that is read, the concept or word that it means
    file: str | None = None

    def name_of(self, system: object, code: object) -> str | None:
        """The concept (`spo2`), or the word (`symptom-dizzy`), that a code means; None for any
        other code, among them those of results.
        """
        if isinstance(system, str) and isinstance(code, str):
            return self.names.get(Coding(system, code))
        return None

    def word(self, group: str, name: str | None) -> str | None:
        """The log's word of a name that `name_of` gave: `dizzy` for symptom-dizzy."""
        words = {_word_name(group, each): each for each in self.words[group]}
        return words.get(name) if name else None

    def concept(self, name: str) -> dict[str, Any]:
        """A CodeableConcept with the codes to write for a concept or a result. A standard's code
        has no display: its own wording is not ours to give.
        """
        concept = self.concepts.get(name) or self.results[name]
        coding = [{"system": each.system, "code": each.code} for each in concept.write]
        return {"coding": coding, "text": concept.text}

    def concept_of_word(self, group: str, word: str) -> dict[str, Any]:
        """A CodeableConcept with the code of one of the log's words."""
        if word not in self.words[group]:
            raise KeyError(word)
        coding = {"system": self.systems["own"], "code": _word_name(group, word)}
        return {"coding": [coding], "text": word.replace("_", " ")}

    def unit_of(self, name: str) -> str:
        """The UCUM unit that a concept or a result has in the log; KeyError where it has none."""
        unit = (self.concepts.get(name) or self.results[name]).unit
        if unit is None:
            raise KeyError(name)
        return unit

    def converted(self, value: Fraction, unit: str, wanted: str) -> Fraction | None:
        """A value of one UCUM unit in the wanted one, exactly; None where that is not known."""
        turn = self._turn(unit, wanted)
        return value * turn[0] + turn[1] if turn else None

    def is_same(self, unit: str, wanted: str) -> bool:
        """Whether two UCUM units are the same, so that a value needs no conversion."""
        return self._turn(unit, wanted) == (Fraction(1), Fraction(0))

    def _turn(self, unit: str, wanted: str) -> tuple[Fraction, Fraction] | None:
        table = self.units.get(wanted, {})
        return table.get(unit) or table.get(_ANNOTATION.sub("", unit))


def load_codes(path: str | None = None) -> tuple[Codes | None, list[Finding]]:
    """The default codes, with a unit's own file over them where one is named; None when that file
    holds an error.
    """
    default = _default_codes()
    if path is None:
        return default, []
    root, findings = load_own_file(path, "codes-unreadable")
    if root is None and findings:
        return None, findings
    unit_file = _UnitFile(path, default)
    codes = unit_file.read(root)
    findings += unit_file.findings
    return (None if worst(findings) is Severity.ERROR else codes), findings


def _word_name(group: str, word: str) -> str:
    return word if group == "yes-no" else f"{group}-{word.replace('_', '-')}"


def _default_codes() -> Codes:
    text = files("handoff.fhir").joinpath("codes.yaml").read_text(encoding="utf-8")
    root, findings = load_nodes(text, "codes.yaml")
    if findings:
        raise ValueError("; ".join(map(str, findings)))
    top: dict[str, Any] = _plain(root)
    systems = top["systems"]
    concepts, results = (
        {name: _concept(name, fields, systems) for name, fields in top[group].items()}
        for group in ("concepts", "results")
    )
    words = {group: tuple(each) for group, each in top["words"].items()}
    units = {
        unit: {code: _factor(factor) for code, factor in table.items()}
        for unit, table in top["units"].items()
    }
    names = _names(concepts, words, systems["own"])
    return Codes(top["edition"], systems, top["extensions"], concepts, results, words, units, names)


def _plain(node: Node | None) -> Any:  # noqa: ANN401 - a document may hold anything
    if isinstance(node, Mapping):
        return {name: _plain(value) for name, value in node.values.items()}
    if isinstance(node, Sequence):
        return [_plain(item) for item in node.items]
    return node.text if node else ""


def _concept(name: str, fields: Map[str, Any], systems: Map[str, str]) -> Concept:
    written = fields.get("codes", [f"own {name}"])
    codes = tuple(_coding(each, systems) for each in written)
    return Concept(name, fields["text"], codes, codes, fields.get("unit"), fields.get("method"))


def _coding(text: str, systems: Map[str, str]) -> Coding:
    system, _, code = text.partition(" ")
    return Coding(systems.get(system, system), code)


def _factor(written: str | Map[str, str]) -> tuple[Fraction, Fraction]:
    if isinstance(written, str):
        return Fraction(written), Fraction(0)
    return Fraction(written["factor"]), Fraction(written["zero"])


def _names(
    concepts: Map[str, Concept], words: Map[str, tuple[str, ...]], own: str
) -> dict[Coding, str]:
    of_words = [_word_name(group, word) for group, each in words.items() for word in each]
    return {
        **{Coding(own, name): name for name in of_words},
        **{coding: name for name, concept in concepts.items() for coding in concept.read},
    }


class _UnitFile:
    """Puts a unit's own codes over the default ones, and collects its findings."""

    def __init__(self, file: str, default: Codes) -> None:
        self.file = file
        self.default = default
        self.findings: list[Finding] = []

    def read(self, root: Node | None) -> Codes:
        default = self.default
        top = self._fields("", root, 1, ("edition", "concepts"))
        _, edition = top.get("edition", (1, Scalar(default.edition, 1)))
        if not isinstance(edition, Scalar) or edition.text.strip() != default.edition:
            self._report("codes-edition", edition.line, "edition", edition=default.edition)
        concepts = dict(default.concepts)
        line, group = top.get("concepts", (1, None))
        for name, (at, node) in self._fields("concepts", group, line, concepts).items():
            path = f"concepts.{name}"
            codes = {
                key: tuple(self._codings(f"{path}.{key}", *written))
                for key, written in self._fields(path, node, at, ("read", "write")).items()
            }
            concept = concepts[name]
            read = tuple(dict.fromkeys((*concept.read, *codes.get("read", ()))))
            concepts[name] = replace(concept, read=read, write=codes.get("write") or concept.write)
            self._check_meanings(path, at, concepts[name])
        names = _names(concepts, default.words, default.systems["own"])
        return replace(default, concepts=concepts, names=names, file=self.file)

    def _fields(
        self, path: str, node: Node | None, line: int, known: Iterable[str]
    ) -> dict[str, tuple[int, Node]]:
        """The fields of a group by name, each with its line; an empty group has none."""
        if node is None or (isinstance(node, Scalar) and not node.text.strip()):
            return {}
        if not isinstance(node, Mapping):
            self._report("codes-shape", line, path, form=FINDINGS.say("codes-shape.names"))
            return {}
        known = set(known)
        for name in node.values.keys() - known:
            self._report("codes-unknown-key", node.key_lines[name], f"{path}.{name}".strip("."))
        return {
            name: (node.key_lines[name], value)
            for name, value in node.values.items()
            if name in known
        }

    def _codings(self, path: str, line: int, node: Node) -> Iterator[Coding]:
        items = node.items if isinstance(node, Sequence) else (node,)
        for item in items:
            text = item.text.strip() if isinstance(item, Scalar) else ""
            system, _, code = text.partition(" ")
            address = self.default.systems.get(system, system)
            if _SYSTEM.fullmatch(address) and _CODE.fullmatch(code):
                yield Coding(address, code)
            else:
                form = FINDINGS.say("codes-shape.codes")
                self._report("codes-shape", item.line or line, path, form=form)

    def _check_meanings(self, path: str, line: int, concept: Concept) -> None:
        """Reports a code that already means something else, or that only a result has."""
        for coding in concept.read:
            other = self.default.names.get(coding, concept.name)
            of_results = (each for each in self.default.results.values() if coding in each.write)
            taken = next((each.name for each in of_results), other)
            if taken != concept.name:
                raw = f"{coding.system} {coding.code}"
                self._report("codes-taken", line, path, raw=raw, other=taken)

    def _report(
        self, code: str, line: int, path: str, raw: str | None = None, **words: object
    ) -> None:
        name = path.rpartition(".")[2] or None
        place = Place(self.file, line, path or None)
        self.findings.append(finding(code, place, name, raw, name=name, **words))

"""Reads the limits of all cautions: the defaults, and a unit's own values instead of some.

Input: `limits.yaml` of this package and, by path, a unit's own file of the same shape. Output:
`Limits`, or findings on the unit's file. Never judges. Never uses a part of a file that has an
error: then there are no limits, and nothing may be printed.

A unit moves a limit within its range, and a published one only to the stricter side: `is_looser`
says which that is. A limit for one patient is not the unit's to set, but part of the order. A unit
switches off no rule that may escalate.
"""

import re
from collections.abc import Iterable
from collections.abc import Mapping as Map
from datetime import date
from difflib import get_close_matches
from fractions import Fraction
from importlib.resources import files

from msgspec.structs import replace

from handoff.log.yaml_nodes import Mapping, Node, Scalar, load_nodes, load_own_file
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place, Severity, worst
from handoff.model.frozen import Frozen
from handoff.model.wording import FINDINGS

UNIT_MARK = "the unit's own"
NUMBER = re.compile(r"-?[0-9]{1,9}(\.[0-9]{1,9}|/[1-9][0-9]{0,8})?")
APPROVAL = ("approved_by", "approved_on")


class Limit(Frozen):
    """One number, its UCUM unit, its source, and the range within which a unit may set its own.

    `mark`: published, memory, common practice, or the unit's own. Numbers are exact: a third is
    1/3. `usual` is the value without a unit's own file.
    """

    value: Fraction
    usual: Fraction
    unit: str
    source: str
    mark: str
    at_least: Fraction
    at_most: Fraction


class Rule(Frozen):
    """One rule's level (`milder_level`: where it has two) and limits, by name.

    `source` and `mark` are the rule's own where it has no limit.
    """

    level: str
    milder_level: str | None
    source: str | None
    mark: str | None
    limits: Map[str, Limit]
    on: bool = True


class Limits(Frozen):
    """The limits in force, by rule, in printing order. `file` is None for the default ones."""

    edition: str
    rules: Map[str, Rule]
    file: str | None = None
    approved_by: str | None = None
    approved_on: date | None = None

    def limit(self, rule: str, name: str) -> Limit:
        """One limit of a rule; KeyError for a name that `limits.yaml` does not hold."""
        return self.rules[rule].limits[name]

    def value(self, rule: str, name: str) -> float:
        """The limit as a number, in its own unit."""
        return float(self.limit(rule, name).value)

    def level(self, rule: str) -> str:
        """The rule's level; where it has two, the graver one."""
        return self.rules[rule].level

    def is_on(self, rule: str) -> bool:
        """False when the unit switched the rule off."""
        return self.rules[rule].on

    @property
    def off(self) -> tuple[str, ...]:
        """The rules that the unit switched off, in printing order."""
        return tuple(name for name, rule in self.rules.items() if not rule.on)

    @property
    def changed(self) -> tuple[tuple[str, str], ...]:
        """The limits that the unit changed, in printing order: each as its rule's name and its own.
        A rule that is off has none.
        """
        return tuple(
            (rule, name)
            for rule, each in self.rules.items()
            for name, limit in each.limits.items()
            if each.on and limit.value != limit.usual
        )

    def cited(self, rule: str, name: str | None = None) -> str:
        """The source of a limit, or of a rule without limits, in words that may be printed.

        A source named from memory says so; the unit's own is its file and who approved it.
        """
        source = self.rules[rule] if name is None else self.limit(rule, name)
        if source.mark == UNIT_MARK:
            return f"{self.file}, approved by {self.approved_by} on {self.approved_on}"
        if source.mark == "common practice":
            return source.mark
        from_memory = ", from memory" if source.mark == "memory" else ""
        return f"{source.source}{from_memory}"


def load_limits(path: str | None = None) -> tuple[Limits | None, list[Finding]]:
    """The default limits, with a unit's own file over them where one is named.

    None when that file holds an error; a warning leaves it in force.
    """
    default = _default_limits()
    if path is None:
        return default, []
    root, findings = load_own_file(path, "limits-unreadable")
    if root is None and findings:
        return None, findings
    unit_file = _UnitFile(path)
    limits = unit_file.read(root, default)
    findings += unit_file.findings
    return (None if worst(findings) is Severity.ERROR else limits), findings


def shown(number: Fraction) -> str:
    """A limit as it is written: a decimal where that is exact, else a fraction such as 1/3."""
    decimal = f"{float(number):g}"
    return decimal if Fraction(decimal) == number else str(number)


def is_looser(name: str, value: Fraction, usual: Fraction) -> bool:
    """Whether a limit of this name, set to `value`, is met by less than with the usual value.

    The end of its name says on which side it is met: `_under` and `_at_or_under` by what is lower,
    so that a lower value is looser; `_over` and `_at_or_over` by what is higher, so that a higher
    value is looser.
    """
    return value < usual if name.endswith("_under") else value > usual


def _default_limits() -> Limits:
    text = files("handoff.limits").joinpath("limits.yaml").read_text(encoding="utf-8")
    root, findings = load_nodes(text, "limits.yaml")
    if findings:
        raise ValueError("; ".join(map(str, findings)))
    top = _mapping(root)
    rules = {name: _rule(_mapping(node)) for name, node in _mapping(top["rules"]).items()}
    return Limits(_text(top, "edition"), rules)


def _rule(fields: Map[str, Node]) -> Rule:
    limits = _mapping(fields["limits"]) if "limits" in fields else {}
    return Rule(
        level=_text(fields, "level"),
        milder_level=_text(fields, "milder_level") if "milder_level" in fields else None,
        source=None if limits else _text(fields, "source"),
        mark=None if limits else _text(fields, "mark"),
        limits={name: _limit(_mapping(node)) for name, node in limits.items()},
    )


def _limit(fields: Map[str, Node]) -> Limit:
    value = Fraction(_text(fields, "value"))
    return Limit(
        value,
        value,
        _text(fields, "unit"),
        _text(fields, "source"),
        _text(fields, "mark"),
        Fraction(_text(fields, "at_least")),
        Fraction(_text(fields, "at_most")),
    )


def _mapping(node: Node | None) -> dict[str, Node]:
    if not isinstance(node, Mapping):
        raise TypeError(f"limits.yaml: a group of names is missing: {node}")
    return node.values


def _text(fields: Map[str, Node], name: str) -> str:
    node = fields[name]
    if not isinstance(node, Scalar):
        raise TypeError(f"limits.yaml:{node.line}: {name} is not a single value")
    return node.text


class _Field(Frozen):
    """A value of the unit's file: its dotted path, its line and its node."""

    path: str
    line: int
    node: Node

    @property
    def name(self) -> str:
        return self.path.rpartition(".")[2]

    @property
    def text(self) -> str | None:
        return self.node.text.strip() if isinstance(self.node, Scalar) else None


class _UnitFile:
    """Applies a unit's own file to the default limits, and collects its findings."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.findings: list[Finding] = []

    def read(self, root: Node | None, default: Limits) -> Limits:
        top = _Field("", 1, root or Scalar("", 1))
        fields = self._fields(top, ("edition", "rules", *APPROVAL))
        edition = fields.get("edition")
        if edition is not None and edition.text != default.edition:
            self._report("limits-edition", edition, edition=default.edition)
        rules = dict(default.rules)
        if "rules" in fields:
            for name, field in self._fields(fields["rules"], rules).items():
                rules[name] = self._rule(field, rules[name])
        approved_by, approved_on = (self._approval(fields.get(name), name) for name in APPROVAL)
        return Limits(
            default.edition, rules, self.file, approved_by, self._date(approved_on, fields)
        )

    def _fields(self, group: _Field, known: Iterable[str]) -> dict[str, _Field]:
        """The fields of a group by name; an empty group has none, an unknown name is an error."""
        if not isinstance(group.node, Mapping):
            if group.text != "":
                self._shape(group, "group")
            return {}
        prefix = f"{group.path}." if group.path else ""
        fields = {
            name: _Field(f"{prefix}{name}", group.node.key_lines[name], node)
            for name, node in group.node.values.items()
        }
        known = list(known)
        for name, field in fields.items():
            if name not in known:
                likely = get_close_matches(name, known, n=1)
                hint = likely[0] if likely else None
                self._report("limits-unknown-key", field, name=name, hint=hint)
        return {name: field for name, field in fields.items() if name in known}

    def _rule(self, field: _Field, rule: Rule) -> Rule:
        if field.text is not None and field.text.lower() in ("", "on", "off"):
            is_on = field.text.lower() != "off"
            if not is_on and rule.level == "escalate":
                self._report("limits-never-off", field)
            return replace(rule, on=is_on)
        if not isinstance(field.node, Mapping):
            self._shape(field, "rule")
            return rule
        fixed = {name: getattr(rule, name) for name in ("level", "milder_level", "source", "mark")}
        fields = self._fields(field, ("limits", *fixed))
        self._check_fixed(fields, fixed)
        limits = dict(rule.limits)
        if "limits" in fields:
            for name, limit in self._fields(fields["limits"], limits).items():
                limits[name] = self._limit(limit, limits[name])
        return replace(rule, limits=limits)

    def _limit(self, field: _Field, limit: Limit) -> Limit:
        fixed = {name: getattr(limit, name) for name in ("source", "mark", "at_least", "at_most")}
        known = ("value", "unit", *fixed)
        fields = self._fields(field, known) if isinstance(field.node, Mapping) else {}
        self._check_fixed(fields, fixed)
        if not {"value", "unit"} <= fields.keys():
            words = {"value": shown(limit.value), "unit": limit.unit}
            self._report("limits-incomplete", field, **words)
            return limit
        if fields["unit"].text != limit.unit:
            self._report("limits-wrong-unit", fields["unit"], unit=limit.unit)
        value = self._value(fields["value"], field.name, limit)
        if value == limit.value:
            return limit
        return replace(limit, value=value, mark=UNIT_MARK, source="the unit's own file")

    def _value(self, field: _Field, name: str, limit: Limit) -> Fraction:
        """The field's number, or the default where it is not one or not an allowed one."""
        text = field.text or ""
        low, high = shown(limit.at_least), shown(limit.at_most)
        if not NUMBER.fullmatch(text):
            self._report("limits-not-a-number", field)
        elif limit.mark == "published" and is_looser(name, Fraction(text), limit.value):
            usual = shown(limit.value)
            self._report("limits-looser", field, usual=usual, low=low, high=high, unit=limit.unit)
        elif not limit.at_least <= Fraction(text) <= limit.at_most:
            self._report("limits-out-of-range", field, low=low, high=high, unit=limit.unit)
        elif limit.unit.startswith("{") and Fraction(text).denominator != 1:
            self._report("limits-not-whole", field)
        else:
            return Fraction(text)
        return limit.value

    def _check_fixed(self, fields: Map[str, _Field], fixed: Map[str, object]) -> None:
        """Reports fields that a unit cannot change, unless they equal the value in force."""
        for name, field in fields.items():
            written: object = field.text
            if isinstance(fixed.get(name), Fraction) and NUMBER.fullmatch(field.text or ""):
                written = Fraction(field.text or "")
            if name in fixed and written != fixed[name]:
                self._report("limits-fixed", field, name=name)

    def _approval(self, field: _Field | None, name: str) -> str | None:
        if field is not None and field.text:
            return field.text
        missing = field or _Field(name, 1, Scalar("", 1))
        self._report(
            "limits-not-approved",
            missing,
            name=name,
            what=FINDINGS.say(f"limits-not-approved.{name}"),
        )
        return None

    def _date(self, text: str | None, fields: Map[str, _Field]) -> date | None:
        if text is None:
            return None
        try:
            return date.fromisoformat(text)
        except ValueError:
            self._report("limits-not-a-date", fields["approved_on"])
            return None

    def _shape(self, field: _Field, wanted: str) -> None:
        words = {each: FINDINGS.say(f"limits-shape.{wanted}.{each}") for each in ("wanted", "form")}
        self._report("limits-shape", field, **words)

    def _report(self, code: str, field: _Field, **words: object) -> None:
        place = Place(self.file, field.line, field.path)
        self.findings.append(finding(code, place, field.name, field.text, **words))

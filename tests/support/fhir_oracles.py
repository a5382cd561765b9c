"""Four judges of a resource that nobody of this project wrote: each says what it finds wrong.

`fhirkit` is a library; `schema` the official JSON schema; `invariants` HL7's own rules, evaluated
by the library `fhirpathpy`; `profiles` the standard's profiles of vital signs. Their definitions
stand in `tests/fhir/standard/`, unchanged, with their source.
"""

import gzip
import json
import re
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any

import fhirkit
import fhirpathpy
from fhirpathpy.engine.nodes import ResourceNode
from fhirpathpy.models import models
from jsonschema import Draft6Validator

Json = dict[str, Any]
STANDARD = Path(__file__).parents[1] / "fhir" / "standard"

# The profile of each vital sign that the standard has one for, by its LOINC code.
PROFILES = {
    "2708-6": "oxygensat",
    "59408-5": "oxygensat",
    "9279-1": "resprate",
    "8867-4": "heartrate",
    "8310-5": "bodytemp",
    "8302-2": "bodyheight",
    "29463-7": "bodyweight",
}
# Rules that need a server of terms or another resource, and the one, dom-3, that asks of several
# elements at once what the library answers for one only.
NOT_EVALUATED = ("memberOf(", "resolve()", "htmlChecks()", "as(canonical)")
# Rules that hold of every element, and mean something for those with parts only.
OF_PARTS = ("ele-1", "ext-1")
# The library compares no quantities; the rule's own XPath compares their numbers.
AS_IN_XPATH = {"rng-2": "low.empty() or high.empty() or (low.value <= high.value)"}
TRACE = re.compile(r"\.trace\('[^']*'(?:,[^)]*)?\)")  # prints while it evaluates


def fhirkit_finds(resource: Json) -> list[str]:
    return [str(each) for each in fhirkit.validate(resource) if each.severity == "error"]


@cache
def _schema_of(kind: str) -> Any:
    definitions = _whole_schema()["definitions"]
    return Draft6Validator({"$ref": f"#/definitions/{kind}", "definitions": definitions})


@cache
def _whole_schema() -> Json:
    packed = (STANDARD / "fhir.schema.json.gz").read_bytes()
    schema: Json = json.loads(gzip.decompress(packed))
    return schema


def schema_finds(resource: Json) -> list[str]:
    errors = _schema_of(resource["resourceType"]).iter_errors(resource)
    return [f"{each.json_path}: {each.message[:200]}" for each in errors]


@cache
def _definitions() -> dict[str, list[Json]]:
    """By its name the elements of each definition."""
    lines = gzip.decompress((STANDARD / "definitions.jsonl.gz").read_bytes()).splitlines()
    definitions = map(json.loads, lines)
    return {each["id"]: each["snapshot"]["element"] for each in definitions}


@cache
def _compiled(expression: str) -> Callable[..., Any]:
    options = {"userInvocationTable": {"hasValue": {"fn": _has_value, "arity": {0: []}}}}
    quiet = TRACE.sub("", expression)
    compiled: Callable[..., Any] = fhirpathpy.compile(quiet, models["r4"], options)
    return compiled


def _has_value(nodes: list[Any]) -> list[bool]:
    """The one function of FHIRPath in these rules that the library lacks."""
    return [len(nodes) == 1 and nodes[0] is not None]


def _nodes(node: Json, path: list[str], types: list[Json]) -> Iterator[tuple[Any, str]]:
    """What stands at a path below a node, each with the name of its type."""
    if not path:
        yield node, types[0]["code"] if types else ""
        return
    name, *rest = path
    if name.endswith("[x]"):
        stem = name.removesuffix("[x]")
        found = [(key, value) for key, value in node.items() if key.startswith(stem)]
    else:
        found = [(name, node[name])] if name in node else []
    for key, value in found:
        of_key = types
        if name.endswith("[x]"):
            of_key = [each for each in types if _same(each["code"], key.removeprefix(stem))]
        for each in value if isinstance(value, list) else [value]:
            if isinstance(each, dict):
                yield from _nodes(each, rest, of_key or types)


def _same(one: str, other: str) -> bool:
    return one.casefold() == other.casefold()


def _broken_rules(node: Json, definition: str, whole: Json, where: str) -> Iterator[str]:
    elements = _definitions()[definition]
    for element in elements:
        if ":" in element["id"]:  # a slice: `profile_finds` looks at these
            continue
        path = element["path"].split(".")[1:]
        for each, kind in _nodes(node, path, element.get("type", [])):
            for rule in element.get("constraint", ()):
                if _breaks(each, element["path"], rule, whole):
                    yield f"{where}{element['path']}: {rule['key']}"
            if path and kind in _definitions() and kind not in ("Extension", definition):
                yield from _broken_rules(each, kind, whole, f"{where}{element['path']} > ")
    for contained in node.get("contained", ()):
        kind = contained["resourceType"]
        yield from _broken_rules(contained, kind, contained, f"{where}contained > ")


def _breaks(node: Json, path: str, rule: Json, whole: Json) -> bool:
    expression = AS_IN_XPATH.get(rule["key"]) or str(rule.get("expression"))
    if rule["severity"] != "error" or any(each in expression for each in NOT_EVALUATED):
        return False
    if rule["key"] in OF_PARTS:
        return rule["key"] == "ele-1" and not node
    typed = ResourceNode.create_node(node, path)  # type: ignore[no-untyped-call]
    answer: list[Any] = _compiled(expression)(typed, {"resource": whole, "rootResource": whole})
    return answer == [False]


def invariants_find(resource: Json) -> list[str]:
    return list(_broken_rules(resource, resource["resourceType"], resource, ""))


def profiles_find(resource: Json) -> list[str]:
    """What the profile of its vital sign asks for and an Observation lacks."""
    codes = {each.get("code") for each in resource.get("code", {}).get("coding", ())}
    named = dict.fromkeys(name for code, name in PROFILES.items() if code in codes)
    if resource["resourceType"] != "Observation":
        return []
    return [found for name in named for found in _lacking(resource, name)]


def _lacking(resource: Json, profile: str) -> Iterator[str]:
    elements = _definitions()[profile]
    for element in elements:
        name, path = element["id"].rpartition(".")[2], element["path"].split(".")[1:]
        if ":" in element["id"]:
            wanted = ":" in name and element["min"]
            slices = _slices(resource, path) if wanted else ()
            is_there = any(_fits(each, element["id"], elements) for each in slices)
        else:
            wanted = element["min"] and len(path) == 1
            is_there = bool(wanted) and _present(resource, name)
            yield from _broken_of_profile(resource, element, path)
        if wanted and not is_there:
            yield f"{profile} {element['id']}: is missing"
    value = resource.get("valueQuantity")
    if value is not None and not _fits(value, "Observation.value[x]:valueQuantity", elements):
        yield f"{profile} Observation.valueQuantity: is another"


def _broken_of_profile(resource: Json, element: Json, path: list[str]) -> Iterator[str]:
    """The profile's own rules that an Observation breaks."""
    for rule in element.get("constraint", ()):
        if rule["key"].startswith("vs-"):
            for each, _ in _nodes(resource, path, element.get("type", [])):
                if _breaks(each, element["path"], rule, resource):
                    yield f"{element['id']}: {rule['key']}"


def _present(resource: Json, name: str) -> bool:
    stem = name.removesuffix("[x]")
    return any(key.lstrip("_").startswith(stem) for key in resource)


def _slices(resource: Json, path: list[str]) -> Iterator[Json]:
    found: list[Any] = [resource]
    for name in path:
        below = [each.get(name, []) for each in found]
        found = [item for each in below for item in (each if isinstance(each, list) else [each])]
    yield from found


def _fits(node: Json, start: str, elements: list[Json]) -> bool:
    """Whether a node has all that the elements below its slice ask for, with their fixed values."""
    for element in elements:
        rest = element["id"].removeprefix(f"{start}.")
        if rest == element["id"] or not element["min"]:
            continue
        parts: list[Any] = [node]
        for name in rest.split("."):
            below = [each.get(name, []) for each in parts if isinstance(each, dict)]
            parts = [
                item for each in below for item in (each if isinstance(each, list) else [each])
            ]
        fixed = [value for key, value in element.items() if key.startswith("fixed")]
        if not parts or (fixed and fixed[0] not in parts):
            return False
    return True


ORACLES: dict[str, Callable[[Json], list[str]]] = {
    "fhirkit": fhirkit_finds,
    "schema": schema_finds,
    "invariants": invariants_find,
    "profiles": profiles_find,
}


def all_find(resource: Json) -> list[str]:
    return [f"{name}: {found}" for name, find in ORACLES.items() for found in find(resource)]


def shape_of(node: Any) -> object:
    """What of a resource the rules depend on: its elements and codes, not its texts and numbers."""
    if isinstance(node, dict):
        return tuple(
            (key, value if key in ("code", "system", "status", "url") else shape_of(value))
            if not isinstance(value, dict | list)
            else (key, shape_of(value))
            for key, value in sorted(node.items())
        )
    if isinstance(node, list):
        return tuple(sorted({repr(shape_of(each)) for each in node}))
    return type(node).__name__

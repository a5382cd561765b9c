"""JSON as the exchange reads it: text -> plain values, with every number as it is written.

Input: the text of a document. Output: its value, or a finding; and its text again. Refuses what
two readers may understand differently (a name written twice, NaN, half a surrogate pair) and what
is nested too deeply. `obj`, `seq`, `txt` and `num` give nothing for a value of another shape, so
that no shape of a document is a fault of the program.
"""

import json
import re
from collections.abc import Mapping
from itertools import accumulate
from types import MappingProxyType
from typing import Any

from handoff.model.codes import finding
from handoff.model.findings import Finding, Place
from handoff.model.wording import FINDINGS

DEEPEST = 60  # levels of brackets: far more than any resource has, far less than would harm

# Possessive, so that no text takes more than one pass; a text that is not closed reaches the end.
_QUOTED = re.compile(r'"[^"\\]*+(?:\\.[^"\\]*+)*+(?:"|\\?\Z)', re.DOTALL)
_BRACKETS = re.compile(r"[\[\]{}]")
_STEPS = {"[": 1, "{": 1, "]": -1, "}": -1}
_SURROGATE = re.compile(r"\\u[dD][89a-fA-F]")
_NOTHING: Mapping[str, Any] = MappingProxyType({})


class Num(str):
    """A number as it is written: `1.10` has two decimals."""

    __slots__ = ()


class _RefusedError(Exception):
    def __init__(self, code: str, raw: str) -> None:
        super().__init__(code)
        self.code, self.raw = code, raw


def load_json(text: str, file: str) -> tuple[Any, list[Finding]]:
    """The value of a JSON document, or None with the finding that says why it is refused."""
    place = Place(file)
    if text.lstrip("\ufeff \t\r\n").startswith("<"):
        what = FINDINGS.say("fhir-not-a-bundle.what.markup")
        return None, [finding("fhir-not-a-bundle", place, what=what)]
    if _depth(text) > DEEPEST:
        return None, [finding("fhir-nesting", place, deepest=DEEPEST)]
    try:
        document = json.loads(
            text,
            parse_int=Num,
            parse_float=Num,
            parse_constant=_refuse_constant,
            object_pairs_hook=_once,
        )
        if _SURROGATE.search(text):
            json.dumps(document, ensure_ascii=False).encode()
    except _RefusedError as refused:
        return None, [finding(refused.code, place, raw=refused.raw)]
    except json.JSONDecodeError as error:
        problem = error.msg[:1].lower() + error.msg[1:]
        return None, [finding("fhir-json", Place(file, error.lineno), problem=problem)]
    except UnicodeEncodeError:
        problem = FINDINGS.say("fhir-json.half-a-letter")
        return None, [finding("fhir-json", place, problem=problem)]
    return document, []


def dump(value: object) -> str:
    """The text of a value, with each number as it was written."""
    if isinstance(value, Num):
        return str(value)
    if isinstance(value, dict):
        return "{" + ",".join(f"{json.dumps(key)}:{dump(of)}" for key, of in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ",".join(map(dump, value)) + "]"
    return json.dumps(value, allow_nan=False)


def _depth(text: str) -> int:
    """How many brackets are open at once, at most; those in texts do not count."""
    steps = map(_STEPS.__getitem__, _BRACKETS.findall(_QUOTED.sub("", text)))
    return max(accumulate(steps), default=0)


def _refuse_constant(name: str) -> None:
    raise _RefusedError("fhir-json-constant", name)


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    values = dict(pairs)
    if len(values) < len(pairs):
        seen: set[str] = set()
        twice = next(name for name, _ in pairs if name in seen or seen.add(name))  # type: ignore[func-returns-value]
        raise _RefusedError("fhir-repeated-name", twice)
    return values


def obj(value: object) -> Mapping[str, Any]:
    """The value if it is an object, else an empty one."""
    return value if isinstance(value, dict) else _NOTHING


def seq(value: object) -> list[Any]:
    """The value if it is a list, else an empty one."""
    return value if isinstance(value, list) else []


def objs(value: object) -> list[Mapping[str, Any]]:
    """The objects of a list; empty ones for what is none."""
    return [obj(each) for each in seq(value)]


def txt(value: object) -> str:
    """The value if it is a text, without spaces at its ends, else ''."""
    return value.strip() if isinstance(value, str) and not isinstance(value, Num) else ""


def num(value: object) -> str:
    """The value as it is written if it is a number, else ''."""
    return value if isinstance(value, Num) else ""

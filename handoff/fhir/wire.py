"""JSON as servers and files send it: text -> dictionaries and lists, and back to the same text.

Input: bytes. Output: plain values, in which a number is a `Num`, as it was written; or `JsonError`.
Never gives a number another form (`1.10` is not `1.1` to whoever measured it), and never recurses
deeper than `DEEPEST`.
"""

import json
from collections.abc import Iterator, Sequence
from typing import Any, NoReturn

DEEPEST = 60  # levels; a resource has about ten
_TOO_DEEP = f"it is nested more than {DEEPEST} levels deep"


class JsonError(ValueError):
    """The text is no JSON that can be used; the message says why."""


class Num(str):
    """A number, letter by letter as it was written."""

    __slots__ = ()


def load(content: bytes) -> dict[str, Any]:
    """The object that the text holds. Raises `JsonError`."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise JsonError("it is not saved as UTF-8") from None
    try:
        value = json.loads(
            text,
            parse_int=Num,
            parse_float=Num,
            parse_constant=_refuse,
            object_pairs_hook=_object,
        )
    except json.JSONDecodeError as error:
        raise JsonError(f"line {error.lineno}: {error.msg}") from None
    except RecursionError:
        raise JsonError(_TOO_DEEP) from None
    if _is_deep(value):
        raise JsonError(_TOO_DEEP)
    if not isinstance(value, dict):
        raise JsonError("it is no object")
    return value


def dump(value: object) -> str:
    """The text of a value, with each number as it was written."""
    if isinstance(value, Num):
        return str(value)
    if isinstance(value, dict):
        return "{" + ",".join(f"{json.dumps(key)}:{dump(of)}" for key, of in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ",".join(map(dump, value)) + "]"
    return json.dumps(value, allow_nan=False)


def mapping(value: object) -> dict[str, Any]:
    """An object; empty for anything else."""
    return value if isinstance(value, dict) else {}


def objects(value: object) -> Iterator[dict[str, Any]]:
    """The objects of a list; none for anything else."""
    return (
        (each for each in value if isinstance(each, dict)) if isinstance(value, list) else iter(())
    )


def _is_deep(value: object) -> bool:
    """Whether lists and objects are nested deeper than `DEEPEST`, without going into them one by
    one.
    """
    level = [value]
    for _ in range(DEEPEST + 1):
        groups = [each for each in level if isinstance(each, dict | list)]
        level = [
            value
            for each in groups
            for value in (each.values() if isinstance(each, dict) else each)
        ]
        if not groups:
            return False
    return True


def _object(pairs: Sequence[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        raise JsonError("an object has one name twice")
    return found


def _refuse(name: str) -> NoReturn:
    raise JsonError(f"{name} is no number in JSON")

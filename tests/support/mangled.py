"""JSON documents mangled at random: a value gone, doubled, exchanged, or of another shape."""

import json
from collections.abc import Iterator
from random import Random
from typing import Any

_ODD: tuple[Any, ...] = (
    *(None, True, False, 0, -1, 1e300, 0.1, "", " ", "\u202e", "x" * 3000, "2026-03-07"),
    *(
        "2026-03-07T19:40:00",
        "#",
        "Patient/odile",
        "_history",
        [],
        {},
        [[]],
        [None],
        [{}],
        {"": {}},
    ),
    *({"reference": "#"}, {"value": "1"}, {"coding": "x"}, {"coding": [None]}, 10**400),
)


def _containers(document: object) -> Iterator[Any]:
    left = [document]
    while left:
        each = left.pop()
        if isinstance(each, dict) and each:
            yield each
            left += each.values()
        elif isinstance(each, list) and each:
            yield each
            left += each


def mangled(document: object, random: Random) -> Any:
    """A copy of the document with one to six values changed."""
    copy = json.loads(json.dumps(document))
    for _ in range(random.randint(1, 6)):
        holders = list(_containers(copy))
        if not holders:
            return copy
        holder, other = random.choice(holders), random.choice(holders)
        key = random.choice(list(holder) if isinstance(holder, dict) else range(len(holder)))
        match random.randrange(5):
            case 0:
                del holder[key]
            case 1:
                holder[key] = json.loads(json.dumps(random.choice(_ODD)))
            case 2:
                values = list(other.values()) if isinstance(other, dict) else other
                holder[key] = json.loads(json.dumps(random.choice(values)))
            case 3 if isinstance(holder, list):
                holder.append(json.loads(json.dumps(holder[key])))
            case _:
                holder[key] = [holder[key]]
    return copy

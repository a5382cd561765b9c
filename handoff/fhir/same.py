"""What we have of a resource, compared with what a server has of it.

Input: two resources. Output: the first element that says something else, or None. A server may add
what it likes within an element (a display), write an instant or a number in another way, and name a
target by its whole address. None of that is a difference.
"""

from collections.abc import Callable, Mapping
from datetime import datetime
from decimal import Decimal
from typing import Any

from handoff.fhir.json_text import Num, txt
from handoff.model.wording import FINDINGS

LONGEST = 40  # letters of a value that is quoted

# What servers add to a resource themselves.
_SERVERS_OWN = frozenset({"id", "meta", "text", "implicitRules", "language"})
# A status that says the same of the values.
_DONE = frozenset({"final", "amended", "corrected"})

PathOf = Callable[[object], str | None]


def difference(ours: Mapping[str, Any], theirs: Mapping[str, Any], path_of: PathOf) -> str | None:
    """The first element that differs, with both values where they are plain ones:
    `valueQuantity.value: 1150, here 1250`.

    `path_of` gives the path of a reference on the server.
    """
    for name in sorted(theirs.keys() - ours.keys() - _SERVERS_OWN):
        return FINDINGS.say("send-differs.only-there", name=name)
    if {txt(ours.get("status")), txt(theirs.get("status"))} <= _DONE:
        theirs = {**theirs, "status": ours["status"]}
    # Others may have put identifiers of their own beside ours.
    return _differs("", {**ours, "identifier": None}, {**theirs, "identifier": None}, path_of)


def _differs(name: str, ours: object, theirs: object, path_of: PathOf) -> str | None:
    if isinstance(ours, dict) and isinstance(theirs, dict):
        target = path_of(ours)
        if target and target == path_of(theirs):
            return None
        parts = [(f"{name}.{key}".strip("."), ours[key], theirs.get(key)) for key in ours]
    elif isinstance(ours, list) and isinstance(theirs, list) and len(ours) == len(theirs):
        parts = [
            (f"{name}[{nth}]", *pair) for nth, pair in enumerate(zip(ours, theirs, strict=True))
        ]
    else:
        return None if _is_equal(ours, theirs) else _both(name, ours, theirs)
    return next((found for part in parts if (found := _differs(*part, path_of))), None)


def _both(name: str, ours: object, theirs: object) -> str:
    """The name of an element, and both values in few words."""
    shown = [
        FINDINGS.say("send-differs.nothing")
        if each is None
        else str(each)[:LONGEST]
        if isinstance(each, str | bool)
        else ""
        for each in (theirs, ours)
    ]
    if not all(shown):
        return name
    return FINDINGS.say("send-differs.both", name=name, there=shown[0], here=shown[1])


def _is_equal(ours: object, theirs: object) -> bool:
    """Whether two values are the same, as text, as numbers or as instants."""
    if ours == theirs:
        return True
    if isinstance(ours, Num) and isinstance(theirs, Num):
        return Decimal(ours) == Decimal(theirs)
    if not isinstance(ours, str) or not isinstance(theirs, str):
        return False
    try:
        one, other = datetime.fromisoformat(ours), datetime.fromisoformat(theirs)
    except ValueError:
        return False
    return one.tzinfo is not None and other.tzinfo is not None and one == other

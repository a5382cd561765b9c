"""What is new of one patient -> the transactions that create it.

Input: entries, and what the server has. Output: entries in batches, each the Bundle of a
transaction. Sends nothing.
"""

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence

from msgspec.structs import replace

from handoff.fhir.client import Resource
from handoff.fhir.json_text import obj, objs
from handoff.fhir.outgoing import Entry, urls

PAGE = "DocumentReference"
# The elements in which a row names its signs.
SIGNS = ("hasMember", "reasonReference", "about")


def batches(entries: Sequence[Entry], most: int) -> Iterator[list[Entry]]:
    """The entries in transactions of at most `most`. A row is in one with its signs, and after
    them, where these are not too many for one.
    """
    rows = {
        sign: each.url
        for each in entries
        for name in SIGNS
        for sign in urls(each.resource.get(name))
    }
    groups: defaultdict[str, list[Entry]] = defaultdict(list)
    for each in entries:
        groups[rows.get(each.url, each.url)].append(each)
    batch: list[Entry] = []
    for group in groups.values():
        if batch and len(batch) + len(group) > most:
            yield batch
            batch = []
        for each in group:
            if len(batch) == most:
                yield batch
                batch = []
            batch.append(each)
    if batch:
        yield batch


def transaction(
    system: str, entries: Sequence[Entry], resolved: Callable[[Resource], Resource]
) -> Resource:
    """The Bundle that creates each entry where its identity under `system` is not there yet.

    `resolved` gives a resource with its references by their paths on the server.
    """
    return {
        "resourceType": "Bundle",
        "type": "transaction",
        "entry": [
            {
                "fullUrl": each.url,
                "resource": resolved(each.resource),
                "request": {
                    "method": "POST",
                    "url": each.kind,
                    "ifNoneExist": f"identifier={system}|{each.value}",
                },
            }
            for each in entries
        ],
    }


def is_earlier(theirs: Resource, page: Resource) -> bool:
    """Whether a page that is in force is of the kind and the shift of a new one."""
    return theirs.get("status") == "current" and all(
        _found(theirs, path) == _found(page, path)
        for path in (("context", "period", "start"), ("type", "coding"))
    )


def _found(value: object, path: Sequence[str]) -> object:
    for name in path:
        value = obj(value).get(name)
    return value


def replacing(entry: Entry, earlier: Sequence[Resource]) -> Entry:
    """A printed page with what it replaces; any other entry as it is."""
    if entry.kind != PAGE:
        return entry
    targets = [
        {"code": "replaces", "target": {"reference": path_of(each)}}
        for each in earlier
        if is_earlier(each, entry.resource)
    ]
    return replace(
        entry, resource={**entry.resource, **({"relatesTo": targets} if targets else {})}
    )


def key_of(entry: Entry) -> tuple[str, str]:
    """Type and value of its identity."""
    return entry.kind, entry.value


def path_of(resource: Resource) -> str:
    """The path of what the server has."""
    return f"{resource['resourceType']}/{resource['id']}"


def own_values(resource: Resource, system: str) -> Iterator[str]:
    """The values of its identities under our own system."""
    for each in objs(resource.get("identifier")):
        if each.get("system") == system and isinstance(each.get("value"), str):
            yield each["value"]

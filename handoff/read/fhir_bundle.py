"""The resources of a Bundle, each once, and what their references name.

Input: the value of a JSON document. Output: `Bundle`: its resources with their places, and findings
on what is refused or stands there more than once. Knows no field of the log. A resource is known by
the address of its entry, so that `Patient/1` of two servers stay two people.
"""

import re
from collections import defaultdict
from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any

from msgspec import Struct, field

from handoff.fhir.json_text import obj, seq, txt
from handoff.model.bounds import Bounds
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place
from handoff.model.wording import FINDINGS

_READ_TYPES = ("collection", "searchset", "transaction", "batch", "document")
# Resources, and elements of them, that no R4 has and that other releases have.
_OTHER_RELEASES = {
    "ProcedureRequest": "up-to-3",
    "DeviceUseRequest": "up-to-3",
    "ReferralRequest": "up-to-3",
    "DeviceUsage": "from-5",
}
_TYPE = re.compile(r"[A-Z][A-Za-z]{1,63}")
_ID = re.compile(r"[A-Za-z0-9\-.]{1,64}")
_HISTORY = re.compile(r"/_history/[^/]*$")
_NAME = re.compile(r"[A-Z][A-Za-z]{1,63}/[A-Za-z0-9\-.]{1,64}")
_ADDRESS = re.compile(rf"(https?://.+)/{_NAME.pattern}")
_SHOWN_TEXT = 60  # characters of a server's words that a finding quotes


class Item(Struct, eq=False):
    """A resource: its entry's number from 1, the key that is its own alone, and its place.

    `base` is the address of its server, where its entry gives one. A contained resource has the
    number, base and place of the one that contains it.
    """

    number: int
    key: str
    at: str
    type: str
    resource: Mapping[str, Any]
    base: str = ""


class Bundle(Struct):
    """`items` by key, in order, each once. `read` counts entries with a resource, `repeats` those
    that were read before. `usable` is False for a document of another kind.
    """

    file: str
    usable: bool = True
    items: dict[str, Item] = field(default_factory=dict)
    read: int = 0
    repeats: int = 0
    findings: list[Finding] = field(default_factory=list)
    named: dict[str, list[Item]] = field(default_factory=dict)  # by Type/id
    identified: dict[tuple[str, str], dict[str, Item]] = field(default_factory=dict)

    def of_type(self, *types: str) -> Iterator[Item]:
        """The resources of these types, in order."""
        return (each for each in self.items.values() if each.type in types)

    def resolve(self, reference: object, of: Item) -> Item | None:
        """The one resource that a reference names; None where it names none or not just one."""
        address = _HISTORY.sub("", txt(obj(reference).get("reference")))
        if address.startswith("#"):
            return _contained(of, address[1:])
        if address:
            return self._at(address, of)
        identifier = obj(obj(reference).get("identifier"))
        key = txt(identifier.get("system")), txt(identifier.get("value"))
        wanted = txt(obj(reference).get("type"))
        found = [
            each
            for each in self.identified.get(key, {}).values()
            if not wanted or each.type == wanted
        ]
        return found[0] if len(found) == 1 else None

    def _at(self, address: str, of: Item) -> Item | None:
        if not _NAME.fullmatch(address):
            return self.items.get(address)
        if of.base:
            return self.items.get(f"{of.base}/{address}")
        named = self.named.get(address, [])
        return named[0] if len(named) == 1 else None


def open_bundle(document: object, file: str, bounds: Bounds) -> Bundle:
    """The resources of a document. Reading ends at what tells that it is no Bundle to read."""
    bundle = Bundle(file)
    refusal = next(_refusals(obj(document), Place(file), bounds), None)
    if refusal is None:
        entries = [obj(each) for each in seq(obj(document).get("entry"))]
        refusal = next(_refusals_of_entries(entries, file), None)
    if refusal is not None:
        bundle.usable = False
        bundle.findings.append(refusal)
        return bundle
    _fill(bundle, entries)
    return bundle


def _refusals(document: Mapping[str, Any], place: Place, bounds: Bounds) -> Iterator[Finding]:
    kind = txt(document.get("resourceType"))
    if kind == "OperationOutcome":
        yield finding("fhir-outcome", place, raw=_words_of_outcome(document))
    if kind != "Bundle":
        key = ("type" if _TYPE.fullmatch(kind) else "other-type") if kind else "no-type"
        what = FINDINGS.say(f"fhir-not-a-bundle.what.{key}", type=kind)
        yield finding("fhir-not-a-bundle", place, what=what)
    bundle_type = txt(document.get("type"))
    if bundle_type not in _READ_TYPES:
        yield finding("fhir-bundle-type", place, raw=bundle_type or None)
    if "implicitRules" in document:
        yield finding("fhir-modifier", place, raw="implicitRules")
    links = (obj(each) for each in seq(document.get("link")))
    if any(txt(each.get("relation")) == "next" for each in links):
        yield finding("fhir-more-pages", place)
    if not isinstance(document.get("entry", []), list):
        yield finding("fhir-shape", place, what=FINDINGS.say("fhir-shape.what.no-entries"))
    if len(seq(document.get("entry"))) > bounds.rows:
        yield finding("too-many-rows", place, most=bounds.rows)


def _refusals_of_entries(entries: list[Mapping[str, Any]], file: str) -> Iterator[Finding]:
    for number, entry in enumerate(entries, start=1):
        resource = obj(entry.get("resource"))
        kind = txt(resource.get("resourceType"))
        place = Place(file, number, at=f"Bundle.entry[{number - 1}]")
        release = _OTHER_RELEASES.get(kind)
        if kind == "Encounter" and isinstance(resource.get("class"), list):
            release = "from-5"
        elif kind == "Encounter" and isinstance(resource.get("class"), str):
            release = "2"
        elif kind == "Observation" and ({"comment", "comments", "related"} & resource.keys()):
            release = "up-to-3"
        if release:
            words = FINDINGS.say(f"fhir-version.release.{release}")
            yield finding("fhir-version", place, release=words)
        if kind == "OperationOutcome" and _is_error(resource):
            yield finding("fhir-outcome", place, raw=_words_of_outcome(resource))


def _is_error(outcome: Mapping[str, Any]) -> bool:
    issues = (obj(each) for each in seq(outcome.get("issue")))
    return any(txt(each.get("severity")) in {"fatal", "error"} for each in issues)


def _words_of_outcome(outcome: Mapping[str, Any]) -> str:
    for issue in map(obj, seq(outcome.get("issue"))):
        words = txt(issue.get("diagnostics")) or txt(obj(issue.get("details")).get("text"))
        if words or txt(issue.get("code")):
            return (words or txt(issue.get("code")))[:_SHOWN_TEXT]
    return ""


def _fill(bundle: Bundle, entries: list[Mapping[str, Any]]) -> None:
    addresses: defaultdict[str, set[str]] = defaultdict(set)
    described = []
    for number, entry in enumerate(entries, start=1):
        resource = obj(entry.get("resource"))
        kind, own_id = txt(resource.get("resourceType")), txt(resource.get("id"))
        if not _TYPE.fullmatch(kind):
            _report_no_resource(bundle, number, entry)
            continue
        name = f"{kind}/{own_id}" if _ID.fullmatch(own_id) else ""
        address = _HISTORY.sub("", txt(entry.get("fullUrl")))
        described.append((number, kind, name, address, resource))
        if address:
            addresses[name].add(address)
    for number, kind, name, address, resource in described:
        bundle.read += 1
        known = addresses[name] if name else set()
        key = address or (next(iter(known)) if len(known) == 1 else name)
        key = key or f"Bundle.entry[{number - 1}]"
        base = _ADDRESS.fullmatch(key)
        is_own = bool(name) and len(known) <= 1
        at = name if is_own else f"Bundle.entry[{number - 1}]"
        item = Item(number, key, at, kind, resource, base[1] if base else "")
        before = bundle.items.get(key)
        if before is None:
            bundle.items[key] = item
        else:
            _settle(bundle, before, item)
    for item in bundle.items.values():
        own_id = txt(item.resource.get("id"))
        if own_id:
            bundle.named.setdefault(f"{item.type}/{own_id}", []).append(item)
        identifiers = item.resource.get("identifier")
        for identifier in map(obj, seq(identifiers) or [identifiers]):
            both = txt(identifier.get("system")), txt(identifier.get("value"))
            if all(both):
                bundle.identified.setdefault(both, {})[item.key] = item


def _report_no_resource(bundle: Bundle, number: int, entry: Mapping[str, Any]) -> None:
    """Only a request, such as one to delete, may stand without a resource."""
    place = Place(bundle.file, number, at=f"Bundle.entry[{number - 1}]")
    if "request" in entry and "resource" not in entry:
        bundle.findings.append(finding("fhir-part", place))
        return
    key = "no-type" if "resource" in entry else "no-resource"
    what = FINDINGS.say(f"fhir-shape.what.{key}")
    bundle.findings.append(finding("fhir-shape", place, what=what))


def _settle(bundle: Bundle, before: Item, after: Item) -> None:
    """Reads one of two entries of the same resource: the later version."""
    bundle.repeats += 1
    place = Place(bundle.file, after.number, at=after.at)
    if before.resource == after.resource:
        bundle.findings.append(finding("fhir-same", place))
        return
    first, last = _updated(before), _updated(after)
    is_later = first is None or last is None or last >= first
    kept = after if is_later else before
    bundle.items[after.key] = kept
    which = FINDINGS.say(f"fhir-versions.which.{'later' if first != last else 'last'}")
    bundle.findings.append(finding("fhir-versions", place, which=which))


def _updated(item: Item) -> datetime | None:
    try:
        moment = datetime.fromisoformat(txt(obj(item.resource.get("meta")).get("lastUpdated")))
    except ValueError:
        return None
    return moment if moment.tzinfo else None


def _contained(of: Item, own_id: str) -> Item | None:
    inside = (obj(each) for each in seq(of.resource.get("contained")))
    found = [each for each in inside if own_id and txt(each.get("id")) == own_id]
    if len(found) != 1:
        return None
    kind = txt(found[0].get("resourceType"))
    return Item(of.number, f"{of.key}#{own_id}", of.at, kind, found[0], of.base)

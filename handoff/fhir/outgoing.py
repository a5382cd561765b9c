"""A folder of Bundles to send -> whose each is, and its entries.

Input: files that `sheets --fhir` wrote. Output: an `Outgoing` for each, or a finding on a file that
cannot be sent as it is. Never changes a file. Lets through only what is the ward's own: whatever
else a file holds (a patient, a stay, an order, a goal), it is not sent.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any

from msgspec.structs import replace

from handoff import portable
from handoff.fhir.client import Resource
from handoff.fhir.json_text import load_json, obj, objs, txt
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place
from handoff.model.frozen import Frozen
from handoff.model.refused import Refused
from handoff.model.wording import FINDINGS

# What the ward says itself, and the element that says of whom.
OF_WHOM = {
    "Observation": "subject",
    "Procedure": "subject",
    "Communication": "subject",
    "Device": "patient",
    "DeviceUseStatement": "subject",
    "DocumentReference": "subject",
    "Flag": "subject",
}
_URL = re.compile(r"urn:uuid:[0-9a-f-]{36}")
_VALUE = re.compile(r"[A-Za-z0-9._-]{1,128}")
_WHO = re.compile(r"(?P<name>.+), born (?P<born>\d{4}-\d{2}-\d{2}|not recorded)", re.DOTALL)


class _NotToSendError(Exception):
    """Why a file cannot be sent, by the key of its words, and the number of its entry."""

    def __init__(self, problem: str, nth: int | None = None, **values: str) -> None:
        super().__init__(FINDINGS.say(f"send-file.problem.{problem}", **values))
        self.nth = nth


class Identity(Frozen):
    """The patient that a file is about, as the ward knows them. `born` is None where it is not
    recorded.
    """

    system: str
    number: str
    name: str
    born: date | None


class Entry(Frozen):
    """One resource to send; `value` is its identity under our own system, `place` its entry."""

    url: str
    kind: str
    value: str
    resource: Resource
    place: Place

    @property
    def about(self) -> str:
        """What it is, for a finding: its type, code and time."""
        code = obj(self.resource.get("code") or self.resource.get("type"))
        coding = next(iter(objs(code.get("coding"))), obj(None))
        times = ("effectiveDateTime", "performedDateTime", "sent")
        period = obj(self.resource.get("effectivePeriod") or self.resource.get("performedPeriod"))
        at = next((self.resource[name] for name in times if name in self.resource), None)
        parts = (self.kind, coding.get("code"), at or period.get("start"))
        return " ".join(str(each) for each in parts if each)


class Outgoing(Frozen):
    """What one file has to send, signs before the row that names them. `besides` is what it was
    made with besides the rows: `signs`, `flags`.
    """

    file: str
    patient: Identity
    entries: tuple[Entry, ...]
    besides: frozenset[str] = frozenset()

    @property
    def shift(self) -> tuple[str, str] | None:
        """Start and end of the shift that the pages in it are of; None where it has none."""
        for each in self.entries:
            if each.kind == "DocumentReference":
                period = obj(obj(each.resource.get("context")).get("period"))
                return str(period.get("start")), str(period.get("end"))
        return None


def read_folder(folder: str, own_system: str) -> tuple[list[Outgoing], list[Finding]]:
    """What each file of a folder has to send, and the findings on those that cannot be sent.

    Refuses a folder that has none.
    """
    paths = sorted(Path(folder).glob("*.json"))
    if not paths:
        raise Refused(finding("send-no-files", Place(folder)))
    outgoing: list[Outgoing] = []
    findings: list[Finding] = []
    for path in paths:
        file = str(path)
        try:
            document, found = load_json(path.read_text(encoding="utf-8-sig"), file)
            findings += found
            if not found:
                outgoing.append(_outgoing(file, obj(document), own_system))
        except _NotToSendError as error:
            findings.append(finding("send-file", Place(file, error.nth), problem=str(error)))
        except OSError as error:
            findings.append(finding("send-file", Place(file), problem=portable.reason(error)))
        except UnicodeDecodeError:
            problem = FINDINGS.say("send-file.problem.not-utf-8")
            findings.append(finding("send-file", Place(file), problem=problem))
    return outgoing, [*findings, *_twice(outgoing)]


def paired(
    outgoing: Sequence[Outgoing], before: str | None, own_system: str
) -> list[tuple[Outgoing, Outgoing | None]]:
    """Each file with that of the same patient in the folder that was sent before. Who is not in the
    new folder any more has nothing to send.

    Refuses a folder before of another shift, or with signs or Flags where the new one was made
    without them: all of these would be taken for gone.
    """
    if before is None:
        return [(each, None) for each in outgoing]
    older, findings = read_folder(before, own_system)
    shifts = [{each.shift[0] for each in one if each.shift} for one in (outgoing, older)]
    if findings or shifts[0] != shifts[1] or len(shifts[0]) != 1:
        raise Refused(findings[0] if findings else finding("send-other-shift", Place(before)))
    with_before, with_now = (
        frozenset().union(*(each.besides for each in one)) for one in (older, outgoing)
    )
    if lacking := ",".join(sorted(with_before - with_now)):
        raise Refused(finding("send-made-without", Place(before), lacking=lacking))
    by_patient = {_number(each): each for each in older}
    pairs = [(each, by_patient.pop(_number(each), None)) for each in outgoing]
    return [*pairs, *((replace(each, entries=()), each) for each in by_patient.values())]


def logical(value: Mapping[str, Any]) -> tuple[str, str, str] | None:
    """Type, system and value of a reference that names its target by an identifier alone."""
    own = obj(value.get("identifier"))
    parts = (value.get("type"), own.get("system"), own.get("value"))
    if "reference" in value or not all(isinstance(each, str) for each in parts):
        return None
    kind, system, number = map(str, parts)
    return kind, system, number


def references(value: object) -> Iterator[Mapping[str, Any]]:
    """Every group of elements within a value that may be a reference."""
    if isinstance(value, dict):
        yield value
        for each in value.values():
            yield from references(each)
    elif isinstance(value, list):
        for each in value:
            yield from references(each)


def urls(value: object) -> set[str]:
    """The addresses of other entries of the Bundle that a value refers to."""
    targets = (txt(each.get("reference")) for each in references(value))
    return {target for target in targets if target.startswith("urn:")}


def _outgoing(file: str, document: Mapping[str, Any], own_system: str) -> Outgoing:
    if document.get("resourceType") != "Bundle" or document.get("type") != "transaction":
        raise _NotToSendError("no-transaction")
    entries = [
        _entry(file, nth, each, own_system)
        for nth, each in enumerate(objs(document.get("entry")), 1)
    ]
    if not entries:
        raise _NotToSendError("empty")
    before: set[str] = set()
    for nth, each in enumerate(entries, 1):
        if each.url in before or not urls(each.resource) <= before:
            raise _NotToSendError("refers-on", nth)
        before.add(each.url)
    people = {_whom(nth, each) for nth, each in enumerate(entries, 1)}
    if len(people) > 1:
        raise _NotToSendError("several-patients")
    tags = {txt(each.get("code")) for each in objs(obj(document.get("meta")).get("tag"))}
    return Outgoing(file, people.pop(), tuple(entries), frozenset(tags))


def _entry(file: str, nth: int, entry: Mapping[str, Any], own_system: str) -> Entry:
    resource = dict(obj(entry.get("resource")))
    kind, url = str(resource.get("resourceType")), str(entry.get("fullUrl"))
    if kind not in OF_WHOM:
        raise _NotToSendError("not-ours", nth, kind=kind)
    own = [
        str(each.get("value"))
        for each in objs(resource.get("identifier"))
        if each.get("system") == own_system
    ]
    if len(own) != 1 or not _VALUE.fullmatch(own[0]) or not _URL.fullmatch(url):
        raise _NotToSendError("no-identity", nth)
    return Entry(url, kind, own[0], resource, Place(file, nth))


def _whom(nth: int, entry: Entry) -> Identity:
    reference = obj(entry.resource.get(OF_WHOM[entry.kind]))
    named = logical(reference)
    who = _WHO.fullmatch(str(reference.get("display")))
    if not named or named[0] != "Patient" or not who or not all(named):
        raise _NotToSendError("of-nobody", nth)
    try:
        born = None if who["born"] == "not recorded" else date.fromisoformat(who["born"])
    except ValueError:
        raise _NotToSendError("of-nobody", nth) from None
    return Identity(named[1], named[2], who["name"], born)


def _number(outgoing: Outgoing) -> tuple[str, str]:
    return outgoing.patient.system, outgoing.patient.number


def _twice(outgoing: list[Outgoing]) -> Iterator[Finding]:
    """The findings on files that are about one patient: which of them is right is not known."""
    files: dict[tuple[str, str], list[Outgoing]] = {}
    for each in outgoing:
        files.setdefault(_number(each), []).append(each)
    for several in files.values():
        for each in several[1:]:
            outgoing.remove(each)
            problem = FINDINGS.say("send-file.problem.same-patient", file=several[0].file)
            yield finding("send-file", Place(each.file), problem=problem)

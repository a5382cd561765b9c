"""What a record says of a ward -> a `collection` Bundle for each shift.

Input: a client, the ward, the shifts. Output: for each shift a Bundle, which names its unit, its
shift and the time zone, so that it is a log of its own. Only reads and searches; changes nothing on
the server. Never judges what it is given: that is done where the Bundle is read.
"""

import uuid
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from handoff.fhir.client import Client, Parameters, Resource
from handoff.fhir.codes import Codes, Coding
from handoff.fhir.json_text import obj, objs, txt
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place
from handoff.model.frozen import Frozen
from handoff.model.ward import Shift
from handoff.model.wording import FINDINGS

DEEPEST_WARD = 3  # levels under the ward: bays, rooms, beds
MOST_AT_ONCE = 25  # values of one parameter: common servers take addresses of 8,000 characters

# Concepts that hold whenever they were written down; every other one is a row of its own time.
FACTS = (
    *("height", "weight", "baseline", "planned-discharge", "precautions"),
    *("usual-symptoms", "comfort-care"),
)
FACTS_BY_CATEGORY = ("surgery", "education")
KINDS_OF_FACTS = ("Goal", "Device", "DeviceUseStatement", "Flag")
ORDER, DECLINED, TOLD, PRECAUTIONS = "exercise", "declined", "told", "precautions"


class Fetched(Frozen):
    """What the record at `base` has of a ward: facts, and rows of the time of the shifts, which are
    in order.
    """

    base: str
    shifts: Sequence[Shift]
    ward: Resource
    patients: list[Resource]
    facts: list[Resource]
    rows: list[Resource]


def fetch(
    client: Client,
    codes: Codes,
    ward: str,
    shifts: Sequence[Shift],
    step: Callable[[int, int], None] = lambda _done, _of: None,
) -> Fetched:
    """All that is about the patients who are on the ward now, with the rows in the time of the
    shifts, which are in order. `step` is told after each patient how many of how many are done.

    Refuses a ward where nobody is.
    """
    place = client.read(ward)
    places = {ward: place, **_places_in(client, ward)}
    encounters = list(_encounters_in(client, places))
    paths = sorted({path for each in encounters if (path := client.path_of(each.get("subject")))})
    patients = [client.read(path) for path in paths if path.startswith("Patient/")]
    if not patients:
        raise client.refused("get-nobody", ward)
    facts = [*_all_places(client, places, encounters), *encounters]
    rows: list[Resource] = []
    for number, patient in enumerate(patients, 1):
        of_patient = ("patient", f"Patient/{patient['id']}")
        facts += _facts(client, codes, of_patient)
        rows += _rows(client, codes, of_patient, shifts)
        step(number, len(patients))
    return Fetched(client.base, shifts, place, patients, facts, rows)


def without_number(fetched: Fetched, patient_system: str) -> Iterator[Finding]:
    """A finding on each patient who does not have just one number in force of the hospital's
    system: no log can tell whose their rows are.
    """
    for patient in fetched.patients:
        numbers = {
            txt(each.get("value"))
            for each in objs(patient.get("identifier"))
            if txt(each.get("system")) == patient_system and txt(each.get("use")) != "old"
        } - {""}
        if len(numbers) != 1:
            place = Place(fetched.base, at=f"Patient/{patient['id']}.identifier")
            key = "fhir-patient-number.numbers" if numbers else "fhir-patient-number.none"
            how_many = FINDINGS.say(key, count=len(numbers))
            where = FINDINGS.say("fhir-patient-number.of-system", system=patient_system)
            raw = ", ".join(sorted(numbers)) or None
            yield finding("fhir-patient-number", place, None, raw, how_many=how_many, where=where)


def bundle(codes: Codes, fetched: Fetched, nth: int, zone: ZoneInfo) -> Resource:
    """The Bundle of the nth shift."""
    own = [each for each in fetched.rows if _nth_shift(each, fetched.shifts) == nth]
    every = {
        (each["resourceType"], each["id"]): each
        for each in (*fetched.patients, *fetched.facts, *own)
    }
    entries = [
        {"fullUrl": f"{fetched.base}/{kind}/{resource_id}", "resource": every[kind, resource_id]}
        for kind, resource_id in sorted(every)
    ]
    ward = f"{fetched.base}/Location/{fetched.ward['id']}"
    entries.append(_shift_entry(codes, ward, fetched.shifts[nth], zone))
    return {"resourceType": "Bundle", "type": "collection", "entry": entries}


def _places_in(client: Client, ward: str) -> dict[str, Resource]:
    """The places that are part of the ward, by path."""
    found: dict[str, Resource] = {}
    level = [ward]
    for _ in range(DEEPEST_WARD):
        parts = list(_search(client, "Location", "partof", level))
        new = {path: each for each in parts if (path := f"Location/{each['id']}") not in found}
        found |= new
        level = list(new)
    return found


def _encounters_in(client: Client, places: dict[str, Resource]) -> Iterator[Resource]:
    """The stays of those who are in one of the places now; who has left it for another is in the
    answer too.
    """
    in_progress = ("status", "in-progress")
    for each in _search(client, "Encounter", "location", list(places), in_progress):
        now = {
            client.path_of(at.get("location"))
            for at in objs(each.get("location"))
            if at.get("status") != "completed" and not obj(at.get("period")).get("end")
        }
        if each.get("status") == "in-progress" and now & places.keys():
            yield each


def _all_places(
    client: Client, places: dict[str, Resource], encounters: Sequence[Resource]
) -> list[Resource]:
    """The places of the ward and those elsewhere that a stay names, where the record has them."""
    named = {
        path
        for each in encounters
        for at in objs(each.get("location"))
        if (path := client.path_of(at.get("location"))) and path.startswith("Location/")
    }
    elsewhere = (client.find(path) for path in sorted(named - places.keys()))
    return [*places.values(), *(each for each in elsewhere if each)]


def _facts(client: Client, codes: Codes, of_patient: tuple[str, str]) -> Iterator[Resource]:
    read = {
        name: _values(codes.concepts[name].read) for name in (*FACTS, *FACTS_BY_CATEGORY, ORDER)
    }
    measured = [value for name in FACTS for value in read[name]]
    yield from _search(client, "Observation", "code", measured, of_patient)
    by_category = [value for name in FACTS_BY_CATEGORY for value in read[name]]
    yield from _search(client, "Procedure", "category", by_category, of_patient)
    yield from _search(client, "ServiceRequest", "code", read[ORDER], of_patient)
    for kind in KINDS_OF_FACTS:
        found = client.search(kind, [of_patient])
        yield from (each for each in found if not _is_result(codes, each))


def _is_result(codes: Codes, resource: Resource) -> bool:
    """Whether it is a Flag of a danger that was sent from here: a result never becomes a fact.
    Release 4 has no search of Flags by their code.
    """
    own = {
        txt(each.get("code"))
        for each in objs(obj(resource.get("code")).get("coding"))
        if each.get("system") == codes.systems["own"]
    }
    return resource["resourceType"] == "Flag" and bool(own) and PRECAUTIONS not in own


def _rows(
    client: Client, codes: Codes, of_patient: tuple[str, str], shifts: Sequence[Shift]
) -> Iterator[Resource]:
    between = (f"ge{_instant(shifts[0].start)}", f"lt{_instant(shifts[-1].end)}")
    dated = [("date", each) for each in between]
    observed = [
        value
        for name, concept in codes.concepts.items()
        if name not in (*FACTS, *FACTS_BY_CATEGORY)
        for value in _values(concept.read)
    ]
    yield from _search(client, "Observation", "code", observed, of_patient, *dated)
    declined = _values(codes.concepts[DECLINED].read)
    yield from _search(client, "Procedure", "code", declined, of_patient, *dated)
    told, sent = _values(codes.concepts[TOLD].read), [("sent", each) for each in between]
    yield from _search(client, "Communication", "category", told, of_patient, *sent)


def _search(
    client: Client, kind: str, name: str, values: Sequence[str], *others: tuple[str, str]
) -> Iterator[Resource]:
    """What has one of the values, asked for in several searches where they are many."""
    for first in range(0, len(values), MOST_AT_ONCE):
        some = values[first : first + MOST_AT_ONCE]
        parameters: Parameters = [*others, (name, ",".join(some))]
        yield from client.search(kind, parameters)


def _values(codings: Sequence[Coding]) -> list[str]:
    return [f"{each.system}|{each.code}" for each in codings]


def _instant(at: datetime) -> str:
    return at.astimezone(UTC).replace(tzinfo=None).isoformat() + "Z"


def _nth_shift(row: Resource, shifts: Sequence[Shift]) -> int:
    """The shift of a row by its start. What began before all of them is in the first; what has no
    time that can be read is in the last, whose checks say so.
    """
    at = _start_of(row)
    if at is None:
        return len(shifts) - 1
    return max((nth for nth, shift in enumerate(shifts) if shift.start <= at), default=0)


def _start_of(row: Resource) -> datetime | None:
    written = [
        *(row.get(name) for name in ("effectiveDateTime", "effectiveInstant", "performedDateTime")),
        *(obj(row.get(name)).get("start") for name in ("effectivePeriod", "performedPeriod")),
        row.get("sent"),
    ]
    text = next((each for each in written if each), None)
    try:
        at = datetime.fromisoformat(str(text))
    except ValueError:
        return None
    return at if at.tzinfo else None


def _shift_entry(codes: Codes, ward: str, shift: Shift, zone: ZoneInfo) -> Resource:
    """What the record does not say: which shift the Bundle is of, and by which clock."""
    of_zone = {"url": codes.extensions["time-zone"], "valueCode": zone.key}
    times = {"start": _instant(shift.start), "end": _instant(shift.end)}
    return {
        "fullUrl": uuid.uuid5(uuid.NAMESPACE_URL, f"{ward} {times['start']}").urn,
        "resource": {
            "resourceType": "Observation",
            "status": "final",
            "code": codes.concept("shift"),
            "subject": {"reference": ward},
            "effectivePeriod": {**times, "_start": {"extension": [of_zone]}},
        },
    }

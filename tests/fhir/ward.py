"""A small ward as a record has it, written by hand from the standard, for three shifts."""

from handoff.fhir.codes import load_codes
from tests.fhir.record import Record, Resource

CODES, _ = load_codes()
assert CODES
OWN, LOINC = CODES.systems["own"], CODES.systems["loinc"]
NUMBERS = "urn:oid:2.999.1"
WARD, ZONE = "Location/w", "America/Halifax"
NIGHT = "2026-03-06T19:00/2026-03-07T07:00"  # 23:00 to 11:00 in UTC

ODILE, TOMAS = "Patient/p1", "Patient/p2"


def reference(path: str) -> dict[str, str]:
    return {"reference": path}


def concept(system: str, code: str) -> Resource:
    return {"coding": [{"system": system, "code": code}]}


def place(resource_id: str, name: str, part_of: str | None = None) -> Resource:
    found: Resource = {"resourceType": "Location", "id": resource_id, "name": name}
    return {**found, "partOf": reference(part_of)} if part_of else found


def person(resource_id: str, number: str, name: str, born: str) -> Resource:
    return {
        "resourceType": "Patient",
        "id": resource_id,
        "identifier": [{"system": NUMBERS, "value": number}],
        "name": [{"use": "official", "text": name}],
        "birthDate": born,
    }


def stay(resource_id: str, patient: str, *beds: Resource, status: str = "in-progress") -> Resource:
    return {
        "resourceType": "Encounter",
        "id": resource_id,
        "status": status,
        "class": {"code": "IMP"},
        "subject": reference(patient),
        "location": list(beds),
    }


def bed(path: str, status: str = "active") -> Resource:
    return {"location": reference(path), "status": status}


def volume(resource_id: str, patient: str, at: str, ml: int = 1100) -> Resource:
    """An exercise at an instant in UTC."""
    return {
        "resourceType": "Observation",
        "id": resource_id,
        "status": "final",
        "code": concept(OWN, "exercise"),
        "subject": reference(patient),
        "effectiveDateTime": at,
        "valueQuantity": {
            "value": ml,
            "unit": "mL",
            "system": "http://unitsofmeasure.org",
            "code": "mL",
        },
        "component": [{"code": concept(OWN, "breaths"), "valueInteger": 8}],
    }


def observed(resource_id: str, patient: str, code: Resource, **said: object) -> Resource:
    return {
        "resourceType": "Observation",
        "id": resource_id,
        "status": "final",
        "code": code,
        "subject": reference(patient),
        **said,
    }


def order(resource_id: str, patient: str) -> Resource:
    return {
        "resourceType": "ServiceRequest",
        "id": resource_id,
        "status": "active",
        "intent": "order",
        "code": concept(OWN, "exercise"),
        "subject": reference(patient),
        "quantityQuantity": {
            "value": 10,
            "system": "http://unitsofmeasure.org",
            "code": "{breaths}",
        },
        "occurrenceTiming": {
            "repeat": {
                "boundsPeriod": {"start": "2026-03-06T14:00:00Z"},
                "frequency": 1,
                "period": 1,
                "periodUnit": "h",
            }
        },
    }


def of_kind(kind: str, resource_id: str, patient: str, **said: object) -> Resource:
    return {
        "resourceType": kind,
        "id": resource_id,
        "subject": reference(patient),
        **said,
    }


THERE = [
    place("w", "Harbour 3 East"),
    place("room", "Room 12", WARD),
    place("b12a", "12A", "Location/room"),
    place("b12b", "12B", "Location/room"),
    place("other", "Intensive care"),
    person("p1", "10442", "Odile Larkspur", "1958-04-02"),
    person("p2", "10557", "Tomas Fennimore", "1949-11-30"),
    person("p3", "10601", "Ada Quince", "1970-01-05"),
    person("p4", "10702", "Bram Sallow", "1961-06-17"),
    stay("e1", ODILE, bed("Location/b12a")),
    stay("e2", TOMAS, bed("Location/other", "completed"), bed("Location/b12b")),
    stay("e3", "Patient/p3", bed("Location/b12b", "completed"), bed("Location/other")),
    stay("e4", "Patient/p4", bed("Location/b12b"), status="finished"),
    order("o1", ODILE),
    order("o2", TOMAS),
    volume("earlier", ODILE, "2026-03-06T20:00:00Z", 1000),
    volume("first", ODILE, "2026-03-06T23:00:00Z"),
    volume("second", ODILE, "2026-03-07T01:10:00Z", 1150),
    volume("next", ODILE, "2026-03-07T11:00:00Z"),
    volume("toms", TOMAS, "2026-03-07T02:00:00+00:00"),
    volume("elsewhere", "Patient/p3", "2026-03-07T02:00:00Z"),
    observed(
        "away",
        TOMAS,
        concept(OWN, "away"),
        valueBoolean=True,
        effectivePeriod={"start": "2026-03-06T22:30:00Z", "end": "2026-03-06T23:30:00Z"},
    ),
    observed(
        "height",
        ODILE,
        concept(LOINC, "8302-2"),
        effectiveDateTime="2025-01-01T08:00:00Z",
        valueQuantity={"value": 168, "system": "http://unitsofmeasure.org", "code": "cm"},
    ),
    observed(
        "laboratory", ODILE, concept(LOINC, "2345-7"), effectiveDateTime="2026-03-07T02:00:00Z"
    ),
    of_kind(
        "Communication",
        "told",
        ODILE,
        status="completed",
        category=[concept(OWN, "told")],
        sent="2026-03-07T01:30:00Z",
        payload=[{"contentString": "Dr Quill told of the dizziness"}],
    ),
    of_kind(
        "Procedure",
        "taught",
        ODILE,
        status="completed",
        category=concept("http://snomed.info/sct", "409073007"),
        code=concept(OWN, "taught"),
        performedDateTime="2026-03-06T14:30:00Z",
    ),
    of_kind(
        "Procedure",
        "declined",
        TOMAS,
        status="not-done",
        code=concept(OWN, "declined"),
        performedDateTime="2026-03-07T05:00:00Z",
    ),
    of_kind("Flag", "careful", ODILE, status="active", code=concept(OWN, "precautions")),
    of_kind("Flag", "danger", ODILE, status="active", code=concept(OWN, "low-oxygen")),
    of_kind("Flag", "of-a-rule", ODILE, status="active", code=concept(OWN, "declined")),
    of_kind("Goal", "goal", ODILE, lifecycleStatus="active"),
]


def ward_record(**behaviour: object) -> Record:
    record = Record(**behaviour)  # type: ignore[arg-type]
    record.put(*THERE)
    return record

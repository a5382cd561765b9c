"""Bundles as the standard has them, HL7 FHIR 4.0.1, for tests: written without the program's code.

Codes and addresses are typed here by hand once more, so that a slip in the program's own table is
seen. All people, places and numbers are invented.
"""

import json
from functools import cache
from typing import Any

from handoff.check import check
from handoff.check.header import Options
from handoff.fhir.codes import load_codes
from handoff.model.findings import Finding
from handoff.model.ward import Log
from handoff.read import Exchange, RawLog, parse
from tests.support.logs import NOW

Resource = dict[str, Any]

OWN = "urn:uuid:119d21f7-2368-4788-8d37-01932d76e50e"
LOINC = "http://loinc.org"
UCUM = "http://unitsofmeasure.org"
SNOMED = "http://snomed.info/sct"
NUMBERS = "urn:oid:2.999.1"
PLACES = "http://terminology.hl7.org/CodeSystem/location-physical-type"
KINDS = "http://terminology.hl7.org/CodeSystem/v2-0203"
ABSENT = "http://terminology.hl7.org/CodeSystem/data-absent-reason"
NOT_KNOWN = "http://hl7.org/fhir/StructureDefinition/data-absent-reason"
ZONE = "http://hl7.org/fhir/StructureDefinition/tz-code"
POSITION = "http://hl7.org/fhir/StructureDefinition/observation-bodyPosition"

AT = "2026-03-07T19:40:00-04:00"
ORDERED = "2026-03-06T10:00:00-04:00"


def concept(code: str, system: str = OWN) -> Resource:
    return {"coding": [{"system": system, "code": code}]}


def amount(value: float, unit: str) -> Resource:
    return {"value": value, "system": UCUM, "code": unit}


def to(name: str) -> Resource:
    return {"reference": name}


PATIENT = to("Patient/odile")


def ward(**others: Any) -> Resource:
    return {
        "resourceType": "Location",
        "id": "ward",
        "name": "Harbour 3 East",
        "physicalType": concept("wa", PLACES),
        **others,
    }


def shift(**others: Any) -> Resource:
    return {
        "resourceType": "Observation",
        "id": "shift",
        "status": "final",
        "code": concept("shift"),
        "subject": to("Location/ward"),
        "effectivePeriod": {
            "start": "2026-03-07T19:00:00-04:00",
            "_start": {"extension": [{"url": ZONE, "valueCode": "America/Halifax"}]},
            "end": "2026-03-08T07:00:00-03:00",
        },
        **others,
    }


def patient(number: str = "10442", own_id: str = "odile", **others: Any) -> Resource:
    return {
        "resourceType": "Patient",
        "id": own_id,
        "identifier": [{"system": NUMBERS, "value": number, "type": concept("MR", KINDS)}],
        "name": [{"use": "official", "text": "Larkspur, Odile"}],
        "birthDate": "1958-04-02",
        **others,
    }


def bed(name: str = "12A", own_id: str = "bed", **others: Any) -> Resource:
    return {
        "resourceType": "Location",
        "id": own_id,
        "name": name,
        "physicalType": concept("bd", PLACES),
        **others,
    }


def stay(subject: Resource = PATIENT, where: str = "Location/bed", **others: Any) -> Resource:
    return {
        "resourceType": "Encounter",
        "id": "stay",
        "status": "in-progress",
        "class": {"code": "IMP"},
        "subject": subject,
        "location": [{"location": to(where), "status": "active"}],
        **others,
    }


def order(subject: Resource = PATIENT, own_id: str = "order", **others: Any) -> Resource:
    return {
        "resourceType": "ServiceRequest",
        "id": own_id,
        "status": "active",
        "intent": "order",
        "code": concept("exercise"),
        "subject": subject,
        "quantityQuantity": amount(10, "{breaths}"),
        "occurrenceTiming": timing(),
        **others,
    }


def timing(start: str = ORDERED, **repeat: Any) -> Resource:
    every = {"frequency": 1, "period": 1, "periodUnit": "h"}
    return {"repeat": {"boundsPeriod": {"start": start}, **every, **repeat}}


def goal(*targets: Resource, subject: Resource = PATIENT, **others: Any) -> Resource:
    return {
        "resourceType": "Goal",
        "id": "goal",
        "lifecycleStatus": "active",
        "description": {"text": "Goal of the exercise"},
        "subject": subject,
        "addresses": [to("ServiceRequest/order")],
        "target": list(targets),
        **others,
    }


def observed(code: Resource, own_id: str, subject: Resource = PATIENT, **others: Any) -> Resource:
    return {
        "resourceType": "Observation",
        "id": own_id,
        "status": "final",
        "code": code,
        "subject": subject,
        "effectiveDateTime": AT,
        **others,
    }


def breaths(count: int = 8) -> Resource:
    return {"code": concept("breaths"), "valueInteger": count}


def exercise(own_id: str = "row", volume: Resource | None = None, **others: Any) -> Resource:
    return observed(
        concept("exercise"),
        own_id,
        **{
            "valueQuantity": volume or amount(1100, "mL"),
            "component": [breaths()],
            **others,
        },
    )


def saturation(value: float = 94, own_id: str = "spo2", **others: Any) -> Resource:
    return observed(
        concept("59408-5", LOINC), own_id, **{"valueQuantity": amount(value, "%"), **others}
    )


WARD = (ward(), shift(), patient(), bed(), stay(), order())  # entries 1 to 6, without a finding


def bundle(*resources: Resource, kind: str = "collection", **others: Any) -> Resource:
    """A Bundle whose entries have no address of their own."""
    entries = [{"resource": each} for each in resources]
    return {"resourceType": "Bundle", "type": kind, "entry": entries, **others}


def night(*resources: Resource) -> Resource:
    """A Bundle of one patient's night, and more."""
    return bundle(*WARD, *resources)


def as_text(document: object) -> str:
    return document if isinstance(document, str) else json.dumps(document)


def raw_log_of(document: object, patient_system: str | None = NUMBERS) -> RawLog:
    return parse(as_text(document), "night.json", exchange=_exchange(patient_system))


@cache
def _exchange(patient_system: str | None, time_zone: str | None = None) -> Exchange:
    return Exchange(patient_system, load_codes()[0], time_zone)


def checked(
    document: object, patient_system: str | None = NUMBERS, **given: str | None
) -> tuple[Log | None, tuple[Finding, ...]]:
    """The log of a Bundle, and all findings."""
    unit, zone, shift_times = (given.get(each) for each in ("unit", "time_zone", "shift"))
    options = Options(unit, zone, shift_times, None, NOW)
    exchange = _exchange(patient_system, given.get("time_zone"))
    return check(parse(as_text(document), "night.json", exchange=exchange), options)


def found_in(findings: tuple[Finding, ...]) -> list[tuple[str | None, str]]:
    """Where in a Bundle what was found."""
    return [(each.place.at, each.code) for each in findings]

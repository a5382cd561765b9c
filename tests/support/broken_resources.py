"""Resources that are broken on purpose, and which of the oracles finds each.

Each is a resource as it is written, with one thing wrong in it. No oracle alone is enough.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

Json = dict[str, Any]

UCUM = "http://unitsofmeasure.org"
LOINC = "http://loinc.org"
OWN = "urn:uuid:119d21f7-2368-4788-8d37-01932d76e50e"
WHO = {"reference": "urn:uuid:196b4be0-9217-57a6-84ac-26a92051d103"}


def exercise() -> Json:
    return {
        "resourceType": "Observation",
        "status": "final",
        "code": {"coding": [{"system": OWN, "code": "exercise"}]},
        "subject": dict(WHO),
        "effectivePeriod": {"start": "2026-03-06T23:40:00Z", "end": "2026-03-06T23:50:00Z"},
        "valueQuantity": {"value": 1100, "unit": "mL", "system": UCUM, "code": "mL"},
        "component": [
            {"code": {"coding": [{"system": OWN, "code": "breaths"}]}, "valueInteger": 8}
        ],
    }


def saturation() -> Json:
    vital = "http://terminology.hl7.org/CodeSystem/observation-category"
    codes = [{"system": LOINC, "code": "59408-5"}, {"system": LOINC, "code": "2708-6"}]
    return {
        "resourceType": "Observation",
        "status": "final",
        "category": [{"coding": [{"system": vital, "code": "vital-signs"}]}],
        "code": {"coding": codes},
        "subject": dict(WHO),
        "effectiveDateTime": "2026-03-06T23:40:00Z",
        "valueQuantity": {"value": 94, "unit": "%", "system": UCUM, "code": "%"},
    }


def goal() -> Json:
    limit = {"value": 92, "unit": "%", "system": UCUM, "code": "%"}
    return {
        "resourceType": "Goal",
        "lifecycleStatus": "active",
        "description": {"text": "Incentive spirometry exercise"},
        "subject": dict(WHO),
        "target": [
            {
                "measure": {"coding": [{"system": LOINC, "code": "59408-5"}]},
                "detailRange": {"low": limit, "high": {**limit, "value": 98}},
            }
        ],
    }


def order() -> Json:
    return {
        "resourceType": "ServiceRequest",
        "status": "active",
        "intent": "order",
        "code": {"coding": [{"system": OWN, "code": "exercise"}]},
        "subject": dict(WHO),
        "occurrenceTiming": {"repeat": {"frequency": 1, "period": 1, "periodUnit": "h"}},
    }


def person() -> Json:
    return {
        "resourceType": "Patient",
        "identifier": [{"system": "urn:oid:2.999.1", "value": "10442"}],
        "name": [{"text": "Larkspur, Odile"}],
        "gender": "female",
        "birthDate": "1958-04-02",
    }


def device() -> Json:
    return {
        "resourceType": "DeviceUseStatement",
        "contained": [{"resourceType": "Device", "id": "device"}],
        "status": "active",
        "subject": dict(WHO),
        "device": {"reference": "#device"},
    }


def page() -> Json:
    return {
        "resourceType": "DocumentReference",
        "status": "current",
        "subject": dict(WHO),
        "content": [{"attachment": {"contentType": "application/pdf", "data": "JVBERg=="}}],
    }


def told() -> Json:
    return {
        "resourceType": "Communication",
        "status": "completed",
        "subject": dict(WHO),
        "sent": "2026-03-06T23:40:00Z",
        "payload": [{"contentString": "Dr Quill told"}],
    }


@dataclass(frozen=True)
class Broken:
    """A resource, what is broken in it, and the oracles that find it."""

    made: Callable[[], Json]
    breaks: Callable[[Json], object]
    found_by: set[str]


def put(*path: str | int, to: object) -> Callable[[Json], object]:
    def breaks(node: Any) -> None:
        for name in path[:-1]:
            node = node[name]
        node[path[-1]] = to

    return breaks


def drop(*path: str | int) -> Callable[[Json], object]:
    def breaks(node: Any) -> None:
        for name in path[:-1]:
            node = node[name]
        del node[path[-1]]

    return breaks


F, S, R, P = "fhirkit", "schema", "invariants", "profiles"

BROKEN = {
    "no status": Broken(exercise, drop("status"), {F}),
    "a status that is none": Broken(exercise, put("status", to="done"), {S}),
    "no code": Broken(exercise, drop("code"), {F, S}),
    "an element that is none": Broken(exercise, put("volume", to=1100), {F, S}),
    "two values": Broken(exercise, put("valueString", to="1100"), {F}),
    "a number as text": Broken(exercise, put("valueQuantity", "value", to="1100"), {F, S}),
    "a list where one is": Broken(exercise, put("subject", to=[WHO]), {F}),
    "one where a list is": Broken(exercise, put("component", to={}), {F, S, R}),
    "a value and why there is none": Broken(
        exercise, put("dataAbsentReason", to={"text": "error"}), {R}
    ),
    "a component of the same code": Broken(
        exercise, put("component", 0, "code", "coding", 0, "code", to="exercise"), {R}
    ),
    "a unit's code without its system": Broken(exercise, drop("valueQuantity", "system"), {R}),
    "an end before its start": Broken(
        exercise, put("effectivePeriod", "end", to="2026-03-06T23:30:00Z"), {R}
    ),
    "a time without its zone": Broken(
        exercise, put("effectivePeriod", "start", to="2026-03-06T23:40:00"), {F, S}
    ),
    "a whole number with a part": Broken(
        exercise, put("component", 0, "valueInteger", to=8.5), {F}
    ),
    "a day that no month has": Broken(person, put("birthDate", to="1958-02-30"), set()),
    "a sex that is none": Broken(person, put("gender", to="f"), {S}),
    "an empty text": Broken(person, put("name", 0, "text", to=""), {F, S}),
    "a saturation without the profile's code": Broken(saturation, drop("code", "coding", 1), {P}),
    "no category of vital signs": Broken(saturation, drop("category"), {P}),
    "a vital sign without a time": Broken(saturation, drop("effectiveDateTime"), {P}),
    "a vital sign without a value": Broken(saturation, drop("valueQuantity"), {P}),
    "another unit than the profile's": Broken(
        saturation, put("valueQuantity", "code", to="{ratio}"), {P}
    ),
    "a target's detail without its measure": Broken(goal, drop("target", 0, "measure"), {R}),
    "a lower limit over the upper one": Broken(
        goal, put("target", 0, "detailRange", "low", "value", to=99), {R}
    ),
    "a period without its unit": Broken(
        order, drop("occurrenceTiming", "repeat", "periodUnit"), {R}
    ),
    "a device that nobody has": Broken(device, drop("device"), {F, S}),
    "something contained that nobody names": Broken(
        device, put("device", to={"display": "spirometer"}), set()
    ),
    "a page without content": Broken(page, drop("content"), {F, S}),
    "a payload that says nothing": Broken(told, put("payload", 0, to={}), {F, R}),
}

"""The elements that all resources are made of, and the identity of a resource.

Input: values of the model. Output: plain dictionaries in the form of the standard. Never guesses:
what is not recorded has no element.
"""

import hashlib
import json
import uuid
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from typing import Any

from handoff.fhir.codes import Codes
from handoff.model.frozen import Frozen

Resource = dict[str, Any]

# Of a value that is written in the log and cannot be read there.
UNREADABLE = "error"
# Of a result that there is none of, such as the adherence where nothing was due.
NOT_APPLICABLE = "not-applicable"
UNKNOWN = "unknown"


class Subject(Frozen):
    """One patient as resources name him: by the hospital's number in its identifier system.

    `reference` is how resources refer to the patient.
    """

    codes: Codes
    patient_system: str
    number: str
    reference: Mapping[str, Any]

    def identifier(self, kind: str, at: datetime | None = None, nth: int = 0) -> dict[str, str]:
        """The identity of what is one of its kind for this patient, or the nth of an instant. It
        holds for every log, line and value: a corrected row keeps it.
        """
        instant = moment(at) if at else ""
        return identifier(self.codes, self.patient_system, self.number, instant, kind, str(nth))


def identifier(codes: Codes, *parts: str) -> dict[str, str]:
    """An identifier of our own system, the same for the same parts at all times."""
    digest = hashlib.sha256(json.dumps(parts).encode()).hexdigest()
    return {"system": codes.systems["rows"], "value": digest}


def full_url(resource: Resource) -> str:
    """The address of a resource within its Bundle, made from its identity."""
    own = resource["identifier"][0]
    return uuid.uuid5(uuid.NAMESPACE_URL, f"{own['system']}|{own['value']}").urn


def refer(resource: Resource) -> dict[str, str]:
    """A reference to another resource of the same Bundle."""
    return {"reference": full_url(resource)}


def refer_by_identity(kind: str, own: Mapping[str, str]) -> dict[str, Any]:
    """A reference to a resource that is not in the Bundle."""
    return {"type": kind, "identifier": dict(own)}


def resource(kind: str, own: Mapping[str, Any], /, **elements: object) -> Resource:
    """A resource of its kind and identity, without the elements that are blank."""
    return {"resourceType": kind, "identifier": [dict(own)], **filled(elements)}


def filled(elements: Mapping[str, object]) -> dict[str, Any]:
    """The elements that are not blank; False and 0 are values."""
    return {name: value for name, value in elements.items() if value not in (None, "", [], {}, ())}


def moment(at: datetime) -> str:
    """An instant in UTC, as the standard writes it."""
    return at.astimezone(UTC).replace(tzinfo=None).isoformat() + "Z"


def period(start: datetime, end: datetime | None) -> dict[str, str]:
    """A period, open where it has no end."""
    return {"start": moment(start), **({"end": moment(end)} if end else {})}


def timing(element: str, at: datetime, until: datetime | None) -> dict[str, object]:
    """`effectiveDateTime` or `effectivePeriod`, for the element `effective`."""
    if until is None:
        return {f"{element}DateTime": moment(at)}
    return {f"{element}Period": period(at, until)}


def quantity(codes: Codes, name: str, value: float) -> dict[str, Any]:
    """A value in the unit of a concept or a result."""
    unit = codes.unit_of(name)
    return {"value": number(value), "unit": unit, "system": codes.systems["ucum"], "code": unit}


def number(value: float) -> float:
    """The number without a decimal point that says nothing."""
    return int(value) if value == int(value) else value


def absent(codes: Codes, reason: str, raw: str = "") -> dict[str, Any]:
    """The reason why there is no value, and what is written in its place."""
    coding = [{"system": codes.systems["data-absent-reason"], "code": reason}]
    return filled({"coding": coding, "text": as_string(raw)})


def as_string(raw: str) -> str:
    """A cell as it is written, without what no text of the standard may hold."""
    return "".join(filter(str.isprintable, " ".join(raw.split())))


def absent_extension(codes: Codes, reason: str) -> dict[str, Any]:
    """The same, in the place of an element that is no value of its resource."""
    return {"extension": [{"url": codes.extensions["absent"], "valueCode": reason}]}


def category(codes: Codes, code: str) -> list[dict[str, Any]]:
    """The category of an Observation."""
    return [{"coding": [{"system": codes.systems["observation-category"], "code": code}]}]


def component(codes: Codes, name: str, **value: object) -> dict[str, Any]:
    """A part of an Observation with its value."""
    return {"code": codes.concept(name), **value}


def symptoms(codes: Codes, present: Iterable[str]) -> list[dict[str, Any]]:
    """A part of an Observation for each symptom that is there."""
    words = [codes.concept_of_word("symptom", each) for each in present]
    return [{"code": word, "valueBoolean": True} for word in words]


def notes(text: str | None) -> list[dict[str, str]]:
    """Free text beside a value."""
    return [{"text": text}] if text else []


def references(resources: Iterable[Resource]) -> list[dict[str, str]]:
    """References to several resources of the same Bundle."""
    return [refer(each) for each in resources]

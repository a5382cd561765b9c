"""Bundles to send, written by hand: one patient's shift, as `handoff sheets --fhir` lays it out."""

import base64
import hashlib
import json
import uuid
from pathlib import Path

from tests.fhir.record import Record, Resource
from tests.fhir.ward import CODES, NUMBERS, OWN, concept, person

assert CODES
ROWS = CODES.systems["rows"]
SHIFT_START = "2026-03-06T23:00:00Z"


def number_of(what: str) -> str:
    return hashlib.sha256(what.encode()).hexdigest()


def url_of(what: str) -> str:
    return uuid.uuid5(uuid.NAMESPACE_URL, what).urn


def patient(number: str = "10442", who: str = "Larkspur, Odile, born 1958-04-02") -> Resource:
    identifier = {"system": NUMBERS, "value": number}
    return {"type": "Patient", "identifier": identifier, "display": who}


def made(kind: str, what: str, of: Resource, **said: object) -> Resource:
    """An entry of a transaction; `what` is its identity in words."""
    own = {"system": ROWS, "value": number_of(what)}
    whom = "patient" if kind == "Device" else "subject"
    return {
        "fullUrl": url_of(what),
        "resource": {"resourceType": kind, "identifier": [own], whom: of, **said},
        "request": {
            "method": "POST",
            "url": kind,
            "ifNoneExist": f"identifier={ROWS}|{own['value']}",
        },
    }


def sign(what: str, of: Resource, value: int = 94) -> Resource:
    at = "2026-03-07T01:10:00Z"
    spo2 = {"value": value, "system": "http://unitsofmeasure.org", "code": "%"}
    code = concept("http://loinc.org", "59408-5")
    return made(
        "Observation",
        what,
        of,
        status="final",
        code=code,
        effectiveDateTime=at,
        valueQuantity=spo2,
    )


def exercise(
    what: str, of: Resource, *signs: str, ml: float = 1150, status: str = "final"
) -> Resource:
    volume = {"value": ml, "system": "http://unitsofmeasure.org", "code": "mL"}
    members = [{"reference": url_of(each)} for each in signs]
    return made(
        "Observation",
        what,
        of,
        status=status,
        code=concept(OWN, "exercise"),
        effectiveDateTime="2026-03-07T01:10:00Z",
        valueQuantity=volume,
        **({"hasMember": members} if members else {}),
    )


def page(content: str, of: Resource, start: str = SHIFT_START) -> Resource:
    data = base64.b64encode(content.encode()).decode()
    return made(
        "DocumentReference",
        content,
        of,
        status="current",
        docStatus="preliminary",
        type=concept("http://loinc.org", "28651-8"),
        content=[{"attachment": {"contentType": "application/pdf", "data": data}}],
        context={"period": {"start": start, "end": "2026-03-07T11:00:00Z"}},
    )


def shift_of(of: Resource, *, ml: float = 1150, sheet: str = "a sheet") -> list[Resource]:
    """A device, twelve rows (one with two signs, one told), a result of them, a Flag and a page."""
    rows = [exercise(f"row {n}", of, ml=1000 + n) for n in range(10)]
    told = made(
        "Communication",
        "told",
        of,
        status="completed",
        category=[concept(OWN, "told")],
        sent="2026-03-07T01:30:00Z",
        payload=[{"contentString": "Dr Quill told of the dizziness"}],
    )
    result = made(
        "Observation",
        "best volume",
        of,
        status="final",
        code=concept(OWN, "best-volume"),
        effectivePeriod={"start": SHIFT_START, "end": "2026-03-07T11:00:00Z"},
        valueQuantity={"value": ml, "system": "http://unitsofmeasure.org", "code": "mL"},
        derivedFrom=[
            {"reference": url_of("signed row")},
            {
                "type": "Observation",
                "identifier": {"system": ROWS, "value": number_of("a row of before")},
            },
        ],
    )
    given = made("DeviceUseStatement", "device", of, status="active", device={"reference": "#d"})
    given["resource"]["contained"] = [{"resourceType": "Device", "id": "d"}]
    return [
        given,
        *rows,
        sign("spo2", of),
        sign("pulse", of, 88),
        exercise("signed row", of, "spo2", "pulse", ml=ml),
        told,
        result,
        made("Flag", "flag", of, status="active", code=concept(OWN, "low-oxygen")),
        page(sheet, of),
    ]


IN_ALL = len(shift_of(patient()))


def write(
    folder: Path, *entries: Resource, name: str = "bed-12A.json", besides: tuple[str, ...] = ()
) -> Path:
    """A file of the folder, with these entries, made with so much besides the rows."""
    folder.mkdir(parents=True, exist_ok=True)
    meta = {"tag": [{"system": OWN, "code": each} for each in besides]}
    bundle = {"resourceType": "Bundle", "meta": meta, "type": "transaction", "entry": list(entries)}
    (folder / name).write_text(json.dumps(bundle), encoding="utf-8")
    return folder


def people(**behaviour: object) -> Record:
    """A record with two patients and nothing else."""
    record = Record(**behaviour)  # type: ignore[arg-type]
    record.put(person("p1", "10442", "Odile Larkspur", "1958-04-02"))
    record.put(person("p2", "10557", "Tomas Fennimore", "1949-11-30"))
    return record

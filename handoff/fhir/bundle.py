"""Resources -> the bytes of a Bundle.

Input: a checked log, or one patient's part of a hand-over with its finished results. Output: JSON:
a `collection` of all that the log says, or a `transaction` of what the ward has to send. No clock
is read, so the same input gives the same bytes.
"""

import json
from collections.abc import Iterator
from typing import Any

from handoff.fhir.codes import Codes
from handoff.fhir.elements import (
    Resource,
    Subject,
    full_url,
    identifier,
    moment,
    refer,
    refer_by_identity,
)
from handoff.fhir.facts import Facts, bed, person, shift_of, ward
from handoff.fhir.orders import Orders
from handoff.fhir.results import Findings, Results
from handoff.fhir.rows import Rows, nth_of_each, set_aside
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place
from handoff.model.frozen import Frozen
from handoff.model.ward import Entry, Handover, Log, Order, Patient, What

# Facts of which a resource cannot say that they are written and cannot be read.
_WITHOUT_A_SIGN = frozenset(
    {"device_given", "device_labelled", "taught", "shown_back", "precautions"}
    | {"usual_symptoms", "comfort_care"}
)


class Sending(Frozen):
    """What is written for sending: by which codes, the identifier system of the hospital's patient
    numbers, and whether vital signs, symptoms and pain, and Flags are written too.
    """

    codes: Codes
    patient_system: str
    with_signs: bool = False
    with_flags: bool = False

    @property
    def besides(self) -> list[str]:
        """What is written besides the rows, in the words of the command line."""
        said = {"signs": self.with_signs, "flags": self.with_flags}
        return [name for name, is_with in said.items() if is_with]


def collection(codes: Codes, patient_system: str, log: Log) -> bytes:
    """The whole log: unit, shift, patients and every row, those that are set aside marked so."""
    entries = [
        {"fullUrl": full_url(each), "resource": each}
        for each in _of_log(codes, patient_system, log)
    ]
    return _json({"resourceType": "Bundle", "type": "collection", "entry": entries})


def not_in_a_bundle(log: Log) -> Iterator[Finding]:
    """A finding for each fact of a patient that is written in the log, is not known, and would be
    missing in the Bundle without a sign.
    """
    for patient in log.patients:
        for name in patient.not_known:
            if name in _WITHOUT_A_SIGN:
                yield finding("fhir-not-written", patient.place, name)


def _of_log(codes: Codes, patient_system: str, log: Log) -> Iterator[Resource]:
    place = ward(codes, log.unit)
    yield place
    yield shift_of(codes, log.unit, log.shift, place)
    names = dict.fromkeys(name for each in log.patients for name in _beds(each))
    beds = {name: bed(codes, log.unit, name, place) for name in names}
    yield from beds.values()
    rows: dict[str, Rows] = {}
    people: dict[str | None, Resource] = {}
    for patient in log.patients:
        who = people[patient.id] = person(codes, patient_system, patient)
        subject = Subject(codes, patient_system, patient.id, refer(who))
        begun = patient.orders[0].start if patient.orders else None
        facts, orders = Facts(subject, patient, begun), Orders(subject)
        yield from (who, facts.encounter(beds))
        requests: list[Resource] = []
        for order in _orders(patient):
            status = _status(log, patient, order)
            requests.append(orders.request(order, next(reversed(requests), None), status))
            yield requests[-1]
            if order:
                yield from orders.goal(order, requests[-1])
                yield from orders.besides(order, requests[-1])
        yield from facts.precautions()
        yield from facts.measured()
        yield from facts.surgery()
        yield from facts.bedside()
        in_turn = zip(patient.orders, map(refer, requests), strict=False)
        rows[patient.id] = Rows(subject, [(order.start, each) for order, each in in_turn])
    for entry, nth in nth_of_each(log.entries):
        yield from rows[entry.patient_id].of(entry, nth)
    for number, row in enumerate(log.set_aside):
        own = identifier(codes, "set-aside", log.unit.name, moment(log.shift.start), str(number))
        yield set_aside(codes, own, refer(people.get(row.patient_id, place)), row)


def _status(log: Log, patient: Patient, order: Order | None) -> str:
    """The status of an order at the shift's end; it is completed where another has replaced it, so
    that nobody takes the limits of both for those in force.
    """
    later = [each for each in patient.orders if order and each.start > order.start]
    if any(each.start <= log.shift.end for each in later):
        return "completed"
    return "on-hold" if order is patient.order and _is_held(log, patient) else "active"


def _is_held(log: Log, patient: Patient) -> bool:
    """Whether a hold of the log is in force at the shift's end."""
    mine = [each for each in log.entries if each.patient_id == patient.id]
    turns = [each for each in mine if each.what in (What.HOLD, What.RESUME)]
    last = max(turns, key=lambda each: each.at, default=None)
    if last is None or last.what is What.RESUME:
        return False
    return last.until is None or last.until > log.shift.end


def _beds(patient: Patient) -> tuple[str, ...]:
    left = patient.moved.beds if patient.moved else ()
    return (*left, patient.bed) if patient.bed else left


def _orders(patient: Patient) -> tuple[Order | None, ...]:
    """The orders of a patient, and None for one that is written without its start."""
    startless = "order_start" in patient.not_known
    return (*patient.orders, None) if startless else patient.orders


def transaction(
    sending: Sending, handover: Handover, patient: Patient, found: Findings
) -> bytes | None:
    """What the ward has to send of one patient: device and teaching, the rows of the shift, results
    and pages; None where there is nothing. The patient is named by number, and by name and birth
    date for whoever sends it. Tags say what is written besides: what a Bundle was made without is
    not gone from the log.
    """
    resources = list(_of_patient(sending, handover, patient, found))
    if not resources:
        return None
    entries = [
        {"fullUrl": full_url(each), "resource": each, "request": _request(each)}
        for each in resources
    ]
    own = sending.codes.systems["own"]
    tags = [{"system": own, "code": each} for each in sending.besides]
    meta = {"meta": {"tag": tags}} if tags else {}
    return _json({"resourceType": "Bundle", **meta, "type": "transaction", "entry": entries})


def _request(each: Resource) -> dict[str, str]:
    own = each["identifier"][0]
    wanted = f"identifier={own['system']}|{own['value']}"
    return {"method": "POST", "url": each["resourceType"], "ifNoneExist": wanted}


def _of_patient(
    sending: Sending, handover: Handover, patient: Patient, found: Findings
) -> Iterator[Resource]:
    born = patient.born.isoformat() if patient.born else "not recorded"
    reference = {
        "type": "Patient",
        "identifier": {"system": sending.patient_system, "value": patient.id},
        "display": f"{patient.name}, born {born}",
    }
    subject = Subject(sending.codes, sending.patient_system, patient.id, reference)
    begun = handover.stay_start.get(patient.id)
    yield from Facts(subject, patient, begun).bedside()
    make = Rows(subject, with_signs=sending.with_signs)
    charted = {each.place for each in _rows_of_shift(handover)}
    sent: dict[Place, Resource] = {}
    before: dict[Place, dict[str, Any]] = {}
    for entry, nth in nth_of_each(handover.entries_of(patient)):
        resources = make.of(entry, nth)
        if resources and entry.place in charted and entry.at <= handover.as_of:
            yield from resources
            sent[entry.place] = resources[-1]
        elif resources:
            kind, (own,) = resources[-1]["resourceType"], resources[-1]["identifier"]
            before[entry.place] = refer_by_identity(kind, own)

    def refer_to(row: Entry) -> dict[str, Any] | None:
        resource = sent.get(row.place)
        return refer(resource) if resource else before.get(row.place)

    results = Results(subject, handover, refer_to)
    if found.measures and found.verdicts:
        yield from results.numbers(found.measures, found.verdicts)
        if sending.with_flags:
            yield from results.flags(found.verdicts, handover.stay_start.get(patient.id))
    yield from results.pages(found.pages)


def _rows_of_shift(handover: Handover) -> Iterator[Entry]:
    """The rows of the log that is handed over: those of earlier logs were sent with their own."""
    for log in handover.logs:
        if log.shift == handover.shift:
            yield from log.entries


def _json(document: dict[str, Any]) -> bytes:
    return (json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode()

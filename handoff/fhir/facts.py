"""The facts of a unit, its shift and its patients as resources.

Input: records of the model. Output: resources. What is the record's own (patient, encounter, bed,
measurements) is only ever written to a file; the ward's own (device, teaching) is also sent. A fact
that is disputed is not known, and written as one that cannot be read.
"""

from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any

from handoff.fhir.codes import Codes
from handoff.fhir.elements import (
    UNKNOWN,
    UNREADABLE,
    Resource,
    Subject,
    absent,
    absent_extension,
    category,
    component,
    filled,
    identifier,
    moment,
    period,
    quantity,
    refer,
    resource,
)
from handoff.log.written import shift_cells, unit_cells
from handoff.model.ward import Done, Doubt, Patient, Shift, Unit

_BEDS, _INPATIENT = "bd", "IMP"


def ward(codes: Codes, unit: Unit) -> Resource:
    """The unit."""
    phone = [{"system": "phone", "value": unit.phone}] if unit.phone else []
    own = identifier(codes, "unit", unit.name)
    return resource("Location", own, status="active", name=unit.name, telecom=phone)


def shift_of(codes: Codes, unit: Unit, shift: Shift, place: Resource) -> Resource:
    """The shift: its times, the unit's time zone, and what else the log says of both."""
    cells = {**unit_cells(unit), **shift_cells(shift, unit.time_zone)}
    named = ("quiet_hours", "home_phone", "shift_name", "outgoing", "incoming")
    zone = {"url": codes.extensions["time-zone"], "valueCode": unit.time_zone.key}
    return resource(
        "Observation",
        identifier(codes, "shift", unit.name, moment(shift.start)),
        status="final",
        code=codes.concept("shift"),
        subject=refer(place),
        effectivePeriod={**period(shift.start, shift.end), "_start": {"extension": [zone]}},
        component=[
            component(codes, name.replace("_", "-"), valueString=cells[name])
            for name in named
            if name in cells
        ],
    )


def bed(codes: Codes, unit: Unit, name: str, place: Resource) -> Resource:
    """A bed of the unit."""
    kind = {"coding": [{"system": codes.systems["location-type"], "code": _BEDS}]}
    own = identifier(codes, "bed", unit.name, name)
    return resource(
        "Location", own, status="active", name=name, physicalType=kind, partOf=refer(place)
    )


def person(codes: Codes, system: str, patient: Patient) -> Resource:
    """The patient: number, name, birth date, sex, language."""
    lost = {
        f"_{element}": absent_extension(codes, UNREADABLE)
        for name, element in (("born", "birthDate"), ("sex", "gender"))
        if name in patient.not_known
    }
    kind = {"coding": [{"system": codes.systems["identifier-type"], "code": "MR"}]}
    number = {"type": kind, "system": system, "value": patient.id}
    return resource(
        "Patient",
        number,
        name=[{"text": patient.name} if patient.name else absent_extension(codes, UNREADABLE)],
        gender=patient.sex,
        birthDate=patient.born.isoformat() if patient.born else None,
        communication=_communication(codes, patient),
        **lost,
    )


def _communication(codes: Codes, patient: Patient) -> list[dict[str, Any]]:
    """The language in which to speak with the patient."""
    if "language" in patient.not_known:
        return [{"language": absent_extension(codes, UNREADABLE)}]
    if patient.language is None:
        return []
    code = {"system": codes.systems["language"], "code": patient.language}
    return [{"language": {"coding": [code]}, "preferred": True}]


class Facts:
    """Makes the resources of one patient's facts. `stay_start` is None where no order has begun."""

    def __init__(self, subject: Subject, patient: Patient, stay_start: datetime | None) -> None:
        self.subject = subject
        self.codes = subject.codes
        self.patient = patient
        self.stay_start = stay_start

    def _lost(self, name: str) -> dict[str, Any]:
        """In the place of an element: that the fact is written and cannot be read."""
        return absent_extension(self.codes, UNREADABLE) if name in self.patient.not_known else {}

    def encounter(self, beds: Mapping[str, Resource]) -> Resource:
        """The stay on the unit: in which bed, in which before, and why."""
        patient = self.patient
        moved = patient.moved
        until = {"end": moment(moved.by)} if moved else {}
        left = [
            {"location": refer(beds[name]), "status": "completed", "period": until}
            for name in (moved.beds if moved else ())
        ]
        now = refer(beds[patient.bed]) if patient.bed else self._lost("bed")
        since = period(moved.by, None) if moved else None
        reason = {"text": patient.reason} if patient.reason else self._lost("reason")
        here = filled({"location": now, "status": "active", "period": since})
        return resource(
            "Encounter",
            self.subject.identifier("encounter"),
            status="in-progress",
            **{"class": {"system": self.codes.systems["encounter-class"], "code": _INPATIENT}},
            subject=self.subject.reference,
            reasonCode=[reason] if reason else [],
            location=[*left, here] if now else left,
        )

    def precautions(self) -> Iterator[Resource]:
        """What is in force all the time, in words."""
        text = self.patient.precautions
        if text:
            yield resource(
                "Flag",
                self.subject.identifier("precautions"),
                status="active",
                code={**self.codes.concept("precautions"), "text": text},
                subject=self.subject.reference,
            )

    def measured(self) -> Iterator[Resource]:
        """What is known of the patient besides: size, own baseline, going home."""
        codes, patient = self.codes, self.patient
        of_body = {
            "category": category(codes, "vital-signs"),
            "_effectiveDateTime": absent_extension(codes, UNKNOWN),
        }
        for name, concept, extra in (
            ("height_cm", "height", of_body),
            ("weight_kg", "weight", of_body),
            ("baseline_ml", "baseline", {}),
        ):
            value = getattr(patient, name)
            said = {"valueQuantity": None if value is None else quantity(codes, concept, value)}
            yield from self._fact(name, concept, {**said, **extra})
        home = patient.home_on.isoformat() if patient.home_on else None
        yield from self._fact("home_on", "planned-discharge", {"valueDateTime": home})

    def _fact(self, name: str, concept: str, said: Mapping[str, object]) -> Iterator[Resource]:
        is_lost = name in self.patient.not_known
        if is_lost or any(key.startswith("value") and said[key] is not None for key in said):
            yield resource(
                "Observation",
                self.subject.identifier(concept),
                status="final",
                code=self.codes.concept(concept),
                subject=self.subject.reference,
                dataAbsentReason=absent(self.codes, UNREADABLE) if is_lost else None,
                **said,
            )

    def surgery(self) -> Iterator[Resource]:
        """The operation, by its day."""
        day, lost = self.patient.surgery_on, self._lost("surgery_on")
        if day or lost:
            yield resource(
                "Procedure",
                self.subject.identifier("surgery"),
                status="completed",
                category=self.codes.concept("surgery"),
                subject=self.subject.reference,
                performedDateTime=day.isoformat() if day else None,
                _performedDateTime=lost,
            )

    def bedside(self) -> Iterator[Resource]:
        """What the ward itself did before the first exercise: the device, and teaching."""
        yield from self._device()
        for name, concept in (("taught", "taught"), ("shown_back", "shown-back")):
            done = getattr(self.patient, name)
            if done is None or isinstance(done, Doubt):
                continue
            yield resource(
                "Procedure",
                self._of_stay(concept, done),
                status="completed" if done else "not-done",
                category=self.codes.concept("education"),
                code=self.codes.concept(concept),
                subject=self.subject.reference,
                performedDateTime=_time_of(done),
            )

    def _device(self) -> Iterator[Resource]:
        """The device as the patient's, within the statement whether it was given; alone where that
        is not recorded.
        """
        codes, patient, given = self.codes, self.patient, self.patient.device_given
        scale, labelled = patient.device_scale_ml, patient.device_labelled
        properties = []
        lost = self._lost("device_scale_ml")
        if scale is not None or lost:
            largest = [lost if scale is None else quantity(codes, "scale", scale)]
            properties.append({"type": codes.concept("scale"), "valueQuantity": largest})
        if labelled is not None and not isinstance(labelled, Doubt):
            word = [codes.concept_of_word("yes-no", "yes" if labelled else "no")]
            properties.append({"type": codes.concept("labelled"), "valueCode": word})
        device = filled({"type": codes.concept("device"), "property": properties})
        if given is not None and not isinstance(given, Doubt):
            start = _time_of(given)
            yield resource(
                "DeviceUseStatement",
                self._of_stay("device-given", given),
                contained=[{"resourceType": "Device", "id": "device", **device}],
                status="active" if given else "intended",
                subject=self.subject.reference,
                timingPeriod={"start": start} if start else None,
                device={"reference": "#device"},
            )
        elif properties:
            own = self._of_stay("device", given)
            yield resource("Device", own, **device, patient=self.subject.reference)

    def _of_stay(self, kind: str, done: Done) -> dict[str, str]:
        """The identity of what is done once a stay."""
        at = done if isinstance(done, datetime) else self.stay_start
        return self.subject.identifier(kind, at)


def _time_of(done: Done) -> str | None:
    return moment(done) if isinstance(done, datetime) else None

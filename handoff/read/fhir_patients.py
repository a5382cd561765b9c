"""The patients of a Bundle: who they are, in which bed, and every resource that tells of them.

Input: the resources of a Bundle. Output: for each resource a `Record` of its own, as a CSV has
rows: the checks put a patient together from them and find what two of them dispute.
"""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from handoff.fhir.json_text import obj, objs, seq, txt
from handoff.model.frozen import Frozen
from handoff.model.wording import FINDINGS
from handoff.read.fhir_bundle import Item
from handoff.read.fhir_cells import Cells, codings_of, instant
from handoff.read.fhir_facts import READERS, keep_newest_sizes
from handoff.read.fhir_orders import read_goal, read_orders
from handoff.read.fhir_reader import Reader


def read_patients(reader: Reader) -> None:
    """Reads every resource that tells of a patient."""
    patients = list(reader.bundle.of_type("Patient"))
    for item in patients:
        _number(reader, item)
    read_orders(reader)
    readers = {"Encounter": _encounter, **READERS, "Goal": read_goal}
    for kind, read in readers.items():
        for item in reader.bundle.of_type(kind):
            read(reader, item)
    keep_newest_sizes(reader)
    for item in patients:
        if item.key in reader.numbers:
            _patient(reader, item)


def _number(reader: Reader, item: Item) -> None:
    """The patient's number: the one current identifier of the hospital's system."""
    wanted, cells = reader.patient_system, reader.cells(item)
    record_number = reader.codes.systems["identifier-type"], "MR"
    found: dict[str, str] = {}
    for index, each in enumerate(map(obj, seq(item.resource.get("identifier")))):
        is_typed = record_number in codings_of([each.get("type")])
        is_wanted = txt(each.get("system")) == wanted if wanted else is_typed
        if is_wanted and txt(each.get("use")) != "old" and txt(each.get("value")):
            found.setdefault(txt(each.get("value")), f"identifier[{index}]")
    if item.key in reader.modified:
        reader.set_aside(cells, "fhir-modifier", raw="modifierExtension")
    elif len(found) == 1:
        reader.numbers[item.key] = next(iter(found.items()))
    else:
        key = "fhir-patient-number.numbers" if found else "fhir-patient-number.none"
        how_many = FINDINGS.say(key, count=len(found))
        where = FINDINGS.say(
            "fhir-patient-number.of-system" if wanted else "fhir-patient-number.marked",
            system=wanted,
        )
        raw = ", ".join(found) or None
        reader.set_aside(
            cells, "fhir-patient-number", "identifier", raw=raw, how_many=how_many, where=where
        )


def _patient(reader: Reader, item: Item) -> None:
    resource, cells = item.resource, reader.cells(item)
    number, path = reader.numbers[item.key]
    replaced = [
        each for each in map(obj, seq(resource.get("link"))) if each.get("type") == "replaced-by"
    ]
    if replaced:
        other = txt(obj(replaced[0].get("other")).get("reference")) or None
        cells.report("fhir-replaced", "link", raw=other)
        if item.key not in reader.told_of:
            reader.fate[item.key] = "patient"
            return
    if resource.get("active") is False:
        cells.report("fhir-inactive", "active", what=FINDINGS.say("fhir-inactive.not-active"))
    if resource.get("deceasedBoolean") is True or txt(resource.get("deceasedDateTime")):
        cells.report("fhir-inactive", "deceased", what=FINDINGS.say("fhir-inactive.died"))
    cells.put("patient_id", number, path)
    names = seq(resource.get("name"))
    if len(names) != 1 or not cells.is_lost("name", names[0], "name"):
        cells.put("name", _name(resource), "name")
    if not cells.is_lost("born", resource.get("_birthDate"), "birthDate"):
        cells.put("born", txt(resource.get("birthDate")), "birthDate")
    cells.is_lost("sex", resource.get("_gender"), "gender")
    if txt(resource.get("gender")) in {"female", "male"}:
        cells.put("sex", txt(resource.get("gender")), "gender")
    elif txt(resource.get("gender")) not in {"", "other", "unknown"}:
        cells.lose("sex", "fhir-code", "gender", raw=txt(resource.get("gender")))
    first, *others = _languages(cells, resource) or [("", "")]
    cells.put("language", *first)
    reader.keep(cells)
    for each in others:
        cells = reader.cells(item)
        cells.put("patient_id", number, path)
        cells.put("language", *each)
        reader.keep(cells)


def _languages(cells: Cells, resource: Mapping[str, Any]) -> list[tuple[str, str]]:
    """The preferred language and its path, else each that is named. Where these differ, the checks
    find that they do.
    """
    spoken = list(enumerate(objs(resource.get("communication"))))
    preferred = [both for both in spoken if both[1].get("preferred") is True]
    found: dict[str, str] = {}
    for index, each in preferred or spoken:
        concept, path = obj(each.get("language")), f"communication[{index}].language"
        if cells.is_lost("language", concept, path):
            return []
        codes = [txt(coding.get("code")) for coding in objs(concept.get("coding"))]
        found.setdefault(next(filter(None, codes), txt(concept.get("text"))), path)
    return [(code, path) for code, path in found.items() if code]


def _name(resource: Mapping[str, Any]) -> str:
    """The official or usual name, else any that is neither old nor a maiden name."""
    names = [
        each
        for each in map(obj, seq(resource.get("name")))
        if each.get("use") not in ("old", "maiden")
    ]
    names.sort(key=lambda each: {"official": 0, "usual": 1}.get(txt(each.get("use")), 2))
    for name in names:
        given = " ".join(filter(None, map(txt, seq(name.get("given")))))
        text = txt(name.get("text")) or ", ".join(filter(None, [txt(name.get("family")), given]))
        if text:
            return text
    return ""


# Beds and reasons.


def _encounter(reader: Reader, item: Item) -> None:
    """The bed and the reason of a patient who is in. Two beds at once are a record each, and the
    checks find that they disagree.
    """
    if txt(item.resource.get("status")) != "in-progress":
        return
    reasons = [txt(obj(each).get("text")) for each in seq(item.resource.get("reasonCode"))]
    beds: list[_Bed | None] = [each for each in _beds(reader, item) if each.is_now]
    for bed in beds or [None]:
        cells = reader.cells(item)
        cells.put("reason", "; ".join(filter(None, reasons)), "reasonCode")
        if bed:
            cells.put("bed", bed.name, bed.path)
        if reader.about(cells):
            reader.keep(cells)


class _Bed(Frozen):
    name: str
    path: str
    is_now: bool
    start: datetime | None
    end: datetime | None

    def holds(self, at: datetime) -> bool:
        """Whether the patient was in this bed then."""
        after_start = self.start is None or self.start <= at
        return after_start and (self.end is None or at < self.end)


def _beds(reader: Reader, encounter: Item) -> list[_Bed]:
    """The places of an encounter that are beds; where none says so, those that are no ward."""
    found: dict[str, list[_Bed]] = {"bd": [], "": []}
    for index, each in enumerate(map(obj, seq(encounter.resource.get("location")))):
        place = reader.bundle.resolve(each.get("location"), encounter)
        resource = place.resource if place else {}
        name = txt(resource.get("name")) or txt(obj(each.get("location")).get("display"))
        kinds = {
            code
            for system, code in codings_of([resource.get("physicalType")])
            if system == reader.codes.systems["location-type"]
        }
        period, status = obj(each.get("period")), txt(each.get("status"))
        is_now = status in ("", "active") and (status == "active" or "end" not in period)
        start, end = (instant(txt(period.get(name))) for name in ("start", "end"))
        if place is not None and "#" not in place.key:
            reader.fate.setdefault(place.key, "patient")
        bed = _Bed(name, f"location[{index}]", is_now, start, end)
        if name and "bd" in kinds:
            found["bd"].append(bed)
        elif name and not kinds & _NO_BED:
            found[""].append(bed)
    return found["bd"] or found[""]


_NO_BED = frozenset({"wa", "wi", "lvl", "bu", "si", "area"})  # a room may be a patient's place


class Stay(Frozen):
    """The beds of one encounter, with the time in each."""

    encounter: Item
    beds: list[_Bed]


def stays_in_several_beds(reader: Reader) -> dict[str, Stay]:
    """By number the patients who were in several beds, in one encounter that tells when."""
    found: dict[str, list[Stay]] = {}
    for item in reader.bundle.of_type("Encounter"):
        patient = reader.patient_of(item)
        if patient and reader.fate.get(item.key) == "patient":
            stay = Stay(item, [each for each in _beds(reader, item) if each.start or each.end])
            found.setdefault(reader.numbers[patient.key][0], []).append(stay)
    return {
        number: stays[0]
        for number, stays in found.items()
        if len(stays) == 1 and len(stays[0].beds) > 1
    }

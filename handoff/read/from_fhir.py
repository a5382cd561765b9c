"""A log as a Bundle of HL7 FHIR R4 resources, in JSON: text -> `RawLog`.

Input: the text of the file, and the hospital's own system of patient numbers. Output: the same raw
log that a YAML or CSV log gives, with the resource and the element of each cell. Every resource is
part of a row, tells of the unit, the shift or a patient, is set aside as a record, or is about
something else, and a note counts these. Reads the text alone: narrative, attachments and addresses
are never followed.
"""

from collections import Counter
from typing import Any
from zoneinfo import ZoneInfo

from handoff.fhir.codes import load_codes
from handoff.fhir.json_text import load_json, obj, seq, txt
from handoff.log.cell import BadCell
from handoff.log.clock import time_zone
from handoff.model.bounds import USUAL, Bounds
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place
from handoff.model.wording import FINDINGS
from handoff.read.exchange import NO_EXCHANGE, Exchange
from handoff.read.fhir_bundle import Bundle, Item, open_bundle
from handoff.read.fhir_cells import Cells, codings_of, described, names_in
from handoff.read.fhir_patients import read_patients
from handoff.read.fhir_reader import Reader, is_observed
from handoff.read.fhir_rows import read_rows
from handoff.read.raw_log import RawLog, Record, unusable

_MOST_KINDS = 6  # kinds of other resources that the note names


def read_fhir(
    text: str,
    file: str,
    findings: list[Finding],
    bounds: Bounds = USUAL,
    exchange: Exchange = NO_EXCHANGE,
) -> RawLog:
    """The raw log of a Bundle; `findings` are those of the file so far."""
    document, refused = load_json(text, file)
    if refused:
        return unusable(file, [*findings, *refused])
    bundle = open_bundle(document, file, bounds)
    if not bundle.usable:
        return unusable(file, [*findings, *bundle.findings])
    codes = exchange.codes or load_codes()[0]
    if codes is None:
        raise ValueError("the default codes cannot be read")
    may_be_modified = '"modifierExtension"' in text or '"implicitRules"' in text
    modified = frozenset(_modified(bundle)) if may_be_modified else frozenset[str]()
    reader = Reader(bundle, codes, exchange.patient_system, None, modified, bundle.findings)
    unit, shift = _unit_and_shift(reader)
    reader.zone = _zone(unit.cells.get("time_zone") or exchange.time_zone)
    read_patients(reader)
    entries = read_rows(reader)
    _count(reader)
    return RawLog(
        file,
        usable=True,
        findings=(*findings, *reader.findings),
        unit=unit,
        shift=shift,
        patients=tuple(sorted(reader.facts, key=lambda each: each.line)),
        entries=tuple(entries),
    )


def _modified(bundle: Bundle) -> list[str]:
    """The keys of resources with an element that may change the meaning of all others."""
    found = []
    for key, item in bundle.items.items():
        left: list[Any] = [item.resource]
        while left:
            each = left.pop()
            if isinstance(each, dict):
                if each.get("modifierExtension") or each.get("implicitRules"):
                    found.append(key)
                    break
                left += each.values()
            elif isinstance(each, list):
                left += each
    return found


def _zone(name: str | None) -> ZoneInfo | None:
    try:
        return time_zone(name) if name else None
    except BadCell:
        return None


# The unit and the shift.


def _unit_and_shift(reader: Reader) -> tuple[Record, Record]:
    """What the one resource of the shift says; else the unit is the one ward."""
    shifts = [
        item
        for item in reader.bundle.of_type("Observation")
        if reader.names(item) == {"shift"} and is_observed(reader, item)
    ]
    found = [each for each in shifts if each.key not in reader.modified]
    for item in shifts:
        cells = reader.cells(item)
        if item.key in reader.modified:
            reader.set_aside(cells, "fhir-modifier", raw="modifierExtension")
        elif len(found) > 1:
            reader.set_aside(cells, "fhir-two-shifts", raw=str(len(found)))
    if len(found) != 1:
        return _ward(reader, _only_ward(reader)), Record(1, {}, resource="Bundle")
    item = found[0]
    reader.fate[item.key] = "unit"
    ward = reader.bundle.resolve(item.resource.get("subject"), item)
    unit, shift = _ward_cells(reader, ward, item), reader.cells(item)
    period = obj(item.resource.get("effectivePeriod"))
    shift.time("shift_start", period, "start", "effectivePeriod.")
    shift.time("shift_end", period, "end", "effectivePeriod.")
    for each in map(obj, seq(obj(period.get("_start")).get("extension"))):
        if each.get("url") == reader.codes.extensions["time-zone"]:
            unit.put("time_zone", txt(each.get("valueCode")), "effectivePeriod.start", item)
    for index, each in enumerate(map(obj, seq(item.resource.get("component")))):
        names = names_in(each.get("code"), reader.codes)
        name, path = names.pop() if len(names) == 1 else "", f"component[{index}]."
        if name in ("quiet-hours", "home-phone"):
            unit.text(name.replace("-", "_"), each, path, of=item)
        elif name in ("shift-name", "outgoing", "incoming"):
            shift.text(name.replace("-", "_"), each, path)
        else:
            shift.report("fhir-part", path.rstrip("."), raw=described(each.get("code")))
    return unit.record(), shift.record()


def _only_ward(reader: Reader) -> Item | None:
    ward = reader.codes.systems["location-type"], "wa"
    wards = [
        each
        for each in reader.bundle.of_type("Location")
        if ward in codings_of([each.resource.get("physicalType")])
    ]
    return wards[0] if len(wards) == 1 else None


def _ward(reader: Reader, ward: Item | None) -> Record:
    if ward is None:
        return Record(1, {}, resource="Bundle")
    return _ward_cells(reader, ward, ward).record()


def _ward_cells(reader: Reader, ward: Item | None, otherwise: Item) -> Cells:
    """The name and the number of a ward."""
    cells = reader.cells(ward or otherwise)
    if ward is None:
        subject = obj(otherwise.resource.get("subject"))
        cells.put("unit", txt(subject.get("display")), "subject.display")
        return cells
    reader.fate.setdefault(ward.key, "unit")
    cells.put("unit", txt(ward.resource.get("name")), "name")
    for index, each in enumerate(map(obj, seq(ward.resource.get("telecom")))):
        if each.get("system") == "phone" and each.get("use") not in ("old", "home", "temp"):
            cells.put("phone", txt(each.get("value")), f"telecom[{index}]")
            break
    return cells


# What became of each resource.


def _count(reader: Reader) -> None:
    """One note that counts the resources, so that they add up; those about something else by type
    and code.
    """
    bundle = reader.bundle
    fates = Counter(reader.fate.get(key, "other") for key in bundle.items)
    if not fates["other"]:
        return
    kinds: Counter[str] = Counter()
    for key, item in bundle.items.items():
        if key not in reader.fate:
            kinds[" ".join(filter(None, [item.type, described(item.resource.get("code"))]))] += 1
    named = [f"{kind}: {count:,}" for kind, count in kinds.most_common(_MOST_KINDS)]
    rest = len(kinds) - len(named)
    reader.findings.append(
        finding(
            "fhir-other-resources",
            Place(bundle.file),
            read=bundle.read,
            rows=fates["row"],
            patients=fates["patient"] + fates["unit"],
            aside=fates["aside"],
            unused=fates["unused"],
            repeats=bundle.repeats,
            other=fates["other"],
            kinds=", ".join(named)
            + (FINDINGS.say("fhir-other-resources.rest", count=rest) if rest else ""),
        )
    )

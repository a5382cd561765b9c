"""The patients of a Bundle, and the resources that tell of them: facts, orders, goals, beds.

Input: the resources of a Bundle. Output: for each resource a `Record` of its own, as a CSV has
rows: the checks put a patient together from them and find what two of them dispute.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

from handoff.fhir.codes import Codes
from handoff.fhir.json_text import num, obj, seq, txt
from handoff.model.findings import Finding
from handoff.read.fhir_bundle import Bundle, Item
from handoff.read.fhir_cells import Cells, codings_of, described, instant, names_in
from handoff.read.raw_log import Record

# Limits of the order: the sign of a target, and the cells of the ends of its range.
LIMITS = {
    "spo2": ("spo2_min", "spo2_max"),
    "resp-rate": ("resp_rate_min", "resp_rate_max"),
    "pulse": ("pulse_min", "pulse_max"),
    "temperature": (None, "temp_max"),
}
_LONG_AGO = datetime.min.replace(tzinfo=UTC)
# Elements that are lists; a single one in their place is not read.
_LISTS = frozenset(
    {"component", "contained", "extension", "hasMember", "location", "note", "payload", "target"}
    | {"addresses", "basedOn", "performer", "property", "reasonCode", "reasonReference"}
)
_TARGETS = {"exercise": "goal_ml", "hold": "order_hold_s"}
_INTENTS = frozenset({"order", "original-order", "reflex-order", "filler-order", "instance-order"})
_TIMING = frozenset({"boundsPeriod", "frequency", "period", "periodUnit"})
_SAY_NOTHING = ("id", "extension")  # only a modifierExtension may change what the others mean


@dataclass(slots=True)
class Reader:
    """What reading a Bundle needs and gathers, and what became of each resource.

    `fate` has by key: `row`, `patient`, `unit`, `aside`, `unused`; without one it is another.
    """

    bundle: Bundle
    codes: Codes
    patient_system: str | None
    zone: ZoneInfo | None
    modified: frozenset[str]  # the keys of resources with an element that may change their meaning
    findings: list[Finding]
    numbers: dict[str, tuple[str, str]] = field(default_factory=dict)  # by key of the Patient
    aside: list[Record] = field(default_factory=list)
    facts: list[Record] = field(default_factory=list)
    fate: dict[str, str] = field(default_factory=dict)
    sizes: dict[tuple[str, str], list[Cells]] = field(default_factory=dict)
    orders: dict[str, dict[str, Cells]] = field(default_factory=dict)  # that count, by number, key
    told_of: set[str] = field(default_factory=set)  # Patients that another resource names

    def cells(self, item: Item) -> Cells:
        """Empty cells of a resource."""
        return Cells(self.bundle.file, item, self.codes, self.findings)

    def names(self, item: Item, element: str = "code") -> set[str]:
        """What the codes of an element mean."""
        return names_in(item.resource.get(element), self.codes)

    def status(self, item: Item, used: frozenset[str], known: frozenset[str]) -> bool:
        """Whether a resource counts by its status. One with a status that the standard does not
        have is set aside.
        """
        status = txt(item.resource.get("status"))
        if status in used:
            if status == "preliminary":
                self.cells(item).report("fhir-preliminary", "status")
            return True
        self.fate[item.key] = "unused"
        if status == "entered-in-error":
            self.cells(item).report("fhir-entered-in-error", "status")
        elif status in known:
            self.cells(item).report("fhir-status", "status", raw=status)
        else:
            what = "its status is none that the standard has"
            self.set_aside(self.cells(item), "fhir-shape", "status", raw=status or None, what=what)
        return False

    def set_aside(
        self, cells: Cells, code: str, path: str = "", raw: str | None = None, **words: str
    ) -> None:
        """Sets the record of a resource aside, so that it is counted."""
        self.fate[cells.item.key] = "aside"
        found = cells.report(code, path, None, None, raw, **words)
        self.aside.append(cells.record(found))

    def keep(self, cells: Cells) -> None:
        """Keeps the record of a resource that tells of a patient."""
        self.fate[cells.item.key] = "patient"
        self.facts.append(cells.record())

    def about(self, cells: Cells, element: str = "subject") -> bool:
        """Fills in the patient whom a resource names; without one, or with an element that may
        change its meaning, it is set aside.
        """
        item = cells.item
        for name in _LISTS & item.resource.keys():
            if not isinstance(item.resource[name], list):
                cells.report("fhir-shape", name, what="this is no list")
        patient = self.patient_of(item, element)
        if patient:
            self.told_of.add(patient.key)
            number, _ = self.numbers[patient.key]
            cells.put("patient_id", number, element)
        if item.key in self.modified:
            self.set_aside(cells, "fhir-modifier", raw="modifierExtension")
        elif patient is None:
            reference = obj(item.resource.get(element))
            raw = txt(reference.get("reference")) or txt(reference.get("display")) or None
            self.set_aside(cells, "fhir-patient-unresolved", element, raw=raw)
        return item.key not in self.modified and patient is not None

    def patient_of(self, item: Item, element: str = "subject") -> Item | None:
        """The Patient of this Bundle whom an element names, if it has a number."""
        found = self.bundle.resolve(item.resource.get(element), item)
        if found is not None and "#" in found.key:
            found = self._by_identifier(found)
        return found if found is not None and found.key in self.numbers else None

    def _by_identifier(self, contained: Item) -> Item | None:
        """The one Patient with an identifier of a contained Patient."""
        found: dict[str, Item] = {}
        for identifier in map(obj, seq(contained.resource.get("identifier"))):
            both = txt(identifier.get("system")), txt(identifier.get("value"))
            same = self.bundle.identified.get(both, {})
            found |= {key: each for key, each in same.items() if each.type == "Patient"}
        return next(iter(found.values())) if len(found) == 1 else None


def read_patients(reader: Reader) -> None:
    """Reads every resource that tells of a patient."""
    patients = list(reader.bundle.of_type("Patient"))
    for item in patients:
        _number(reader, item)
    _orders(reader)
    for kind, read in _READERS.items():
        for item in reader.bundle.of_type(kind):
            read(reader, item)
    _newest_sizes(reader)
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
        how_many = f"{len(found)} numbers" if found else "no number"
        where = f"of the system {wanted}" if wanted else "marked MR"
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
        cells.report("fhir-inactive", "active", what="is not active")
    if resource.get("deceasedBoolean") is True or txt(resource.get("deceasedDateTime")):
        cells.report("fhir-inactive", "deceased", what="says that the patient has died")
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
    reader.keep(cells)


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


@dataclass(frozen=True, slots=True)
class _Bed:
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


@dataclass(frozen=True, slots=True)
class Stay:
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


# Facts in Observations, Procedures, devices and Flags.

_OBSERVED = frozenset({"final", "amended", "corrected", "preliminary"})
_NOT_OBSERVED = frozenset({"registered", "cancelled", "unknown"})


def is_observed(reader: Reader, item: Item) -> bool:
    """Whether an Observation counts."""
    return reader.status(item, _OBSERVED, _NOT_OBSERVED)


def _observation(reader: Reader, item: Item) -> None:
    names = reader.names(item) & _FACTS.keys()
    if len(names) != 1 or reader.names(item) != names or not is_observed(reader, item):
        return
    cells, name = reader.cells(item), names.pop()
    _FACTS[name](reader, cells)
    if name in _OF_ORDER and not _joined_order(reader, cells, "basedOn"):
        return
    if reader.about(cells):
        if name in _SIZES:
            reader.sizes.setdefault((cells.cells["patient_id"], name), []).append(cells)
        else:
            reader.keep(cells)


def _home_on(reader: Reader, cells: Cells) -> None:
    if not cells.is_absent("home_on", cells.item.resource, ""):
        cells.day("home_on", cells.item.resource, "valueDateTime", reader.zone)


_FACTS: dict[str, Any] = {
    "height": lambda _, cells: cells.value("height_cm", cells.item.resource, "height", ""),
    "weight": lambda _, cells: cells.value("weight_kg", cells.item.resource, "weight", ""),
    "baseline": lambda _, cells: cells.value("baseline_ml", cells.item.resource, "baseline", ""),
    "planned-discharge": _home_on,
    "usual-symptoms": lambda _, cells: symptoms_into(cells, "usual_symptoms", cells.item),
    "comfort-care": lambda _, cells: cells.yes_or_no("comfort_care", cells.item.resource, ""),
}
_SIZES, _OF_ORDER = ("height", "weight"), ("usual-symptoms", "comfort-care")


def symptoms_into(cells: Cells, name: str, of: Item) -> None:
    """The symptoms that the components of an Observation say are there."""
    present = []
    for index, each in enumerate(map(obj, seq(of.resource.get("component")))):
        path, value = f"component[{index}]", each.get("valueBoolean")
        if not isinstance(value, bool):
            cells.lose(name, "fhir-no-value", path, of, raw=described(each.get("code")))
        elif value:
            word = cells.word_of(each.get("code"), "symptom")
            if word:
                present.append(word)
            else:
                cells.lose(name, "fhir-code", path, of, raw=described(each.get("code")))
    if name not in cells.lost:
        cells.put(name, "; ".join(present), "component", of)


def _newest_sizes(reader: Reader) -> None:
    """Of heights and of weights only the newest of each patient counts."""
    for sizes in reader.sizes.values():
        sizes.sort(key=lambda cells: instant(_taken(cells.item)) or _LONG_AGO)
        for older in sizes[:-1]:
            older.report("fhir-older")
            reader.fate[older.item.key] = "unused"
        reader.keep(sizes[-1])


def _taken(item: Item) -> str:
    """The time of an Observation as written, a day as its beginning."""
    text = txt(item.resource.get("effectiveDateTime"))
    return f"{text}T00:00:00Z" if text and "T" not in text else text


def _procedure(reader: Reader, item: Item) -> None:
    """Surgery and teaching."""
    categories, names = reader.names(item, "category"), reader.names(item)
    cells, resource = reader.cells(item), item.resource
    if "surgery" in categories:
        if reader.status(item, frozenset({"completed"}), _NOT_DONE | {"in-progress", "not-done"}):
            if "performedPeriod" in resource:
                period = obj(resource["performedPeriod"])
                cells.day("surgery_on", period, "start", reader.zone, "performedPeriod.")
            else:
                cells.day("surgery_on", resource, "performedDateTime", reader.zone)
            if reader.about(cells):
                reader.keep(cells)
        return
    name = {"taught": "taught", "shown-back": "shown_back"}.get(
        names.pop() if len(names) == 1 else ""
    )
    done = frozenset({"completed", "not-done"})
    if name and reader.status(item, done, _NOT_DONE | {"in-progress"}):
        if txt(resource.get("status")) == "not-done":
            cells.put(name, "no", "status")
        elif txt(resource.get("performedDateTime")):
            cells.time(name, resource, "performedDateTime")
        else:
            cells.put(name, "yes", "status")
        if reader.about(cells):
            reader.keep(cells)


_NOT_DONE = frozenset({"preparation", "on-hold", "stopped", "unknown"})


def _device_use(reader: Reader, item: Item) -> None:
    device = reader.bundle.resolve(item.resource.get("device"), item)
    if device is None or "device" not in names_in(device.resource.get("type"), reader.codes):
        return
    used = frozenset({"active", "completed", "intended"})
    if not reader.status(item, used, frozenset({"stopped", "on-hold"})):
        return
    cells, period = reader.cells(item), obj(item.resource.get("timingPeriod"))
    if txt(item.resource.get("status")) == "intended":
        cells.put("device_given", "no", "status")
    elif txt(period.get("start")):
        cells.time("device_given", period, "start", "timingPeriod.")
    elif txt(item.resource.get("timingDateTime")):
        cells.time("device_given", item.resource, "timingDateTime")
    else:
        cells.put("device_given", "yes", "status")
    _device(reader, cells, device)
    if "#" not in device.key:
        reader.fate[device.key] = "aside" if device.key in reader.modified else "patient"
    if reader.about(cells):
        reader.keep(cells)


def _device_alone(reader: Reader, item: Item) -> None:
    """A device of which nobody says whether it was given."""
    is_ours = "device" in names_in(item.resource.get("type"), reader.codes)
    if not is_ours or item.key in reader.fate or "patient" not in item.resource:
        return
    not_used = frozenset({"inactive", "unknown"})
    if "status" in item.resource and not reader.status(item, frozenset({"active"}), not_used):
        return
    cells = reader.cells(item)
    _device(reader, cells, item)
    if reader.about(cells, "patient"):
        reader.keep(cells)


def _device(reader: Reader, cells: Cells, device: Item) -> None:
    inside = "contained" if "#" in device.key else ""
    of = None if inside else device
    for index, each in enumerate(map(obj, seq(device.resource.get("property")))):
        path = f"{inside}.property[{index}]".lstrip(".")
        kinds = names_in(each.get("type"), reader.codes)
        if "scale" in kinds:
            values = seq(each.get("valueQuantity"))
            cells.quantity(
                "device_scale_ml", values[0] if len(values) == 1 else None, "scale", path, of=of
            )
        elif "labelled" in kinds:
            values = seq(each.get("valueCode"))
            cells.word(
                "device_labelled", values[0] if len(values) == 1 else None, "yes-no", path, of=of
            )


def _flag(reader: Reader, item: Item) -> None:
    if "precautions" not in reader.names(item):
        return
    if reader.status(item, frozenset({"active"}), frozenset({"inactive"})):
        cells = reader.cells(item)
        cells.put("precautions", txt(obj(item.resource.get("code")).get("text")), "code.text")
        if reader.about(cells):
            reader.keep(cells)


# Orders and goals.


def _is_order(reader: Reader, item: Item) -> bool:
    return item.type == "ServiceRequest" and "exercise" in reader.names(item)


def _period_of(item: Item) -> tuple[str, Mapping[str, Any]]:
    """The period in which an order holds, and its element."""
    repeat = obj(obj(item.resource.get("occurrenceTiming")).get("repeat"))
    if "boundsPeriod" in repeat:
        return "occurrenceTiming.repeat.boundsPeriod", obj(repeat["boundsPeriod"])
    return "occurrencePeriod", obj(item.resource.get("occurrencePeriod"))


def _orders(reader: Reader) -> None:
    """A record for each order: each is a period of its own."""
    held = {
        patient.key
        for item in reader.bundle.of_type("Observation")
        if "held" in reader.names(item) and (patient := reader.patient_of(item))
    }
    for item in reader.bundle.of_type("ServiceRequest"):
        if _is_order(reader, item) and _counts_as_order(reader, item):
            cells = reader.cells(item)
            _order(cells)
            patient = reader.patient_of(item)
            is_held = patient is not None and patient.key in held
            if txt(item.resource.get("status")) == "on-hold" and not is_held:
                _lose_amount(cells, "fhir-on-hold", "status")
            if reader.about(cells):
                reader.orders.setdefault(cells.cells["patient_id"], {})[item.key] = cells
    for orders in reader.orders.values():
        _find_overlaps(reader, orders.values())
        for cells in orders.values():
            reader.keep(cells)


def _counts_as_order(reader: Reader, item: Item) -> bool:
    """Whether a request is an order to do the exercise that is in force, or was until a time."""
    cells, resource = reader.cells(item), item.resource
    status = txt(resource.get("status"))
    if resource.get("doNotPerform", False) is not False and status != "entered-in-error":
        cells.report("fhir-do-not-perform", "doNotPerform")
    elif txt(resource.get("intent")) not in _INTENTS:
        cells.report("fhir-status", "intent", raw=txt(resource.get("intent")) or None)
    elif status == "completed" and "end" not in _period_of(item)[1]:
        cells.report("fhir-status", "status", raw=status)
    else:
        used = frozenset({"active", "on-hold", "completed"})
        return reader.status(item, used, frozenset({"draft", "revoked", "unknown"}))
    reader.fate[item.key] = "unused"
    return False


def _order(cells: Cells) -> None:
    resource = cells.item.resource
    path, period = _period_of(cells.item)
    cells.time("order_start", period, "start", f"{path}.")
    cells.time("order_stop", period, "end", f"{path}.")
    cells.put("order_by", txt(obj(resource.get("requester")).get("display")), "requester.display")
    quantity = obj(resource.get("quantityQuantity"))
    if quantity:
        cells.quantity("order_breaths", quantity, "breaths", "quantityQuantity")
    elif any(each.startswith("quantity") for each in resource):
        cells.lose("order_breaths", "fhir-timing", "quantity", raw="a ratio or a range")
    _timing(cells)


def _timing(cells: Cells) -> None:
    """So many hours between spans, where the timing says nothing else."""
    resource = cells.item.resource
    others = [
        each
        for each in resource
        if each.startswith(("occurrence", "asNeeded"))
        and each not in ("occurrenceTiming", "occurrencePeriod")
    ]
    others = [each for each in others if resource[each] is not False]
    timing = obj(resource.get("occurrenceTiming"))
    repeat = obj(timing.get("repeat"))
    if cells.is_lost("order_every_h" if repeat else "order_start", timing, "occurrenceTiming"):
        return
    others += [each for each in timing if each not in ("repeat", "code", *_SAY_NOTHING)]
    others += [each for each in repeat if each not in (*_TIMING, *_SAY_NOTHING)]
    if "code" in timing and not repeat.keys() & {"frequency", "period", "periodUnit"}:
        others.append("code")
    if num(repeat.get("frequency")) not in ("", "1"):
        others.append(f"frequency {num(repeat.get('frequency'))}")
    period, unit = num(repeat.get("period")), txt(repeat.get("periodUnit"))
    if others or bool(period) != bool(unit) or unit not in ("", "h"):
        raw = ", ".join(others) or f"{period} {unit}".strip()
        _lose_amount(cells, "fhir-timing", "occurrenceTiming", raw=raw)
    elif period:
        cells.put("order_every_h", period, "occurrenceTiming.repeat.period")


def _lose_amount(cells: Cells, code: str, path: str, raw: str | None = None) -> None:
    """Loses what of an order says how much is due: then nothing is due, and the sheet says so."""
    for name in ("order_breaths", "order_every_h"):
        cells.cells.pop(name, None)
        cells.lose(name, code, path, raw=raw)


def _find_overlaps(reader: Reader, orders: Iterable[Cells]) -> None:
    """Two orders in force at once, neither replacing the other: which one holds is not known."""
    starts = [(instant(cells.cells.get("order_start", "")), cells) for cells in orders]
    in_turn = sorted(((start, cells) for start, cells in starts if start), key=lambda each: each[0])
    for (first, before), (start, after) in pairwise(in_turn):
        end = instant(before.cells.get("order_stop", ""))
        replaced = seq(after.item.resource.get("replaces"))
        is_replaced = any(
            reader.bundle.resolve(each, after.item) is before.item for each in replaced
        )
        is_over = end is not None and end <= start
        if first != start and not is_over and not is_replaced:
            _lose_amount(after, "fhir-two-orders", "occurrenceTiming", raw=before.item.at)


def _joined_order(reader: Reader, cells: Cells, element: str) -> bool:
    """Whether a goal or a fact of an order counts: its order does, or the patient's only one. The
    start of that order is filled in. Where it may be of several orders it is set aside.
    """
    item = cells.item
    resolved = (reader.bundle.resolve(each, item) for each in seq(item.resource.get(element)))
    named = [each for each in resolved if each is not None and _is_order(reader, each)]
    patient = reader.patient_of(item)
    orders = reader.orders.get(reader.numbers[patient.key][0], {}) if patient else {}
    keys = [each.key for each in named] if named else list(orders)
    mine = [orders[key] for key in dict.fromkeys(keys) if key in orders]
    if named and not mine:
        reader.fate[item.key] = "unused"
        cells.report("fhir-status", element, raw=named[0].at)
    elif len(mine) > 1:
        reader.set_aside(cells, "fhir-which-order", element)
    elif mine and "order_start" in mine[0].cells:
        path = mine[0].paths["order_start"].removeprefix(f"{mine[0].item.at}.")
        cells.put("order_start", mine[0].cells["order_start"], path, mine[0].item)
    return item.key not in reader.fate


def _goal(reader: Reader, item: Item) -> None:
    """The goal, the breath hold and the limits of an order."""
    targets = [
        (f"target[{index}]", target, names_in(target.get("measure"), reader.codes))
        for index, target in enumerate(map(obj, seq(item.resource.get("target"))))
    ]
    wanted = _TARGETS.keys() | LIMITS.keys()
    named = [reader.bundle.resolve(each, item) for each in seq(item.resource.get("addresses"))]
    is_of_order = any(each is not None and _is_order(reader, each) for each in named)
    is_exercise = any(names & _TARGETS.keys() for _, _, names in targets)
    if not (is_exercise or (is_of_order and any(names & wanted for _, _, names in targets))):
        return
    cells = reader.cells(item)
    status = txt(item.resource.get("lifecycleStatus"))
    if status != "active":
        reader.fate[item.key] = "unused"
        code = "fhir-entered-in-error" if status == "entered-in-error" else "fhir-status"
        cells.report(code, "lifecycleStatus", raw=status or None)
        return
    for path, target, names in targets:
        for name in names & _TARGETS.keys():
            cells.quantity(
                _TARGETS[name], target.get("detailQuantity"), name, f"{path}.detailQuantity"
            )
        for name in names & LIMITS.keys():
            _limits(cells, name, target, path)
    if _joined_order(reader, cells, "addresses") and reader.about(cells):
        reader.keep(cells)


def _limits(cells: Cells, sign: str, target: Mapping[str, Any], path: str) -> None:
    low, high = LIMITS[sign]
    ends = obj(target.get("detailRange"))
    if not ends:
        cells.lose(low or str(high), "fhir-no-value", f"{path}.detailRange")
    for name, end in ((low, "low"), (high, "high")):
        if end in ends and name:
            cells.quantity(name, ends[end], sign, f"{path}.detailRange.{end}")
        elif end in ends:
            cells.report("fhir-code", f"{path}.detailRange.{end}", raw=f"{sign} {end}")


_READERS = {
    "Encounter": _encounter,
    "Observation": _observation,
    "Procedure": _procedure,
    "DeviceUseStatement": _device_use,
    "Device": _device_alone,  # after those that name one
    "Flag": _flag,
    "Goal": _goal,
}

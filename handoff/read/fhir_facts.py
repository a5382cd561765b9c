"""Facts of a patient besides beds and orders: sizes, surgery, teaching, device, precautions.

Input: the resources of a Bundle whose patients have their numbers. Output: records in the `Reader`.
"""

from datetime import UTC, datetime
from typing import Any

from handoff.fhir.json_text import obj, seq, txt
from handoff.model.ward import Symptom
from handoff.read.fhir_bundle import Item
from handoff.read.fhir_cells import Cells, codings_of, described, instant, names_in
from handoff.read.fhir_orders import joins_an_order
from handoff.read.fhir_reader import Reader, is_observed

_LONG_AGO = datetime.min.replace(tzinfo=UTC)


def _observation(reader: Reader, item: Item) -> None:
    names = reader.names(item) & _FACTS.keys()
    if len(names) != 1 or reader.names(item) != names or not is_observed(reader, item):
        return
    cells, name = reader.cells(item), names.pop()
    _FACTS[name](reader, cells)
    if name in _OF_ORDER and not joins_an_order(reader, cells, "basedOn"):
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


def symptoms_into(cells: Cells, name: str, of: Item, *, in_part: bool = False) -> None:
    """The symptoms that the components of an Observation say are there. `in_part`: where one of
    them is not understood, the others are read all the same, but for `none`.
    """
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
    if name in cells.lost:
        present = [each for each in present if in_part and each != Symptom.NONE]
    cells.put(name, "; ".join(present), "component", of)


def keep_newest_sizes(reader: Reader) -> None:
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
    """What is in force all the time. A Flag of another code may be a precaution too: what it says
    is not known here, which is not that there is none.
    """
    code, is_known = item.resource.get("code"), "precautions" in reader.names(item)
    if not is_known and not _may_be_a_precaution(reader, item):
        return
    if reader.status(item, frozenset({"active"}), frozenset({"inactive"})):
        cells = reader.cells(item)
        displays = (txt(obj(each).get("display")) for each in seq(obj(code).get("coding")))
        words = txt(obj(code).get("text")) or next(filter(None, displays), "")
        if is_known and words:
            cells.put("precautions", words, "code")
        else:
            cells.lose("precautions", "fhir-code", "code", raw=words or described(code))
        if reader.about(cells):
            reader.keep(cells)


def _may_be_a_precaution(reader: Reader, item: Item) -> bool:
    """Whether a Flag of another code is about the care of a patient who is here. Those with a code
    of our own are dangers that were sent.
    """
    codes = codings_of([item.resource.get("code")])
    categories = codings_of(seq(item.resource.get("category")))
    standard = reader.codes.systems["flag-category"]
    kinds = {code for system, code in categories if system == standard}
    is_own = any(system == reader.codes.systems["own"] for system, _ in codes)
    is_of_care = not kinds & _NOT_OF_CARE
    return is_of_care and not is_own and reader.patient_of(item) is not None


# Categories of Flags, in the standard's own value set, that say nothing of care at the bedside.
_NOT_OF_CARE = frozenset({"admin", "contact", "lab", "research"})


READERS = {
    "Observation": _observation,
    "Procedure": _procedure,
    "DeviceUseStatement": _device_use,
    "Device": _device_alone,  # after those that name one
    "Flag": _flag,
}

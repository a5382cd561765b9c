"""Orders to do the exercise, and the goals of each: a record for every order, and for every goal.

Input: the resources of a Bundle whose patients have their numbers. Output: records in the `Reader`.
What of an order is not understood leaves how much is due unknown.
"""

from collections.abc import Collection, Iterable, Mapping
from itertools import pairwise
from typing import Any

from handoff.fhir.json_text import num, obj, seq, txt
from handoff.model.wording import FINDINGS
from handoff.read.fhir_bundle import Item
from handoff.read.fhir_cells import Cells, instant, names_in
from handoff.read.fhir_reader import Reader

# Limits of the order: the sign of a target, and the cells of the ends of its range.
LIMITS = {
    "spo2": ("spo2_min", "spo2_max"),
    "resp-rate": ("resp_rate_min", "resp_rate_max"),
    "pulse": ("pulse_min", "pulse_max"),
    "temperature": (None, "temp_max"),
}
_TARGETS = {"exercise": "goal_ml", "hold": "order_hold_s"}
_INTENTS = frozenset({"order", "original-order", "reflex-order", "filler-order", "instance-order"})
_IN_FORCE = frozenset({"active", "on-hold", "completed"})  # or was, until a time that is known
_TIMING = frozenset({"boundsPeriod", "frequency", "period", "periodUnit"})
_SAY_NOTHING = ("id", "extension")  # only a modifierExtension may change what the others mean


def _is_order(reader: Reader, item: Item) -> bool:
    return item.type == "ServiceRequest" and "exercise" in reader.names(item)


def _period_of(item: Item) -> tuple[str, Mapping[str, Any]]:
    """The period in which an order holds, and its element."""
    repeat = obj(obj(item.resource.get("occurrenceTiming")).get("repeat"))
    if "boundsPeriod" in repeat:
        return "occurrenceTiming.repeat.boundsPeriod", obj(repeat["boundsPeriod"])
    return "occurrencePeriod", obj(item.resource.get("occurrencePeriod"))


def read_orders(reader: Reader) -> None:
    """A record for each order: each is a period of its own."""
    held = {
        patient.key
        for item in reader.bundle.of_type("Observation")
        if "held" in reader.names(item) and (patient := reader.patient_of(item))
    }
    replaced = _replaced(reader)
    for item in reader.bundle.of_type("ServiceRequest"):
        if _is_order(reader, item) and _counts_as_order(reader, item, replaced):
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


def _replaced(reader: Reader) -> set[str]:
    """The keys of orders that held until the start of one that replaces them."""
    found = set()
    for item in reader.bundle.of_type("ServiceRequest"):
        if _is_order(reader, item) and txt(item.resource.get("status")) in _IN_FORCE:
            targets = (reader.bundle.resolve(x, item) for x in seq(item.resource.get("replaces")))
            found |= {each.key for each in targets if each is not None}
    return found


def _counts_as_order(reader: Reader, item: Item, replaced: Collection[str]) -> bool:
    """Whether a request is an order to do the exercise that is in force, or was until a time or
    until it was replaced.
    """
    cells, resource = reader.cells(item), item.resource
    status = txt(resource.get("status"))
    if resource.get("doNotPerform", False) is not False and status != "entered-in-error":
        cells.report("fhir-do-not-perform", "doNotPerform")
    elif txt(resource.get("intent")) not in _INTENTS:
        cells.report("fhir-status", "intent", raw=txt(resource.get("intent")) or None)
    elif status == "completed" and "end" not in _period_of(item)[1] and item.key not in replaced:
        cells.report("fhir-status", "status", raw=status)
    else:
        return reader.status(item, _IN_FORCE, frozenset({"draft", "revoked", "unknown"}))
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
        cells.lose(
            "order_breaths", "fhir-timing", "quantity", raw=FINDINGS.say("fhir-timing.no-number")
        )
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


def joins_an_order(reader: Reader, cells: Cells, element: str) -> bool:
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


def read_goal(reader: Reader, item: Item) -> None:
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
    is_over = [each and txt(each.resource.get("status")) == "completed" for each in named]
    if status != "active" and not (status == "completed" and is_over and all(is_over)):
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
    if joins_an_order(reader, cells, "addresses") and reader.about(cells):
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

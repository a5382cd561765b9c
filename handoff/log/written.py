"""The domain as a log writes it: unit, shift and patient -> cells, by contract name.

Input: records of the model. Output: text that the checks read back as the same records. A value
that is not recorded has no cell. No time is ambiguous: one that occurs twice has its offset.
"""

from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from handoff.log.clock import instants
from handoff.log.fields import ORDER_PARTS, Field, Section, fields_of
from handoff.model.ward import Doubt, Order, Patient, Shift, Unit


def unit_cells(unit: Unit) -> dict[str, str]:
    """The unit's cells; without quiet hours these are `none`."""
    quiet = unit.quiet_hours
    hours = (
        "none"
        if quiet is None
        else "-".join(
            each.isoformat("auto" if each.second or each.microsecond else "minutes")
            for each in quiet
        )
    )
    cells = {"unit": unit.name, "time_zone": unit.time_zone.key, "quiet_hours": hours}
    phones = {"phone": unit.phone, "home_phone": unit.home_phone}
    return {**cells, **{name: phone for name, phone in phones.items() if phone is not None}}


def shift_cells(shift: Shift, zone: ZoneInfo) -> dict[str, str]:
    """The shift's cells."""
    values = {
        "shift_name": shift.name,
        "shift_start": shift.start,
        "shift_end": shift.end,
        "outgoing": shift.outgoing,
        "incoming": shift.incoming,
    }
    return {name: written(value, zone) for name, value in values.items() if value is not None}


def patient_cells(patient: Patient, zone: ZoneInfo) -> dict[str, str]:
    """The patient's cells, with the parts of the order that begins last. A usual value that nobody
    stated has no cell.
    """
    values = {field.name: patient_value(patient, field) for field in fields_of(Section.PATIENT)}
    return _cells(values, zone)


def order_cells(order: Order, zone: ZoneInfo) -> dict[str, str]:
    """The cells of one order, without parts that nobody stated or whose value is not known."""
    known = {
        name: getattr(order, part)
        for name, part in ORDER_PARTS.items()
        if part not in order.unstated and part not in order.not_known
    }
    return _cells(known, zone)


def _cells(values: Mapping[str, object], zone: ZoneInfo) -> dict[str, str]:
    blanks = (None, "", ())
    return {name: written(value, zone) for name, value in values.items() if value not in blanks}


def patient_value(patient: Patient, field: Field) -> object:
    """What is recorded of a patient under one field of the contract; None where nothing is, and
    where it is disputed.
    """
    if patient.disputes(field.name):
        return None
    if field.name in ORDER_PARTS:
        order, part = patient.order, ORDER_PARTS[field.name]
        is_known = order and part not in order.unstated and part not in order.not_known
        return getattr(order, part) if is_known else None
    value = patient.id if field.name == "patient_id" else getattr(patient, field.name)
    return None if isinstance(value, Doubt) else value


def written(value: object, zone: ZoneInfo) -> str:
    """One value as a log writes it: local times, yes and no, numbers without an exponent."""
    match value:
        case bool():
            return "yes" if value else "no"
        case datetime():
            return _local(value, zone)
        case date():
            return value.isoformat()
        case tuple():
            return "; ".join(map(str, value))
        case float():
            return f"{Decimal(repr(value)):f}".removesuffix(".0")
    return str(value)


def _local(moment: datetime, zone: ZoneInfo) -> str:
    wall = moment.astimezone(zone)
    naive = wall.replace(tzinfo=None)
    is_once = len(instants(naive, zone)) == 1
    timespec = "auto" if naive.second or naive.microsecond else "minutes"
    return (naive if is_once else wall).isoformat(" ", timespec)

"""The change of shift: how near it is, which log waits for it, and what is open before it.

Input: a `Ward`. Output: values for the pages, from the verdicts, matters and measures of the
stages. Decides nothing but when the next log is offered.
"""

from collections.abc import Iterator, Mapping
from datetime import timedelta
from itertools import zip_longest
from pathlib import PurePath
from zoneinfo import ZoneInfo

from handoff.desk import current
from handoff.desk.still_open import OpenMatter, still_open
from handoff.desk.ward import Ward
from handoff.explain.text import local_time
from handoff.gather import unit_key
from handoff.log.written import order_cells, patient_cells
from handoff.model.frozen import Frozen
from handoff.model.ward import NO_CELLS, Handover, Log, Patient
from handoff.run.blank import with_orders_to_come

OFFERED_BEFORE = timedelta(minutes=30)


class Coming(Frozen):
    """A shift that ends soon, or has ended without a log of the next: `minutes` to its end, and the
    log that takes over by itself, '' where none is made yet, with the time at which it does.
    """

    unit: str
    unit_key: str
    minutes: int
    waiting: str = ""
    begins: str = ""
    differs: int = 0  # patients of whom that log does not say what holds now


class ToClear(Frozen):
    """What of one patient is open before the change of shift: matters that nobody was told of, a
    hold, rows that cannot be read, and spans of the shift that are due and not charted.
    """

    key: str
    bed: str
    name: str
    untold: tuple[OpenMatter, ...]
    hold: str
    unread: int
    uncharted: int
    due: int


def coming(seen: Ward) -> Iterator[Coming]:
    """Each unit whose next log is offered: from half an hour before the end of the shift until the
    next one would be over too.
    """
    for handover in seen.handovers:
        unit, shift = handover.unit, handover.shift
        log = made_early(seen, handover)
        left = shift.end - seen.now
        if log or shift.start - shift.end < left <= OFFERED_BEFORE:
            yield Coming(
                unit.name,
                current.unit_key(unit.name),
                int(left.total_seconds()) // 60,
                PurePath(log.file).name if log else "",
                local_time(log.shift.start, unit.time_zone)[11:] if log else "",
                sum(1 for _ in differences(handover, log)) if log else 0,
            )


def made_early(seen: Ward, handover: Handover) -> Log | None:
    """The log that waits for the end of a unit's shift, if there is one."""
    of_unit = unit_key(handover.logs[-1])
    return next((each for each in seen.to_come.values() if unit_key(each) == of_unit), None)


def differences(handover: Handover, made_early: Log) -> Iterator[tuple[Patient, tuple[str, ...]]]:
    """The patients of whom a log made early does not say what holds now, with the names of the
    facts; without names for one whom only one of the two lists.
    """
    carried = [with_orders_to_come(handover, each) for each in handover.patients]
    here, there = (
        {each.id: each for each in patients} for patients in (carried, made_early.patients)
    )
    for key in {**here, **there}:
        if key not in here or key not in there:
            yield here.get(key) or there[key], ()
            continue
        rows = (_rows(each[key], handover.unit.time_zone) for each in (here, there))
        names = {
            name: None
            for now, then in zip_longest(*rows, fillvalue=NO_CELLS)
            for name in {**now, **then}
            if now.get(name) != then.get(name)
        }
        if names:
            yield here[key], tuple(names)


def _rows(patient: Patient, zone: ZoneInfo) -> list[Mapping[str, str]]:
    """The cells of a patient with the order that begins last, and of each order before it."""
    earlier = (order_cells(each, zone) for each in reversed(patient.earlier_orders))
    return [patient_cells(patient, zone), *earlier]


def to_clear(seen: Ward, number: int) -> Iterator[ToClear]:
    """The patients of the unit of this number with something open, in bed order."""
    results = seen.results[number]
    handover = results.handover
    for patient in handover.patients:
        opened = still_open(seen, number, patient)
        measures = results.measures.get(patient.id)
        adherence = measures.adherence if measures else None
        each = ToClear(
            current.patient_key(handover.unit.name, patient.id),
            patient.bed,
            patient.name,
            tuple(each for each in opened.matters if not each.matter.is_told),
            opened.hold,
            sum(row.patient_id == patient.id for row in handover.set_aside),
            adherence.slots_uncharted if adherence else 0,
            adherence.slots_due if adherence else 0,
        )
        if each.untold or each.hold or each.unread or each.uncharted:
            yield each

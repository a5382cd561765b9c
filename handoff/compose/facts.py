"""The facts that the words of a patient sheet may speak of, by name.

Input: one patient's measures and verdicts. Output: a mapping for the templates. Counts and picks
rows; judges nothing and rounds nothing.
"""

from collections.abc import Mapping, Sequence
from datetime import date

from handoff.compose.discharge import goes_home_soon
from handoff.limits.reading import Limits
from handoff.model.matters import Verdicts
from handoff.model.measures import Measures
from handoff.model.verdicts import Level
from handoff.model.ward import Entry, Handover, Patient, What


def facts_of(
    handover: Handover, measures: Measures, verdicts: Verdicts, limits: Limits
) -> Mapping[str, object]:
    """Every fact by the name under which the templates know it."""
    patient = measures.patient
    order = measures.order
    begun = order.start <= handover.as_of
    active = order.active_at(handover.as_of)
    entries = measures.shift_entries
    exercises = [entry for entry in entries if entry.is_exercise]
    best, previous = measures.volume.best, measures.volume.previous_best
    escalations = [each for each in verdicts.matters if each.level is Level.ESCALATE]
    return {
        "unit": handover.unit,
        "shift": handover.shift,
        "as_of": handover.as_of,
        "patient": patient,
        "elsewhere": handover.elsewhere.get(patient.id),
        "order": order,
        "not_begun": not begun,
        "stopped": begun and not active,
        "home_soon": goes_home_soon(handover, patient),
        "held": is_kept_back(measures, verdicts) or not active,
        "may_hold_back": verdicts.may_hold_back,
        "hold": measures.hold,
        "holds_back": verdicts.holds_back,
        "kept_back": is_kept_back(measures, verdicts),
        "now_from": handover.shift.start,
        "order_start": measures.stay_start,
        "age_years": age_years(patient, _local_day(handover)),
        "surgery_day": _days_since(patient.surgery_on, handover),
        "order_day": _order_day(measures, handover),
        "adherence": measures.adherence,
        "volume": measures.volume,
        "trend": measures.trend,
        "goal": measures.goal,
        "reference": measures.reference,
        "entries": len(entries),
        "exercises": len(exercises),
        "uncounted": sum(entry.breaths is None for entry in exercises),
        "exercises_in_stay": sum(entry.is_exercise for entry in measures.stay_entries),
        "declined": sum(entry.what is What.DECLINED for entry in entries),
        "told": any(entry.what is What.TOLD for entry in entries),
        "held_s": measures.bedside.held_s,
        "pain": measures.bedside.pain,
        "lowest_spo2": measures.bedside.lowest_spo2,
        "last_lower": _last_lower(best, entries),
        "position": best.position if best else None,
        "previous_position": previous.position if previous else None,
        "escalations": escalations,
        "not_told": [each for each in escalations if not each.is_told],
        "limits": limits,
    }


def is_kept_back(measures: Measures, verdicts: Verdicts) -> bool:
    """Whether nothing asks for the exercise, and the page to take home is printed only by name."""
    return measures.hold is not None or verdicts.holds_back or verdicts.may_hold_back


def _last_lower(best: Entry | None, entries: Sequence[Entry]) -> Entry | None:
    """The last reading of good form, where it is lower than the best that would hide it."""
    readings = [entry for entry in entries if entry.is_reading and entry.good_form]
    if best is None or not readings or readings[-1].volume_ml == best.volume_ml:
        return None
    return readings[-1]


def age_years(patient: Patient, on: date) -> int | None:
    """Completed years on a day; None when the birth date is not recorded."""
    born = patient.born
    if born is None:
        return None
    return on.year - born.year - ((on.month, on.day) < (born.month, born.day))


def _local_day(handover: Handover) -> date:
    return handover.as_of.astimezone(handover.unit.time_zone).date()


def _days_since(day: date | None, handover: Handover) -> int | None:
    """Whole local days from a day to 'data as of': 0 on the day itself."""
    return None if day is None else (_local_day(handover) - day).days


def _order_day(measures: Measures, handover: Handover) -> int:
    """The day of the order at 'data as of'; the local day on which it started is day 1."""
    started = measures.stay_start.astimezone(handover.unit.time_zone).date()
    return (_local_day(handover) - started).days + 1

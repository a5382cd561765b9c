"""The facts that the words of a patient sheet may use, by name.

Input: one patient's measures and verdicts. Output: a record whose fields the templates know. Counts
and picks rows; judges nothing and rounds nothing.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from handoff.limits.reading import Limits
from handoff.model.matters import Matter, Verdicts
from handoff.model.measures import (
    Adherence,
    Goal,
    Hold,
    Measures,
    Reference,
    Spread,
    Trend,
    Volume,
)
from handoff.model.ward import (
    Entry,
    Handover,
    Order,
    Patient,
    Position,
    Shift,
    Symptom,
    Unit,
    What,
)

WITHOUT_A_RULE = (Symptom.COUGH, Symptom.FATIGUE)  # they meet no rule, and are printed
ADULT_FROM_Y = 16  # the age from which the limits of adults are used


@dataclass(frozen=True)  # without slots: `vars` gives the templates its fields
class Facts:
    """The facts of one patient; templates use each by its name.

    `order_start` is that of the stay's first order, `order_day` counts from it, 1 on that day.
    `held`: no page asks for the exercise. `told`: the shift has such a row. `also_charted`: the
    symptoms that meet no rule, and how often. The counts are the shift's.
    """

    unit: Unit
    shift: Shift
    as_of: datetime
    patient: Patient
    elsewhere: Sequence[str] | None
    order: Order
    not_begun: bool
    stopped: bool
    home_soon: bool
    held: bool
    may_hold_back: bool
    hold: Hold | None
    holds_back: bool
    kept_back: bool
    now_from: datetime
    order_start: datetime
    age_years: int | None
    is_child: bool
    surgery_day: int | None
    order_day: int
    adherence: Adherence
    volume: Volume
    trend: Trend
    goal: Goal
    reference: Reference | None
    entries: int
    exercises: int
    uncounted: int
    exercises_in_stay: int
    declined: int
    told: bool
    last_entry_at: datetime | None
    also_charted: Mapping[str, int]
    held_s: Spread | None
    pain: Spread | None
    lowest_spo2: Entry | None
    last_lower: Entry | None
    position: Position | None
    previous_position: Position | None
    not_told: Sequence[Matter]
    limits: Limits


def facts_of(handover: Handover, measures: Measures, verdicts: Verdicts, limits: Limits) -> Facts:
    """The facts of one patient with an order, at 'data as of'."""
    patient, order, as_of = measures.patient, measures.order, handover.as_of
    zone = handover.unit.time_zone
    today, started = as_of.astimezone(zone).date(), measures.stay_start.astimezone(zone).date()
    active, kept_back = order.active_at(as_of), is_kept_back(measures, verdicts)
    age = age_years(patient, today)
    entries = measures.shift_entries
    exercises = [entry for entry in entries if entry.is_exercise]
    best, previous = measures.volume.best, measures.volume.previous_best
    return Facts(
        unit=handover.unit,
        shift=handover.shift,
        as_of=as_of,
        patient=patient,
        elsewhere=handover.elsewhere.get(patient.id),
        order=order,
        not_begun=order.start > as_of,
        stopped=order.start <= as_of and not active,
        home_soon=patient.goes_home_soon(handover.shift, zone),
        held=kept_back or not active,
        may_hold_back=verdicts.may_hold_back,
        hold=measures.hold,
        holds_back=verdicts.holds_back,
        kept_back=kept_back,
        now_from=handover.shift.start,
        order_start=measures.stay_start,
        age_years=age,
        is_child=age is not None and age < ADULT_FROM_Y,
        surgery_day=(today - patient.surgery_on).days if patient.surgery_on else None,
        order_day=(today - started).days + 1,
        adherence=measures.adherence,
        volume=measures.volume,
        trend=measures.trend,
        goal=measures.goal,
        reference=measures.reference,
        entries=len(entries),
        exercises=len(exercises),
        uncounted=sum(entry.breaths is None for entry in exercises),
        exercises_in_stay=sum(entry.is_exercise for entry in measures.stay_entries),
        declined=sum(entry.what is What.DECLINED for entry in entries),
        told=any(entry.what is What.TOLD for entry in entries),
        last_entry_at=last_entry_at(handover, patient),
        also_charted={
            str(symptom): count
            for symptom in WITHOUT_A_RULE
            if (count := sum(symptom in each.signs.symptoms for each in measures.caution_entries))
        },
        held_s=measures.bedside.held_s,
        pain=measures.bedside.pain,
        lowest_spo2=measures.bedside.lowest_spo2,
        last_lower=_last_lower(best, entries),
        position=best.position if best else None,
        previous_position=previous.position if previous else None,
        not_told=[each for each in verdicts.escalations if not each.is_told],
        limits=limits,
    )


def last_entry_at(handover: Handover, patient: Patient) -> datetime | None:
    """The time of the patient's last entry, whatever it records, at 'data as of'."""
    known = [each.at for each in handover.entries_of(patient) if each.at <= handover.as_of]
    return max(known, default=None)


def is_kept_back(measures: Measures, verdicts: Verdicts) -> bool:
    """Whether no page asks for the exercise; the page to take home is then printed only
    on request.
    """
    return measures.hold is not None or verdicts.holds_back or verdicts.may_hold_back


def _last_lower(best: Entry | None, entries: Sequence[Entry]) -> Entry | None:
    """The last good-form reading, where it is lower than the best, which alone would hide it."""
    readings = [entry for entry in entries if entry.is_good_reading]
    if best is None or not readings or readings[-1].volume_ml == best.volume_ml:
        return None
    return readings[-1]


def age_years(patient: Patient, on: date) -> int | None:
    """Completed years on a day; None when the birth date is not recorded."""
    born = patient.born
    if born is None:
        return None
    return on.year - born.year - ((on.month, on.day) < (born.month, born.day))

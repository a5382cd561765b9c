"""The facts that the words of a patient sheet may use, by name.

Input: one patient's measures and verdicts. Output: a record whose fields the templates know. Counts
and picks rows; judges nothing and rounds nothing.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

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
    Unit,
    What,
)


@dataclass(frozen=True)  # without slots: `vars` gives the templates its fields
class Facts:
    """The facts of one patient; templates use each by its name.

    `order_start` is that of the stay's first order, `order_day` counts from it, 1 on that day.
    `comfort_since`: since when comfort care is ordered, None where it is not.
    `held`: no page asks for the exercise. `told`: the shift has such a row. The counts are the
    shift's.
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
    hold: Hold | None
    holds_back: bool
    kept_back: bool
    now_from: datetime
    order_start: datetime
    age_years: int | None
    is_child: bool
    comfort_since: datetime | None
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
        hold=measures.hold,
        holds_back=verdicts.holds_back,
        kept_back=kept_back,
        now_from=handover.shift.start,
        order_start=measures.stay_start,
        age_years=patient.age_on(today),
        is_child=patient.is_child_in(handover.shift, handover.unit),
        comfort_since=_comfort_since(handover, measures),
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
        held_s=measures.bedside.held_s,
        pain=measures.bedside.pain,
        lowest_spo2=measures.bedside.lowest_spo2,
        last_lower=_last_lower(best, entries),
        position=best.position if best else None,
        previous_position=previous.position if previous else None,
        not_told=[each for each in verdicts.escalations if not each.is_told],
        limits=limits,
    )


def _comfort_since(handover: Handover, measures: Measures) -> datetime | None:
    """Since when comfort care is ordered, as far as the logs given say; None where it is not."""
    if not measures.order.comfort_care:
        return None
    since = measures.order.start
    listings = handover.listings_of(measures.patient)
    for before, now in pairwise(listings):
        order = before.patient.order
        if order is not None and not order.comfort_care:
            since = max(measures.order.start, now.shift.start)
    return since


def is_kept_back(measures: Measures, verdicts: Verdicts) -> bool:
    """Whether no page asks for the exercise; the page to take home is then printed only
    on request.
    """
    return measures.hold is not None or verdicts.holds_back


def _last_lower(best: Entry | None, entries: Sequence[Entry]) -> Entry | None:
    """The last good-form reading, where it is lower than the best, which alone would hide it."""
    readings = [entry for entry in entries if entry.is_good_reading]
    if best is None or not readings or readings[-1].volume_ml == best.volume_ml:
        return None
    return readings[-1]

"""The facts that the words of a patient sheet may use, by name.

Input: one patient's measures and verdicts. Output: a record whose fields the templates know. Counts
and picks rows; judges nothing and rounds nothing.
"""

import math
from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from functools import cached_property
from itertools import pairwise

from msgspec.structs import asdict, replace

from handoff.compose.words import OWN_LIMITS
from handoff.limits.reading import Limits
from handoff.model.frozen import Frozen
from handoff.model.matters import Matter, Verdicts
from handoff.model.measures import (
    Adherence,
    Goal,
    Hold,
    Measures,
    NotDue,
    Reference,
    Span,
    Spread,
    Trend,
    Volume,
)
from handoff.model.rounding import up_to_ten
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

JUDGED_BY = (*OWN_LIMITS, "usual_symptoms", "comfort_care")  # parts of an order
WITHOUT_A_RULE = (Symptom.COUGH, Symptom.FATIGUE)  # they meet no rule, and are printed
NOT_JUDGED_IN_COMFORT_CARE = tuple(
    symptom
    for symptom in Symptom
    if symptom not in {Symptom.BREATHLESS, Symptom.WHEEZE, Symptom.NONE}
)


class Facts(Frozen, dict=True):
    """The facts of one patient; templates use each by its name.

    `order_start` is that of the stay's first order, `order_day` counts from it, 1 on that day; None
    where no start of an order is known.
    `comfort_since`: since when comfort care is ordered, None where it is not; `comfort_care`:
    whether it is, now or by an order that follows.
    `periods` are those of the order in the shift and later, equal ones as one; `later_orders` those
    still to begin, each after the one before it, and `judged_otherwise` those of them by which the
    patient is judged otherwise. `held`: no page asks
    for the exercise. `told`: the shift has such a row. The counts are the shift's. `also_charted`:
    the symptoms that meet no rule, and how often. A volume at the device's scale may be higher:
    `best_at_scale` and its like. `last_off_form`: the stay's last reading, where it is off form.
    `unavailable` are the times of the shift away, asleep or held, in order. `fell`: a fall of the
    volume is met, or still open.
    `trend_given`: whether the words and the chart give the trend. `changes_by_ml`: the trend's
    whole interval is within so many mL a day. `not_before`: the usual reading is not at the goal
    before that day, `days_to_go` whole days from now; None where nothing is claimed.
    """

    unit: Unit
    shift: Shift
    as_of: datetime
    patient: Patient
    elsewhere: Sequence[str] | None
    order: Order
    periods: Sequence[Order]
    later_orders: Sequence[tuple[Order, Order]]
    judged_otherwise: Sequence[tuple[Order, Order]]
    not_begun: bool
    stopped: bool
    home_soon: bool
    held: bool
    hold: Hold | None
    holds_back: bool
    kept_back: bool
    only_waiting: bool  # kept back by nothing but a breathlessness that has to settle
    now_from: datetime
    order_start: datetime
    age_years: int | None
    is_child: bool
    comfort_since: datetime | None
    comfort_care: bool
    surgery_day: int | None
    order_day: int | None
    adherence: Adherence
    volume: Volume
    trend: Trend
    trend_given: bool
    trend_days: int
    changes_by_ml: int
    fell: bool
    goal: Goal
    not_before: date | None
    days_to_go: int
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
    last_off_form: Entry | None
    position: Position | None
    previous_position: Position | None
    best_at_scale: bool
    previous_at_scale: bool
    stay_at_scale: bool
    last_at_scale: bool
    usual_at_scale: bool
    unavailable: Sequence[NotDue]
    not_told: Sequence[Matter]
    limits: Limits

    @cached_property
    def by_name(self) -> Mapping[str, object]:
        """Each as the templates of all sentences use it."""
        return asdict(self)


def facts_of(handover: Handover, measures: Measures, verdicts: Verdicts, limits: Limits) -> Facts:
    """The facts of one patient with an order, at 'data as of'."""
    patient, order, as_of = measures.patient, measures.order, handover.as_of
    zone = handover.unit.time_zone
    today, started = as_of.astimezone(zone).date(), measures.stay_start.astimezone(zone).date()
    active, kept_back = order.active_at(as_of), is_kept_back(measures, verdicts)
    entries, periods = measures.shift_entries, _periods(measures, handover)
    later = [each for each in pairwise(periods) if each[1].start > as_of]
    exercises = [entry for entry in entries if entry.is_exercise]
    best, previous, trend = measures.volume.best, measures.volume.previous_best, measures.trend
    last_lower = _last_lower(best, entries)
    trend_given = trend.is_given(fell=verdicts.fell)
    days_to_goal = measures.goal.days_to_goal if trend_given else None
    days_to_go = math.floor(days_to_goal[0]) if days_to_goal else 0
    return Facts(
        unit=handover.unit,
        shift=handover.shift,
        as_of=as_of,
        patient=patient,
        elsewhere=handover.elsewhere.get(patient.id),
        order=order,
        periods=periods,
        later_orders=later,
        judged_otherwise=[
            (before, each)
            for before, each in later
            if any(getattr(before, name) != getattr(each, name) for name in JUDGED_BY)
        ],
        not_begun=order.start > as_of,
        stopped=order.start <= as_of and not active,
        home_soon=patient.goes_home_soon(handover.shift, zone),
        held=kept_back or not active,
        hold=measures.hold,
        holds_back=verdicts.holds_back,
        kept_back=kept_back,
        only_waiting=bool(verdicts.waiting)
        and measures.hold is None
        and not any(each.holds_back for each in verdicts.matters),
        now_from=handover.shift.start,
        order_start=measures.stay_start,
        age_years=patient.age_on(today),
        is_child=patient.is_child_in(handover.shift, handover.unit),
        comfort_since=_comfort_since(handover, measures),
        comfort_care=measures.comfort_care,
        surgery_day=(today - patient.surgery_on).days if patient.surgery_on else None,
        order_day=(today - started).days + 1 if patient.id in handover.stay_start else None,
        adherence=measures.adherence,
        volume=measures.volume,
        trend=trend,
        trend_given=trend_given,
        trend_days=round((trend.span_h or 0) / 24),
        changes_by_ml=up_to_ten(max(abs(trend.low or 0), abs(trend.high or 0))),
        fell=verdicts.fell,
        goal=measures.goal,
        not_before=today + timedelta(days=days_to_go) if days_to_go else None,
        days_to_go=days_to_go,
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
            for symptom in (NOT_JUDGED_IN_COMFORT_CARE if order.comfort_care else WITHOUT_A_RULE)
            if (count := sum(symptom in each.signs.symptoms for each in measures.caution_entries))
        },
        held_s=measures.bedside.held_s,
        pain=measures.bedside.pain,
        lowest_spo2=measures.bedside.lowest_spo2,
        last_lower=last_lower,
        last_off_form=_last_off_form(measures.stay_entries),
        best_at_scale=patient.is_at_scale(measures.volume.best_ml),
        previous_at_scale=patient.is_at_scale(measures.volume.previous_best_ml),
        stay_at_scale=patient.is_at_scale(measures.volume.stay_best_ml),
        last_at_scale=last_lower is not None and patient.is_at_scale(last_lower.volume_ml),
        usual_at_scale=patient.is_at_scale(measures.volume.usual_ml),
        unavailable=_unavailable(measures.not_due),
        position=best.position if best else None,
        previous_position=previous.position if previous else None,
        not_told=[each for each in verdicts.escalations if not each.is_told],
        limits=limits,
    )


def _periods(measures: Measures, handover: Handover) -> tuple[Order, ...]:
    periods: list[Order] = []
    for each in measures.periods:
        before = periods[-1] if periods else None
        if before and _goes_on(before, each, handover.as_of):
            periods[-1] = replace(each, start=before.start)
        else:
            periods.append(each)
    begins = handover.shift.start
    known = tuple(each for each in periods if each.stop is None or each.stop > begins)
    return known or (measures.order,)


def _goes_on(before: Order, order: Order, as_of: datetime) -> bool:
    """Whether a page says of an order nothing else than of the one before it: how much it is; of
    one still to begin, all its parts.
    """
    if before.stop != order.start or before.amount != order.amount:
        return False
    same = replace(before, start=order.start, stop=order.stop, by=order.by)
    return order.start <= as_of or same == order


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


def last_entry_at(handover: Handover, patient: Patient) -> datetime | None:
    """The time of the patient's last entry, whatever it records, at 'data as of'."""
    known = [each.at for each in handover.entries_of(patient) if each.at <= handover.as_of]
    return max(known, default=None)


def is_kept_back(measures: Measures, verdicts: Verdicts) -> bool:
    """Whether no page asks for the exercise: it is held, something is open, or comfort care is
    ordered. The page to take home is then printed only on request.
    """
    return measures.hold is not None or verdicts.holds_back or measures.comfort_care


def _unavailable(not_due: Sequence[NotDue]) -> list[NotDue]:
    """The charted times in which nothing is due, in time order; those of a kind that overlap or
    touch as one.
    """
    merged: dict[str, list[NotDue]] = {}
    for each in sorted((each for each in not_due if each.entry), key=lambda each: each.span):
        of_kind = merged.setdefault(each.why, [])
        if of_kind and each.span.start <= of_kind[-1].span.end:
            end = max(of_kind[-1].span.end, each.span.end)
            of_kind[-1] = replace(of_kind[-1], span=Span(of_kind[-1].span.start, end))
        else:
            of_kind.append(each)
    return sorted((each for kind in merged.values() for each in kind), key=lambda each: each.span)


def _last_lower(best: Entry | None, entries: Sequence[Entry]) -> Entry | None:
    """The last good-form reading, where it is lower than the best, which alone would hide it."""
    readings = [entry for entry in entries if entry.is_good_reading]
    if best is None or not readings or readings[-1].volume_ml == best.volume_ml:
        return None
    return readings[-1]


def _last_off_form(entries: Sequence[Entry]) -> Entry | None:
    """The last reading, where it is off form: the last one in good form alone would hide it."""
    last = next((entry for entry in reversed(entries) if entry.is_reading), None)
    return last if last and not last.good_form else None

"""Measure: the numbers of a hand-over, patient by patient.

Input: a `Handover`. Output: `Measures` for each patient with an order, by id, in the hand-over's
order. Never judges or rounds, and knows no file. Uses local time only for the unit's quiet hours
and calendar days.
"""

from collections.abc import Container
from datetime import timedelta

from handoff.measure.adherence import measure_adherence
from handoff.measure.bedside import measure_bedside
from handoff.measure.coming import find_coming
from handoff.measure.due import measure_due
from handoff.measure.goal import measure_goal
from handoff.measure.next_shift import measure_next_shift, shift_after
from handoff.measure.readings import find_bests
from handoff.measure.reference import (
    find_oldest_reference,
    find_predicted_weight_kg,
    find_reference,
)
from handoff.measure.shift import (
    Stay,
    available_spans,
    cut,
    exercised_on_hold,
    first_of_shift,
    hold_in_force,
    holds_of,
    not_due,
    quiet_spans,
    sort_entries,
)
from handoff.measure.spans import outside
from handoff.measure.trend import measure_trend
from handoff.measure.volume import measure_volume
from handoff.model.measures import TREND_D, Hold, Measures, Span
from handoff.model.ward import Handover, Patient

__all__ = ["find_coming", "hold_of", "measure", "measure_due", "measure_next_shift", "shift_after"]


def measure(handover: Handover, without_order: Container[str] = ()) -> dict[str, Measures]:
    """All numbers of all patients with an order, unrounded; None where one is not available.

    `without_order` are the ids of patients without an order now whose danger is still open. They
    are measured by the last order of the stay.
    """
    stays = [
        sort_entries(handover, patient)
        for patient in handover.patients
        if patient.order or patient.id in without_order
    ]
    if not stays:
        return {}
    as_of, shift = handover.as_of, handover.shift
    week_ago = as_of - timedelta(days=TREND_D)
    begins = min(week_ago, *(stay.start for stay in stays))
    quiet = quiet_spans(handover.unit, Span(begins, max(as_of, shift.end)))
    nights = tuple(each for each in quiet if each.end > week_ago)
    return {stay.patient.id: _measure_stay(handover, stay, quiet, nights) for stay in stays}


def hold_of(handover: Handover, patient: Patient) -> Hold | None:
    """The hold in force at `as_of`, for any patient with entries in the hand-over, also one who
    left.
    """
    begins = handover.stay_start.get(patient.id, handover.shift.start)
    entries = [each for each in handover.entries_of(patient) if begins <= each.at <= handover.as_of]
    return hold_in_force(holds_of(entries), handover.as_of)


def _measure_stay(
    handover: Handover, stay: Stay, quiet: tuple[Span, ...], nights: tuple[Span, ...]
) -> Measures:
    patient, shift, as_of = stay.patient, handover.shift, handover.as_of
    idle = tuple(not_due(shift, quiet, stay))
    whole = Span(shift.start, shift.end)
    available = outside(whole, (each.span for each in idle))
    on = shift.start.astimezone(handover.unit.time_zone).date()
    available_in_stay = available_spans(shift, quiet, stay)
    slots = cut(shift, first_of_shift(shift, stay).every_h)
    on_hold = exercised_on_hold(stay)
    bests = find_bests(stay, handover)
    volume = measure_volume(patient, stay.in_shift, bests)
    trend = measure_trend(bests.blocks, bests.readings, patient, as_of)
    return Measures(
        patient=patient,
        order=stay.order,
        periods=stay.periods,
        stay_start=stay.start,
        shift_entries=stay.in_shift,
        caution_entries=stay.cautions,
        stay_entries=stay.counted,
        drawn_entries=stay.drawn,
        available_h=sum(span.seconds for span in available_in_stay) / 3600,
        not_due=idle,
        nights=nights,
        adherence=measure_adherence(stay.periods, slots, available, stay.counted),
        volume=volume,
        trend=trend,
        goal=measure_goal(stay, volume, trend),
        reference=find_reference(patient, on),
        oldest_reference=find_oldest_reference(patient, on),
        predicted_weight_kg=find_predicted_weight_kg(patient, on),
        bedside=measure_bedside(stay, whole, idle),
        hold=hold_in_force(stay.holds, as_of),
        exercised_on_hold=tuple(entry for entry, _ in on_hold),
        hold_of_exercise=on_hold[-1][1] if on_hold else None,
    )

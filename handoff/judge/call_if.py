"""When to call for one patient, by the rules that may escalate and the limits in force.

Input: one patient's measures, the hand-over, the limits. Output: a `CallIf`, for readings from now
on. Judges nothing: each of its numbers is one at which a rule is met.
"""

from datetime import UTC, datetime, timedelta
from fractions import Fraction
from math import floor

from msgspec.structs import replace

from handoff.judge.case import good_readings
from handoff.judge.signs import SYMPTOMS
from handoff.judge.vitals import ON_OXYGEN, VITALS, bounds_in_force
from handoff.judge.volume import LOOKS_AT, VOLUME_DROP
from handoff.limits.reading import Limits
from handoff.log.fields import MAY_BE_USUAL
from handoff.model.call_if import CallAt, CallIf, CallVolume
from handoff.model.measures import LAST_READINGS_H, Measures
from handoff.model.usual import find_usual_ml, in_time
from handoff.model.verdicts import Level
from handoff.model.ward import Handover, Order

NOT_ALONE = frozenset({"pain-again"})  # one value of it does not escalate


def call_if(measures: Measures, handover: Handover, limits: Limits) -> CallIf:
    """The values and symptoms that escalate by themselves, and a fall of the volume. Of an SpO2 too
    high on oxygen it is the first limit that is met: somebody is to be asked of it.
    """
    is_child = measures.patient.is_child_in(handover.shift, handover.unit)
    signs = _signs(measures.order, limits, is_child=is_child)
    if signs.comfort_care:
        return signs
    return replace(signs, volume=_volume(measures, handover, limits))


def call_if_of_unit(limits: Limits) -> CallIf:
    """The same of an adult without limits of an own order."""
    return _signs(Order(datetime.min.replace(tzinfo=UTC)), limits, is_child=False)


def _signs(order: Order, limits: Limits, *, is_child: bool) -> CallIf:
    """The values and symptoms, without the volume."""
    if order.comfort_care:
        return CallIf(comfort_care=True)
    values: list[CallAt] = []
    for rule, vital in VITALS.items():
        if rule in NOT_ALONE:
            continue
        bounds = bounds_in_force(rule, order, limits, is_child=is_child)
        on_oxygen = rule == ON_OXYGEN
        chosen = bounds[:1] if on_oxygen else [e for e in bounds if e.level is Level.ESCALATE]
        values += [
            CallAt(vital.field, each.limit, each.low, each.inclusive, on_oxygen, each.of_adults)
            for each in chosen
        ]
    symptoms = [
        symptom
        for rule, of_rule in SYMPTOMS.items()
        for symptom in of_rule
        if limits.level(rule) == Level.ESCALATE
        if symptom not in order.usual_symptoms or symptom not in MAY_BE_USUAL
    ]
    return CallIf(tuple(values), tuple(symptoms))


def _volume(measures: Measures, handover: Handover, limits: Limits) -> CallVolume | None:
    """The two readings of `volume-drop`, against the usual of the shift in which the next reading
    falls: this one, or the next from its end on. Where the last one is as low, it is one of them.
    None where that usual is not known.
    """
    shift, rule, usual_ml = handover.shift, VOLUME_DROP.name, measures.volume.usual_ml
    known = in_time(good_readings(measures.stay_entries))
    if handover.as_of >= shift.end:
        usual_ml = find_usual_ml(known, shift.end)
    percent = Fraction(limits.value(rule, "two_percent_at_or_under"))
    share_ml = percent * Fraction(usual_ml or 0) / 100
    least_ml = Fraction(usual_ml or 0) - Fraction(limits.value(rule, "two_ml_under_at_or_over"))
    volume_ml = floor(min(share_ml, least_ml))
    if usual_ml is None or volume_ml <= 0:
        return None
    lately = handover.as_of - timedelta(hours=LAST_READINGS_H)
    low = [each for each in known[-1:] if each.at >= lately and (each.volume_ml or 0) <= volume_ml]
    return CallVolume(LOOKS_AT["two"] - len(low), volume_ml, usual_ml)

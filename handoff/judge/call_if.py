"""When to call for one patient, by the rules that may escalate and the limits in force.

Input: one patient's measures, the hand-over, the limits. Output: a `CallIf`, for readings from now
on. Judges nothing: each of its numbers is one at which a rule is met.
"""

from datetime import timedelta
from fractions import Fraction
from math import floor

from handoff.judge.case import good_readings
from handoff.judge.signs import SYMPTOMS
from handoff.judge.vitals import ON_OXYGEN, VITALS, bounds_in_force
from handoff.judge.volume import VOLUME_DROP
from handoff.limits.reading import Limits
from handoff.log.fields import MAY_BE_USUAL
from handoff.model.call_if import CallAt, CallIf, CallVolume
from handoff.model.measures import PREVIOUS_H, Measures
from handoff.model.verdicts import Level
from handoff.model.ward import Handover

NOT_ALONE = frozenset({"pain-again"})  # one value of it does not escalate


def call_if(measures: Measures, handover: Handover, limits: Limits) -> CallIf:
    """The values and symptoms that escalate by themselves, and a fall of the volume. Of an SpO2 too
    high on oxygen it is the first limit that is met: somebody is to be asked of it.
    """
    order = measures.order
    if order.comfort_care:
        return CallIf(comfort_care=True)
    is_child = measures.patient.is_child_in(handover.shift, handover.unit)
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
    return CallIf(tuple(values), tuple(symptoms), _volume(measures, handover, limits))


def _volume(measures: Measures, handover: Handover, limits: Limits) -> CallVolume | None:
    """The fall of `volume-drop`, in the shift in which the next reading falls: this one, or the
    next from its end on. None where nothing was read in the 24 h before that shift, and where its
    best so far is higher: no later reading makes it a fall then.
    """
    shift, rule = handover.shift, VOLUME_DROP.name
    before_ml, best_ml = measures.volume.previous_best_ml, measures.volume.best_ml
    if handover.as_of >= shift.end:
        since = shift.end - timedelta(hours=PREVIOUS_H)
        readings = good_readings(measures.stay_entries)
        in_time = [each.volume_ml or 0 for each in readings if since <= each.at < shift.end]
        before_ml, best_ml = max(in_time, default=None), None
    percent = limits.value(rule, "percent_at_or_under")
    volume_ml = floor(Fraction(before_ml or 0) * Fraction(percent) / 100)
    if not before_ml or not volume_ml or (best_ml or 0) > volume_ml:
        return None
    readings_needed = int(limits.value(rule, "readings_at_or_over"))
    return CallVolume(readings_needed, volume_ml, percent, before_ml)

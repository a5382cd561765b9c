"""When to call for one patient, by the rules that may escalate and the limits in force.

Input: one patient's measures, the hand-over, the limits. Output: a `CallIf`, for readings from now
on. Judges nothing: each of its numbers is one at which a rule is met.
"""

from datetime import timedelta
from fractions import Fraction
from math import floor

from handoff.judge.case import good_readings
from handoff.judge.signs import SYMPTOMS
from handoff.judge.vitals import VITALS, bounds_in_force
from handoff.judge.volume import VOLUME_DROP
from handoff.limits.reading import Limits
from handoff.model.call_if import CallAt, CallIf, CallVolume
from handoff.model.measures import PREVIOUS_H, Measures
from handoff.model.verdicts import Level
from handoff.model.ward import Handover


def call_if(measures: Measures, handover: Handover, limits: Limits) -> CallIf:
    """The values and symptoms that escalate by themselves, and a fall of the volume."""
    order = measures.order
    is_child = measures.patient.is_child_in(handover.shift, handover.unit)
    values = [
        CallAt(vital.field, bound.limit, bound.low, bound.inclusive, bound.of_adults)
        for rule, vital in VITALS.items()
        for bound in bounds_in_force(rule, order, limits, is_child=is_child)
        if bound.level is Level.ESCALATE
    ]
    symptoms = [
        symptom
        for rule, of_rule in SYMPTOMS.items()
        for symptom in of_rule
        if limits.level(rule) == Level.ESCALATE
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

"""Rules on what has to be there before and after: start, device, label, teaching, going home.

Input: a `Case`. Output: a `Verdict` a rule. What is not recorded is never taken for not done:
`missing` says which of the two it is, as pairs such as ('label', 'not recorded').
"""

from datetime import timedelta

from handoff.judge.case import MeasuredCase, Seen
from handoff.model.verdicts import Verdict
from handoff.model.ward import missing


def not_started(case: MeasuredCase) -> Verdict:
    """So many available hours since the order began, and no exercise in the stay. Value: hours.

    Hours are real ones up to `as_of` or the order's stop, without quiet hours, away and asleep.

    Detail: `missing` (of 'device', 'label', 'teaching'), `stopped` (the order is not active).
    """
    hours = case.measures.available_h
    started = any(entry.is_exercise for entry in case.measures.stay_entries)
    if started or hours < case.limit("hours_at_or_over"):
        return case.not_met()
    patient = case.patient
    lacks = missing(
        device=patient.device_given, label=patient.device_labelled, teaching=patient.taught
    )
    detail = {"missing": lacks, "stopped": not case.order_is_active}
    return case.met(Seen(hours, case.against("hours_at_or_over"), detail=detail))


def no_return_demonstration(case: MeasuredCase) -> Verdict:
    """Exercises in the stay, and no showing back. Value: 'no' or 'not recorded'.

    Detail: `exercises` (of the stay).
    """
    exercises = sum(entry.is_exercise for entry in case.measures.stay_entries)
    lacks = missing(shown_back=case.patient.shown_back)
    if not exercises or not lacks:
        return case.not_met()
    return case.met(Seen(lacks[0][1], case.without_limit(), detail={"exercises": exercises}))


def not_labelled(case: MeasuredCase) -> Verdict:
    """Device given, and its label 'no' or 'not recorded' (the value). Detail: none."""
    lacks = missing(label=case.patient.device_labelled)
    if not lacks or case.patient.device_given is False:
        return case.not_met()
    if case.patient.device_given is None:
        return case.undecided("device not recorded")
    return case.met(Seen(lacks[0][1], case.without_limit()))


def going_home(case: MeasuredCase) -> Verdict:
    """Discharge planned within so many local calendar days of the shift's end, and not all is set.

    Value: days from the shift's end to the discharge, negative when its date has passed. Undecided
    with no planned discharge recorded.

    Detail: `missing` (of 'shown_back', 'device', 'label'), `home_on` (the local date).
    """
    patient = case.patient
    if patient.home_on is None:
        return case.undecided("planned discharge not recorded")
    ends_on = case.handover.shift.end.astimezone(case.handover.unit.time_zone).date()
    days = (patient.home_on - ends_on) // timedelta(days=1)
    lacks = patient.missing_for_home
    if days > case.limit("days_at_or_under") or not lacks:
        return case.not_met()
    detail = {"missing": lacks, "home_on": patient.home_on}
    return case.met(Seen(days, case.against("days_at_or_under"), detail=detail))

"""Rules on what comes from before this shift: a hold, another unit.

Input: a `MeasuredCase`. Output: a `Verdict` a rule. What is carried of dangers is in `matters`.
"""

from datetime import timedelta

from handoff.judge.case import MeasuredCase, Seen
from handoff.model.verdicts import Verdict


def exercise_on_hold(case: MeasuredCase) -> Verdict:
    """Exercises of the shift that were charted while the exercise was held. Value: how many.

    Detail: `since`, `until` (None where it is in force) and `note` of the hold of the last of them.
    """
    rows, hold = case.measures.exercised_on_hold, case.measures.hold_of_exercise
    if not rows or hold is None:
        return case.not_met()
    detail = {"since": hold.since, "until": hold.until, "note": hold.entry.note}
    return case.met(Seen(len(rows), case.without_limit("{exercises}"), rows, detail=detail))


def came_from_elsewhere(case: MeasuredCase) -> Verdict:
    """First listed in this shift, though earlier logs of the unit are given, with an order that is
    so many hours older, and no log of where from. Value: hours from the order to the shift's start.

    Detail: none.
    """
    if case.patient.id not in case.handover.from_elsewhere:
        return case.not_met()
    hours = (case.handover.shift.start - case.order.start) / timedelta(hours=1)
    if hours < case.limit("hours_at_or_over"):
        return case.not_met()
    return case.met(Seen(hours, case.against("hours_at_or_over")))

"""Rules on the goal and on the device's scale.

Input: a `Case`. Output: a `Verdict` a rule. Never sets a goal.
"""

from handoff.judge.case import (
    NO_GOOD_READING,
    THE_ORDER,
    Against,
    MeasuredCase,
    Seen,
    good_readings,
)
from handoff.model.measures import GoalSource
from handoff.model.verdicts import Verdict

THE_DEVICE = "the device's scale"
NO_SCALE = "device scale not recorded"
NO_GOAL = "no goal"


def goal_reached(case: MeasuredCase) -> Verdict:
    """Best of the shift at or over an ordered or baseline goal. Value and limit in mL.

    Detail: `source` ('ordered' or 'baseline'), `percent` (of the goal).
    """
    goal, volume = case.measures.goal, case.measures.volume
    if goal.goal_ml is None:
        return case.undecided(NO_GOAL)
    if volume.best_ml is None:
        return case.undecided(NO_GOOD_READING)
    if volume.best_ml < goal.goal_ml:
        return case.not_met()
    rows = [
        entry
        for entry in good_readings(case.measures.shift_entries)
        if entry.volume_ml is not None and entry.volume_ml >= goal.goal_ml
    ]
    source = THE_ORDER if goal.source is GoalSource.ORDERED else "the patient's own baseline"
    return case.met(
        Seen(
            volume.best_ml,
            Against(goal.goal_ml, "mL", source),
            rows,
            volume.best_at,
            {"source": str(goal.source), "percent": goal.percent},
        )
    )


def goal_over_scale(case: MeasuredCase) -> Verdict:
    """The goal is above the device's scale. Value: the goal; limit: the scale, both in mL.

    Detail: `source` ('ordered' or 'baseline').
    """
    goal, scale = case.measures.goal, case.patient.device_scale_ml
    if goal.goal_over_scale is None:
        return case.undecided(NO_GOAL if goal.goal_ml is None else NO_SCALE)
    if not goal.goal_over_scale:
        return case.not_met()
    detail = {"source": str(goal.source)}
    return case.met(Seen(goal.goal_ml, Against(scale, "mL", THE_DEVICE), detail=detail))


def reading_at_scale(case: MeasuredCase) -> Verdict:
    """A reading of the shift, in any form, at or above the device's scale; both in mL.

    Detail: `readings` (how many).
    """
    scale = case.patient.device_scale_ml
    if scale is None:
        return case.undecided(NO_SCALE)
    rows = [
        entry
        for entry in case.measures.shift_entries
        if entry.is_reading and case.patient.is_at_scale(entry.volume_ml)
    ]
    if not rows:
        return case.not_met()
    highest = max(rows, key=lambda entry: (entry.volume_ml or 0, entry.at))
    against = Against(scale, "mL", THE_DEVICE)
    return case.met(Seen(highest.volume_ml, against, rows, highest.at, {"readings": len(rows)}))


def no_goal(case: MeasuredCase) -> Verdict:
    """The order is active at `as_of` and holds no goal; not decided where what it holds is unread.

    Detail: `source` (what stands in for it: 'baseline' or 'own_best').
    """
    if not case.order_is_active or case.order.goal_ml is not None:
        return case.not_met()
    if "goal_ml" in case.patient.unread:
        return case.undecided("the goal could not be read")
    detail = {"source": str(case.measures.goal.source)}
    return case.met(Seen(None, case.without_limit(), detail=detail))

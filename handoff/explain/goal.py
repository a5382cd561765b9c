"""Explains the goal, the division that gives its percentage, and the projection.

Input: a `Subject`. Output: blocks of text. The numbers are those of `Measures`.
"""

import math
from collections.abc import Iterator

from handoff.explain.subject import Subject
from handoff.explain.text import Block, Result
from handoff.model.measures import LONGEST_FORECAST_D, Direction, Goal, GoalSource
from handoff.model.rounding import exact, percent, volume

SOURCES = {
    GoalSource.ORDERED: "goal_ml of the order",
    GoalSource.BASELINE: "no ordered goal that can be used: the patient's own baseline",
    GoalSource.OWN_BEST: "no goal or baseline that can be used: 'beat your best so far'",
}
NO_GOAL = "there is no goal"
IN_SHIFT = "no reading in good form in the shift"
IN_STAY = "no reading in good form in the stay"


def explain_goal(subject: Subject) -> Iterator[Block]:
    """The goal's source, the best in per cent of it, when it was first reached, and the
    days to it.
    """
    goal, best_ml = subject.measures.goal, subject.measures.volume.best_ml
    at_scale = subject.patient.is_at_scale(best_ml)
    yield Result(
        "source",
        "the ordered goal, else the patient's own baseline, else the own best",
        str(goal.source),
        SOURCES[goal.source],
    )
    yield Result(
        "goal_ml",
        "the goal in mL",
        goal.goal_ml,
        f"as charted for the patient, {subject.patient.place}",
        NO_GOAL,
        None if goal.goal_ml is None else volume(goal.goal_ml),
    )
    yield Result(
        "percent",
        "best of the shift in per cent of the goal",
        goal.percent,
        f"100 x {exact(best_ml)} / {exact(goal.goal_ml)}",
        NO_GOAL if goal.goal_ml is None else IN_SHIFT,
        None if goal.percent is None else f"{'at least ' * at_scale}{percent(goal.percent)}",
    )
    yield _reached(subject, goal)
    yield _days(subject, goal)
    yield _over_scale(subject, goal)


def _reached(subject: Subject, goal: Goal) -> Result:
    goal_ml, highest, first = goal.goal_ml, subject.measures.volume.stay_best_ml, goal.reached
    below = IN_STAY
    if highest is not None:
        below = f"none of them is; the highest is {exact(highest)} mL"
    return Result(
        "reached_at",
        "time of the first good-form reading of the stay at or above the goal",
        None if goal.reached_at is None else subject.when(goal.reached_at),
        f"{first.place}, {exact(first.volume_ml)} mL" if first else "",
        NO_GOAL if goal_ml is None else below,
    )


def _days(subject: Subject, goal: Goal) -> Result:
    """The projection at both ends of the slope's interval, or why there is none."""
    line, days = subject.measures.trend.line, goal.days_to_goal
    ends = ["", ""]
    if line is not None:
        missing = f"({exact(goal.goal_ml)} - {exact(line.middle_y)})"
        ends = [
            f"{exact(line.middle_x)} + {missing} / {exact(slope)}"
            for slope in (line.high, line.low)
        ]
    longest = f"more than {LONGEST_FORECAST_D} days, beyond which nothing is claimed"
    value, whole = None, 0
    if days is not None:
        soonest, latest = days
        value = f"{exact(soonest)} to {longest if latest is None else exact(latest)}"
        whole = math.floor(soonest) if subject.trend_is_given else 0
    return Result(
        "days_to_goal",
        "at this pace: mean of x + (goal - mean of y) / high, then / low, 0 at least, in days",
        value,
        "; ".join(ends),
        _why_no_days(subject, goal) or f"{ends[0]} is {longest}",
        f"({whole} {'day' if whole == 1 else 'days'})" if whole else None,
    )


def _why_no_days(subject: Subject, goal: Goal) -> str | None:
    trend, best_ml = subject.measures.trend, subject.measures.volume.best_ml
    if goal.goal_ml is None:
        return NO_GOAL
    if best_ml is None:
        return IN_SHIFT
    if best_ml >= goal.goal_ml:
        return "the best of the shift has reached the goal"
    if trend.direction is not Direction.RISING:
        return f"the direction is {trend.direction}, not rising"
    return None


def _over_scale(subject: Subject, goal: Goal) -> Result:
    over, scale_ml = goal.goal_over_scale, subject.patient.device_scale_ml
    return Result(
        "goal_over_scale",
        "true when the goal is above the device's scale",
        None if over is None else str(over).lower(),
        f"{exact(goal.goal_ml)} > {exact(scale_ml)}",
        NO_GOAL if goal.goal_ml is None else "the device's scale is not recorded",
    )

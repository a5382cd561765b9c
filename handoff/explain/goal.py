"""Explains the goal, the division that gives its percentage, and the projection.

Input: a `Subject`. Output: blocks of text. The numbers are those of `Measures`.
"""

import math
from collections.abc import Iterator

from handoff.explain.subject import Subject
from handoff.explain.text import Block, Result
from handoff.model.measures import LONGEST_FORECAST_D, Direction, Goal
from handoff.model.rounding import exact, percent, volume
from handoff.model.wording import EXPLAIN


def explain_goal(subject: Subject) -> Iterator[Block]:
    """The goal's source, the best in per cent of it, when it was first reached, and the
    days to it.
    """
    goal, best_ml = subject.measures.goal, subject.measures.volume.best_ml
    no_goal = EXPLAIN.say("any.no-goal")
    share = None if goal.percent is None else percent(goal.percent)
    if share and subject.patient.is_at_scale(best_ml):
        share = EXPLAIN.say("any.at-least", value=share)
    yield Result(
        "source",
        EXPLAIN.say("goal.source"),
        str(goal.source),
        EXPLAIN.say(f"goal.sources.{goal.source}"),
    )
    yield Result(
        "goal_ml",
        EXPLAIN.say("goal.goal"),
        goal.goal_ml,
        EXPLAIN.say("goal.as-charted", row=subject.patient.place),
        no_goal,
        None if goal.goal_ml is None else volume(goal.goal_ml),
    )
    yield Result(
        "percent",
        EXPLAIN.say("goal.percent"),
        goal.percent,
        f"100 x {exact(best_ml)} / {exact(goal.goal_ml)}",
        no_goal if goal.goal_ml is None else EXPLAIN.say("any.no-reading-in-shift"),
        share,
    )
    yield _reached(subject, goal)
    yield _days(subject, goal)
    yield _over_scale(subject, goal)


def _reached(subject: Subject, goal: Goal) -> Result:
    goal_ml, highest, first = goal.goal_ml, subject.measures.volume.stay_best_ml, goal.reached
    absent = EXPLAIN.say("any.no-reading-in-stay")
    if goal_ml is None:
        absent = EXPLAIN.say("any.no-goal")
    elif highest is not None:
        absent = EXPLAIN.say("goal.below", highest=exact(highest))
    return Result(
        "reached_at",
        EXPLAIN.say("goal.reached-at"),
        None if goal.reached_at is None else subject.when(goal.reached_at),
        f"{first.place}, {exact(first.volume_ml)} mL" if first else "",
        absent,
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
    longest = EXPLAIN.say("goal.longest", days=LONGEST_FORECAST_D)
    value, whole = None, 0
    if days is not None:
        soonest, latest = days
        latest_shown = longest if latest is None else exact(latest)
        value = EXPLAIN.say("goal.span", soonest=exact(soonest), latest=latest_shown)
        whole = math.floor(soonest) if subject.trend_is_given else 0
    key = "goal.day-on-sheet" if whole == 1 else "goal.days-on-sheet"
    return Result(
        "days_to_goal",
        EXPLAIN.say("goal.days"),
        value,
        "; ".join(ends),
        _why_no_days(subject, goal)
        or EXPLAIN.say("goal.too-long", working=ends[0], longest=longest),
        EXPLAIN.say(key, days=whole) if whole else None,
    )


def _why_no_days(subject: Subject, goal: Goal) -> str | None:
    trend, best_ml = subject.measures.trend, subject.measures.volume.best_ml
    if goal.goal_ml is None:
        return EXPLAIN.say("any.no-goal")
    if best_ml is None:
        return EXPLAIN.say("any.no-reading-in-shift")
    if best_ml >= goal.goal_ml:
        return EXPLAIN.say("goal.reached")
    if trend.direction is not Direction.RISING:
        return EXPLAIN.say("goal.not-rising", direction=trend.direction)
    return None


def _over_scale(subject: Subject, goal: Goal) -> Result:
    over, scale_ml = goal.goal_over_scale, subject.patient.device_scale_ml
    return Result(
        "goal_over_scale",
        EXPLAIN.say("goal.over-scale"),
        None if over is None else str(over).lower(),
        f"{exact(goal.goal_ml)} > {exact(scale_ml)}",
        EXPLAIN.say("any.no-goal" if goal.goal_ml is None else "goal.no-scale"),
    )

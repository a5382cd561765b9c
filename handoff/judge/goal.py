"""Rules on the goal and on the device's scale.

Input: a `Case`. Output: a `Verdict` a rule. Never sets a goal.
"""

from handoff.judge.case import Against, MeasuredCase, Seen, good_readings
from handoff.judge.rule import Rule
from handoff.judge.volume import VOLUME_DROP, volume_drop
from handoff.model.measures import GoalSource
from handoff.model.rounding import exact
from handoff.model.verdicts import Found, State, Verdict, When
from handoff.model.ward import Entry, order_at
from handoff.model.wording import JUDGE


class GoalAndBest(Found):
    """The goal, its source ('ordered', 'baseline', or 'own_best' for none), the shift's best; and
    whether it is `silent`, because a matter is not closed or the volume fell.
    """

    source: str
    goal_ml: float | None
    best_ml: float | None
    silent: bool

    def text(self, _: When, /) -> str:
        """`best 1000 mL, goal 2000 mL (ordered)`."""
        best, goal = exact(self.best_ml), exact(self.goal_ml)
        found = JUDGE.say("found.goal", best=best, goal=goal, source=self.source)
        return JUDGE.say("found.silent", found=found) if self.silent else found


class BesideScale(Found):
    """A volume, which is the 'goal' or the 'highest' of the shift in any form, and the device's
    scale.
    """

    which: str
    volume_ml: float | None
    scale_ml: float | None

    def text(self, _: When, /) -> str:
        """`goal 2000 mL, scale 4000 mL`."""
        return JUDGE.say(
            "found.scale-goal" if self.which == "goal" else "found.scale-highest",
            volume=exact(self.volume_ml),
            scale=exact(self.scale_ml),
        )


class OrderedGoal(Found):
    """The order's goal, the source used without one ('baseline' or 'own_best'), and whether the
    order is active.
    """

    source: str
    ordered_ml: float | None
    active: bool

    def text(self, _: When, /) -> str:
        """`ordered goal 2000 mL; order active`."""
        key = "found.ordered-goal" if self.active else "found.ordered-goal-stopped"
        return JUDGE.say(key, goal=exact(self.ordered_ml))


def goal_reached(case: MeasuredCase) -> Verdict:
    """Best of the shift, since that goal was ordered, at or over an ordered or baseline goal. Value
    and limit in mL.

    Not met while a matter is not closed, or where the volume fell: nobody is asked for more then.
    Nor by a reading of the goal before: who was given a lower one has not reached it so.
    """
    goal, volume = case.measures.goal, case.measures.volume
    fell = volume_drop(case.of(VOLUME_DROP.name)).state is State.MET
    silent = fell or any(each.is_open for each in case.matters)
    found = GoalAndBest(str(goal.source), goal.goal_ml, volume.best_ml, silent)
    if goal.goal_ml is None:
        return case.undecided(found, JUDGE.say("why.no-goal"))
    if volume.best_ml is None:
        return case.undecided(found, JUDGE.say("why.no-good-reading"))
    is_ordered = goal.source is GoalSource.ORDERED
    readings = good_readings(case.measures.shift_entries)
    if is_ordered:
        readings = tuple(each for each in readings if _has_goal(case, each, goal.goal_ml))
    rows = [entry for entry in readings if (entry.volume_ml or 0) >= goal.goal_ml]
    if silent or not rows:
        return case.not_met(found)
    source = JUDGE.say("source.order" if is_ordered else "source.baseline")
    against = Against(goal.goal_ml, "mL", source)
    best = max(rows, key=lambda entry: entry.volume_ml or 0)  # of equals the first
    return case.met(found, Seen(best.volume_ml, against, rows, best.at))


def _has_goal(case: MeasuredCase, entry: Entry, goal_ml: float) -> bool:
    """Whether the goal in force at a row's time was this one."""
    periods = case.rows.periods
    return not periods or order_at(periods, entry.at).goal_ml == goal_ml


def goal_over_scale(case: MeasuredCase) -> Verdict:
    """The goal is above the device's scale. Value: the goal; limit: the scale, both in mL."""
    goal, scale_ml = case.measures.goal, case.patient.device_scale_ml
    found = BesideScale("goal", goal.goal_ml, scale_ml)
    if goal.goal_over_scale is None:
        why = JUDGE.say("why.no-goal" if goal.goal_ml is None else "why.no-scale")
        return case.undecided(found, why)
    if not goal.goal_over_scale:
        return case.not_met(found)
    against = Against(scale_ml, "mL", JUDGE.say("source.device"))
    return case.met(found, Seen(goal.goal_ml, against))


def reading_at_scale(case: MeasuredCase) -> Verdict:
    """A reading of the shift, in any form, at or above the device's scale; both in mL."""
    scale_ml = case.patient.device_scale_ml
    readings = [entry for entry in case.measures.shift_entries if entry.is_reading]
    highest = max(readings, key=lambda entry: (entry.volume_ml or 0, entry.at), default=None)
    rows = [entry for entry in readings if case.patient.is_at_scale(entry.volume_ml)]
    found = BesideScale("highest", highest.volume_ml if highest else None, scale_ml)
    if scale_ml is None:
        return case.undecided(found, JUDGE.say("why.no-scale"))
    if not rows or highest is None:
        return case.not_met(found)
    against = Against(scale_ml, "mL", JUDGE.say("source.device"))
    return case.met(found, Seen(highest.volume_ml, against, rows, highest.at))


def no_goal(case: MeasuredCase) -> Verdict:
    """The order is active at `as_of` and holds no goal; undecided where its goal could
    not be read.
    """
    source, goal_ml = str(case.measures.goal.source), case.order.goal_ml
    found = OrderedGoal(source, goal_ml, case.order.active_at(case.handover.as_of))
    if not found.active or goal_ml is not None:
        return case.not_met(found)
    if "goal_ml" in case.patient.unread:
        return case.undecided(found, JUDGE.say("why.goal-unread"))
    if case.patient.disputes("goal_ml"):
        return case.undecided(found, JUDGE.say("why.goal-disputed"))
    return case.met(found, Seen(None, case.without_limit()))


GOAL_REACHED = Rule(
    "goal-reached",
    goal_reached,
)
GOAL_OVER_SCALE = Rule("goal-over-scale", goal_over_scale)
READING_AT_SCALE = Rule(
    "reading-at-scale",
    reading_at_scale,
)
NO_ORDERED_GOAL = Rule("no-goal", no_goal)

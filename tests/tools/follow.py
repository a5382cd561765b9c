"""Simulated courses through the program's own stages.

Enters: `Assumptions`. Leaves: each course with what the program said at each of its hand-overs and
what was true then. Never computes what the program computes.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import timedelta
from math import inf

import numpy as np

from handoff.judge import judge
from handoff.measure import measure
from handoff.model.matters import Matter, Verdicts
from handoff.model.measures import Direction, Measures
from handoff.model.verdicts import Level
from tests.support.builders import default_limits
from tests.tools.old_rules import (
    DROP,
    DROP_WITH_SIGNS,
    FALLING,
    old_direction,
    old_forecast,
    old_levels,
    old_line,
    old_points,
)
from tests.tools.other_simulation import OtherAssumptions, simulate_other
from tests.tools.simulation import EVENING, Assumptions, Course, Path, hand_overs, simulate

AnyAssumptions = Assumptions | OtherAssumptions
TESTED = (DROP, DROP_WITH_SIGNS, FALLING)

ROUNDING = 1e-6  # mL a day: a slope is a difference of instants and volumes as binary fractions


@dataclass(frozen=True, slots=True)
class Slope:
    """A slope as the program gave it and as it was, over the points that its trend read, in mL/d.

    `low` to `high` is the program's interval. `average` is what the underlying volume gained from
    the time of the first point to that of the last, by the days between. On a straight course it is
    its gain.
    """

    low: float
    high: float
    average: float

    def holds(self, change: float) -> bool:
        """The interval holds the change; a last digit does not put it outside."""
        return self.low - ROUNDING <= change <= self.high + ROUNDING


@dataclass(frozen=True, slots=True)
class Outcome:
    """What the program said of one course at one hand-over, and what was true of it then.

    `slope` is None where there is no trend. `levels` holds the tested rules that were met and not
    replaced. `forecast_d` is the program's pair of days to the goal, with 'more than 14' as inf;
    `goal_d` the days until the underlying volume is at the goal, 0 where it is there, and
    `charted_d` the days until the next charted reading that is: inf for never.
    """

    as_of_h: float
    direction: Direction
    slope: Slope | None
    levels: Mapping[str, Level]
    forecast_d: tuple[float, float] | None
    goal_d: float
    charted_d: float

    @property
    def flagged(self) -> bool:
        """Some rule on a fall is met at a level that raises the priority."""
        return any(level is not Level.NOTE for level in self.levels.values())

    @property
    def only_noted(self) -> bool:
        """A fall of too few readings: printed as a note, and no more."""
        return bool(self.levels) and not self.flagged


@dataclass(frozen=True, slots=True)
class Followed:
    """A course, and the outcome of each of its hand-overs, in time order."""

    course: Course
    outcomes: tuple[Outcome, ...]
    old: tuple[Outcome, ...]  # by the rules of before, of the same readings

    def after(self, days: int) -> Outcome:
        """The hand-over so many days after the first shift's start."""
        return next(each for each in self.outcomes if each.as_of_h == 24 * days)

    @property
    def since_onset(self) -> tuple[Outcome, ...]:
        """From the hand-over of the shift in which the complication set in."""
        onset_h = self.course.path.onset_h
        return tuple(each for each in self.outcomes if each.as_of_h >= onset_h)


def follow(given: AnyAssumptions, courses: int, seed: int) -> list[Followed]:
    """So many courses at the end of each of their shifts; half of them begin on a night shift."""
    rng = np.random.default_rng(seed)
    by_day = _follow_ward(given, courses - courses // 2, rng)
    return by_day + _follow_ward(replace(given, first_clock_h=EVENING), courses // 2, rng)


def _follow_ward(given: AnyAssumptions, courses: int, rng: np.random.Generator) -> list[Followed]:
    if isinstance(given, Assumptions):
        ward = [simulate(given, rng) for _ in range(courses)]
    else:
        ward = [simulate_other(given, rng) for _ in range(courses)]
    limits = default_limits()
    none: tuple[Matter, ...] = ()  # what stays open over the stay moves no level of these rules
    outcomes: list[list[Outcome]] = [[] for _ in ward]
    old: list[list[Outcome]] = [[] for _ in ward]
    for as_of_h, handover in hand_overs(given, ward):
        known = measure(handover)
        for number, (course, found) in enumerate(zip(ward, known.values(), strict=True)):
            outcomes[number].append(
                _outcome(course, as_of_h, found, judge(found, handover, limits, none))
            )
            old[number].append(_old_outcome(course, as_of_h, given.shift_h))
    return [
        Followed(*each) for each in zip(ward, map(tuple, outcomes), map(tuple, old), strict=True)
    ]


def _outcome(course: Course, as_of_h: float, found: Measures, verdicts: Verdicts) -> Outcome:
    trend, days = found.trend, found.goal.days_to_goal
    slope = None
    if trend.low is not None and trend.high is not None:
        hour = timedelta(hours=1)
        begins_h = course.path.order_h
        points_h = [begins_h + (point.at - found.stay_start) / hour for point in trend.points]
        slope = _slope(course.path, trend.low, trend.high, points_h)
    return Outcome(
        as_of_h=as_of_h,
        direction=trend.direction,
        slope=slope,
        levels={each.rule: each.level for each in verdicts.all if each.met and each.rule in TESTED},
        forecast_d=None if days is None else (days[0], inf if days[1] is None else days[1]),
        **_truth(course, as_of_h),
    )


def _old_outcome(course: Course, as_of_h: float, shift_h: float) -> Outcome:
    """The same by the rules of before."""
    points = old_points(course, as_of_h, shift_h)
    line = old_line(points, as_of_h)
    levels = old_levels(course, as_of_h, shift_h)
    if old_direction(line) is Direction.FALLING:
        levels[FALLING] = Level.FOLLOW_UP
    return Outcome(
        as_of_h=as_of_h,
        direction=old_direction(line),
        slope=line and _slope(course.path, line[1], line[2], [hour for hour, _ in points]),
        levels=levels,
        forecast_d=old_forecast(course, line, as_of_h, shift_h),
        **_truth(course, as_of_h),
    )


def _truth(course: Course, as_of_h: float) -> dict[str, float]:
    return {
        "goal_d": max(course.goal_h - as_of_h, 0) / 24,
        "charted_d": (course.next_at_goal_h(as_of_h) - as_of_h) / 24,
    }


def _slope(path: Path, low: float, high: float, points_h: list[float]) -> Slope:
    return Slope(low, high, path.average_change(points_h[0], points_h[-1]))

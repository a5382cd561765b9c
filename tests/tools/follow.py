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
from handoff.model.matters import Verdicts
from handoff.model.measures import Direction, Measures
from handoff.model.verdicts import Level
from tests.support.builders import default_limits
from tests.tools.simulation import EVENING, Assumptions, Course, Path, hand_overs, simulate

DROP, DROP_WITH_SIGNS, FALLING = "volume-drop", "volume-drop-with-signs", "falling-trend"
TESTED = (DROP, DROP_WITH_SIGNS, FALLING)

ROUNDING = 1e-6  # mL a day: a slope is a difference of instants and volumes as binary fractions


@dataclass(frozen=True, slots=True)
class Slope:
    """A slope as the program gave it and as it was, over the points that its trend read, in mL/d.

    `low` to `high` is the program's interval. `average` is what the underlying volume gained from
    the time of the first point to that of the last, by the days between; `middle` is its median
    change over all pairs of those times. On a straight course both are its gain.
    """

    low: float
    high: float
    average: float
    middle: float

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

    def after(self, days: int) -> Outcome:
        """The hand-over so many days after the first shift's start."""
        return next(each for each in self.outcomes if each.as_of_h == 24 * days)

    @property
    def since_onset(self) -> tuple[Outcome, ...]:
        """From the hand-over of the shift in which the complication set in."""
        onset_h = self.course.path.onset_h
        return tuple(each for each in self.outcomes if each.as_of_h >= onset_h)


def follow(given: Assumptions, courses: int, seed: int) -> list[Followed]:
    """So many courses at the end of each of their shifts; half of them begin on a night shift."""
    rng = np.random.default_rng(seed)
    by_day = _follow_ward(given, courses - courses // 2, rng)
    return by_day + _follow_ward(replace(given, first_clock_h=EVENING), courses // 2, rng)


def _follow_ward(given: Assumptions, courses: int, rng: np.random.Generator) -> list[Followed]:
    ward = [simulate(given, rng) for _ in range(courses)]
    limits = default_limits()
    outcomes: list[list[Outcome]] = [[] for _ in ward]
    for as_of_h, handover in hand_overs(given, ward):
        for course, found, said in zip(ward, measure(handover).values(), outcomes, strict=True):
            said.append(_outcome(course, as_of_h, found, judge(found, handover, limits)))
    return [Followed(course, tuple(said)) for course, said in zip(ward, outcomes, strict=True)]


def _outcome(course: Course, as_of_h: float, found: Measures, verdicts: Verdicts) -> Outcome:
    return Outcome(
        as_of_h=as_of_h,
        direction=found.trend.direction,
        slope=_slope(course.path, found),
        levels={each.rule: each.level for each in verdicts.all if each.met and each.rule in TESTED},
        forecast_d=_forecast(found),
        goal_d=max(course.goal_h - as_of_h, 0) / 24,
        charted_d=(course.next_at_goal_h(as_of_h) - as_of_h) / 24,
    )


def _slope(path: Path, found: Measures) -> Slope | None:
    trend = found.trend
    if trend.low is None or trend.high is None:
        return None
    hour = timedelta(hours=1)
    point_h = [path.order_h + (point.at - found.stay_start) / hour for point in trend.points]
    return Slope(
        low=trend.low,
        high=trend.high,
        average=path.average_change(point_h[0], point_h[-1]),
        middle=path.median_change(point_h),
    )


def _forecast(found: Measures) -> tuple[float, float] | None:
    if found.goal.days_to_goal is None:
        return None
    soonest, latest = found.goal.days_to_goal
    return soonest or 0.0, inf if latest is None else latest

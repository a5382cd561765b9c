"""The goal, the shift's best in per cent of it, and the days until it may be reached.

Input: a patient's `Stay`, `Volume`, `Trend`. Output: `Goal`. Never sets a goal: without an ordered
one or a baseline there is no goal in mL.
"""

from handoff.measure.shift import Stay
from handoff.measure.volume import percent_of
from handoff.model.measures import (
    LONGEST_FORECAST_D,
    Direction,
    Goal,
    GoalSource,
    Trend,
    Volume,
)
from handoff.model.ward import Order, Patient


def measure_goal(stay: Stay, volume: Volume, trend: Trend) -> Goal:
    """Goal in mL and the shift's best in per cent of it (0 and up, over 100 when beaten).

    Without a goal, every number derived from it is None.
    """
    goal_ml, source = _aim(stay.patient, stay.order)
    if goal_ml is None:
        return Goal(None, source, None, None, None, None)
    scale_ml = stay.patient.device_scale_ml
    readings = (each for each in stay.counted if each.is_good_reading)
    reached = next((each for each in readings if (each.volume_ml or 0) >= goal_ml), None)
    return Goal(
        goal_ml=goal_ml,
        source=source,
        percent=percent_of(volume.best_ml, goal_ml),
        reached_at=reached.at if reached else None,
        days_to_goal=days_to_goal(goal_ml, volume.best_ml, trend),
        goal_over_scale=None if scale_ml is None else goal_ml > scale_ml,
        reached=reached,
    )


def days_to_goal(
    goal_ml: float, best_ml: float | None, trend: Trend
) -> tuple[float, float | None] | None:
    """Days from `as_of` to where the two ends of the slope's interval, turned about the middle of
    the points, meet the goal: the upper end, then the lower. It speaks of the usual reading, since
    one lucky breath may be there sooner.

    Each is 0 to 14. The second is None when it would be more than 14. The whole is None when the
    first would be more than 14, the volume is not rising, the shift has no best, or it reached the
    goal.
    """
    if trend.direction is not Direction.RISING or best_ml is None or best_ml >= goal_ml:
        return None
    line = trend.line
    if line is None:
        return None
    missing_ml = goal_ml - line.middle_y
    soonest_d, latest_d = (
        max(line.middle_x + missing_ml / slope, 0.0) for slope in (line.high, line.low)
    )
    if soonest_d > LONGEST_FORECAST_D:
        return None
    return soonest_d, latest_d if latest_d <= LONGEST_FORECAST_D else None


def _aim(patient: Patient, order: Order) -> tuple[float | None, GoalSource]:
    if order.goal_ml is not None:
        return order.goal_ml, GoalSource.ORDERED
    if patient.baseline_ml is not None and not patient.disputes("goal_ml"):
        return patient.baseline_ml, GoalSource.BASELINE
    return None, GoalSource.OWN_BEST

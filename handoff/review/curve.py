"""Time from the order to the first exercise, of orders of which some are not followed to it.

Input: hours, and whether the exercise was begun then. Output: `Curve`.
"""

from collections.abc import Sequence
from itertools import groupby
from math import exp, log, sqrt

from handoff.model.review import FEWEST_STAYS, Curve, Step

Z_95 = 1.959963984540054  # of the standard normal distribution, 97.5 %

HALF = 0.5


def curve(followed: Sequence[tuple[float, bool]]) -> Curve:
    """The share that has begun by each time: 1 less the product-limit estimate of Kaplan and Meier
    (J Am Stat Assoc 1958;53:457).

    `followed` has of each order the hours until it was begun (True), or for how long it was
    followed without (False). Of equal times, those begun come first. The interval is 95 %, on the
    log-log scale (Kalbfleisch and Prentice, The Statistical Analysis of Failure Time Data, 1980),
    with the variance of Greenwood (1926): it stays within 0 and 1. It is not defined once all have
    begun; low and high are then 1.
    """
    known = sum(begun for _, begun in followed)
    if len(followed) < FEWEST_STAYS or 0 < known < FEWEST_STAYS:
        return Curve((), None, 0.0, None)
    waiting, not_yet, of_variance = len(followed), 1.0, 0.0
    steps: list[Step] = []
    until_h = 0.0
    for hours, of_time in groupby(sorted(followed), key=lambda each: each[0]):
        if waiting < FEWEST_STAYS:
            break
        results = [begun for _, begun in of_time]
        begun, until_h = sum(results), hours
        if begun:
            not_yet *= 1 - begun / waiting
            if waiting > begun:
                of_variance += begun / (waiting * (waiting - begun))
            low, high = _interval(not_yet, of_variance)
            steps.append(Step(hours, 1 - not_yet, 1 - high, 1 - low, waiting))
        waiting -= len(results)
    median_h = next((step.after_h for step in steps if step.begun >= HALF), None)
    return Curve(tuple(steps), len(followed), until_h, median_h)


def _interval(not_yet: float, of_variance: float) -> tuple[float, float]:
    """The interval of a share that has not begun, above 0 and under 1."""
    if not_yet <= 0:
        return 0.0, 0.0
    half = Z_95 * sqrt(of_variance) / log(not_yet)
    low, high = not_yet ** exp(-half), not_yet ** exp(half)
    return min(low, high), max(low, high)

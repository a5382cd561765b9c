"""Run charts and proportion charts of shares over time.

Input: `Point`s. Output: the chart with what the published rules say of it. Draws nothing.
"""

from collections.abc import Sequence
from itertools import groupby, pairwise
from math import comb, log2, sqrt
from statistics import median

from handoff.model.review import LimitedPoint, Measure, Point, ProportionChart, RunChart

LEAST_CHANCE = 0.05  # so seldom does chance alone cross the median less often


def run_chart(measure: Measure, every_d: int, points: Sequence[Point]) -> RunChart:
    """The points about their median, in per cent. Points on the median and points that are not
    shown take part in neither rule.
    """
    shown = [each.share.percent for each in points if each.share.percent is not None]
    middle = median(shown) if shown else None
    above = [each > middle for each in shown if middle is not None and each != middle]
    return RunChart(
        measure=measure,
        every_d=every_d,
        points=tuple(points),
        median=middle,
        useful=len(above),
        longest_run=max((len(list(run)) for _, run in groupby(above)), default=0),
        longest_usual=longest_usual(len(above)),
        crossings=sum(one != other for one, other in pairwise(above)),
        fewest_usual=fewest_usual(len(above)),
    )


def longest_usual(useful: int) -> int:
    """The longest run that is not unusual: log2 of the useful points, plus 3, rounded (Anhøj and
    Olesen, PLoS ONE 2014;9:e113825).
    """
    return round(log2(useful) + 3) if useful else 0


def fewest_usual(useful: int) -> int:
    """The fewest crossings that are not unusual: the lower 5 % point of a binomial distribution of
    one trial fewer than there are useful points, with chance 1/2 (as above).
    """
    trials = max(useful - 1, 0)
    chance, crossings = 0.5**trials, 0
    while chance < LEAST_CHANCE:
        crossings += 1
        chance += comb(trials, crossings) * 0.5**trials
    return crossings


def proportion_chart(measure: Measure, points: Sequence[Point]) -> ProportionChart:
    """The points with limits p +- 3 sqrt(p (1 - p) / n), within 0 and 100 %, where p is the share
    of all that is shown (NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.3.2).
    """
    shown = [each.share for each in points if each.share.percent is not None]
    of = sum(each.denominator or 0 for each in shown)
    centre = sum(each.numerator or 0 for each in shown) / of if of else None
    limited = []
    for point in points:
        n = point.share.denominator
        if point.share.percent is None or centre is None or not n:
            limited.append(LimitedPoint(point, None, None))
            continue
        reach = 3 * sqrt(centre * (1 - centre) / n)
        low, high = max(centre - reach, 0.0), min(centre + reach, 1.0)
        limited.append(LimitedPoint(point, 100 * low, 100 * high))
    return ProportionChart(measure, tuple(limited), None if centre is None else 100 * centre)

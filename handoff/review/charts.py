"""Run charts and proportion charts of shares over time.

Input: `Point`s. Output: the chart with what the published rules say of it. Draws nothing.
"""

from collections.abc import Sequence
from datetime import date
from itertools import accumulate, groupby, pairwise
from math import comb, log2, sqrt
from statistics import median

from handoff.model.review import LimitedPoint, Measure, Point, ProportionChart, RunChart, Turn

LEAST_CHANCE = 0.05  # so seldom does chance alone cross the median less often


def run_chart(measure: Measure, every_d: int, points: Sequence[Point]) -> RunChart:
    """The points about their median, in per cent. Points on the median and points that are not
    shown take part in neither rule.
    """
    shown = [(each.first, each.share.percent) for each in points if each.share.percent is not None]
    middle = median(percent for _, percent in shown) if shown else None
    useful = [(day, each > middle) for day, each in shown if middle is not None and each != middle]
    above = [is_above for _, is_above in useful]
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
        turn=_turn(useful),
    )


def _turn(useful: Sequence[tuple[date, bool]]) -> Turn | None:
    """The point from which on most points are on the other side than before; None where, before or
    after it, fewer than three of four are.
    """
    sides = [1 if is_above else -1 for _, is_above in useful]
    all_before = list(accumulate(sides[:-1]))
    if not all_before:
        return None
    turned = [sum(sides) - 2 * each for each in all_before]
    last = max(range(len(turned)), key=lambda number: abs(turned[number]))
    before, after = all_before[last], sum(sides) - all_before[last]
    way = 1 if turned[last] > 0 else -1
    if -way * before < (last + 1) / 2 or way * after < (len(sides) - last - 1) / 2:
        return None
    return Turn(useful[last + 1][0], is_higher=way > 0)


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

"""How one unit did over weeks: the output of `review`.

Input: nothing. Output: frozen records. Nobody is named or ranked, staff or patient. Days and hours
are of the unit's clock. What would point at somebody is not shown:

- A figure of fewer than `FEWEST_STAYS` patient-stays (`share`); and of the groups of a total so
  many more that the total less the groups that are shown is of as many stays too.
- A number of people or escalations from 1 to 4, or all but 1 to 4 of them (`count`), nor what tells
  it by subtraction. Where that of all weeks is not shown, no point of its chart is.
- The points of a chart have no numbers beside them when they are written: a share alone. From the
  share of few a small number can still be worked out, and the drawn curve has a step an order.
"""

from collections.abc import Mapping
from datetime import date, time
from enum import StrEnum

from handoff.model.frozen import Frozen
from handoff.model.matters import Matter
from handoff.model.measures import Slot
from handoff.model.ward import Gap, Handover, Shift, Unit

FEWEST_STAYS = 5  # common practice of publishing counts: no cell under 5
FEWEST_POINTS = 10  # of a run chart: the published rules are given from 10 on
FEWEST_WEEKS = 4  # of a proportion chart: of fewer, each makes the middle it is compared with
WITHIN_H = (2, 4, 24)  # after the order: a first exercise by then


class Ending(StrEnum):
    """How a stay ended, as far as the logs of its unit say."""

    LEFT = "left"  # a row says so
    NOT_LISTED = "not_listed"  # later logs of the unit do not list the patient
    MOVED = "moved"  # another unit whose logs are given lists the patient next
    HERE = "here"  # listed when the logs end


class FollowedStay(Frozen):
    """One stay, as the input of a review: its hand-over at its end, of this one patient; how it
    ended; the slots of each of its shifts on this unit; and its dangers.
    """

    handover: Handover
    ending: Ending
    shifts: tuple[tuple[Shift, tuple[Slot, ...]], ...]
    matters: tuple[Matter, ...]


class Share(Frozen):
    """`numerator` of `denominator`. Both are None where too few stays are behind it. Only the
    numerator is None where it would tell of 1 to 4 people or escalations: it is then `between` two
    numbers, or not shown at all.
    """

    numerator: float | None
    denominator: float | None
    between: tuple[int, int] | None = None

    @property
    def is_shown(self) -> bool:
        """False where too few stays are behind it: then neither number is known."""
        return self.denominator is not None

    @property
    def percent(self) -> float | None:
        """0 to 100, unrounded; None where a number is not shown, and of nothing."""
        if self.numerator is None or not self.denominator:
            return None
        return 100 * self.numerator / self.denominator


HIDDEN = Share(None, None)


def share(numerator: float, denominator: float, stays: int) -> Share:
    """A share of rows, breaths or times, by the number of stays behind its denominator. What is
    shown never depends on the numerator: a chart without its small values would mislead.
    """
    return Share(numerator, denominator) if stays >= FEWEST_STAYS else HIDDEN


def count(people: int, of: int, stays: int | None = None) -> Share:
    """So many of all stays, or of the escalations of so many stays. From 1 to 4 are not shown, and
    neither are all but 1 to 4.
    """
    if (of if stays is None else stays) < FEWEST_STAYS:
        return HIDDEN
    few = FEWEST_STAYS - 1
    if 0 < people <= few:
        return Share(None, of, (1, few))
    if 0 < of - people <= few:
        return Share(None, of, (of - few, of - 1))
    return Share(people, of)


class Period(Frozen):
    """Local days, the first and the last included. Shifts count that start in it."""

    first: date
    last: date

    @property
    def days(self) -> int:
        """The number of days, with both ends."""
        return (self.last - self.first).days + 1


class Logs(Frozen):
    """The logs behind a review. `given` and `used` are their numbers in this unit. `not_used` names
    the files that could not be read, of all units: which is theirs is not known. `gaps` are the
    times in the period without a log; `overlaps` counts pairs of shifts that share a time.
    """

    given: int
    used: int
    not_used: tuple[str, ...]
    gaps: tuple[Gap, ...]
    overlaps: int


class Begun(Frozen):
    """What became of the orders that began in the period, one a stay.

    `not_known` counts the orders that began 2 h or more before the first log that lists the
    patient: how they began is not known, and they count in nothing else here. Of the others:
    `device`, `taught` and `shown_back` are recorded as done by the end of the stay, and a blank is
    not a no. `never`: the stay ended, or the order was stopped, without an exercise. Each is of all
    orders: were its denominator another, the difference would tell of few.
    """

    orders: int | None
    not_known: int | None
    device: Share
    taught: Share
    shown_back: Share
    never: Share


class Step(Frozen):
    """From `after_h` hours after the order on, this share (0 to 1) has begun, with its interval.

    `waiting` are the orders not yet begun and still followed just before.
    """

    after_h: float
    begun: float
    low: float
    high: float
    waiting: int


class Curve(Frozen):
    """Time from the order to the first exercise: the share that has begun by then (Kaplan and Meier
    1958), with a 95 % interval. Who left without, or whose logs end, counts as not yet known from
    then on. It ends at `until_h`, where fewer than `FEWEST_STAYS` are still waiting. `median_h` is
    None where half have not begun by then.

    No steps, and `orders` is None, where fewer than `FEWEST_STAYS` orders are behind it, or of them
    1 to 4 have begun.
    """

    steps: tuple[Step, ...]
    orders: int | None
    until_h: float
    median_h: float | None

    def at(self, hours: float) -> Step | None:
        """How many have begun by then: of these orders the last step, before the first nobody; None
        where that is not known.
        """
        last = self.steps[-1] if self.steps else None
        all_begun = last is not None and last.begun >= 1
        if self.orders is None or (hours > self.until_h and not all_begun):
            return None
        nobody = Step(0.0, 0.0, 0.0, 0.0, self.orders)
        return next((each for each in reversed(self.steps) if each.after_h <= hours), nobody)

    def begun_by(self, hours: float) -> Share | None:
        """The share by then of all orders, hidden as a `count` of people would be."""
        step = self.at(hours)
        if step is None or self.orders is None:
            return None
        begun = step.begun * self.orders
        hidden = count(round(begun), self.orders)
        return hidden if hidden.numerator is None else Share(begun, self.orders)


class Done(Frozen):
    """Breaths credited of those due, and spans of the order (hours, mostly) with breaths due that
    nobody charted, of all with breaths due. Not charted is not known; it is not 'not done'.
    """

    credited: Share
    not_charted: Share


class ShiftDone(Frozen):
    """The shifts that start at this time of the unit's clock."""

    starts: time
    done: Done


class Practice(Frozen):
    """How the exercise went. Of the exercises charted in the period: `blew` into the device, `fast`
    (too fast), `dizzy` (dizzy or tingling). `short_hold`: of those with a hold recorded, under the
    ordered seconds. `declined`: of exercises and declines. `pain`: of rows with pain rated, those
    at or over `pain_from` (0 to 10). `taught_again`: of stays with a time of teaching, those with
    another, later one.
    """

    blew: Share
    fast: Share
    short_hold: Share
    dizzy: Share
    declined: Share
    pain: Share
    pain_from: float
    taught_again: Share


class Delay(Frozen):
    """Hours from the opening of an escalation: within which are half of them, and three of four.
    The longest would be of one patient. None where fewer than `FEWEST_STAYS` stays are behind it.
    """

    median_h: float | None
    three_quarters_h: float | None


class Told(Frozen):
    """The escalations that opened in the period, as they stood when the stay or its logs ended.

    `told`: the provider was told of the last row. `told_after`: from the opening to the first row
    that says so, of these. `settled`: seen or said to be over; `settled_after` likewise. `open`:
    not told, or not settled. Of `settled` and `open` one is not shown where all three would tell
    how few are told and not settled, settled and not told, or neither.
    """

    escalations: int | None
    told: Share
    told_after: Delay
    settled: Share
    settled_after: Delay
    open: Share


class Measure(StrEnum):
    """What a chart shows over the weeks."""

    BEGUN = "begun_within_4_h"  # of the orders of these days
    CREDITED = "credited"  # breaths, of those due
    NOT_CHARTED = "not_charted"  # of the spans due
    TECHNIQUE = "off_form"  # blown or too fast, of exercises
    TOLD = "told"  # of escalations


class Point(Frozen):
    """The days from `first` on: the share. `is_whole` is False where a part of them is outside the
    period or without a log. A point that is not shown takes part in no rule.
    """

    first: date
    share: Share
    is_whole: bool


class Turn(Frozen):
    """From the point of this day on, most points are on the other side of the median."""

    first: date
    is_higher: bool


class RunChart(Frozen):
    """Points of `every_d` days each, and the published rules for runs and crossings of their median
    (Anhøj and Olesen 2014; Anhøj and Wentzel-Larsen 2019).

    `median` is in per cent. `useful` are the points not on the median. The run of points on one
    side is unusually long over `longest_usual`, and crossings are unusually few under
    `fewest_usual`. With fewer than `FEWEST_POINTS` useful points the rules say nothing: `is_judged`
    is False. A signal says that something changed, not what. `turn` is where, in a chart with one
    turn: elsewhere None.
    """

    measure: Measure
    every_d: int
    points: tuple[Point, ...]
    median: float | None
    useful: int
    longest_run: int
    longest_usual: int
    crossings: int
    fewest_usual: int
    turn: Turn | None = None

    @property
    def is_judged(self) -> bool:
        """Whether there are enough points for the rules."""
        return self.useful >= FEWEST_POINTS

    @property
    def has_long_run(self) -> bool:
        """Whether a run is longer than chance makes it, but seldom."""
        return self.is_judged and self.longest_run > self.longest_usual

    @property
    def has_few_crossings(self) -> bool:
        """Whether the median is crossed more seldom than by chance, but seldom."""
        return self.is_judged and self.crossings < self.fewest_usual

    @property
    def has_signal(self) -> bool:
        """Whether either rule is met."""
        return self.has_long_run or self.has_few_crossings


class LimitedPoint(Frozen):
    """A point with its limits in per cent, which are wider where n is smaller; None where it is not
    shown.
    """

    point: Point
    low: float | None
    high: float | None

    @property
    def is_outside(self) -> bool:
        """Whether it lies beyond a limit. A week of which a part is missing does not count."""
        percent = self.point.share.percent
        if percent is None or self.low is None or self.high is None or not self.point.is_whole:
            return False
        return not self.low <= percent <= self.high


class ProportionChart(Frozen):
    """Points of a week each about their common share `centre` (per cent), with limits three
    standard deviations from it, by each point's n (NIST/SEMATECH e-Handbook 6.3.3.2).

    Only for cases that are independent, an order or an escalation each: breaths of one patient are
    not, and such limits would be far too narrow for them.
    """

    measure: Measure
    points: tuple[LimitedPoint, ...]
    centre: float | None

    @property
    def is_judged(self) -> bool:
        """Whether there are enough weeks to say something."""
        return sum(each.low is not None for each in self.points) >= FEWEST_WEEKS

    @property
    def outside(self) -> tuple[LimitedPoint, ...]:
        """The points beyond a limit: a signal."""
        return tuple(each for each in self.points if each.is_outside) if self.is_judged else ()


class Review(Frozen):
    """One unit's weeks. `stays` and `entries` are counts in the period; with fewer than
    `FEWEST_STAYS` stays `stays` is None, and nothing else is shown.

    `by_hour` has by weekday (0: Monday) and hour of the day what was due in spans that begin in
    that hour; an hour in which nothing was ever due is not in it. `weeks` are by the Monday.
    """

    unit: Unit
    period: Period
    logs: Logs
    stays: int | None
    entries: int
    begun: Begun
    first_breath: Curve
    done: Done
    by_week: Mapping[date, Done]
    by_shift: tuple[ShiftDone, ...]
    by_hour: Mapping[tuple[int, int], Done]
    practice: Practice
    told: Told
    run_charts: tuple[RunChart, ...]
    proportion_charts: tuple[ProportionChart, ...]

"""Tidy tables -> `Review`: every share with its n, counted once.

Input: `Tables`, the unit, the period, the logs. Output: `Review`. Leaves it to `share` and `count`
what is shown.
"""

from collections.abc import Iterator, Mapping
from datetime import date, timedelta
from typing import Any

import pandas as pd

from handoff.model.frozen import Frozen
from handoff.model.review import (
    FEWEST_STAYS,
    HIDDEN,
    Begun,
    Delay,
    Done,
    Logs,
    Measure,
    Period,
    Point,
    Practice,
    Review,
    RunChart,
    Share,
    ShiftDone,
    Told,
    count,
    share,
)
from handoff.model.ward import DIZZY_SYMPTOMS, Flow, Unit, What
from handoff.review.charts import proportion_chart, run_chart
from handoff.review.curve import curve
from handoff.review.tables import BEGUN, NEVER, YES, Tables

WEEK_D = 7
MOST_WEEKS = 26  # in a chart of which each point is a week; with more, it is of two weeks or more
BEGUN_WITHIN_H = 4  # of the chart over the weeks


class Cases(Frozen):
    """What one measure counts: a row for each case, with `top` of `bottom`, its stay and day.

    `independent`: a case is an order or an escalation, and says nothing of another. Breaths and
    exercises of one patient go together, over days.
    """

    rows: pd.DataFrame
    independent: bool


def review(tables: Tables, unit: Unit, period: Period, logs: Logs, pain_from: float) -> Review:
    """The review of one unit. `pain_from` is the unit's limit of pain that is followed up."""
    spans = tables.spans[tables.spans["due"] > 0]
    orders = tables.stays[_in_period(tables.stays, period)]
    known = orders[orders["began_here"]]
    cases = {
        Measure.BEGUN: Cases(_within(known, BEGUN_WITHIN_H), independent=True),
        Measure.CREDITED: Cases(_cases(spans, spans["credited"], spans["due"]), independent=False),
        Measure.NOT_CHARTED: Cases(_cases(spans, _not_charted(spans)), independent=False),
        Measure.TECHNIQUE: Cases(_off_form(tables.entries), independent=False),
        Measure.TOLD: Cases(
            _cases(tables.escalations, tables.escalations["told"]), independent=True
        ),
    }
    begun = known["exercise"] == BEGUN
    until = known["first_exercise_at"].where(begun, known["followed_until"])
    hours = _hours(known["ordered_at"], until)
    weeks = spans["day"] - pd.to_timedelta(spans["day"].dt.day_of_week, unit="D")
    return Review(
        unit=unit,
        period=period,
        logs=logs,
        stays=len(tables.stays) if len(tables.stays) >= FEWEST_STAYS else None,
        entries=len(tables.entries),
        begun=_begun(orders, known),
        first_breath=curve(list(zip(hours.tolist(), begun.tolist(), strict=True))),
        done=_done(spans),
        by_week={monday.date(): done for monday, done in _done_by(spans, weeks).items()},
        by_shift=tuple(
            ShiftDone(starts, done)
            for starts, done in _done_by(spans, spans["shift_starts"]).items()
        ),
        by_hour={
            divmod(int(hour), 24): done
            for hour, done in _done_by(
                spans, 24 * spans["start"].dt.day_of_week + spans["start"].dt.hour
            ).items()
        },
        practice=_practice(tables, pain_from),
        told=_told(tables.escalations),
        run_charts=tuple(_run_chart(name, each, period, logs) for name, each in cases.items()),
        proportion_charts=tuple(
            proportion_chart(name, _points(each, WEEK_D, period, logs))
            for name, each in cases.items()
            if each.independent
        ),
    )


def _hours(since: "pd.Series[Any]", until: "pd.Series[Any]") -> "pd.Series[float]":
    """The real hours between; 0 where the second is earlier."""
    return (until - since).dt.total_seconds().clip(lower=0) / 3600


def _in_period(table: pd.DataFrame, period: Period) -> "pd.Series[bool]":
    return table["day"].between(pd.Timestamp(period.first), pd.Timestamp(period.last))


def _cases(
    rows: pd.DataFrame, top: "pd.Series[Any]", bottom: "pd.Series[Any] | int" = 1
) -> pd.DataFrame:
    """The rows as cases: so much of so much."""
    cases = rows[["stay", "day"]].assign(top=top, bottom=bottom)
    return cases.astype({"top": float, "bottom": float})  # of no rows pandas keeps what kind it was


def _not_charted(spans: pd.DataFrame) -> "pd.Series[bool]":
    return spans["state"] == "uncharted"


def _share(cases: pd.DataFrame) -> Share:
    top, bottom = float(cases["top"].sum()), float(cases["bottom"].sum())
    return share(top, bottom, cases["stay"].nunique())


def _done(spans: pd.DataFrame) -> Done:
    return Done(
        credited=_share(_cases(spans, spans["credited"], spans["due"])),
        not_charted=_share(_cases(spans, _not_charted(spans))),
    )


def _done_by(spans: pd.DataFrame, group: "pd.Series[Any]") -> dict[Any, Done]:
    credited = _shares(_cases(spans, spans["credited"], spans["due"]), group)
    not_charted = _shares(_cases(spans, _not_charted(spans)), group)
    return {key: Done(credited[key], not_charted[key]) for key in credited}


def _shares(cases: pd.DataFrame, group: "pd.Series[Any]") -> dict[Any, Share]:
    """The share of each group, in their order. With those of too few stays so many others are
    hidden, of the fewest stays, that the total less all that is shown is not of too few.
    """
    groups: dict[Any, pd.DataFrame] = dict(iter(cases.groupby(group)))
    shares = {key: _share(rows) for key, rows in groups.items()}
    stays = {key: set(rows["stay"]) for key, rows in groups.items()}
    shown = sorted((key for key in shares if shares[key].is_shown), key=lambda key: len(stays[key]))
    hidden: set[int] = set().union(*(stays[key] for key in shares if not shares[key].is_shown))
    while shown and 0 < len(hidden) < FEWEST_STAYS:
        key = shown.pop(0)
        shares[key] = HIDDEN
        hidden |= stays[key]
    return shares


def _within(orders: pd.DataFrame, hours: int) -> pd.DataFrame:
    """The orders of which it is known whether the exercise was begun so soon."""
    limit = orders["ordered_at"] + pd.Timedelta(hours=hours)
    soon = (orders["exercise"] == BEGUN) & (orders["first_exercise_at"] <= limit)
    is_known = soon | (orders["followed_until"] >= limit) | (orders["exercise"] == BEGUN)
    return _cases(orders, soon)[is_known]


def _begun(orders: pd.DataFrame, known: pd.DataFrame) -> Begun:
    elsewhere = len(orders) - len(known)

    def recorded(fact: str) -> Share:
        return count(int((known[fact] == YES).sum()), len(known))

    return Begun(
        orders=len(known) if len(known) >= FEWEST_STAYS else None,
        not_known=None if 0 < elsewhere < FEWEST_STAYS else elsewhere,
        device=recorded("device"),
        taught=recorded("taught"),
        shown_back=recorded("shown_back"),
        never=count(int((known["exercise"] == NEVER).sum()), len(known)),
    )


def _exercises(entries: pd.DataFrame) -> pd.DataFrame:
    return entries[entries["what"] == What.EXERCISE]


def _off_form(entries: pd.DataFrame) -> pd.DataFrame:
    exercises = _exercises(entries)
    return _cases(exercises, exercises["flow"].isin({Flow.BLEW, Flow.FAST}))


def _practice(tables: Tables, pain_from: float) -> Practice:
    entries, exercises = tables.entries, _exercises(tables.entries)
    held = exercises[exercises["hold_s"].notna()]
    offered = entries[entries["what"].isin({What.EXERCISE, What.DECLINED})]
    rated = entries[entries["pain"].notna()]
    dizzy = {str(each) for each in DIZZY_SYMPTOMS}
    is_dizzy = exercises["symptoms"].map(lambda each: not dizzy.isdisjoint(each.split(";")))
    taught = tables.stays[tables.stays["times_taught"] > 0]
    return Practice(
        blew=_share(_cases(exercises, exercises["flow"] == Flow.BLEW)),
        fast=_share(_cases(exercises, exercises["flow"] == Flow.FAST)),
        short_hold=_share(_cases(held, held["hold_s"] < held["ordered_hold_s"])),
        dizzy=_share(_cases(exercises, is_dizzy)),
        declined=_share(_cases(offered, offered["what"] == What.DECLINED)),
        pain=_share(_cases(rated, rated["pain"] >= pain_from)),
        pain_from=pain_from,
        taught_again=count(int((taught["times_taught"] > 1).sum()), len(taught)),
    )


def _is_few(cases: "pd.Series[bool]") -> bool:
    return 0 < int(cases.sum()) < FEWEST_STAYS


def _told(escalations: pd.DataFrame) -> Told:
    stays, number = escalations["stay"].nunique(), len(escalations)
    told, settled = escalations["told"], escalations["settled"]
    of_settled = count(int(settled.sum()), number, stays)
    of_open = count(int((~(told & settled)).sum()), number, stays)
    # With all three shown, each of their parts is known by subtraction.
    if of_open.numerator and _is_few(told & ~settled):
        of_open = Share(None, number)
    elif of_settled.numerator and (_is_few(settled & ~told) or _is_few(~settled & ~told)):
        of_settled = Share(None, number)
    return Told(
        escalations=number if stays >= FEWEST_STAYS else None,
        told=count(int(told.sum()), number, stays),
        told_after=_delay(escalations[told], "told_at"),
        settled=of_settled,
        settled_after=_delay(escalations[settled], "settled_at"),
        open=of_open,
    )


def _delay(escalations: pd.DataFrame, until: str) -> Delay:
    if escalations["stay"].nunique() < FEWEST_STAYS:
        return Delay(None, None)
    hours = _hours(escalations["opened_at"], escalations[until])
    return Delay(float(hours.median()), float(hours.quantile(0.75)))


def _run_chart(name: Measure, cases: Cases, period: Period, logs: Logs) -> RunChart:
    """A point a week where these are enough. Of independent cases else a point a day. Other cases
    of one day resemble those of the next, of the same patients: as points of a run chart they would
    give signals without any change. For that reason too a point is of more weeks in a long period.
    """
    weeks = -(-period.days // WEEK_D)
    every_d = WEEK_D if cases.independent else WEEK_D * -(-weeks // MOST_WEEKS)
    chart = run_chart(name, every_d, _points(cases, every_d, period, logs))
    if chart.is_judged or not cases.independent:
        return chart
    by_day = run_chart(name, 1, _points(cases, 1, period, logs))
    return by_day if by_day.is_judged else chart


def _points(cases: Cases, every_d: int, period: Period, logs: Logs) -> tuple[Point, ...]:
    """The points from the Monday of the first day on, or from the first day, a point a day. Of
    orders and escalations none is shown where the number of all of them is not.
    """
    rows = cases.rows
    if cases.independent and count(int(rows["top"].sum()), len(rows)).numerator is None:
        rows = rows[:0]
    return tuple(_every(rows, every_d, period, logs))


def _every(cases: pd.DataFrame, every_d: int, period: Period, logs: Logs) -> Iterator[Point]:
    first = period.first
    if every_d >= WEEK_D:
        first -= timedelta(days=period.first.weekday())
    number = (cases["day"] - pd.Timestamp(first)).dt.days // every_d
    shares: Mapping[Any, Share] = _shares(cases, number)
    last = (period.last - first).days // every_d
    for each in range(last + 1):
        begins = first + timedelta(days=each * every_d)
        ends = begins + timedelta(days=every_d - 1)
        is_whole = (
            period.first <= begins and ends <= period.last and not _has_gap(begins, ends, logs)
        )
        yield Point(begins, shares.get(each, HIDDEN), is_whole)


def _has_gap(first: date, last: date, logs: Logs) -> bool:
    return any(gap.start.date() <= last and gap.end.date() >= first for gap in logs.gaps)

"""Tidy tables -> `Review`: every share with its n, counted once.

Input: `Tables`, the unit, the period, the logs. Output: `Review`. Leaves it to `share` and `count`
what is shown.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import pandas as pd

from handoff.model.review import (
    FEWEST_STAYS,
    HIDDEN,
    WITHIN_H,
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


@dataclass(frozen=True)
class Cases:
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
        stays=len(tables.stays),
        entries=len(tables.entries),
        begun=_begun(orders, known),
        first_breath=curve(list(zip(hours.tolist(), begun.tolist(), strict=True))),
        done=_done(spans),
        by_week={monday.date(): _done(spans[weeks == monday]) for monday in sorted(weeks.unique())},
        by_shift=tuple(
            ShiftDone(starts, _done(spans[spans["shift_starts"] == starts]))
            for starts in sorted(spans["shift_starts"].unique())
        ),
        by_hour=dict(_by_hour(spans)),
        practice=_practice(tables, pain_from),
        told=_told(tables.escalations),
        run_charts=tuple(_run_chart(name, each, period, logs) for name, each in cases.items()),
        proportion_charts=tuple(
            proportion_chart(name, _points(each.rows, WEEK_D, period, logs))
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


def _by_hour(spans: pd.DataFrame) -> Iterator[tuple[tuple[int, int], Done]]:
    starts = spans["start"].dt
    for hour_of_week, rows in spans.groupby(24 * starts.day_of_week + starts.hour):
        yield divmod(int(str(hour_of_week)), 24), _done(rows)


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

    within = {hours: _within(known, hours) for hours in WITHIN_H}
    over = known["exercise"].isin({BEGUN, NEVER})
    return Begun(
        orders=len(known) if len(known) >= FEWEST_STAYS else None,
        not_known=None if 0 < elsewhere < FEWEST_STAYS else elsewhere,
        device=recorded("device"),
        taught=recorded("taught"),
        shown_back=recorded("shown_back"),
        within={hours: count(int(each["top"].sum()), len(each)) for hours, each in within.items()},
        never=count(int((known["exercise"] == NEVER).sum()), int(over.sum())),
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


def _told(escalations: pd.DataFrame) -> Told:
    stays, number = escalations["stay"].nunique(), len(escalations)
    told, settled = escalations["told"], escalations["settled"]
    return Told(
        escalations=number if stays >= FEWEST_STAYS else None,
        told=count(int(told.sum()), number, stays),
        told_after=_delay(escalations[told], "told_at"),
        settled=count(int(settled.sum()), number, stays),
        settled_after=_delay(escalations[settled], "settled_at"),
        open=count(int((~(told & settled)).sum()), number, stays),
    )


def _delay(escalations: pd.DataFrame, until: str) -> Delay:
    if escalations["stay"].nunique() < FEWEST_STAYS:
        return Delay(None, None, None)
    hours = _hours(escalations["opened_at"], escalations[until])
    return Delay(len(hours), float(hours.median()), float(hours.max()))


def _run_chart(name: Measure, cases: Cases, period: Period, logs: Logs) -> RunChart:
    """A point a week where these are enough. Of independent cases else a point a day. Other cases
    of one day resemble those of the next, of the same patients: as points of a run chart they would
    give signals without any change. For that reason too a point is of more weeks in a long period.
    """
    weeks = -(-period.days // WEEK_D)
    every_d = WEEK_D if cases.independent else WEEK_D * -(-weeks // MOST_WEEKS)
    chart = run_chart(name, every_d, _points(cases.rows, every_d, period, logs))
    if chart.is_judged or not cases.independent:
        return chart
    by_day = run_chart(name, 1, _points(cases.rows, 1, period, logs))
    return by_day if by_day.is_judged else chart


def _points(cases: pd.DataFrame, every_d: int, period: Period, logs: Logs) -> tuple[Point, ...]:
    """The points from the Monday of the first day on, or from the first day, a point a day."""
    return tuple(_every(cases, every_d, period, logs))


def _every(cases: pd.DataFrame, every_d: int, period: Period, logs: Logs) -> Iterator[Point]:
    first = period.first
    if every_d >= WEEK_D:
        first -= timedelta(days=period.first.weekday())
    number = (cases["day"] - pd.Timestamp(first)).dt.days // every_d
    shares: Mapping[Any, Share] = {key: _share(rows) for key, rows in cases.groupby(number)}
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

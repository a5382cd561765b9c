"""An invented review of eight weeks, with numbers that are easy to follow."""

from datetime import date, time, timedelta
from zoneinfo import ZoneInfo

from msgspec.structs import replace

from handoff.model.review import (
    Begun,
    Curve,
    Delay,
    Done,
    LimitedPoint,
    Logs,
    Measure,
    Period,
    Point,
    Practice,
    ProportionChart,
    Review,
    RunChart,
    Share,
    ShiftDone,
    Step,
    Told,
    Turn,
    count,
    share,
)
from handoff.model.ward import Unit

ZONE = ZoneInfo("America/Halifax")
MONDAY = date(2026, 1, 5)
WEEKS = 8


def points(numerators: list[int], of: int, every_d: int = 7, stays: int = 20) -> tuple[Point, ...]:
    """A point for each numerator, `every_d` days apart."""
    return tuple(
        Point(MONDAY + timedelta(days=every_d * number), share(each, of, stays), is_whole=True)
        for number, each in enumerate(numerators)
    )


def run_chart(measure: Measure, numerators: list[int], of: int, **fields: object) -> RunChart:
    """A chart of 16 half weeks without a signal, unless `fields` say otherwise."""
    chart = RunChart(
        measure=measure,
        every_d=4,
        points=points(numerators, of, 4),
        median=100 * sorted(numerators)[len(numerators) // 2] / of,
        useful=16,
        longest_run=4,
        longest_usual=7,
        crossings=8,
        fewest_usual=5,
    )
    return replace(chart, **fields)


def review(**fields: object) -> Review:
    """The review; `fields` stand in for its parts."""
    steps = tuple(
        Step(hour, begun, max(begun - 0.12, 0.0), min(begun + 0.1, 1.0), waiting)
        for hour, begun, waiting in (
            *((0.5, 0.1, 80), (1, 0.3, 71), (1.5, 0.42, 55), (2, 0.5, 46), (3, 0.62, 39)),
            *((4, 0.7, 30), (6, 0.76, 22), (9, 0.8, 17), (14, 0.86, 12), (20, 0.9, 7)),
        )
    )
    waves = [78, 74, 80, 71, 83, 77, 75, 82, 79, 72, 81, 76, 84, 73, 80, 77]
    shares = {
        (day, hour): Done(
            Share(18 + (day * 7 + hour * 5) % 70, 100)
            if hour != 13 or day != 2
            else Share(None, None),
            Share(10, 100),
        )
        for day in range(7)
        for hour in range(6, 22)
    }
    limited = tuple(
        LimitedPoint(each, 62.0 - 20, min(62.0 + 20, 100.0))
        for each in points([12, 14, 11, 13, 19, 13, 12, 15], 20)
    )
    made = Review(
        unit=Unit("Harbour 3 East", ZONE, (time(22), time(6))),
        period=Period(MONDAY, MONDAY + timedelta(days=7 * WEEKS - 1)),
        logs=Logs(given=112, used=111, not_used=("2026-01-09-night.yaml",), gaps=(), overlaps=0),
        stays=96,
        entries=12_480,
        begun=Begun(
            orders=84,
            not_known=6,
            device=count(79, 84),
            taught=count(74, 84),
            shown_back=count(66, 84),
            never=count(3, 84),
        ),
        first_breath=Curve(steps, orders=84, until_h=24.0, median_h=2.0),
        done=Done(Share(60_400.5, 78_000), Share(930, 7_900)),
        by_week={},
        by_shift=(
            ShiftDone(time(7), Done(Share(40_000, 50_000), Share(300, 5_000))),
            ShiftDone(time(19), Done(Share(20_400.5, 28_000), Share(630, 2_900))),
        ),
        by_hour=shares,
        practice=Practice(
            blew=Share(310, 9_800),
            fast=Share(1_020, 9_800),
            short_hold=Share(760, 6_100),
            dizzy=Share(210, 9_800),
            declined=Share(640, 10_440),
            pain=Share(820, 5_500),
            pain_from=7,
            taught_again=count(22, 70),
        ),
        told=Told(
            escalations=48,
            told=count(41, 48),
            told_after=Delay(0.6, 9.5),
            settled=count(37, 48),
            settled_after=Delay(5.2, 40.0),
            open=count(3, 48),
        ),
        run_charts=(
            run_chart(Measure.BEGUN, [each // 10 for each in waves], 10),
            run_chart(
                Measure.CREDITED,
                waves[:8] + [each + 12 for each in waves[8:]],
                100,
                longest_run=8,
                turn=Turn(date(2026, 2, 6), is_higher=True),
            ),
            run_chart(Measure.NOT_CHARTED, [each // 6 for each in waves], 100),
            run_chart(Measure.TECHNIQUE, [each // 8 for each in waves], 100),
            run_chart(Measure.TOLD, [9, 8, 9, 10], 10, useful=4),
        ),
        proportion_charts=(
            ProportionChart(Measure.BEGUN, limited, 62.0),
            ProportionChart(Measure.TOLD, limited[:4], 62.0),
        ),
    )
    return replace(made, **fields)

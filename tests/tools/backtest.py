"""How often the trend, the forecast and the rules on a fall are right about simulated recoveries.

    python -m tests.tools.backtest [--courses N] [--seed N]

Enters: the scenarios of two generators. Leaves: tables in Markdown, on standard output: what the
rules of before said, an arrow, and what the program says of the same readings. That comes from its
own stages, what is true from the simulation. Every scenario starts from the same seed, so that two
rows differ by their assumptions more than by chance.
"""

import argparse
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf, sqrt
from statistics import median

from handoff.model.measures import Direction
from handoff.model.verdicts import Level
from tests.tools.follow import AnyAssumptions, Followed, Outcome, follow
from tests.tools.old_rules import DROP, DROP_WITH_SIGNS, FALLING
from tests.tools.scenarios import FALLS, GOALS, REST, SIZES, STEADY, STRAIGHT

COURSES = 400
SEED = 20261125
LENGTHS_D = (3, 4, 5, 6, 7)
HAND_OVERS = (1, 2, 3, 5)  # 1: of the shift in which the complication sets in

Group = Sequence[Followed]


# Rows: what each table says of one scenario's courses


def trend_row(group: Group) -> list[str]:
    return [
        f"{_called(said, Direction.RISING)} / {_called(said, Direction.FALLING)} ({held(said)})"
        for said in by_length(group)
    ]


def rest_row(group: Group) -> list[str]:
    called = (Direction.STEADY, Direction.LEVELLED_OFF, Direction.RISING, Direction.FALLING)
    return [
        " / ".join(_called(said, direction) for direction in called)
        for said in by_length(group)[2:]
    ]


def size_row(group: Group) -> list[str]:
    """False flags of courses without a complication only, and of those with one what was caught."""
    if not group[0].course.path.loss:
        said = [each for followed in group for each in followed.outcomes[1:]]
        met = percent((_by_fall(each) for each in said), digits=1)
        noted = percent((each.levels.get(DROP) is Level.NOTE for each in said), digits=1)
        return [met, noted, "", ""]
    since = [each.since_onset for each in group]
    return [
        "",
        "",
        *(percent(any(map(_by_fall, said[:last])) for said in since) for last in (1, 2)),
    ]


def _by_fall(said: Outcome) -> bool:
    """A rule on a fall is met, the trend left out, at a level that raises the priority."""
    return any(
        said.levels.get(rule, Level.NOTE) is not Level.NOTE for rule in (DROP, DROP_WITH_SIGNS)
    )


def fall_row(group: Group) -> list[str]:
    since = [each.since_onset for each in group]
    first = [next((each for each in said if each.flagged), None) for said in since]
    delays_h = [
        each.as_of_h - followed.course.path.onset_h if each else inf
        for followed, each in zip(group, first, strict=True)
    ]
    return [
        *(
            percent(any(each.flagged for each in said[:last]) for said in since)
            for last in HAND_OVERS
        ),
        f"{median(delays_h):.0f}".replace("inf", "never"),
        percent(said[HAND_OVERS[-1] - 1].flagged for said in since),
    ]


def false_flag_row(group: Group) -> list[str]:
    """The first shift of a course is left out: the rules have nothing to compare it with."""
    said = [each for followed in group for each in followed.outcomes[1:]]
    met: tuple[Callable[[Outcome], bool], ...] = (
        lambda each: each.levels.get(DROP) is Level.FOLLOW_UP,
        lambda each: each.levels.get(DROP) is Level.NOTE,
        lambda each: DROP_WITH_SIGNS in each.levels,
        lambda each: FALLING in each.levels,
        lambda each: each.flagged,
    )
    return [percent(map(is_met, said), digits=1) for is_met in met]


def forecast_row(group: Group) -> list[str]:
    """Of the hand-overs after 3 to 7 days at which the underlying volume is under the goal."""
    ahead = [each for said in by_length(group) for each in said if each.goal_d > 0]
    given = [each for each in ahead if each.forecast_d]
    days = [each for each in given if each.forecast_d and int(each.forecast_d[0]) > 0]
    return [
        percent(each.forecast_d is not None for each in ahead),
        _sides(miss(each, each.goal_d) for each in given),
        percent(bool(each.forecast_d) and int((each.forecast_d or (0,))[0]) > 0 for each in ahead),
        percent(each.goal_d >= int((each.forecast_d or (0,))[0]) for each in days),
    ]


def by_length(group: Group) -> list[list[Outcome]]:
    """The outcomes after each of the lengths."""
    return [[each.after(days) for each in group] for days in LENGTHS_D]


def held(said: Iterable[Outcome]) -> str:
    """How many of the intervals hold the true average change."""
    return percent(each.slope.holds(each.slope.average) for each in said if each.slope)


def miss(said: Outcome, true_d: float) -> int:
    """0 where the pair holds the day, -1 where the day comes sooner, 1 where it comes later."""
    assert said.forecast_d is not None
    soonest, latest = said.forecast_d
    return (true_d > latest) - (true_d < soonest)


def percent(truths: Iterable[bool], digits: int = 0) -> str:
    """How many of them are true, in per cent; a dash where there are none."""
    counted = list(truths)
    return f"{100 * sum(counted) / len(counted):.{digits}f}" if counted else "–"


def _sides(misses: Iterable[int]) -> str:
    counted = list(misses)
    return " / ".join(percent(miss == side for miss in counted) for side in (0, -1, 1))


def _called(said: Iterable[Outcome], direction: Direction) -> str:
    return percent(each.direction is direction for each in said)


# Tables


@dataclass(frozen=True, slots=True)
class Table:
    """What it shows, its columns after the first, its rows by name, and what a row says."""

    title: str
    columns: tuple[str, ...]
    scenarios: Mapping[str, AnyAssumptions]
    row: Callable[[Group], list[str]]


DAYS = tuple(f"{days} d" for days in LENGTHS_D)
TABLES = (
    Table(
        "Volumes of 600 to 1,000 (S), 1,000 to 1,500 (M) and 1,500 to 2,500 mL (L): the rules on a "
        "fall alone",
        (
            "false, a hundred patient-shifts",
            "only noted, the same",
            "flagged by hand-over 1, %",
            "by hand-over 2, %",
        ),
        SIZES,
        size_row,
    ),
    Table(
        "A complication takes a part of the volume: flagged by any rule, % of courses",
        (
            *(f"by hand-over {number}" for number in HAND_OVERS),
            "median h from onset",
            f"still at hand-over {HAND_OVERS[-1]}",
        ),
        FALLS,
        fall_row,
    ),
    Table(
        "No complication: flags in a hundred patient-shifts",
        (
            "volume-drop",
            "the same, only noted",
            "volume-drop-with-signs",
            "falling-trend",
            "any but a note",
        ),
        STEADY,
        false_flag_row,
    ),
    Table(
        "Trend: called rising / falling, % of courses (intervals that hold the true change, %)",
        DAYS,
        STRAIGHT,
        trend_row,
    ),
    Table(
        "Trend: called steady / levelled off / rising / falling, % of courses",
        DAYS[2:],
        REST,
        rest_row,
    ),
    Table(
        "Days to the goal, at hand-overs after 3 to 7 days under it",
        (
            "pair given, %",
            "true day inside / sooner / later, % of pairs",
            "a day said on paper, %",
            "not reached before it, % of these",
        ),
        GOALS,
        forecast_row,
    ),
)


def tables(courses: int, seed: int) -> Iterator[str]:
    """The tables, line by line; each scenario is followed once, for all tables that show it."""
    rows: dict[tuple[str, AnyAssumptions], list[str]] = {}
    for given in dict.fromkeys(given for table in TABLES for given in table.scenarios.values()):
        group = follow(given, courses, seed)
        before = [replace(each, outcomes=each.old) for each in group]
        for table in TABLES:
            if given in table.scenarios.values():
                pairs = zip(table.row(before), table.row(group), strict=True)
                rows[table.title, given] = [
                    old if old == new else f"{old} → {new}" for old, new in pairs
                ]
    for table in TABLES:
        yield f"**{table.title}**\n"
        yield _line("", *table.columns)
        yield _line("---", *("---" for _ in table.columns))
        for name, given in table.scenarios.items():
            yield _line(name, *rows[table.title, given])
        yield ""


def _line(*cells: str) -> str:
    return f"| {' | '.join(cells)} |"


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.tools.backtest", description=__doc__)
    parser.add_argument("--courses", type=int, default=COURSES)
    parser.add_argument("--seed", type=int, default=SEED)
    options = parser.parse_args()
    at_half, at_5 = (100 * sqrt(p * (1 - p) / options.courses) for p in (0.5, 0.05))
    sys.stdout.write(
        f"{options.courses} courses a scenario, seed {options.seed}; standard error of a share of "
        f"them {at_half:.1f} points at 50 %, {at_5:.1f} at 5 %.\n\n"
    )
    for line in tables(options.courses, options.seed):
        sys.stdout.write(line + "\n")


if __name__ == "__main__":
    main()

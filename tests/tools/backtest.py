"""How often the trend, the forecast and the rules on a fall are right about simulated recoveries.

    python -m tests.tools.backtest [--courses N] [--seed N]

Enters: the scenarios. Leaves: tables in Markdown, on standard output. What the program says
comes from its own stages, what is true from the simulation. Every scenario starts from the same
seed, so that two rows differ by their assumptions more than by chance.
"""

import argparse
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import inf, sqrt
from statistics import median

from handoff.model.measures import Direction
from handoff.model.verdicts import Level
from tests.tools.follow import DROP, DROP_WITH_SIGNS, FALLING, TESTED, Followed, Outcome, follow
from tests.tools.scenarios import BENT, FALLS, GOALS, STEADY, STRAIGHT
from tests.tools.simulation import Assumptions

COURSES = 400
SEED = 20261125
LENGTHS_D = (3, 4, 5, 6, 7)
HAND_OVERS = (1, 2, 3, 5)  # 1: of the shift in which the complication sets in

Group = Sequence[Followed]


# Rows: what each table says of one scenario's courses


def interval_row(group: Group) -> list[str]:
    return [f"{held(said)} ({_median_width(said)})" for said in by_length(group)]


def bent_interval_row(group: Group) -> list[str]:
    return [f"{held(said)} / {held_middle(said)}" for said in by_length(group)]


def direction_row(group: Group) -> list[str]:
    called = (Direction.RISING, Direction.FALLING, Direction.TOO_FEW)
    return [
        " / ".join(percent(each.direction is direction for each in said) for direction in called)
        for said in by_length(group)
    ]


def fall_row(group: Group) -> list[str]:
    since = [each.since_onset for each in group]
    first = [next((each for each in said if each.flagged), None) for said in since]
    delays_h = [
        each.as_of_h - followed.course.path.onset_h if each else inf
        for followed, each in zip(group, first, strict=True)
    ]
    by_rule = (percent(bool(each and rule in each.levels) for each in first) for rule in TESTED)
    return [
        *(
            percent(any(each.flagged for each in said[:last]) for said in since)
            for last in HAND_OVERS
        ),
        f"{median(delays_h):.0f}".replace("inf", "–"),
        " / ".join(by_rule),
        percent(said[1].only_noted for said in since),
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
    a_course = percent(any(each.flagged for each in followed.outcomes) for followed in group)
    return [*(percent(map(is_met, said), digits=1) for is_met in met), a_course]


def goal_row(group: Group) -> list[str]:
    ahead = [[each for each in said if each.goal_d > 0] for said in by_length(group)]
    return [
        f"{percent(each.forecast_d is not None for each in said)} / "
        f"{percent(miss(each, each.goal_d) == 0 for each in said if each.forecast_d)}"
        for said in ahead
    ]


def forecast_row(group: Group) -> list[str]:
    given = [each for said in by_length(group) for each in said if each.forecast_d]
    ahead = [each for each in given if each.goal_d > 0]
    ends = [each.forecast_d for each in ahead if each.forecast_d]
    return [
        str(len(ahead)),
        _sides(miss(each, each.goal_d) for each in ahead),
        _sides(miss(each, each.charted_d) for each in ahead),
        f"{_median_days(end for end, _ in ends)} to {_median_days(end for _, end in ends)}",
        percent(end == inf for _, end in ends),
    ]


def by_length(group: Group) -> list[list[Outcome]]:
    """The outcomes after each of the lengths."""
    return [[each.after(days) for each in group] for days in LENGTHS_D]


def held(said: Iterable[Outcome]) -> str:
    """How many of the intervals hold the true average change."""
    return percent(each.slope.holds(each.slope.average) for each in said if each.slope)


def held_middle(said: Iterable[Outcome]) -> str:
    """How many of the intervals hold the true median change."""
    return percent(each.slope.holds(each.slope.middle) for each in said if each.slope)


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


def _median_width(said: Iterable[Outcome]) -> str:
    widths = [each.slope.high - each.slope.low for each in said if each.slope]
    return f"{median(widths):.0f}" if widths else "–"


def _median_days(numbers: Iterable[float]) -> str:
    found = list(numbers)
    return f"{median(found):.1f}".replace("inf", "over 14") if found else "–"


# Tables


@dataclass(frozen=True, slots=True)
class Table:
    """What it shows, its columns after the first, its rows by name, and what a row says."""

    title: str
    columns: tuple[str, ...]
    scenarios: Mapping[str, Assumptions]
    row: Callable[[Group], list[str]]


DAYS = tuple(f"{days} d" for days in LENGTHS_D)
CALLED = "called rising / falling / too few points, % of courses"
TABLES = (
    Table(
        "Straight courses: intervals that hold the true slope, % (median width, mL a day)",
        DAYS,
        STRAIGHT,
        interval_row,
    ),
    Table(f"Straight courses: {CALLED}", DAYS, STRAIGHT, direction_row),
    Table(
        "Curved courses: intervals that hold the true average / median change, %",
        DAYS,
        BENT,
        bent_interval_row,
    ),
    Table(f"Curved courses: {CALLED}", DAYS, BENT, direction_row),
    Table(
        "A complication takes a part of the volume: flagged, % of courses",
        (
            *(f"by hand-over {number}" for number in HAND_OVERS),
            "median h from onset",
            "first by drop / drop with signs / falling trend",
            "only noted at hand-over 2",
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
            "courses with one in 7 d, %",
        ),
        STEADY,
        false_flag_row,
    ),
    Table(
        "Days to the goal: pair given, % of courses under it / holds the true day, % of pairs",
        DAYS,
        GOALS,
        goal_row,
    ),
    Table(
        "Days to the goal: all pairs given after 3 to 7 days",
        (
            "pairs",
            "true day inside / sooner / later, %",
            "next charted reading at the goal inside / sooner / later, %",
            "median pair, d",
            "no end, %",
        ),
        GOALS,
        forecast_row,
    ),
)


def tables(courses: int, seed: int) -> Iterator[str]:
    """The tables, line by line; each scenario is followed once, for all tables that show it."""
    rows: dict[tuple[str, Assumptions], list[str]] = {}
    for given in dict.fromkeys(given for table in TABLES for given in table.scenarios.values()):
        group = follow(given, courses, seed)
        for table in TABLES:
            if given in table.scenarios.values():
                rows[table.title, given] = table.row(group)
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

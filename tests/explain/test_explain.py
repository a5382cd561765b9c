"""What `explain` prints can be followed with a pencil, and never contradicts the measures."""

import json
import math
import re
import string
from datetime import date, datetime, timedelta
from functools import cache
from itertools import pairwise, takewhile
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from msgspec.structs import replace

from handoff.cli import main as cli
from handoff.cli.arguments import EXPLAINED
from handoff.compose.export import measures_json
from handoff.explain import PARTS, Subject, explain, explain_matters
from handoff.explain.matters import explain_matter
from handoff.explain.subject import in_words
from handoff.explain.text import Table, lines_of, local_time
from handoff.judge import BY_NAME, follow
from handoff.limits.reading import Limits
from handoff.model.matters import Eased, Matter, MatterState, WhyNot
from handoff.model.measures import Direction
from handoff.model.pages import PatientPage
from handoff.model.rounding import exact
from handoff.model.verdicts import State, Verdict
from handoff.model.ward import Entry, Handover, SeenBy
from handoff.model.wording import EXPLAIN, JUDGE
from handoff.run.judged import judge_unit
from tests.support.bad_logs import night
from tests.support.builders import (
    ZONE,
    at,
    default_limits,
    entry,
    handover,
    order,
    patient,
    set_aside,
    with_limit,
    without_rules,
)
from tests.support.how_many import few
from tests.support.logs import log_of
from tests.support.random_handovers import handovers
from tests.support.samples import AUTUMN, MESSY, SHIFTS, SPRING, checked, handed_over
from tests.support.sheets import patient_page

WARD = [str(path) for path in SHIFTS]
TWO_NUMBERS = re.compile(r"(.+) to (.+)")


def subjects(given: Handover, limits: Limits | None = None) -> list[Subject]:
    limits = limits or default_limits()
    judged = judge_unit(given, limits)
    return [
        Subject(given, measures, judged.verdicts[key], limits)
        for key, measures in judged.measures.items()
    ]


@cache
def ward() -> list[Subject]:
    return subjects(handed_over(*SHIFTS))


def near(number: float | None) -> Any:
    """What the 8 printed digits of a number leave open."""
    return pytest.approx(number, rel=1e-6, abs=1e-6)


def explained(*entries: Entry, **fields: object) -> str:
    (subject,) = subjects(handover(*entries, patients=(patient(**fields),)))
    return explain(subject)


def results(text: str) -> dict[str, tuple[str, str] | None]:
    """Working and value of every result by its name; None where it is not to be had."""
    found: dict[str, tuple[str, str] | None] = {}
    lines = text.splitlines()
    for line, following in pairwise(lines):
        name = re.match(r"([a-z]+\.[a-z_0-9]+): ", line)
        if not name or not following.startswith("    "):
            continue
        working, equals, value = following.strip().rpartition(" = ")
        found[name[1]] = (working, value) if equals else None
        assert equals or following.strip().startswith("not to be had: "), following
    return found


def table(text: str, *columns: str) -> list[dict[str, str]]:
    """The rows, by column, of the first table that has these columns; none where there is none."""
    lines = iter(text.splitlines())
    for line in lines:
        heads = cells(line)
        if line.startswith("    ") and set(columns) <= set(heads):
            rows = takewhile(lambda row: row.startswith("    "), lines)
            return [dict(zip(heads, cells(row), strict=True)) for row in rows]
    return []


def cells(line: str) -> list[str]:
    return re.split(r"\s{2,}", line.strip())


def part_of(subject: Subject, part: str) -> str:
    return explain(subject, [part])


def of_json(subject: Subject) -> dict[str, Any]:
    """The patient as `measures.json` has it."""
    handed = subject.handover
    ids = {subject.patient.id: subject.measures}, {subject.patient.id: subject.verdicts}
    document = json.loads(measures_json(handed, *ids))
    (found,) = (each for each in document["patients"] if each["id"] == subject.patient.id)
    return dict(found)


# Results


def assert_equal(name: str, shown: str | None, value: Any) -> None:
    """A printed value is that of `measures.json`."""
    if value is None or shown is None:
        assert shown is None, name
        assert value is None, name
    elif name == "goal.days_to_goal":
        soonest, latest = TWO_NUMBERS.fullmatch(shown).groups()  # type: ignore[union-attr]
        assert float(soonest) == near(value[0])
        assert latest.startswith("more than 14 days") == (value[1] is None)
        assert value[1] is None or float(latest) == near(value[1])
    elif name in {"goal.reached_at", "trend.middle_at"}:
        assert value.startswith(shown[:16].replace(" ", "T"))
    elif isinstance(value, bool | str):
        assert shown == str(value).lower(), name
    else:
        assert float(shown) == near(value), name


# What is no number of its own in `measures.json`, or the time of one: in tables and workings.
ELSEWHERE = {"slots", "by_day", "best_at", "stay_best_at", "equation"}
SLOPES = {"slope_ml_per_day", "low", "high", "middle_at", "middle_ml"}


def assert_agrees(subject: Subject) -> None:
    found, measured = results(explain(subject)), of_json(subject)
    for part in ("adherence", "volume", "trend", "goal", "reference"):
        numbers = measured[part] or {"volume_ml": None, "lower_limit_ml": None}
        for name in set(numbers) - ELSEWHERE:
            # Without a trend there are no slopes to show, and no name of one is printed.
            shown = found[f"{part}.{name}"] if name not in SLOPES else found.get(f"trend.{name}")
            assert_equal(f"{part}.{name}", shown and shown[1], numbers[name])


def test_every_number_of_the_sample_ward_is_explained_as_measured() -> None:
    assert len(ward()) == 20
    for subject in ward():
        assert_agrees(subject)


ARITHMETIC = re.compile(r"[-+/().\de ]+")


def worked_out(working: str) -> list[float]:
    """What each formula of a working comes to, where it is nothing but arithmetic."""
    formulas = working.replace(" x ", " * ").split("; ")
    if not all(ARITHMETIC.fullmatch(formula.replace("*", "")) for formula in formulas):
        return []
    return [float(eval(formula, {})) for formula in formulas]  # noqa: S307 - digits and signs only


WORKED_OUT = {
    *("volume.change_ml", "volume.change_percent"),
    *("adherence.percent", "adherence.percent_of_charted", "adherence.credited"),
    *("adherence.breaths_due", "adherence.breaths_done"),
    *("trend.slope_ml_per_day", "trend.low", "trend.high", "goal.percent", "goal.days_to_goal"),
}


def assert_arithmetic_holds(subject: Subject) -> set[str]:
    """Every formula as it is printed gives the value beside it; the names of those that do."""
    held = set()
    for name, found in results(explain(subject)).items():
        if found and name != "goal.goal_over_scale" and (came_to := worked_out(found[0])):
            shown = TWO_NUMBERS.fullmatch(found[1])
            values = [found[1]] if shown is None else list(shown.groups())
            for number, value in zip(came_to, values, strict=True):
                if value.startswith("more than 14"):
                    assert number > 14
                else:
                    assert float(value) == near(max(number, 0) if shown else number)
            held.add(name)
    return held


def test_the_printed_arithmetic_of_the_sample_ward_gives_the_printed_numbers() -> None:
    assert set().union(*map(assert_arithmetic_holds, ward())) >= WORKED_OUT


@pytest.mark.parametrize("number", range(20))
def test_what_is_said_to_be_on_the_sheet_is_on_the_sheet(number: int) -> None:
    subject = ward()[number]
    page = page_of(subject)
    said = said_on(page)
    shown = re.findall(r"on the sheet: (.*)", explain(subject))
    assert shown
    assert [each for each in shown if each not in said] == []


def test_a_reading_at_scale_is_explained_as_the_sheet_prints_it() -> None:
    at_scale = patient(order=order("-1 08:00", goal_ml=3000), device_scale_ml=2500)
    rows = (entry("-1 20:00", volume_ml=2000), entry("08:00", volume_ml=2500))
    (subject,) = subjects(handover(*rows, patients=(at_scale,)))
    page = page_of(subject)
    said = said_on(page)
    shown = re.findall(r"on the sheet: (.*)", explain(subject))
    assert {"at least 2,500 mL", "at least 83 %"} <= set(shown)
    assert [each for each in shown if each not in said] == []


def said_on(page: PatientPage) -> str:
    numbers, paragraphs = page.numbers, page.paragraphs
    return " ".join([*(each.value for each in numbers), *(each.value for each in paragraphs)])


def page_of(subject: Subject) -> PatientPage:
    """The subject's sheet: that of the first patient of its hand-over."""
    return patient_page(replace(subject.handover, patients=(subject.patient,)))


# Adherence


def assert_slots_add_up(subject: Subject) -> None:
    """Due from the minutes, done from the rows, credited from both, per cent from their sums."""
    text, periods = part_of(subject, "adherence"), subject.measures.periods
    slots = table(text, "slot", "from")
    assert len(slots) == len(subject.measures.adherence.slots)
    done = dict.fromkeys((slot["slot"] for slot in slots), 0.0)
    places: dict[str, list[str]] = {slot["slot"]: [] for slot in slots}
    for row in table(text, "row", "charts"):
        for share in row["slot: breaths"].split(", "):
            slot, breaths = share.split(": ")
            done[slot] += float(breaths)
            places[slot].append(row["row"])
    for row in slots:
        due, done_here, credited = (float(row[name]) for name in ("due", "done", "credited"))
        minutes = map(float, row["min"].split(" + "))
        parts = zip(periods, minutes, strict=True)
        assert due == near(sum(each.breaths * of / (60 * each.every_h) for each, of in parts))
        assert done_here == near(done[row["slot"]])
        assert credited == min(done_here, due)
        assert row["rows"] == (", ".join(places[row["slot"]]) or "-")
        assert (row["state"] == "uncharted") == (row["rows"] == "-" and due > 0)
    due, credited = (sum(float(slot[name]) for slot in slots) for name in ("due", "credited"))
    percent = subject.measures.adherence.percent
    assert percent == (pytest.approx(100 * credited / due, rel=1e-6) if due else None)
    states = [slot["state"] for slot in slots]
    assert states.count("met") == subject.measures.adherence.slots_met


def test_the_slot_tables_of_the_sample_ward_add_up() -> None:
    for subject in ward():
        assert_slots_add_up(subject)


def test_what_is_not_available_is_named_with_its_row_and_local_time() -> None:
    text = explained(
        entry("09:00", what="away", until="10:30"),
        entry("18:30", what="asleep", until="+1 05:00"),
        order=order("08:15", "18:00"),
    )
    rows = [(row["why"], row["from"][-5:], row["to"][-5:]) for row in table(text, "why", "from")]
    assert rows == [
        ("before the order", "07:00", "08:15"),
        ("away (day.yaml:1)", "09:00", "10:30"),
        ("asleep (day.yaml:2)", "18:30", "19:00"),
        ("the order has stopped", "18:00", "19:00"),
    ]


def test_nothing_is_said_to_be_unavailable_where_all_of_the_shift_is() -> None:
    assert "every minute is available" in explained(entry("09:00"))


def test_breaths_that_do_not_count_as_charted_say_why() -> None:
    text = explained(entry("07:30", flow="blew"), entry("08:30", breaths=None, volume_ml=1200))
    blown, read = table(text, "row", "charts")
    assert "blown out: charted, not done" in blown["charts"]
    assert blown["slot: breaths"] == "1: 0"
    assert "one breath" in read["charts"]
    assert read["slot: breaths"] == "2: 1"


# Rows left out


def test_each_row_with_a_volume_says_where_it_counts_or_why_not() -> None:
    text = explained(
        entry("-2 06:00", volume_ml=700),
        entry("-2 10:00", volume_ml=800),
        entry("-1 09:00", volume_ml=900),
        entry("-1 10:00", volume_ml=950, flow="steady"),
        entry("08:00", volume_ml=1000),
        entry("09:00", volume_ml=1500, flow="fast"),
        entry("10:00", volume_ml=1600, flow="blew"),
        entry("11:00", volume_ml=1100),
        entry("12:00", what="note", volume_ml=1700),
        entry("+1 08:00", volume_ml=2000),
        order=order("-2 08:00"),
    )
    assert [row["counts"] for row in table(text, "row", "flow")] == [
        "left out: before the stay",
        "earlier in the stay",
        "in the 24 h before the shift",
        "in the 24 h before the shift, the best of it",
        "in the shift",
        "left out: off form (fast)",
        "left out: blown out, not in",
        "in the shift, the best of it",
        "left out: not an exercise (note)",
        "left out: later than 'data as of'",
    ]


def test_a_cell_that_cannot_be_used_is_said_where_its_row_is_used() -> None:
    text = explained(
        entry("09:30", volume_ml=1000, breaths=None, raw={"breaths": "many"}),
        entry("10:30", breaths=1, raw={"breaths": "1", "volume_ml": "99999"}),
        entry("11:30", breaths=None, raw={"breaths": "some", "volume_ml": " "}),
    )
    not_used = "the cell of the breaths cannot be used"
    assert [row["charts"] for row in table(text, "charts")] == [
        f"exercise ({not_used}; a volume without a count is one breath)",
        "exercise, 1 breath",
        f"exercise ({not_used})",
    ]
    _, row = table(text, "mL", "counts")
    assert (row["mL"], row["counts"]) == ("-", "left out: the cell of the volume cannot be used")
    _, row = table(text, "mL", "use")
    assert row["use"] == "left out: the cell of the volume cannot be used"


def test_a_goal_without_a_reading_in_good_form_is_not_held_against_a_highest_of_none() -> None:
    text = explained(entry("09:30", volume_ml=900, flow="fast"), order=order(goal_ml=1500))
    _, _, reached = text.partition("goal.reached_at: ")
    assert reached.splitlines()[1] == "    not to be had: no reading in good form in the stay"


def test_a_goal_is_not_said_to_be_missing_where_its_cell_may_not_have_been_readable() -> None:
    working, _ = results(explained(order=order()))["goal.source"] or ("", "")
    assert working == "no goal or baseline that can be used: 'beat your best so far'"


def test_rows_at_the_very_borders_count_where_the_measures_count_them() -> None:
    given = handover(
        entry("07:00", volume_ml=800),
        entry("19:00", volume_ml=900),
        entry("20:00", volume_ml=1000),
        as_of="20:00",
    )
    (subject,) = subjects(given)
    text = part_of(subject, "volume")
    assert [row["counts"] for row in table(text, "row", "flow")] == [
        *("in the shift, the best of it", "after the shift", "after the shift")
    ]
    assert_agrees(subject)


def test_each_count_of_readings_names_as_many_rows() -> None:
    text = explained(
        entry("08:00", volume_ml=4000),
        entry("09:00", volume_ml=1500, flow="fast"),
        entry("10:00", volume_ml=1500, flow="slow"),
        entry("11:00", volume_ml=1500, flow="blew"),
    )
    found = results(text)
    assert [found[f"volume.{name}"] for name in ("readings", "off_form", "at_scale")] == [
        ("count of day.yaml:1, day.yaml:2, day.yaml:3", "3"),
        ("count of day.yaml:2, day.yaml:3", "2"),
        ("count of day.yaml:1", "1"),
    ]


def test_the_reading_that_first_reached_the_goal_is_named_also_when_it_is_just_the_goal() -> None:
    text = explained(entry("08:00", volume_ml=1900), entry("09:00", volume_ml=2000))
    assert results(text)["goal.reached_at"] == ("day.yaml:2, 2000 mL", "2026-05-12 09:00")


def test_holds_pain_and_oxygen_are_those_of_the_shift() -> None:
    found = results(
        explained(
            entry("-1 20:00", hold_s=9, pain=9, spo2=80),
            entry("06:30", hold_s=8, spo2=82),
            entry("07:10", what="note", pain=2, spo2=93),
            entry("08:00", hold_s=3, pain=4, spo2=96),
            entry("09:00", hold_s=4, spo2=93),
            order=order("-1 08:00"),
        )
    )
    assert [found[f"bedside.{name}"] for name in ("held_s", "pain", "lowest_spo2")] == [
        ("3 (day.yaml:4), 4 (day.yaml:5): median", "3.5"),
        ("2 (day.yaml:3), 4 (day.yaml:4): least to greatest", "2 to 4"),
        (
            (
                "93 (day.yaml:3), 96 (day.yaml:4), 93 (day.yaml:5): lowest, day.yaml:5, "
                "2026-05-12 09:00"
            ),
            "93",
        ),
    ]


def test_rows_in_no_number_are_listed_with_the_reason_also_those_set_aside() -> None:
    given = handover(
        entry("-1 09:00", volume_ml=900),
        entry("+1 08:00", volume_ml=2000),
        set_aside=(set_aside("09:00", line=14), set_aside(patient_id="other", line=15)),
    )
    (subject,) = subjects(given)
    rows = table(explain(subject), "row", "why")
    assert [(row["row"], row["why"]) for row in rows] == [
        ("day.yaml:1", "before the stay"),
        ("day.yaml:2", "later than 'data as of'"),
        ("day.yaml:14", "set aside: day.yaml:14: this is not a time. Write a time."),
    ]


# Trend


def assert_trend_follows_from_its_points(subject: Subject) -> None:
    """Means, slope, residuals and interval, worked out again from the points as printed."""
    text, trend = part_of(subject, "trend"), subject.measures.trend
    rows = table(text, "point", "time")
    x, y = ([float(row[name]) for row in rows] for name in ("x", "y"))
    assert len(rows) == trend.n
    if trend.direction is Direction.TOO_FEW:
        assert "residual" not in text
        return
    mean_x, mean_y = sum(x) / len(x), sum(y) / len(y)
    xx = sum((each - mean_x) ** 2 for each in x)
    slope = sum((a - mean_x) * (b - mean_y) for a, b in zip(x, y, strict=True)) / xx
    residuals = [b - mean_y - slope * (a - mean_x) for a, b in zip(x, y, strict=True)]
    printed = [float(row["residual: y - line"]) for row in rows]
    assert printed == pytest.approx(residuals, rel=1e-4, abs=1e-3)
    found = {name: (each or ("", "0"))[1] for name, each in results(text).items()}
    half = math.sqrt(sum(each**2 for each in residuals) / (len(x) - 2) / xx)
    half *= 1.2 * T_95[len(x)]
    expected = (slope, slope - half, slope + half)
    printed = [float(found[name]) for name in ENDS]
    assert printed == pytest.approx(expected, rel=1e-4, abs=1e-3)


# As any table has them: Student's t, two-sided 95 %, by the number of points.
T_95 = {
    **dict(enumerate((3.182446, 2.776445, 2.570582, 2.446912, 2.364624, 2.306004), start=5)),
    **dict(enumerate((2.262157, 2.228139, 2.200985, 2.178813, 2.160369), start=11)),
}
ENDS = ("trend.slope_ml_per_day", "trend.low", "trend.high")


def test_a_patient_of_the_sample_ward_worked_through_with_a_pencil() -> None:
    """Bed 2A, from the table of points. x in days, y in mL; X and Y are x and y less their means,
    -1.7680 and 1,235.71 (the sums are -12.3757 and 8,650, of 7 points).

      x         y      X         Y         X x X     X x Y     line     y - line   its square
      -3.0438   950    -1.2758   -285.71   1.6277    364.51    999.47   -49.47     2447.2
      -2.8778   1050   -1.1098   -185.71   1.2317    206.11    1030.20  19.80      391.9
      -2.3375   1150   -0.5695   -85.71    0.3244    48.82     1130.25  19.75      390.1
      -1.8771   1250   -0.1091   14.29     0.0119    -1.56     1215.51  34.49      1189.8
      -1.0458   1300   0.7221    64.29     0.5215    46.42     1369.43  -69.43     4821.0
      -0.9500   1450   0.8180    214.29    0.6691    175.28    1387.18  62.82      3946.4
      -0.2438   1500   1.5242    264.29    2.3232    402.83    1517.96  -17.96     322.5
      sums                                 6.7094    1242.41                       13508.9

    Slope 1242.41 / 6.7094 = 185.17 mL a day. s = square root of 13508.9 / 5 = 51.98. Half width
    1.2 x 2.570582 x 51.98 / square root of 6.7094 = 3.0847 x 51.98 / 2.5902 = 61.90: 123.27 to
    247.08. All over 0, and 185 is over 50: rising. The middle readings of the last 48 h and of the
    48 h before are 1,400 and 1,050 mL: 350 are over 100, so it goes on. To the goal of 2,000 mL:
    -1.7680 + 764.29 / 247.08 = 1.325 days, and -1.7680 + 764.29 / 123.27 = 4.432.
    """
    (subject,) = (each for each in ward() if each.patient.bed == "2A")
    text = explain(subject, ["trend", "goal"])
    rows = table(text, "point", "time")
    printed = [(float(row["x"]), float(row["y"])) for row in rows]
    x = (-3.0438, -2.8778, -2.3375, -1.8771, -1.0458, -0.9500, -0.2438)
    y = (950, 1050, 1150, 1250, 1300, 1450, 1500)
    assert [each for each, _ in printed] == pytest.approx(x, abs=5e-5)
    assert [each for _, each in printed] == list(y)
    over = [float(row["residual: y - line"]) for row in rows]
    assert over == pytest.approx((-49.47, 19.80, 19.75, 34.49, -69.43, 62.82, -17.96), abs=5e-3)
    steps = re.findall(r"(?:mean of [xy]|xx = .*|xy = .*|s = .*|half = .*) = (-?[\d.]+)", text)
    numbers = [float(each) for each in steps]
    assert numbers == pytest.approx((-1.7680, 1235.71, 6.7094, 1242.41, 51.98, 61.90), rel=1e-4)
    found = {name: (each or ("", ""))[1] for name, each in results(text).items()}
    ends = [float(found[name]) for name in ENDS]
    assert ends == pytest.approx((185.17, 123.27, 247.08), abs=6e-3)
    assert found["trend.direction"] == "rising"
    assert "last 48 h = 1400 mL; of the 48 h\n    before = 1050 mL: a rise of 350 mL" in text
    days = TWO_NUMBERS.fullmatch(found["goal.days_to_goal"])
    assert days is not None
    assert [float(each) for each in days.groups()] == pytest.approx((1.325, 4.432), abs=6e-4)


def test_the_trends_of_the_sample_ward_follow_from_their_points() -> None:
    for subject in ward():
        assert_trend_follows_from_its_points(subject)


def test_each_point_is_a_row_of_its_block_and_the_others_say_why_not() -> None:
    for subject in ward():
        text, trend = part_of(subject, "trend"), subject.measures.trend
        rows = table(text, "row", "use")
        points = [row for row in rows if row["use"].startswith("point ")]
        assert [row["use"] for row in points] == [f"point {n + 1}" for n in range(trend.n)]
        assert [float(row["mL"]) for row in points] == [p.volume_ml for p in trend.points]
        assert len({row["block from"] for row in points}) == trend.n
        for row in rows:
            of_block = [r for r in rows if r["block from"] == row["block from"] and is_used(r)]
            in_order = sorted(of_block, key=lambda r: (float(r["mL"]), r["time"]))
            is_middle = in_order and row is in_order[len(in_order) // 2]
            assert bool(is_middle) == row["use"].startswith("point "), row


def is_used(row: dict[str, str]) -> bool:
    return not row["use"].startswith("left out")


def test_a_block_is_named_by_its_start_and_holds_its_rows() -> None:
    for subject in ward():
        for row in table(part_of(subject, "trend"), "row", "use"):
            start, time = (datetime.fromisoformat(row[name]) for name in ("block from", "time"))
            assert start <= time < start + timedelta(hours=12)


def test_a_row_of_a_week_before_is_a_point_and_one_of_a_minute_earlier_is_not() -> None:
    ward = patient(order=order("-9 08:00"))
    rows = (entry("-7 18:59", volume_ml=900), entry("-7 19:00", volume_ml=800))
    (subject,) = subjects(handover(*rows, patients=(ward,)))
    assert [row["use"] for row in table(explain(subject), "row", "use")] == [
        *("left out: more than 7 days before 'data as of'", "point 1")
    ]


def test_a_sleep_from_before_the_shift_is_said_from_its_start_on() -> None:
    rows = table(explained(entry("06:00", what="asleep", until="09:00")), "why", "to")
    assert [(row["from"], row["to"]) for row in rows if row["why"].startswith("asleep")] == [
        ("2026-05-12 07:00", "2026-05-12 09:00")
    ]


def test_of_two_equal_rows_at_one_minute_one_is_the_point() -> None:
    text = explained(entry("08:00", volume_ml=900), entry("08:00", volume_ml=900, pain=2))
    assert [row["use"] for row in table(text, "row", "use")] == [
        *("not the middle of its block", "point 1")
    ]


# Cautions


def assert_rules_are_explained(subject: Subject) -> None:
    text = part_of(subject, "cautions")
    assert f"= {subject.verdicts.priority}\n" in text
    for verdict in subject.verdicts.all:
        (line,) = re.findall(rf"^ *{verdict.rule}: (?:met|not met|undecided).*$", text, re.M)
        if verdict.state is State.MET:
            assert_met_is_explained(text, verdict)
        else:
            assert line.startswith("    ")
            assert BY_NAME[verdict.rule].question(subject.limits) in line
        assert (f"undecided, {verdict.why}." in line) == (verdict.state is State.UNDECIDED)


def assert_met_is_explained(text: str, verdict: Verdict) -> None:
    _, block = re.split(rf"^{verdict.rule}: met, ", text, maxsplit=1, flags=re.M)
    block = re.split(r"\n(?! {4})", block, maxsplit=1)[0]
    assert block.startswith(str(verdict.level))
    assert (f"replaced by {verdict.replaced_by}" in block) == (verdict.replaced_by is not None)
    value, limit = re.search(r"value: (\S+)", block), re.search(r"limit: (\S+)", block)
    assert value
    assert limit
    for shown, number in ((value[1], verdict.value), (limit[1], verdict.limit)):
        if number is None:
            assert shown == "none"
        elif isinstance(number, str):
            assert number.startswith(shown)
        else:
            assert float(shown) == near(number)
    assert f"source: {verdict.source}" in block
    assert re.findall(r"row (\S+:\d+)[,:]", block) == [str(place) for place in verdict.entries]
    assert block.count("    told ") == len(verdict.told)


def test_every_rule_is_explained_for_every_patient_of_the_sample_ward() -> None:
    met = set()
    for subject in ward():
        assert_rules_are_explained(subject)
        met |= {verdict.rule for verdict in subject.verdicts.all if verdict.state is State.MET}
    assert met == set(BY_NAME) - {"sign-unreadable"}  # every cell of the ward's logs can be read


def test_an_escalation_says_what_was_told_or_that_it_is_not_yet() -> None:
    low = entry("09:00", spo2=85)
    assert "    not yet recorded as told" in explained(low)
    told = explained(low, entry("09:20", what="told", about=("oxygen",), note="Dr Quill: mask"))
    assert "    told 2026-05-12 09:20 (day.yaml:2): Dr Quill: mask" in told
    assert "not yet recorded as told" not in told


def test_a_sign_in_a_row_set_aside_is_named() -> None:
    (subject,) = subjects(handover(set_aside=(set_aside("09:00", "faint", line=14),)))
    told = part_of(subject, "cautions")
    assert "sign-unreadable: met, escalate" in told
    assert "signs that cannot be read: symptoms (faint?) in day.yaml:14" in told


def test_every_rule_has_a_question_that_names_each_of_its_limits() -> None:
    for rule, stated in default_limits().rules.items():
        asks = JUDGE.sentences[f"asks.{rule}"]
        named = {name for _, name, _, _ in string.Formatter().parse(asks) if name}
        assert named == set(stated.limits), rule


FOUND = {
    "low-oxygen": "SpO2 95 to 97 in 2 rows; ordered 92 % or more",
    "high-oxygen": "SpO2 95 to 97 in 2 rows; no upper limit",
    "new-oxygen": "not charted on air and then on oxygen",
    "sign-unreadable": "signs that cannot be read: none",
    "breathing-rate": "breathing rate not recorded",
    "pulse": "pulse 88 to 140 in 2 rows",
    "low-temperature": "temperature not recorded",
    "fever": "temperature not recorded",
    "faint-or-chest-pain": "charted in 0 of 3 rows",
    "drowsy-or-confused": "charted in 0 of 3 rows",
    "dizziness": "charted in 1 of 3 rows (at 2026-05-12 08:00)",
    "dizziness-again": "charted in 1 of 3 rows (at 2026-05-12 08:00)",
    "dizziness-with-signs": (
        "charted in 1 of 3 rows (at 2026-05-12 08:00); signs: pulse 140 /min at 2026-05-12 10:00"
    ),
    "breathless": "charted in 1 of 3 rows (at 2026-05-12 10:00)",
    "breathless-again": (
        "charted in 1 of 3 rows (at 2026-05-12 10:00); signs: pulse 140 /min at 2026-05-12 10:00"
    ),
    "volume-drop": "last 1000, 1500 mL; before 1500 mL of 1; the last 66.666667 %",
    "volume-drop-with-signs": (
        "last 1000 mL; before 1500 mL of 1; highest of them 66.666667 % (line: sign); "
        "signs: wheeze at 2026-05-12 10:00"
    ),
    "falling-trend": "direction too_few, points 2",
    "volume-too-low": (
        "best of the shift 1000 mL; good-form readings: 1; 10 mL/kg x weight 72 kg = 720 mL"
    ),
    "not-started": "exercises in the stay: 3; available hours: 35",
    "nothing-charted": "rows in the shift: 3; slots due: 12; exercises before: 1",
    "not-seen": "no sign charted since 2026-05-12 10:00, 9 h by the clock; not over: danger",
    "not-charted": "9 of 12 slots due are uncharted",
    "not-taught": "taught: done; available hours: 35; order active",
    "no-return-demonstration": "exercises in the stay: 3; taught: done; shown back: not recorded",
    "not-labelled": "device: done; label: not done",
    "low-adherence": "percent_of_charted 66.666667 %; charted slots: 3; explained by: form",
    "declined": "1 row with 'declined'; pain beside: 5",
    "pain-limits": "pain: 5",
    "pain-again": "pain: 5",
    "technique": "exercises: 2, of these blown: 0, fast or slow: 1, without a flow: 1",
    "short-hold": "median 3 s; holds: 1; ordered 5 s",
    "too-many-at-once": "breaths at exercises of that kind: 12",
    "exercise-on-hold": "exercises charted while held: 0 rows",
    "came-from-elsewhere": (
        "listed before, or no earlier log is given; order began 2026-05-11 08:00"
    ),
    "goal-reached": (
        "best 1000 mL, goal 2000 mL (ordered); silent: a fall or a danger is not closed"
    ),
    "goal-over-scale": "goal 2000 mL, scale 4000 mL",
    "reading-at-scale": "highest 1200 mL, scale 4000 mL",
    "no-goal": "ordered goal 2000 mL; order active",
    "going-home": (
        "going home: 2026-05-13; shown back: not recorded; device: done; label: not done; "
        "dangers not settled: 3"
    ),
}


def found_texts(subject: Subject) -> dict[str, str]:
    """What is printed as found of each rule."""
    text = part_of(subject, "cautions")
    not_met = re.findall(r"^ {4}([a-z-]+): .* Found: (.*)\. Rule: ", text, re.M)
    met = re.findall(r"^([a-z-]+): met, .*\n    rule: .*\n    found: (.*)$", text, re.M)
    return {**dict(not_met), **dict(met)}


def test_what_was_found_is_said_of_each_rule() -> None:
    known = patient(
        order=order("-1 08:00", goal_ml=2000, spo2_min=92),
        home_on=date(2026, 5, 13),
        weight_kg=72,
        device_labelled=False,
        shown_back=None,
    )
    given = handover(
        entry("-1 20:00", volume_ml=1500),
        entry("08:00", "dizzy", breaths=12, volume_ml=1000, hold_s=3, pain=5, spo2=97, pulse=88),
        entry("09:00", what="declined"),
        entry("10:00", "wheeze", volume_ml=1200, flow="fast", spo2=95, pulse=140),
        patients=(known,),
    )
    (subject,) = subjects(given)
    assert found_texts(subject) == FOUND


def found_of(rule: str, *entries: Entry, **fields: Any) -> str:
    """What is printed as found of one rule, of a patient who was ordered the day before."""
    ward = patient(order=order("-1 08:00", goal_ml=2000), **fields)
    (subject,) = subjects(handover(*entries, patients=(ward,)))
    return found_texts(subject)[rule]


def test_a_time_at_which_two_rows_chart_a_symptom_is_said_once() -> None:
    rows = (entry("08:00", "dizzy"), entry("08:00", "tingling"), entry("09:00"))
    assert found_of("dizziness", *rows) == "charted in 2 of 3 rows (at 2026-05-12 08:00)"


def test_dizziness_beside_signs_says_the_rows_of_just_before_the_shift_too() -> None:
    rows = (
        entry("06:09", "faint"),
        entry("06:10", "dizzy"),
        entry("06:20", pulse=131),
        entry("07:10", pulse=140),
    )
    assert found_of("dizziness-with-signs", *rows) == (
        "charted in 1 of 4 rows (at 2026-05-12 06:10); signs: faint at 2026-05-12 06:09, "
        "pulse 131 /min at 2026-05-12 06:20, pulse 140 /min at 2026-05-12 07:10"
    )
    assert found_of("dizziness", *rows) == "charted in 0 of 1 row"


def test_signs_are_said_in_time_order_and_also_where_nothing_fell() -> None:
    rows = (
        entry("-1 20:00", volume_ml=1500),
        entry("08:00", "wheeze", volume_ml=1400),
        entry("07:30", temp_c=38.5),
        entry("08:30", spo2=85),
    )
    assert found_of("volume-drop-with-signs", *rows) == (
        "last 1400, 1500 mL; before 1500 mL of 1; the last 93.333333 %; signs: "
        "temperature 38.5 °C at 2026-05-12 07:30, wheeze at 2026-05-12 08:00, "
        "SpO2 85 % at 2026-05-12 08:30"
    )


def test_rows_by_which_nobody_saw_the_patient_are_said_to_be_such() -> None:
    note, before = entry("08:00", what="note", note="sleeps"), entry("-1 20:00")
    rest = "; slots due: 12; exercises before: 1"
    rule = "nothing-charted"
    assert found_of(rule, before, note) == f"rows in the shift: 1 (the patient seen in none){rest}"
    assert found_of(rule, before, note, entry("09:00", what="declined")) == (
        f"rows in the shift: 2{rest}"
    )
    assert found_of(rule, before) == f"rows in the shift: 0{rest}"
    at_its_start = found_of(rule, entry("07:00"))
    assert at_its_start == "rows in the shift: 1; slots due: 12; exercises before: 0"


def test_the_size_that_is_used_is_the_one_said() -> None:
    rule, row = "volume-too-low", entry("08:00", volume_ml=900)
    known = {"sex": "female", "height_cm": 160.0, "weight_kg": 70.0}
    best = "best of the shift 900 mL; good-form readings: 1; "
    reference = re.escape(best) + r"0\.33333333 x reference [0-9.]+ mL{} = [0-9.]+ mL"
    assert re.fullmatch(reference.format(""), found_of(rule, row, **known))
    old = {**known, "born": date(1940, 5, 5)}
    assert re.fullmatch(reference.format(" at 80 years"), found_of(rule, row, **old))
    # The worked value of sources.md: female, 160 cm, 52.4 kg.
    assert found_of(rule, row, **known, born=None) == (
        f"{best}10 mL/kg x predicted weight 52.416 kg = 524.16 mL"
    )
    assert found_of(rule, row, weight_kg=70.0) == f"{best}10 mL/kg x weight 70 kg = 700 mL"
    assert found_of(rule) == (
        "best of the shift - mL; good-form readings: 0; no reference, no weight"
    )


def test_the_reference_at_80_and_the_predicted_weight_are_explained_step_by_step() -> None:
    known = {"sex": "female", "height_cm": 160.0}

    def reference_part(born: date | None) -> str:
        (subject,) = subjects(handover(patients=(patient(**known, born=born),)))
        return part_of(subject, "reference")

    old = reference_part(date(1940, 5, 5))
    assert "Over 80 years: volume-too-low uses the reference at 80." in old
    assert re.search(r"age = 31418 days / 365\.25 = 86\.0\d+ years, used: 80; height = 160 cm", old)
    # The worked value of sources.md: female, 160 cm, 52.4 kg.
    assert "45.5 + 0.91 (160 - 152.4) = 52.416 kg" in reference_part(None)


def test_why_a_goal_that_is_reached_is_not_said_is_explained() -> None:
    rows = (entry("08:00", volume_ml=2000), entry("09:00", pulse=150))
    assert found_of("goal-reached", *rows) == (
        "best 2000 mL, goal 2000 mL (ordered); silent: a fall or a danger is not closed"
    )


def test_not_seen_says_what_is_waited_for() -> None:
    before, hold = entry("08:00", pulse=80), entry("09:00", what="hold", note="Dr Quill")
    counted = "no sign charted since 2026-05-12 09:00, 10 h by the clock; not over: "
    assert found_of("not-seen", before, hold) == f"{counted}hold"
    assert found_of("not-seen", before, entry("09:00", pulse=150)) == f"{counted}danger"
    assert found_of("not-seen") == "not seen in the shift"
    seen = "last seen 2026-05-12 08:00, 11 available hours before"
    assert found_of("not-seen", entry("08:00")) == seen


def test_the_limits_in_force_are_the_ones_explained() -> None:
    own = with_limit("fever", "temp_c_at_or_over", "38.5")
    (subject,) = subjects(handover(entry("09:00", temp_c=38.2)), own)
    text = part_of(subject, "cautions")
    assert re.search(r"fever: not met\. Found: temperature 38\.2 in 1 row\. Rule: .* 38\.5 ", text)


def test_a_rule_that_is_switched_off_is_said_to_be() -> None:
    (subject,) = subjects(handover(), without_rules("no-goal"))
    assert "    no-goal: switched off by the unit." in part_of(subject, "cautions")


def test_what_is_carried_from_before_the_shift_is_said() -> None:
    given = handover(entry("08:00", what="hold", note="Dr Quill: scan"), entry("09:00"))
    given = replace(given, from_elsewhere=frozenset({given.patients[0].id}))
    (subject,) = subjects(given)
    texts = found_texts(subject)
    assert texts["exercise-on-hold"] == "exercises charted while held: 1 row"
    assert texts["came-from-elsewhere"].startswith("not known where from; order began ")


# Matters

ON_AIR = {"on_oxygen": False}
LOW, FINE = {"spo2": 85, **ON_AIR}, {"spo2": 97, **ON_AIR}
OF_TWO_SHIFTS = patient(order=order("-1 08:00"))


def life(name: str, *entries: Entry) -> str:
    given = handover(*entries, patients=(OF_TWO_SHIFTS,))
    limits = default_limits()
    followed = follow(given, OF_TWO_SHIFTS, limits)
    return explain_matters(given, OF_TWO_SHIFTS, followed, name, limits)


def course(name: str, *entries: Entry) -> list[tuple[str, str]]:
    """The line and what it does of each row in the life of the only matter of this name."""
    rows = table(life(name, *entries), "row", "what it does")
    return [(row["row"].rpartition(":")[2], row["what it does"]) for row in rows]


@pytest.mark.parametrize(
    ("low", "later", "why"),
    [
        (LOW, entry("08:59", **FINE), "too soon after the last row that met it"),
        (LOW, entry("10:00", **FINE, seen_by=SeenBy.PATIENT), "charted by the patient"),
        (
            LOW,
            entry("10:00", spo2=97, on_oxygen=True, oxygen="2 L"),
            "on oxygen, the low value on air or its oxygen not recorded",
        ),
        (
            LOW,
            entry("10:00", spo2=97),
            "whether on oxygen, or how much, not recorded now or then",
        ),
        (
            {"spo2": 85, "on_oxygen": True, "oxygen": "2 L"},
            entry("10:00", spo2=97, on_oxygen=True, oxygen="3 L"),
            "on more oxygen than the low value",
        ),
        (
            {"spo2": 85, "on_oxygen": True, "oxygen": "2 L"},
            entry("10:00", spo2=97, on_oxygen=True),
            "whether on oxygen, or how much, not recorded now or then",
        ),
        (
            {"spo2": 85},
            entry("10:00", spo2=97, on_oxygen=True),
            "on oxygen, the low value on air or its oxygen not recorded",
        ),
    ],
)
def test_a_value_that_does_not_settle_a_low_one_says_why(
    low: dict[str, Any], later: Entry, why: str
) -> None:
    assert course("low-oxygen", entry("08:00", **low), later) == [
        ("1", "opens it"),
        ("2", f"SpO2 again: does not settle it, {why}"),
    ]


@pytest.mark.parametrize(
    ("low", "later"),
    [
        (LOW, entry("09:00", **FINE)),
        ({"spo2": 85}, entry("09:00", spo2=97)),
        ({"spo2": 85, "on_oxygen": True}, entry("09:00", **FINE)),
        (
            {"spo2": 85, "on_oxygen": True, "oxygen": "2 L"},
            entry("09:00", spo2=97, on_oxygen=True, oxygen="2 L"),
        ),
    ],
)
def test_a_value_that_settles_a_low_one_is_said_to(low: dict[str, Any], later: Entry) -> None:
    assert course("low-oxygen", entry("08:00", **low), later)[1:] == [
        ("2", "SpO2 again: settles it")
    ]
    text = life("low-oxygen", entry("08:00", **low), later)
    assert "    settled: 2026-05-12 09:00, by the record\n" in text
    assert "to be settled" not in text
    assert "to be told: a 'told' row with a note, at 2026-05-12 08:00 or later" in text


def test_a_symptom_is_settled_by_none_and_by_no_other_symptom() -> None:
    rows = (
        entry("08:00", "faint"),
        entry("08:30", "none"),
        entry("09:30", "cough"),
        entry("10:00", spo2=97),
        entry("11:00", "none"),
    )
    assert course("faint-or-chest-pain:faint", *rows) == [
        ("1", "opens it"),
        ("2", "symptoms again: does not settle it, too soon after the last row that met it"),
        ("3", "symptoms again: does not settle it, another symptom, not 'none'"),
        ("5", "symptoms again: settles it"),
    ]


def test_what_consists_of_several_signs_is_settled_part_by_part() -> None:
    rows = (entry("08:00", "dizzy", pulse=140), entry("09:00", pulse=140), entry("10:00", pulse=80))
    assert course("dizziness-with-signs", *rows)[-1] == (
        *("3", "pulse again: settles this part of it"),
    )
    text = life("dizziness-with-signs", *rows)
    assert "to be settled: 'none' among the symptoms" in text
    assert "to be settled: pulse" not in text


def test_a_fall_is_settled_by_a_volume_alone() -> None:
    rows = (
        entry("-1 12:00", volume_ml=1500),
        entry("-1 20:00", volume_ml=600, temp_c=38.5),
        entry("08:00", volume_ml=1200, temp_c=37),
        entry("09:00", volume_ml=1300),
    )
    assert course("volume-drop-with-signs", *rows[:3])[-1] == (
        *("3", "volume again: does not settle it, not yet within its limits"),
    )
    assert "a volume in good form, over 85 % of 1500 mL" in life(
        "volume-drop-with-signs", *rows[:3]
    )
    assert course("volume-drop-with-signs", *rows)[-1] == ("4", "volume again: settles it")


def test_each_thing_told_is_said_with_what_it_does() -> None:
    told = {"what": "told", "note": "Dr Quill: mask"}
    rows = (
        entry("-1 20:00", **told, about=("oxygen",)),
        entry("-1 21:00", **LOW),
        entry("-1 21:10", **told, about=("oxygen",)),
        entry("08:00", **LOW),
        entry("08:30", **told),
        entry("08:40", **told, about=("pulse",)),
        entry("08:50", **told, about=("oxygen",)),
    )
    assert course("low-oxygen", *rows) == [
        ("2", "opens it"),
        ("3", "told, before its last row"),
        ("4", "meets it again"),
        ("5", "told, about what is not recorded"),
        ("7", "told of it"),
    ]
    text = life("low-oxygen", *rows[:5])
    assert "the one about what is not recorded answers it as soon as it is settled" in text
    assert '"Dr Quill: mask"' in text


def test_what_a_person_settles_and_what_is_met_after_that() -> None:
    settled = {"what": "settled", "note": "Dr Quill: usual", "about": ("oxygen",)}
    rows = (entry("08:00", **LOW), entry("08:10", **settled))
    assert course("low-oxygen", *rows)[-1] == ("2", "settled by a person")
    assert "    settled: 2026-05-12 08:10, by a person\n" in life("low-oxygen", *rows)
    again = (*rows, entry("09:00", **LOW))
    assert course("low-oxygen", *again) == [
        ("1", "opens it"),
        ("2", "settled by a person, before it was met again"),
        ("3", "meets it again"),
    ]
    assert "    settled: -\n" in life("low-oxygen", *again)


def test_what_was_looked_at_between_two_rows_that_met_it_is_said_too() -> None:
    rows = (entry("08:00", **LOW), entry("09:30", **FINE), entry("10:00", **LOW))
    assert [does for _, does in course("low-oxygen", *rows)] == [
        *("opens it", "SpO2 again: settles it", "meets it again")
    ]


def test_a_low_value_on_air_is_said_to_want_air() -> None:
    assert "\n            on air\n" in life("low-oxygen", entry("08:00", **LOW))
    on_oxygen = life("low-oxygen", entry("08:00", spo2=85, on_oxygen=True, oxygen="2 L"))
    assert "\n            on air, or on no more oxygen than the low value\n" in on_oxygen


@pytest.mark.parametrize("oxygen", ["mask", None])
def test_a_low_value_on_oxygen_without_a_number_is_said_to_want_air(oxygen: str | None) -> None:
    low = entry("08:00", spo2=85, on_oxygen=True, oxygen=oxygen)
    assert "\n            on air\n" in life("low-oxygen", low)


def test_a_low_value_without_a_record_of_oxygen_is_said_to_want_no_oxygen() -> None:
    text = life("low-oxygen", entry("08:00", spo2=85))
    assert "\n            not on oxygen: whether the low value was is not recorded\n" in text


def test_only_the_low_value_says_on_what_oxygen_it_is_settled() -> None:
    """A dizzy row on air, and a low value on oxygen: the same amount of oxygen will do."""
    rows = (
        entry("08:00", "dizzy", on_oxygen=False),
        entry("08:10", spo2=85, on_oxygen=True, oxygen="2 L"),
    )
    text = life("dizziness-with-signs", *rows)
    assert "\n            on air, or on no more oxygen than the low value\n" in text


def test_why_a_matter_has_its_level_is_said_in_each_state() -> None:
    low, fine = entry("08:00", **LOW), entry("10:00", **FINE)
    told = entry("08:10", what="told", about=("oxygen",), note="Dr Quill")
    oxygen = {"spo2": 97, "on_oxygen": True}
    eased = (entry("09:00", **oxygen), entry("11:00", **oxygen))
    said = {
        "not told and not settled": (low,),
        "told, not settled\n": (low, told),
        "told, not settled, but within limits twice on oxygen, not off it": (low, told, *eased),
        "settled, not told, last met in the shift handed over": (low, fine),
        "settled, not told, last met earlier": (entry("-1 20:00", **LOW), entry("08:00", **FINE)),
        "told and settled, opened in the shift handed over": (low, told, fine),
        "told and settled, opened earlier": (entry("-1 20:00", **LOW), told, fine),
    }
    for why, rows in said.items():
        (line,) = re.findall(r"^    level: .*\n", life("low-oxygen", *rows) + "\n", re.M)
        assert why in line


def test_all_matters_have_a_line_each_and_stand_in_the_cautions_too() -> None:
    rows = (
        entry("08:00", "faint", **LOW),
        entry("08:10", what="told", about=("oxygen",), note="Dr Quill"),
        entry("10:00", **FINE),
    )
    listed = table(life("all", *rows), "matter", "state")
    assert [
        (row["matter"], row["state"], row["told"][-5:], row["settled"][-5:]) for row in listed
    ] == [
        ("faint-or-chest-pain:faint", "open", "-", "-"),
        ("low-oxygen", "closed", "08:10", "10:00"),
    ]
    assert table(explained(*rows, order=order("-1 08:00")), "matter", "state") == listed
    assert "No danger of this stay" in life("all", entry("08:00"))


def assert_lives_are_explained(given: Handover) -> int:
    """The rows, answers and looks of every matter stand in its life; how many matters there are."""
    limits = default_limits()
    of_all = judge_unit(given, limits).matters
    for each in given.patients:
        matters = of_all[each.id]
        listed = table(explain_matters(given, each, matters, "all", limits), "matter", "state")
        assert [(row["matter"], row["state"], row["level"]) for row in listed] == [
            (matter.name, matter.state, matter.level) for matter in matters
        ]
        for matter in matters:
            text = "\n".join(lines_of("", explain_matter(matter, given.unit.time_zone, limits)))
            assert_life_is_explained(text, matter, given)
    return sum(map(len, of_all.values()))


def assert_life_is_explained(text: str, matter: Matter, given: Handover) -> None:
    rows = table(text, "row", "what it does")
    times = [row["time"] for row in rows]
    assert times == sorted(times)
    met = [row["row"] for row in rows if row["what it does"] in {"opens it", "meets it again"}]
    assert met == [str(row.place) for row in matter.rows]
    looks = [row["what it does"] for row in rows if " again: " in row["what it does"]]
    assert len(looks) == len(matter.looked) + len(matter.looked_before)
    not_over = [look for look in (*matter.looked, *matter.looked_before) if look.why_not]
    assert sum(" does not settle " in look for look in looks) == len(not_over)
    assert sum(row["what it does"] == "told of it" for row in rows) == len(matter.told)
    settled = re.search(r"^    settled: (\S+(?: \S+)?)(?:, by.*)?$", text, re.M)
    assert settled
    zone = given.unit.time_zone
    assert settled[1].rstrip(",") == local_time(matter.settled_at, zone)
    open_still = matter.state is not MatterState.CLOSED
    assert ("what would close it" in text) == open_still


def assert_looks_agree(matter: Matter) -> None:
    """What the record settled has a row that says so for its last part, and what is not settled
    has none for the parts that are still wanted."""
    over = [look for look in matter.looked if look.why_not is None]
    if matter.settled_at is not None and matter.settled_by is None:
        assert matter.settled_at in {look.row.at for look in over}
    if matter.settled_at is None:
        assert matter.unsettled
        assert not {look.part for look in over} & {*matter.unsettled}
    assert all(look.row.at > matter.last_at for look in matter.looked)
    assert all(look.row.by_staff for look in over)


def test_the_life_of_every_matter_of_the_sample_ward_is_explained() -> None:
    assert assert_lives_are_explained(handed_over(*SHIFTS)) > 5


@settings(max_examples=few(20))
@given(handovers())
def test_every_part_of_a_random_hand_over_is_explained(given: Handover) -> None:
    """Numbers, arithmetic, slots, trends, rules and matters, all of the same hand-overs."""
    for subject in subjects(given):
        assert_agrees(subject)
        assert_arithmetic_holds(subject)
        assert_slots_add_up(subject)
        assert_trend_follows_from_its_points(subject)
        assert_rules_are_explained(subject)
    assert_lives_are_explained(given)
    for matters in judge_unit(given, default_limits()).matters.values():
        for matter in matters:
            assert_looks_agree(matter)


def test_every_reason_and_level_of_a_matter_has_its_words() -> None:
    wanted = {f"why-not.{each}" for each in WhyNot} | {f"eased.{each}" for each in Eased}
    assert sorted(wanted - EXPLAIN.sentences.keys()) == []


# Layout


@pytest.mark.parametrize(
    ("number", "text"),
    [(1500, "1500"), (160 / 3, "53.333333"), (-0.0, "0"), (0.1 + 0.2, "0.3"), (None, "-")],
)
def test_numbers_keep_8_digits(number: float | None, text: str) -> None:
    assert exact(number) == text


def test_times_are_local_and_say_the_offset_in_an_hour_that_occurs_twice() -> None:
    assert local_time(at("10:30"), ZONE) == "2026-05-12 10:30"
    assert local_time(at("10:30") + timedelta(seconds=5), ZONE) == "2026-05-12 10:30:05"
    first = at("2026-11-01 01:30")
    assert local_time(first, ZONE) == "2026-11-01 01:30-03:00"
    assert local_time(first + timedelta(hours=1), ZONE) == "2026-11-01 01:30-04:00"


def test_a_table_marks_an_empty_cell() -> None:
    assert list(Table(("row", "mL"), [("a", ""), ("bcde", "7")]).lines()) == [
        *("    row   mL", "    a     -", "    bcde  7")
    ]


@pytest.mark.parametrize(("log", "hours"), [(SPRING, 11), (AUTUMN, 13)])
def test_a_night_of_a_clock_change_has_its_real_slots(log: Path, hours: int) -> None:
    for subject in subjects(handed_over(log)):
        rows = table(part_of(subject, "adherence"), "slot", "from")
        assert len(rows) == math.ceil(hours / subject.order.every_h)
        assert rows[-1]["to"].endswith(" 07:00")
        assert_slots_add_up(subject)


# The command


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    code = cli.main(["explain", *arguments])
    out, err = capsys.readouterr()
    return code, out, err


def headings(out: str) -> list[str]:
    return re.findall(r"^[A-Z]+$", out, re.MULTILINE)


def test_the_command_prints_every_part(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, *WARD, "--bed", "3A")
    assert code == cli.DONE
    assert headings(out) == [part.upper() for part in PARTS]
    assert explain(next(each for each in ward() if each.patient.bed == "3A")) in out


def test_the_parts_of_the_command_are_those_that_can_be_explained() -> None:
    assert tuple(PARTS) == EXPLAINED


def test_one_measure_alone(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, *WARD, "--bed", "3A", "--measure", "trend", "--measure", "goal")
    assert code == cli.DONE
    assert headings(out) == ["TREND", "GOAL"]


@pytest.mark.parametrize(
    ("bed", "words"), [("99Z", "bed 99Z is not on the list"), ("11A", "bed 11A has no order")]
)
def test_nobody_to_explain_is_a_usage_error(
    capsys: pytest.CaptureFixture[str], bed: str, words: str
) -> None:
    code, out, err = run(capsys, WARD[-1], "--bed", bed)
    assert code == cli.NOTHING_PRODUCED
    assert out == ""
    assert words in err


def test_what_was_lost_in_a_log_shows_in_the_exit_code(capsys: pytest.CaptureFixture[str]) -> None:
    bed = next(p.bed for p in checked(MESSY).patients if p.order)
    code, out, err = run(capsys, str(MESSY), "--bed", bed, "--measure", "volume")
    assert code == cli.DONE_WITH_ERRORS
    assert out.startswith(f"Bed {bed}")
    assert "error: " in err


def test_a_units_own_limits_are_explained(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    own = tmp_path / "unit.yaml"
    own.write_text(
        "approved_by: Dr T. Quill\napproved_on: 2026-03-01\nrules:\n  fever:\n    limits:\n"
        '      temp_c_at_or_over: {value: 39, unit: "Cel"}\n'
    )
    _, out, _ = run(capsys, *WARD, "--bed", "3A", "--measure", "cautions", "--limits", str(own))
    assert re.search(
        r"fever: not met\. Found: temperature 37\S* to 38\S* in \d+ rows\. Rule: .* 39 ", out
    )
    own.write_text("rules: {fever: maybe}\n")
    code, out, _ = run(capsys, *WARD, "--bed", "3A", "--limits", str(own))
    assert (code, out) == (cli.NOTHING_PRODUCED, "")


def test_two_patients_in_one_bed_are_both_explained(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    log = tmp_path / "log.yaml"
    log.write_text(
        "unit: {name: Harbour 3 East, time_zone: UTC}\n"
        "shift: {start: 2026-03-07 07:00, end: 2026-03-07 19:00}\npatients:\n"
        '- {id: "1", name: "Larkspur, Odile", born: 1958-04-02, bed: 12A,'
        " order: {breaths: 10, start: 2026-03-07 07:00}}\n"
        '- {id: "2", name: "Quince, Ivo", born: 1961-01-09, bed: 12A,'
        " order: {breaths: 10, start: 2026-03-07 07:00}}\nentries: []\n"
    )
    _, out, _ = run(capsys, str(log), "--bed", "12A", "--measure", "goal")
    assert re.findall(r"^Bed 12A, .* id (\d)", out, re.M) == ["1", "2"]


# The command on one danger

PATIENTS = """\
- {id: "1", name: "Larkspur, Odile", born: 1958-04-02, bed: 12A,
   order: {breaths: 10, start: 2026-03-06 08:00}}
- {id: "2", name: "Quince, Ivo", born: 1961-01-09, bed: 12B,
   order: {breaths: 10, start: 2026-03-06 08:00}}
"""
OF_NOBODY = '- {id: "3", name: "Sedge, Ann", born: 1970-01-01, bed: 1A}\n'
LOW_AT_NIGHT = """\
- {patient: "1", at: 2026-03-06 20:00, breaths: 8, spo2: 85}
- {patient: "2", at: 2026-03-06 21:00, breaths: 8, volume_ml: 900, symptoms: [faint]}
"""


def logs(folder: Path, patients_by_day: str) -> list[str]:
    """A night with two dangers, and a day without a row."""
    given = {
        "night": ("2026-03-06 19:00", "2026-03-07 07:00", PATIENTS, f"\n{LOW_AT_NIGHT}"),
        "day": ("2026-03-07 07:00", "2026-03-07 19:00", patients_by_day, " []\n"),
    }
    for name, (start, end, patients, entries) in given.items():
        (folder / f"{name}.yaml").write_text(
            "unit: {name: Harbour 3 East, time_zone: UTC}\n"
            f"shift: {{start: {start}, end: {end}}}\npatients:\n{patients}entries:{entries}"
        )
    return [str(folder / f"{name}.yaml") for name in given]


def test_the_command_says_the_life_of_a_danger_and_nothing_else(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    given = logs(tmp_path, PATIENTS)
    code, out, _ = run(capsys, *given, "--bed", "12B", "--matter", "faint-or-chest-pain")
    assert code == cli.DONE
    assert headings(out) == []
    assert "faint-or-chest-pain:faint: open, escalate" in out
    assert "low-oxygen" not in out
    _, of_symptom, _ = run(capsys, *given, "--bed", "12B", "--matter", "faint-or-chest-pain:faint")
    assert of_symptom == out
    code, out, _ = run(capsys, *given, "--bed", "12A", "--matter", "all")
    assert code == cli.DONE
    assert [row["matter"] for row in table(out, "matter", "state")] == ["low-oxygen"]


@pytest.mark.parametrize("rule", ["pulse", "fever", "faint-or-chest-pain:faint"])
def test_a_rule_without_any_matter_is_said_in_one_line(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, rule: str
) -> None:
    code, out, _ = run(capsys, *logs(tmp_path, PATIENTS), "--bed", "12A", "--matter", rule)
    assert code == cli.DONE
    who, _, line = out.splitlines()
    assert who.startswith("Bed 12A, Larkspur, Odile")
    assert line == f"No row of this stay met {rule} as a danger to follow: nothing is open."


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("low-oxgen", "low-oxygen"),
        ("low_oxygen", "low-oxygen"),
        ("faint-or-chest-pain:feint", "faint-or-chest-pain:faint"),
        ("drowsy-or-confused:faint", "drowsy-or-confused"),
    ],
)
def test_an_unknown_matter_is_a_usage_error_that_names_the_nearest(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, written: str, meant: str
) -> None:
    code, out, err = run(capsys, *logs(tmp_path, PATIENTS), "--bed", "12A", "--matter", written)
    assert (code, out) == (cli.NOTHING_PRODUCED, "")
    assert f"--matter {written}: there is no rule of this name; the nearest is {meant}" in err


def test_who_has_no_order_any_more_and_an_open_danger_is_explained(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    without = PATIENTS.replace(",\n   order: {breaths: 10, start: 2026-03-06 08:00}", "")
    given = logs(tmp_path, without)
    code, out, _ = run(capsys, *given, "--bed", "12B")
    assert code == cli.DONE
    assert headings(out) == [part.upper() for part in PARTS]
    assert "No order now" in out
    assert results(out)["volume.stay_best_ml"] is not None
    code, out, _ = run(capsys, *given, "--bed", "12B", "--matter", "faint-or-chest-pain:faint")
    assert code == cli.DONE
    assert "faint-or-chest-pain:faint: open" in out


def test_the_danger_of_who_has_left_is_explained_and_no_sheet_is(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    given = logs(tmp_path, OF_NOBODY)
    code, out, _ = run(capsys, *given, "--bed", "12A", "--matter", "low-oxygen")
    assert code == cli.DONE
    assert "No longer on the list." in out
    assert "low-oxygen: open, escalate" in out
    code, out, err = run(capsys, *given, "--bed", "12A")
    assert (code, out) == (cli.NOTHING_PRODUCED, "")
    assert "is not on the list; --matter all says what is open" in err


def test_who_follows_in_the_bed_of_one_who_left_is_told_apart(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    given = logs(tmp_path, OF_NOBODY.replace("1A", "12A"))
    _, out, _ = run(capsys, *given, "--bed", "12A", "--matter", "all")
    assert re.findall(r"^Bed 12A, .* id (\d)", out, re.M) == ["3", "1"]


def test_one_measure_and_one_matter_at_once_is_a_usage_error(
    capsys: pytest.CaptureFixture[str],
) -> None:
    with pytest.raises(SystemExit) as raised:
        run(capsys, *WARD, "--bed", "3A", "--measure", "trend", "--matter", "all")
    assert raised.value.code == cli.NOTHING_PRODUCED
    assert "not allowed with" in capsys.readouterr().err


def test_help_has_an_example(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        cli.main(["explain", "--help"])
    assert "example:" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        (
            "breaths: 8, position: lying, symptoms: [dizzy, chest pain], oxygen: 2 L nasal",
            "exercise, 8 breaths, lying, chest pain, dizzy, on oxygen 2 L nasal",
        ),
        ("spo2: 95, on_oxygen: yes", "seen, SpO2 95 %, on oxygen"),
        ("spo2: 95, on_oxygen: no", "seen, SpO2 95 %, on air"),
        ("symptoms: none", "seen, no symptoms"),
        (
            "what: told, about: [chest pain, oxygen], note: Dr Quill",
            "told, about oxygen and chest pain",
        ),
        ("note: sat up", "note"),
    ],
)
def test_a_row_is_said_in_words(cells: str, words: str) -> None:
    (row,) = log_of(night(f'- {{patient: "10442", at: 19:40, {cells}}}\n')).entries
    assert in_words(row) == words

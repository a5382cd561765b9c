"""A fact that rows of one log, or logs of one shift, dispute is printed as disputed, not blank."""

from collections.abc import Callable

import pytest
from msgspec.structs import replace

from handoff.judge import judge
from handoff.measure import measure
from handoff.model.ward import Handover
from tests.support.bad_logs import PATIENT, night
from tests.support.builders import default_limits
from tests.support.logs import hand_over, log_of
from tests.support.sheets import sheet_words, unit_page
from tests.support.wards import ID

UNIT = "unit,time_zone,shift_start,shift_end,patient_id,name,born,bed,order_start,at,breaths,"
CELLS = (
    "Harbour 3 East,America/Halifax,2026-03-07 19:00,2026-03-08 07:00,"
    '10442,"Larkspur, Odile",1958-04-02,12A,2026-03-06 10:00,{at},8,'
)
YAML = {
    "goal_ml": "order: {{start: 2026-03-06 10:00, goal_ml: {}}}",
    "order_breaths": "order: {{start: 2026-03-06 10:00, breaths: {}}}",
    "order_every_h": "order: {{start: 2026-03-06 10:00, every_h: {}}}",
    "order_hold_s": "order: {{start: 2026-03-06 10:00, hold_s: {}}}",
    "order_stop": "order: {{start: 2026-03-06 10:00, stop: {}}}",
    "spo2_min": "order: {{start: 2026-03-06 10:00, spo2_min: {}}}",
    "device_labelled": "device: {{labelled: {}}}",
    "device_given": "device: {{given: {}}}",
    "taught": "teaching: {{taught: {}}}",
    "shown_back": "teaching: {{shown_back: {}}}",
}


def in_rows(name: str, *values: str, rows: str = "") -> Handover:
    """A CSV log with a row for each value of a fact, and its hand-over."""
    cells = [CELLS.format(at=f"{19 + hour}:40") + each for hour, each in enumerate(values)]
    header = UNIT + name + (",spo2" if rows else "")
    text = "\n".join([header, *cells, *([rows] if rows else [])])
    return hand_over(log_of(text + "\n", "night.csv"))


def in_logs(name: str, *values: str) -> Handover:
    """Logs of one shift by two nurses, each with a value of a fact; '' leaves it blank."""
    order = "  order: {breaths: 10, start: 2026-03-06 10:00}\n"
    logs = []
    for number, value in enumerate(values):
        line = f"  {YAML.get(name, name + ': {}').format(value)}\n" if value else ""
        patient = PATIENT.replace(order, ("" if "order" in line else order) + (line or ""))
        if not value and "order" in YAML.get(name, ""):
            patient = PATIENT.replace("breaths: 10, ", "")
        logs.append(log_of(night("", patient), f"{number}.yaml"))
    return hand_over(*logs)


Given = Callable[..., Handover]
EITHER = pytest.mark.parametrize("given", [in_rows, in_logs], ids=["rows", "logs"])
PRINTED = [
    ("goal_ml", ("1500", "1000"), "goal disputed: 1,500 or 1,000 mL", "no goal"),
    ("goal_ml", ("1500", "1000"), "disputed: 1,500 or 1,000 mL: beat your best", "none ordered"),
    ("device_labelled", ("yes", "no"), "Labelled disputed: done or not done", "Labelled not rec"),
    ("shown_back", ("yes", "no"), "Shown back disputed: done or not done", "back not rec"),
    ("taught", ("yes", "no"), "Taught disputed: done or not done", "Teaching not rec"),
    ("spo2_min", ("88", "94"), "SpO2 limit disputed: 88 or 94 %, the strictest is used", "#"),
    ("baseline_ml", ("1900", "1400"), "baseline disputed: 1,900 or 1,400 mL", "#"),
    ("reason", ("hip", "knee"), "Reason disputed: hip or knee", "Reason not recorded"),
    ("order_hold_s", ("3", "8"), "hold disputed: 3 or 8 s", "hold 5 s"),
    ("order_breaths", ("8", "5"), "order not readable, breaths disputed: 8 or 5", "10 breaths"),
    (
        "order_every_h",
        ("2", "4"),
        "not readable, every so many hours disputed: 2 or 4",
        "hour while",
    ),
    ("weight_kg", ("70", "77"), "Weight (kg) 70 or 77 kg", "#"),
    ("surgery_on", ("2026-03-05", "2026-03-06"), "Surgery on 5 Mar 2026 or 6 Mar 2026", "#"),
    ("precautions", ("flat", "spine"), "PRECAUTIONS: disputed: flat or spine", "#"),
    ("bed", ("12A", "5"), "disputed: 12A or 5", "bed not recorded"),
]


@EITHER
@pytest.mark.parametrize(("name", "values", "words", "never"), PRINTED)
def test_a_disputed_fact_is_printed_as_disputed(
    given: Given, name: str, values: tuple[str, str], words: str, never: str
) -> None:
    if name == "bed":
        pytest.skip("a bed in two rows is a move: see the next test")
    said = sheet_words(given(name, *values), ID)
    assert words in said
    assert never not in said


@EITHER
def test_the_summary_says_that_the_goal_is_disputed(given: Given) -> None:
    (row,) = unit_page(given("goal_ml", "1500", "1000")).rows
    assert row.goal == "goal disputed"


def test_a_bed_that_two_logs_dispute_is_printed_as_disputed() -> None:
    logs = [log_of(night("", PATIENT.replace("12A", bed)), f"{bed}.yaml") for bed in ("12A", "5")]
    assert "disputed: 12A or 5" in sheet_words(hand_over(*logs), ID)


@EITHER
@pytest.mark.parametrize(("name", "values"), [(name, values) for name, values, *_ in PRINTED[:-1]])
def test_a_blank_says_nothing_against_a_value(
    given: Given, name: str, values: tuple[str, str]
) -> None:
    for both in ((values[0], ""), ("", values[0])):
        handover = given(name, *both)
        assert {each.code for each in handover.findings} <= {"year-in-doubt", "order-not-stated"}
        assert "disputed" not in sheet_words(handover, ID)
        assert handover.patients[0].disputed == ()


def test_a_default_that_is_written_is_not_a_blank() -> None:
    assert "breaths disputed: 10 or 8" in sheet_words(in_logs("order_breaths", "10", "8"), ID)
    blank = in_logs("order_every_h", "", "8").patients[0].order
    assert blank
    assert (blank.breaths, blank.every_h) == (10, 8)


def test_two_times_of_one_teaching_do_not_make_it_undone() -> None:
    given = in_rows("shown_back", "2026-03-06 10:40", "2026-03-06 10:50")
    assert given.patients[0].shown_back is True
    assert "Shown back done" in sheet_words(given, ID)


def test_a_disputed_limit_over_the_upper_one_is_not_lost() -> None:
    given = in_rows("spo2_max,spo2_min", "92,88", "92,94")
    order = given.patients[0].order
    assert order
    assert (order.spo2_min, order.spo2_max, order.disputed_limits) == (94, 92, ("spo2_min",))


def test_a_third_value_is_printed_too_and_the_same_again_is_not() -> None:
    said = sheet_words(in_rows("goal_ml", "1500", "1000", "1500", "1200"), ID)
    assert "goal disputed: 1,500, 1,000 or 1,200 mL" in said


def test_a_dispute_in_one_log_is_not_settled_by_the_other() -> None:
    header = "patient_id,name,born,bed,order_start,goal_ml,at,breaths"
    who = '10442,"Larkspur, Odile",1958-04-02,12A,2026-03-06 10:00'
    rows = f"{who},1500,19:40,8\n{who},1000,20:40,8\n"
    given = {
        "unit": "Harbour 3 East",
        "time_zone": "America/Halifax",
        "shift": "2026-03-07T19:00/2026-03-08T07:00",
    }
    disputed = log_of(f"{header}\n{rows}", "a.csv", given)
    other = PATIENT.replace("10:00}", "10:00, goal_ml: 1500}")
    handover = hand_over(disputed, log_of(night("", other), "b.yaml"))
    assert "goal disputed: 1,500 or 1,000 mL" in sheet_words(handover, ID)


def test_no_percent_of_another_goal_is_printed_where_the_ordered_one_is_disputed() -> None:
    header = UNIT + "baseline_ml,goal_ml"
    cells = [CELLS.format(at=f"{at}:40") + f"1900,{goal}" for at, goal in ((19, 1500), (20, 1000))]
    handover = hand_over(log_of("\n".join([header, *cells]) + "\n", "night.csv"))
    assert measure(handover)[ID].goal.goal_ml is None


@EITHER
@pytest.mark.parametrize(
    ("values", "spo2", "is_met"),
    [
        (("84", "88"), 91, True),
        (("84", "88"), 92, False),
        (("84", "94"), 93, True),
        (("84", "94"), 94, False),
    ],
    ids=["the unit's", "within the unit's", "the stricter of the two", "within it"],
)
def test_a_disputed_spo2_limit_never_loosens(
    given: Given, values: tuple[str, str], spo2: int, *, is_met: bool
) -> None:
    """The unit's limit is 91 % or less (limits.yaml); of 84 and 88 it is the strictest, of 84 and
    94 the order's own: less than 94 %.
    """
    handover = given("spo2_min", *values)
    (patient,) = handover.patients
    seen = log_of(night(f'- {{patient: "{ID}", at: 21:40, spo2: {spo2}}}\n'), "night.yaml").entries
    whole = {ID: (*handover.entries[ID], *seen)}
    measures = measure(replace(handover, entries=whole))[ID]
    rules = [each.rule for each in judge(measures, handover, default_limits()).cautions]
    assert ("low-oxygen" in rules) is is_met
    assert patient.order

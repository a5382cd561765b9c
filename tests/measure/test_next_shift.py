"""The hours of the next shift: how long it is, and in which hours breaths are due."""

from datetime import date, datetime, time, timedelta
from typing import Any

import pytest
from msgspec.structs import replace

from handoff.measure import measure_next_shift
from handoff.measure.next_shift import shift_after
from handoff.model.ward import Handover, Shift
from tests.support.builders import SHIFT, UNIT, ZONE, at, entry, handover, order, patient

NIGHT = Shift(at("-1 19:00"), at("07:00"), name="night")


def of(given: Handover, patient_id: str = "10442") -> str:
    """The hours of a patient: `o` due, `.` not; in upper case where a span of the order begins."""
    hours = measure_next_shift(given).of_patient[patient_id]
    return "".join(
        ("O" if each.begins else "o") if each.is_due else (":" if each.begins else ".")
        for each in hours
    )


@pytest.mark.parametrize(("on", "hours"), [(date(2026, 3, 7), 11), (date(2026, 10, 31), 13)])
def test_the_night_on_which_the_clock_changes_has_11_or_13_hours(on: date, hours: int) -> None:
    start, end = (datetime.combine(on, time(hour), ZONE) for hour in (7, 19))
    day = Shift(start, end, name="day")
    night = shift_after(handover(shift=day, shifts=(day,)))
    assert night.hours == hours
    assert night.end.astimezone(ZONE).time() == time(7)
    given = handover(shift=day, shifts=(day,))
    assert len(measure_next_shift(given).hours) == hours


def test_it_is_as_long_as_the_last_shift_that_began_at_the_same_time_and_has_its_name() -> None:
    early = Shift(at("07:00"), at("15:00"), name="early")
    night = Shift(at("-1 23:00"), at("07:00"), name="night")
    late = Shift(at("-1 15:00"), at("-1 23:00"), name="late")
    following = shift_after(handover(shift=early, shifts=(late, night, early)))
    assert (following.start, following.end) == (at("15:00"), at("23:00"))
    assert following.name == "late"


def test_without_such_a_shift_it_is_as_long_as_this_one_and_has_no_name() -> None:
    following = shift_after(handover(shifts=(SHIFT,)))
    assert (following.start, following.end) == (at("19:00"), at("+1 07:00"))
    assert following.name is None


def test_a_shift_shorter_than_the_hour_that_the_clock_goes_back_still_ends_after_its_start() -> (
    None
):
    """From 01:40 to, by the clock, 01:25 of the second 01 o'clock; and no shift before like it."""
    start = at("2026-11-01 01:40")
    short = Shift(start, start + timedelta(minutes=45))
    following = shift_after(handover(shift=short, shifts=(short,)))
    assert following.end - following.start == timedelta(minutes=45)


def test_in_quiet_hours_nothing_is_due_but_in_the_hour_that_is_quiet_in_part() -> None:
    quiet = replace(UNIT, quiet_hours=(time(22, 30), time(6)))
    assert of(handover(unit=quiet)) == "OOOO:::::::O"


def test_the_boxes_of_an_order_of_every_two_hours_go_two_and_two() -> None:
    every_2 = handover(patients=(patient(order=order(every_h=2)),))
    assert of(every_2) == "OoOoOoOoOoOo"
    every_5 = handover(patients=(patient(order=order(every_h=5)),))
    assert of(every_5) == "OooooOooooOo"


@pytest.mark.parametrize(
    ("before", "after", "hours"),
    [
        ({}, {"every_h": 2}, "OOOOOOoOoOoO"),
        ({"every_h": 2}, {}, "OoOoOOOOOOOO"),
        ({"every_h": 2}, {"every_h": 2, "goal_ml": 1500}, "OoOoOoOoOoOo"),
    ],
    ids=["less often", "more often", "as often"],
)
def test_from_an_order_that_asks_more_or_less_often_the_boxes_begin_anew(
    before: dict[str, Any], after: dict[str, Any], hours: str
) -> None:
    """At 00:00, the fifth hour of the night: 00 to 02, not 00 to 01 and 01 to 03."""
    orders = {"earlier_orders": (order(**before),), "order": order("+1 00:00", **after)}
    assert of(handover(patients=(patient(**orders),))) == hours


@pytest.mark.parametrize(
    ("orders", "hours"),
    [
        ({"order": order("21:30")}, "::OOOOOOOOOO"),
        ({"order": order("07:00", "21:30")}, "OOO:::::::::"),
        ({"order": order("07:00", "18:00")}, "::::::::::::"),
        ({"order": order(not_known=("breaths",))}, "::::::::::::"),
        (
            {"earlier_orders": (order("07:00", "20:00"),), "order": order("+1 05:00")},
            "O:::::::::OO",
        ),
    ],
    ids=["begins later", "stops", "stopped", "not readable", "stops, another later"],
)
def test_only_hours_of_an_order_in_force_are_due(orders: dict[str, object], hours: str) -> None:
    assert of(handover(patients=(patient(**orders),))) == hours


def test_a_hold_and_a_sleep_that_are_charted_go_on() -> None:
    held = entry("18:00", what="hold", note="Dr Quill")
    assert of(handover(held)) == "::::::::::::"
    assert of(handover(replace(held, until=at("22:00")))) == ":::OOOOOOOOO"
    away = entry("18:30", what="away", until="20:00")
    assert of(handover(away)) == ":OOOOOOOOOOO"


def test_who_has_no_order_has_no_hours() -> None:
    given = handover(patients=(patient(order=None),))
    assert measure_next_shift(given).of_patient == {}

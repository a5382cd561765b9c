"""When breaths are due in the coming day."""

from datetime import time

import pytest
from msgspec.structs import replace

from handoff.measure import find_coming, measure
from handoff.model.ward import Handover, Order, Shift
from tests.support.builders import UNIT, ZONE, at, handover, order, patient

QUIET = replace(UNIT, quiet_hours=(time(22), time(6)))


def hours(given: Handover) -> list[list[str]]:
    """The local times of the turns of each order."""
    (measures,) = measure(given).values()
    return [
        [f"{start.astimezone(ZONE):%d %H:%M}" for start in each.starts]
        for each in find_coming(given, measures).turns
    ]


def of(*orders: Order, **fields: object) -> Handover:
    *earlier, last = orders
    one = patient(order=last, earlier_orders=tuple(earlier))
    given = handover(patients=(one,), stay_start="07:00", unit=QUIET)
    return replace(given, **fields)


def test_the_hours_outside_the_quiet_ones_up_to_the_same_time_of_the_next_day() -> None:
    (found,) = hours(of(order("07:00")))
    evening = [f"12 {hour}:00" for hour in (19, 20, 21)]
    assert found == [*evening, *(f"13 {hour:02}:00" for hour in range(6, 19))]


def test_without_quiet_hours_every_hour_is_due() -> None:
    (found,) = hours(of(order("07:00"), unit=UNIT))
    assert len(found) == 24


@pytest.mark.parametrize(
    ("every_h", "expected"),
    [
        (2, ["12 19:00", "12 21:00", *(f"13 {hour:02}:00" for hour in range(6, 19, 2))]),
        (4, ["12 19:00", "13 06:00", "13 10:00", "13 14:00", "13 18:00"]),
        (24, ["12 19:00"]),
    ],
)
def test_a_turn_that_would_be_in_quiet_hours_is_at_their_end_and_the_next_a_whole_span_later(
    every_h: int, expected: list[str]
) -> None:
    assert hours(of(order("07:00", every_h=every_h))) == [expected]


def test_in_the_middle_of_a_shift_the_next_slot_is_the_first() -> None:
    (found,) = hours(of(order("07:00", every_h=2), as_of=at("09:20")))
    assert found[:2] == ["12 11:00", "12 13:00"]
    assert found[-1] == "13 10:00"


def test_each_order_has_its_own_hours() -> None:
    first, later = order("07:00"), order("+1 13:30", breaths=5, every_h=2)
    one, other = hours(of(first, later))
    assert one[-1] == "13 13:00"
    assert other == ["13 13:30", "13 15:30", "13 17:30"]


def test_an_order_that_began_in_the_shift_goes_on_from_its_own_start() -> None:
    one, other = order("07:00"), order("12:00", every_h=2)
    (found,) = hours(of(one, other, as_of=at("13:20")))
    assert found[:3] == ["12 14:00", "12 16:00", "12 18:00"]


def test_an_order_that_has_stopped_and_one_of_later_have_no_turn() -> None:
    assert hours(of(order("07:00", "19:00"))) == []
    assert hours(of(order("+2 07:00"))) == []


def test_an_order_that_cannot_be_read_has_no_turn_and_is_not_left_out() -> None:
    assert hours(of(order("07:00", not_known=("every_h",)))) == [[]]


def test_a_day_of_25_hours_ends_at_the_same_clock_time() -> None:
    shift = Shift(at("2026-10-31 07:00"), at("2026-10-31 19:00"))
    given = of(order("2026-10-31 07:00"), unit=UNIT, shift=shift, as_of=shift.end)
    one = given.patients[0]
    given = replace(given, stay_start={one.id: shift.start})
    (found,) = hours(given)
    assert len(found) == 25
    assert found[-1] == "01 18:00"

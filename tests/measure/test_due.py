"""What is due next, how late it is, and why nothing is due; by the definition of `measure_due`."""

from datetime import time
from typing import Any

import pytest

from handoff.measure import measure_due
from handoff.model.measures import Due
from handoff.model.ward import Entry
from tests.support.builders import UNIT, at, entry, handover, measured, order, patient


def due(as_of: str, *entries: Entry, unit: Any = UNIT, **order_fields: Any) -> Due:
    listed = (patient(order=order(**order_fields)),)
    given = handover(*entries, patients=listed, as_of=as_of, unit=unit)
    return measure_due(measured(given), given.as_of)


def test_the_breaths_of_a_slot_are_due_by_its_end_until_something_charts_it() -> None:
    found = due("07:20")
    assert found.slot
    assert (found.slot.end, found.why, found.late_min) == (at("08:00"), None, 0)
    for what in ({"breaths": 10}, {"what": "declined"}):
        later = due("07:20", entry("07:10", **what))
        assert later.slot
        assert (later.slot.start, later.late_min) == (at("08:00"), 0)


def test_a_slot_done_in_part_is_still_due() -> None:
    found = due("07:20", entry("07:10", breaths=4))
    assert found.slot
    assert found.slot.end == at("08:00")


@pytest.mark.parametrize(
    ("as_of", "entries", "late_min"),
    [
        ("08:00", (), 0),
        ("08:01", (), 1),
        ("09:30", (), 90),
        ("09:30", (entry("08:10", breaths=10),), 0),  # its slot is followed by the current one
        ("10:05", (entry("08:10", breaths=10),), 5),
        ("10:05", (entry("10:01", breaths=10),), 0),
        ("10:05", (entry("07:10", what="declined"),), 65),
        ("10:05", (entry("07:10", breaths=10), entry("08:30", what="away", until="09:35")), 30),
        ("10:05", (entry("07:10", breaths=10), entry("07:30", what="away", until="09:05")), 5),
    ],
)
def test_breaths_are_late_from_the_end_of_the_first_slot_that_nothing_charts(
    as_of: str, entries: tuple[Entry, ...], late_min: float
) -> None:
    assert due(as_of, *entries).late_min == late_min


@pytest.mark.parametrize(
    ("more", "why", "next_from"),
    [
        (entry("10:00", what="hold"), "hold", "12:00"),
        (entry("10:00", what="asleep", until="13:00"), "asleep", "13:00"),
        (entry("10:00", what="away", until="13:30"), "away", "13:00"),
    ],
)
def test_while_a_patient_is_held_asleep_or_away_nothing_is_due_or_late(
    more: Entry, why: str, next_from: str
) -> None:
    found = due("12:40", more)
    assert found.why
    assert found.slot
    assert (found.why.why, found.late_min, found.slot.start) == (why, 0, at(next_from))


def test_in_quiet_hours_nothing_is_due_and_after_them_only_the_time_outside_them_is_late() -> None:
    quiet = UNIT.__class__("Oak", UNIT.time_zone, (time(9), time(11)))
    found = due("09:30", unit=quiet)
    assert found.why
    assert (found.why.why, found.late_min) == ("quiet hours", 0)
    assert due("11:10", unit=quiet).late_min == 70  # 08:00 to 09:00, and from 11:00


def test_when_the_order_stopped_or_the_shift_is_over_nothing_is_left() -> None:
    stopped = due("12:10", stop="12:00")
    assert stopped.why
    assert (stopped.why.why, stopped.slot, stopped.late_min) == ("the order has stopped", None, 0)
    assert due("18:10", entry("18:05", breaths=10)).slot is None
    over = due("19:00", entry("16:05", breaths=10))
    assert (over.slot, over.late_min) == (None, 60)

"""Best volumes, and what they are compared with."""

from datetime import date

import pytest

from handoff.model.measures import DayBest, Volume
from handoff.model.ward import Entry, Flow, Shift
from tests.support.builders import at, entry, handover, measured, patient


def volume(*entries: Entry, scale_ml: float | None = None) -> Volume:
    """The volumes of a stay that began ten days before the shift."""
    somebody = patient(device_scale_ml=scale_ml)
    return measured(handover(*entries, patients=(somebody,), stay_start="-10 07:00")).volume


def test_the_best_is_the_highest_and_the_earliest_of_equals() -> None:
    entries = (
        entry("08:00", volume_ml=900),
        entry("09:00", volume_ml=1200),
        entry("10:00", volume_ml=1200),
    )
    found = volume(*entries)
    assert (found.best_ml, found.best_at) == (1200, at("09:00"))
    assert found.best
    assert found.best.place.line == 2


@pytest.mark.parametrize("flow", [Flow.FAST, Flow.SLOW, Flow.UNREADABLE])
def test_off_form_readings_are_counted_and_take_no_part(flow: Flow) -> None:
    found = volume(
        entry("08:00", volume_ml=2400, flow=flow),
        entry("09:00", volume_ml=900),
        entry("10:00", volume_ml=800, flow="steady"),
    )
    assert (found.readings, found.off_form) == (3, 1)
    assert (found.best_ml, found.stay_best_ml, found.first_ml) == (900, 900, 900)
    assert found.by_day == (DayBest(date(2026, 5, 12), 900),)


def test_a_volume_blown_out_is_no_reading() -> None:
    found = volume(entry("08:00", volume_ml=2400, flow="blew"))
    assert (found.readings, found.off_form, found.best_ml) == (0, 0, None)


def test_a_volume_on_another_kind_of_entry_is_no_reading() -> None:
    assert volume(entry("08:00", what="note", volume_ml=2400)).readings == 0


def test_readings_at_or_above_the_scale_are_counted_in_any_form() -> None:
    entries = (
        entry("08:00", volume_ml=2499),
        entry("09:00", volume_ml=2500),
        entry("10:00", volume_ml=2600, flow="fast"),
    )
    assert volume(*entries, scale_ml=2500).at_scale == 2
    assert volume(*entries).at_scale == 0


def test_the_previous_best_is_that_of_the_24_hours_before_the_shift() -> None:
    found = volume(
        entry("-1 06:59", volume_ml=2000),
        entry("-1 07:00", volume_ml=1500),
        entry("06:59", volume_ml=1400),
        entry("07:00", volume_ml=1800),
    )
    assert found.previous_best_ml == 1500
    assert found.change_ml == 300
    assert found.change_percent == 20
    assert found.previous_best is not None
    assert found.previous_best.at == at("-1 07:00")
    assert (found.stay_best_ml, found.stay_best_at) == (2000, at("-1 06:59"))


def test_the_best_and_the_counts_are_those_of_the_shift_alone() -> None:
    entries = (
        entry("06:00", volume_ml=2000),
        entry("08:00", volume_ml=900),
        entry("19:00", volume_ml=1700),
    )
    somebody = patient(device_scale_ml=900)
    given = handover(*entries, patients=(somebody,), stay_start="-1 07:00", as_of="20:00")
    found = measured(given).volume
    assert (found.best_ml, found.stay_best_ml) == (900, 2000)
    assert (found.readings, found.at_scale) == (1, 1)


def test_a_change_needs_both_bests() -> None:
    only_now = volume(entry("08:00", volume_ml=900))
    assert (only_now.previous_best_ml, only_now.change_ml, only_now.change_percent) == (None,) * 3
    only_before = volume(entry("06:00", volume_ml=900))
    assert (only_before.best_ml, only_before.best_at, only_before.change_ml) == (None,) * 3


def test_a_change_from_nothing_has_no_percentage() -> None:
    found = volume(entry("06:00", volume_ml=0), entry("08:00", volume_ml=300))
    assert found.change_ml == 300
    assert found.change_percent is None


def test_of_two_first_readings_at_one_minute_the_higher_is_the_first() -> None:
    low, high = entry("08:00", volume_ml=700), entry("08:00", volume_ml=800)
    assert volume(low, high).first_ml == volume(high, low).first_ml == 800


def test_no_reading_at_all() -> None:
    found = volume(entry("08:00", breaths=10))
    assert (found.readings, found.off_form, found.at_scale) == (0, 0, 0)
    assert found.by_day == ()
    assert (found.first_ml, found.stay_best_ml, found.stay_best_at) == (None, None, None)


def test_days_are_the_units_local_calendar_days() -> None:
    """23:30 in Halifax is the day after in UTC."""
    found = volume(
        entry("-1 23:30", volume_ml=1300),
        entry("08:00", volume_ml=900),
        entry("09:00", volume_ml=1000),
    )
    assert found.by_day == (DayBest(date(2026, 5, 11), 1300), DayBest(date(2026, 5, 12), 1000))


def test_the_24_hours_before_are_real_hours_when_the_clock_changes() -> None:
    """At 07:00 on the day the clock goes forward, 24 h ago is 06:00 on the wall clock."""
    day = Shift(at("2026-03-08 07:00"), at("2026-03-08 19:00"))
    entries = [
        entry(clock, volume_ml=volume_ml)
        for clock, volume_ml in (("2026-03-07 06:00", 1100), ("2026-03-07 05:00", 1900))
    ]
    found = measured(handover(*entries, shift=day, stay_start="2026-03-01 07:00"))
    assert found.volume.previous_best_ml == 1100

"""Best volumes, and what they are compared with."""

from dataclasses import replace
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from handoff.model.measures import DayBest, Volume
from handoff.model.ward import Entry, Flow, Shift, Unit, What
from tests.support.handovers import NO_QUIET_HOURS, PATIENT, PLACE, exercise, handover, measured, on


def volume(*entries: Entry, unit: Unit = NO_QUIET_HOURS, scale_ml: float | None = None) -> Volume:
    """The volumes of a stay that began ten days before the shift."""
    patient = replace(PATIENT, device_scale_ml=scale_ml)
    stay_start = on("07:00", days=-10)
    return measured(handover(*entries, patient=patient, unit=unit, stay_start=stay_start)).volume


def test_the_best_is_the_highest_and_the_earliest_of_equals() -> None:
    entries = (
        exercise(on("08:00"), volume_ml=900),
        exercise(on("09:00"), volume_ml=1200),
        exercise(on("10:00"), volume_ml=1200),
    )
    found = volume(*entries)
    assert (found.best_ml, found.best_at, found.best) == (1200, on("09:00"), entries[1])


@pytest.mark.parametrize("flow", [Flow.FAST, Flow.SLOW, Flow.UNREADABLE])
def test_off_form_readings_are_counted_and_take_no_part(flow: Flow) -> None:
    found = volume(
        exercise(on("08:00"), volume_ml=2400, flow=flow),
        exercise(on("09:00"), volume_ml=900),
        exercise(on("10:00"), volume_ml=800, flow=Flow.STEADY),
    )
    assert (found.readings, found.off_form) == (3, 1)
    assert (found.best_ml, found.stay_best_ml, found.first_ml) == (900, 900, 900)
    assert found.by_day == (DayBest(date(2026, 5, 12), 900),)


def test_a_volume_blown_out_is_no_reading() -> None:
    found = volume(exercise(on("08:00"), volume_ml=2400, flow=Flow.BLEW))
    assert (found.readings, found.off_form, found.best_ml) == (0, 0, None)


def test_a_volume_on_another_kind_of_entry_is_no_reading() -> None:
    note = Entry(PATIENT.id, on("08:00"), PLACE, what=What.NOTE, volume_ml=2400)
    assert volume(note).readings == 0


def test_readings_at_or_above_the_scale_are_counted_in_any_form() -> None:
    entries = (
        exercise(on("08:00"), volume_ml=2499),
        exercise(on("09:00"), volume_ml=2500),
        exercise(on("10:00"), volume_ml=2600, flow=Flow.FAST),
    )
    assert volume(*entries, scale_ml=2500).at_scale == 2
    assert volume(*entries).at_scale == 0


def test_the_previous_best_is_that_of_the_24_hours_before_the_shift() -> None:
    found = volume(
        exercise(on("06:59", days=-1), volume_ml=2000),
        exercise(on("07:00", days=-1), volume_ml=1500),
        exercise(on("06:59"), volume_ml=1400),
        exercise(on("07:00"), volume_ml=1800),
    )
    assert found.previous_best_ml == 1500
    assert found.change_ml == 300
    assert found.change_percent == 20
    assert found.previous_best is not None
    assert found.previous_best.at == on("07:00", days=-1)
    assert (found.stay_best_ml, found.stay_best_at) == (2000, on("06:59", days=-1))


def test_the_best_and_the_counts_are_those_of_the_shift_alone() -> None:
    entries = (
        exercise(on("06:00"), volume_ml=2000),
        exercise(on("08:00"), volume_ml=900),
        exercise(on("19:00"), volume_ml=1700),
    )
    patient = replace(PATIENT, device_scale_ml=900)
    given = handover(*entries, patient=patient, stay_start=on("07:00", days=-1), as_of=on("20:00"))
    found = measured(given).volume
    assert (found.best_ml, found.stay_best_ml) == (900, 2000)
    assert (found.readings, found.at_scale) == (1, 1)


def test_a_change_needs_both_bests() -> None:
    only_now = volume(exercise(on("08:00"), volume_ml=900))
    assert (only_now.previous_best_ml, only_now.change_ml, only_now.change_percent) == (None,) * 3
    only_before = volume(exercise(on("06:00"), volume_ml=900))
    assert (only_before.best_ml, only_before.best_at, only_before.change_ml) == (None,) * 3


def test_a_change_from_nothing_has_no_percentage() -> None:
    found = volume(exercise(on("06:00"), volume_ml=0), exercise(on("08:00"), volume_ml=300))
    assert found.change_ml == 300
    assert found.change_percent is None


def test_of_two_first_readings_at_one_minute_the_higher_is_the_first() -> None:
    low, high = exercise(on("08:00"), volume_ml=700), exercise(on("08:00"), volume_ml=800)
    assert volume(low, high).first_ml == volume(high, low).first_ml == 800


def test_no_reading_at_all() -> None:
    found = volume(exercise(on("08:00"), 10))
    assert (found.readings, found.off_form, found.at_scale) == (0, 0, 0)
    assert found.by_day == ()
    assert (found.first_ml, found.stay_best_ml, found.stay_best_at) == (None, None, None)


def test_days_are_the_units_local_calendar_days() -> None:
    """02:30 UTC is still the evening before in Halifax."""
    unit = Unit("Harbour 3 East", ZoneInfo("America/Halifax"), None)
    found = volume(
        exercise(on("02:30"), volume_ml=1300),
        exercise(on("08:00"), volume_ml=900),
        exercise(on("09:00"), volume_ml=1000),
        unit=unit,
    )
    assert found.by_day == (DayBest(date(2026, 5, 11), 1300), DayBest(date(2026, 5, 12), 1000))


def test_the_24_hours_before_are_real_hours_when_the_clock_changes() -> None:
    """At 07:00 on the day the clock goes forward, 24 h ago is 06:00 on the wall clock."""
    halifax = ZoneInfo("America/Halifax")

    def local(day: int, hour: int) -> datetime:
        return datetime(2026, 3, day, hour, tzinfo=halifax).astimezone(UTC)

    shift = Shift(local(8, 7), local(8, 19))
    entries = (exercise(local(7, 6), volume_ml=1100), exercise(local(7, 5), volume_ml=1900))
    found = measured(
        handover(
            *entries,
            shift=shift,
            unit=Unit("Harbour 3 East", halifax, None),
            stay_start=local(1, 7),
        )
    )
    assert found.volume.previous_best_ml == 1100

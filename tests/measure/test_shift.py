"""Which entry counts where, slots, quiet hours, and the time in which breaths could be due."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from handoff.measure import measure
from handoff.measure.shift import cut, quiet_spans
from handoff.model.measures import Span
from handoff.model.ward import Shift, Unit, What
from tests.handovers import (
    DAY_SHIFT,
    NO_QUIET_HOURS,
    ORDER,
    PATIENT,
    exercise,
    handover,
    measured,
    on,
    span,
)

HALIFAX = ZoneInfo("America/Halifax")


def halifax(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=HALIFAX).astimezone(UTC)


def quiet(zone: ZoneInfo, since: str, until: str, day: str) -> Span:
    """The unit's quiet hours that start on the local `day`."""
    unit = Unit("Harbour 3 East", zone, (time.fromisoformat(since), time.fromisoformat(until)))
    noon = datetime.combine(date.fromisoformat(day), time(12), tzinfo=zone).astimezone(UTC)
    spans = quiet_spans(unit, Span(noon - timedelta(days=2), noon + timedelta(days=2)))
    return next(s for s in spans if s.start.astimezone(zone).date().isoformat() == day)


# Which entry counts where


def test_a_shift_holds_its_start_and_not_its_end() -> None:
    first, last = exercise(on("07:00"), 5), exercise(on("19:00"), 5)
    found = measured(handover(first, last, as_of=on("20:00")))
    assert found.shift_entries == (first,)
    assert found.stay_entries == (first, last)


def test_an_entry_after_as_of_is_kept_for_the_next_hand_over() -> None:
    seen, later = exercise(on("10:00"), 5, 900), exercise(on("10:01"), 5, 1900)
    found = measured(handover(seen, later, as_of=on("10:00")))
    assert found.shift_entries == found.stay_entries == found.drawn_entries == (seen,)
    assert found.caution_entries == (seen,)
    assert found.volume.stay_best_ml == 900
    assert found.adherence.breaths_done == 5


def test_an_entry_before_the_stay_is_drawn_and_read_by_cautions_and_changes_no_number() -> None:
    order = replace(ORDER, start=on("09:00"))
    early, seen = exercise(on("08:00"), 7, 2400), exercise(on("10:00"), 5, 900)
    patient = replace(PATIENT, order=order)
    found = measured(handover(early, seen, patient=patient))
    assert found.drawn_entries == found.caution_entries == (early, seen)
    assert found.shift_entries == found.stay_entries == (seen,)
    assert found.volume.stay_best_ml == found.volume.first_ml == 900
    assert found.adherence.breaths_done == 5
    assert not found.adherence.slots[1].charted


def test_the_stay_starts_at_its_first_order_and_slots_follow_the_latest() -> None:
    patient = replace(PATIENT, order=replace(ORDER, start=on("12:00")))
    seen = exercise(on("08:30"), 10, 1500)
    found = measured(handover(seen, patient=patient, stay_start=on("10:00", days=-3)))
    assert found.volume.best_ml == 1500
    assert found.adherence.breaths_done == 10
    assert found.adherence.breaths_due == 70


def test_only_patients_with_an_order_are_measured_in_the_hand_overs_order() -> None:
    first, unordered, last = (
        replace(PATIENT, id="20"),
        replace(PATIENT, id="15", order=None),
        replace(PATIENT, id="10"),
    )
    ward = replace(
        handover(),
        patients=(first, unordered, last),
        stay_start={"10": on("07:00"), "20": on("07:00")},
    )
    assert list(measure(ward)) == ["20", "10"]


def test_a_ward_without_an_order_has_no_measures() -> None:
    assert measure(handover(patient=replace(PATIENT, order=None))) == {}


# Slots


def test_slots_cover_the_shift_and_the_last_may_be_short() -> None:
    slots = cut(Shift(on("07:00"), on("19:30")), 4)
    assert [slot.start for slot in slots] == [on("07:00"), on("11:00"), on("15:00"), on("19:00")]
    assert slots[-1] == Span(on("19:00"), on("19:30"))


def test_a_shift_of_no_length_has_no_slots_and_nothing_due() -> None:
    shift = Shift(on("07:00"), on("07:00"))
    found = measured(handover(exercise(on("07:00"), 5), shift=shift))
    assert found.adherence.slots == ()
    assert found.adherence.percent is None
    assert found.adherence.breaths_done == 0


@pytest.mark.parametrize(
    ("start", "end", "hours"),
    [
        ("2026-03-07 19:00", "2026-03-08 07:00", 11),  # the clock goes forward at 02:00
        ("2026-10-31 19:00", "2026-11-01 07:00", 13),  # the clock goes back at 02:00
        ("2026-05-11 19:00", "2026-05-12 07:00", 12),
    ],
)
def test_a_night_has_as_many_slots_as_it_has_real_hours(start: str, end: str, hours: int) -> None:
    night = Shift(halifax(start), halifax(end))
    assert night.hours == hours
    patient = replace(PATIENT, order=replace(ORDER, start=halifax("2026-02-01 08:00")))
    unit = replace(NO_QUIET_HOURS, time_zone=HALIFAX)
    adherence = measured(handover(patient=patient, shift=night, unit=unit)).adherence
    assert len(adherence.slots) == hours
    assert adherence.breaths_due == 10 * hours


@pytest.mark.parametrize(
    ("start", "end", "due"),
    [
        ("2026-03-07 19:00", "2026-03-08 07:00", 40),  # 19 to 22 and 06 to 07: quiet 7 h
        ("2026-10-31 19:00", "2026-11-01 07:00", 40),  # quiet 9 h
    ],
)
def test_quiet_hours_follow_the_wall_clock_when_it_changes(start: str, end: str, due: int) -> None:
    night = Shift(halifax(start), halifax(end))
    patient = replace(PATIENT, order=replace(ORDER, start=halifax("2026-02-01 08:00")))
    unit = Unit("Harbour 3 East", HALIFAX, (time(22), time(6)))
    adherence = measured(handover(patient=patient, shift=night, unit=unit)).adherence
    assert adherence.breaths_due == due
    assert adherence.slots_due == 4


# Quiet hours


def test_quiet_hours_run_over_midnight() -> None:
    assert quiet(HALIFAX, "22:00", "06:00", "2026-05-11") == Span(
        halifax("2026-05-11 22:00"), halifax("2026-05-12 06:00")
    )


def test_quiet_hours_of_the_day_before_reach_into_the_shift() -> None:
    unit = Unit("Harbour 3 East", ZoneInfo("UTC"), (time(22), time(8, 30)))
    adherence = measured(handover(unit=unit)).adherence
    assert [slot.due for slot in adherence.slots[:3]] == [0, 5, 10]


def test_quiet_hours_that_end_as_they_start_are_empty() -> None:
    unit = Unit("Harbour 3 East", ZoneInfo("UTC"), (time(9), time(9)))
    assert measured(handover(unit=unit)).adherence.breaths_due == 120


def test_a_border_that_the_clock_skips_is_read_with_the_offset_before_the_change() -> None:
    span_of = quiet(HALIFAX, "22:00", "02:30", "2026-03-07")
    assert span_of.end == datetime(2026, 3, 8, 6, 30, tzinfo=UTC)
    assert span_of.end.astimezone(HALIFAX).time() == time(3, 30)


def test_a_border_that_occurs_twice_is_its_first_occurrence() -> None:
    span_of = quiet(HALIFAX, "22:00", "01:30", "2026-10-31")
    assert span_of.end == datetime(2026, 11, 1, 4, 30, tzinfo=UTC)


def test_quiet_hours_that_the_clock_change_turns_around_take_nothing() -> None:
    """02:50 does not exist that night and reads as 03:50; 03:00 is before it."""
    turned = quiet(HALIFAX, "02:50", "03:00", "2026-03-08")
    assert turned.end < turned.start
    patient = replace(PATIENT, order=replace(ORDER, start=halifax("2026-02-01 08:00")))
    night = Shift(halifax("2026-03-07 19:00"), halifax("2026-03-08 07:00"))
    unit = Unit("Harbour 3 East", HALIFAX, (time(2, 50), time(3)))
    found = measured(handover(patient=patient, shift=night, unit=unit))
    assert found.adherence.breaths_due == 110


# Available time


def test_available_time_runs_from_the_stays_start_outside_quiet_hours_and_absences() -> None:
    unit = Unit("Harbour 3 East", ZoneInfo("UTC"), (time(22), time(6)))
    away = span(What.AWAY, on("08:00"), on("10:00"))
    asleep = span(What.ASLEEP, on("09:00"), on("11:00"))
    found = measured(
        handover(away, asleep, unit=unit, stay_start=on("19:00", days=-1), as_of=on("12:00"))
    )
    # 19:00 to 22:00, 06:00 to 08:00, 11:00 to 12:00
    assert found.available_h == 6


@pytest.mark.parametrize(("as_of", "hours"), [("19:00", 2.5), ("08:00", 1)])
def test_available_time_ends_when_the_order_stops_or_as_of(as_of: str, hours: float) -> None:
    patient = replace(PATIENT, order=replace(ORDER, stop=on("09:30")))
    found = measured(handover(patient=patient, as_of=on(as_of)))
    assert found.available_h == hours
    assert found.adherence.breaths_due == 10 * hours


def test_available_time_goes_on_after_the_shift_up_to_as_of_and_slots_do_not() -> None:
    unit = Unit("Harbour 3 East", ZoneInfo("UTC"), (time(1), time(6)))
    found = measured(handover(unit=unit, as_of=on("05:00", days=1)))
    assert found.available_h == 18
    assert found.adherence.breaths_due == 120


def test_an_order_that_starts_after_as_of_has_no_available_time() -> None:
    patient = replace(PATIENT, order=replace(ORDER, start=on("12:00")))
    found = measured(handover(patient=patient, as_of=on("10:00")))
    assert found.available_h == 0
    assert found.adherence.slots_due == 0
    assert len(found.adherence.slots) == DAY_SHIFT.hours

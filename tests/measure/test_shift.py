"""Which entry counts where, slots, quiet hours, and the time in which breaths could be due."""

from collections.abc import Iterable
from datetime import UTC, datetime, time, timedelta

import pytest
from msgspec.structs import replace

from handoff.measure import measure
from handoff.measure.shift import cut, quiet_spans
from handoff.model.measures import Span
from handoff.model.ward import Entry, Shift, Unit
from tests.support.builders import SHIFT, UNIT, ZONE, at, entry, handover, measured, order, patient

LONG_ORDERED = patient(order=order("2026-02-01 08:00"))


def with_quiet_hours(since: str, until: str) -> Unit:
    return replace(UNIT, quiet_hours=(time.fromisoformat(since), time.fromisoformat(until)))


def quiet(since: str, until: str, day: str) -> Span:
    """The unit's quiet hours that start on the local `day`."""
    noon = at(f"{day} 12:00")
    window = Span(noon - timedelta(days=2), noon + timedelta(days=2))
    spans = quiet_spans(with_quiet_hours(since, until), window)
    return next(s for s in spans if s.start.astimezone(ZONE).date().isoformat() == day)


def times(entries: Iterable[Entry]) -> list[datetime]:
    return [each.at for each in entries]


# Which entry counts where


def test_a_shift_holds_its_start_and_not_its_end() -> None:
    first, last = entry("07:00", breaths=5), entry("19:00", breaths=5)
    found = measured(handover(first, last, as_of="20:00"))
    assert times(found.shift_entries) == [first.at]
    assert times(found.stay_entries) == [first.at, last.at]


def test_an_entry_after_as_of_is_kept_for_the_next_hand_over() -> None:
    seen, later = (
        entry("10:00", breaths=5, volume_ml=900),
        entry("10:01", breaths=5, volume_ml=1900),
    )
    found = measured(handover(seen, later, as_of="10:00"))
    for kept in (
        found.shift_entries,
        found.stay_entries,
        found.drawn_entries,
        found.caution_entries,
    ):
        assert times(kept) == [seen.at]
    assert found.volume.stay_best_ml == 900
    assert found.adherence.breaths_done == 5


def test_an_entry_before_the_stay_is_drawn_and_read_by_cautions_and_changes_no_number() -> None:
    early, seen = (
        entry("08:00", breaths=7, volume_ml=2400),
        entry("10:00", breaths=5, volume_ml=900),
    )
    found = measured(handover(early, seen, patients=(patient(order=order("09:00")),)))
    assert times(found.drawn_entries) == times(found.caution_entries) == [early.at, seen.at]
    assert times(found.shift_entries) == times(found.stay_entries) == [seen.at]
    assert found.volume.stay_best_ml == found.volume.first_ml == 900
    assert found.adherence.breaths_done == 5
    assert not found.adherence.slots[1].charted


def test_the_stay_starts_at_its_first_order_and_slots_follow_the_latest() -> None:
    renewed = patient(order=order("12:00"))
    seen = entry("08:30", breaths=10, volume_ml=1500)
    found = measured(handover(seen, patients=(renewed,), stay_start="-3 10:00"))
    assert found.volume.best_ml == 1500
    assert found.adherence.breaths_done == 10
    assert found.adherence.breaths_due == 70


def test_only_patients_with_an_order_are_measured_in_the_hand_overs_order() -> None:
    ward = (patient(id="20"), patient(id="15", order=None), patient(id="10"))
    assert list(measure(handover(patients=ward))) == ["20", "10"]


def test_a_ward_without_an_order_has_no_measures() -> None:
    assert measure(handover(patients=(patient(order=None),))) == {}


# Slots


def test_slots_cover_the_shift_and_the_last_may_be_short() -> None:
    slots = cut(Shift(at("07:00"), at("19:30")), 4)
    assert [slot.start for slot in slots] == [at("07:00"), at("11:00"), at("15:00"), at("19:00")]
    assert slots[-1] == Span(at("19:00"), at("19:30"))


def test_a_shift_of_no_length_has_no_slots_and_nothing_due() -> None:
    empty = Shift(at("07:00"), at("07:00"))
    found = measured(handover(entry("07:00", breaths=5), shift=empty))
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
    night = Shift(at(start), at(end))
    assert night.hours == hours
    adherence = measured(handover(patients=(LONG_ORDERED,), shift=night)).adherence
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
    night, unit = Shift(at(start), at(end)), with_quiet_hours("22:00", "06:00")
    adherence = measured(handover(patients=(LONG_ORDERED,), shift=night, unit=unit)).adherence
    assert adherence.breaths_due == due
    assert adherence.slots_due == 4


# Quiet hours


def test_quiet_hours_run_over_midnight() -> None:
    assert quiet("22:00", "06:00", "2026-05-11") == Span(
        at("2026-05-11 22:00"), at("2026-05-12 06:00")
    )


def test_quiet_hours_of_the_day_before_reach_into_the_shift() -> None:
    adherence = measured(handover(unit=with_quiet_hours("22:00", "08:30"))).adherence
    assert [slot.due for slot in adherence.slots[:3]] == [0, 5, 10]


def test_quiet_hours_that_end_as_they_start_are_empty() -> None:
    unit = with_quiet_hours("09:00", "09:00")
    assert measured(handover(unit=unit)).adherence.breaths_due == 120


def test_a_border_that_the_clock_skips_is_read_with_the_offset_before_the_change() -> None:
    span_of = quiet("22:00", "02:30", "2026-03-07")
    assert span_of.end == datetime(2026, 3, 8, 6, 30, tzinfo=UTC)
    assert span_of.end.astimezone(ZONE).time() == time(3, 30)


def test_a_border_that_occurs_twice_is_its_first_occurrence() -> None:
    span_of = quiet("22:00", "01:30", "2026-10-31")
    assert span_of.end == datetime(2026, 11, 1, 4, 30, tzinfo=UTC)


def test_quiet_hours_that_the_clock_change_turns_around_take_nothing() -> None:
    """02:50 does not exist that night and reads as 03:50; 03:00 is before it."""
    turned = quiet("02:50", "03:00", "2026-03-08")
    assert turned.end < turned.start
    night = Shift(at("2026-03-07 19:00"), at("2026-03-08 07:00"))
    unit = with_quiet_hours("02:50", "03:00")
    found = measured(handover(patients=(LONG_ORDERED,), shift=night, unit=unit))
    assert found.adherence.breaths_due == 110


# Available time


def test_available_time_runs_from_the_stays_start_outside_quiet_hours_and_absences() -> None:
    unit = with_quiet_hours("22:00", "06:00")
    away = entry("08:00", what="away", until="10:00")
    asleep = entry("09:00", what="asleep", until="11:00")
    found = measured(handover(away, asleep, unit=unit, stay_start="-1 19:00", as_of="12:00"))
    # 19:00 to 22:00, 06:00 to 08:00, 11:00 to 12:00
    assert found.available_h == 6


@pytest.mark.parametrize(("as_of", "hours"), [("19:00", 2.5), ("08:00", 1)])
def test_available_time_ends_when_the_order_stops_or_as_of(as_of: str, hours: float) -> None:
    found = measured(handover(patients=(patient(order=order(stop="09:30")),), as_of=as_of))
    assert found.available_h == hours
    assert found.adherence.breaths_due == 10 * hours


def test_available_time_goes_on_after_the_shift_up_to_as_of_and_slots_do_not() -> None:
    found = measured(handover(unit=with_quiet_hours("01:00", "06:00"), as_of="+1 05:00"))
    assert found.available_h == 18
    assert found.adherence.breaths_due == 120


def test_an_order_that_starts_after_as_of_has_no_available_time() -> None:
    found = measured(handover(patients=(patient(order=order("12:00")),), as_of="10:00"))
    assert found.available_h == 0
    assert found.adherence.slots_due == 0
    assert len(found.adherence.slots) == SHIFT.hours

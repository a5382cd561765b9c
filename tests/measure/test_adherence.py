"""Breaths due, done, credited, and the state of each slot."""

from typing import Any

import pytest

from handoff.model.measures import SlotState
from handoff.model.ward import Entry
from tests.support.builders import at, entry, handover, measured, order, patient


def due(*entries: Entry, **order_fields: Any) -> list[float]:
    """Breaths due in each slot of the day shift."""
    given = handover(*entries, patients=(patient(order=order(**order_fields)),))
    return [slot.due for slot in measured(given).adherence.slots]


def done(*entries: Entry) -> list[float]:
    """Breaths done in each slot of the day shift."""
    return [slot.done for slot in measured(handover(*entries)).adherence.slots]


# Due


def test_ten_breaths_are_due_in_each_hour_of_the_shift() -> None:
    assert due() == [10] * 12


def test_breaths_of_a_longer_slot_shrink_with_a_short_last_one() -> None:
    assert due(breaths=15, every_h=5) == [15, 15, 6]


def test_time_away_takes_its_minutes_out_of_what_is_due() -> None:
    away = entry("08:30", what="away", until="10:15")
    assert due(away)[:4] == [10, 5, 0, 7.5]


def test_absences_that_overlap_count_once() -> None:
    away = entry("08:00", what="away", until="08:40")
    asleep = entry("08:20", what="asleep", until="08:50")
    assert due(away, asleep)[1] == pytest.approx(10 / 6)


def test_an_absence_that_began_before_the_stay_counts() -> None:
    away = entry("06:00", what="away", until="07:30")
    assert due(away)[0] == 5


def test_an_order_that_starts_and_stops_in_the_shift_is_due_between() -> None:
    assert due(start="08:15", stop="10:30")[:5] == [0, 7.5, 10, 5, 0]


def test_nothing_is_due_after_as_of_and_the_slots_still_cover_the_shift() -> None:
    found = measured(handover(as_of="08:30")).adherence
    assert [slot.due for slot in found.slots] == [10, 5] + [0] * 10
    assert {slot.state for slot in found.slots[2:]} == {SlotState.NOT_DUE}
    assert found.slots[-1].end == at("19:00")


# Done


def test_an_entry_counts_in_the_slot_that_holds_its_time() -> None:
    entries = (entry("07:00", breaths=4), entry("07:59", breaths=3), entry("08:00", breaths=2))
    assert done(*entries)[:3] == [7, 2, 0]


def test_a_span_is_spread_over_its_real_minutes() -> None:
    assert done(entry("07:45", until="09:30", breaths=21))[:4] == [3, 12, 6, 0]


def test_a_span_that_starts_before_the_shift_counts_by_its_part() -> None:
    night = entry("06:30", until="07:30", breaths=12)
    found = measured(handover(night, stay_start="-1 07:00")).adherence
    assert found.slots[0].done == found.breaths_done == 6
    assert found.slots[0].charted


def test_a_span_that_ends_after_the_shift_counts_by_its_part() -> None:
    assert done(entry("18:30", until="19:30", breaths=12))[-1] == 6


def test_a_span_that_only_touches_a_slot_does_not_chart_it() -> None:
    found = measured(handover(entry("07:00", until="08:00", breaths=10))).adherence
    assert [slot.charted for slot in found.slots[:2]] == [True, False]


def test_a_volume_without_a_count_is_one_breath() -> None:
    assert done(entry("07:10", breaths=None, volume_ml=1200))[0] == 1


def test_a_count_of_none_with_a_volume_stays_none() -> None:
    assert done(entry("07:10", breaths=0, volume_ml=1200))[0] == 0


def test_breaths_blown_into_the_device_are_charted_and_not_done() -> None:
    found = measured(handover(entry("07:10", breaths=10, flow="blew"))).adherence
    assert found.slots[0].done == 0
    assert found.slots[0].state is SlotState.NONE


def test_breaths_off_form_are_done() -> None:
    assert done(entry("07:10", breaths=8, volume_ml=900, flow="fast"))[0] == 8


def test_breaths_while_away_count() -> None:
    away = entry("07:00", what="away", until="08:00")
    found = measured(handover(away, entry("07:30", breaths=6))).adherence
    assert found.breaths_done == 6
    assert found.credited == 0
    assert found.slots[0].state is SlotState.NOT_DUE


def test_breaths_after_the_orders_stop_count_as_done() -> None:
    stopped = patient(order=order(stop="09:00"))
    found = measured(handover(entry("10:00", breaths=6), patients=(stopped,))).adherence
    assert found.breaths_done == 6
    assert found.breaths_due == 20


# States and sums


@pytest.mark.parametrize(
    ("charted", "state"),
    [
        (entry("07:10", breaths=10), SlotState.MET),
        (entry("07:10", breaths=30), SlotState.MET),
        (entry("07:10", breaths=9), SlotState.PART),
        (entry("07:10", breaths=0), SlotState.NONE),
        (entry("07:10", what="declined"), SlotState.NONE),
        (entry("07:10", what="note"), SlotState.UNCHARTED),
        (entry("07:10", what="told"), SlotState.UNCHARTED),
        (entry("08:00", breaths=10), SlotState.UNCHARTED),
    ],
)
def test_the_state_of_a_slot(charted: Entry, state: SlotState) -> None:
    assert measured(handover(charted)).adherence.slots[0].state is state


def test_parts_of_breaths_make_up_a_whole_slot_but_for_the_last_digit() -> None:
    parts = [entry("07:00", until="08:06", breaths=1)] * 11
    slot = measured(handover(*parts)).adherence.slots[0]
    assert (
        slot.done <= slot.due
    )  # less by the last digit up to Python 3.11, which adds less exactly
    assert slot.done == pytest.approx(slot.due)
    assert slot.state is SlotState.MET


def test_a_hundred_breaths_at_noon_do_not_make_up_for_an_idle_morning() -> None:
    declined = entry("08:10", what="declined")
    entries = (entry("07:10", breaths=5), declined, entry("12:00", breaths=100))
    found = measured(handover(*entries)).adherence
    assert found.breaths_done == 105
    assert found.credited == 15
    assert found.breaths_due == 120
    assert found.percent == pytest.approx(100 * 15 / 120)
    assert found.percent_of_charted == pytest.approx(100 * 15 / 30)
    assert (found.slots_due, found.slots_met, found.slots_uncharted) == (12, 1, 9)


def test_nothing_charted_is_no_part_of_what_was_charted() -> None:
    found = measured(handover()).adherence
    assert found.percent == 0
    assert found.percent_of_charted is None
    assert found.slots_uncharted == 12


def test_nothing_due_has_no_percentage() -> None:
    away = entry("07:00", what="away", until="19:00")
    found = measured(handover(away, entry("07:30", breaths=6))).adherence
    assert found.percent is None
    assert found.percent_of_charted is None
    assert (found.breaths_due, found.slots_due, found.slots_met) == (0, 0, 0)


def test_all_that_was_due_is_a_hundred_per_cent_exactly() -> None:
    hours = [f"{hour:02}:20" for hour in range(7, 19)]
    found = measured(handover(*[entry(clock, breaths=11) for clock in hours])).adherence
    assert found.percent == found.percent_of_charted == 100

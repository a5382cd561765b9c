"""Holds, pain and the lowest SpO2 of the shift, from the rows that record them."""

from handoff.model.measures import Spread
from tests.support.builders import entry, handover, measured, order, patient


def test_nothing_recorded_is_none_and_not_nought() -> None:
    bedside = measured(handover(entry("09:00"))).bedside
    assert (bedside.held_s, bedside.pain, bedside.lowest_spo2) == (None, None, None)


def test_holds_are_of_exercises_and_pain_is_of_every_row_of_the_shift() -> None:
    rows = (
        entry("-1 20:00", hold_s=9, pain=9),
        entry("08:00", hold_s=2, pain=0),
        entry("09:00", hold_s=5),
        entry("10:00", what="note", hold_s=1, pain=6),
        entry("11:00", hold_s=4, flow="blew"),
    )
    bedside = measured(handover(*rows, patients=(patient(order=order("-1 08:00")),))).bedside
    assert bedside.held_s == Spread(count=3, median=4, least=2, greatest=5)
    assert bedside.pain == Spread(count=2, median=3, least=0, greatest=6)


def test_the_lowest_spo2_is_the_latest_of_equals_also_before_the_order() -> None:
    rows = entry("07:10", spo2=91), entry("08:30", spo2=91), entry("09:00", spo2=92)
    given = handover(*rows, patients=(patient(order=order("08:00")),))
    lowest = measured(given).bedside.lowest_spo2
    assert lowest is not None
    assert lowest.place.line == 2
    early = measured(handover(*rows[::2], patients=given.patients)).bedside.lowest_spo2
    assert early is not None
    assert early.place.line == 1

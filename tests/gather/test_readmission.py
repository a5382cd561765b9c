"""Who comes back has a new stay: nothing of an earlier one takes part in a number."""

import pytest

from handoff.measure import measure
from handoff.model.ward import Handover, Log
from tests.support.logs import utc
from tests.support.sheets import sheet_words
from tests.support.wards import (
    EAST,
    ID,
    NOBODY,
    WEST,
    codes,
    listed_in,
    log,
    one_unit,
    ordered,
    row,
    times,
    units,
)

WITHOUT_ORDER = ordered().partition("  order")[0]


def volume(at: str, ml: int) -> str:
    return row(at, f"breaths: 8, volume_ml: {ml}")


def again(start: str, name: str, entries: str = "", unit: str = EAST) -> Log:
    """A log that lists the patient with an order of that start."""
    return log(name, entries, ordered(start) + NOBODY, unit)


def is_new(handover: Handover) -> bool:
    return ID in handover.stay_before


def test_a_third_log_between_does_not_hide_the_second_stay() -> None:
    """In hospital on the 2nd and again from the 5th; the night of the 4th lists others."""
    first = again("2026-03-01 10:00", "2 day", volume("2 12:00", 2400))
    between = log("4 night", patients=NOBODY)
    handover = one_unit(first, between, again("2026-03-05 08:00", "5 day", volume("5 12:00", 900)))
    of_stay = measure(handover)[ID].volume
    assert (of_stay.first_ml, of_stay.stay_best_ml, of_stay.previous_best_ml) == (900, 900, None)
    assert handover.stay_start[ID] == utc("2026-03-05 08:00")
    assert [each.volume_ml for each in handover.entries_before[ID]] == [2400]
    assert "two-stays" in codes(handover)
    words = sheet_words(handover, ID)
    assert "An earlier stay, to 2 Mar, is not counted." in words
    assert "day 1 of the order" in words


def test_the_sheet_says_so_in_every_shift_of_the_new_stay() -> None:
    first = again("2026-03-01 10:00", "2 day", volume("2 12:00", 2400))
    between = log("4 night", patients=NOBODY)
    new = [again("2026-03-05 08:00", name) for name in ("5 day", "5 night", "6 day")]
    handover = one_unit(first, between, *new)
    assert handover.stay_before[ID][-1].shift.end == utc("2026-03-02 19:00")
    assert "An earlier stay, to 2 Mar, is not counted." in sheet_words(handover, ID)


@pytest.mark.parametrize(
    ("start", "new"), [("2026-03-02 18:59", False), ("2026-03-02 19:00", True)]
)
def test_missing_from_a_log_a_new_order_begins_a_new_stay(start: str, *, new: bool) -> None:
    logs = (
        again("2026-03-01 10:00", "2 day", volume("2 12:00", 2400)),
        log("2 night", patients=NOBODY),
        again(start, "3 day", volume("3 12:00", 900)),
    )
    handover = one_unit(*logs)
    assert is_new(handover) is new
    assert ("two-stays" in codes(handover)) is new
    assert times(handover) == (["03 12:00"] if new else ["02 12:00", "03 12:00"])


def test_a_log_that_lists_nobody_says_nothing_of_a_stay() -> None:
    first = again("2026-03-01 10:00", "2 day", volume("2 12:00", 2400))
    empty = log("2 night", patients="  []\n")
    assert not is_new(one_unit(first, empty, again("2026-03-03 08:00", "3 day")))


@pytest.mark.parametrize(
    ("start", "new"), [("2026-03-09 19:00", False), ("2026-03-09 19:01", True)]
)
def test_without_a_log_between_seven_days_decide(start: str, *, new: bool) -> None:
    handover = one_unit(
        again("2026-03-01 10:00", "2 day", volume("2 12:00", 2400)),
        again(start, "9 night", volume("9 20:00", 900)),
    )
    assert is_new(handover) is new
    assert ("two-stays" in codes(handover)) is new
    best = measure(handover)[ID].volume.stay_best_ml
    assert best == (900 if new else 2400)


def test_the_seven_days_are_from_the_last_shift_with_an_order() -> None:
    """Also where a shift that lists the patient without an order is between."""
    handover = one_unit(
        again("2026-03-01 10:00", "2 day", volume("2 12:00", 2400)),
        log("3 day", patients=WITHOUT_ORDER),
        again("2026-03-09 19:01", "9 night", volume("9 20:00", 900)),
    )
    assert measure(handover)[ID].volume.stay_best_ml == 900
    assert listed_in(handover) == [(EAST, "09 19:00")]


def test_the_first_order_since_coming_back_decides_not_a_later_change() -> None:
    """Left out of one list by mistake; two shifts later the order changes."""
    handover = one_unit(
        again("2026-03-01 10:00", "2 day", volume("2 12:00", 2400)),
        log("2 night", patients=NOBODY),
        again("2026-03-01 10:00", "3 day"),
        again("2026-03-03 20:00", "3 night"),
    )
    assert not is_new(handover)
    assert measure(handover)[ID].volume.stay_best_ml == 2400


def test_an_order_that_comes_later_than_the_patient_begins_the_stay_of_them_both() -> None:
    handover = one_unit(
        again("2026-03-01 10:00", "2 day", volume("2 12:00", 2400)),
        log("2 night", patients=NOBODY),
        log("4 day", row("4 12:00", "what: note, note: pale"), WITHOUT_ORDER),
        again("2026-03-04 20:00", "4 night", volume("4 21:00", 900)),
    )
    assert listed_in(handover) == [(EAST, "04 07:00"), (EAST, "04 19:00")]
    assert measure(handover)[ID].volume.stay_best_ml == 900


def test_of_three_stays_the_last_one_counts() -> None:
    handover = one_unit(
        again("2026-03-01 10:00", "1 day", volume("1 12:00", 2400)),
        log("1 night", patients=NOBODY),
        again("2026-03-02 08:00", "2 day", volume("2 12:00", 1800)),
        log("2 night", patients=NOBODY),
        again("2026-03-03 08:00", "3 day", volume("3 12:00", 900)),
    )
    assert times(handover) == ["03 12:00"]
    assert [each.volume_ml for each in handover.entries_before[ID]] == [1800]
    assert handover.stay_before[ID][-1].shift.end == utc("2026-03-02 19:00")


def test_back_from_another_unit_with_a_new_order_is_one_stay() -> None:
    """East leaves the patient out while West has them."""
    handovers = units(
        again("2026-03-03 10:00", "4 day", volume("4 12:00", 1900)),
        log("4 night", patients=NOBODY),
        again("2026-03-04 19:30", "4 night", volume("4 20:00", 1200), WEST),
        again("2026-03-05 07:30", "5 day", volume("5 12:00", 1300)),
    )
    assert measure(handovers[EAST])[ID].volume.first_ml == 1900
    assert not is_new(handovers[EAST])


def test_an_earlier_stay_does_not_come_along_to_another_unit() -> None:
    """Home, back on East, and from there to West."""
    handovers = units(
        again("2026-03-01 10:00", "1 day", volume("1 12:00", 2400)),
        log("1 night", patients=NOBODY),
        again("2026-03-03 08:00", "3 day", volume("3 12:00", 900)),
        again("2026-03-03 08:00", "3 night", volume("3 20:00", 1000), WEST),
    )
    west = handovers[WEST]
    assert times(west) == ["03 12:00", "03 20:00"]
    assert measure(west)[ID].volume.first_ml == 900
    assert west.stay_before[ID][-1].shift.end == utc("2026-03-01 19:00")


def test_of_many_people_long_gone_only_those_of_the_last_week_are_named() -> None:
    people = "".join(
        ordered().replace(ID, f"2{number:03}").replace("Larkspur", f"Larkspur {number}")
        for number in range(105)
    )
    early, late = log("1 day", patients=people), log("5 day", patients=ordered())
    handover = one_unit(early, late, log("9 night", patients=NOBODY))
    assert [
        (each.code, each.raw)
        for each in handover.findings
        if each.code in {"long-gone", "no-longer-listed"}
    ] == [("no-longer-listed", ID), ("long-gone", None)]
    (found,) = (each for each in handover.findings if each.code == "long-gone")
    assert found.message.startswith("105 patients of earlier logs")


@pytest.mark.parametrize(
    ("start", "new"), [("2026-03-04 18:59", False), ("2026-03-04 19:00", True)]
)
def test_back_on_another_unit_with_a_new_order_is_a_new_stay(start: str, *, new: bool) -> None:
    """On East, home, back on West, and from there to East: logs of both leave the patient out."""
    handovers = units(
        again("2026-03-03 10:00", "4 day", volume("4 12:00", 2400)),
        *(log("4 night", patients=NOBODY, unit=unit) for unit in (EAST, WEST)),
        log("5 day", patients=NOBODY),
        again(start, "5 day", volume("5 12:00", 900), WEST),
        again(start, "5 night", volume("5 20:00", 1000)),
    )
    assert is_new(handovers[EAST]) is new
    assert measure(handovers[EAST])[ID].volume.first_ml == (900 if new else 2400)


def test_after_a_transfer_and_home_the_whole_earlier_stay_is_not_counted() -> None:
    handovers = units(
        again("2026-03-01 10:00", "1 day", volume("1 12:00", 2400)),
        again("2026-03-01 10:00", "1 night", volume("1 20:00", 2300), WEST),
        *(log(name, patients=NOBODY) for name in ("1 night", "8 day")),
        log("2 day", patients=NOBODY, unit=WEST),
        again("2026-03-11 08:00", "11 day", volume("11 12:00", 900)),
    )
    east = handovers[EAST]
    assert times(east) == ["11 12:00"]
    assert [each.volume_ml for each in east.entries_before[ID]] == [2400, 2300]
    assert east.stay_before[ID][-1].shift.end == utc("2026-03-02 07:00")


def test_what_was_open_in_the_earlier_stay_is_named() -> None:
    faint = row("2 12:00", "breaths: 8, symptoms: faint")
    handover = one_unit(
        again("2026-03-01 10:00", "2 day", faint),
        log("2 night", patients=NOBODY),
        again("2026-03-05 08:00", "5 day"),
    )
    words = sheet_words(handover, ID)
    assert "An earlier stay, to 2 Mar, is not counted; it left open: " in words

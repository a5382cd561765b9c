"""Who comes from another unit whose logs are given, and who only seems to."""

import pytest

from handoff.measure import measure
from handoff.model.ward import Gap
from tests.support.logs import log_of, utc
from tests.support.sheets import sheet_words
from tests.support.wards import (
    EAST,
    ID,
    NOBODY,
    WEST,
    codes,
    ids,
    left,
    listed_in,
    log,
    ordered,
    row,
    times,
    units,
    written,
)

LATER_ORDER = ordered("2026-03-05 20:00") + NOBODY


def test_entries_order_and_shifts_come_along() -> None:
    handovers = units(
        log("4 night", row("4 20:00")),
        log("5 day", row("09:00", "breaths: 8, volume_ml: 1900")),
        log("5 night", row("21:00"), LATER_ORDER, WEST),
        log("4 night", patients=NOBODY, unit=WEST),
    )
    west = handovers[WEST]
    assert listed_in(west) == [*((EAST, "04 19:00"), (EAST, "05 07:00")), (WEST, "05 19:00")]
    assert times(west) == ["04 20:00", "05 09:00", "05 21:00"]
    assert west.stay_start[ID] == utc("2026-03-04 10:00")
    assert measure(west)[ID].volume.stay_best_ml == 1900
    assert (west.counts.read, west.counts.used) == (1, 1)
    assert west.from_elsewhere == frozenset()
    assert (west.elsewhere, codes(west)) == ({}, set())
    assert [each.start.day for each in west.shifts] == [4, 5]


def test_the_sheet_of_the_new_unit_has_the_readings_hold_and_dangers_of_the_one_before() -> None:
    """From Intensive care 2, with 1,900 mL, a low SpO2 and a hold; the new list has no order."""
    care = "Intensive care 2"
    charted = row("20:00", "breaths: 8, volume_ml: 1900") + row("23:00", "spo2: 84")
    held = row("6 05:00", "what: hold, note: Dr Quill holds it for the scan")
    without_order = ordered().partition("  order")[0]
    handovers = units(
        log("5 night", charted + held, unit=care),
        log("6 day", row("6 09:00", "breaths: 8, volume_ml: 900"), without_order),
    )
    words = sheet_words(handovers[EAST], ID)
    assert f"from {care}, there until 6 Mar 07:00" in words
    assert "1,000 mL less than the best of the 24 h before (1,900 mL)" in words
    assert f"From 5 Mar 23:00 ({care}): SpO2 84 %" in words
    assert "held since 6 Mar 05:00" in words
    assert "Was ordered" in words
    assert (codes(handovers[care]), codes(handovers[EAST])) == (set(), {"order-left-out"})
    assert "on the list of" not in sheet_words(handovers[care], ID)


@pytest.mark.parametrize(("start", "overlaps"), [("19:00", False), ("18:30", True)])
def test_lists_of_a_transfer_that_overlap_are_a_finding(start: str, *, overlaps: bool) -> None:
    west = log(f"2026-03-05 {start} / 2026-03-06 07:00", unit=WEST)
    handovers = units(log("5 day", row("09:00")), west)
    assert times(handovers[WEST]) == ["05 09:00"]
    assert codes(handovers[WEST]) == ({"transfer-overlaps"} if overlaps else set())
    with_a_row = units(log("5 day", row("09:00") + left("18:45", "to West")), west)
    assert codes(with_a_row[WEST]) == set()


def test_on_two_lists_at_the_same_time_both_sheets_say_so() -> None:
    handovers = units(log("5 day", row("09:00")), log("5 day", row("15:00"), unit=WEST))
    for unit, other in ((EAST, WEST), (WEST, EAST)):
        assert codes(handovers[unit]) == {"on-two-units"}
        assert f"also on the list of {other}" in sheet_words(handovers[unit], ID)


def test_who_went_to_another_unit_is_neither_gone_nor_asked_about() -> None:
    logs = log("4 night"), log("5 day"), log("5 night", patients=NOBODY)
    alone = units(*logs)[EAST]
    assert (ids(alone), codes(alone)) == ((["99"], [ID]), {"no-longer-listed"})
    east = units(*logs, log("5 night", unit=WEST, patients=ordered()))[EAST]
    assert (ids(east), codes(east)) == ((["99"], []), set())


@pytest.mark.parametrize(
    "stranger",
    [
        ordered(born="1985-04-02"),
        ordered().replace("Larkspur", "Moss"),
        ordered().replace("10442", "10443"),
        ordered().replace("  born: 1958-04-02\n", ""),
    ],
    ids=["birth date", "name", "id", "no birth date"],
)
def test_another_person_does_not_come_from_there(stranger: str) -> None:
    handovers = units(
        log("5 day", row("09:00")),
        log("5 night", patients=NOBODY),
        log("4 night", patients=NOBODY, unit=WEST),
        log("5 night", patients=stranger, unit=WEST),
    )
    (patient,) = handovers[WEST].patients
    assert listed_in(handovers[WEST], patient.id) == [(WEST, "05 19:00")]
    assert times(handovers[WEST], patient.id) == []
    assert handovers[WEST].from_elsewhere == {patient.id}
    assert ids(handovers[EAST]) == (["99"], [ID])


def test_a_name_written_otherwise_is_the_same_person() -> None:
    turned = ordered().replace("Larkspur, Odile", "odile LARKSPUR")
    handovers = units(log("5 day", row("09:00")), log("5 night", patients=turned, unit=WEST))
    assert times(handovers[WEST]) == ["05 09:00"]


@pytest.mark.parametrize(("end", "comes"), [("20:00", True), ("20:01", False)])
def test_shifts_may_overlap_by_an_hour_to_hand_over_in(end: str, comes: bool) -> None:
    handovers = units(
        log(f"2026-03-05 07:00 / 2026-03-05 {end}", row("09:00")),
        log("5 night", unit=WEST, patients=ordered()),
    )
    assert ("05 09:00" in times(handovers[WEST])) is comes
    assert ("on-two-units" in codes(handovers[WEST])) is not comes


def test_on_the_lists_of_two_units_at_once_nobody_has_come_from_either() -> None:
    handovers = units(
        *(
            log(name, row("5 09:00" if "day" in name else "5 21:00"), unit=unit)
            for name in ("5 day", "5 night")
            for unit in (EAST, WEST)
        )
    )
    for name, handover in handovers.items():
        assert {unit for unit, _ in listed_in(handover)} == {name}
        assert "on-two-units" in codes(handover)
        assert ids(handover)[1] == []


def test_a_later_log_that_leaves_the_patient_out_says_who_has_them() -> None:
    """Both list the patient in the shift in which the transfer is."""
    handovers = units(
        log("4 night", row("4 20:00")),
        log("5 day", row("09:00")),
        log("5 day", row("15:00"), unit=WEST),
        log("5 night", patients=NOBODY),
        log("5 night", unit=WEST),
    )
    assert times(handovers[WEST]) == ["04 20:00", "05 09:00", "05 15:00"]
    assert codes(handovers[WEST]) == {"transfer-overlaps"}
    assert ids(handovers[EAST]) == (["99"], [])


def test_who_leaves_for_another_unit_in_the_middle_of_a_shift_is_there() -> None:
    handovers = units(
        log("4 night", row("4 20:00")),
        log("5 day", row("09:00") + left("14:10", "to West")),
        log("5 day", row("15:00"), unit=WEST),
    )
    assert ids(handovers[EAST]) == (["99"], [])
    assert codes(handovers[EAST]) == {"left-in-shift"}
    assert times(handovers[WEST]) == ["04 20:00", "05 09:00", "05 14:10", "05 15:00"]
    assert handovers[WEST].stay_before == {}
    assert codes(handovers[WEST]) == set()


def test_what_is_charted_elsewhere_between_comes_back_with_the_patient() -> None:
    """The list of a unit alone would make it doubtful that the patient had left with that order."""
    day, night = log("5 day", row("09:00") + left("14:10", "to West")), log("5 night", row("21:00"))
    assert "charted-after-left" in codes(units(day, night)[EAST])
    for west in [[log("5 day", row("15:00"), unit=WEST)], []]:
        handovers = units(day, *west, night)
        between = ["05 15:00"] if west else []
        assert times(handovers[EAST]) == ["05 09:00", "05 14:10", *between, "05 21:00"]
        assert ("charted-after-left" in codes(handovers[EAST])) is (west == [])
        assert handovers[EAST].stay_before == {}


@pytest.mark.parametrize("here", [EAST, WEST])
@pytest.mark.parametrize("gone", ["what: left, note: to the other", "what: away, until: 17:00"])
def test_who_is_back_in_the_same_shift_brings_along_the_dangers_of_the_unit_between(
    here: str, gone: str
) -> None:
    """Confused on the other unit at 15:00; nobody there or here was told of it."""
    there = {EAST: WEST, WEST: EAST}[here]
    charted = row("15:00", "symptoms: confused, spo2: 95") + left("16:40", "back")
    handed = units(
        log("4 night", row("4 20:00"), unit=here),
        log("5 day", row("09:00") + row("14:10", gone) + row("17:00"), unit=here),
        log("5 day", charted, unit=there),
    )
    words = sheet_words(handed[here], ID)
    assert "confused" in words
    assert f"from {there}, there until 5 Mar 16:40" in words
    assert handed[here].gaps == {}
    assert ids(handed[here]) == (["99", ID], [])
    assert ids(handed[there])[1] == []
    # 12 hours less 14:10 to 17:00.
    assert measure(handed[here])[ID].adherence.breaths_due == pytest.approx(120 - 170 / 6)
    assert codes(handed[here]) == ({"was-elsewhere"} if "left" in gone else set())


def test_whom_both_units_chart_at_the_same_time_was_not_elsewhere_between() -> None:
    handed = units(
        log("4 night", row("4 20:00")),
        log("5 day", row("09:00") + left("14:10", "to West") + row("17:00")),
        log("5 day", row("15:00") + row("18:00"), unit=WEST),
    )
    assert "15:00" not in " ".join(times(handed[EAST]))
    assert codes(handed[EAST]) == {"charted-after-left", "on-two-units"}


@pytest.mark.parametrize(
    ("first", "comes"), [("5 night", True), ("6 day", True), ("6 night", False)]
)
def test_who_left_more_than_a_day_ago_may_have_been_at_home(first: str, comes: bool) -> None:
    handovers = units(
        log("5 day", row("09:00") + left("14:10")),
        log("5 night", patients=NOBODY),
        log(first, unit=WEST),
    )
    west = handovers[WEST]
    assert len(west.listings[ID]) == 1 + comes
    assert (ID in west.stay_before) is not comes
    if not comes:
        assert [each.unit for each in west.stay_before[ID]] == [EAST]
        assert [each.at.hour for each in west.entries_before[ID]] == [9, 14]
        assert times(west) == []


def test_seven_days_after_the_last_shift_elsewhere_a_stay_is_another() -> None:
    for day, comes in ((12, True), (13, False)):
        west = log(f"2026-03-{day} 18:00 / 2026-03-{day} 23:00", unit=WEST)
        handovers = units(log("5 day", row("09:00")), west)
        assert (times(handovers[WEST]) == ["05 09:00"]) is comes


def test_there_and_back_is_one_stay() -> None:
    handovers = units(
        log("4 day", row("4 09:00")),
        log("4 night", row("4 21:00"), unit=WEST),
        log("5 day", row("09:00")),
        log("5 day", unit=WEST, patients=NOBODY),
    )
    east = handovers[EAST]
    assert listed_in(east) == [(EAST, "04 07:00"), (WEST, "04 19:00"), (EAST, "05 07:00")]
    assert times(east) == ["04 09:00", "04 21:00", "05 09:00"]
    assert east.gaps == {"99": (Gap(utc("2026-03-04 19:00"), utc("2026-03-05 07:00")),)}
    assert ids(handovers[WEST]) == (["99"], [])


def test_a_shift_elsewhere_is_of_the_stay_though_no_later_log_of_that_unit_is_given() -> None:
    handovers = units(
        log("4 day", row("4 09:00")),
        log("4 night", row("4 21:00"), unit=WEST),
        log("5 day", row("09:00")),
    )
    assert times(handovers[EAST]) == ["04 09:00", "04 21:00", "05 09:00"]
    assert "on-two-units" not in codes(handovers[EAST])
    assert times(handovers[WEST]) == ["04 09:00", "04 21:00"]


def test_who_left_there_for_home_begins_anew_here() -> None:
    """On East, then on West, from there home; back on East two days later."""
    handovers = units(
        log("4 day", row("4 09:00") + left("4 18:00", "to West")),
        log("4 night", row("4 21:00") + left("5 06:00"), unit=WEST),
        log("5 day", unit=WEST, patients=NOBODY),
        log("6 night", row("6 20:00")),
    )
    east = handovers[EAST]
    assert listed_in(east) == [(EAST, "06 19:00")]
    assert [each.unit for each in east.stay_before[ID]] == [EAST, WEST]
    assert times(east) == ["06 20:00"]
    assert [each.at.hour for each in east.entries_before[ID]] == [9, 18, 21, 6]


def test_over_three_units_all_comes_along() -> None:
    handovers = units(
        log("4 day", row("4 09:00"), unit="A"),
        log("4 night", patients=NOBODY, unit="A"),
        log("4 night", row("4 21:00"), unit="B"),
        log("5 day", patients=NOBODY, unit="B"),
        log("5 day", row("09:00"), unit="C"),
    )
    assert times(handovers["C"]) == ["04 09:00", "04 21:00", "05 09:00"]
    assert [unit for unit, _ in listed_in(handovers["C"])] == ["A", "B", "C"]
    assert ids(handovers["A"]) == ids(handovers["B"]) == (["99"], [])


def test_a_shift_there_that_left_the_patient_out_parts_no_stay() -> None:
    handovers = units(
        log("4 day", row("4 09:00")),
        log("4 night", patients=NOBODY),
        log("5 day", row("09:00")),
        log("5 night", row("20:00"), unit=WEST),
    )
    assert times(handovers[WEST]) == ["04 09:00", "05 09:00", "05 20:00"]


def test_a_stay_that_ended_at_home_does_not_come_along_within_a_day_either() -> None:
    """Home, back on the same unit at night, and from there to the other: two stays."""
    handovers = units(
        log("5 day", row("09:00") + left("14:10")),
        log("5 night", row("20:00"), LATER_ORDER),
        log("6 day", row("6 09:00"), LATER_ORDER, WEST),
    )
    assert listed_in(handovers[WEST]) == [(EAST, "05 19:00"), (WEST, "06 07:00")]
    assert times(handovers[WEST]) == ["05 20:00", "06 09:00"]


def test_of_two_units_the_one_without_a_log_that_leaves_the_patient_out_has_them() -> None:
    handovers = units(
        log("5 day", row("09:00")),
        log("5 night", patients=NOBODY),
        log("5 day", row("15:00"), unit=WEST),
    )
    assert times(handovers[WEST]) == ["05 09:00", "05 15:00"]
    assert ids(handovers[EAST]) == (["99"], [])


@pytest.mark.parametrize("end", [left("14:10", "to West"), ""], ids=["a row", "a later list"])
def test_whom_both_units_listed_is_with_the_one_that_goes_on(end: str) -> None:
    both = [log(name, unit=unit) for unit in (EAST, WEST) for name in ("4 night",)]
    handovers = units(
        *both,
        log("5 day", row("09:00") + end),
        log("5 day", row("15:00"), unit=WEST),
        log("5 night", patients=NOBODY),
        log("5 night", unit=WEST),
    )
    assert {"05 09:00", "05 15:00"} <= set(times(handovers[WEST]))
    assert ids(handovers[EAST]) == (["99"], [])


def test_whom_the_second_unit_leaves_out_as_well_came_from_the_first() -> None:
    handovers = units(
        log("4 night", row("4 20:00")),
        log("5 day", patients=NOBODY),
        log("4 night", row("4 21:00"), unit=WEST),
        log("5 day", row("15:00"), unit=WEST),
        log("5 night", patients=NOBODY, unit=WEST),
    )
    assert ids(handovers[WEST]) == (["99"], [ID])
    assert times(handovers[WEST]) == ["04 20:00", "04 21:00", "05 15:00"]


def test_who_leaves_the_second_unit_for_home_does_not_go_back_to_the_first() -> None:
    """Listed by West from the night on, by East in the day, which writes that they left."""
    handovers = units(
        log("4 night", row("4 20:00"), unit=WEST),
        log("5 day", unit=WEST),
        log("5 night", patients=NOBODY, unit=WEST),
        log("5 day", row("09:00") + left("14:10")),
    )
    assert ids(handovers[EAST]) == (["99"], [ID])
    assert times(handovers[EAST]) == ["04 20:00", "05 09:00", "05 14:10"]
    assert ids(handovers[WEST]) == (["99"], [])


def test_a_unit_that_left_the_patient_out_before_they_left_is_not_where_they_went() -> None:
    handovers = units(
        log("4 night", row("4 20:00")),
        log("5 day", row("09:00") + left("14:10")),
        log("4 night", row("4 21:00"), unit=WEST),
        log("5 day", patients=NOBODY, unit=WEST),
    )
    assert ids(handovers[EAST]) == (["99"], [ID])
    assert times(handovers[EAST]) == ["04 20:00", "04 21:00", "05 09:00", "05 14:10"]
    assert ids(handovers[WEST]) == (["99"], [])


def test_where_either_unit_could_have_the_patient_both_say_they_are_gone() -> None:
    """East writes that the patient left; West, where they may have gone, lists them no more."""
    handovers = units(
        log("5 day", row("09:00") + left("14:10")),
        log("5 day", row("15:00"), unit=WEST),
        log("5 night", patients=NOBODY, unit=WEST),
    )
    assert ids(handovers[EAST]) == ids(handovers[WEST]) == (["99"], [ID])


def test_units_with_clocks_of_their_own_are_compared_by_real_time() -> None:
    """15:00 in Halifax is 19:00 in UTC."""
    evening = written("2026-03-05 15:00 / 2026-03-05 23:00", "", None, WEST)
    west = log_of(evening.replace("UTC", "America/Halifax"), "west.yaml")
    handovers = units(log("5 day", row("09:00")), west)
    assert times(handovers[WEST]) == ["05 09:00"]


def test_a_row_that_both_units_have_counts_once() -> None:
    both = row("19:10")
    handovers = units(
        log("2026-03-05 07:00 / 2026-03-05 19:30", both),
        log("5 night", both + row("20:00"), unit=WEST),
    )
    west = handovers[WEST]
    assert [(each.at.hour, each.place.file) for each in west.entries[ID]] == [
        *((19, "Harbour 3 West, 5 night.yaml"), (20, "Harbour 3 West, 5 night.yaml"))
    ]
    assert (west.counts.read, west.counts.used) == (2, 2)


def test_what_is_found_in_the_logs_of_one_unit_is_not_found_again_by_the_other() -> None:
    early = row("4 09:00") + row("05:00")
    order = ordered("2026-03-05 08:00") + NOBODY
    handovers = units(log("5 day", early, order), log("5 night", row("20:00"), order, WEST))
    assert "before-order" in codes(handovers[EAST])
    assert codes(handovers[WEST]) == set()
    assert len(times(handovers[WEST])) == 3


def test_a_gap_is_where_neither_units_log_tells() -> None:
    """West's log of the day between tells that the patient was not there yet."""
    day = Gap(utc("2026-03-05 07:00"), utc("2026-03-05 19:00"))
    gone = log("4 night", row("4 20:00"))
    there = log("5 night", unit=WEST)
    assert units(gone, there)[WEST].gaps[ID] == (day,)
    between = log("5 day", patients=NOBODY, unit=WEST)
    assert ID not in units(gone, there, between)[WEST].gaps
    elsewhere = log("5 day", patients=NOBODY, unit="Harbour 4")
    assert units(gone, there, elsewhere)[WEST].gaps[ID] == (day,)


def test_a_unit_without_a_hand_over_still_tells_where_somebody_came_from() -> None:
    handovers = units(
        log("4 night", row("4 20:00")),
        log("5 night", patients=NOBODY),
        log("5 day", row("09:00"), unit=WEST),
        as_of="2026-03-05 12:00",
    )
    assert set(handovers) == {WEST}
    assert times(handovers[WEST]) == ["04 20:00", "05 09:00"]


def test_who_is_gone_from_two_units_at_once_is_gone_from_one_at_least() -> None:
    """Nobody may be lost because each unit takes the patient for the other's."""
    handovers = units(
        *(log("5 day", row("09:00"), unit=unit) for unit in (EAST, WEST)),
        *(log("5 night", patients=NOBODY, unit=unit) for unit in (EAST, WEST)),
    )
    assert [ids(each)[1] for each in handovers.values()] == [[ID], [ID]]

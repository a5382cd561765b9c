"""Stays on one unit: which shifts are of it, when it ends, who is gone, what nobody tells of."""

from cProfile import Profile

import pytest

from handoff.gather import gather
from handoff.judge import follow, judge
from handoff.judge.since import find_changes
from handoff.measure import measure
from handoff.model.ward import Gap
from tests.support.bad_logs import OTHER
from tests.support.builders import default_limits
from tests.support.logs import NOW, utc
from tests.support.wards import (
    EAST,
    ID,
    NOBODY,
    codes,
    ids,
    left,
    listed_in,
    log,
    one_unit,
    ordered,
    row,
    times,
)

ODILE = ordered()
WITHOUT_ORDER = ODILE.partition("  order")[0]
# Who comes back has a new order: with the old one it is doubted that they left.
BACK_AT_NIGHT = ordered("2026-03-05 18:30") + NOBODY
BACK_NEXT_DAY = ordered("2026-03-06 06:30") + NOBODY


# shifts that list a patient


def test_the_shifts_that_list_a_patient_are_known_latest_last() -> None:
    handover = one_unit(
        log("4 day", row("4 12:00")),
        log("4 night", patients=NOBODY),
        log("5 day", row("12:00")),
    )
    assert listed_in(handover) == [(EAST, "04 07:00"), (EAST, "05 07:00")]
    assert listed_in(handover, "99") == [
        *((EAST, "04 07:00"), (EAST, "04 19:00"), (EAST, "05 07:00"))
    ]
    assert handover.listings[ID][-1].patient == handover.patients[-1]
    assert times(handover) == ["04 12:00", "05 12:00"]


def test_two_files_of_one_shift_are_one_listing() -> None:
    before = log("4 night", row("4 20:00"), file="before.yaml")
    whole = one_unit(before, log("5 day", row("09:00") + left("14:10"), file="whole.yaml"))
    halves = one_unit(
        before,
        log("5 day", row("09:00"), ODILE, file="a.yaml"),
        log("5 day", left("14:10"), file="b.yaml"),
    )
    assert listed_in(halves) == listed_in(whole) == [(EAST, "04 19:00"), (EAST, "05 07:00")]
    assert times(halves) == times(whole)
    assert ids(halves) == ids(whole) == (["99"], [ID])
    assert halves.counts == whole.counts


def test_of_two_people_under_the_id_of_somebody_gone_the_last_is_meant() -> None:
    handover = one_unit(
        log("4 night", row("4 20:00"), ordered(born="1985-04-02")),
        log("5 day", row("09:00")),
        log("5 night", patients=NOBODY),
    )
    assert ids(handover) == (["99"], [ID])
    assert times(handover) == ["05 09:00"]
    assert listed_in(handover) == [(EAST, "05 07:00")]
    assert [each.reason.code for each in handover.set_aside] == ["identity-disagrees"]
    assert (handover.counts.read, handover.counts.used) == (2, 1)


# leaving


def test_who_left_in_this_shift_has_no_sheet_and_is_gone() -> None:
    handover = one_unit(log("5 day", row("09:00") + left("14:10")))
    assert ids(handover) == (["99"], [ID])
    assert handover.left[ID].note == "home"
    assert times(handover) == ["05 09:00", "05 14:10"]
    assert codes(handover) == {"left-in-shift"}
    assert measure(handover) == {}
    assert (handover.counts.read, handover.counts.set_aside) == (2, 0)


def test_where_everybody_left_nobody_is_on_the_list() -> None:
    handover = one_unit(log("4 night"), log("5 day", left("14:10"), ODILE))
    assert ids(handover) == ([], ["99", ID])
    assert list(handover.left) == [ID]


@pytest.mark.parametrize(
    ("as_of", "is_here"), [("2026-03-05 14:09", True), ("2026-03-05 14:10", False)]
)
def test_who_leaves_later_than_as_of_has_not_left(as_of: str, is_here: bool) -> None:
    handover = one_unit(log("4 night"), log("5 day", left("14:10")), as_of=as_of)
    assert (ID in ids(handover)[0]) is is_here
    assert (ID in ids(handover)[1]) is not is_here
    assert (ID in handover.left) is not is_here


def test_after_the_end_of_the_shift_a_patient_can_still_leave_before_as_of() -> None:
    given = log("5 day", left("19:30"))
    assert ID in ids(one_unit(given))[0]
    assert ids(one_unit(given, as_of="2026-03-05 20:00")) == (["99"], [ID])


def test_who_is_charted_after_leaving_is_still_here() -> None:
    for more in (
        "breaths: 8",
        "what: declined",
        "what: hold, note: Dr",
        "what: note, note: pale, spo2: 88",
    ):
        handover = one_unit(log("5 day", left("14:10") + row("14:40", more)))
        assert ids(handover)[1] == []
        assert ID in ids(handover)[0]
        (found,) = (each for each in handover.findings if each.code == "charted-after-left")
        assert [place.line for place in found.related] == [(found.place.line or 0) + 1]


def test_who_was_told_of_it_after_that_does_not_bring_the_patient_back() -> None:
    after = row("14:40", "what: told, note: ward 5") + row("15:00", "what: note, note: bed made")
    handover = one_unit(log("5 day", left("14:10") + after))
    assert ids(handover) == (["99"], [ID])
    assert codes(handover) == {"left-in-shift"}


def test_whoever_was_on_the_list_before_and_is_not_any_more_is_gone() -> None:
    before = log("4 night", row("4 20:00") + left("4 23:00"))
    handover = one_unit(before, log("5 day", patients=NOBODY))
    assert ids(handover) == (["99"], [ID])
    assert times(handover) == ["04 20:00", "04 23:00"]
    assert handover.left[ID].at == utc("2026-03-04 23:00")
    assert handover.stay_start[ID] == utc("2026-03-04 10:00")
    unsaid = one_unit(log("4 night"), log("5 day", patients=NOBODY))
    assert ids(unsaid) == (["99"], [ID])
    assert unsaid.left == {}
    assert "no-longer-listed" in codes(unsaid)


def test_somebody_is_gone_for_one_hand_over() -> None:
    handover = one_unit(
        log("4 night"), log("5 day", patients=NOBODY), log("5 night", patients=NOBODY)
    )
    assert ids(handover) == (["99"], [])


def test_who_is_on_the_list_of_a_shift_that_overlaps_and_not_on_the_latest_is_gone() -> None:
    """The evening begins before the day is over: the day was handed over to nobody yet."""
    day, evening = "2026-03-05 07:00 / 2026-03-05 19:00", "2026-03-05 15:00 / 2026-03-05 23:00"
    handover = one_unit(log(day, row("09:00")), log(evening, patients=NOBODY))
    assert ids(handover) == (["99"], [ID])
    assert times(handover) == ["05 09:00"]
    assert {"no-longer-listed", "shifts-overlap"} <= codes(handover)
    # Also where a shift ended before both, with which the day's list is not compared.
    after_night = one_unit(
        log("4 night", patients=NOBODY), log(day, row("09:00")), log(evening, patients=NOBODY)
    )
    assert ids(after_night) == (["99"], [ID])


def test_who_is_gone_is_named_once_among_the_changes() -> None:
    new = OTHER.replace("2026-03-06 10:00", "2026-03-05 08:00").replace("12A", "5")
    handover = one_unit(
        log("4 night"),
        log("5 day", left("14:10") + left("15:00").replace(ID, "10557"), ODILE + new),
    )
    limits = default_limits()
    measures = measure(handover)
    verdicts = {key: judge(each, handover, limits) for key, each in measures.items()}
    since = find_changes(handover, measures, verdicts)
    assert since is not None
    assert [each.id for each in since.gone] == ["99", "10557", ID]
    assert since.patients == {}


# a stay begins anew


def test_after_leaving_a_new_stay_begins_with_the_next_shift_that_lists_the_patient() -> None:
    handover = one_unit(
        log("5 day", row("09:00") + left("14:10") + row("14:20", "what: told, note: Dr")),
        log("6 day", row("6 09:00"), BACK_NEXT_DAY),
    )
    assert ids(handover)[1] == []
    assert listed_in(handover) == [(EAST, "06 07:00")]
    assert [each.shift.start for each in handover.stay_before[ID]] == [utc("2026-03-05 07:00")]
    assert times(handover) == ["06 09:00"]
    assert [f"{each.at:%H:%M}" for each in handover.entries_before[ID]] == [
        *("09:00", "14:10", "14:20")
    ]
    assert handover.stay_start[ID] == utc("2026-03-06 06:30")
    assert measure(handover)[ID].volume.previous_best_ml is None
    assert codes(handover) == set()
    assert handover.from_elsewhere == {ID}


def test_of_an_order_after_leaving_the_stay_starts_with_the_order() -> None:
    again = ordered("2026-03-06 08:00")
    handover = one_unit(log("5 day", left("14:10")), log("6 day", patients=again + NOBODY))
    assert handover.stay_start[ID] == utc("2026-03-06 08:00")


@pytest.mark.parametrize(
    ("order_start", "is_new"),
    [("2026-03-04 10:00", False), ("2026-03-05 14:10", False), ("2026-03-05 14:11", True)],
)
def test_soon_after_leaving_a_new_stay_needs_an_order_that_starts_later(
    order_start: str, *, is_new: bool
) -> None:
    """With the order of before it is doubted that the patient left: nothing that is open may be
    lost with a stay that has not ended.
    """
    handover = one_unit(
        log("5 day", row("09:00") + left("14:10")),
        log("5 night", row("20:00"), ordered(order_start) + NOBODY),
    )
    assert ids(handover) == (["99", ID], [])
    assert (ID in handover.stay_before) is is_new
    assert times(handover) == (["05 20:00"] if is_new else ["05 09:00", "05 14:10", "05 20:00"])
    night = handover.listings[ID][-1].patient.place
    found = [each for each in handover.findings if each.code == "charted-after-left"]
    assert [each.related for each in found] == ([] if is_new else [(night,)])
    assert [each.place.file for each in found] == ([] if is_new else [f"{EAST}, 5 day.yaml"])


@pytest.mark.parametrize(("clock", "is_new"), [("19:00", False), ("18:59", True)])
def test_a_day_after_leaving_a_new_stay_begins_with_the_order_of_before_too(
    clock: str, *, is_new: bool
) -> None:
    """Listed again on the 6th at 19:00; the stay that began then starts where the other ended."""
    handover = one_unit(log("5 day", left(clock)), log("6 night"))
    assert (ID in handover.stay_before) is is_new
    assert ("charted-after-left" in codes(handover)) is not is_new
    start = f"2026-03-05 {clock}" if is_new else "2026-03-04 10:00"
    assert handover.stay_start[ID] == utc(start)


def test_without_an_order_that_would_go_on_a_new_stay_begins_soon_after_leaving() -> None:
    handover = one_unit(log("5 day", left("14:10")), log("5 night", patients=WITHOUT_ORDER))
    assert listed_in(handover) == [(EAST, "05 19:00")]
    assert ID in handover.stay_before
    assert "charted-after-left" not in codes(handover)


def test_what_the_stay_before_was_is_known_in_every_shift_of_the_new_one() -> None:
    first = log("4 day", row("4 09:00") + left("4 14:00"))
    second = log("5 day", row("09:00") + left("14:10"), ordered("2026-03-05 06:30") + NOBODY)
    third = log("6 day", row("6 09:00"), BACK_NEXT_DAY)
    fourth = log("6 night", patients=BACK_NEXT_DAY)
    handover = one_unit(first, second, third)
    assert [each.shift.start.day for each in handover.stay_before[ID]] == [5]
    assert [each.at.day for each in handover.entries_before[ID]] == [5, 5]
    later = one_unit(first, second, third, fourth)
    assert listed_in(later) == [(EAST, "06 07:00"), (EAST, "06 19:00")]
    assert times(later) == ["06 09:00"]
    assert later.stay_before == handover.stay_before
    assert later.entries_before == handover.entries_before


def test_a_patient_who_left_and_is_on_the_list_of_that_shift_has_no_new_stay() -> None:
    """The next shift overlaps by half an hour, and the row is in its time."""
    handover = one_unit(
        log("2026-03-05 07:00 / 2026-03-05 19:30", row("09:00") + left("19:10")),
        log("5 night"),
    )
    assert ids(handover) == (["99"], [ID])
    assert listed_in(handover) == [(EAST, "05 07:00"), (EAST, "05 19:00")]


@pytest.mark.parametrize(("clock", "is_new"), [("18:59", True), ("19:00", True), ("19:01", False)])
def test_who_left_as_a_shift_starts_that_lists_them_begins_anew(clock: str, is_new: bool) -> None:
    again = ordered("2026-03-05 19:30") + NOBODY
    handover = one_unit(log("5 day", row("09:00") + left(clock)), log("5 night", patients=again))
    assert (ID in handover.stay_before) is is_new
    assert (ID in ids(handover)[1]) is not is_new


def test_an_entry_charted_late_belongs_where_its_time_puts_it() -> None:
    handover = one_unit(
        log("5 day", left("14:10")),
        log(
            "5 night",
            row("13:00") + row("18:00", "what: note, note: bed") + row("20:00"),
            BACK_AT_NIGHT,
        ),
    )
    assert [f"{each.at:%H:%M}" for each in handover.entries_before[ID]] == ["13:00", "14:10"]
    assert times(handover) == ["05 18:00", "05 20:00"]


def test_what_is_told_as_the_next_shift_starts_is_of_the_log_that_has_it() -> None:
    told = row("19:00", "what: told, note: Dr Quill")
    old = one_unit(log("5 day", left("14:10") + told), log("5 night", patients=BACK_AT_NIGHT))
    assert [each.at.hour for each in old.entries_before[ID]] == [14, 19]
    new = one_unit(log("5 day", left("14:10")), log("5 night", told, BACK_AT_NIGHT))
    assert times(new) == ["05 19:00"]


def test_who_is_charted_between_leaving_and_the_next_shift_has_not_left() -> None:
    handover = one_unit(log("5 day", left("14:10")), log("5 night", row("18:00")))
    assert codes(handover) == {"charted-after-left", "outside-shift"}
    assert len(handover.listings[ID]) == 2
    assert times(handover) == ["05 14:10", "05 18:00"]


# no log of a time


@pytest.mark.parametrize(("start", "is_gap"), [("07:59", False), ("08:00", True)])
def test_an_hour_that_no_log_tells_of_is_a_gap(start: str, is_gap: bool) -> None:
    handover = one_unit(log("4 night"), log(f"2026-03-05 {start} / 2026-03-05 19:00"))
    gap = Gap(utc("2026-03-05 07:00"), utc(f"2026-03-05 {start}"))
    assert handover.gaps == ({ID: (gap,), "99": (gap,)} if is_gap else {})


def test_a_log_that_leaves_the_patient_out_tells_of_its_time() -> None:
    logs = log("4 night"), log("5 day", patients=NOBODY), log("5 night")
    assert one_unit(*logs).gaps == {}
    missing = one_unit(log("4 night"), log("5 night", patients=NOBODY), log("6 day"))
    day = Gap(utc("2026-03-05 07:00"), utc("2026-03-05 19:00"))
    assert missing.gaps == {ID: (day,), "99": (day,)}


def test_what_was_before_the_stay_is_no_gap() -> None:
    ended = log("5 day", left("14:10"))
    again = [log(name, patients=BACK_NEXT_DAY) for name in ("6 day", "6 night")]
    handover = one_unit(log("2 day", patients=ODILE), ended, *again)
    assert ID not in handover.gaps
    assert handover.gaps["99"] == (Gap(utc("2026-03-05 19:00"), utc("2026-03-06 07:00")),)


@pytest.mark.parametrize("patients", [None, NOBODY], ids=["lists the patient", "does not"])
def test_long_shifts_beside_short_ones_leave_no_gap(patients: str | None) -> None:
    """One begins before the time between and reaches into it, with a short one within."""
    long = "2026-03-04 06:00 / 2026-03-05 05:50", "2026-03-05 05:00 / 2026-03-06 05:00"
    handover = one_unit(
        log("4 day"),
        *(log(name, patients=patients) for name in long),
        log("2026-03-05 09:00 / 2026-03-05 10:00", patients=NOBODY),
        log("2026-03-06 05:30 / 2026-03-06 19:00"),
    )
    assert handover.gaps == {}


# from elsewhere, and without an order


def test_who_is_listed_for_the_first_time_may_be_from_elsewhere() -> None:
    new = log("5 day")
    assert one_unit(new).from_elsewhere == frozenset()
    assert one_unit(log("4 night", patients=NOBODY), new).from_elsewhere == {ID}
    assert one_unit(log("4 night"), new).from_elsewhere == frozenset()
    empty = log("4 night", patients="  []\n")
    assert one_unit(empty, new).from_elsewhere == frozenset()


def test_of_who_is_listed_first_a_day_before_is_judged_also_where_earlier_logs_are_given() -> None:
    """The night's log does not list the patient, so that no shift of theirs has judged it."""
    new = log("5 day", row("06:30", "spo2: 84, symptoms: dizzy") + row("09:00"))
    for earlier in ((), (log("4 night", patients=NOBODY),)):
        handover = one_unit(*earlier, new)
        measures = measure(handover)[ID]
        assert [f"{each.at:%H:%M}" for each in measures.caution_entries] == ["06:30", "09:00"]
        rules = [each.rule for each in judge(measures, handover, default_limits()).cautions]
        assert {"low-oxygen", "dizziness-with-signs"} <= set(rules)
    listed_before = one_unit(log("4 night"), log("5 day", row("06:30") + row("09:00")))
    (judged,) = measure(listed_before)[ID].caution_entries
    assert f"{judged.at:%H:%M}" == "09:00"


def test_the_last_order_of_a_stay_lapses_with_the_last_shift_that_has_it() -> None:
    handover = one_unit(
        log("4 day", row("4 12:00")),
        log("4 night", row("4 20:00")),
        log("5 day", patients=WITHOUT_ORDER),
    )
    assert handover.lapsed[ID].stop == utc("2026-03-05 07:00")
    assert handover.stay_start[ID] == utc("2026-03-04 10:00")
    assert measure(handover) == {}
    stopped = ordered(order=", stop: 2026-03-04 15:00")
    handover = one_unit(log("4 day", patients=stopped), log("5 day", patients=WITHOUT_ORDER))
    assert handover.lapsed[ID].stop == utc("2026-03-04 15:00")


def test_an_order_of_an_earlier_stay_or_one_in_force_does_not_lapse() -> None:
    ended = log("4 day", left("4 14:00"))
    assert one_unit(ended, log("5 day", patients=WITHOUT_ORDER)).lapsed == {}
    assert one_unit(log("4 day"), log("5 day")).lapsed == {}


def test_by_an_order_whose_start_is_not_known_nothing_is_due_and_danger_is_judged() -> None:
    """The last order of the stay holds on, or one by which nothing is due."""
    no_start = ODILE.replace("start: 2026-03-04 10:00", "goal_ml: 1500")
    after_another = one_unit(log("4 day"), log("5 day", patients=no_start))
    assert after_another.lapsed[ID].start == utc("2026-03-04 10:00")
    assert after_another.lapsed[ID].stop == utc("2026-03-04 19:00")
    danger = log("5 day", row("09:00", "spo2: 84"), no_start)
    for logs in ((danger,), (log("4 day", left("4 14:00")), danger)):
        handover = one_unit(*logs)
        order = handover.lapsed[ID]
        assert order.start == order.stop == utc("2026-03-05 07:00")
        (matter,) = follow(handover, handover.patients[0], default_limits())
        assert (matter.rule, matter.level) == ("low-oxygen", "escalate")


def test_sixty_logs_of_thirty_beds_are_gathered_in_steps_that_grow_with_their_number() -> None:
    people = "".join(
        OTHER.replace("10557", f"2{bed:03}").replace("Ida", f"Ida {bed}").replace("12A", str(bed))
        for bed in range(30)
    )
    names = [f"{day} {kind}" for day in range(1, 31) for kind in ("day", "night")]
    logs = [log(name, patients=people) for name in names]
    assert len(logs) == 60

    def calls(count: int) -> int:
        profile = Profile()
        (handover,), _ = profile.runcall(gather, logs[:count], None, NOW)
        assert len(handover.listings["2000"]) == count
        return sum(each.callcount for each in profile.getstats())

    assert calls(60) < 6 * calls(15)

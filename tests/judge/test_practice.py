"""How the exercise goes: charting, adherence, declining, technique, hold.

Every limit here is common practice: 2 slots; 6 h or 4 h; half of the slots and 2; under 50 % in 3
slots; declined twice; any blown, or a third of 3; 3 holds under the order's.
"""

from typing import Any

import pytest

from handoff.model.ward import Entry, Patient, SeenBy
from tests.support.builders import (
    at,
    entry,
    found,
    handover,
    judged,
    lines,
    order,
    patient,
    verdict,
    with_limit,
)


def started_before(**fields: Any) -> tuple[Patient, ...]:
    return (patient(order=order("-1 10:00", **fields)),)


EXERCISED_BEFORE = entry("-1 20:00")


@pytest.mark.parametrize(("as_of", "state"), [("08:00", "not_met"), ("09:00", "met")])
def test_nothing_charted_with_two_slots_due(as_of: str, state: str) -> None:
    rows = handover(EXERCISED_BEFORE, patients=started_before(), as_of=as_of)
    given = verdict("nothing-charted", rows)
    assert (given.state, given.level) == (state, "follow_up")
    if state == "met":
        assert (given.value, given.limit, given.unit) == (2, 2, "{slots}")
        assert found(given) == {
            "rows": 0,
            "saw": 0,
            "slots": 2,
            "before": 1,
            "last_at": at("-1 20:00"),
        }
        assert (given.at, lines(given.entries)) == (None, [1000])


@pytest.mark.parametrize(
    "rows",
    [
        (),
        (entry("-1 20:00", what="declined"),),
        (EXERCISED_BEFORE, entry("08:30", what="seen", pain=2)),
        (EXERCISED_BEFORE, entry("08:30", what="note", spo2=96)),
        (EXERCISED_BEFORE, entry("08:30", "none", what="seen")),
    ],
)
def test_nothing_charted_is_not_met_before_the_start_or_where_staff_saw_the_patient(
    rows: tuple[Entry, ...],
) -> None:
    given = handover(*rows, patients=started_before(), as_of="12:00")
    assert verdict("nothing-charted", given).state == "not_met"


@pytest.mark.parametrize(
    "row",
    [
        entry("09:00", what="note", note="sleeps"),
        entry("09:00", what="told", note="Dr Quill", about=("all",)),
        entry("09:00", seen_by=SeenBy.PATIENT),
        entry("09:00", "none", what="seen", seen_by=SeenBy.PATIENT),
    ],
)
def test_a_note_a_telling_or_what_the_patient_charts_is_not_seeing_the_patient(row: Entry) -> None:
    """All 12 spans are due; only this one row is charted."""
    given = handover(EXERCISED_BEFORE, row, patients=started_before())
    assert verdict("nothing-charted", given).state == "met"
    assert judged(given).priority == "follow_up"


# 6 h of available time; 4 h by the clock while a danger is not over or the exercise is held: both
# common practice.
@pytest.mark.parametrize(
    ("rows", "as_of", "state", "hours"),
    [
        ((entry("08:00"),), "13:59", "not_met", None),
        ((entry("08:00"),), "14:00", "met", 6),
        ((entry("08:00", what="seen", pain=2),), "14:00", "met", 6),
        ((entry("08:00", until="10:00"),), "15:59", "not_met", None),
        ((entry("08:00", until="10:00"),), "16:00", "met", 6),
        ((entry("08:00"), entry("13:00", seen_by=SeenBy.PATIENT)), "14:00", "met", 6),
        ((entry("08:00"), entry("13:00", what="note", note="asked")), "14:00", "met", 6),
        ((entry("08:00"), entry("13:00", "none", what="seen")), "19:00", "met", 6),
        ((entry("08:00"), entry("09:00", what="away", until="11:00")), "15:59", "not_met", None),
        ((entry("08:00"), entry("09:00", what="asleep", until="11:00")), "16:00", "met", 6),
        ((), "19:00", "not_met", None),
    ],
)
def test_not_seen_for_six_available_hours(
    rows: tuple[Entry, ...], as_of: str, state: str, hours: float | None
) -> None:
    given = verdict("not-seen", handover(*rows, as_of=as_of))
    assert (given.state, given.level, given.value) == (state, "follow_up", hours)


FAST_PULSE = entry("08:00", pulse=150)
TOLD_OF_IT = entry("08:10", what="told", note="Dr Quill", about=("pulse",))
HELD = entry("08:00", what="hold", note="Dr Quill: drain")


@pytest.mark.parametrize(
    ("rows", "as_of", "state"),
    [
        ((FAST_PULSE,), "11:59", "not_met"),
        ((FAST_PULSE,), "12:00", "met"),
        ((FAST_PULSE, TOLD_OF_IT), "12:00", "met"),
        ((HELD,), "11:59", "not_met"),
        ((HELD,), "12:00", "met"),
        ((HELD, entry("09:00", what="asleep", until="12:00")), "12:00", "met"),
        ((HELD, entry("11:00", volume_ml=900)), "12:00", "met"),
        ((HELD, entry("11:00", volume_ml=900, pain=3)), "12:00", "not_met"),
        ((HELD, entry("11:00", "none", what="seen", seen_by=SeenBy.PATIENT)), "12:00", "met"),
        ((HELD, entry("08:01", "none", what="seen")), "12:00", "not_met"),
        ((HELD, entry("11:00", what="seen", spo2=96)), "12:00", "not_met"),
        ((entry("-1 20:00", pulse=150),), "08:00", "met"),
        ((FAST_PULSE, TOLD_OF_IT, entry("10:00", pulse=80)), "15:59", "not_met"),
    ],
)
def test_while_a_danger_is_open_or_the_exercise_is_held_it_is_four_hours_by_the_clock(
    rows: tuple[Entry, ...], as_of: str, state: str
) -> None:
    ward = (patient(order=order("-1 10:00")),)
    assert verdict("not-seen", handover(*rows, patients=ward, as_of=as_of)).state == state


def test_a_shift_on_hold_without_any_row_is_one_in_which_nobody_looked() -> None:
    held_before = entry("-1 20:00", what="hold", note="Dr Quill: drain")
    given = handover(EXERCISED_BEFORE, held_before, patients=started_before())
    assert verdict("nothing-charted", given).state == "not_met"
    not_seen = verdict("not-seen", given)
    assert (not_seen.state, not_seen.value) == ("met", 23)


def test_of_not_seen_and_nothing_charted_one_is_printed() -> None:
    danger = entry("-1 20:00", pulse=150)
    given = handover(danger, patients=started_before())
    assert verdict("nothing-charted", given).replaced_by == "not-seen"


@pytest.mark.parametrize(
    ("as_of", "charted", "state"),
    [
        ("08:00", [], "not_met"),
        ("09:00", [], "met"),
        ("11:00", [7, 8], "met"),
        ("12:00", [7, 8, 9], "not_met"),
        ("12:00", [7, 8], "met"),
    ],
)
def test_not_charted_with_half_of_the_slots_and_two(
    as_of: str, charted: list[int], state: str
) -> None:
    rows = [entry(f"{hour:02}:30", what="declined") for hour in charted]
    given = verdict("not-charted", handover(*rows, as_of=as_of))
    assert (given.state, given.level) == (state, "note")


def test_not_charted_tells_its_part_of_the_slots() -> None:
    given = verdict("not-charted", handover(entry("07:30"), as_of="11:00"))
    assert (given.value, given.limit, given.unit) == (0.75, 0.5, "1")
    assert found(given) == {"slots": 3, "slots_due": 4, "left_out": 0, "least_min": 15}


# A slot with under 15 available minutes is not counted: common practice.
@pytest.mark.parametrize(("back", "slots_due"), [("17:46", 1), ("17:45", 2)])
def test_a_sliver_of_a_slot_is_not_counted_as_uncharted(back: str, slots_due: int) -> None:
    given = verdict("not-charted", handover(entry("07:00", what="away", until=back)))
    assert given.state == ("met" if slots_due > 1 else "not_met")
    assert (found(given)["slots"], found(given)["slots_due"]) == (slots_due, slots_due)


def test_not_charted_with_nothing_due() -> None:
    asleep = entry("07:00", what="asleep", until="19:00")
    assert verdict("not-charted", handover(asleep)).state == "not_met"


def test_a_units_own_part_of_slots() -> None:
    given = handover(entry("07:30"), entry("08:30"), entry("09:30"), as_of="12:00")
    assert verdict("not-charted", given).state == "not_met"
    unit = with_limit("not-charted", "part_of_slots_at_or_over", "2/5")
    assert verdict("not-charted", given, unit).state == "met"


@pytest.mark.parametrize(
    ("breaths", "state", "value"),
    [((5, 5, 5), "not_met", None), ((5, 5, 4), "met", 140 / 3), ((0, 0, 0), "met", 0)],
)
def test_low_adherence_under_half_of_three_charted_slots(
    breaths: tuple[int, ...], state: str, value: float | None
) -> None:
    rows = [entry(f"{7 + n:02}:30", breaths=done) for n, done in enumerate(breaths)]
    given = verdict("low-adherence", handover(*rows, entry("12:00", what="note")))
    assert (given.state, given.level) == (state, "follow_up")
    if value is not None:
        assert given.value == pytest.approx(value)
        assert (given.limit, given.unit) == (50, "%")
        assert (given.at, lines(given.entries)) == (at("09:30"), [1, 2, 3])
        assert found(given) == {
            "percent_of_charted": given.value,
            "slots": 3,
            "uncounted": 0,
            "blew": 0,
            "off_form": 0,
            "explained": "",
        }


# Half of the exercises in bad form explain it: common practice.
@pytest.mark.parametrize(
    ("flows", "fields", "explained"),
    [
        (["blew", "blew", None], {}, "form"),
        (["fast", "blew", None, None], {}, "form"),
        (["blew", None, None], {}, ""),
        ([None, None, None], {"device_given": False}, "device"),
        (["blew", "blew", None], {"device_given": False}, "form"),
        ([None, None, None], {"device_given": None}, ""),
    ],
)
def test_low_adherence_names_bad_form_or_no_device_where_that_explains_it(
    flows: list[str | None], fields: dict[str, Any], explained: str
) -> None:
    rows = [entry(f"{7 + n:02}:30", breaths=2, flow=flow) for n, flow in enumerate(flows)]
    given = verdict("low-adherence", handover(*rows, patients=(patient(**fields),)))
    assert (given.state, found(given)["explained"]) == ("met", explained)


def test_low_adherence_counts_what_was_declined_as_charted() -> None:
    rows = [entry(f"{hour:02}:30", what="declined") for hour in (7, 8, 9)]
    given = verdict("low-adherence", handover(*rows))
    assert (given.state, given.value) == ("met", 0)


def test_low_adherence_is_undecided_with_two_charted_slots_and_not_met_with_none_due() -> None:
    rows = (entry("07:30", breaths=1), entry("08:30", breaths=1))
    given = verdict("low-adherence", handover(*rows))
    assert (given.state, given.why) == ("undecided", "too few slots charted")
    stopped = patient(order=order("-1 10:00", stop="-1 20:00"))
    assert verdict("low-adherence", handover(*rows, patients=(stopped,))).state == "not_met"


def test_declined_twice() -> None:
    once = (entry("08:00", what="declined"), entry("09:00"))
    assert verdict("declined", handover(*once)).state == "not_met"
    given = verdict("declined", handover(*once, entry("10:00", what="declined")))
    assert (given.state, given.level) == ("met", "follow_up")
    assert (given.value, given.limit, given.unit) == (2, 2, "{entries}")
    assert (given.at, lines(given.entries)) == (at("10:00"), [1, 3])
    assert found(given) == {"count": 2, "pains": ()}


def test_pain_beside_a_decline_is_found_within_the_hour() -> None:
    rows = (
        entry("08:00", what="seen", pain=9),
        entry("09:00", what="declined", pain=8),
        entry("10:00", pain=3),
        entry("11:01", what="seen", pain=7),
        entry("12:02", what="declined"),
    )
    assert found(verdict("declined", handover(*rows))) == {"count": 2, "pains": (9, 8)}


@pytest.mark.parametrize(
    ("flows", "state", "value", "limit", "cited"),
    [
        (["steady", "blew"], "met", 1, 1, [2]),
        (["fast", "slow"], "not_met", None, None, []),
        (["fast", "steady", None], "met", 1 / 3, 1 / 3, [1]),
        (["fast", "steady", "steady", "steady"], "not_met", None, None, []),
        (["fast", "slow", "steady", "steady", None, None], "met", 1 / 3, 1 / 3, [1, 2]),
        (["unreadable", "unreadable", "steady"], "not_met", None, None, []),
    ],
)
def test_technique_any_blown_or_a_third_of_three(
    flows: list[str | None], state: str, value: float | None, limit: float | None, cited: list[int]
) -> None:
    rows = [entry(f"{8 + n:02}:00", flow=flow) for n, flow in enumerate(flows)]
    given = verdict("technique", handover(*rows))
    assert (given.state, given.level) == (state, "follow_up")
    assert (given.value, given.limit) == (value, limit)
    assert lines(given.entries) == cited


def test_technique_tells_what_was_seen() -> None:
    rows = [
        entry(clock, flow=flow)
        for clock, flow in [("08:00", "blew"), ("09:00", "fast"), ("10:00", None)]
    ]
    given = verdict("technique", handover(*rows))
    assert found(given) == {"exercises": 3, "blew": 1, "off_form": 1, "without_flow": 1}
    assert (given.unit, given.at) == ("{exercises}", at("08:00"))
    assert verdict("technique", handover(*rows[1:], entry("11:00"))).unit == "1"


@pytest.mark.parametrize(
    ("rows", "why"),
    [
        ([entry("08:00", what="note")], "no exercise in the shift"),
        ([entry("08:00"), entry("09:00")], "flow not recorded"),
    ],
)
def test_technique_is_undecided(rows: list[Entry], why: str) -> None:
    given = verdict("technique", handover(*rows))
    assert (given.state, given.why) == ("undecided", why)


@pytest.mark.parametrize(
    ("holds", "state", "value", "cited"),
    [
        ((5, 5, 1), "not_met", None, []),
        ((4, 4.5, 6), "met", 4.5, [1, 2]),
        ((3, 4, 5, 6), "met", 4.5, [1, 2]),
    ],
)
def test_short_hold_is_the_median_of_three_or_more(
    holds: tuple[float, ...], state: str, value: float | None, cited: list[int]
) -> None:
    rows = [entry(f"{8 + n:02}:00", hold_s=hold) for n, hold in enumerate(holds)]
    given = verdict("short-hold", handover(*rows))
    assert (given.state, given.level, given.value) == (state, "note", value)
    assert lines(given.entries) == cited
    if state == "met":
        assert (given.limit, given.unit, given.source) == (5, "s", "the order")
        assert found(given) == {"median_s": given.value, "exercises": len(holds), "ordered_s": 5}


def test_short_hold_is_held_against_the_order() -> None:
    rows = [entry(f"{hour:02}:00", hold_s=4) for hour in (8, 9, 10)]
    three = (patient(order=order(hold_s=3)),)
    assert verdict("short-hold", handover(*rows, patients=three)).state == "not_met"


@pytest.mark.parametrize(
    ("holds", "why"), [((), "breath hold not recorded"), ((2, 2), "too few breath holds")]
)
def test_short_hold_is_undecided(holds: tuple[float, ...], why: str) -> None:
    rows = [entry(f"{8 + n:02}:00", hold_s=hold) for n, hold in enumerate(holds)]
    given = verdict("short-hold", handover(*rows, entry("15:00")))
    assert (given.state, given.why) == ("undecided", why)

"""How the exercise goes: charting, adherence, declining, technique, hold.

Every limit here is common practice: 2 slots; half of the slots and 2; under 50 % in 3 slots;
declined twice; any blown, or a third of 3; a hold under the order's in 3.
"""

from typing import Any

import pytest

from handoff.model.ward import Entry, Patient
from tests.support.builders import (
    at,
    entry,
    found,
    handover,
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
    ],
)
def test_nothing_charted_is_not_met_before_the_start_or_with_any_entry(
    rows: tuple[Entry, ...],
) -> None:
    given = handover(*rows, patients=started_before(), as_of="12:00")
    assert verdict("nothing-charted", given).state == "not_met"


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
    assert found(given) == {"slots": 3, "slots_due": 4}


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
        }


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

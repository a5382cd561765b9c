"""What has to be there before and after: 2 h to the start and 1 day to discharge (common practice).

A blank is not a no: the two are told apart everywhere.
"""

from datetime import date
from zoneinfo import ZoneInfo

import pytest
from msgspec.structs import replace

from handoff.model.ward import Done, Entry, Unit
from tests.support.builders import (
    UNIT,
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

UNSET = {"device_given": None, "device_labelled": None, "taught": None, "shown_back": None}


@pytest.mark.parametrize(("as_of", "state"), [("08:59", "not_met"), ("09:00", "met")])
def test_not_started_after_two_available_hours(as_of: str, state: str) -> None:
    given = verdict("not-started", handover(as_of=as_of))
    assert (given.state, given.level) == (state, "follow_up")
    if state == "met":
        assert (given.value, given.limit, given.unit) == (2, 2, "h")
        assert found(given) == {
            "exercises": 0,
            "available_h": given.value,
            "missing": [],
            "stopped": False,
        }
        assert lines(given.entries) == [1000]


@pytest.mark.parametrize(
    ("rows", "state"),
    [
        ([entry("08:00")], "not_met"),
        ([entry("08:00", flow="blew")], "not_met"),
        ([entry("08:00", what="declined")], "met"),
        ([entry("06:00")], "met"),
        ([entry("07:00", what="asleep", until="18:00")], "not_met"),
    ],
)
def test_not_started_knows_only_exercises_of_the_stay_and_available_hours(
    rows: list[Entry], state: str
) -> None:
    assert verdict("not-started", handover(*rows)).state == state


def test_not_started_tells_no_from_not_recorded() -> None:
    ward = patient(device_given=None, device_labelled=False, taught=None)
    assert found(verdict("not-started", handover(patients=(ward,))))["missing"] == [
        ("device", "not recorded"),
        ("label", "no"),
        ("teaching", "not recorded"),
    ]
    done = patient(device_given=at("07:10"), device_labelled=True, taught=False)
    assert found(verdict("not-started", handover(patients=(done,))))["missing"] == [
        ("teaching", "no")
    ]


def test_not_started_says_that_the_order_has_stopped() -> None:
    ward = patient(order=order(stop="12:00"))
    given = verdict("not-started", handover(patients=(ward,)))
    assert (given.state, given.value, found(given)["stopped"]) == ("met", 5, True)


def test_a_units_own_hours_to_the_start() -> None:
    given = handover(as_of="10:00")
    unit = with_limit("not-started", "hours_at_or_over", "4")
    assert verdict("not-started", given, unit).state == "not_met"


@pytest.mark.parametrize(
    ("shown_back", "value"),
    [(None, "not recorded"), (False, "no"), (True, None), (at("08:00"), None)],
)
def test_no_return_demonstration(shown_back: Done, value: str | None) -> None:
    ward = patient(order=order("-1 10:00"), shown_back=shown_back)
    given = verdict("no-return-demonstration", handover(entry("-1 20:00"), patients=(ward,)))
    assert given.state == ("met" if value else "not_met")
    assert (given.value, given.level) == (value, "follow_up")
    if value:
        assert found(given) == {"exercises": 1, "taught": True, "shown_back": shown_back}
        assert lines(given.entries) == [1000]


# 2 available hours: common practice.
@pytest.mark.parametrize(("as_of", "state"), [("08:59", "not_met"), ("09:00", "met")])
@pytest.mark.parametrize("taught", [None, False])
def test_not_taught_after_two_available_hours(as_of: str, state: str, taught: Done) -> None:
    ward = patient(taught=taught, shown_back=None)
    given = handover(entry("08:00"), patients=(ward,), as_of=as_of)
    not_taught = verdict("not-taught", given)
    assert (not_taught.state, not_taught.level) == (state, "follow_up")
    if state == "met":
        assert (not_taught.value, not_taught.limit, not_taught.unit) == (2, 2, "h")
        assert found(not_taught)["taught"] is taught
        assert lines(not_taught.entries) == [1000]
    # Nobody is asked to show back what was never taught.
    assert verdict("no-return-demonstration", given).state == "not_met"


@pytest.mark.parametrize("taught", [True, at("07:10")])
def test_who_was_taught_is_not_taught_again(taught: Done) -> None:
    ward = patient(taught=taught, shown_back=None)
    assert verdict("not-taught", handover(entry("08:00"), patients=(ward,))).state == "not_met"


def test_not_taught_counts_no_time_asleep_and_no_order_that_has_ended() -> None:
    asleep = entry("07:30", what="asleep", until="19:00")
    assert verdict("not-taught", handover(asleep, patients=(patient(taught=None),))).state == (
        "not_met"
    )
    ended = patient(taught=None, order=order(stop="12:00"))
    assert verdict("not-taught", handover(entry("08:00"), patients=(ended,))).state == "not_met"


def test_who_has_not_started_is_told_once_what_is_missing() -> None:
    ward = patient(device_labelled=None, taught=None, shown_back=None)
    given = judged(handover(patients=(ward,)))
    assert [each.rule for each in given.cautions if each.level == "follow_up"] == ["not-started"]
    replaced = {each.rule for each in given.all if each.replaced_by == "not-started"}
    assert replaced == {"not-taught", "not-labelled", "not-charted"}


def test_no_return_demonstration_without_an_exercise() -> None:
    ward = patient(shown_back=None)
    rows = handover(entry("08:00", what="declined"), patients=(ward,))
    assert verdict("no-return-demonstration", rows).state == "not_met"


@pytest.mark.parametrize(
    ("given_at", "labelled", "state", "value"),
    [
        (True, True, "not_met", None),
        (True, False, "met", "no"),
        (at("08:00"), None, "met", "not recorded"),
        (False, None, "not_met", None),
        (None, None, "undecided", None),
        (None, True, "not_met", None),
    ],
)
def test_not_labelled(
    given_at: Done,
    labelled: bool | None,
    state: str,
    value: str | None,
) -> None:
    ward = patient(device_given=given_at, device_labelled=labelled)
    given = verdict("not-labelled", handover(patients=(ward,)))
    assert (given.state, given.value, given.level) == (state, value, "note")
    assert given.why == ("device not recorded" if state == "undecided" else None)


@pytest.mark.parametrize(
    ("home_on", "state", "days"),
    [
        (date(2026, 5, 14), "not_met", None),
        (date(2026, 5, 13), "met", 1),
        (date(2026, 5, 12), "met", 0),
        (date(2026, 5, 10), "met", -2),
    ],
)
def test_going_home_by_the_day_after_the_shifts_end(
    home_on: date, state: str, days: int | None
) -> None:
    given = verdict("going-home", handover(patients=(patient(home_on=home_on, **UNSET),)))
    assert (given.state, given.level, given.value) == (state, "follow_up", days)
    if state == "met":
        assert (given.limit, given.unit) == (1, "d")
        assert found(given) == {
            "missing": [
                ("device", "not recorded"),
                ("label", "not recorded"),
                ("shown_back", "not recorded"),
            ],
            "home_on": home_on,
            "shown_back": None,
            "device_given": None,
            "device_labelled": None,
            "unsettled": 0,
            "on_hold": False,
        }


@pytest.mark.parametrize(("start", "state"), [("05:01", "not_met"), ("05:00", "met")])
def test_who_came_from_elsewhere_was_ordered_two_hours_before(start: str, state: str) -> None:
    given = handover(patients=(patient(order=order(start)),))
    rule = "came-from-elsewhere"
    assert verdict(rule, given).state == "not_met"
    came = replace(given, from_elsewhere=frozenset({"10442"}))
    assert verdict(rule, came).state == state
    assert found(verdict(rule, came)) == {"unknown": True, "ordered_at": at(start)}


def test_going_home_counts_the_units_own_calendar_days() -> None:
    far_east = Unit("Harbour 3 East", ZoneInfo("Pacific/Kiritimati"), None)
    ward = patient(home_on=date(2026, 5, 14), shown_back=False)
    assert UNIT.time_zone != far_east.time_zone
    assert verdict("going-home", handover(patients=(ward,))).state == "not_met"
    given = verdict("going-home", handover(patients=(ward,), unit=far_east))
    assert (given.state, given.value) == ("met", 1)


def test_who_goes_home_with_a_danger_not_settled_or_on_hold_is_not_ready() -> None:
    ready = (patient(home_on=date(2026, 5, 13)),)
    danger, told = entry("08:00", pulse=150), ("pulse",)
    rows = [danger, entry("08:10", what="told", note="Dr Quill", about=told)]
    given = verdict("going-home", handover(*rows, patients=ready))
    assert (given.state, found(given)["unsettled"], found(given)["missing"]) == ("met", 1, [])
    rows.append(entry("10:00", pulse=80))
    assert verdict("going-home", handover(*rows, patients=ready)).state == "not_met"
    hold = entry("08:00", what="hold", note="Dr Quill")
    given = verdict("going-home", handover(hold, patients=ready))
    assert (given.state, found(given)["on_hold"]) == ("met", True)


def test_going_home_with_all_set_or_no_date() -> None:
    ready = patient(home_on=date(2026, 5, 13), taught=None)
    assert verdict("going-home", handover(patients=(ready,))).state == "not_met"
    given = verdict("going-home", handover(patients=(patient(**UNSET),)))
    assert (given.state, given.why) == ("undecided", "planned discharge not recorded")

"""The goal and the device's scale: these rules hold no number of their own (common practice)."""

import pytest

from handoff.model.verdicts import Verdict
from handoff.model.ward import Entry, Order, Patient
from tests.support.builders import at, entry, found, handover, lines, order, patient, verdict


@pytest.mark.parametrize(("best_ml", "state"), [(1499, "not_met"), (1500, "met"), (1600, "met")])
@pytest.mark.parametrize(
    ("ward", "source", "cited"),
    [
        (patient(order=order(goal_ml=1500), baseline_ml=3000), "ordered", "the order"),
        (patient(order=order(), baseline_ml=1500), "baseline", "the patient's own baseline"),
    ],
)
def test_goal_reached(best_ml: float, state: str, ward: Patient, source: str, cited: str) -> None:
    rows = (
        entry("08:00", volume_ml=1000),
        entry("09:00", volume_ml=best_ml),
        entry("10:00", volume_ml=1900, flow="fast"),
    )
    given = verdict("goal-reached", handover(*rows, patients=(ward,)))
    assert (given.state, given.level) == (state, "note")
    if state == "met":
        assert (given.value, given.limit, given.unit) == (best_ml, 1500, "mL")
        assert (given.source, given.at) == (cited, at("09:00"))
        assert lines(given.entries) == [2]
        assert found(given) == {
            "source": source,
            "goal_ml": 1500,
            "best_ml": best_ml,
            "silent": False,
        }


def test_a_goal_that_was_lowered_is_not_reached_by_a_reading_before() -> None:
    """Lowered from 1,500 to 1,200 mL at 10:00: asking for a higher one would be absurd."""
    best, low = entry("09:00", volume_ml=1250), entry("11:00", volume_ml=1150)

    def given(before_ml: float, *rows: Entry) -> Verdict:
        first, then = order("-1 10:00", goal_ml=before_ml), order("10:00", goal_ml=1200, breaths=5)
        who = patient(order=then, earlier_orders=(first,))
        return verdict(
            "goal-reached", handover(best, low, *rows, patients=(who,), stay_start="-1 10:00")
        )

    assert given(1500).state == "not_met"
    reached = given(1500, entry("12:00", volume_ml=1200))
    assert (reached.state, reached.value, reached.at) == ("met", 1200, at("12:00"))
    same_goal = given(1200)
    assert (same_goal.state, same_goal.value, same_goal.at) == ("met", 1250, at("09:00"))


def test_goal_reached_is_silent_while_a_danger_is_not_closed_or_the_volume_fell() -> None:
    ward = (patient(order=order("-1 10:00", goal_ml=1500)),)
    best, danger = entry("09:00", volume_ml=1600), entry("08:00", pulse=150)
    told = entry("10:00", what="told", note="Dr Quill", about=("pulse",))
    over = entry("11:00", pulse=80)

    def state(*rows: Entry) -> str:
        given = verdict("goal-reached", handover(best, *rows, patients=ward))
        assert found(given)["silent"] is (given.state == "not_met")
        return given.state

    assert state() == "met"
    assert state(danger) == state(danger, told) == state(danger, over) == "not_met"
    assert state(danger, told, over) == "met"
    again = entry("10:00", volume_ml=1550)
    high, near = (
        [entry(f"-1 {hour}:00", volume_ml=ml) for hour in (11, 12, 13)] for ml in (2100, 1900)
    )
    assert state(*high, again) == "not_met"
    assert state(*near, again) == "met"


def test_goal_reached_is_undecided_without_a_goal_or_a_reading() -> None:
    without = patient(order=order())
    given = verdict("goal-reached", handover(entry("08:00", volume_ml=900), patients=(without,)))
    assert (given.state, given.why) == ("undecided", "no goal")
    unread = verdict("goal-reached", handover(entry("08:00")))
    assert unread.why == "no reading in good form in the shift"


@pytest.mark.parametrize(("goal_ml", "state"), [(2500, "not_met"), (2501, "met")])
def test_goal_over_scale(goal_ml: float, state: str) -> None:
    ward = patient(order=order(goal_ml=goal_ml), device_scale_ml=2500)
    given = verdict("goal-over-scale", handover(patients=(ward,)))
    assert (given.state, given.level) == (state, "follow_up")
    if state == "met":
        assert (given.value, given.limit, given.unit) == (2501, 2500, "mL")
        assert given.source == "the device's scale"
        assert lines(given.entries) == [1000]
        assert found(given) == {"which": "goal", "volume_ml": 2501, "scale_ml": 2500}


def test_goal_over_scale_is_undecided_without_either() -> None:
    no_scale = patient(device_scale_ml=None)
    assert verdict("goal-over-scale", handover(patients=(no_scale,))).why == (
        "device scale not recorded"
    )
    no_goal = patient(order=order())
    assert verdict("goal-over-scale", handover(patients=(no_goal,))).why == "no goal"


def test_reading_at_scale_counts_any_form_but_what_was_blown() -> None:
    ward = patient(device_scale_ml=2500)
    rows = (
        entry("08:00", volume_ml=2500),
        entry("09:00", volume_ml=2500, flow="fast"),
        entry("10:00", volume_ml=2499),
        entry("11:00", volume_ml=2500, flow="blew"),
    )
    given = verdict("reading-at-scale", handover(*rows, patients=(ward,)))
    assert (given.state, given.level) == ("met", "note")
    assert (given.value, given.limit, given.unit) == (2500, 2500, "mL")
    assert (given.at, lines(given.entries)) == (at("09:00"), [1, 2])
    assert found(given) == {"which": "highest", "volume_ml": 2500, "scale_ml": 2500}
    assert verdict("reading-at-scale", handover(*rows[2:], patients=(ward,))).state == "not_met"


def test_reading_at_scale_is_undecided_without_a_scale() -> None:
    given = verdict("reading-at-scale", handover(patients=(patient(device_scale_ml=None),)))
    assert (given.state, given.why) == ("undecided", "device scale not recorded")


@pytest.mark.parametrize(
    ("ordered", "baseline_ml", "state", "source", "active"),
    [
        (order(), None, "met", "own_best", True),
        (order(), 1800, "met", "baseline", True),
        (order(goal_ml=1500), None, "not_met", "ordered", True),
        (order(stop="19:01"), None, "met", "own_best", True),
        (order(stop="19:00"), None, "not_met", "own_best", False),
        (order("19:00"), None, "met", "own_best", True),
        (order("19:01"), None, "not_met", "own_best", False),
    ],
)
def test_no_goal_under_an_active_order(
    ordered: Order, baseline_ml: float | None, state: str, source: str, active: bool
) -> None:
    ward = patient(order=ordered, baseline_ml=baseline_ml)
    given = verdict("no-goal", handover(patients=(ward,)))
    assert (given.state, given.level) == (state, "note")
    assert found(given) == {"source": source, "ordered_ml": ordered.goal_ml, "active": active}
    assert (given.value, given.limit, given.at) == (None, None, None)

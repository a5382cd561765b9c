"""Pain, by the numeric rating of 0 to 10: once, and again.

Limits: 7 once, or 4 in two entries; again: 7 in two entries 30 min apart. All common practice.
"""

import pytest

from handoff.model.ward import SeenBy
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

ONCE, AGAIN = "pain-limits", "pain-again"


@pytest.mark.parametrize(
    ("pains", "state", "value", "limit", "cited"),
    [
        ((6, 3), "not_met", None, None, []),
        ((7, 0), "met", 7, 7, [1]),
        ((4, 3), "not_met", None, None, []),
        ((5, 4), "met", 5, 4, [1, 2]),
        ((4, 4), "met", 4, 4, [1, 2]),
        ((10, 4), "met", 10, 7, [1, 2]),
    ],
)
def test_pain_seven_once_or_four_twice_in_a_decline_and_a_note(
    pains: tuple[int, int], state: str, value: int | None, limit: int | None, cited: list[int]
) -> None:
    rows = [
        entry("08:00", what="declined", pain=pains[0]),
        entry("09:00", what="note", pain=pains[1]),
    ]
    given = verdict(ONCE, handover(*rows))
    assert (given.state, given.level) == (state, "follow_up")
    assert (given.value, given.limit, lines(given.entries)) == (value, limit, cited)
    if state == "met":
        times = tuple(rows[line - 1].at for line in cited)
        assert given.unit == "{score}"
        reached = sum(pain >= (limit or 0) for pain in pains)
        assert found(given) == {"charted_at": times, "pains": pains, "reached": reached}


@pytest.mark.parametrize("rule", [ONCE, AGAIN])
def test_of_equal_pain_the_latest_stands(rule: str) -> None:
    rows = (entry("08:00", pain=8), entry("09:00", pain=8), entry("10:00", pain=5))
    assert verdict(rule, handover(*rows)).at == at("09:00")


@pytest.mark.parametrize("rule", [ONCE, AGAIN])
def test_without_a_rating_pain_is_undecided(rule: str) -> None:
    given = verdict(rule, handover(entry("08:00")))
    assert (given.state, given.why) == ("undecided", "pain not recorded")


def test_a_units_own_pain_limit() -> None:
    given = handover(entry("08:00", pain=6))
    assert verdict(ONCE, given).state == "not_met"
    unit = with_limit(ONCE, "pain_once_at_or_over", "6")
    assert verdict(ONCE, given, unit).state == "met"


@pytest.mark.parametrize(
    ("first", "pains", "state"),
    [
        ("08:00", (7, 7), "met"),
        ("08:01", (7, 7), "not_met"),  # 29 min apart
        ("08:00", (7, 6), "not_met"),
        ("08:00", (10, 9), "met"),
    ],
)
def test_strong_pain_in_two_entries_half_an_hour_apart(
    first: str, pains: tuple[int, int], state: str
) -> None:
    rows = (entry(first, what="seen", pain=pains[0]), entry("08:30", what="note", pain=pains[1]))
    given = verdict(AGAIN, handover(*rows))
    assert (given.state, given.level) == (state, "escalate")


def test_strong_pain_of_the_last_hour_before_the_shift_counts() -> None:
    ward = patient(order=order("-1 10:00"))
    early = verdict(
        AGAIN, handover(entry("05:59", pain=8), entry("07:10", pain=8), patients=(ward,))
    )
    assert early.state == "not_met"
    given = verdict(
        AGAIN, handover(entry("06:00", pain=8), entry("07:10", pain=8), patients=(ward,))
    )
    assert (given.state, lines(given.entries)) == ("met", [1, 2])
    alone = (entry("06:00", pain=8), entry("06:40", pain=8), entry("08:00", pain=2))
    assert verdict(AGAIN, handover(*alone, patients=(ward,))).state == "not_met"


def test_pain_again_takes_the_place_of_pain() -> None:
    given = judged(handover(entry("08:00", pain=8), entry("09:00", pain=8)))
    assert [each.rule for each in given.cautions if "pain" in each.rule] == [AGAIN]


def test_what_leads_up_to_it_is_no_danger_yet_and_telling_of_it_does_not_count() -> None:
    told = entry("08:10", what="told", note="Dr Quill: 8", about=("pain",))
    rows = (entry("08:00", pain=8), told, entry("08:20", pain=8), entry("09:00", pain=9))
    (matter,) = judged(handover(*rows)).matters
    assert (matter.rule, matter.state, matter.opened_at) == (AGAIN, "open", at("09:00"))
    assert matter.verdict.value == 9
    assert matter.vitals == ("pain",)


@pytest.mark.parametrize(
    ("clock", "pain", "seen_by", "settled"),
    [
        ("10:00", 3, None, True),
        ("09:59", 3, None, False),
        ("10:00", 4, None, False),
        ("10:00", 3, "patient", False),
    ],
)
def test_pain_is_over_under_four_an_hour_later_by_staff(
    clock: str, pain: int, seen_by: str | None, settled: bool
) -> None:
    later = entry(clock, what="seen", pain=pain, seen_by=seen_by and SeenBy(seen_by))
    rows = (entry("08:00", pain=8), entry("09:00", pain=9), later)
    (matter,) = judged(handover(*rows)).matters
    assert (matter.settled_at is not None) is settled


@pytest.mark.parametrize(("pain", "is_told"), [(9, True), (10, False)])
def test_pain_worse_by_two_wants_telling_again(pain: int, is_told: bool) -> None:
    told = entry("09:10", what="told", note="Dr Quill: 8", about=("pain",))
    rows = (entry("08:00", pain=8), entry("09:00", pain=8), told, entry("10:00", pain=pain))
    (matter,) = judged(handover(*rows)).matters
    assert matter.is_told is is_told

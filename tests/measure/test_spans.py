"""Arithmetic of spans."""

import pytest

from handoff.measure.spans import bounds_s, near, outside, overlap_s
from handoff.model.measures import Span
from tests.support.builders import at


def span(start: str, end: str) -> Span:
    return Span(at(start), at(end))


WINDOW = span("07:00", "12:00")


@pytest.mark.parametrize(
    ("taken", "left"),
    [
        ([], [WINDOW]),
        # What overlaps is taken once.
        (
            [span("09:00", "11:00"), span("08:00", "10:00")],
            [span("07:00", "08:00"), span("11:00", "12:00")],
        ),
        # One inside another gives nothing back.
        (
            [span("08:00", "11:00"), span("09:00", "09:30")],
            [span("07:00", "08:00"), span("11:00", "12:00")],
        ),
        # Over the window's ends, and beyond them.
        ([span("06:00", "08:00"), span("11:00", "13:00")], [span("08:00", "11:00")]),
        ([span("05:00", "06:00"), span("13:00", "14:00"), span("15:00", "16:00")], [WINDOW]),
        # Empty and turned around.
        ([span("09:00", "09:00"), span("11:00", "10:00")], [WINDOW]),
    ],
)
def test_what_is_left_of_a_window(taken: list[Span], left: list[Span]) -> None:
    assert outside(WINDOW, taken) == left


def test_a_turned_around_window_has_no_parts() -> None:
    assert outside(span("12:00", "07:00"), [span("08:00", "09:00")]) == []


@pytest.mark.parametrize(
    ("start", "end", "shared_s"),
    [
        ("07:30", "08:00", (1800, 0)),
        ("07:30", "08:15", (1800, 900)),
        ("06:00", "10:00", (3600, 3600)),
        ("08:30", "08:20", (0, 0)),
        ("10:00", "11:00", (0, 0)),
    ],
)
def test_spans_that_touch_share_nothing(
    start: str, end: str, shared_s: tuple[float, float]
) -> None:
    slots = map(bounds_s, (span("07:00", "08:00"), span("08:00", "09:00")))
    assert tuple(overlap_s(bounds_s(span(start, end)), slot) for slot in slots) == shared_s


@pytest.mark.parametrize(
    ("start", "end", "slots"),
    [
        ("06:00", "06:30", [0]),
        ("06:00", "07:00", [0]),
        ("07:00", "07:00", [0]),
        ("07:59", "08:01", [0, 1]),
        ("08:00", "08:00", [1]),
        ("07:30", "20:00", [0, 1, 2]),
        ("08:30", "08:20", [1]),
        ("14:00", "15:00", [2]),
    ],
)
def test_slots_near_a_span_are_found_by_their_starts(
    start: str, end: str, slots: list[int]
) -> None:
    """The second slot ends at 09:00, the third begins at 13:00."""
    starts_s = [at(each).timestamp() for each in ("07:00", "08:00", "13:00")]
    assert list(near(starts_s, bounds_s(span(start, end)))) == slots
    assert list(near([], bounds_s(span(start, end)))) == []

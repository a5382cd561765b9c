"""Arithmetic of spans."""

import pytest

from handoff.measure.spans import outside, overlap_s
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


def test_spans_that_touch_share_nothing() -> None:
    slots = [span("07:00", "08:00"), span("08:00", "09:00")]
    shared = overlap_s([span("07:30", "08:00"), span("07:30", "08:15")], slots)
    assert shared.tolist() == [[1800, 0], [1800, 900]]


def test_no_spans_share_no_time_with_every_slot() -> None:
    assert overlap_s([], [WINDOW]).sum(axis=0).tolist() == [0]

"""Arithmetic of spans."""

from handoff.measure.spans import outside, overlap_s
from handoff.model.measures import Span
from tests.handovers import on

WINDOW = Span(on("07:00"), on("12:00"))


def test_nothing_taken_leaves_the_window() -> None:
    assert outside(WINDOW, []) == [WINDOW]


def test_overlapping_spans_are_taken_once() -> None:
    taken = [Span(on("09:00"), on("11:00")), Span(on("08:00"), on("10:00"))]
    assert outside(WINDOW, taken) == [
        Span(on("07:00"), on("08:00")),
        Span(on("11:00"), on("12:00")),
    ]


def test_a_span_inside_another_gives_nothing_back() -> None:
    taken = [Span(on("08:00"), on("11:00")), Span(on("09:00"), on("09:30"))]
    assert outside(WINDOW, taken) == [
        Span(on("07:00"), on("08:00")),
        Span(on("11:00"), on("12:00")),
    ]


def test_spans_reach_over_the_windows_ends() -> None:
    taken = [Span(on("06:00"), on("08:00")), Span(on("11:00"), on("13:00"))]
    assert outside(WINDOW, taken) == [Span(on("08:00"), on("11:00"))]


def test_spans_beyond_the_window_take_nothing() -> None:
    taken = [
        Span(on("05:00"), on("06:00")),
        Span(on("13:00"), on("14:00")),
        Span(on("15:00"), on("16:00")),
    ]
    assert outside(WINDOW, taken) == [WINDOW]


def test_empty_and_turned_around_spans_take_nothing() -> None:
    taken = [Span(on("09:00"), on("09:00")), Span(on("11:00"), on("10:00"))]
    assert outside(WINDOW, taken) == [WINDOW]


def test_a_turned_around_window_has_no_parts() -> None:
    turned = Span(on("12:00"), on("07:00"))
    assert outside(turned, [Span(on("08:00"), on("09:00"))]) == []


def test_spans_that_touch_share_nothing() -> None:
    slots = [Span(on("07:00"), on("08:00")), Span(on("08:00"), on("09:00"))]
    shared = overlap_s([Span(on("07:30"), on("08:00")), Span(on("07:30"), on("08:15"))], slots)
    assert shared.tolist() == [[1800, 0], [1800, 900]]


def test_no_spans_share_no_time_with_every_slot() -> None:
    assert overlap_s([], [WINDOW]).sum(axis=0).tolist() == [0]

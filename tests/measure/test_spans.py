"""Arithmetic of spans."""

from handoff.measure.spans import Span, outside, overlap_s
from tests.support.builders import at

WINDOW = Span(at("07:00"), at("12:00"))


def test_nothing_taken_leaves_the_window() -> None:
    assert outside(WINDOW, []) == [WINDOW]


def test_overlapping_spans_are_taken_once() -> None:
    taken = [Span(at("09:00"), at("11:00")), Span(at("08:00"), at("10:00"))]
    assert outside(WINDOW, taken) == [
        Span(at("07:00"), at("08:00")),
        Span(at("11:00"), at("12:00")),
    ]


def test_a_span_inside_another_gives_nothing_back() -> None:
    taken = [Span(at("08:00"), at("11:00")), Span(at("09:00"), at("09:30"))]
    assert outside(WINDOW, taken) == [
        Span(at("07:00"), at("08:00")),
        Span(at("11:00"), at("12:00")),
    ]


def test_spans_reach_over_the_windows_ends() -> None:
    taken = [Span(at("06:00"), at("08:00")), Span(at("11:00"), at("13:00"))]
    assert outside(WINDOW, taken) == [Span(at("08:00"), at("11:00"))]


def test_spans_beyond_the_window_take_nothing() -> None:
    taken = [
        Span(at("05:00"), at("06:00")),
        Span(at("13:00"), at("14:00")),
        Span(at("15:00"), at("16:00")),
    ]
    assert outside(WINDOW, taken) == [WINDOW]


def test_empty_and_turned_around_spans_take_nothing() -> None:
    taken = [Span(at("09:00"), at("09:00")), Span(at("11:00"), at("10:00"))]
    assert outside(WINDOW, taken) == [WINDOW]


def test_a_turned_around_window_has_no_parts() -> None:
    turned = Span(at("12:00"), at("07:00"))
    assert outside(turned, [Span(at("08:00"), at("09:00"))]) == []


def test_spans_that_touch_share_nothing() -> None:
    slots = [Span(at("07:00"), at("08:00")), Span(at("08:00"), at("09:00"))]
    shared = overlap_s([Span(at("07:30"), at("08:00")), Span(at("07:30"), at("08:15"))], slots)
    assert shared.tolist() == [[1800, 0], [1800, 900]]


def test_no_spans_share_no_time_with_every_slot() -> None:
    assert overlap_s([], [WINDOW]).sum(axis=0).tolist() == [0]

"""Spans of real time: one span without others, and the overlap of two sets.

Input: spans of UTC instants. Output: spans, and seconds. Never knows what a span means. A span that
does not end after its start is empty: it takes nothing out and is never returned.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence

from handoff.model.measures import Span


def outside(window: Span, taken: Iterable[Span]) -> list[Span]:
    """The parts of `window` in none of the `taken` spans, in time order.

    The taken spans may overlap, repeat, be empty, or reach beyond the window.
    """
    parts = []
    free_from = window.start
    for span in sorted(span for span in taken if span.seconds):
        parts.append(Span(free_from, min(span.start, window.end)))
        free_from = max(free_from, span.end)
    parts.append(Span(free_from, window.end))
    return [part for part in parts if part.seconds]


def bounds_s(span: Span) -> tuple[float, float]:
    """Start and end in seconds since 1970; exact for whole seconds."""
    return span.start.timestamp(), span.end.timestamp()


def overlap_s(one: tuple[float, float], other: tuple[float, float]) -> float:
    """The seconds that two spans share, given by their bounds; 0 where they only touch."""
    return max(0.0, min(one[1], other[1]) - max(one[0], other[0]))


def near(starts_s: Sequence[float], span_s: tuple[float, float]) -> range:
    """The numbers of the slots that a span may share time with, or that may hold its start: all
    others begin after its end, or end before it. The slots are given by their starts, in time
    order; they do not overlap.
    """
    first = max(bisect_right(starts_s, span_s[0]) - 1, 0)
    after = max(bisect_left(starts_s, span_s[1]), first + 1)
    return range(first, min(after, len(starts_s)))

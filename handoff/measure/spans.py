"""Spans of real time: one span without others, and the overlap of two sets.

Input: spans of UTC instants. Output: spans, and seconds. Never knows what a span means. A span that
does not end after its start is empty: it takes nothing out and is never returned.
"""

from collections.abc import Iterable

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

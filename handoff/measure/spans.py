"""Spans of real time: one span without others, and the overlap of two sets.

Input: spans of UTC instants. Output: spans, and seconds. Never knows what a span means. A span that
does not end after its start is empty: it takes nothing out and is never returned.
"""

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

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


def overlap_s(spans: Sequence[Span], slots: Sequence[Span]) -> NDArray[np.float64]:
    """Seconds that each span (a row) shares with each slot (a column); 0 where they only touch."""
    start_s, end_s = bounds_s(spans)
    slot_start_s, slot_end_s = bounds_s(slots)
    shared_s = np.minimum.outer(end_s, slot_end_s) - np.maximum.outer(start_s, slot_start_s)
    return shared_s.clip(min=0.0)


def bounds_s(spans: Sequence[Span]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Starts and ends in seconds since 1970; exact for whole seconds."""
    starts = np.array([span.start.timestamp() for span in spans], dtype=np.float64)
    ends = np.array([span.end.timestamp() for span in spans], dtype=np.float64)
    return starts, ends

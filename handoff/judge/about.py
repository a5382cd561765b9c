"""Decides which matters a `told` or `settled` row is about, and for how long it counts.

Input: the row, and the words that name a matter. Output: whether the row is about the matter. Every
limit here is common practice.
"""

from collections.abc import Iterable
from datetime import datetime, timedelta

from handoff.model.ward import Entry, What

EVERYTHING = "all"
ANSWERS_LATER_ROWS = timedelta(hours=4)
UNNAMED_ANSWERS = timedelta(minutes=60)


def names(entry: Entry, words: Iterable[str]) -> bool:
    """Whether a row of staff with a note names one of these words, or everything."""
    return entry.says and entry.by_staff and not {EVERYTHING, *words}.isdisjoint(entry.about)


def told_of(entries: Iterable[Entry]) -> list[Entry]:
    """The rows of staff that say what a provider was told. A row without a note does not count."""
    return [each for each in entries if each.what is What.TOLD and each.says and each.by_staff]


def minute(moment: datetime) -> datetime:
    """The minute of an instant: rows of the same minute count as simultaneous."""
    return moment.replace(second=0, microsecond=0)

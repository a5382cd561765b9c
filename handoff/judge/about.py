"""Which matters a `told` or a `settled` row is about, and how long it answers for them.

Input: the row, and the words that name a matter. Output: whether it is about that. Every limit
here is common practice.
"""

from collections.abc import Iterable
from datetime import datetime, timedelta

from handoff.model.ward import Entry, What

EVERYTHING = "all"
ANSWERS_LATER_ROWS = timedelta(hours=4)
UNNAMED_ANSWERS = timedelta(minutes=60)


def names(entry: Entry, words: Iterable[str]) -> bool:
    """Whether a `told` or `settled` row of staff, with a note, says that it is about one of these
    words, or about everything.
    """
    return entry.says and entry.by_staff and not {EVERYTHING, *words}.isdisjoint(entry.about)


def told_of(entries: Iterable[Entry]) -> list[Entry]:
    """The rows of staff that say what a provider was told: those without a note answer nothing."""
    return [each for each in entries if each.what is What.TOLD and each.says and each.by_staff]


def minute(moment: datetime) -> datetime:
    """The minute: what is charted in the same one counts as at the same time."""
    return moment.replace(second=0, microsecond=0)

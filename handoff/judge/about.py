"""Which matters a `told` or a `settled` row is about, and how long it answers for them.

Input: the row, and the rows that a rule has met. Output: whether it is about them, and answers
them. Every limit here is common practice.
"""

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta

from handoff.model.ward import Entry, What

EVERYTHING = "all"
ANSWERS_LATER_ROWS = timedelta(hours=4)
UNNAMED_ANSWERS = timedelta(minutes=60)

# The log's words, by the rule that they are about; a rule that is not here is named by `all` alone.
# What is followed symptom by symptom is named by the symptom.
WORDS: Mapping[str, frozenset[str]] = {
    rule: frozenset(words.split())
    for rule, words in {
        "low-oxygen": "oxygen",
        "breathing-rate": "breathing",
        "pulse": "pulse",
        "low-temperature": "temperature",
        "fever": "temperature",
        "faint-or-chest-pain": "faint chest_pain",
        "drowsy-or-confused": "drowsy confused",
        "dizziness": "dizzy",
        "dizziness-again": "dizzy",
        "dizziness-with-signs": "dizzy",
        "too-many-at-once": "dizzy",
        "breathless": "breathless wheeze",
        "volume-drop": "volume",
        "volume-drop-with-signs": "volume",
        "falling-trend": "volume",
        "volume-too-low": "volume",
        "pain-limits": "pain",
    }.items()
}

# How much worse a value has to be for a told row not to answer it any more.
WORSE_BY: Mapping[str, float] = {
    "low-oxygen": 2,
    "breathing-rate": 5,
    "pulse": 5,
    "low-temperature": 0.5,
    "fever": 0.5,
}


def words_of(rule: str, symptom: str | None = None) -> frozenset[str]:
    """The words by which a row names a matter, without `all`."""
    return WORDS.get(rule, frozenset()) if symptom is None else frozenset({symptom})


def names(entry: Entry, rule: str, symptom: str | None = None) -> bool:
    """Whether a `told` or `settled` row of staff, with a note, says that it is about this."""
    about = set(entry.about)
    named = EVERYTHING in about or not about.isdisjoint(words_of(rule, symptom))
    return entry.says and entry.by_staff and named


def told_of(entries: Iterable[Entry]) -> list[Entry]:
    """The rows of staff that say what a provider was told: those without a note answer nothing."""
    return [each for each in entries if each.what is What.TOLD and each.says and each.by_staff]


def minute(moment: datetime) -> datetime:
    """The minute: what is charted in the same one counts as at the same time."""
    return moment.replace(second=0, microsecond=0)

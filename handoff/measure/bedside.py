"""Other values of the shift: breath holds, pain, lowest oxygen saturation, when last seen.

Input: a patient's `Stay`. Output: `Bedside`. Never takes a value that is not recorded for zero.
"""

from collections.abc import Iterable, Sequence
from datetime import datetime
from statistics import median

from handoff.measure.shift import Stay
from handoff.measure.spans import outside
from handoff.model.measures import Bedside, NotDue, Span, Spread
from handoff.model.ward import Entry


def measure_bedside(stay: Stay, shift: Span, idle: Sequence[NotDue]) -> Bedside:
    """Holds in s of the shift's exercises, pain (0 to 10) of its entries, the lowest SpO2, and when
    staff saw the patient last.

    None where not recorded. Pain, SpO2 and who was seen are read in the whole shift, also before
    the stay. `idle` are the parts of the shift in which no breaths are due.
    """
    in_shift = [entry for entry in stay.cautions if entry.at >= shift.start]
    seen = [_seen_until(entry) for entry in in_shift if entry.saw_the_patient]
    seen_until = min(max(seen), stay.until) if seen else None
    unseen = outside(Span(seen_until or shift.start, shift.end), (each.span for each in idle))
    return Bedside(
        held_s=spread_of(entry.hold_s for entry in stay.in_shift if entry.is_exercise),
        pain=spread_of(entry.signs.pain for entry in in_shift),
        lowest_spo2=_lowest_spo2(in_shift),
        seen_until=seen_until,
        unseen_h=sum(span.seconds for span in unseen) / 3600 if seen else None,
    )


def _seen_until(entry: Entry) -> datetime:
    """The end of a span of exercises; signs beside any other span are of its start."""
    return entry.until if entry.is_exercise and entry.until else entry.at


def spread_of(values: Iterable[float | None]) -> Spread | None:
    """Count, median, least and greatest of the recorded values; None without one."""
    recorded = [value for value in values if value is not None]
    if not recorded:
        return None
    return Spread(len(recorded), median(recorded), min(recorded), max(recorded))


def _lowest_spo2(entries: Iterable[Entry]) -> Entry | None:
    """The entry with the lowest SpO2, the latest of equals."""
    recorded = [(entry.signs.spo2, entry) for entry in entries if entry.signs.spo2 is not None]
    _, lowest = min(reversed(recorded), key=lambda each: each[0], default=(None, None))
    return lowest

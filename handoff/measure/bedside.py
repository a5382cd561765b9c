"""Other values of the shift: breath holds, pain, the lowest oxygen saturation.

Input: a patient's `Stay`. Output: `Bedside`. Never takes a value that is not recorded for zero.
"""

from collections.abc import Iterable
from datetime import datetime
from statistics import median

from handoff.measure.shift import Stay
from handoff.model.measures import Bedside, Spread
from handoff.model.ward import Entry


def measure_bedside(stay: Stay, shift_start: datetime) -> Bedside:
    """Holds in s of the shift's exercises, pain (0 to 10) of its entries, and the lowest SpO2.

    None where not recorded. SpO2 is read in the whole shift, also before the stay.
    """
    return Bedside(
        held_s=spread_of(entry.hold_s for entry in stay.in_shift if entry.is_exercise),
        pain=spread_of(entry.signs.pain for entry in stay.in_shift),
        lowest_spo2=_lowest_spo2(each for each in stay.cautions if each.at >= shift_start),
    )


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

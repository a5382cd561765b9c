"""The good-form readings that stand for a patient's shift, stay, days and blocks of hours.

Input: the entries of a stay. Output: `Bests`. Never holds an off-form reading: these do not count
for best, trend or goal.
"""

from collections.abc import Iterable
from datetime import datetime, timedelta
from itertools import groupby

from handoff.measure.shift import Stay
from handoff.model.frozen import Frozen
from handoff.model.measures import BLOCK_H, PREVIOUS_H, TREND_D, DayBest, Point, Recent
from handoff.model.usual import find_recent
from handoff.model.ward import Entry, Handover


class Bests(Frozen):
    """Highest good-form readings, each the earliest of equals; None where there is no reading.

    `previous` is of the 24 h before the shift, `first` the stay's earliest. `days` (of the unit's
    calendar) and `blocks` (of 12 h, in the last 7 days) are in time order; a block has its middle
    reading. `readings` are all in good form, `recent` those that a fall is read from.
    """

    shift: Entry | None
    previous: Entry | None
    stay: Entry | None
    first: Entry | None
    days: tuple[DayBest, ...]
    blocks: tuple[Point, ...]
    readings: tuple[Entry, ...]
    recent: Recent


def find_bests(stay: Stay, handover: Handover) -> Bests:
    """The bests of one patient."""
    good = [entry for entry in stay.counted if entry.is_good_reading]
    readings = sorted(good, key=lambda entry: (entry.at, -_volume_ml(entry)))
    start, zone = handover.shift.start, handover.unit.time_zone
    day_before = start - timedelta(hours=PREVIOUS_H)
    week = handover.as_of - timedelta(days=TREND_D)
    days = groupby(readings, lambda entry: entry.at.astimezone(zone).date())
    recent = [entry for entry in readings if entry.at >= week]
    blocks = groupby(recent, lambda entry: block_of(entry.at, handover))
    return Bests(
        shift=_best(entry for entry in readings if start <= entry.at < handover.shift.end),
        previous=_best(entry for entry in readings if day_before <= entry.at < start),
        stay=_best(readings),
        first=next(iter(readings), None),
        days=tuple(DayBest(day, max(map(_volume_ml, each))) for day, each in days),
        blocks=tuple(Point(_middle(each)) for _, each in blocks),
        readings=tuple(readings),
        recent=find_recent(readings, handover.shift, handover.as_of),
    )


def block_of(at: datetime, handover: Handover) -> int:
    """The number of the block of 12 real hours that holds an instant: 0 from the shift's start, -1
    before it.
    """
    return (at - handover.shift.start) // timedelta(hours=BLOCK_H)


def _middle(readings: Iterable[Entry]) -> Entry:
    """The middle reading by volume, of equals by time; of an even number the higher of the two."""
    ordered = sorted(readings, key=lambda entry: (_volume_ml(entry), entry.at))
    return ordered[len(ordered) // 2]


def _best(readings: Iterable[Entry]) -> Entry | None:
    """The highest reading; of equals the first."""
    return max(readings, key=_volume_ml, default=None)


def _volume_ml(reading: Entry) -> float:
    return reading.volume_ml or 0.0  # a reading has a volume

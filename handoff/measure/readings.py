"""The ward's good-form readings in one frame, and the best of each shift, stay, day and block.

Input: the entries of every patient's stay. Output: `Bests`, by patient id.
Never holds an off-form reading: those take no part in best, trend or goal.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import chain

import pandas as pd

from handoff.measure.shift import Stay
from handoff.model.measures import BLOCK_H, PREVIOUS_H, TREND_D, DayBest, Point
from handoff.model.ward import Entry, Handover


@dataclass(frozen=True, slots=True)
class Bests:
    """Highest good-form readings by patient id; a patient without one is not in the mapping.

    `shift`, `previous` (the 24 h before it) and `stay` hold the entry itself, the earliest of
    equals. `first` is the stay's earliest. `days` and `blocks` are in time order.
    """

    shift: Mapping[str, Entry]
    previous: Mapping[str, Entry]
    stay: Mapping[str, Entry]
    first: Mapping[str, Entry]
    days: Mapping[str, tuple[DayBest, ...]]
    blocks: Mapping[str, tuple[Point, ...]]


def find_bests(stays: Iterable[Stay], handover: Handover) -> Bests:
    """The bests of all patients at once."""
    readings = good_readings(stays, handover)
    at, start = readings["at"], pd.Timestamp(handover.shift.start)
    in_shift = (at >= start) & (at < handover.shift.end)
    just_before = (at >= start - timedelta(hours=PREVIOUS_H)) & (at < start)
    recent = at >= pd.Timestamp(handover.as_of) - timedelta(days=TREND_D)
    return Bests(
        shift=_by_patient(best_of_each(readings[in_shift], ["patient_id"])),
        previous=_by_patient(best_of_each(readings[just_before], ["patient_id"])),
        stay=_by_patient(best_of_each(readings, ["patient_id"])),
        first=_by_patient(readings.drop_duplicates("patient_id")),
        days=_days(best_of_each(readings, ["patient_id", "day"])),
        blocks=_points(best_of_each(readings[recent], ["patient_id", "block"])),
    )


def good_readings(stays: Iterable[Stay], handover: Handover) -> pd.DataFrame:
    """A row for each good-form reading of the stays, by time, of one instant the highest first.

    `day` is the unit's local calendar day; `block` as in `block_of`.
    """
    counted = chain.from_iterable(stay.counted for stay in stays)
    good = [entry for entry in counted if entry.is_good_reading]
    at = pd.Series([entry.at for entry in good], dtype="datetime64[us, UTC]")
    frame = pd.DataFrame(
        {
            "patient_id": pd.Series([entry.patient_id for entry in good], dtype=object),
            "at": at,
            "day": at.dt.tz_convert(handover.unit.time_zone).dt.date,
            "block": pd.Series([block_of(entry.at, handover) for entry in good], dtype=int),
            "volume_ml": pd.Series([entry.volume_ml for entry in good], dtype=float),
            "entry": pd.Series(good, dtype=object),
        }
    )
    return frame.sort_values(["at", "volume_ml"], ascending=[True, False], ignore_index=True)


def block_of(at: datetime, handover: Handover) -> int:
    """Which block of 12 h of real time holds an instant: 0 from the shift's start, -1 before it."""
    return (at - handover.shift.start) // timedelta(hours=BLOCK_H)


def best_of_each(readings: pd.DataFrame, groups: list[str]) -> pd.DataFrame:
    """The highest reading of each group, the earliest of equals, in the groups' order."""
    return readings.loc[readings.groupby(groups)["volume_ml"].idxmax()]


def _by_patient(readings: pd.DataFrame) -> dict[str, Entry]:
    return dict(zip(readings["patient_id"], readings["entry"], strict=True))


def _days(bests: pd.DataFrame) -> dict[str, tuple[DayBest, ...]]:
    days: defaultdict[str, tuple[DayBest, ...]] = defaultdict(tuple)
    rows = zip(bests["patient_id"], bests["day"], bests["volume_ml"], strict=True)
    for patient_id, day, best_ml in rows:
        days[patient_id] += (DayBest(day, best_ml),)
    return days


def _points(bests: pd.DataFrame) -> dict[str, tuple[Point, ...]]:
    points: defaultdict[str, tuple[Point, ...]] = defaultdict(tuple)
    rows = zip(bests["patient_id"], bests["entry"], bests["volume_ml"], strict=True)
    for patient_id, entry, best_ml in rows:
        points[patient_id] += (Point(entry.at, best_ml),)
    return points

"""The usual volume, and the last readings to compare with it.

Input: the good-form readings of a stay, in time order. Output: `Recent`. Never takes a reading of
the shift into its usual, nor one in bad form: one lucky breath or one bad one moves nothing.

The counts and hours are common practice: they were chosen by simulation, on two generators.
"""

from collections.abc import Sequence
from datetime import datetime, timedelta
from statistics import median

from handoff.model.measures import (
    FEWEST_FOR_USUAL,
    LAST_READINGS_H,
    MOST_LAST,
    USUAL_H,
    USUAL_READINGS,
    Recent,
)
from handoff.model.ward import Entry, Shift


def find_recent(readings: Sequence[Entry], shift: Shift, as_of: datetime) -> Recent:
    """What a fall in this shift is read from: `readings` are in good form, of the stay."""
    known = in_time([each for each in readings if each.at <= as_of and each.at < shift.end])
    usual = _usual(known, shift.start)
    last = known[-1:]
    few: list[Entry] = []
    if last and last[0].at < shift.start:
        last = []
    if last:
        last = _since(known, as_of - timedelta(hours=LAST_READINGS_H))[-MOST_LAST:]
    if last:
        few = _since(known[:-1], last[-1].at - timedelta(hours=USUAL_H))
    usual_ml = _usual_ml(usual)
    compared = few if usual_ml is None else usual
    return Recent(
        usual=tuple(usual),
        usual_ml=usual_ml,
        compared=tuple(compared),
        compared_ml=_middle_ml(compared) if compared else None,
        last=tuple(reversed(last)),
    )


def find_usual_ml(readings: Sequence[Entry], start: datetime) -> float | None:
    """The usual volume of a shift that starts then, in mL; None where it is not known."""
    return _usual_ml(_usual(in_time(readings), start))


def _usual(known: Sequence[Entry], start: datetime) -> list[Entry]:
    before = [each for each in known if each.at < start]
    return _since(before, start - timedelta(hours=USUAL_H))[-USUAL_READINGS:]


def _usual_ml(usual: Sequence[Entry]) -> float | None:
    return _middle_ml(usual) if len(usual) >= FEWEST_FOR_USUAL else None


def in_time(readings: Sequence[Entry]) -> list[Entry]:
    """Readings in time order; of one instant the lower counts as earlier."""
    return sorted(readings, key=lambda each: (each.at, each.volume_ml))


def _since(readings: Sequence[Entry], since: datetime) -> list[Entry]:
    return [each for each in readings if each.at >= since]


def _middle_ml(readings: Sequence[Entry]) -> float:
    return median(each.volume_ml or 0.0 for each in readings)  # a reading has a volume

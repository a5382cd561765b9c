"""Whether a later row shows that a danger is over, by the record alone.

Input: what a matter consists of, its rows, and a later row. Output: nothing, or why it is not. What
was not looked at again is never over. The minutes and shares here are common practice.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from handoff.judge.about import minute
from handoff.judge.case import Case
from handoff.judge.signs import LOW_OXYGEN, VITALS, beyond
from handoff.model.matters import AIR, SETTLES_AFTER, WhyNot
from handoff.model.ward import Entry, Signs, Symptom

VOLUME_PERCENT_OVER = 85  # of the volume that it fell from

# What a matter consists of is settled part by part: a vital sign by its rule's name, symptoms by
# `none`, a fall of the volume by a good reading.
NONE, VOLUME = "none", "volume"

_AMOUNT = re.compile(r"(\d+(?:[.,]\d+)?)\s*(%|l(?:iters?|itres?|pm)?\b)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Danger:
    """What a later row is compared with: when the danger was met last, the signs of its rows with
    a `low` SpO2 and of the rows that looked at it `since`, the volume that a fall began at.
    """

    last_at: datetime
    low: Sequence[Signs]
    since: Sequence[Signs]
    fell_from_ml: float


def why_not_settled(part: str, row: Entry, case: Case, danger: Danger) -> WhyNot | None:
    """Why `row`, which looks at one part of a danger after it was met last, does not show that it
    is over; None where it does. What more time would not mend is named before `TOO_SOON`.

    `case` holds the limits that were in force at the row.
    """
    if not row.by_staff:
        return WhyNot.BY_PATIENT
    waited, enough = minute(row.at) - minute(danger.last_at), SETTLES_AFTER
    why: WhyNot | None = None
    if part == VOLUME:
        enough = timedelta(minutes=1)
        risen = 100 * (row.volume_ml or 0) > VOLUME_PERCENT_OVER * danger.fell_from_ml
        why = None if risen else WhyNot.BEYOND
    elif part == NONE:
        why = None if Symptom.NONE in row.signs.symptoms else WhyNot.ANOTHER_SYMPTOM
    elif not is_within_limits(part, row, case):
        why = WhyNot.BEYOND
    elif part == LOW_OXYGEN.name:
        why = why_oxygen_differs(row.signs, danger.low, danger.since)
    return why or (WhyNot.TOO_SOON if waited < enough else None)


def looks_at(part: str, row: Entry) -> bool:
    """Whether a row looks at a part of a matter again, whatever it finds."""
    if part == VOLUME:
        return row.is_good_reading
    if part == NONE:
        return bool(row.signs.symptoms)
    return VITALS[part].value(row.signs) is not None


def is_within_limits(rule: str, row: Entry, case: Case) -> bool:
    """Whether a vital sign is recorded in a row and beyond none of its limits."""
    recorded = VITALS[rule].value(row.signs) is not None
    return recorded and not beyond(case.of(rule), row.signs)


def why_oxygen_differs(good: Signs, low: Sequence[Signs], since: Sequence[Signs]) -> WhyNot | None:
    """Why a good SpO2 says nothing of the low ones, by the oxygen that it was reached with.

    One seen on air wants air; one on oxygen air, or no more than the least amount then, written
    both times in one unit; where it was never recorded then, anything but oxygen, and where oxygen
    was given since, air.
    """
    if good.on_oxygen is False:
        return None
    if any(signs.on_oxygen is False for signs in low):
        return WhyNot.ON_OXYGEN if good.on_oxygen else WhyNot.OXYGEN_UNKNOWN
    if all(signs.on_oxygen is None for signs in low):
        if good.on_oxygen:
            return WhyNot.ON_OXYGEN
        given = any(signs.on_oxygen for signs in since)
        return WhyNot.OXYGEN_UNKNOWN if given else None
    now, least = _amounts(good.oxygen), _least_amounts(low)
    shared = now.keys() & least.keys()
    if not shared:
        return WhyNot.OXYGEN_UNKNOWN
    return WhyNot.MORE_OXYGEN if any(now[unit] > least[unit] for unit in shared) else None


def oxygen_that_settles(low: Sequence[Signs]) -> str:
    """On what a good SpO2 has to be reached, so that `why_oxygen_differs` finds nothing: `AIR`; or
    the least amount that a low one was seen on, as it is written, for no more than that. '' where
    it was never recorded then, so that anything but oxygen will do.
    """
    if all(signs.on_oxygen is None for signs in low):
        return ""
    least = _least_amounts(low)
    if not least or any(signs.on_oxygen is False for signs in low):
        return AIR
    written = [signs.oxygen or "" for signs in reversed(low) if signs.on_oxygen]
    return min(written, key=lambda text: [_amounts(text)[unit] for unit in sorted(least)])


def _least_amounts(low: Sequence[Signs]) -> dict[str, float]:
    """The least amount among the low values on oxygen, in each unit that all are written in."""
    then = [_amounts(signs.oxygen) for signs in low if signs.on_oxygen]
    units = set[str].intersection(*map(set, then)) if then else ()
    return {unit: min(each[unit] for each in then) for unit in units}


def _amounts(oxygen: str | None) -> dict[str, float]:
    """The number before L and before %, by the unit's first letter, where it is written so."""
    found = _AMOUNT.findall(oxygen or "")
    return {unit[0].lower(): float(number.replace(",", ".")) for number, unit in reversed(found)}

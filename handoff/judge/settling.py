"""Whether a later row shows that a danger is over, by the record alone.

Input: what a matter consists of, its rows, and a later row. Output: yes or no. What was not looked
at again is never over. The minutes and shares here are common practice.
"""

import re
from collections.abc import Sequence
from datetime import datetime, timedelta

from handoff.judge.about import minute
from handoff.judge.case import Case
from handoff.judge.signs import VITALS, beyond
from handoff.matters import SETTLES_AFTER
from handoff.model import Entry, Signs, Symptom

VOLUME_PERCENT_OVER = 85  # of the volume that it fell from

# What a matter consists of is settled part by part: a vital sign by its rule's name, symptoms by
# `none`, a fall of the volume by a good reading.
NONE, VOLUME = "none", "volume"

_AMOUNT = re.compile(r"(\d+(?:[.,]\d+)?)\s*(%|l(?:iters?|itres?|pm)?\b)", re.IGNORECASE)


def settles(
    part: str, row: Entry, last_at: datetime, case: Case, low: Sequence[Signs], fell_from_ml: float
) -> bool:
    """Whether `row`, later than `last_at`, shows that one part of a matter is over.

    `case` holds the limits that were in force at the row, `low` are the signs of the matter's rows
    with a low SpO2, `fell_from_ml` is the volume that a fall is compared with.
    """
    if not row.by_staff:
        return False
    waited = minute(row.at) - minute(last_at)
    if part == VOLUME:
        risen = 100 * (row.volume_ml or 0) > VOLUME_PERCENT_OVER * fell_from_ml
        return row.is_good_reading and waited > timedelta() and risen
    if waited < SETTLES_AFTER:
        return False
    if part == NONE:
        return Symptom.NONE in row.signs.symptoms
    return is_within_limits(part, row, case) and (
        part != "low-oxygen" or on_no_more_oxygen(row.signs, low)
    )


def measures(part: str, row: Entry) -> bool:
    """Whether a row looks at a part of a matter again, whatever it finds."""
    if part == VOLUME:
        return row.is_good_reading
    if part == NONE:
        return Symptom.NONE in row.signs.symptoms
    return VITALS[part].value(row.signs) is not None


def is_within_limits(rule: str, row: Entry, case: Case) -> bool:
    """Whether a vital sign is recorded in a row and beyond none of its limits."""
    recorded = VITALS[rule].value(row.signs) is not None
    return recorded and not beyond(case.of(rule), row.signs)


def on_no_more_oxygen(good: Signs, low: Sequence[Signs]) -> bool:
    """Whether a good SpO2 was reached with no more oxygen than the low ones were seen on.

    One seen on air wants air; one on oxygen air, or no more than the least amount then, written
    both times in one unit; where it was never recorded then, anything but oxygen.
    """
    if good.on_oxygen is False:
        return True
    if any(signs.on_oxygen is False for signs in low):
        return False
    if all(signs.on_oxygen is None for signs in low):
        return good.on_oxygen is None
    now = _amounts(good.oxygen)
    then = [_amounts(signs.oxygen) for signs in low if signs.on_oxygen]
    shared = [unit for unit in now if all(unit in each for each in then)]
    return bool(shared) and all(now[unit] <= min(each[unit] for each in then) for unit in shared)


def _amounts(oxygen: str | None) -> dict[str, float]:
    """The number before L and before %, by the unit's first letter, where it is written so."""
    found = _AMOUNT.findall(oxygen or "")
    return {unit[0].lower(): float(number.replace(",", ".")) for number, unit in reversed(found)}

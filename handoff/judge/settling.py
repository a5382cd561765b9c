"""Decides whether a later row shows that a danger is over, by the record alone.

Input: the parts of a matter, its rows, and a later row. Output: None, or why the danger is not
over. A part that was not looked at again is never over. The minutes and shares here are common
practice.
"""

import re
from collections.abc import Sequence
from datetime import datetime, timedelta

from msgspec.structs import replace

from handoff.judge.about import minute
from handoff.judge.case import Case
from handoff.judge.signs import LOW_OXYGEN
from handoff.judge.vitals import ON_OXYGEN, PAIN, VITALS, beyond
from handoff.model.frozen import Frozen
from handoff.model.matters import AIR, SETTLES_AFTER, VOLUME_PERCENT_OVER, WhyNot
from handoff.model.ward import Entry, Signs, Symptom

# The parts of a matter are settled one by one: a vital sign or pain (named by its rule), symptoms
# (`none`), a fall of the volume (a good reading).
NONE, VOLUME = "none", "volume"

_AMOUNT = re.compile(r"(\d+(?:[.,]\d+)?)\s*(%|l(?:iters?|itres?|pm)?\b)", re.IGNORECASE)


class Danger(Frozen):
    """What a later row is compared with. `last_at` is when the danger was met last. `low` are the
    signs of its rows with a low SpO2, `since` those of later rows that looked at it. A fall is
    compared with `fell_from_ml`.
    """

    last_at: datetime
    low: Sequence[Signs]
    since: Sequence[Signs]
    fell_from_ml: float


def why_not_settled(part: str, row: Entry, case: Case, danger: Danger) -> WhyNot | None:
    """Why `row` does not show that one part of a danger is over; None where it does. The row looks
    at the part, and is later than the danger. `TOO_SOON` is the reason only where there is no
    other.

    `case` holds the limits for the row's shift.
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
    elif part == ON_OXYGEN and row.signs.on_oxygen is None:
        as_if_on = replace(row.signs, on_oxygen=True)
        why = WhyNot.OXYGEN_UNKNOWN if beyond(case.of(part).at(row), as_if_on) else None
    elif part == LOW_OXYGEN.name and danger.low:
        why = why_oxygen_differs(row.signs, danger.low, danger.since)
    return why or (WhyNot.TOO_SOON if waited < enough else None)


def looks_at(part: str, row: Entry) -> bool:
    """Whether a row looks at a part of a matter again, with any result."""
    if part == VOLUME:
        return row.is_good_reading
    if part == NONE:
        return bool(row.signs.charted)
    return VITALS[part].value(row.signs) is not None


def is_within_limits(rule: str, row: Entry, case: Case) -> bool:
    """Whether a vital sign is recorded in a row and beyond none of its limits; or pain, under the
    lower limit of pain.
    """
    value = VITALS[rule].value(row.signs)
    if rule == PAIN:
        return value is not None and value < case.of("pain-limits").limit("pain_at_or_over")
    return value is not None and not beyond(case.of(rule).at(row), row.signs)


def why_oxygen_differs(good: Signs, low: Sequence[Signs], since: Sequence[Signs]) -> WhyNot | None:
    """Why a good SpO2 cannot settle the low ones, by the oxygen given.

    After a low value on air, the good one must be on air. After one on oxygen, it must be on air,
    or on at most the least amount given then, written in the same unit. Where oxygen was never
    recorded with the low values, the good one must not be on oxygen; if oxygen was given since, it
    must be on air.
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
    """The numbers before L and before %, by the unit's first character, where they are
    written so.
    """
    found = _AMOUNT.findall(oxygen or "")
    return {unit[0].lower(): float(number.replace(",", ".")) for number, unit in reversed(found)}

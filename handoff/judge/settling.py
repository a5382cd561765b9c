"""Whether a later row shows that a danger is over, by the record alone.

Input: what a matter consists of, its rows, and a later row. Output: nothing, or why it is not. What
was not looked at again is never over. The minutes and shares here are common practice.
"""

import re
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

from handoff.judge.about import minute
from handoff.judge.case import Case
from handoff.judge.signs import VITALS, beyond
from handoff.matters import SETTLES_AFTER, WhyNot
from handoff.model import Entry, Symptom

VOLUME_PERCENT_OVER = 85  # of the volume that it fell from

# What a matter consists of is settled part by part: a vital sign by its rule's name, symptoms by
# `none`, a fall of the volume by a good reading.
NONE, VOLUME = "none", "volume"

_AMOUNT = re.compile(r"(\d+(?:[.,]\d+)?)\s*(l|%)", re.IGNORECASE)


def why_not_settled(
    part: str, row: Entry, last_at: datetime, case: Case, rows: Sequence[Entry], fell_from_ml: float
) -> WhyNot | None:
    """Why `row`, which looks at one part of a matter later than `last_at`, does not show that it is
    over; None where it does. What more time would not mend is named before `TOO_SOON`.

    `case` holds the limits that were in force at the row, `rows` are those of the matter,
    `fell_from_ml` the volume that a fall is compared with.
    """
    if not row.by_staff:
        return WhyNot.BY_PATIENT
    waited, enough = minute(row.at) - minute(last_at), SETTLES_AFTER
    why: WhyNot | None = None
    if part == VOLUME:
        enough = timedelta(minutes=1)
        risen = 100 * (row.volume_ml or 0) > VOLUME_PERCENT_OVER * fell_from_ml
        why = None if risen else WhyNot.BEYOND
    elif part == NONE:
        why = None if Symptom.NONE in row.signs.symptoms else WhyNot.ANOTHER_SYMPTOM
    elif not is_within_limits(part, row, case):
        why = WhyNot.BEYOND
    elif part == "low-oxygen":
        why = why_oxygen_differs(row, rows, case)
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


def why_oxygen_differs(row: Entry, rows: Iterable[Entry], case: Case) -> WhyNot | None:
    """Why a good SpO2 says nothing of the low ones, by the oxygen that it was reached with.

    One seen on air wants air; one on oxygen air, or no more than the least amount then, written
    both times in one unit; where it was never recorded then, anything but oxygen.
    """
    low = [each.signs for each in rows if beyond(case.of("low-oxygen"), each.signs)]
    if row.signs.on_oxygen is False:
        return None
    if any(signs.on_oxygen is False for signs in low):
        return WhyNot.ON_OXYGEN if row.signs.on_oxygen else WhyNot.OXYGEN_UNKNOWN
    if all(signs.on_oxygen is None for signs in low):
        return WhyNot.ON_OXYGEN if row.signs.on_oxygen else None
    now = _amount(row.signs.oxygen)
    then = [_amount(signs.oxygen) for signs in low if signs.on_oxygen]
    known = [each for each in then if each is not None]
    if now is None or len(known) < len(then) or {unit for _, unit in known} != {now[1]}:
        return WhyNot.OXYGEN_UNKNOWN
    return WhyNot.MORE_OXYGEN if now[0] > min(amount for amount, _ in known) else None


def _amount(oxygen: str | None) -> tuple[float, str] | None:
    """The number before L or %, and which of them; None where it is not written so."""
    found = _AMOUNT.search(oxygen or "")
    return (float(found[1].replace(",", ".")), found[2].lower()) if found else None

"""Finds patients who were moved in the shift: their rows name more than one bed.

Input: the beds of each patient in the rows of a CSV log. Output: the beds of those who were moved,
in time order. A row may carry the wrong patient's id. Therefore a move is read only where all rows
agree with it: the rows of one bed come before those of the next, each bed has a row with a known
time, and nobody else is in the new bed. Two patients may exchange beds, and a bed is free once its
patient has left. In all other cases the bed is not known, as with any disputed fact. A YAML log
gives one bed a patient, without a time.
"""

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from datetime import UTC, datetime
from itertools import pairwise
from typing import Any

from msgspec.structs import replace

from handoff.check.cells import CellReader, Reading
from handoff.check.first_row import FirstRow
from handoff.check.whole import is_far
from handoff.log.fields import BY_NAME, Field, Section
from handoff.log.names import BedKey, bed_key
from handoff.model.frozen import Frozen
from handoff.model.ward import OF_SOMEBODY_GONE, Shift, What
from handoff.read import Record

_WHEN = BY_NAME[Section.ENTRY, "patient_id"], BY_NAME[Section.ENTRY, "at"]
_WHERE = *_WHEN, BY_NAME[Section.PATIENT, "bed"]
_WHAT = *_WHEN, BY_NAME[Section.ENTRY, "what"]
_EVER = datetime.min.replace(tzinfo=UTC), datetime.max.replace(tzinfo=UTC)


class InBed(Frozen):
    """One patient in one bed: the first of the rows, and the first and last time."""

    bed: str
    record: Record
    first: datetime
    last: datetime


def read_moves(
    reading: Reading,
    shift: Shift,
    first_row: FirstRow,
    beds: Mapping[str, Collection[BedKey]],
) -> Mapping[str, Sequence[InBed]]:
    """By id the beds of each patient who was moved; `beds` has every bed named for each patient."""
    if all(len(keys) <= 1 for keys in beds.values()):
        return {}
    rows = _rows_by_bed(reading, shift, first_row)
    moved = {
        patient_id: stays
        for patient_id, keys in beds.items()
        if len(keys) > 1 and (stays := _in_turn(rows[patient_id], keys))
    }
    gone = _gone(reading, shift, first_row)
    spans: defaultdict[BedKey, list[tuple[datetime, datetime, str]]] = defaultdict(list)
    for patient_id, keys in beds.items():
        until = gone.get(patient_id, _EVER[1])
        for key, first, last in _spans(keys, moved.get(patient_id, ()), until):
            spans[key].append((first, last, patient_id))
    beside_others = {key: _beside_others(of_bed) for key, of_bed in spans.items()}
    return {
        patient_id: stays
        for patient_id, stays in moved.items()
        if not any(patient_id in beside_others[bed_key(stay.bed)] for stay in stays[1:])
    }


def _rows_by_bed(
    reading: Reading, shift: Shift, first_row: FirstRow
) -> Mapping[str, Mapping[BedKey, InBed]]:
    """The rows by id and bed: those with a time, and of this log's shift."""
    rows: defaultdict[str, dict[BedKey, InBed]] = defaultdict(dict)
    for record, values in _of_shift(reading, shift, first_row, _WHERE):
        if "bed" not in values:
            continue
        at, of_patient, key = values["at"], rows[values["patient_id"]], bed_key(values["bed"])
        known = of_patient.get(key)
        if known is None or at < known.first:
            known = InBed(values["bed"], record, at, known.last if known else at)
        of_patient[key] = replace(known, last=max(known.last, at))
    return rows


def _gone(reading: Reading, shift: Shift, first_row: FirstRow) -> Mapping[str, datetime]:
    """When each patient left who is not charted afterwards."""
    left: dict[str, datetime] = {}
    seen: defaultdict[str, datetime] = defaultdict(lambda: _EVER[0])
    for _, values in _of_shift(reading, shift, first_row, _WHAT):
        patient_id, at = values["patient_id"], values["at"]
        what = values.get("what")
        if what is What.LEFT:
            left[patient_id] = max(at, left.get(patient_id, at))
        elif what not in OF_SOMEBODY_GONE:
            seen[patient_id] = max(at, seen[patient_id])
    return {patient_id: at for patient_id, at in left.items() if seen[patient_id] <= at}


def _of_shift(
    reading: Reading, shift: Shift, first_row: FirstRow, fields: Collection[Field]
) -> Iterator[tuple[Record, Mapping[str, Any]]]:
    """The rows of this log's shift with a known patient and time, and what they say."""
    reader = CellReader(reading, fields)
    for record in reading.raw_log.entries:
        if record.broken or first_row.is_of_another_shift(record):
            continue
        values = reader.read(record).values
        if {"patient_id", "at"} <= values.keys() and not is_far(values["at"], shift):
            yield record, values


def _in_turn(rows: Mapping[BedKey, InBed], keys: Collection[BedKey]) -> Sequence[InBed]:
    """The beds of one patient in time order; none where they did not follow each other."""
    stays = sorted(rows.values(), key=lambda stay: stay.first)
    follow = all(stay.last < after.first for stay, after in pairwise(stays))
    return stays if follow and rows.keys() == set(keys) else ()


def _spans(
    keys: Collection[BedKey], stays: Sequence[InBed], until: datetime
) -> Iterator[tuple[BedKey, datetime, datetime]]:
    """The times in which a patient may be in each bed. A moved patient is in the first bed also
    before its rows, and in the last also after them, until the patient left. Any other patient may
    be in each bed at any time until then.
    """
    if not stays:
        yield from ((key, _EVER[0], until) for key in keys)
    for stay in stays:
        first = _EVER[0] if stay is stays[0] else stay.first
        last = until if stay is stays[-1] else stay.last
        yield bed_key(stay.bed), first, last


def _beside_others(spans: Collection[tuple[datetime, datetime, str]]) -> set[str]:
    """The ids of patients whose time in a bed overlaps with another's."""
    found = set()
    latest = _EVER[0]
    for (_, last, one), (first_after, _, other) in pairwise(sorted(spans)):
        latest = max(latest, last)
        if first_after <= latest:
            found.add(other)
        if first_after <= last:
            found.add(one)
    return found

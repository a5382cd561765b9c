"""Finds the one row of a CSV log in which an id, a name or a birth date has a slip.

Input: the rows of the log, and what they say of its patients. Output: the rows to set aside, each
with its finding. Only where all other rows of the patient agree with each other, and two of them at
least say it, is the one row wrong and not the patient.
"""

from collections import Counter, defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence

from msgspec.structs import replace

from handoff.check.cells import CellReader, Reading
from handoff.check.first_row import FirstRow
from handoff.log.fields import BY_NAME, Section
from handoff.log.names import Ids, fact_key
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place
from handoff.model.frozen import Frozen
from handoff.read import Record

_ID = BY_NAME[Section.PATIENT, "patient_id"]
_WHO = [BY_NAME[Section.PATIENT, name] for name in ("name", "born")]
_LEAST_ROWS = 2


class _Row(Frozen):
    """A row, and what it says of who the patient is: keys of the name and the birth date."""

    record: Record
    said: Mapping[str, object]


def odd_rows(
    reading: Reading, first_row: FirstRow, ids: Collection[str]
) -> Mapping[Place, Finding]:
    """By place the rows to set aside, among the rows of these ids."""
    rows: defaultdict[str, list[_Row]] = defaultdict(list)
    reader = CellReader(reading, [_ID, *_WHO])
    for record in reading.raw_log.entries if reading.raw_log.columns is not None else ():
        values = {} if record.broken else reader.read(record).values
        patient_id = values.pop("patient_id", None)
        if patient_id in ids and not first_row.is_of_another_shift(record):
            said = {name: fact_key(name, value) for name, value in values.items()}
            rows[patient_id].append(_Row(record, said))
    odd = {}
    for patient_id, of_one in rows.items():
        row = _odd_one(of_one)
        if row:
            rest = [each for each in of_one if each is not row]
            odd[reading.raw_log.row_place(row.record)] = _of_another_person(reading, row, rest)
            rows[patient_id] = rest
    return odd | dict(_ids_of_one_row(reading, rows))


def _odd_one(rows: Sequence[_Row]) -> _Row | None:
    """The row that alone disagrees with all others on the name, the birth date, or both."""
    said = {
        each.name: Counter(row.said[each.name] for row in rows if each.name in row.said)
        for each in _WHO
    }
    disputed = {name: counts for name, counts in said.items() if len(counts) > 1}
    odd = [
        row
        for row in rows
        if any(counts[row.said.get(name)] == 1 for name, counts in disputed.items())
    ]
    agree = all(
        len(counts) == 2 and max(counts.values()) >= _LEAST_ROWS  # noqa: PLR2004 - right and wrong
        for counts in disputed.values()
    )
    return odd[0] if len(odd) == 1 and agree else None


def _of_another_person(reading: Reading, row: _Row, rest: Sequence[_Row]) -> Finding:
    """The finding on a row with another name or birth date than the rest of its id."""
    field, other = next(
        (field, other)
        for field in _WHO
        for other in rest
        if field.name in row.said
        and other.said.get(field.name, row.said[field.name]) != row.said[field.name]
    )
    raw, right = (each.cells[field.name].strip() for each in (row.record, other.record))
    words = {"rows": len(rest), "hint": right if Ids([right]).alike(raw) else None}
    place = reading.raw_log.place(row.record, field)
    found = finding("other-person", place, field.name, raw, **words)
    return replace(found, related=(reading.raw_log.place(other.record, field),))


def _ids_of_one_row(
    reading: Reading, rows: Mapping[str, Sequence[_Row]]
) -> Iterator[tuple[Place, Finding]]:
    """The rows whose id stands in no other row and is a slip of that of a patient with the same
    name and birth date.
    """
    ids = Ids(rows)
    who = {
        patient_id: [each.said for each in of_one if each.said]
        for patient_id, of_one in rows.items()
    }
    for patient_id, (row, *more) in rows.items():
        if more or len(row.said) < len(_WHO):
            continue
        for other in sorted(ids.alike(patient_id)):
            same = who[other] and all(said.items() <= row.said.items() for said in who[other])
            if same and row.said in who[other] and len(rows[other]) >= _LEAST_ROWS:
                place = reading.raw_log.place(row.record, _ID)
                found = finding("id-of-one-row", place, _ID.name, patient_id, hint=other)
                yield reading.raw_log.row_place(row.record), found
                break

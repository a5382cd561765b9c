"""The patients of a log: what all rows say of each, put together.

Input: the patient records of a raw log. Output: `People`: the patients whose identity is sure, and
the ids whose rows must be set aside. Never decides between two things that rows say of a patient:
then it is not known. Never makes a patient out of an id alone.
"""

from collections.abc import Mapping, Sequence
from dataclasses import MISSING, dataclass, field, fields, replace
from datetime import date, datetime, timedelta
from itertools import pairwise
from typing import Any

from handoff.check.cells import CellReader, Cells, Reading
from handoff.check.first_row import FirstRow
from handoff.check.moves import InBed, read_moves
from handoff.check.slips import likely_birth, likely_year
from handoff.log.entries import local
from handoff.log.fields import BY_NAME, ORDER_PARTS, Section, fields_of
from handoff.log.names import BedKey, bed_key, fact_key
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place
from handoff.model.ward import Move, Order, Patient, Shift
from handoff.read import Record

OLDEST_PATIENT = timedelta(days=366 * 120)

_USUAL = {
    name: each.default
    for name, part in ORDER_PARTS.items()
    for each in fields(Order)
    if each.name == part and each.default not in {MISSING, None}
}


@dataclass(frozen=True, slots=True)
class People:
    """`patients` by id; `in_doubt`: ids that stand for two people; `nameless`: ids and no more."""

    patients: Mapping[str, Patient]
    in_doubt: frozenset[str]
    nameless: frozenset[str]

    @property
    def ids(self) -> frozenset[str]:
        """Every id that the log's patients have."""
        return self.in_doubt | self.nameless | self.patients.keys()


@dataclass(slots=True)
class _Facts:
    """What the rows read so far say of one patient, by contract name.

    `said` has the record in which a value is said first; `unknown` what could not be read, or is
    said in two ways (`disputed`). `beds` has every bed, with the record in which it is said first.
    """

    record: Record
    values: dict[str, Any] = field(default_factory=dict)
    said: dict[str, Record] = field(default_factory=dict)
    unknown: set[str] = field(default_factory=set)
    disputed: set[str] = field(default_factory=set)
    beds: dict[BedKey, Record] = field(default_factory=dict)


def read_patients(reading: Reading, shift: Shift, first_row: FirstRow) -> People:
    """The patients of the raw log; what is wrong with them goes to the reading's findings.

    A row of another shift is set aside, and so is what it says of a patient. A patient of whom
    nothing is filled in is none.
    """
    gathered = _Gathered(reading, shift)
    blank = []
    for record in reading.raw_log.patients:
        if not record.cells and not record.lost:
            blank.append(record)
        elif not first_row.is_of_another_shift(record):
            gathered.add(record)
    if blank:
        rows = "this patient" if len(blank) == 1 else f"these {len(blank)} patients"
        reading.report(finding("blank-row", reading.raw_log.row_place(blank[0]), rows=rows))
    beds = {patient_id: facts.beds for patient_id, facts in gathered.everyone.items()}
    gathered.settle_beds(read_moves(reading, shift, first_row, beds))
    return gathered.people()


class _Gathered:
    def __init__(self, reading: Reading, shift: Shift) -> None:
        self.reading = reading
        self.reader = CellReader(reading, fields_of(Section.PATIENT))
        self.shift = shift
        self.zone = reading.clock.zone
        self.everyone: dict[str, _Facts] = {}
        self.in_doubt: set[str] = set()

    def add(self, record: Record) -> None:
        """Adds what one record says."""
        cells = self.reader.read(record)
        patient_id = cells.values.pop("patient_id", None)
        if patient_id is None:
            if "patient_id" not in cells.lost:
                self._report("missing-cell", record, "patient_id")
            return
        if "born" in cells.values:
            self._check_birth(record, cells)
        facts = self.everyone.setdefault(patient_id, _Facts(record))
        facts.unknown |= cells.lost.keys()
        if "bed" in cells.values:
            facts.beds.setdefault(bed_key(cells.values["bed"]), record)
        for name, value in cells.values.items():
            if name not in facts.values and name not in facts.disputed:
                facts.values[name] = value
                facts.said[name] = record
            elif name in facts.values and not _agree(name, facts.values[name], value):
                self._dispute(patient_id, facts, name, record)

    def settle_beds(self, moves: Mapping[str, Sequence[InBed]]) -> None:
        """Gives those who were moved the last of their beds, and others who have several none."""
        sure = (each for each in self.everyone.items() if each[0] not in self.in_doubt)
        for patient_id, facts in sure:
            stays = moves.get(patient_id, ())
            if stays:
                left = tuple(stay.bed for stay in stays[:-1])
                facts.values["moved"] = Move(left, stays[-1].first)
            for before, stay in pairwise(stays):
                facts.values["bed"], facts.said["bed"] = stay.bed, stay.record
                at, earlier = local(stay.first, self.zone), self._place(before.record, "bed")
                words = {"before": before.bed, "bed": stay.bed, "at": at}
                self._report("bed-changed", stay.record, "bed", stay.bed, earlier, **words)
            if len(facts.beds) > 1 and patient_id not in moves:
                _, other, *_ = facts.beds.values()
                self._dispute(patient_id, facts, "bed", other)

    def _check_birth(self, record: Record, cells: Cells) -> None:
        """A birth date that cannot be that of a patient in this shift is lost."""
        born, last = cells.values["born"], self.shift.end.astimezone(self.zone).date()
        earliest = last - OLDEST_PATIENT
        if not earliest <= born <= last:
            raw, likely = record.cells["born"].strip(), likely_birth(born, earliest, last)
            lost = self._report("born-out-of-range", record, "born", raw, hint=likely)
            cells.lost["born"] = lost
            del cells.values["born"]

    def _dispute(self, patient_id: str, facts: _Facts, name: str, record: Record) -> None:
        """Notes that a record contradicts an earlier one about one fact."""
        before, now = facts.said[name].cells[name].strip(), record.cells[name].strip()
        identity = name in {"name", "born"}
        code = "one-id-two-people" if identity else "patient-disagrees"
        earlier = self._place(facts.said[name], name)
        self._report(code, record, name, now, earlier, values=f"{before} / {now}")
        if identity:
            self.in_doubt.add(patient_id)
        facts.disputed.add(name)
        del facts.values[name]

    def people(self) -> People:
        """The patients as all records together have them."""
        patients = {}
        nameless = set()
        for patient_id, facts in self.everyone.items():
            if patient_id in self.in_doubt:
                continue
            if facts.values.keys().isdisjoint({"name", "born"}):
                nameless.add(patient_id)
                self._report("too-few-identifiers", facts.record, "patient_id", patient_id)
            else:
                patients[patient_id] = self._patient(patient_id, facts)
        return People(patients, frozenset(self.in_doubt), frozenset(nameless))

    def _patient(self, patient_id: str, facts: _Facts) -> Patient:
        for name in ("name", "born", "bed"):
            if name not in facts.values and name not in facts.unknown | facts.disputed:
                self._report("missing-cell", facts.record, name)
        self._doubt_years(facts)
        values = {"name": "", "born": None, "bed": "", **facts.values}
        order = self._order(facts)
        return Patient(
            id=patient_id,
            place=self.reading.raw_log.row_place(facts.record),
            order=order,
            unread=tuple(sorted(facts.unknown - facts.values.keys())),
            **{name: value for name, value in values.items() if name not in ORDER_PARTS},
        )

    def _doubt_years(self, facts: _Facts) -> None:
        """Names dates a year from the shift, as are those of people who type last year's number."""
        for name, value in facts.values.items():
            if name != "born" and isinstance(value, date):
                day = value.astimezone(self.zone).date() if isinstance(value, datetime) else value
                year = likely_year(day, self.shift, self.zone)
                if year:
                    record = facts.said[name]
                    raw = record.cells[name].strip()
                    self._report("year-in-doubt", record, name, raw, hint=year)

    def _order(self, facts: _Facts) -> Order | None:
        """The order; None when there is none, or when it is not known when it started."""
        known = {name: facts.values[name] for name in ORDER_PARTS if name in facts.values}
        not_known = (facts.unknown | facts.disputed) & ORDER_PARTS.keys() - known.keys()
        if not known and not not_known:
            return None
        if "order_start" not in known:
            self._report("order-without-start", facts.record, "order_start")
            facts.unknown.add("order_start")
            return None
        if "order_stop" in known and known["order_stop"] <= known["order_start"]:
            record = facts.said["order_stop"]
            self._report("stop-before-start", record, "order_stop", record.cells["order_stop"])
            del known["order_stop"]
        for name, default in _USUAL.items():
            if name in not_known:
                self._report("default-used", facts.record, name, default=default)
        return Order(**{ORDER_PARTS[name]: value for name, value in known.items()})

    def _place(self, record: Record, name: str) -> Place:
        return self.reading.raw_log.place(record, BY_NAME[Section.PATIENT, name])

    def _report(
        self,
        code: str,
        record: Record,
        name: str,
        raw: str | None = None,
        earlier: Place | None = None,
        **words: object,
    ) -> Finding:
        found = finding(code, self._place(record, name), name, raw, **words)
        related = (earlier,) if earlier else ()
        return self.reading.report(replace(found, related=related))


def _agree(name: str, one: object, other: object) -> bool:
    """Whether two rows say the same; of beds it is known when all rows are."""
    return name == "bed" or fact_key(name, one) == fact_key(name, other)

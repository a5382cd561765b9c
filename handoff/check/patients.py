"""The patients of a log: each put together from all its rows.

Input: the patient records of a raw log. Output: `People`: the patients whose identity is sure, and
the ids whose rows must be set aside. Never decides between two values of one fact: it is then not
known. Never makes a patient out of an id alone.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta
from itertools import pairwise
from typing import Any

from msgspec import Struct, field
from msgspec.structs import replace

from handoff.check.cells import CellReader, Cells, Reading
from handoff.check.first_row import FirstRow
from handoff.check.moves import InBed, read_moves
from handoff.check.odd_rows import odd_rows
from handoff.check.slips import likely_birth, likely_year
from handoff.log.disputes import LIMITS, in_dispute, or_anew
from handoff.log.entries import Begun, local, new_orders
from handoff.log.fields import BY_NAME, ORDER_PARTS, Section, fields_of
from handoff.log.names import BedKey, Ids, bed_key, fact_key
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place
from handoff.model.frozen import Frozen
from handoff.model.ward import Disputed, Move, Order, Patient, Shift
from handoff.model.wording import FINDINGS
from handoff.read import Record

OLDEST_PATIENT = timedelta(days=366 * 120)

# The order's own limits of one sign.
LIMIT_PAIRS = (
    ("spo2_min", "spo2_max"),
    ("resp_rate_min", "resp_rate_max"),
    ("pulse_min", "pulse_max"),
)
# What the last parts of an order are where nothing is written: each default with its field.
_UNWRITTEN = dict(
    zip(reversed(Order.__struct_fields__), reversed(Order.__struct_defaults__), strict=False)
)
_USUAL = tuple(name for name, part in ORDER_PARTS.items() if _UNWRITTEN.get(part) not in {None, ()})


class People(Frozen):
    """`patients` by id; `in_doubt`: ids shared by two people; `nameless`: ids without name and
    birth date; `odd`: by place the rows that alone say that they are of somebody else.
    """

    patients: Mapping[str, Patient]
    in_doubt: frozenset[str]
    nameless: frozenset[str]
    odd: Mapping[Place, Finding] = field(default_factory=dict)

    @property
    def ids(self) -> frozenset[str]:
        """Every id that the log's patients have."""
        return self.in_doubt | self.nameless | self.patients.keys()


class _Facts(Struct):
    """The facts of one patient, or of one order of the patient, in the rows read so far, by
    contract name.

    `source` has the first record with each value. `unknown` are facts that could not be read,
    `disputed` those with several values. `beds` has every bed, with its first record. `orders` are
    those of a patient, the one written last at the end.
    """

    record: Record
    values: dict[str, Any] = field(default_factory=dict)
    source: dict[str, Record] = field(default_factory=dict)
    unknown: set[str] = field(default_factory=set)
    disputed: dict[str, list[Any]] = field(default_factory=dict)
    beds: dict[BedKey, Record] = field(default_factory=dict)
    orders: list["_Facts"] = field(default_factory=list)

    def order_of(self, record: Record, cells: Cells) -> "_Facts":
        """The order that a record speaks of, begun by its start where that is another one. With a
        blank start it is the order written last; with one that cannot be read it is of its own.
        """
        start, is_lost = cells.values.get("order_start"), "order_start" in cells.lost
        last = self.orders[-1] if self.orders else None
        if is_lost:
            same = [each for each in self.orders if "order_start" in each.unknown]
        elif start is None or (last and last.not_begun):
            same = self.orders[-1:]
        else:
            same = [each for each in self.orders if each.values.get("order_start") == start]
        order = same[0] if same else _Facts(record)
        self.orders = [*(each for each in self.orders if each is not order), order]
        return order

    @property
    def not_begun(self) -> bool:
        """Of an order: whether no start of it is written so far."""
        return "order_start" not in self.values.keys() | self.unknown

    @property
    def not_known(self) -> set[str]:
        """The facts that are written, and of which the value is not known."""
        return (self.unknown | self.disputed.keys()) - self.values.keys()


def read_patients(
    reading: Reading, shift: Shift, first_row: FirstRow
) -> tuple[People, list[Finding]]:
    """The patients of the raw log, and the findings on them.

    A row of another shift is set aside, with its facts of a patient. A record without any cell is
    no patient.
    """
    records = [each for each in reading.raw_log.patients if each.cells or each.lost]
    blank = [each for each in reading.raw_log.patients if not each.cells and not each.lost]
    of_shift = [each for each in records if not first_row.is_of_another_shift(each)]
    gathered, findings = _gathered(reading, shift, of_shift)
    odd = odd_rows(reading, first_row, gathered.doubtful_ids())
    if odd:
        rest = [each for each in of_shift if reading.raw_log.row_place(each) not in odd]
        gathered, findings = _gathered(reading, shift, rest)
    if blank:
        key = "blank-row.patient" if len(blank) == 1 else "blank-row.patients"
        rows = FINDINGS.say(key, count=len(blank))
        findings.append(finding("blank-row", reading.raw_log.row_place(blank[0]), rows=rows))
    beds = {patient_id: facts.beds for patient_id, facts in gathered.everyone.items()}
    findings += gathered.settle_beds(read_moves(reading, shift, first_row, beds))
    people, of_people = gathered.people()
    return replace(people, odd=odd), [*findings, *of_people]


def _gathered(
    reading: Reading, shift: Shift, records: Iterable[Record]
) -> tuple["_Gathered", list[Finding]]:
    gathered = _Gathered(reading, shift)
    return gathered, [found for record in records for found in gathered.add(record)]


def _add_value(name: str, values: list[Any], value: object) -> None:
    """Adds a value to those in dispute unless it is there."""
    if fact_key(name, value) not in [fact_key(name, each) for each in values]:
        values.append(value)


class _Gathered:
    def __init__(self, reading: Reading, shift: Shift) -> None:
        self.reading = reading
        self.reader = CellReader(reading, fields_of(Section.PATIENT))
        self.shift = shift
        self.zone = reading.clock.zone
        self.everyone: dict[str, _Facts] = {}
        self.in_doubt: set[str] = set()
        self.begun: list[Begun] = []

    def add(self, record: Record) -> list[Finding]:
        """Adds the facts of one record."""
        cells = self.reader.read(record)
        found = list(cells.findings)
        patient_id = cells.values.pop("patient_id", None)
        if patient_id is None:
            if "patient_id" not in cells.lost:
                found.append(self._finding("missing-cell", record, "patient_id"))
            return found
        wrong_birth = self._wrong_birth(record, cells.values.get("born"))
        if wrong_birth:
            found.append(wrong_birth)
            cells.lost["born"] = wrong_birth
            del cells.values["born"]
        facts = self.everyone.setdefault(patient_id, _Facts(record))
        if "bed" in cells.values:
            facts.beds.setdefault(bed_key(cells.values["bed"]), record)
        of_order = ORDER_PARTS.keys() & (cells.values.keys() | cells.lost.keys())
        if of_order:
            order = facts.order_of(record, cells)
            found += self._add_facts(patient_id, order, record, cells, of_order)
        names = [*cells.values, *cells.lost]
        return [*found, *self._add_facts(patient_id, facts, record, cells, {*names} - of_order)]

    def _add_facts(
        self, patient_id: str, facts: _Facts, record: Record, cells: Cells, names: Collection[str]
    ) -> list[Finding]:
        """Adds the named cells to the facts."""
        found = []
        facts.unknown |= cells.lost.keys() & names
        for name, value in cells.values.items():
            if name not in names:
                continue
            if name not in facts.values and name not in facts.disputed:
                facts.values[name] = value
                facts.source[name] = record
            elif name == "bed":  # beds are settled once all rows are read
                continue
            elif name in facts.disputed:
                _add_value(name, facts.disputed[name], value)
            elif fact_key(name, facts.values[name]) != fact_key(name, value):
                found.append(self._dispute(patient_id, facts, name, record))
                facts.disputed[name].append(value)
        return found

    def doubtful_ids(self) -> set[str]:
        """The ids shared by two people, and those of which several are of one person."""
        of_person: defaultdict[object, set[str]] = defaultdict(set)
        for patient_id, facts in self.everyone.items():
            who = facts.values.get("name"), facts.values.get("born")
            if all(who) and patient_id not in self.in_doubt:
                of_person[fact_key("name", who[0]), who[1]].add(patient_id)
        several = (ids for ids in of_person.values() if len(ids) > 1)
        return self.in_doubt.union(*several)

    def settle_beds(self, moves: Mapping[str, Sequence[InBed]]) -> list[Finding]:
        """Gives moved patients the last of their beds, and no bed to others with several."""
        found = []
        sure = (each for each in self.everyone.items() if each[0] not in self.in_doubt)
        for patient_id, facts in sure:
            stays = moves.get(patient_id, ())
            if stays:
                left = tuple(stay.bed for stay in stays[:-1])
                facts.values["moved"] = Move(left, stays[-1].first)
            for before, stay in pairwise(stays):
                facts.values["bed"], facts.source["bed"] = stay.bed, stay.record
                at, earlier = local(stay.first, self.zone), self._place(before.record, "bed")
                words = {"before": before.bed, "bed": stay.bed, "at": at}
                changed = self._finding("bed-changed", stay.record, "bed", stay.bed, **words)
                found.append(replace(changed, related=(earlier,)))
            if len(facts.beds) > 1 and patient_id not in moves:
                _, other, *_ = records = [*facts.beds.values()]
                found.append(self._dispute(patient_id, facts, "bed", other))
                facts.disputed["bed"] = [each.cells["bed"].strip() for each in records]
        return found

    def _wrong_birth(self, record: Record, born: date | None) -> Finding | None:
        """The finding of a birth date that cannot be that of a patient in this shift."""
        last = self.shift.end.astimezone(self.zone).date()
        earliest = last - OLDEST_PATIENT
        if born is None or earliest <= born <= last:
            return None
        raw, likely = record.cells["born"].strip(), likely_birth(born, earliest, last)
        return self._finding("born-out-of-range", record, "born", raw, hint=likely)

    def _dispute(self, patient_id: str, facts: _Facts, name: str, record: Record) -> Finding:
        """Records that two records disagree on one fact."""
        before, now = facts.source[name].cells[name].strip(), record.cells[name].strip()
        code = "patient-disagrees"
        if name in {"name", "born"}:
            code = "one-id-two-people"
            self.in_doubt.add(patient_id)
        facts.disputed[name] = [facts.values.pop(name)]
        words = {"values": f"{before} / {now}", "or_anew": or_anew(name)}
        found = self._finding(code, record, name, now, **words)
        return replace(found, related=(self._place(facts.source[name], name),))

    def people(self) -> tuple[People, list[Finding]]:
        """The patients, from all records together."""
        patients = {}
        nameless = set()
        findings = []
        for patient_id, facts in self.everyone.items():
            if patient_id in self.in_doubt:
                continue
            if facts.values.keys().isdisjoint({"name", "born"}):
                nameless.add(patient_id)
                code, known = "too-few-identifiers", self.everyone.keys() - {patient_id}
                hint = Ids(known).likely(patient_id)
                doubt = self._finding(code, facts.record, "patient_id", patient_id, hint=hint)
                findings.append(doubt)
            else:
                patients[patient_id], found = self._patient(patient_id, facts)
                findings += found
        findings += new_orders(self.begun, self.zone)
        return People(patients, frozenset(self.in_doubt), frozenset(nameless)), findings

    def _patient(self, patient_id: str, facts: _Facts) -> tuple[Patient, list[Finding]]:
        missing = [
            self._finding("missing-cell", facts.record, name)
            for name in ("name", "born", "bed")
            if name not in facts.values.keys() | facts.unknown | facts.disputed.keys()
        ]
        doubts = [*missing, *self._doubtful_years(facts)]
        parts = (facts, *facts.orders)
        disputes = [each for part in parts for each in _settled(part)]
        orders, of_orders = self._orders(patient_id, facts.orders)
        values = {"name": "", "born": None, "bed": "", **facts.values}
        unread = {name for each in parts for name in each.unknown - each.values.keys()}
        patient = Patient(
            id=patient_id,
            place=self.reading.raw_log.row_place(facts.record),
            order=orders[-1] if orders else None,
            earlier_orders=tuple(orders[:-1]),
            unread=tuple(sorted(unread)),
            disputed=tuple(disputes),
            **values,
        )
        return patient, [*doubts, *of_orders]

    def _doubtful_years(self, facts: _Facts) -> Iterator[Finding]:
        """Findings on dates about a year from the shift: the year may be last year's by habit."""
        for name, value in facts.values.items():
            if name != "born" and isinstance(value, date):
                day = value.astimezone(self.zone).date() if isinstance(value, datetime) else value
                year = likely_year(day, self.shift, self.zone)
                if year:
                    record = facts.source[name]
                    raw = record.cells[name].strip()
                    yield self._finding("year-in-doubt", record, name, raw, hint=year)

    def _orders(
        self, patient_id: str, written: Sequence[_Facts]
    ) -> tuple[list[Order], list[Finding]]:
        """The orders in time order, without one whose start is not known. Those that begin after
        another are kept in `begun`.
        """
        read = [(each, *self._order(each)) for each in written]
        findings = [each for *_, found in read for each in found]
        known = [(order, each) for each, order, _ in read if order]
        known.sort(key=lambda both: both[0].start)
        starts = " and ".join(local(order.start, self.zone) for order, _ in known)
        words: dict[str, Any] = {"patient": patient_id, "start": starts}
        code = "other-order-without-start" if known else "order-without-start"
        findings += [
            self._finding(code, each.record, "order_start", **words)
            for each, order, _ in read
            if order is None
        ]
        self.begun += [
            Begun(self._place(each.record, "order_start"), patient_id, order.start)
            for order, each in known[1:]
        ]
        return [order for order, _ in known], findings

    def _order(self, facts: _Facts) -> tuple[Order | None, list[Finding]]:
        """One order; None where its start is not known."""
        found = [*self._doubtful_years(facts), *self._reversed_limits(facts)]
        known = facts.values
        if "order_start" not in known:
            facts.unknown.add("order_start")
            return None, found
        if "order_stop" in known and known["order_stop"] <= known["order_start"]:
            record = facts.source["order_stop"]
            raw = record.cells["order_stop"]
            found.append(self._finding("stop-before-start", record, "order_stop", raw))
            facts.unknown.add("order_stop")
            del known["order_stop"]
        unstated = {name for name in _USUAL if name not in known} - facts.not_known
        two_orders = not {"order_breaths", "order_every_h", "order_stop"}.isdisjoint(facts.disputed)
        limits = LIMITS & (facts.disputed.keys() | (known.keys() if two_orders else set()))
        order = Order(
            **{ORDER_PARTS[name]: value for name, value in known.items()},
            unstated=tuple(ORDER_PARTS[name] for name in _USUAL if name in unstated),
            not_known=tuple(sorted(ORDER_PARTS[name] for name in facts.not_known)),
            disputed_limits=tuple(sorted(limits)),
        )
        if not order.is_readable:
            name = next(name for name in ORDER_PARTS if ORDER_PARTS[name] in order.not_known)
            record = facts.source.get(name, facts.record)
            found.append(self._finding("order-not-readable", record, name))
        return order, found

    def _reversed_limits(self, facts: _Facts) -> Iterator[Finding]:
        """A finding for each lower limit of the order that is not under its upper one. Neither is
        known then. Of disputed ones the strictest holds, whatever the other.
        """
        sure = (pair for pair in LIMIT_PAIRS if facts.disputed.keys().isdisjoint(pair))
        for low_name, high_name in sure:
            low, high = facts.values.get(low_name), facts.values.get(high_name)
            if low is not None and high is not None and low >= high:
                record = facts.source[low_name]
                words = {"low_name": low_name, "high_name": high_name}
                words |= {"low": f"{low:g}", "high": f"{high:g}"}
                raw = record.cells[low_name].strip()
                yield self._finding("limits-reversed", record, low_name, raw, **words)
                for name in (low_name, high_name):
                    del facts.values[name]
                    facts.unknown.add(name)

    def _place(self, record: Record, name: str) -> Place:
        return self.reading.raw_log.place(record, BY_NAME[Section.PATIENT, name])

    def _finding(
        self, code: str, record: Record, name: str, raw: str | None = None, **words: object
    ) -> Finding:
        return finding(code, self._place(record, name), name, raw, **words)


def _settled(facts: _Facts) -> Iterator[Disputed]:
    """The disputes to print. A value that holds in spite of one is put among the facts."""
    for name, values in facts.disputed.items():
        value, dispute = in_dispute(name, values)
        if value is not None:
            facts.values[name] = value
        if dispute:
            yield dispute

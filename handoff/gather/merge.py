"""Merges logs of the same shift, such as two nurses' halves of one unit.

Input: checked logs of one unit and one shift. Output: one log, with the facts of each patient
merged. A fact on which the logs disagree is disputed, unless one leaves it blank. A bed is one of
these: neither list says from when it is right. An id shared by two people is set aside with all its
entries. The result does not depend on the order of the logs.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from datetime import datetime
from itertools import combinations, pairwise
from typing import Any

from msgspec.structs import replace

from handoff.log.disputes import LIMITS, in_dispute, or_anew
from handoff.log.entries import Begun, about, new_orders, put_aside
from handoff.log.fields import ORDER_PARTS
from handoff.log.names import fact_key
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place
from handoff.model.ward import NONE_READ, Disputed, Doubt, Log, Order, Patient, Shift, Unit

_FACTS = {
    name: "" if name in {"name", "bed"} else None
    for name in Patient.__struct_fields__
    if name not in {"id", "place", "order", "earlier_orders", "moved", "unread", "disputed"}
}
_BLANK = (None, "", ())


def merge(logs: Sequence[Log]) -> Log:
    """One log of the shift that all `logs` are of."""
    logs = sorted(logs, key=lambda log: log.file)
    if len(logs) == 1:
        return logs[0]
    findings: list[Finding] = []
    patients, in_doubt = _merge_patients(logs, findings)
    merged = Log(
        file=logs[0].file,
        unit=_merge_units(logs, findings),
        shift=_merge_shifts([log.shift for log in logs]),
        patients=patients,
        entries=tuple(entry for log in logs for entry in log.entries),
        set_aside=tuple(row for log in logs for row in log.set_aside),
        counts=sum((log.counts for log in logs), NONE_READ),
        findings=tuple(found for log in logs for found in log.findings) + tuple(findings),
    )
    return put_aside(
        merged,
        [
            (entry, about(entry, "identity-in-doubt", "patient_id"))
            for entry in merged.entries
            if entry.patient_id in in_doubt
        ],
    )


def other_person(one: Patient, other: Patient) -> bool:
    """Whether two records of one id are of two people: different names or birth dates."""
    names = fact_key("name", one.name) != fact_key("name", other.name)
    births = one.born != other.born
    return bool(one.name and other.name and names) or bool(one.born and other.born and births)


def _merge_units(logs: Sequence[Log], findings: list[Finding]) -> Unit:
    """The unit as the first log has it, by file name; each telephone as the first that has one."""
    first = logs[0].unit
    for log in logs[1:]:
        if log.unit.quiet_hours != first.quiet_hours:
            place = Place(log.file)
            found = finding("unit-disagrees", place, "quiet_hours", first=logs[0].file)
            findings.append(found)
    phones = [log.unit.phone for log in logs if log.unit.phone]
    home_phones = [log.unit.home_phone for log in logs if log.unit.home_phone]
    return replace(
        first,
        phone=phones[0] if phones else None,
        home_phone=home_phones[0] if home_phones else None,
    )


def _merge_shifts(shifts: Sequence[Shift]) -> Shift:
    """The shift, with all names given for its nurses."""
    return replace(
        shifts[0],
        name=_joined([shift.name for shift in shifts]),
        outgoing=_joined([shift.outgoing for shift in shifts]),
        incoming=_joined([shift.incoming for shift in shifts]),
    )


def _joined(names: Sequence[str | None]) -> str | None:
    return ", ".join(dict.fromkeys(filter(None, names))) or None


def _merge_patients(
    logs: Sequence[Log], findings: list[Finding]
) -> tuple[tuple[Patient, ...], frozenset[str]]:
    """The patients whose identity is sure, and the ids shared by two people."""
    by_id: defaultdict[str, list[Patient]] = defaultdict(list)
    for log in logs:
        for patient in log.patients:
            by_id[patient.id].append(patient)
    in_doubt = set()
    for patient_id, of_one_id in by_id.items():
        for first, other in combinations(of_one_id, 2):
            if other_person(first, other):
                in_doubt.add(patient_id)
                found = finding("one-id-two-people", other.place, "patient_id", patient_id)
                findings.append(replace(found, related=(first.place,)))
    sure = [each for patient_id, each in by_id.items() if patient_id not in in_doubt]
    begun = (order for each in sure for order in _begun_in_another_log(each))
    findings += new_orders(begun, logs[0].unit.time_zone)
    return tuple(_merge_patient(each, findings) for each in sure), frozenset(in_doubt)


def _merge_patient(patients: Sequence[Patient], findings: list[Finding]) -> Patient:
    """The facts of one patient; those on which the logs disagree are disputed."""
    merging = _Merging(patients, findings)
    facts = {name: merging.fact(name, unknown) for name, unknown in _FACTS.items()}
    moves = [each.moved for each in patients if each.moved]
    moved = min(moves, key=lambda move: move.by, default=None) if facts["bed"] else None
    starts = sorted({order.start for each in patients for order in each.orders})
    orders = [merging.order(start) for start in starts]
    known = {name for name, value in facts.items() if value not in _BLANK}
    known |= {
        name
        for name, part in ORDER_PARTS.items()
        if orders and not any(part in each.not_known for each in orders)
    }
    unread = {name for each in patients for name in each.unread} - known
    return replace(
        patients[0],
        **facts,
        order=orders[-1] if orders else None,
        earlier_orders=tuple(orders[:-1]),
        moved=moved,
        unread=tuple(sorted(unread)),
        disputed=tuple(merging.disputed),
    )


def _begun_in_another_log(patients: Sequence[Patient]) -> Iterator[Begun]:
    """Each order that begins after one that its own log does not have."""
    starts = sorted({order.start for each in patients for order in each.orders})
    for before, start in pairwise(starts):
        for each in patients:
            own = [order.start for order in each.orders]
            if start in own and before not in own:
                yield Begun(each.place, each.id, start)
                break


class _Merging:
    """Merges the facts of one patient, and collects what the logs dispute."""

    def __init__(self, patients: Sequence[Patient], findings: list[Finding]) -> None:
        self.patients = patients
        self.findings = findings
        self.disputed: list[Disputed] = []

    def order(self, start: datetime) -> Order:
        """The order with one start. A part is not known where the logs disagree on it, or where no
        log has a value of it that can be read.
        """
        ordered = [
            (each, order) for each in self.patients for order in each.orders if order.start == start
        ]
        parts: dict[str, Any] = {}
        not_known, limits = set(), set()
        for name, part in ORDER_PARTS.items():
            values: list[tuple[Patient, Any]] = []
            for each, order in ordered:
                if part in order.not_known or part in order.disputed_limits:
                    values += [(each, value) for value in each.disputes(name)]
                elif part not in order.unstated:
                    values.append((each, getattr(order, part)))
            parts[part], is_disputed = self.agreed(name, values)
            if is_disputed and name in LIMITS:
                limits.add(part)
            elif parts[part] in _BLANK and (
                is_disputed or any(part in order.not_known for _, order in ordered)
            ):
                not_known.add(part)
        unstated = [set(order.unstated) for _, order in ordered]
        known = {part: value for part, value in parts.items() if value not in _BLANK}
        return Order(
            **known,
            unstated=tuple(sorted(set.intersection(*unstated))),
            not_known=tuple(sorted(not_known)),
            disputed_limits=tuple(sorted(limits)),
        )

    def fact(self, name: str, unknown: object) -> Any:  # noqa: ANN401
        """A fact of the patient; `unknown` where no log has it, or where it is disputed."""
        values: list[tuple[Patient, Any]] = []
        for each in self.patients:
            value = getattr(each, name)
            both = (True, False) if isinstance(value, Doubt) else (value,)
            values += [(each, value) for value in each.disputes(name) or both]
        value, _ = self.agreed(name, values)
        return unknown if value is None else value

    def agreed(self, name: str, values: Sequence[tuple[Patient, Any]]) -> tuple[Any, bool]:
        """The one value in all logs that have it, None without one, and whether it is disputed;
        between two logs that is a finding.
        """
        by_key: dict[object, tuple[Patient, Any]] = {}
        for patient, value in values:
            if value not in _BLANK:
                by_key.setdefault(fact_key(name, value), (patient, value))
        tellers = list(by_key.values())
        if not tellers[1:]:
            return (tellers[0][1] if tellers else None), False
        (first, _), *_, (last, _) = tellers
        if last is not first:
            found = finding("logs-disagree", last.place, name, or_anew=or_anew(name))
            self.findings.append(replace(found, related=(first.place,)))
        value, dispute = in_dispute(name, [value for _, value in tellers])
        self.disputed += [dispute] if dispute else []
        return value, True

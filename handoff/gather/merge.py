"""Merges logs of the same shift, such as two nurses' halves of one unit.

Input: checked logs of one unit and one shift. Output: one log, with the facts of each patient
merged. A fact on which the logs disagree is disputed, unless one leaves it blank. A bed is one of
these: neither list says from when it is right. An id shared by two people is set aside with all its
entries. The result does not depend on the order of the logs.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import MISSING, fields, replace
from itertools import combinations
from typing import Any

from handoff.log.disputes import LIMITS, in_dispute
from handoff.log.entries import about, put_aside
from handoff.log.fields import ORDER_PARTS
from handoff.log.names import fact_key
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place
from handoff.model.ward import NONE_READ, Disputed, Doubt, Log, Order, Patient, Shift, Unit

_FACTS = {
    each.name: "" if each.name in {"name", "bed"} else None
    for each in fields(Patient)
    if each.name not in {"id", "place", "order", "moved", "unread", "disputed"}
}
_USUAL = {
    each.name: None if each.default is MISSING else each.default
    for each in fields(Order)
    if each.name in ORDER_PARTS.values()
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
    sure = (each for patient_id, each in by_id.items() if patient_id not in in_doubt)
    return tuple(_merge_patient(each, findings) for each in sure), frozenset(in_doubt)


def _merge_patient(patients: Sequence[Patient], findings: list[Finding]) -> Patient:
    """The facts of one patient; those on which the logs disagree are disputed."""
    merging = _Merging(patients, findings)
    facts = {
        name: merging.agreed(name, [(each, getattr(each, name)) for each in patients], unknown)
        for name, unknown in _FACTS.items()
    }
    moves = [each.moved for each in patients if each.moved]
    moved = min(moves, key=lambda move: move.by, default=None) if facts["bed"] else None
    order = merging.order()
    known = {name for name, value in facts.items() if value not in _BLANK}
    if order:  # those that differ from an empty order
        parts = ORDER_PARTS.items()
        known |= {name for name, part in parts if getattr(order, part) != _USUAL[part]}
    unread = {name for each in patients for name in each.unread} - known
    if order is None and any(each.order for each in patients):
        unread.add("order_start")  # in dispute: its start is not known
    return replace(
        patients[0],
        **facts,
        order=order,
        moved=moved,
        unread=tuple(sorted(unread)),
        disputed=tuple(merging.disputed),
    )


class _Merging:
    """Merges the facts of one patient, and collects what the logs dispute."""

    def __init__(self, patients: Sequence[Patient], findings: list[Finding]) -> None:
        self.patients = patients
        self.findings = findings
        self.disputed: list[Disputed] = []

    def order(self) -> Order | None:
        """The order; where the logs disagree on a part its usual value, and no order without
        a start.
        """
        ordered = [(each, each.order) for each in self.patients if each.order]
        unstated = [part for part in _USUAL if all(part in order.unstated for _, order in ordered)]
        parts = {
            part: self.agreed(
                name,
                [
                    (each, None if part in order.unstated else getattr(order, part))
                    for each, order in ordered
                ],
                _USUAL[part],
            )
            for name, part in ORDER_PARTS.items()
        }
        if not parts["start"]:
            return None
        limits = tuple(sorted(LIMITS & {each.name for each in self.disputed}))
        return Order(**parts, unstated=tuple(unstated), disputed_limits=limits)

    def agreed(self, name: str, values: Sequence[tuple[Patient, Any]], unknown: object) -> Any:  # noqa: ANN401
        """The one value of a fact in all logs that have it; a disagreement is disputed, and between
        two logs a finding.
        """
        by_key: dict[object, tuple[Patient, Any]] = {}
        for patient, value in values:
            both = (True, False) if isinstance(value, Doubt) else (value,)
            for each in patient.disputes(name) or both:
                if each not in _BLANK:
                    by_key.setdefault(fact_key(name, each), (patient, each))
        tellers = list(by_key.values())
        if not tellers[1:]:
            return tellers[0][1] if tellers else unknown
        (first, _), *_, (last, _) = tellers
        if last is not first:
            found = finding("logs-disagree", last.place, name)
            self.findings.append(replace(found, related=(first.place,)))
        value, dispute = in_dispute(name, [value for _, value in tellers])
        self.disputed += [dispute] if dispute else []
        return unknown if value is None else value

"""Finds holds that begin during another, and ends of holds that are not in force.

Input: the logs of one unit. Output: findings. A hold may be in one log and its end in another: all
logs are read together, each patient's rows in time order. Every hold is used; a finding only asks
whether a row is missing or has a wrong time.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator

from msgspec.structs import replace

from handoff.log.entries import about
from handoff.model.findings import Finding
from handoff.model.ward import Entry, Log, What


def holds_in_doubt(logs: Iterable[Log]) -> Iterator[Finding]:
    """The findings on the holds of each patient of the logs."""
    by_patient: defaultdict[str, list[Entry]] = defaultdict(list)
    for log in logs:
        for entry in log.entries:
            if entry.what in {What.HOLD, What.RESUME}:
                by_patient[entry.patient_id].append(entry)
    for entries in by_patient.values():
        yield from _of_one_patient(entries)


def _of_one_patient(entries: Iterable[Entry]) -> Iterator[Finding]:
    in_force: list[Entry] = []
    for entry in sorted(entries, key=_in_time_order):
        in_force = [hold for hold in in_force if hold.until is None or hold.until > entry.at]
        if entry.what is What.RESUME:
            if not in_force:
                yield about(entry, "resume-without-hold", "at")
            in_force = []
        else:
            if in_force:
                found = about(entry, "two-holds", "at")
                yield replace(found, related=(in_force[-1].place,))
            in_force.append(entry)


def _in_time_order(entry: Entry) -> tuple[object, ...]:
    """In time order; in the same minute a hold ends before the next begins."""
    return entry.at, entry.what is What.HOLD, *entry.place.order

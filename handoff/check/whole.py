"""Checks of a log as a whole: its entries are compared with each other and with the shift.

Input: a log whose entries passed their own checks. Output: findings, or the entries to set aside,
each with the finding that says why. Never changes an entry.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta

from msgspec.structs import replace

from handoff.check.slips import likely_shift, likely_time
from handoff.log.entries import Caught, about, different_at_same_minute, local, repeats
from handoff.log.names import Ids, id_key, name_key
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place
from handoff.model.ward import Entry, Log, Patient, Shift
from handoff.model.wording import FINDINGS

FARTHEST_BEFORE = timedelta(days=31)
FARTHEST_AFTER = timedelta(hours=24)
LEAST_ENTRIES = 3  # so many wrong entries are no chance: common practice


def is_far(at: datetime, shift: Shift) -> bool:
    """Whether a time is too far from its log's shift to be believed."""
    return not shift.start - FARTHEST_BEFORE <= at <= shift.end + FARTHEST_AFTER


def far_from_shift(log: Log) -> Iterator[Caught]:
    """Entries more than 31 days before their log's shift starts, or 24 h after it ends."""
    for entry in log.entries:
        if is_far(entry.at, log.shift):
            yield entry, _of_another_time(log, entry, "far-from-shift")


def outside_shift(log: Log) -> Iterator[Finding]:
    """Entries outside their log's shift. An entry at its very end belongs to the next shift."""
    for entry in log.entries:
        if not log.shift.start <= entry.at < log.shift.end:
            yield _of_another_time(log, entry, "outside-shift")


def none_in_shift(log: Log) -> Iterator[Finding]:
    """A log with all entries in another shift: the shift's own date may be wrong."""
    shift, zone = log.shift, log.unit.time_zone
    moments = [entry.at for entry in log.entries] + [row.at for row in log.set_aside if row.at]
    if len(moments) >= LEAST_ENTRIES and not any(shift.start <= at < shift.end for at in moments):
        likely = likely_shift(moments, shift, zone)
        yield finding(
            "none-in-shift",
            Place(log.file),
            "shift_start",
            count=len(moments),
            start=local(shift.start, zone),
            end=local(shift.end, zone),
            hint=likely and FINDINGS.say("none-in-shift.likely", shift=likely),
        )


def _of_another_time(log: Log, entry: Entry, code: str) -> Finding:
    zone = log.unit.time_zone
    likely = likely_time(entry.at, log.shift, zone)
    return about(entry, code, "at", at=local(entry.at, zone), hint=likely)


def two_ids(log: Log) -> Iterator[Finding]:
    """Patients with the same name and birth date under two ids, or under ids that are the same but
    for zeros, spaces and case. The id with fewer entries is likely the slip.
    """
    rows = Counter(entry.patient_id for entry in log.entries)
    groups: defaultdict[object, list[Patient]] = defaultdict(list)
    for patient in log.patients:
        groups["id", id_key(patient.id)].append(patient)
        if patient.name and patient.born:
            groups["who", name_key(patient.name), patient.born].append(patient)
    seen: set[str] = set()
    for group in groups.values():
        first, *others = sorted(group, key=lambda each: (-rows[each.id], each.place.line or 0))
        for other in others:
            if other.id not in seen and _may_be_one(first, other):
                seen.add(other.id)
                likely = Ids([first.id]).likely(other.id)
                found = finding(
                    "two-ids", other.place, "patient_id", other.id, other=first.id, hint=likely
                )
                yield replace(found, related=(first.place,))


def _may_be_one(one: Patient, other: Patient) -> bool:
    """Whether two patients agree on the name and birth date, as far as both are known."""
    names = {name_key(each.name) for each in (one, other) if each.name}
    return len(names) <= 1 and len({one.born, other.born} - {None}) <= 1


SIEVES: tuple[Callable[[Log], Iterator[Caught]], ...] = (
    far_from_shift,
    lambda log: repeats(log.entries),
)
CHECKS: tuple[Callable[[Log], Iterator[Finding]], ...] = (
    lambda log: different_at_same_minute(log.entries),
    outside_shift,
    none_in_shift,
    two_ids,
)

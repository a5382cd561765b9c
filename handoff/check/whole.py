"""Checks that look at a log as a whole: entries against each other and the shift, and the patients.

Enters: a log whose entries and patients are each fine alone. Leaves: findings; and from a sieve,
the entries to set aside, each with the finding that says why. Never changes an entry.
"""

from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import timedelta
from itertools import islice

from handoff.codes import finding
from handoff.entries import Caught, about, different_at_same_minute, local, repeats
from handoff.findings import Finding
from handoff.model import Log, Patient
from handoff.names import alike, bed_key

MOST_RELATED = 8  # places that one finding names
FARTHEST_BEFORE = timedelta(days=31)
FARTHEST_AFTER = timedelta(hours=24)


def far_from_shift(log: Log) -> Iterator[Caught]:
    """Entries more than 31 days before their log's shift starts, or 24 h after it ends."""
    first, last = log.shift.start - FARTHEST_BEFORE, log.shift.end + FARTHEST_AFTER
    for entry in log.entries:
        if not first <= entry.at <= last:
            at = local(entry.at, log.unit.time_zone)
            yield entry, about(entry, "far-from-shift", "at", at=at)


def outside_shift(log: Log) -> Iterator[Finding]:
    """Entries not of their log's shift; one at its very end belongs to the next shift."""
    for entry in log.entries:
        if not log.shift.start <= entry.at < log.shift.end:
            at = local(entry.at, log.unit.time_zone)
            yield about(entry, "outside-shift", "at", at=at)


def shared_beds(log: Log) -> Iterator[Finding]:
    """Patients in a bed that another has."""
    beds: defaultdict[object, list[Patient]] = defaultdict(list)
    for patient in log.patients:
        if patient.bed:
            beds[bed_key(patient.bed)].append(patient)
    for first, *others in beds.values():
        for patient in others:
            found = finding("bed-shared", patient.place, "bed", patient.bed, bed=first.bed)
            yield replace(found, related=(first.place,))


def similar_names(log: Log) -> Iterator[Finding]:
    """Patients whose names could be mixed up with another's; the first few of the others."""
    groups = alike(log.patients)
    for patient in log.patients:
        count = len(groups.get(patient.id, ())) - 1
        if count > 0:
            others = "another patient" if count == 1 else f"{count} other patients"
            found = finding("similar-names", patient.place, "name", patient.name, others=others)
            places = (each.place for each in groups[patient.id] if each is not patient)
            yield replace(found, related=tuple(islice(places, MOST_RELATED)))


def _repeats_in(log: Log) -> Iterator[Caught]:
    return repeats(log.entries)


def _different_at_same_minute_in(log: Log) -> Iterator[Finding]:
    return different_at_same_minute(log.entries)


SIEVES: tuple[Callable[[Log], Iterator[Caught]], ...] = (far_from_shift, _repeats_in)
CHECKS: tuple[Callable[[Log], Iterator[Finding]], ...] = (
    shared_beds,
    similar_names,
    _different_at_same_minute_in,
    outside_shift,
)

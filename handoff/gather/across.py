"""Compares the logs of one unit with each other: shifts, lists, times.

Input: the unit's `Ward` and the stays of its patients. Output: findings. Never changes a log.
"""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from itertools import pairwise

from msgspec.structs import replace

from handoff.gather.presence import ANOTHER_STAY, LONGEST_OVERLAP, Ward
from handoff.gather.stays import Stay
from handoff.gather.transfers import Whereabouts
from handoff.log.entries import about, different_at_same_minute, local
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place
from handoff.model.ward import Entry, Log, What
from handoff.model.wording import FINDINGS


def overlaps(logs: Sequence[Log]) -> Iterator[Finding]:
    """Earlier shifts that end after the latest has begun."""
    *earlier, latest = logs
    for log in earlier:
        if log.shift.end > latest.shift.start:
            yield finding("shifts-overlap", Place(log.file), other=latest.file)


def time_shared(logs: Sequence[Log]) -> Iterator[Finding]:
    """Shifts of weeks that share more time with the next than it takes to hand over."""
    for one, following in pairwise(sorted(logs, key=lambda log: (log.shift.start, log.shift.end))):
        if one.shift.end > following.shift.start + LONGEST_OVERLAP:
            yield finding("time-shared", Place(one.file), other=following.file)


def no_longer_listed(ward: Ward, whereabouts: Whereabouts) -> Iterator[Finding]:
    """A note for each patient whom a log of the last seven days lists and the latest does not, and
    one for all whom only earlier logs list.

    No note where another unit lists the patient next, or where a row says that the patient left.
    """
    long_gone = 0
    on_list = {patient.id for patient in ward.latest.patients}
    runs = whereabouts.runs[ward.name]
    for patient_id, listed in ward.listed.items():
        last = runs[patient_id][-1]
        if patient_id not in on_list and last.left is None and last not in whereabouts.led_on:
            if listed[-1].shift.end < ward.latest.shift.start - ANOTHER_STAY:
                long_gone += 1
            else:
                place = listed[-1].patient.place
                yield finding("no-longer-listed", place, "patient_id", patient_id)
    if long_gone:
        key = "long-gone.one" if long_gone == 1 else "long-gone.several"
        patients = FINDINGS.say(key, count=long_gone)
        yield finding("long-gone", Place(ward.latest.file), patients=patients)


def same_minute_in_two_files(logs: Sequence[Log]) -> Iterator[Finding]:
    """Different entries of one patient in the same minute, in different logs."""
    entries = [entry for log in logs for entry in log.entries]
    for found in different_at_same_minute(entries):
        if found.place.file != found.related[0].file:
            yield found


def two_stays(ward: Ward, stays: Mapping[str, Stay]) -> Iterator[Finding]:
    """Patients whose order, and no row that says that they left, tells of an earlier stay."""
    zone = ward.latest.unit.time_zone
    for patient in ward.latest.patients:
        stay = stays[patient.id]
        if stay.before and stay.left is None and stay.start:
            start, until = local(stay.start, zone), local(stay.before[-1].shift.end, zone)
            yield finding("two-stays", patient.place, "order_start", start=start, until=until)


def transfers_that_overlap(ward: Ward, stays: Mapping[str, Stay]) -> Iterator[Finding]:
    """Patients from another unit whose list still has them, without a row that says that they left,
    when this unit's begins to.
    """
    zone = ward.latest.unit.time_zone
    for patient in ward.latest.patients:
        for one, following in pairwise(stays[patient.id].listed):
            came = one.unit != ward.name == following.unit
            left = any(entry.what is What.LEFT for entry in one.entries)
            if came and not left and one.shift.end > following.shift.start:
                until, start = local(one.shift.end, zone), local(following.shift.start, zone)
                words = {"unit": one.unit, "until": until, "start": start}
                place = following.patient.place
                found = finding("transfer-overlaps", place, "patient_id", patient.id, **words)
                yield replace(found, related=(one.patient.place,))


def who_left(
    ward: Ward,
    whereabouts: Whereabouts,
    in_this_shift: Mapping[str, Entry],
    stays: Mapping[str, Stay],
) -> Iterator[Finding]:
    """Patients without a sheet because they left, and patients with one although a row says so."""
    zone = ward.latest.unit.time_zone
    for entry in in_this_shift.values():
        yield about(entry, "left-in-shift", "what", at=local(entry.at, zone))
    was_elsewhere = {id(row): unit for row, _, unit in whereabouts.back[ward.name]}
    came_back = {id(each.left): each.start for stay in stays.values() for each in stay.returns}
    for entry, at, place in whereabouts.doubted[ward.name]:
        if id(entry) in came_back:
            start = local(came_back[id(entry)], zone)
            yield about(entry, "back-after-left", "what", start=start)
            continue
        if id(entry) in was_elsewhere:
            words = {"at": local(at, zone), "unit": was_elsewhere[id(entry)]}
            yield about(entry, "was-elsewhere", "what", **words)
            continue
        found = about(entry, "charted-after-left", "what", at=local(at, zone))
        yield replace(found, related=(place,))


def out_of_time(ward: Ward, stays: Mapping[str, Stay], as_of: datetime) -> Iterator[Finding]:
    """Entries before the stay starts with something that does not count then: breaths, a volume, a
    hold. And entries kept for the next hand-over.

    Entries in other units' logs are reported there. Entries of an earlier stay are not out of time.
    """
    zone = ward.latest.unit.time_zone
    for patient in ward.latest.patients:
        stay = stays[patient.id]
        start = None if patient.order_lacks_start else stay.start
        own = {id(entry) for each in ward.listed[patient.id] for entry in each.entries}
        for entry in stay.entries:
            if id(entry) not in own:
                continue
            counts = (entry.breaths, entry.volume_ml) != (None, None) or entry.what is What.HOLD
            if start and entry.at < start and counts:
                yield about(entry, "before-order", "at", at=local(entry.at, zone))
            if entry.at > as_of:
                at, now = local(entry.at, zone), local(as_of, zone)
                yield about(entry, "after-as-of", "at", at=at, as_of=now)

"""Decides which patients and entries of one unit's logs can be used, and sets the others aside.

Input: checked logs of one unit, in any order. Output: one log a shift, in time order, without
entries that cannot be trusted or are in another log too. Never drops a row: each one set aside is
counted.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime

from msgspec.structs import replace

from handoff.gather.merge import merge, other_person
from handoff.log.entries import about, put_aside, repeats
from handoff.model.codes import finding
from handoff.model.findings import Place
from handoff.model.ward import Log


def usable_logs(logs: Sequence[Log]) -> tuple[Log, ...]:
    """The logs of the unit, one a shift and in time order; the last is the one handed over."""
    sure = _without_other_people(_one_a_shift(_one_time_zone(logs)))
    # Repeats of entries in an earlier shift's log, or in an earlier file.
    caught = list(repeats(entry for log in sure for entry in log.entries))
    return tuple(put_aside(log, caught) for log in sure)


def _one_time_zone(logs: Sequence[Log]) -> Iterator[Log]:
    """The logs in order. Those with another time zone than the latest lose their patients and
    entries.
    """
    ordered = sorted(logs, key=lambda log: (log.shift.start, log.shift.end, log.file))
    latest = ordered[-1]
    for log in ordered:
        if _clocks_agree(log, latest):
            yield log
            continue
        place = Place(log.file)
        zone = log.unit.time_zone.key
        found = finding("other-time-zone", place, "time_zone", zone, other=latest.file)
        silent = put_aside(
            log,
            [(entry, about(entry, "entry-of-other-time-zone", "at")) for entry in log.entries],
        )
        yield replace(silent, patients=(), findings=(*silent.findings, found))


def _clocks_agree(log: Log, latest: Log) -> bool:
    zones = log.unit.time_zone, latest.unit.time_zone
    moments = log.shift.start, log.shift.end
    return all(
        len({moment.astimezone(zone).utcoffset() for zone in zones}) == 1 for moment in moments
    )


def _one_a_shift(logs: Iterable[Log]) -> list[Log]:
    """The logs in the order of their shifts, those of the same shift merged."""
    shifts: defaultdict[tuple[datetime, datetime], list[Log]] = defaultdict(list)
    for log in logs:
        shifts[log.shift.start, log.shift.end].append(log)
    return [merge(same) for _, same in sorted(shifts.items())]


def _without_other_people(logs: Sequence[Log]) -> list[Log]:
    """The logs without entries of another person than the last log has under the same id."""
    last_said = {patient.id: patient for log in logs for patient in log.patients}
    sure = []
    for log in logs:
        strangers = {
            patient.id for patient in log.patients if other_person(patient, last_said[patient.id])
        }
        caught = [
            (entry, about(entry, "identity-disagrees", "patient_id"))
            for entry in log.entries
            if entry.patient_id in strangers
        ]
        kept = tuple(patient for patient in log.patients if patient.id not in strangers)
        sure.append(replace(put_aside(log, caught), patients=kept))
    return sure

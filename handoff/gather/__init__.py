"""Gathers the logs of each unit into what it hands over: `Log`s -> `Handover`s and findings.

Enters: checked logs, in any order. Leaves: one hand-over a unit: the latest shift's patients, and
what all logs of the unit say of them. Never carries a fact over from an earlier log.

Logs are of one unit when its names differ in case and spaces at most. The latest shift is the one
that starts last, of those the one that ends last; logs of that very shift are read as one. A log
in another time zone than the latest may be wrong by hours, and one that has another person under
an id is of that person: their entries are set aside.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from functools import partial

from handoff.cell import read_cell
from handoff.clock import Clock
from handoff.codes import finding
from handoff.entries import about, different_at_same_minute, local, put_aside, repeats
from handoff.findings import Finding, Place
from handoff.gather.holds import holds_in_doubt
from handoff.gather.listed import (
    Person,
    elsewhere,
    name_alerts,
    on_two_units,
    shared_beds,
    similar_names,
    units_of_people,
)
from handoff.gather.merge import merge, other_person
from handoff.model import Counts, Earlier, Entry, Handover, Log, Patient, SetAside
from handoff.names import alike, bed_order

ANOTHER_STAY = timedelta(days=7)  # after the last shift with an order: common practice
LONGEST_OVERLAP = timedelta(hours=1)  # of two shifts, to hand over in: common practice


def gather(
    logs: Sequence[Log], as_of: str | None, now: datetime
) -> tuple[tuple[Handover, ...], tuple[Finding, ...]]:
    """One hand-over a unit, by name, and all findings, of the logs and of gathering them.

    `as_of` is a local time as the user gave it; without one it is the shift's end, or `now` while
    that shift is running. A unit whose shift starts later than `as_of` gets no hand-over.
    """
    units: defaultdict[str, list[Log]] = defaultdict(list)
    for log in logs:
        units[" ".join(log.unit.name.casefold().split())].append(log)
    handovers = []
    findings: list[Finding] = []
    for _, of_unit in sorted(units.items()):
        handover, found = _hand_over(of_unit, as_of, now)
        findings += found
        handovers += [handover] if handover else []
    units_of = units_of_people(handovers)
    shared = [_with_others(each, units_of) for each in handovers]
    findings += (each for _, found in shared for each in found)
    return tuple(handover for handover, _ in shared), _in_file_order(findings)


def _with_others(
    handover: Handover, units_of: Mapping[Person, Sequence[str]]
) -> tuple[Handover, list[Finding]]:
    """The hand-over with whom it shares with the other units, and the findings of that."""
    known = replace(handover, elsewhere=elsewhere(handover, units_of))
    found = list(on_two_units(known))
    return replace(known, findings=_in_file_order([*known.findings, *found])), found


def _hand_over(
    logs: Sequence[Log], as_of_text: str | None, now: datetime
) -> tuple[Handover | None, list[Finding]]:
    """What one unit hands over, and every finding of its logs and of gathering them."""
    logs = _without_repeats(_without_other_people(_one_a_shift(_one_time_zone(logs))))
    latest = logs[-1]
    as_of, findings = _as_of(as_of_text, now, latest)
    findings += (found for log in logs for found in log.findings)
    findings += _overlaps(logs)
    findings += _no_longer_listed(logs)
    findings += _same_minute_in_two_files(logs)
    findings += holds_in_doubt(logs)
    patients = tuple(sorted(latest.patients, key=bed_order))
    groups = alike(patients)
    findings += [*shared_beds(patients), *similar_names(patients, groups)]
    if as_of is None:
        return None, findings
    entries = _entries_by_patient(logs, patients)
    stay_start = _stay_start(logs)
    findings += _out_of_time(entries, stay_start, as_of, latest)
    findings += _two_stays(logs)
    handover = Handover(
        unit=latest.unit,
        shift=latest.shift,
        as_of=as_of,
        patients=patients,
        entries=entries,
        stay_start=stay_start,
        shifts=tuple(log.shift for log in logs),
        counts=sum((log.counts for log in logs), Counts(0, 0, 0)),
        name_alerts=name_alerts(patients, groups),
        set_aside=_all_set_aside(logs),
        findings=_in_file_order(findings),
        earlier=_earlier(logs),
        logs=tuple(logs),
    )
    return handover, findings


def _one_time_zone(logs: Sequence[Log]) -> Iterator[Log]:
    """The logs in order; those with other clocks than the latest hold no patients or entries."""
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
    """The logs with those of the very same shift merged, in the order of their shifts."""
    shifts: defaultdict[tuple[datetime, datetime], list[Log]] = defaultdict(list)
    for log in logs:
        shifts[log.shift.start, log.shift.end].append(log)
    return [merge(same) for _, same in sorted(shifts.items())]


def _without_other_people(logs: Sequence[Log]) -> list[Log]:
    """The logs less the entries of a person who is not the latest log's under the same id."""
    latest = {patient.id: patient for patient in logs[-1].patients}
    sure = []
    for log in logs:
        strangers = {
            patient.id
            for patient in log.patients
            if patient.id in latest and other_person(patient, latest[patient.id])
        }
        caught = [
            (entry, about(entry, "identity-disagrees", "patient_id"))
            for entry in log.entries
            if entry.patient_id in strangers
        ]
        kept = tuple(patient for patient in log.patients if patient.id not in strangers)
        sure.append(replace(put_aside(log, caught), patients=kept))
    return sure


def _without_repeats(logs: Sequence[Log]) -> list[Log]:
    """The logs less the entries that an earlier shift's log has too, or the file before."""
    caught = list(repeats(entry for log in logs for entry in log.entries))
    return [put_aside(log, caught) for log in logs]


def _as_of(
    as_of_text: str | None, now: datetime, latest: Log
) -> tuple[datetime | None, list[Finding]]:
    """The time the hand-over is made for; None when it cannot be read or is before the shift."""
    shift, zone = latest.shift, latest.unit.time_zone
    if as_of_text is None:
        return (now if shift.start <= now < shift.end else shift.end), []
    place = Place(latest.file, column="--as-of")
    parse = partial(Clock(zone).moment, earliest=shift.start)
    as_of, findings = read_cell(parse, as_of_text.strip(), place, "as_of")
    if as_of is not None and as_of < shift.start:
        start = local(shift.start, zone)
        too_early = finding("as-of-before-shift", place, "as_of", as_of_text, start=start)
        return None, [*findings, too_early]
    return as_of, list(findings)


def _earlier(logs: Sequence[Log]) -> Earlier | None:
    """The shift handed over before the latest: the last to end by the time that one took over.

    Shifts overlap a little where one team tells the other. A log that lists nobody tells nothing.
    """
    *before, latest = logs
    ended = [
        log
        for log in before
        if log.patients and log.shift.end <= latest.shift.start + LONGEST_OVERLAP
    ]
    if not ended:
        return None
    last = max(ended, key=lambda log: (log.shift.end, log.shift.start))
    return Earlier(last.shift, {patient.id: patient for patient in last.patients})


def _overlaps(logs: Sequence[Log]) -> Iterator[Finding]:
    *earlier, latest = logs
    for log in earlier:
        if log.shift.end > latest.shift.start:
            yield finding("shifts-overlap", Place(log.file), other=latest.file)


def _no_longer_listed(logs: Sequence[Log]) -> Iterator[Finding]:
    """A note for each patient who is in earlier logs only, where the last of those has them."""
    *earlier, latest = logs
    listed = {patient.id for patient in latest.patients}
    last_said = {patient.id: patient for log in earlier for patient in log.patients}
    for patient_id, patient in last_said.items():
        if patient_id not in listed:
            yield finding("no-longer-listed", patient.place, "patient_id", patient_id)


def _same_minute_in_two_files(logs: Sequence[Log]) -> Iterator[Finding]:
    entries = [entry for log in logs for entry in log.entries]
    for found in different_at_same_minute(entries):
        if found.place.file != found.related[0].file:
            yield found


def _all_set_aside(logs: Sequence[Log]) -> tuple[SetAside, ...]:
    rows = (row for log in logs for row in log.set_aside)
    return tuple(sorted(rows, key=lambda row: (row.place.file, row.place.line or 0)))


def _entries_by_patient(
    logs: Sequence[Log], patients: Sequence[Patient]
) -> dict[str, tuple[Entry, ...]]:
    by_patient: dict[str, list[Entry]] = {patient.id: [] for patient in patients}
    for log in logs:
        for entry in log.entries:
            if entry.patient_id in by_patient:
                by_patient[entry.patient_id].append(entry)
    return {
        patient_id: tuple(sorted(entries, key=_entry_order))
        for patient_id, entries in by_patient.items()
    }


def _entry_order(entry: Entry) -> tuple[datetime, str, int]:
    return entry.at, entry.place.file, entry.place.line or 0


def _stay_start(logs: Sequence[Log]) -> dict[str, datetime]:
    """The earliest order start in all logs, of each patient whom the latest has an order for."""
    starts: defaultdict[str, list[datetime]] = defaultdict(list)
    for log in logs:
        for patient in log.patients:
            if patient.order:
                starts[patient.id].append(patient.order.start)
    return {patient.id: min(starts[patient.id]) for patient in logs[-1].patients if patient.order}


def _two_stays(logs: Sequence[Log]) -> Iterator[Finding]:
    """Patients of the latest log whose order begins long after the last shift with one."""
    *before, latest = logs
    ended = {each.id: log.shift.end for log in before for each in log.patients if each.order}
    for patient in latest.patients:
        if patient.order and patient.id in ended:
            gap = patient.order.start - ended[patient.id]
            if gap > ANOTHER_STAY:
                yield finding("two-stays", patient.place, "order_start", days=gap.days)


def _out_of_time(
    entries: Mapping[str, Sequence[Entry]],
    stay_start: Mapping[str, datetime],
    as_of: datetime,
    latest: Log,
) -> Iterator[Finding]:
    """Entries before the stay starts, and entries kept for the next hand-over."""
    zone = latest.unit.time_zone
    for patient_id, of_patient in entries.items():
        start = stay_start.get(patient_id)
        for entry in of_patient:
            if start and entry.at < start:
                yield about(entry, "before-order", "at", at=local(entry.at, zone))
            if entry.at > as_of:
                at, now = local(entry.at, zone), local(as_of, zone)
                yield about(entry, "after-as-of", "at", at=at, as_of=now)


def _in_file_order(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    def order(each: Finding) -> tuple[str, int, str, str, str]:
        place = each.place
        return place.file, place.line or 0, each.code, each.field or "", each.raw or ""

    return tuple(sorted(findings, key=order))

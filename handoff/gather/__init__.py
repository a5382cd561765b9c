"""Gathers the logs of each unit into its hand-over: `Log`s -> `Handover`s and findings.

Input: checked logs, in any order. Output: one hand-over a unit: the latest shift's patients, and
their entries in all logs of the stay, also in logs of another unit that they came from. Carries
over from an earlier log of the stay only what the same order said, and the precautions.

Logs are of one unit when its names differ at most in case and spaces. The latest shift is the one
that starts last; of several, the one that ends last. Logs of the same shift are read as one. Two
kinds of entries are set aside: those of a log in another time zone than the latest, which may be
wrong by hours; and those of another person with the same id.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from functools import partial

from msgspec.structs import replace

from handoff.gather.across import (
    no_longer_listed,
    out_of_time,
    overlaps,
    same_minute_in_two_files,
    transfers_that_overlap,
    two_stays,
    who_left,
)
from handoff.gather.holds import holds_in_doubt
from handoff.gather.orders import (
    carry_on,
    left_out,
    not_repeated,
    not_stated,
    not_taken_over,
    order_changed,
    periods_of_stay,
)
from handoff.gather.presence import LONGEST_OVERLAP, Ward, ward_of
from handoff.gather.roster import (
    no_home_phone,
    on_other_lists,
    on_several_units,
    on_two_units,
    other_units,
    shared_beds,
    similar_names,
)
from handoff.gather.stays import (
    departures,
    from_elsewhere,
    gaps_of,
    lapsed_orders,
    listings_of,
    stay_of,
)
from handoff.gather.transfers import find_whereabouts
from handoff.gather.two_ids import listings_of_other_ids, pairs_of_ids, two_ids
from handoff.gather.usable import usable_logs
from handoff.log.cell import read_cell
from handoff.log.clock import Clock
from handoff.log.entries import local
from handoff.log.names import alike, bed_order, name_alerts
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place
from handoff.model.ward import NONE_READ, Earlier, Handover, Listing, Log, Patient, Shift


def gather(
    logs: Sequence[Log], as_of: str | None, now: datetime
) -> tuple[tuple[Handover, ...], tuple[Finding, ...]]:
    """One hand-over a unit, by name, and all findings, of the logs and of gathering them.

    All logs are held at once: `gather_unit` does the same for one unit at a time.
    """
    units: defaultdict[str, list[Log]] = defaultdict(list)
    for log in logs:
        units[unit_key(log)].append(log)
    wards = {key: gather_ward(of_unit, as_of, now) for key, of_unit in sorted(units.items())}
    people = {key: ward.people for key, ward in wards.items()}
    shared = on_several_units(people)
    guests = {key: ward.only(shared) for key, ward in wards.items()}
    handovers: list[Handover] = []
    findings: list[Finding] = []
    for key, ward in wards.items():
        others = [guests[other] for other in other_units(key, people[key], shared)]
        handover, found = gather_unit(ward, others, as_of, now)
        findings += found
        handovers += [handover] if handover else []
    return tuple(handovers), in_file_order(findings)


def unit_key(log: Log) -> str:
    """The key that logs of one unit share; units are sorted by it."""
    return " ".join(log.unit.name.casefold().split())


def gather_ward(logs: Sequence[Log], as_of: str | None, now: datetime) -> Ward:
    """The patients present shift by shift, from the logs of one unit in any order."""
    usable = usable_logs(logs)
    return ward_of(usable, _as_of(as_of, now, usable[-1])[0])


def gather_unit(
    ward: Ward, others: Sequence[Ward], as_of: str | None, now: datetime
) -> tuple[Handover | None, list[Finding]]:
    """The hand-over of one unit, and every finding of its logs and of gathering them.

    `others` are the other units, in order, whose logs list one of its people. `as_of` is a local
    time as the user gave it; without one it is the shift's end, or `now` during the shift. A unit
    whose shift starts later than `as_of` gets no hand-over.
    """
    whereabouts = find_whereabouts([ward, *others])
    logs, latest = ward.logs, ward.latest
    earlier = _earlier(logs)
    led_on = whereabouts.led_on
    leaving = departures(ward, whereabouts, earlier)
    patients = tuple(sorted(whereabouts.on_list(ward), key=bed_order))
    pairs = pairs_of_ids(ward, others)
    other_ids = listings_of_other_ids(ward, pairs, patients)
    groups = _without_same_person(alike(patients), other_ids)
    findings = [*_as_of(as_of, now, latest)[1], *(found for log in logs for found in log.findings)]
    findings += overlaps(logs)
    findings += holds_in_doubt(logs)
    findings += no_longer_listed(ward, whereabouts)
    findings += same_minute_in_two_files(logs)
    findings += no_home_phone(latest, patients)
    findings += [*shared_beds(patients), *similar_names(patients, groups), *two_ids(ward, pairs)]
    if ward.as_of is None:
        return None, findings
    known = {each.id: each for each in (*latest.patients, *leaving.gone)}
    stays = {patient_id: stay_of(ward, whereabouts, patient_id) for patient_id in known}
    held_on = {key: carry_on(stay.listed, stay.returns) for key, stay in stays.items()}
    listings = {key: listings_of(listed) for key, listed in held_on.items()}
    findings += [
        each
        for patient in patients
        for each in (
            *not_repeated(stays[patient.id].listed, held_on[patient.id], stays[patient.id].returns),
            *not_taken_over(held_on[patient.id], latest.unit.time_zone),
            *order_changed(held_on[patient.id], latest.unit.time_zone),
            *left_out(held_on[patient.id], latest.unit.time_zone),
            *not_stated(held_on[patient.id][-1].patient),
        )
    ]
    alerts = name_alerts(patients, groups)
    patients = tuple(held_on[each.id][-1].patient for each in patients)
    leaving = replace(
        leaving,
        gone=tuple(
            listings[each.id][-1].patient if listings[each.id] else each for each in leaving.gone
        ),
    )
    if earlier is not None:
        earlier = replace(
            earlier,
            patients={
                key: _at(listings.get(key, ()), earlier.shift, each)
                for key, each in earlier.patients.items()
            },
        )
    lists = {other.name: whereabouts.on_list(other) for other in others if other.as_of}
    here = [each for each in patients if whereabouts.runs[ward.name][each.id][-1] not in led_on]
    elsewhere = on_other_lists(here, listings, lists)
    findings += who_left(ward, whereabouts, leaving.in_this_shift, stays)
    findings += two_stays(ward, stays)
    findings += transfers_that_overlap(ward, stays)
    findings += out_of_time(ward, stays, ward.as_of)
    findings += on_two_units(patients, elsewhere)
    second = {key: stay for key, stay in stays.items() if stay.before}
    set_aside = (row for log in logs for row in log.set_aside)
    handover = Handover(
        unit=latest.unit,
        shift=latest.shift,
        as_of=ward.as_of,
        patients=patients,
        entries={key: stay.entries for key, stay in stays.items()},
        stay_start={key: stay.start for key, stay in stays.items() if stay.start},
        shifts=tuple(log.shift for log in logs),
        counts=sum((log.counts for log in logs), NONE_READ),
        name_alerts=alerts,
        set_aside=tuple(sorted(set_aside, key=lambda row: row.place.order)),
        findings=in_file_order(findings),
        earlier=earlier,
        elsewhere=elsewhere,
        other_ids=other_ids,
        logs=logs,
        listings=listings,
        stay_before={key: listings_of(stay.before) for key, stay in second.items()},
        entries_before={key: stay.entries_before for key, stay in second.items()},
        gaps={key: gaps for key, stay in stays.items() if (gaps := gaps_of(stay, whereabouts))},
        gone=tuple(sorted(leaving.gone, key=bed_order)),
        left=leaving.left,
        lapsed=lapsed_orders(patients, stays),
        from_elsewhere=from_elsewhere(ward, patients, stays),
        periods={
            key: periods_of_stay(listed, stays[key].returns) for key, listed in held_on.items()
        },
    )
    return handover, findings


def _as_of(
    as_of_text: str | None, now: datetime, latest: Log
) -> tuple[datetime | None, list[Finding]]:
    """The time of the hand-over; None when it cannot be read or is before the shift."""
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


def _without_same_person(
    groups: Mapping[str, tuple[Patient, ...]], other_ids: Mapping[str, Sequence[Listing]]
) -> dict[str, tuple[Patient, ...]]:
    """The patients with similar names, without other ids that seem to be the same person's."""
    same = {key: {each.patient.id for each in of_one} for key, of_one in other_ids.items()}
    return {
        key: tuple(each for each in group if each.id not in same.get(key, ()))
        for key, group in groups.items()
    }


def _at(listings: Iterable[Listing], shift: Shift, patient: Patient) -> Patient:
    """The patient as in the listing of one shift, where there is one."""
    return next((each.patient for each in listings if each.shift == shift), patient)


def _earlier(logs: Sequence[Log]) -> Earlier | None:
    """The shift handed over before the latest: the last one that ended before the latest took over.

    Shifts may overlap a little, for the hand-over itself. A log without patients does not count.
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


def in_file_order(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """The findings of all units together, in the order in which they are reported."""

    def order(each: Finding) -> tuple[str, int, str, str, str]:
        return *each.place.order, each.code, each.field or "", each.raw or ""

    return tuple(sorted(findings, key=order))

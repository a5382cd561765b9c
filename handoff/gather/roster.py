"""Checks the list of patients that is handed over: who could be mistaken for somebody else.

Input: the patients of the latest shift, in bed order. Output: findings, and the alerts for their
sheets. Never checks lists of earlier shifts: nobody acts on them now.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date

from msgspec.structs import replace

from handoff.log.names import MOST_BEDS, Groups, bed_key, fact_key
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place
from handoff.model.ward import Listing, Log, Patient
from handoff.model.wording import FINDINGS

MOST_RELATED = 8  # places that one finding names
# Who somebody is: id, name, birth date.
Person = tuple[str, object, date | None]


def on_several_units(rosters: Mapping[str, Iterable[object]]) -> dict[object, list[str]]:
    """By key of a person, the units whose logs list them, for each one that several units list.

    `rosters` gives the keys of the people that the logs of each unit list.
    """
    units: defaultdict[object, list[str]] = defaultdict(list)
    for unit, people in rosters.items():
        for key in people:
            units[key].append(unit)
    return {key: names for key, names in units.items() if len(names) > 1}


def other_units(
    unit: str, roster: Iterable[object], shared: Mapping[object, Sequence[str]]
) -> list[str]:
    """The other units, in order, whose logs list one of these people; `shared` is of all units."""
    return sorted({each for key in roster for each in shared.get(key, ())} - {unit})


def on_other_lists(
    patients: Sequence[Patient],
    listings: Mapping[str, Sequence[Listing]],
    others: Mapping[str, Sequence[Patient]],
) -> dict[str, tuple[str, ...]]:
    """By patient id, the other units whose lists have the same id, name and birth date.

    `patients` are those whom no other unit lists next. Without units that a patient came from:
    their entries are read.
    """
    units: defaultdict[Person, list[str]] = defaultdict(list)
    for unit, on_list in others.items():
        for patient in on_list:
            units[_person(patient)].append(unit)
    found: dict[str, tuple[str, ...]] = {}
    for patient in patients:
        read = {listing.unit for listing in listings[patient.id]}
        names = tuple(name for name in units[_person(patient)] if name not in read)
        found |= {patient.id: names} if names else {}
    return found


def _person(patient: Patient) -> Person:
    return patient.id, fact_key("name", patient.name), patient.born


def on_two_units(
    patients: Sequence[Patient], elsewhere: Mapping[str, Sequence[str]]
) -> Iterator[Finding]:
    """Patients who are on the list of another unit too."""
    for patient in patients:
        if patient.id in elsewhere:
            units = ", ".join(elsewhere[patient.id])
            yield finding("on-two-units", patient.place, "patient_id", patient.id, units=units)


def similar_names(patients: Sequence[Patient], groups: Groups) -> Iterator[Finding]:
    """Patients whose names could be mixed up with others'; each finding names the first
    of those.
    """
    for patient in patients:
        others = [each for each in groups.get(patient.id, ()) if each is not patient]
        if others:
            count = len(others)
            twin = patient.born is not None and any(each.born == patient.born for each in others)
            words = {
                "others": FINDINGS.say(
                    "similar-names.one" if count == 1 else "similar-names.several", count=count
                ),
                "check": FINDINGS.say(
                    "similar-names.first-name" if twin else "similar-names.birth-date"
                ),
                "why": FINDINGS.say("similar-names.twin") if twin else "",
            }
            found = finding("similar-names", patient.place, "name", patient.name, **words)
            yield replace(found, related=tuple(each.place for each in others[:MOST_RELATED]))


def no_home_phone(latest: Log, patients: Sequence[Patient]) -> Iterator[Finding]:
    """A log without a number that can be called from home, where somebody goes home soon."""
    zone = latest.unit.time_zone
    soon = [each for each in patients if each.order and each.goes_home_soon(latest.shift, zone)]
    if soon and latest.unit.home_phone is None:
        beds = ", ".join(dict.fromkeys(each.bed for each in soon[:MOST_BEDS]))
        yield finding("no-home-phone", Place(latest.file), "home_phone", beds=beds)


def shared_beds(patients: Sequence[Patient]) -> Iterator[Finding]:
    """Patients who share a bed with another."""
    beds: defaultdict[object, list[Patient]] = defaultdict(list)
    for patient in patients:
        if patient.bed:
            beds[bed_key(patient.bed)].append(patient)
    for first, *others in beds.values():
        for patient in others:
            found = finding("bed-shared", patient.place, "bed", patient.bed, bed=first.bed)
            yield replace(found, related=(first.place,))

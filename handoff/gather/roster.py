"""Looks at the list of patients that is handed over: who could be taken for somebody else.

Input: the patients of the latest shift, in bed order. Output: findings, and the alerts for their
sheets. Lists of earlier shifts are not looked at: nobody acts on them any more.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date
from itertools import islice

from handoff.log.names import bed_key, fact_key
from handoff.model.codes import finding
from handoff.model.findings import Finding
from handoff.model.ward import Handover, Patient

MOST_RELATED = 8  # places that one finding names
MOST_BEDS, ELLIPSIS = 12, "…"

# By patient id, those whose names are alike, the patient too: what `names.alike` gives.
Groups = Mapping[str, tuple[Patient, ...]]
# Who somebody is: id, name, birth date.
Person = tuple[str, object, date | None]


def name_alerts(patients: Sequence[Patient], groups: Groups) -> dict[str, tuple[str, ...]]:
    """The beds of those with similar names; an ellipsis for those that no sheet has room for."""
    alerts = {}
    for patient in patients:
        beds = (each.bed for each in groups.get(patient.id, ()) if each is not patient)
        first = tuple(islice(beds, MOST_BEDS))
        if first:
            alerts[patient.id] = (*first, ELLIPSIS) if next(beds, None) is not None else first
    return alerts


def units_of_people(handovers: Iterable[Handover]) -> Mapping[Person, Sequence[str]]:
    """The names of the units that have a person on their list."""
    units: defaultdict[Person, list[str]] = defaultdict(list)
    for handover in handovers:
        for patient in handover.patients:
            units[_person(patient)].append(handover.unit.name)
    return units


def elsewhere(
    handover: Handover, units: Mapping[Person, Sequence[str]]
) -> dict[str, tuple[str, ...]]:
    """By patient id, the other units whose lists have the same id, name and birth date.

    Not a unit that the patient came from: what is charted there is read.
    """
    others = {}
    for patient in handover.patients:
        read = {listing.unit for listing in handover.listings_of(patient)}
        others[patient.id] = tuple(name for name in units[_person(patient)] if name not in read)
    return {patient_id: names for patient_id, names in others.items() if names}


def _person(patient: Patient) -> Person:
    return patient.id, fact_key("name", patient.name), patient.born


def on_two_units(handover: Handover) -> Iterator[Finding]:
    """Patients who are on the list of another unit too."""
    for patient in handover.patients:
        if patient.id in handover.elsewhere:
            units = ", ".join(handover.elsewhere[patient.id])
            yield finding("on-two-units", patient.place, "patient_id", patient.id, units=units)


def similar_names(patients: Sequence[Patient], groups: Groups) -> Iterator[Finding]:
    """Patients whose names could be mixed up with another's; the first few of the others."""
    for patient in patients:
        count = len(groups.get(patient.id, ())) - 1
        if count > 0:
            others = "another patient" if count == 1 else f"{count} other patients"
            found = finding("similar-names", patient.place, "name", patient.name, others=others)
            places = (each.place for each in groups[patient.id] if each is not patient)
            yield replace(found, related=tuple(islice(places, MOST_RELATED)))


def shared_beds(patients: Sequence[Patient]) -> Iterator[Finding]:
    """Patients in a bed that another has."""
    beds: defaultdict[object, list[Patient]] = defaultdict(list)
    for patient in patients:
        if patient.bed:
            beds[bed_key(patient.bed)].append(patient)
    for first, *others in beds.values():
        for patient in others:
            found = finding("bed-shared", patient.place, "bed", patient.bed, bed=first.bed)
            yield replace(found, related=(first.place,))

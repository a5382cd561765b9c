"""One person under two ids, in the logs of one unit or of several.

Input: one unit's `Ward`, and those of the other units that list one of its people. Output: a
finding that says which id to write, and the listings for the sheets. Never merges two ids.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import NamedTuple

from handoff.gather.presence import ANOTHER_STAY, Listed, Ward
from handoff.log.names import person_keys
from handoff.model.codes import finding
from handoff.model.findings import Finding
from handoff.model.ward import Listing, Patient

MOST_RELATED = 8  # places that one finding names


class _Known(NamedTuple):
    """An id in the logs of one unit, and the shifts that list it."""

    unit: str
    listed: Sequence[Listed]

    @property
    def patient(self) -> Patient:
        """The patient as in the last log."""
        return self.listed[-1].patient

    @property
    def listing(self) -> Listing:
        """The last shift that lists the id."""
        return Listing(self.unit, self.listed[-1].shift, self.patient)

    def is_of_the_time_of(self, other: "_Known") -> bool:
        """Whether it can be the same stay as another."""
        latest_start = max(self.listed[0].shift.start, other.listed[0].shift.start)
        earliest_end = min(self.listed[-1].shift.end, other.listed[-1].shift.end)
        return latest_start - earliest_end <= ANOTHER_STAY


Pairs = Sequence[tuple[_Known, _Known]]  # the id that is probably wrong comes first


def pairs_of_ids(ward: Ward, others: Iterable[Ward]) -> Pairs:
    """Each two ids of what seems to be one person, where one of them is in this unit's logs."""
    alike: defaultdict[tuple[object, ...], list[_Known]] = defaultdict(list)
    for each in (ward, *others):
        for listed in each.listed.values():
            known = _Known(each.name, listed)
            for key in person_keys(known.patient):
                alike[key].append(known)
    pairs: dict[tuple[str, ...], tuple[_Known, _Known]] = {}
    for key, group in alike.items():
        by_trust = sorted(group, key=partial(_trust, spelt=key[0] == "id"), reverse=True)
        for place, wrong in enumerate(by_trust):
            better = (each for each in by_trust[:place] if each.patient.id != wrong.patient.id)
            right = next((each for each in better if each.is_of_the_time_of(wrong)), None)
            if right and ward.name in {wrong.unit, right.unit}:
                one, other = sorted((each.unit, each.patient.id) for each in (wrong, right))
                pairs.setdefault((*one, *other), (wrong, right))
    return tuple(pairs.values())


def _trust(known: _Known, *, spelt: bool) -> tuple[object, ...]:
    """The greater, the likelier the id is the right one: of several spellings of one id, that with
    its leading zeros and without invisible characters; else the one that more shifts have, then
    more rows, then the earlier one.
    """
    patient_id = known.patient.id
    is_plain = patient_id.isprintable() and " " not in patient_id
    rows = sum(len(each.entries) for each in known.listed)
    first = known.listed[0].shift.start.timestamp()
    spelling = (is_plain, len(patient_id)) if spelt else ()
    return spelling, len(known.listed), rows, -first, patient_id, known.unit


def two_ids(ward: Ward, pairs: Pairs) -> Iterator[Finding]:
    """A finding for each pair whose probably wrong id is in this unit's logs."""
    for wrong, right in pairs:
        if wrong.unit == ward.name:
            patient_id, right_id = wrong.patient.id, right.patient.id
            *before, last = (each.patient.place for each in wrong.listed)
            found = finding("two-ids", last, "patient_id", patient_id, right=right_id)
            places = [*before, right.patient.place]
            yield replace(found, related=tuple(places[-MOST_RELATED:]))


def listings_of_other_ids(
    ward: Ward, pairs: Pairs, patients: Iterable[Patient]
) -> Mapping[str, tuple[Listing, ...]]:
    """By patient id, the last listing of each other id that seems to be the same person's."""
    on_list = {patient.id for patient in patients}
    listings: defaultdict[str, list[Listing]] = defaultdict(list)
    for wrong, right in pairs:
        for one, other in ((wrong, right), (right, wrong)):
            if one.unit == ward.name and one.patient.id in on_list:
                listings[one.patient.id].append(other.listing)
    return {patient_id: tuple(of_one) for patient_id, of_one in listings.items()}

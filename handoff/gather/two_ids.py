"""One person under two ids, in the logs of one unit or of several.

Input: one unit's `Ward`, and those of the other units that list one of its people. Output: a
finding that says which id to write, and the listings for the sheets. Never merges two ids.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from functools import partial

from msgspec.structs import replace

from handoff.gather.presence import ANOTHER_STAY, Listed, Ward
from handoff.gather.stays import listings_of
from handoff.log.names import person_keys
from handoff.model.codes import finding
from handoff.model.findings import Finding
from handoff.model.frozen import Frozen
from handoff.model.ward import Listing, Patient

MOST_RELATED = 8  # places that one finding names


class _Known(Frozen):
    """An id of one person, and the shifts of all units that list it, in time order."""

    id: str
    listed: Sequence[Listed]

    @property
    def last(self) -> Listing:
        """The last shift that lists the id."""
        return listings_of(self.listed)[-1]

    def in_unit(self, unit: str) -> list[Listed]:
        """The shifts of one unit that list the id."""
        return [each for each in self.listed if each.unit == unit]

    def is_of_the_time_of(self, other: "_Known") -> bool:
        """Whether it can be the same stay as another."""
        latest_start = max(self.listed[0].shift.start, other.listed[0].shift.start)
        earliest_end = min(self.last.shift.end, other.last.shift.end)
        return latest_start - earliest_end <= ANOTHER_STAY


Pairs = Sequence[tuple[_Known, _Known]]  # the id that is probably wrong comes first


def pairs_of_ids(ward: Ward, others: Iterable[Ward]) -> Pairs:
    """Each two ids of what seems to be one person, where one of them is in this unit's logs."""
    listed: defaultdict[tuple[object, ...], defaultdict[str, list[Listed]]]
    listed = defaultdict(lambda: defaultdict(list))
    for each in (ward, *others):
        for patient_id, of_one in each.listed.items():
            for key in person_keys(of_one[-1].patient):
                listed[key][patient_id] += of_one
    pairs: dict[frozenset[str], tuple[_Known, _Known]] = {}
    for key, of_person in listed.items():
        ids = [_Known(it, sorted(every, key=_in_time)) for it, every in of_person.items()]
        by_trust = sorted(ids, key=partial(_trust, spelt=key[0] == "id"), reverse=True)
        for place, wrong in enumerate(by_trust):
            better = by_trust[:place]
            right = next((each for each in better if each.is_of_the_time_of(wrong)), None)
            if right and (wrong.in_unit(ward.name) or right.in_unit(ward.name)):
                pairs.setdefault(frozenset((wrong.id, right.id)), (wrong, right))
    return tuple(pairs.values())


def _in_time(listed: Listed) -> tuple[datetime, datetime, str]:
    return listed.shift.start, listed.shift.end, listed.unit


def _trust(known: _Known, *, spelt: bool) -> tuple[object, ...]:
    """The greater, the likelier the id is the right one: of several spellings of one id, that with
    its leading zeros and without invisible characters; else the one that more shifts have, then
    more rows, then the earlier one.
    """
    is_plain = known.id.isprintable() and " " not in known.id
    rows = sum(len(each.entries) for each in known.listed)
    first = known.listed[0].shift.start.timestamp()
    spelling = (is_plain, len(known.id)) if spelt else ()
    return spelling, len(known.listed), rows, -first, known.id


def two_ids(ward: Ward, pairs: Pairs) -> Iterator[Finding]:
    """A finding for each pair whose probably wrong id is in this unit's logs. Two ids in one log
    are found where that is checked.
    """
    for wrong, right in pairs:
        places = [each.patient.place for each in wrong.in_unit(ward.name)]
        files = {each.file for each in places}
        if places and files.isdisjoint(each.patient.place.file for each in right.listed):
            *before, last = places
            related = [*before, right.last.patient.place][-MOST_RELATED:]
            words = {"other": right.id, "hint": right.id}
            found = finding("two-ids", last, "patient_id", wrong.id, **words)
            yield replace(found, related=tuple(related))


def listings_of_other_ids(
    ward: Ward, pairs: Pairs, patients: Iterable[Patient]
) -> Mapping[str, tuple[Listing, ...]]:
    """By patient id, the last listing of each other id that seems to be the same person's."""
    on_list = {patient.id for patient in patients}
    listings: defaultdict[str, list[Listing]] = defaultdict(list)
    for wrong, right in pairs:
        for one, other in ((wrong, right), (right, wrong)):
            if one.id in on_list and one.in_unit(ward.name):
                listings[one.id].append(other.last)
    return {patient_id: tuple(of_one) for patient_id, of_one in listings.items()}

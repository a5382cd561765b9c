"""Names of people and beds: which are the same, which are alike, which comes first.

Input: names as the log has them. Output: keys to compare by. Never changes what is printed.
"""

import re
import unicodedata
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from itertools import islice

from handoff.model.ward import Patient

BedKey = tuple[tuple[int, int, str], ...]

# By patient id, the patients with whom that patient could be mixed up, that patient included.
Groups = Mapping[str, Sequence[Patient]]

MOST_BEDS, ELLIPSIS = 12, "…"
_SHORTEST_FOR_A_SLIP = 4
_JOINING = frozenset("'\u2019\u02bc")  # apostrophes: O'Brien is one word


def name_key(name: str) -> tuple[str, ...]:
    """The words of a name without case, accents, punctuation and order.

    Two records with one id and equal keys are of one person: `Larkspur, Odile` is `odile larkspur`.
    """
    return tuple(sorted(_words(name)))


def fact_key(name: str, value: object) -> object:
    """A key that is equal for two values of one field of a patient when they mean the same."""
    if not isinstance(value, str):
        return value
    if name == "name":
        return name_key(value)
    return bed_key(value) if name == "bed" else value.casefold()


def id_key(patient_id: str) -> str:
    """An id without leading zeros, spaces, marks and letters' case: `00718` and `718` are alike."""
    plain = unicodedata.normalize("NFKC", patient_id).casefold()
    return "".join(filter(str.isalnum, plain)).lstrip("0") or "0"


class Ids:
    """The ids of a log, to find the one of which another id is a slip."""

    def __init__(self, known: Iterable[str]) -> None:
        self._by_slip: defaultdict[str, set[str]] = defaultdict(set)
        for patient_id in known:
            for slip in _slips(id_key(patient_id)):
                self._by_slip[slip].add(patient_id)

    def alike(self, patient_id: str) -> set[str]:
        """The other ids that are the same but for zeros, spaces and case; else those that differ in
        one character left out, added, changed, or exchanged with the next.
        """
        key = id_key(patient_id)
        near = {each for slip in _slips(key) for each in self._by_slip.get(slip, ())}
        same = {each for each in near if id_key(each) == key}
        return (same - {patient_id}) or near - same

    def likely(self, patient_id: str) -> str | None:
        """The one id that may be meant; None where there is none, or several."""
        found = self.alike(patient_id)
        return found.pop() if len(found) == 1 else None


def _slips(word: str) -> tuple[str, ...]:
    """The word, and the word less each of its letters: words a slip apart share one of these."""
    return (word, *(word[:place] + word[place + 1 :] for place in range(len(word))))


def person_keys(patient: Patient) -> frozenset[tuple[object, ...]]:
    """Keys of a patient. Two records that share one seem to be of one person: the name is the same,
    and either the birth date or the id, apart from its spelling. Twins have another first name.
    Common practice.
    """
    name = name_key(patient.name)
    if not name:
        return frozenset()
    born = [("born", name, patient.born)] if patient.born else []
    return frozenset([("id", name, id_key(patient.id)), *born])


def bed_key(bed: str) -> BedKey:
    """Sorts beds as people count them: 2 before 10, 9B before 12A; an unknown bed comes last."""
    parts = re.findall(r"(\d+)|([^\W\d]+)", unicodedata.normalize("NFKC", bed).casefold())
    key = tuple((0, int(digits), "") if digits else (1, 0, word) for digits, word in parts)
    return key or ((2, 0, ""),)


def alike(patients: Iterable[Patient]) -> dict[str, tuple[Patient, ...]]:
    """By patient id, the patients whose names could be mixed up, that patient included, in bed
    order.

    Alike are names with the same words, the same family name (before the comma, else the last
    word), or family names of four letters or more that differ by one letter. Common practice.
    """
    by_bed = sorted(patients, key=bed_order)
    signatures = [_signatures(patient.name) for patient in by_bed]
    places: defaultdict[str, list[int]] = defaultdict(list)
    for place, of_one in enumerate(signatures):
        for signature in of_one:
            places[signature].append(place)
    shared = {signature for signature, of_many in places.items() if len(of_many) > 1}
    groups: dict[frozenset[str], tuple[Patient, ...]] = {}
    of_patient = {}
    for patient, of_one in zip(by_bed, signatures, strict=True):
        in_common = of_one & shared
        if in_common and in_common not in groups:
            together = sorted({place for signature in in_common for place in places[signature]})
            groups[in_common] = tuple(by_bed[place] for place in together)
        if in_common:
            of_patient[patient.id] = groups[in_common]
    return of_patient


def name_alerts(patients: Sequence[Patient], groups: Groups) -> dict[str, tuple[str, ...]]:
    """The beds of patients with similar names; an ellipsis for those beyond the room on a sheet."""
    alerts = {}
    for patient in patients:
        beds = (each.bed for each in groups.get(patient.id, ()) if each is not patient)
        first = tuple(islice(beds, MOST_BEDS))
        if first:
            alerts[patient.id] = (*first, ELLIPSIS) if next(beds, None) is not None else first
    return alerts


def bed_order(patient: Patient) -> tuple[object, ...]:
    """Patients in bed order; those who share a bed by id."""
    return bed_key(patient.bed), patient.id


def _signatures(name: str) -> frozenset[str]:
    """Keys of a name: two names are alike when they share one."""
    words = name_key(name)
    if not words:
        return frozenset()
    family = "".join(_words(name.partition(",")[0])) if "," in name else _words(name)[-1]
    signatures = {f"words {' '.join(words)}", *([f"family {family}"] if family else [])}
    if len(family) >= _SHORTEST_FOR_A_SLIP:
        signatures |= {f"nearly {each}" for each in _slips(family)}
    return frozenset(signatures)


def _words(name: str) -> list[str]:
    plain = unicodedata.normalize("NFKD", name).casefold()
    letters = (c for c in plain if not unicodedata.combining(c) and c not in _JOINING)
    return re.findall(r"[^\W_]+", "".join(letters))

"""Names of people and beds: which are the same, which are alike, which comes first.

Input: names as the log has them. Output: keys to compare by. Never changes what is printed.
"""

import re
import unicodedata
from collections import defaultdict
from collections.abc import Iterable

from handoff.model.ward import Patient

BedKey = tuple[tuple[int, int, str], ...]

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
    """An id without spaces, invisible characters, leading zeros and the case of its letters."""
    plain = unicodedata.normalize("NFKC", patient_id).casefold()
    seen = "".join(c for c in plain if c.isprintable() and not c.isspace())
    return seen.lstrip("0") or seen


def likely_id(patient_id: str, known: Iterable[str]) -> str | None:
    """The one known id that was probably meant: the same but for its spelling, else one slip away.
    None where there is none, or where several are.
    """
    others = [each for each in known if each != patient_id]
    alike = [each for each in others if id_key(each) == id_key(patient_id)]
    alike = alike or [each for each in others if _is_one_slip(patient_id, each)]
    return alike[0] if len(alike) == 1 else None


def _is_one_slip(one: str, other: str) -> bool:
    """Whether two ids differ by one character more, less or other, or by two that are exchanged."""
    short, long = sorted((one.casefold(), other.casefold()), key=len)
    same = next((at for at, (a, b) in enumerate(zip(short, long, strict=False)) if a != b), None)
    if same is None:
        return len(long) == len(short) + 1
    rest, other_rest = short[same:], long[same:]
    exchanged = other_rest[:2] == rest[1::-1] and other_rest[2:] == rest[2:]
    changed = len(rest) == len(other_rest) and rest[1:] == other_rest[1:]
    return exchanged or changed or rest == other_rest[1:]


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
        less_one = (family[:place] + family[place + 1 :] for place in range(len(family)))
        signatures |= {f"nearly {each}" for each in (family, *less_one)}
    return frozenset(signatures)


def _words(name: str) -> list[str]:
    plain = unicodedata.normalize("NFKD", name).casefold()
    letters = (c for c in plain if not unicodedata.combining(c) and c not in _JOINING)
    return re.findall(r"[^\W_]+", "".join(letters))

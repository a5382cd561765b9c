"""Which shifts a stay goes on from, also those of another unit whose logs are given.

Input: the `Ward`s of all units. Output: for each unit the runs of its patients, and which runs each
goes on from. The same id, name and birth date are one person; where one of them is not recorded no
other unit is looked at. Whom two units list at the same time has not come from either.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

from handoff.gather.presence import LONGEST_OVERLAP, Listed, Run, Ward, runs_of
from handoff.log.names import fact_key
from handoff.model.ward import Shift

# From a row that says that the patient left to the first shift on another unit. After more than
# that somebody may have been at home between: common practice.
LONGEST_WAY = timedelta(hours=24)
# From the last shift on one unit to the first on another, where no row says that the patient left.
# After more than that it is another stay: common practice.
LONGEST_UNKNOWN = timedelta(days=7)


@dataclass(frozen=True, slots=True)
class Whereabouts:
    """By unit and patient id the runs there, and `everywhere` those of that person on all units.

    `shifts` are by unit those of the logs that list somebody, in time order.
    `came_from` gives the runs that a run goes on from: the one before on its unit, and those of
    other units. `led_on` are the runs that another unit's goes on from.
    """

    shifts: Mapping[str, Sequence[Shift]]
    runs: Mapping[str, Mapping[str, tuple[Run, ...]]]
    everywhere: Mapping[str, Mapping[str, tuple[Run, ...]]]
    came_from: Mapping[Run, Sequence[Run]]
    led_on: frozenset[Run]

    def up_to(self, run: Run, began_after: datetime | None) -> tuple[Listed, ...]:
        """The shifts of the stay that began after a time, in time order, up to the run's last."""
        found = {run: None}
        ahead = [run]
        while ahead:
            new = [each for each in self.came_from.get(ahead.pop(), ()) if each not in found]
            found |= dict.fromkeys(new)
            ahead += new
        listed = (
            each
            for run in found
            for each in run.listed
            if began_after is None or each.shift.start >= began_after
        )
        return tuple(sorted(listed, key=lambda each: (each.shift.start, each.shift.end, each.unit)))


def find_whereabouts(wards: Sequence[Ward]) -> Whereabouts:
    """Looks across the units, once for all patients."""
    known: defaultdict[object, list[tuple[Ward, str]]] = defaultdict(list)
    for ward in wards:
        for patient_id, listed in ward.listed.items():
            person = _person(patient_id, listed) or (ward.name, patient_id)
            known[person].append((ward, patient_id))
    runs: dict[str, dict[str, tuple[Run, ...]]] = {ward.name: {} for ward in wards}
    everywhere: dict[str, dict[str, tuple[Run, ...]]] = {ward.name: {} for ward in wards}
    came_from: defaultdict[Run, list[Run]] = defaultdict(list)
    led_on: set[Run] = set()
    for units in known.values():
        of_units = [_runs(ward, patient_id, units) for ward, patient_id in units]
        transfers = _transfers(of_units)
        led_on |= {one for one, _ in transfers}
        all_runs = tuple(run for of_unit in of_units for run in of_unit)
        on_one_unit = (pair for of_unit in of_units for pair in pairwise(of_unit))
        for one, other in [*transfers, *on_one_unit]:
            came_from[other].append(one)
        for (ward, patient_id), of_unit in zip(units, of_units, strict=True):
            runs[ward.name][patient_id] = of_unit
            everywhere[ward.name][patient_id] = all_runs
    shifts = {ward.name: ward.shifts for ward in wards}
    return Whereabouts(shifts, runs, everywhere, came_from, frozenset(led_on))


def _person(patient_id: str, listed: Sequence[Listed]) -> tuple[object, ...] | None:
    """Who the logs of a unit say an id is, as the last of them that say so have it."""
    names = [each.patient.name for each in listed if each.patient.name]
    births = [each.patient.born for each in listed if each.patient.born]
    return (patient_id, fact_key("name", names[-1]), births[-1]) if names and births else None


def _runs(ward: Ward, patient_id: str, units: Sequence[tuple[Ward, str]]) -> tuple[Run, ...]:
    elsewhere: list[Shift] = [
        each.shift for other, _ in units if other is not ward for each in other.listed[patient_id]
    ]
    return runs_of(ward, patient_id, elsewhere)


def _transfers(of_units: Sequence[Sequence[Run]]) -> list[tuple[Run, Run]]:
    """Pairs of runs of one person on two units, of which the second goes on from the first.

    Where either could go on from the other it is not known which does, so neither does: then both
    units say that the patient is gone, and nobody is lost between them.
    """
    pairs = [
        (one, other)
        for one_unit in of_units
        for one, again in zip(one_unit, [*one_unit[1:], None], strict=True)
        for other_unit in of_units
        if other_unit is not one_unit
        for other in other_unit
        if _leads(one, other, again)
    ]
    known = set(pairs)
    return [(one, other) for one, other in pairs if (other, one) not in known]


def _leads(one: Run, other: Run, again: Run | None) -> bool:
    """Whether a run on one unit leads to one on another; `again` is the next on the first unit."""
    start = other.first.start
    if again and again.first.start <= start:
        return False
    if one.left:
        at = one.left.at
        arrives = other.first.end > at or one.first.start <= start
        return arrives and other.last.end > at and start <= at + LONGEST_WAY
    if start - one.last.end > LONGEST_UNKNOWN:
        return False
    if one.last.start < start and one.last.end <= start + LONGEST_OVERLAP:
        return True
    # The lists overlap: who is left out by one unit, while the other goes on, is with the other.
    goes_on = other.last.start > one.last.start or (
        other.last.start == one.last.start and not other.left_out
    )
    return one.left_out and goes_on

"""Finds the shifts that a stay continues from, also on another unit whose logs are given.

Input: a unit's `Ward`, and those of the units that list one of its patients too. Output: for each
unit the runs of its patients, and the runs that each continues. The same id, name and birth date
are one person; where one of them is not recorded, no other unit is searched. A patient on two
units' lists at the same time was not transferred.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from itertools import pairwise

from handoff.gather.presence import (
    ANOTHER_STAY,
    LONGEST_OVERLAP,
    DoubtedRow,
    Listed,
    Run,
    Ward,
    left_rows,
    runs_of,
)
from handoff.log.names import fact_key
from handoff.model.frozen import Frozen
from handoff.model.ward import OF_SOMEBODY_GONE, Entry, Patient, Shift, What

# A `left` row, the time of the patient's next trace on the same unit, and the unit between.
WasElsewhere = tuple[Entry, datetime, str]

# The longest time from a `left` row to the first shift on another unit. After a longer time the
# patient may have been at home: common practice.
LONGEST_WAY = timedelta(hours=24)


class Whereabouts(Frozen):
    """By unit and patient id: `runs` on that unit, and `everywhere` the person's runs on all units.

    `shifts` are, by unit, those of the logs that list somebody, in time order. `came_from` gives
    the runs that a run continues: the one before on its unit, and those of other units. `led_on`
    are the runs that another unit's run continues. `ended` gives the time at which a stay ended
    with a run. `doubted` are, by unit, the `left` rows that end no run; `back` are those of them
    between which and the next trace another unit charted the patient.
    """

    shifts: Mapping[str, Sequence[Shift]]
    runs: Mapping[str, Mapping[str, tuple[Run, ...]]]
    everywhere: Mapping[str, Mapping[str, tuple[Run, ...]]]
    came_from: Mapping[Run, Sequence[Run]]
    led_on: frozenset[Run]
    ended: Mapping[Run, datetime]
    doubted: Mapping[str, Sequence[DoubtedRow]]
    back: Mapping[str, Sequence[WasElsewhere]]

    def on_list(self, ward: Ward) -> list[Patient]:
        """The patients of a unit's latest log, without those who left in that shift."""
        runs = self.runs[ward.name]
        return [each for each in ward.latest.patients if runs[each.id][-1].left is None]

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
        last = run.listed[-1]  # also where another unit's shift within it begins or ends later
        return tuple(
            sorted(
                listed,
                key=lambda each: (each is last, each.shift.start, each.shift.end, each.unit),
            )
        )


def find_whereabouts(wards: Sequence[Ward]) -> Whereabouts:
    """Looks across the units, once for all patients."""
    known: defaultdict[object, list[tuple[Ward, str]]] = defaultdict(list)
    by_id: defaultdict[str, list[Ward]] = defaultdict(list)
    for ward in wards:
        for patient_id, listed in ward.listed.items():
            person = _person(patient_id, listed) or (ward.name, patient_id)
            known[person].append((ward, patient_id))
            by_id[patient_id].append(ward)
    doubted: dict[str, list[DoubtedRow]] = {ward.name: [] for ward in wards}
    back: dict[str, list[WasElsewhere]] = {ward.name: [] for ward in wards}
    runs: dict[str, dict[str, tuple[Run, ...]]] = {ward.name: {} for ward in wards}
    everywhere: dict[str, dict[str, tuple[Run, ...]]] = {ward.name: {} for ward in wards}
    came_from: defaultdict[Run, list[Run]] = defaultdict(list)
    led_on: set[Run] = set()
    shifts = {ward.name: ward.shifts for ward in wards}
    ended: dict[Run, datetime] = {}
    for units in known.values():
        of_units = []
        in_doubt_of_all: list[DoubtedRow] = []
        for ward, patient_id in units:
            left, in_doubt = left_rows(ward, patient_id, _elsewhere(ward, patient_id, by_id))
            doubted[ward.name] += in_doubt
            in_doubt_of_all += in_doubt
            others = [other for other, _ in units if other is not ward]
            elsewhere = [each.shift for other in others for each in other.listed[patient_id]]
            of_units.append(runs_of(ward, patient_id, left, elsewhere))
        linked = _transfers(of_units)
        came_back = [pair for pair in linked if _came_back(*pair, shifts)]
        transfers = [pair for pair in linked if pair not in came_back]
        led_on |= {one for one, _ in transfers}
        all_runs = tuple(run for of_unit in of_units for run in of_unit)
        on_one_unit = [pair for of_unit in of_units for pair in pairwise(of_unit)]
        last = [run for run in all_runs if run not in led_on]
        anew = {run for run in all_runs if run.ordered_anew} | {other for _, other in came_back}
        ended |= {
            one: one.last.end
            for one in last
            if any(one.last.end <= other.first.start for other in anew)
        }
        ended |= {one: one.left.at for one in all_runs if one.left and one not in led_on}
        visits = list(_visits(of_units, {id(row): at for row, at, _ in in_doubt_of_all}))
        for there, here, row, at in visits:
            if row.what is What.LEFT:
                back[here.listed[0].unit].append((row, at, there.listed[0].unit))
        led_on |= {there for there, *_ in visits if there.left}
        for one, other in [*transfers, *on_one_unit, *((each[0], each[1]) for each in visits)]:
            came_from[other].append(one)
        for (ward, patient_id), of_unit in zip(units, of_units, strict=True):
            runs[ward.name][patient_id] = of_unit
            everywhere[ward.name][patient_id] = all_runs
    return Whereabouts(
        shifts=shifts,
        runs=runs,
        everywhere=everywhere,
        came_from=came_from,
        led_on=frozenset(led_on),
        ended=ended,
        doubted=doubted,
        back=back,
    )


def _elsewhere(ward: Ward, patient_id: str, by_id: Mapping[str, Sequence[Ward]]) -> list[datetime]:
    """The times at which other units charted anybody under this id."""
    return [
        entry.at
        for other in by_id[patient_id]
        if other is not ward
        for each in other.listed[patient_id]
        for entry in each.entries
    ]


def _person(patient_id: str, listed: Sequence[Listed]) -> tuple[object, ...] | None:
    """The person behind an id in a unit's logs, from the last log with each fact."""
    names = [each.patient.name for each in listed if each.patient.name]
    births = [each.patient.born for each in listed if each.patient.born]
    return (patient_id, fact_key("name", names[-1]), births[-1]) if names and births else None


def _transfers(of_units: Sequence[Sequence[Run]]) -> list[tuple[Run, Run]]:
    """Pairs of one person's runs on two units: the second continues the first.

    Where each could continue the other, the order is not known and there is no pair. Both units
    then report the patient as gone, and nobody is lost between them.
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


def _visits(
    of_units: Sequence[Sequence[Run]], back: Mapping[int, datetime]
) -> Iterator[tuple[Run, Run, Entry, datetime]]:
    """One person's runs on another unit within a run of this one: each with that run, the row that
    says that the patient was gone, and the time of the next trace. `back` has that time by the `id`
    of a `left` row.
    """
    for of_unit in of_units:
        charted = {
            there: [entry.at for entry in there.entries if entry.what not in OF_SOMEBODY_GONE]
            for others in of_units
            for there in others
            if others is not of_unit
        }
        rows = ((here, row) for here in of_unit if charted for row in here.entries)
        for here, row in rows:
            at = row.until if row.what is What.AWAY else back.get(id(row))
            for there, times in charted.items():
                if at and times and row.at <= max(times) <= at:
                    yield there, here, row, at


def _came_back(one: Run, other: Run, shifts: Mapping[str, Sequence[Shift]]) -> bool:
    """Whether a patient came to a unit from outside, not from the other: logs of both leave the
    patient out between, and the order is a new one.
    """
    ordered = next((each.patient.orders[0] for each in other.listed if each.patient.orders), None)
    if ordered is None or ordered.start < one.last.end:
        return False
    return all(
        any(one.last.end <= shift.start and shift.end <= other.first.start for shift in of_unit)
        for of_unit in (shifts[run.listed[0].unit] for run in (one, other))
    )


def _leads(one: Run, other: Run, again: Run | None) -> bool:
    """Whether a run on one unit leads to one on another; `again` is the next on the first unit."""
    start = other.first.start
    if again and again.first.start <= start:
        return False
    if one.left:
        at = one.left.at
        arrives = other.first.end > at or one.first.start <= start
        return arrives and other.last.end > at and start <= at + LONGEST_WAY
    if start - one.last.end > ANOTHER_STAY:
        return False
    if one.last.start < start and one.last.end <= start + LONGEST_OVERLAP:
        return True
    # The lists overlap: a patient missing on one unit's next list, and still on the other's, is
    # there.
    goes_on = other.last.start > one.last.start or (
        other.last.start == one.last.start and not other.left_out
    )
    return one.left_out and goes_on

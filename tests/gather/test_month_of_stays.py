"""A month of a ward and its intensive care: volumes and breaths due of each stay against a count
of their own.

The count knows from the simulation, never from the logs, who was where and what was ordered when.
All of it is invented: 60 shifts, 14 patients, of whom 8 come back with a new order, and 6 others
come from intensive care. Orders change: some in a list beside the old one, some in its place with a
start of their own, some with other values under the old start.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import cache
from random import Random

import pytest

from handoff.gather import gather
from handoff.measure import measure
from handoff.model.ward import Log
from tests.support.logs import NOW, log_of

WARD, CARE = "Harbour 3 East", "Intensive care 2"
FIRST = datetime(2026, 2, 1, 7)  # noqa: DTZ001 - a local time, as a log has it
SHIFT, SHIFTS = timedelta(hours=12), 60
BACK, MOVED = 8, 6
WAYS = ("listed", "alone", "in place")


@dataclass(frozen=True)
class Change:
    """Another number of breaths an hour, first written in the log of one shift."""

    shift: int
    way: str
    at: datetime
    breaths: int


@dataclass
class Stay:
    """A stay from one shift to before another; until shift `moved` the patient is in CARE."""

    patient: int
    first: int
    end: int
    moved: int
    says_left: bool
    ordered_at: datetime
    readings: list[tuple[datetime, int]] = field(default_factory=list)
    changes: list[Change] = field(default_factory=list)

    def orders(self, unit: str, shift: int) -> list[tuple[datetime, int]]:
        """Start and breaths of each order that a log of this unit has."""
        # Intensive care and the ward each write the order anew.
        anew = unit == WARD and self.moved > self.first
        written = [(start_of(self.moved) if anew else self.ordered_at, 10)]
        for change in self.changes:
            if change.shift <= shift:
                before = written[-1]
                start = before[0] if change.way == "in place" else change.at
                is_listed = change.way == "listed" and change.shift == shift
                written = [*([before] if is_listed else []), (start, change.breaths)]
        return written

    def due(self, shift: int) -> float:
        """The breaths due in a shift, minute by minute: quiet hours are none."""
        due = 0.0
        for minute in range(SHIFT // timedelta(minutes=1)):
            at = start_of(shift) + timedelta(minutes=minute)
            changed = [each.breaths for each in self.changes if each.at <= at]
            due += (changed[-1] if changed else 10) / 60 if at >= self.ordered_at else 0
        return due

    def unit_in(self, shift: int) -> str | None:
        if not self.first <= shift < self.end:
            return None
        return CARE if shift < self.moved else WARD


def start_of(shift: int) -> datetime:
    return FIRST + shift * SHIFT


def random_stays(draw: Random) -> Iterator[Stay]:
    """Two stays of each patient who comes back, one of each who moves; a volume now and then."""
    for patient in range(BACK + MOVED):
        first = draw.randint(0, 12)
        end = first + draw.randint(8, 14)
        moved = first + draw.randint(1, 3) if patient >= BACK else first
        yield stay(draw, patient, first, end, moved)
        if patient < BACK:
            again = end + draw.choice((1, 2, 5, 14, 20))
            over_care = again + draw.choice((0, 0, 2))
            yield stay(draw, patient, again, again + draw.randint(4, 12), over_care)


def stay(draw: Random, patient: int, first: int, end: int, moved: int) -> Stay:
    ordered_at = start_of(first) + timedelta(minutes=draw.randrange(0, 120, 10))
    made = Stay(patient, first, end, moved, draw.random() < 0.5, ordered_at)
    for shift in range(first, end):
        for hour in draw.sample(range(2, 11), draw.randint(0, 2)):
            made.readings.append(
                (start_of(shift) + timedelta(hours=hour), draw.randrange(600, 2600))
            )
    made.readings.sort()
    made.changes += changes(Random(1_000 * patient + first), made)
    return made


def changes(draw: Random, made: Stay) -> Iterator[Change]:
    """None, one or two changes of the order, after the first shift in the last unit."""
    later = range(made.moved + 1, made.end)
    for shift in sorted(draw.sample(later, min(draw.randint(0, 2), len(later)))):
        way = draw.choice(WAYS)
        within = timedelta(minutes=30 * draw.randint(1, 22))
        at = start_of(shift) + (timedelta() if way == "in place" else within)
        yield Change(shift, way, at, draw.choice([4, 5, 6, 8, 12]))


def log_text(unit: str, shift: int, stays: list[Stay]) -> str:
    start, end = start_of(shift), start_of(shift + 1)
    patients, entries = ['- {id: "99", name: "Moss, Bryn", born: 1949-07-30, bed: 30}'], []
    for each in stays:
        if each.unit_in(shift) != unit:
            continue
        orders = ", ".join(
            f'{{start: "{at:%Y-%m-%d %H:%M}", breaths: {breaths}}}'
            for at, breaths in each.orders(unit, shift)
        )
        patients.append(
            f'- {{id: "1{each.patient:04}", name: "Larkspur {each.patient}, Odile", '
            f"born: 1958-04-{each.patient + 1:02}, bed: {each.patient + 1}, "
            f"orders: [{orders}]}}"
        )
        who = f'- {{patient: "1{each.patient:04}", at: "%Y-%m-%d %H:%M", '
        entries += [
            f"{at:{who}}breaths: 8, volume_ml: {ml}}}"
            for at, ml in each.readings
            if start <= at < end
        ]
        if shift == each.end - 1 and each.says_left:
            entries.append(f"{end - timedelta(minutes=20):{who}}what: left, note: home}}")
    rows = "\n".join(entries)
    return (
        f"unit: {{name: {unit}, time_zone: UTC, quiet_hours: none}}\n"
        f'shift: {{start: "{start:%Y-%m-%d %H:%M}", end: "{end:%Y-%m-%d %H:%M}"}}\n'
        "patients:\n"
        + "\n".join(patients)
        + ("\nentries:\n" + rows if rows else "\nentries: []")
        + "\n"
    )


@cache
def month() -> tuple[list[Stay], dict[int, list[Log]]]:
    """The stays, and the logs of both units by shift."""
    stays = list(random_stays(Random(17)))
    logs = {
        shift: [
            log_of(log_text(unit, shift, stays), f"{unit}, {shift}.yaml") for unit in (WARD, CARE)
        ]
        for shift in range(SHIFTS)
    }
    return stays, logs


def counted(each: Stay, shift: int) -> tuple[int | None, int | None, int | None]:
    """First, best and previous best volume at the end of a shift."""
    known = [(at, ml) for at, ml in each.readings if at < start_of(shift + 1)]
    day_before = [ml for at, ml in known if start_of(shift - 2) <= at < start_of(shift)]
    volumes = [ml for _, ml in known]
    return next(iter(volumes), None), max(volumes, default=None), max(day_before, default=None)


@pytest.mark.parametrize("shift", [*range(3, SHIFTS, 4)])
def test_volumes_and_breaths_due_of_each_stay_are_those_of_this_stay(shift: int) -> None:
    stays, logs = month()
    given = [log for number in range(shift + 1) for log in logs[number]]
    handovers, _ = gather(given, None, NOW)
    assert {each.unit.name for each in handovers} == {WARD, CARE}
    for handover in handovers:
        measures = measure(handover)
        here = [each for each in stays if each.unit_in(shift) == handover.unit.name]
        staying = [each for each in here if each.end > shift + 1 or not each.says_left]
        assert measures.keys() == {f"1{each.patient:04}" for each in staying}
        for each in staying:
            volume = measures[f"1{each.patient:04}"].volume
            found = volume.first_ml, volume.stay_best_ml, volume.previous_best_ml
            assert found == counted(each, shift), each
            due = measures[f"1{each.patient:04}"].adherence.breaths_due
            assert due == pytest.approx(each.due(shift)), each


def test_the_month_has_what_it_is_to_test() -> None:
    stays, _ = month()
    seen = range(3, SHIFTS, 4)
    second = [each for each in stays if sum(it.patient == each.patient for it in stays) == 2][1::2]
    assert len([each for each in second if any(map(each.unit_in, seen))]) == BACK
    moved = [each for each in stays if each.moved > each.first and each not in second]
    assert len([each for each in moved if any(each.unit_in(it) == WARD for it in seen)]) == MOVED
    assert {each.moved > each.first for each in second} == {True, False}
    assert {each.says_left for each in second} == {True, False}
    in_seen = [one for each in stays for one in each.changes if one.shift in seen]
    assert {one.way for one in in_seen} == {*WAYS}

"""Where each patient was, shift by shift, and when the patient left, from one unit's logs.

Input: the usable logs of a unit, and the time of its hand-over. Output: a `Ward`; a patient's
`Run`s are unbroken series of shifts that list the patient. Of other units it needs only the times
at which they charted a patient who had left. A `left` row is doubted and ends nothing where the
unit charts the patient later: taking a present patient for gone is the greater danger.
"""

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Container, Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from itertools import pairwise

from msgspec.structs import replace

from handoff.log.names import person_keys
from handoff.model.findings import Place
from handoff.model.frozen import Frozen
from handoff.model.ward import NO_SIGNS, OF_SOMEBODY_GONE, Entry, Log, Patient, Shift, What

LONGEST_OVERLAP = timedelta(hours=1)  # of two shifts, to hand over in: common practice

SOON_BACK = timedelta(hours=24)  # after a `left` row, with the same order: common practice

ANOTHER_STAY = timedelta(days=7)  # after the last shift with an order: common practice


# A doubted `left` row, and the time and place of the patient's next trace.
DoubtedRow = tuple[Entry, datetime, Place]


class Listed(Frozen):
    """One shift that lists a patient, and the patient's entries in its log.

    `number` counts the unit's logs that list somebody, in time order.
    """

    number: int
    unit: str
    shift: Shift
    patient: Patient
    entries: tuple[Entry, ...]


class Run(Frozen, eq=False):
    """An unbroken series of shifts of one unit that list a patient, and how it ended.

    `left` is the row that says that the patient left. `left_out` is True where later logs of the
    unit do not list the patient. `ordered_anew` is True where the order is one of a new stay,
    unless another unit had the patient between.
    """

    listed: tuple[Listed, ...]
    left: Entry | None
    left_out: bool
    ordered_anew: bool

    @property
    def first(self) -> Shift:
        """The first shift that lists the patient."""
        return self.listed[0].shift

    @property
    def last(self) -> Shift:
        """The last shift that lists the patient."""
        return self.listed[-1].shift

    @property
    def entries(self) -> Iterator[Entry]:
        """The patient's rows in the logs of these shifts."""
        return (entry for each in self.listed for entry in each.entries)


class Ward(Frozen):
    """One unit's logs, and the shifts that list each patient, by id.

    `as_of` is None where no hand-over can be made. `shifts` are those of the logs that list
    somebody: a log without patients says nothing about anybody's presence.
    """

    name: str
    logs: tuple[Log, ...]
    as_of: datetime | None
    shifts: tuple[Shift, ...]
    listed: Mapping[str, tuple[Listed, ...]]

    @property
    def latest(self) -> Log:
        """The log of the shift that is handed over."""
        return self.logs[-1]

    @property
    def people(self) -> frozenset[object]:
        """The keys of all people that its logs list."""
        of_all = (each.patient for listed in self.listed.values() for each in listed)
        return frozenset(key for each in of_all for key in (each.id, *person_keys(each)))

    def only(self, people: Container[object]) -> "Ward":
        """The ward with these people alone: all that another unit may ask. Of the logs only the
        latest is kept, with its shift and these patients.
        """
        listed = {
            patient_id: of_one
            for patient_id, of_one in self.listed.items()
            if patient_id in people
            or any(key in people for each in of_one for key in person_keys(each.patient))
        }
        patients = tuple(each for each in self.latest.patients if each.id in listed)
        bare = replace(self.latest, patients=patients, entries=(), set_aside=(), findings=())
        return replace(self, logs=(bare,), listed=listed)


def ward_of(logs: tuple[Log, ...], as_of: datetime | None) -> Ward:
    """The ward of a unit's usable logs."""
    telling = [log for log in logs if log.patients]
    listed: defaultdict[str, list[Listed]] = defaultdict(list)
    for number, log in enumerate(telling):
        entries: defaultdict[str, list[Entry]] = defaultdict(list)
        for entry in log.entries:
            entries[entry.patient_id].append(entry)
        for patient in log.patients:
            own = tuple(entries[patient.id])
            unit = logs[-1].unit.name
            listed[patient.id].append(Listed(number, unit, log.shift, patient, own))
    return Ward(
        name=logs[-1].unit.name,
        logs=logs,
        as_of=as_of,
        shifts=tuple(log.shift for log in telling),
        listed={patient_id: tuple(of_one) for patient_id, of_one in listed.items()},
    )


def left_rows(
    ward: Ward, patient_id: str, elsewhere: Sequence[datetime]
) -> tuple[list[Entry], list[DoubtedRow]]:
    """The `left` rows that hold, in time order, and the doubted ones. A row is doubted where the
    patient is charted after it, or is soon on the list again with an older order; unless another
    unit charted the patient between. `elsewhere` are the times at which other units charted the
    patient.
    """
    listed = ward.listed[patient_id]
    until = ward.latest.shift.start if ward.as_of is None else ward.as_of
    entries = [entry for each in listed for entry in each.entries if entry.at <= until]
    left = [entry for entry in entries if entry.what is What.LEFT]
    if not left:
        return [], []
    starts = [each.shift.start for each in listed]
    seen = [each for each in entries if each.what not in OF_SOMEBODY_GONE or each.signs != NO_SIGNS]
    stands: list[Entry] = []
    doubted: list[DoubtedRow] = []
    for entry in sorted(left, key=entry_order):
        again = bisect_left(starts, entry.at)
        end = starts[again] if again < len(starts) else None
        after = [each for each in seen if entry.at < each.at and (end is None or each.at < end)]
        following = listed[again] if again < len(listed) else None
        if after:
            first = min(after, key=entry_order)
            doubted.append((entry, first.at, first.place))
        elif following and _goes_on(entry, following, elsewhere):
            doubted.append((entry, following.shift.start, following.patient.place))
        else:
            stands.append(entry)
    return stands, doubted


def _goes_on(left: Entry, following: Listed, elsewhere: Sequence[datetime]) -> bool:
    """Whether a list soon after a `left` row has the patient again, with an order from
    before it.
    """
    orders, start = following.patient.orders, following.shift.start
    if start - left.at > SOON_BACK or not orders or orders[0].start > left.at:
        return False
    return not any(left.at < at <= start for at in elsewhere)


def runs_of(
    ward: Ward, patient_id: str, left_rows: Sequence[Entry], elsewhere: Sequence[Shift]
) -> tuple[Run, ...]:
    """The runs of a patient, in time order.

    A run ends where the patient left, where a log does not list the patient, where a shift of
    `elsewhere` is between two of this unit, and where an order starts long after the last one.
    """
    listed = ward.listed[patient_id]
    starts = [each.shift.start for each in listed]
    late = _ordered_late(listed)
    # By the number of listings before the row; of several rows the last.
    left = {bisect_left(starts, entry.at): entry for entry in left_rows}
    ends = [
        place
        for place, (one, following) in enumerate(pairwise(listed), 1)
        if place in left
        or following.number > one.number + 1
        or place in late
        or any(
            one.shift.end - LONGEST_OVERLAP <= shift.start
            and shift.end <= following.shift.start + LONGEST_OVERLAP
            for shift in elsewhere
        )
    ]
    runs = []
    for start, end in pairwise([0, *ends, len(listed)]):
        left_out = listed[end - 1].number + 1 < len(ward.shifts)
        anew = start > 0 and _ordered_anew(listed, start, end, late)
        runs.append(Run(listed[start:end], left.get(end), left_out, anew))
    return tuple(runs)


def _ordered_late(listed: Sequence[Listed]) -> frozenset[int]:
    """The listings with an order that starts long after the last shift before with one."""
    late: set[int] = set()
    ended = None
    for place, each in enumerate(listed):
        orders = each.patient.orders
        if orders and ended and orders[0].start - ended > ANOTHER_STAY:
            late.add(place)
        ended = each.shift.end if orders else ended
    return frozenset(late)


def _ordered_anew(listed: Sequence[Listed], start: int, end: int, late: frozenset[int]) -> bool:
    """Whether the run from `start` to `end` has the order of a new stay: its first order starts
    long after the last one; or a log between leaves the patient out, and it starts after the last
    shift before.
    """
    ordered = (place for place in range(start, end) if listed[place].patient.order)
    first = next(ordered, None)
    if first is None:
        return False
    order, before = listed[first].patient.orders[0], listed[start - 1]
    was_left_out = listed[start].number > before.number + 1
    is_new = order.start >= before.shift.end
    return (was_left_out and is_new) or first in late


def entry_order(entry: Entry) -> tuple[datetime, str, int]:
    """The sort key of entries: time, then place in the file."""
    return entry.at, *entry.place.order

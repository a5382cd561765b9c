"""Each patient's present stay in the given logs, and the patients who are gone.

Input: one unit's `Ward`, and the `Whereabouts` of the patients of all units. Output: a `Stay` for
each patient, and the `Departures`. Never counts entries of an earlier stay in this one.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from itertools import pairwise

from msgspec.structs import replace

from handoff.gather.presence import Listed, Run, Ward, entry_order
from handoff.gather.transfers import Whereabouts
from handoff.log.entries import repeats
from handoff.model.frozen import Frozen
from handoff.model.ward import Earlier, Entry, Gap, Listing, Order, Patient, Shift, What, order_at

# A shorter time between two shifts is a late start or an early end: common practice.
SHORTEST_GAP = timedelta(minutes=60)
LONGEST_SHIFT = timedelta(hours=24)  # no log's shift is longer


class Return(Frozen):
    """A `left` row within a stay, and the start of the order with which the patient came back."""

    left: Entry
    start: datetime


class Stay(Frozen):
    """One patient's present stay: the shifts that list them, in time order, and its entries.

    `start` is the earliest order start, None without any order. `before` are the shifts of the stay
    that ended before this one began, and `entries_before` its entries. `left` is the row that says
    so; without it the order does. Of the times in `returns` the patient was gone. Who left and came
    back from another unit whose logs are given was away.
    """

    listed: tuple[Listed, ...]
    entries: tuple[Entry, ...]
    start: datetime | None
    before: tuple[Listed, ...]
    entries_before: tuple[Entry, ...]
    left: Entry | None
    returns: tuple[Return, ...] = ()

    @property
    def last_order(self) -> Order | None:
        """The last order, as in the last shift that has it."""
        for each in reversed(self.listed):
            if each.patient.order:
                order = order_at(each.patient.orders, each.shift.end)
                return replace(order, stop=min(order.stop or each.shift.end, each.shift.end))
        return None


class Departures(Frozen):
    """Patients who left in this shift, by id, and patients gone from this list or the one before.

    `left` are the rows that say so. A patient whom another unit lists next is not gone.
    """

    in_this_shift: Mapping[str, Entry]
    gone: tuple[Patient, ...]
    left: Mapping[str, Entry]


def stay_of(ward: Ward, whereabouts: Whereabouts, patient_id: str, run: Run | None = None) -> Stay:
    """The patient's stay, up to the last shift of this unit that lists them; or up to the end of an
    earlier run of theirs.
    """
    present = run or whereabouts.runs[ward.name][patient_id][-1]
    everywhere = whereabouts.everywhere[ward.name][patient_id]
    ended = {run: whereabouts.ended[run] for run in everywhere if run in whereabouts.ended}
    earlier, began_after = _ended_before(present, ended)
    listed = whereabouts.up_to(present, began_after)
    before = whereabouts.up_to(earlier, _ended_before(earlier, ended)[1]) if earlier else ()
    start = listed[0].shift.start
    # A late-charted row counts by its time. For rows between two stays, their log decides.
    dated = [(entry, began_after and entry.at < began_after) for entry in _entries(listed, ward)]
    dated += ((entry, entry.at <= start) for entry in _entries(before, ward))
    orders = [each.patient.orders[0].start for each in listed if each.patient.orders]
    first_order = min(orders, default=None)
    if first_order and began_after:
        first_order = max(first_order, began_after)
    away = {id(row): at for each in whereabouts.back.values() for row, at, _ in each}
    entries = tuple(
        replace(entry, what=What.AWAY, until=away[id(entry)]) if id(entry) in away else entry
        for entry in sorted((entry for entry, is_old in dated if not is_old), key=entry_order)
    )
    doubted = {id(row) for each in whereabouts.doubted.values() for row, *_ in each}
    return Stay(
        listed=listed,
        entries=entries,
        start=first_order,
        before=before,
        entries_before=tuple(sorted((each for each, is_old in dated if is_old), key=entry_order)),
        left=earlier.left if earlier else None,
        returns=tuple(_returns(listed, entries, doubted, ward)),
    )


def _returns(
    listed: Sequence[Listed], entries: Sequence[Entry], doubted: Container[int], ward: Ward
) -> Iterator[Return]:
    """The doubted `left` rows that an order follows, without an exercise between: who never left
    goes on with the exercise. Signs may be seen before the order is written.
    """
    until = ward.as_of or ward.latest.shift.start
    starts = sorted(order.start for each in listed for order in each.patient.orders)
    done = [each.at for each in entries if each.what in {What.EXERCISE, What.DECLINED}]
    for entry in entries:
        start = next((each for each in starts if entry.at < each <= until), None)
        if id(entry) in doubted and start and not any(entry.at < at < start for at in done):
            yield Return(entry, start)


def _ended_before(run: Run, ended: Mapping[Run, datetime]) -> tuple[Run | None, datetime | None]:
    """The last run with which a stay ended before another run begins, and when it ended."""
    before = [each for each, at in ended.items() if at <= run.first.start]
    last = max(before, key=ended.__getitem__, default=None)
    return last, ended[last] if last else None


def _entries(listed: Sequence[Listed], ward: Ward) -> Iterator[Entry]:
    """The entries of these shifts; an entry in two units' logs is this unit's."""
    own = [entry for each in listed if each.unit == ward.name for entry in each.entries]
    others = [entry for each in listed if each.unit != ward.name for entry in each.entries]
    twice = {id(entry) for entry, _ in repeats([*own, *others])} if others else set()
    return (entry for entry in [*own, *others] if id(entry) not in twice)


def departures(ward: Ward, whereabouts: Whereabouts, earlier: Earlier | None) -> Departures:
    """The patients who are gone when the shift is handed over."""
    runs = whereabouts.runs[ward.name]
    in_this_shift = {}
    patients = {}
    for patient in ward.latest.patients:
        left = runs[patient.id][-1].left
        if left:
            in_this_shift[patient.id] = left
            patients[patient.id] = patient
    listed = {patient.id for patient in ward.latest.patients}
    # A shift that overlaps with the latest was not yet handed over: its list counts too.
    lists = [log for log in ward.logs[:-1] if earlier is None or log.shift.end > earlier.shift.end]
    on_lists = [(each.id, each) for log in lists for each in log.patients]
    on_lists += earlier.patients.items() if earlier else []
    patients |= {key: each for key, each in on_lists if key not in listed}
    gone = {key: each for key, each in patients.items() if runs[key][-1] not in whereabouts.led_on}
    left_at = {key: runs[key][-1].left for key in gone}
    return Departures(
        in_this_shift,
        tuple(gone.values()),
        {key: entry for key, entry in left_at.items() if entry},
    )


def gaps_of(stay: Stay, whereabouts: Whereabouts) -> tuple[Gap, ...]:
    """The times between two shifts of the stay for which neither unit has a log.

    A log that lists only others covers its time: the patient was not there.
    """
    gaps: list[Gap] = []
    for one, following in pairwise(stay.listed):
        end, start = one.shift.end, following.shift.start
        if start - end >= SHORTEST_GAP:
            units = {one.unit, following.unit}
            between: list[Shift] = []  # which may reach into this time, and perhaps some before it
            for shifts in (whereabouts.shifts[unit] for unit in units):
                first = bisect_left(shifts, end - LONGEST_SHIFT, key=lambda shift: shift.start)
                last = bisect_right(shifts, start, key=lambda shift: shift.start)
                between += shifts[first:last]
            gaps += uncovered(end, start, between)
    return tuple(gaps)


def uncovered(start: datetime, end: datetime, shifts: Iterable[Shift]) -> Iterator[Gap]:
    """The times from `start` to `end` in none of these shifts, but for short ones."""
    known_to = start
    for shift in sorted(shifts, key=lambda shift: (shift.start, shift.end)):
        if shift.start - known_to >= SHORTEST_GAP:
            yield Gap(known_to, shift.start)
        known_to = max(known_to, shift.end)
    if end - known_to >= SHORTEST_GAP:
        yield Gap(known_to, end)


def listings_of(listed: Sequence[Listed]) -> tuple[Listing, ...]:
    """The shifts as a hand-over has them."""
    return tuple(Listing(each.unit, each.shift, each.patient) for each in listed)


def lapsed_orders(patients: Sequence[Patient], stays: Mapping[str, Stay]) -> dict[str, Order]:
    """The last order of each patient who has none now, or one without a known start. Where there
    was none before either, an order by which nothing is due: dangers are judged all the same.
    """
    orders = {}
    for patient in patients:
        stay = stays[patient.id]
        start = stay.listed[-1].shift.start
        nothing_due = Order(start, stop=start) if patient.order_lacks_start else None
        order = stay.last_order or nothing_due
        if patient.order is None and order:
            orders[patient.id] = order
    return orders


def from_elsewhere(
    ward: Ward, patients: Sequence[Patient], stays: Mapping[str, Stay]
) -> frozenset[str]:
    """Patients listed in this shift only, though earlier logs are given."""
    if len(ward.shifts) == 1:
        return frozenset()
    return frozenset(patient.id for patient in patients if len(stays[patient.id].listed) == 1)

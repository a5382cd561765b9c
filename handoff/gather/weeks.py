"""Every stay that the logs of one unit tell of, over weeks.

Input: one unit's `Ward`, and those of other units that list one of its people. Output: of each stay
with an order its hand-over, at the end of its last shift here, with this one patient. What the logs
say of a stay is read by the same rules as for the latest hand-over.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, time, timedelta

from msgspec.structs import replace

from handoff.gather.orders import carry_on, periods_of_stay
from handoff.gather.presence import Run, Ward
from handoff.gather.stays import (
    Return,
    Stay,
    gaps_of,
    lapsed_orders,
    listings_of,
    stay_of,
    uncovered,
)
from handoff.gather.transfers import Whereabouts, find_whereabouts
from handoff.model.review import Ending, Period
from handoff.model.ward import NONE_READ, Gap, Handover, Log, SetAside, Shift

ONE_DAY = timedelta(days=1)


def stays_over_weeks(ward: Ward, others: Sequence[Ward]) -> Iterator[tuple[Handover, Ending]]:
    """Each stay with an order, and how it ended; of one patient the last stay first.

    A stay that came from another unit has the shifts and entries of both. One that moved on ends
    with its last shift here.
    """
    weeks = _Weeks(ward, find_whereabouts([ward, *others]))
    for patient_id in ward.listed:
        following: datetime | None = None  # the start of the stay after this one
        for run in reversed(weeks.whereabouts.runs[ward.name][patient_id]):
            if following and run.first.start >= following:
                continue
            stay = stay_of(ward, weeks.whereabouts, patient_id, run)
            handover = weeks.handover(run, stay, following)
            following = stay.listed[0].shift.start
            if handover:
                yield handover, weeks.ending(run)


def gaps_of_weeks(logs: Sequence[Log], period: Period) -> tuple[Gap, ...]:
    """The times of the period without a log, but for short ones. A whole day without one is a gap
    also before the first log and after the last.
    """
    zone = logs[-1].unit.time_zone
    begins, ends = (
        datetime.combine(day, time(), tzinfo=zone).astimezone(UTC)
        for day in (period.first, period.last + ONE_DAY)
    )
    shifts = sorted((log.shift for log in logs), key=lambda shift: (shift.start, shift.end))
    in_period = [each for each in shifts if each.end > begins and each.start < ends]
    if not in_period:
        return (Gap(begins, ends),)
    first, last = in_period[0].start, max(each.end for each in in_period)
    begins = begins if first - begins >= ONE_DAY else min(first, ends)
    ends = ends if ends - last >= ONE_DAY else last
    return tuple(uncovered(begins, ends, in_period))


class _Weeks:
    """A unit's logs and rows set aside, by shift, to find those of each stay."""

    def __init__(self, ward: Ward, whereabouts: Whereabouts) -> None:
        self.whereabouts = whereabouts
        self._ward = ward
        # A stay's rows are in its hand-over, and of its logs only what is set aside counts.
        self._logs = {
            log.shift: replace(log, patients=(), entries=(), findings=()) for log in ward.logs
        }
        self._aside: defaultdict[tuple[str | None, Shift], list[SetAside]] = defaultdict(list)
        for log in ward.logs:
            for row in log.set_aside:
                self._aside[row.patient_id, log.shift].append(row)

    def ending(self, run: Run) -> Ending:
        """How the stay ended that this run of shifts ends."""
        if run.left:
            return Ending.LEFT
        if run in self.whereabouts.led_on:
            return Ending.MOVED
        return Ending.HERE if run.last == self._ward.shifts[-1] else Ending.NOT_LISTED

    def handover(self, run: Run, stay: Stay, following: datetime | None) -> Handover | None:
        """The hand-over of one patient at the end of a stay; None where nothing was ever ordered.

        What is charted after the last shift's end, such as who was told, counts too. An order ends
        where the patient left. An entry after `following` is of the next stay.
        """
        ward = self._ward
        known = carry_on(stay.listed, stay.returns)
        listings = listings_of(known)
        shift, patient = listings[-1].shift, listings[-1].patient
        returns = [*stay.returns, *([Return(run.left, run.left.at)] if run.left else [])]
        periods = periods_of_stay(known, returns)
        if stay.start is None or not periods:
            return None
        entries = tuple(each for each in stay.entries if following is None or each.at < following)
        as_of = max([shift.end, *(entry.at for entry in entries[-1:])])
        if shift == ward.latest.shift and ward.as_of:
            as_of = ward.as_of
        shifts = dict.fromkeys(each.shift for each in listings)  # one may be two units'
        own = tuple(self._logs[each] for each in shifts if each in self._logs)
        aside = (row for log in own for row in self._aside.get((patient.id, log.shift), ()))
        gaps = gaps_of(stay, self.whereabouts)
        return Handover(
            unit=replace(self._logs[run.last].unit, name=ward.name),
            shift=shift,
            as_of=as_of,
            patients=(patient,),
            entries={patient.id: entries},
            stay_start={patient.id: stay.start},
            shifts=tuple(each.shift for each in listings),
            counts=NONE_READ,
            set_aside=tuple(aside),
            logs=own,
            listings={patient.id: listings},
            gaps={patient.id: gaps} if gaps else {},
            left={patient.id: run.left} if run.left else {},
            lapsed=lapsed_orders([patient], {patient.id: stay}),
            periods={patient.id: periods},
        )

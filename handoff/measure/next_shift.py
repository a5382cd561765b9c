"""The hours of the next shift, and in which of them breaths will be due.

Input: the hand-over, its patients. Output: `NextShift`. Knows only what is known now: an order, a
hold or a sleep that is charted later changes it.
"""

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime

from msgspec.structs import replace

from handoff.measure.shift import UNAVAILABLE, Stay, cut, not_due, quiet_spans, sort_entries
from handoff.measure.spans import outside
from handoff.model.measures import NextShift, RoundHour, Span
from handoff.model.ward import Handover, Shift


def measure_next_shift(handover: Handover) -> NextShift:
    """The hours of the shift that takes over, counted in real time from its start, and those of
    each patient with an order.

    A hold without an end lasts over the whole shift, an order without a stop too.
    """
    shift = shift_after(handover)
    quiet = quiet_spans(handover.unit, Span(shift.start, shift.end))
    hours = cut(shift, 1)
    of_patient, away = {}, {}
    for patient in handover.patients:
        if patient.order is None:
            continue
        stay = replace(sort_entries(handover, patient), until=shift.end)
        idle = tuple(not_due(shift, quiet, stay))
        spans = [each.span for each in idle]
        of_patient[patient.id] = tuple(
            RoundHour(hour, bool(outside(hour, spans)), begins)
            for hour, begins in zip(hours, _begins(hours, stay), strict=True)
        )
        away[patient.id] = tuple(
            each for each in idle if each.entry and each.entry.what in UNAVAILABLE
        )
    return NextShift(shift, tuple(hours), of_patient, away)


def _begins(hours: Sequence[Span], stay: Stay) -> Iterator[bool]:
    """Whether a span of the order begins with each hour: they are counted from the shift's start,
    and anew from the hour in which an order begins that asks more or less often.
    """
    readable = [each for each in stay.periods if each.is_readable] or [stay.order]
    count, every_h = 0, 0
    for hour in hours:
        begun = [each for each in readable if each.start < hour.end]
        now_h = (begun[-1] if begun else readable[0]).every_h
        count = count + 1 if now_h == every_h else 0
        every_h = now_h
        yield count % every_h == 0


def shift_after(handover: Handover) -> Shift:
    """The shift from the end of this one on. By the clock it is as long as the last given shift
    that began at the same time of day, whose name it has too; without one, as long as this one.
    """
    zone = handover.unit.time_zone

    def wall(instant: datetime) -> datetime:
        return instant.astimezone(zone).replace(tzinfo=None)

    start = wall(handover.shift.end)
    alike = [each for each in handover.shifts if wall(each.start).time() == start.time()]
    like = alike[-1] if alike else handover.shift
    length = wall(like.end) - wall(like.start)
    end = (start + length).replace(tzinfo=zone).astimezone(UTC)
    if end <= handover.shift.end:  # less than the hour that the clock goes back
        end = handover.shift.end + (like.end - like.start)
    return Shift(handover.shift.end, end, alike[-1].name if alike else None)

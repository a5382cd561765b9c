"""The times of the coming day at which breaths are due, by the orders known now.

Input: a hand-over, one patient's measures. Output: `Coming`. Nothing of it is done
yet: it counts nothing.
"""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

from handoff.measure.shift import quiet_spans
from handoff.measure.spans import outside
from handoff.model.measures import Coming, Measures, Span, Turns
from handoff.model.ward import Handover, Order

ONE_DAY = timedelta(days=1)  # a card is printed anew each day


def find_coming(handover: Handover, measures: Measures) -> Coming:
    """The turns from the next slot on, to the same clock time of the next day, for each order of
    that time.

    The first turn of an order is at that slot or at the order's own start, each other one `every_h`
    hours after the one before; one that would be in quiet hours is at their end. An order that
    cannot be read has none, since it is not known how many breaths are due. One that can be read,
    and ends before its first turn, is left out.
    """
    start = _next_slot(handover, measures.order)
    ends = start.astimezone(handover.unit.time_zone) + ONE_DAY
    day = Span(start, ends.astimezone(UTC))
    awake = outside(day, quiet_spans(handover.unit, day))
    found = []
    for order in measures.periods:
        ends = min(order.stop or day.end, day.end)
        if ends <= day.start or order.start >= day.end:
            continue
        in_order = [Span(max(each.start, order.start), min(each.end, ends)) for each in awake]
        starts = tuple(_turns(start, order.every_h, in_order)) if order.is_readable else ()
        if starts or not order.is_readable:
            found.append(Turns(order, starts))
    return Coming(measures, tuple(found))


def _next_slot(handover: Handover, order: Order) -> datetime:
    """The start of the first slot that begins at `as_of` or later, counted from the start of the
    shift, or of an order that began in it; the next shift's first one at the latest.
    """
    shift, as_of = handover.shift, handover.as_of
    step, first = timedelta(hours=order.every_h), max(shift.start, order.start)
    begun = -((first - as_of) // step)  # rounded up
    return max(as_of, min(first + begun * step, shift.end))


def _turns(at: datetime, every_h: int, available: list[Span]) -> Iterator[datetime]:
    """From `at` on, every `every_h` hours, or at the next available time after that."""
    for each in available:
        at = max(at, each.start)
        while at < each.end:
            yield at
            at += timedelta(hours=every_h)

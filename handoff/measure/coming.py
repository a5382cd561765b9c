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

    A turn is a span of `every_h` hours, or the part of it outside quiet hours and in the order's
    time, that has any minute left; its time is the first such minute. An order that cannot be read
    has none, since it is not known how many breaths are due.
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
        starts = tuple(_turns(day, order.every_h, in_order)) if order.is_readable else ()
        found.append(Turns(order, starts))
    return Coming(measures, tuple(found))


def _next_slot(handover: Handover, order: Order) -> datetime:
    """The start of the first slot that begins at `as_of` or later; the next shift's first one at
    the latest.
    """
    shift, as_of = handover.shift, handover.as_of
    step = timedelta(hours=order.every_h)
    begun = -((shift.start - as_of) // step)  # rounded up
    return max(as_of, min(shift.start + begun * step, shift.end))


def _turns(day: Span, every_h: int, available: list[Span]) -> Iterator[datetime]:
    step = timedelta(hours=every_h)
    start = day.start
    while start < day.end:
        slot = Span(start, min(start + step, day.end))
        parts = (Span(max(each.start, slot.start), min(each.end, slot.end)) for each in available)
        first = next((each.start for each in parts if each.seconds), None)
        if first is not None:
            yield first
        start += step

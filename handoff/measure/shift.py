"""Which entry counts where, how the shift is cut into slots, and when breaths could be due.

Enters: the `Handover`. Leaves: a `Stay` for each ordered patient, slots, quiet and available spans.
Never measures. Local time is used for one thing, the unit's quiet hours, and leaves as UTC.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from handoff.measure.spans import Span, outside
from handoff.model import Entry, Handover, Order, Patient, Shift, Unit, What

UNAVAILABLE = (What.AWAY, What.ASLEEP)
ONE_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Stay:
    """One patient's stay: the order in force, and the entries in time order, by where they count.

    `known` is every entry of every log. `drawn` are those up to `as_of`; `counted` are those of
    them from the stay's start on: only these take part in a number. `in_shift` are the counted ones
    that fall in the shift; `cautions` are all that fall in the shift, also before the stay.
    """

    patient: Patient
    order: Order
    start: datetime
    known: tuple[Entry, ...]
    drawn: tuple[Entry, ...]
    counted: tuple[Entry, ...]
    in_shift: tuple[Entry, ...]
    cautions: tuple[Entry, ...]


def sort_entries(handover: Handover, patient: Patient, order: Order) -> Stay:
    """Sort a patient's entries by where they count; an entry belongs where its `at` lies.

    The shift's start is in it and its end is not; `as_of` and the stay's start are in.
    """
    shift, stay_start = handover.shift, handover.stay_start[patient.id]
    known = handover.entries_of(patient)
    drawn = tuple(entry for entry in known if entry.at <= handover.as_of)
    cautions = tuple(entry for entry in drawn if shift.start <= entry.at < shift.end)
    return Stay(
        patient=patient,
        order=order,
        start=stay_start,
        known=known,
        drawn=drawn,
        counted=tuple(entry for entry in drawn if entry.at >= stay_start),
        in_shift=tuple(entry for entry in cautions if entry.at >= stay_start),
        cautions=cautions,
    )


def cut(shift: Shift, every_h: int) -> list[Span]:
    """The shift in slots of `every_h` real hours from its start; the last may be short."""
    step = timedelta(hours=every_h)
    whole, rest = divmod(shift.end - shift.start, step)
    starts = [shift.start + number * step for number in range(whole + bool(rest))]
    return [Span(start, min(start + step, shift.end)) for start in starts]


def quiet_spans(unit: Unit, window: Span) -> list[Span]:
    """The unit's quiet hours on every local day that reaches into the window, as UTC spans.

    Each border is that day's local clock time. One that the clock skips is read with the offset
    from before the change (02:30 of a skipped hour is 03:30); one that occurs twice is its first
    occurrence (PEP 495, fold 0). Hours that end before they start run over midnight; hours that
    end as they start are empty.
    """
    if unit.quiet_hours is None:
        return []
    # The quiet hours of the day before may run over midnight into the window.
    first = window.start.astimezone(unit.time_zone).date() - ONE_DAY
    last = window.end.astimezone(unit.time_zone).date()
    days = [first + number * ONE_DAY for number in range((last - first).days + 1)]
    since, until = unit.quiet_hours
    nights = ONE_DAY if until < since else timedelta()
    return [
        Span(_instant(day, since, unit.time_zone), _instant(day + nights, until, unit.time_zone))
        for day in days
    ]


def due_window(start: datetime, order: Order, as_of: datetime) -> Span:
    """From `start` to the order's stop or `as_of`, the earlier; empty where that is before it."""
    return Span(start, min(order.stop or as_of, as_of))


def away_or_asleep(stay: Stay) -> list[tuple[Entry, Span]]:
    """The entries that take time out of what is due, each with its span.

    They count wherever the span began: also before the shift, or before the stay.
    """
    return [
        (entry, Span(entry.at, entry.until))
        for entry in stay.known
        if entry.what in UNAVAILABLE and entry.until is not None
    ]


def available_spans(window: Span, quiet: Iterable[Span], stay: Stay) -> list[Span]:
    """The parts of the window in which breaths can be due: awake, on the unit, not quiet hours."""
    return outside(window, [*quiet, *(span for _, span in away_or_asleep(stay))])


def _instant(day: date, clock: time, zone: ZoneInfo) -> datetime:
    return datetime.combine(day, clock, tzinfo=zone).astimezone(UTC)

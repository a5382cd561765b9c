"""Sorts entries by where they count, cuts the shift into slots, finds when breaths could be due.

Input: the `Handover`. Output: a `Stay` for each ordered patient, slots, quiet and available spans.
Never measures. Local time is used only for the unit's quiet hours, and the output is UTC.
"""

from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from handoff.measure.spans import outside
from handoff.model.frozen import Frozen
from handoff.model.measures import Hold, NotDue, Span
from handoff.model.ward import Entry, Handover, Order, Patient, Shift, Unit, What, order_at

UNAVAILABLE = (What.AWAY, What.ASLEEP)
LATER = "later than 'data as of'"  # a reason why nothing is due
ONE_DAY = timedelta(days=1)


class Stay(Frozen):
    """One patient's stay: the order in force at `as_of`, the periods of all orders of the stay, and
    the entries in time order, by where they count.

    `known` is every entry of every log. `drawn` are those up to `as_of`. `counted` are the drawn
    ones from the stay's start on: only these count in a number. `in_shift` are the counted ones in
    the shift. `cautions` are all in the shift, also before the stay, and those of the time before
    the shift that no log covers. `holds` are those charted in the stay, in time order.
    """

    patient: Patient
    order: Order
    periods: tuple[Order, ...]
    start: datetime
    until: datetime  # `as_of`
    known: tuple[Entry, ...]
    drawn: tuple[Entry, ...]
    counted: tuple[Entry, ...]
    in_shift: tuple[Entry, ...]
    cautions: tuple[Entry, ...]
    holds: tuple[Hold, ...]


def sort_entries(handover: Handover, patient: Patient) -> Stay:
    """Sort a patient's entries by where they count: an entry belongs to the time of its `at`.

    The shift includes its start and not its end; `as_of` and the stay's start are included.
    """
    shift, periods = handover.shift, handover.periods_of(patient)
    stay_start = handover.stay_start.get(patient.id, periods[0].start)
    known = handover.entries_of(patient)
    drawn = tuple(entry for entry in known if entry.at <= handover.as_of)
    judged_from = handover.judged_from(patient)
    cautions = tuple(entry for entry in drawn if judged_from <= entry.at < shift.end)
    counted = tuple(entry for entry in drawn if entry.at >= stay_start)
    return Stay(
        patient=patient,
        order=order_at(periods, handover.as_of),
        periods=periods,
        start=stay_start,
        until=handover.as_of,
        known=known,
        drawn=drawn,
        counted=counted,
        in_shift=tuple(each for each in cautions if each.at >= max(stay_start, shift.start)),
        cautions=cautions,
        holds=holds_of(counted),
    )


def holds_of(entries: Sequence[Entry]) -> tuple[Hold, ...]:
    """Each charted hold: it lasts until the first `resume` by staff after it, or its own end."""
    resumed = [each.at for each in entries if each.what is What.RESUME and each.by_staff]
    held = [entry for entry in entries if entry.what is What.HOLD]
    ends = [
        [at for at in (*resumed, hold.until) if at is not None and at > hold.at] for hold in held
    ]
    return tuple(
        Hold(hold.at, min(of_hold, default=None), hold)
        for hold, of_hold in zip(held, ends, strict=True)
    )


def hold_in_force(holds: Sequence[Hold], as_of: datetime) -> Hold | None:
    """The hold in force at `as_of`: holds that overlap or touch count as one."""
    in_force = [each for each in holds if each.until is None or each.until > as_of]
    if not in_force:
        return None
    since = in_force[0].since
    for each in reversed(holds):
        if each.until is None or each.until >= since:
            since = min(since, each.since)
    ends = [each.until for each in in_force if each.until is not None]
    until = max(ends) if len(ends) == len(in_force) else None
    return Hold(since, until, in_force[-1].entry)


def exercised_on_hold(stay: Stay) -> list[tuple[Entry, Hold]]:
    """The exercises begun during a hold, among the entries that cautions read, each
    with its hold.
    """
    both = []
    for entry in stay.cautions:
        hold = hold_in_force([each for each in stay.holds if each.since < entry.at], entry.at)
        if entry.is_exercise and hold:
            both.append((entry, hold))
    return both


def first_of_shift(shift: Shift, stay: Stay) -> Order:
    """The first order in force in the shift whose slots are known; the one at `as_of` else."""
    in_shift = (
        each
        for each in stay.periods
        if each.is_readable
        and each.start < shift.end
        and (each.stop is None or each.stop > shift.start)
    )
    return next(in_shift, stay.order)


def cut(shift: Shift, every_h: int) -> list[Span]:
    """The shift in slots of `every_h` real hours from its start; the last may be short."""
    step = timedelta(hours=every_h)
    whole, rest = divmod(shift.end - shift.start, step)
    starts = [shift.start + number * step for number in range(whole + bool(rest))]
    return [Span(start, min(start + step, shift.end)) for start in starts]


def quiet_spans(unit: Unit, window: Span) -> tuple[Span, ...]:
    """The unit's quiet hours on every local day that reaches into the window, as UTC spans.

    Each border is that day's local clock time. One that the clock skips is read with the offset
    from before the change (02:30 of a skipped hour is 03:30); one that occurs twice is its first
    occurrence (PEP 495, fold 0). Hours that end before they start run over midnight; hours that
    end as they start are empty.
    """
    if unit.quiet_hours is None:
        return ()
    # The quiet hours of the day before may run over midnight into the window.
    first = window.start.astimezone(unit.time_zone).date() - ONE_DAY
    last = window.end.astimezone(unit.time_zone).date()
    days = [first + number * ONE_DAY for number in range((last - first).days + 1)]
    since, until = unit.quiet_hours
    nights = ONE_DAY if until < since else timedelta()
    return tuple(
        Span(_instant(day, since, unit.time_zone), _instant(day + nights, until, unit.time_zone))
        for day in days
    )


def not_due(shift: Shift, quiet: Iterable[Span], stay: Stay) -> Iterator[NotDue]:
    """The parts of the shift in which no breaths are due, and why; they may overlap."""
    for why, span, entry in (
        ("before the order", Span(shift.start, stay.periods[0].start), None),
        *(("quiet hours", span, None) for span in quiet),
        *((str(entry.what), span, entry) for entry, span in unavailable(stay)),
        *((why, span, None) for why, span in without_order(shift, stay)),
    ):
        in_shift = Span(max(span.start, shift.start), min(span.end, shift.end))
        if in_shift.seconds:
            yield NotDue(why, in_shift, entry)


def without_order(shift: Shift, stay: Stay) -> Iterator[tuple[str, Span]]:
    """The times from the first order to the shift's end in which no breaths are due by any, and
    why.
    """
    end = max(shift.end, stay.until)
    starts = [each.start for each in stay.periods[1:]]
    for period, until in zip(stay.periods, [*starts, end], strict=True):
        stop = period.stop or until
        if not period.is_readable:
            yield "the order cannot be read", Span(period.start, stop)
        if stop < stay.until:
            yield "the order has stopped", Span(stop, until)
    yield LATER, Span(stay.until, end)


def unavailable(stay: Stay) -> list[tuple[Entry, Span]]:
    """The entries in whose time no breaths are due, each with its span.

    Away and asleep count wherever the span began, also before the shift or the stay. A hold before
    the stay does not count.
    """
    taken = [
        (entry, Span(entry.at, entry.until))
        for entry in stay.known
        if entry.what in UNAVAILABLE and entry.until is not None
    ]
    held = [(hold.entry, Span(hold.since, hold.until or stay.until)) for hold in stay.holds]
    return [*taken, *held]


def available_spans(shift: Shift, quiet: Iterable[Span], stay: Stay) -> list[Span]:
    """The parts of the stay up to `as_of` in which breaths can be due: ordered, awake, here, not
    held, not quiet.
    """
    no_order = (span for _, span in without_order(shift, stay))
    window = Span(stay.start, stay.until)
    return outside(window, [*quiet, *no_order, *(span for _, span in unavailable(stay))])


def _instant(day: date, clock: time, zone: ZoneInfo) -> datetime:
    return datetime.combine(day, clock, tzinfo=zone).astimezone(UTC)

"""Random hand-overs of one to three patients, every time a whole minute.

Shifts of 1 to 24 h lie on and about clock changes of several zones; entries crowd on the borders of
slots, of the shift, of the stay and of `as_of`, and reach days back.
"""

from datetime import UTC, date, datetime, time, timedelta
from operator import attrgetter
from zoneinfo import ZoneInfo

from hypothesis import strategies as st
from msgspec.structs import replace

from handoff.model.findings import Place
from handoff.model.ward import (
    Counts,
    Entry,
    Flow,
    Handover,
    Order,
    Patient,
    SeenBy,
    Shift,
    Unit,
    What,
)

# The local evening before: the clock goes forward or back that night. Lord Howe moves by half an
# hour, Havana at midnight, Kathmandu stands at +05:45 and never changes.
NIGHTS = {
    "UTC": ["2026-05-12"],
    "America/Halifax": ["2026-03-07", "2026-10-31"],
    "Europe/Berlin": ["2026-03-28", "2026-10-24"],
    "Australia/Lord_Howe": ["2026-04-04", "2026-10-03"],
    "America/Havana": ["2026-03-07", "2026-10-31"],
    "Asia/Kathmandu": ["2026-05-12"],
}
# No zone above changes its clock from 04:00 on, so that each of these is one instant of each day.
QUIET_BORDERS = st.builds(time, st.integers(4, 23), st.sampled_from([0, 15, 40]))
HOUR = timedelta(hours=1)
FLOWS = st.sampled_from([None, None, Flow.STEADY, Flow.FAST, Flow.SLOW, Flow.BLEW, Flow.UNREADABLE])
VOLUMES_ML = st.one_of(st.none(), st.integers(0, 30).map(lambda hundreds: 100.0 * hundreds))
BREATHS = st.one_of(st.none(), st.integers(0, 25))


@st.composite
def units(draw: st.DrawFn, zones: list[str]) -> Unit:
    quiet_hours = draw(st.one_of(st.none(), st.tuples(QUIET_BORDERS, QUIET_BORDERS)))
    return Unit("Harbour 3 East", ZoneInfo(draw(st.sampled_from(zones))), quiet_hours)


@st.composite
def shifts(draw: st.DrawFn, unit: Unit) -> Shift:
    evening = date.fromisoformat(draw(st.sampled_from(NIGHTS[unit.time_zone.key])))
    clock = time(draw(st.integers(5, 23)), draw(st.sampled_from([0, 30])))
    start = datetime.combine(evening, clock, tzinfo=unit.time_zone).astimezone(UTC)
    return Shift(start, start + draw(st.integers(60, 24 * 60)) * timedelta(minutes=1))


def instants(shift: Shift, from_h: int, to_h: int) -> st.SearchStrategy[datetime]:
    """Whole minutes from so many to so many hours after the shift's start, often whole hours."""
    whole_hours = st.integers(from_h, to_h).map(lambda hours: 60 * hours)
    after_min = st.one_of(whole_hours, st.integers(60 * from_h, 60 * to_h))
    return after_min.map(lambda minutes: shift.start + timedelta(minutes=minutes))


@st.composite
def entries(draw: st.DrawFn, patient_id: str, shift: Shift) -> Entry:
    at = draw(instants(shift, -30, 26))
    what = draw(st.sampled_from([What.EXERCISE] * 4 + list(What)))
    length = draw(st.sampled_from([20, 45, 60, 90, 7 * 60]) | st.integers(1, 200))
    is_span = what in (What.AWAY, What.ASLEEP) or draw(st.booleans())
    return Entry(
        patient_id,
        at,
        Place("night.csv", draw(st.integers(2, 99))),
        until=at + timedelta(minutes=length) if is_span else None,
        what=what,
        breaths=draw(BREATHS),
        volume_ml=draw(VOLUMES_ML),
        flow=draw(FLOWS),
        seen_by=draw(st.sampled_from([None, None, SeenBy.NURSE, SeenBy.PATIENT])),
    )


@st.composite
def courses(draw: st.DrawFn, patient_id: str, shift: Shift) -> list[Entry]:
    """A reading about every 12 h, rising, falling or wandering; none, or enough for a trend."""
    gain_ml = draw(st.sampled_from([-80, -20, 0, 30, 50, 80]))
    step = st.tuples(st.integers(0, 11 * 60), st.integers(-4, 4))
    steps = draw(st.just([]) | st.lists(step, min_size=6, max_size=16))
    return [
        Entry(
            patient_id,
            shift.start - timedelta(hours=12 * number, minutes=-minutes),
            Place("earlier.csv", number + 2),
            volume_ml=max(1500.0 - gain_ml * number + 10 * scatter, 0.0),
        )
        for number, (minutes, scatter) in enumerate(steps)
    ]


@st.composite
def orders(draw: st.DrawFn, shift: Shift) -> Order:
    start = draw(instants(shift, -40, 8))
    stop_h = draw(st.one_of(st.none(), st.integers(0, 60)))
    return Order(
        start=start,
        stop=None if stop_h is None else start + timedelta(hours=stop_h),
        breaths=draw(st.integers(1, 20)),
        every_h=draw(st.integers(1, 12)),
        goal_ml=draw(
            st.one_of(st.none(), st.integers(10, 22).map(lambda hundreds: 100.0 * hundreds))
        ),
        not_known=draw(st.sampled_from([(), (), (), ("breaths",)])),
    )


by_start = attrgetter("start")


@st.composite
def handovers(draw: st.DrawFn, zones: list[str] | None = None) -> Handover:
    """A whole hand-over; each patient's entries are in time order."""
    unit = draw(units(zones or list(NIGHTS)))
    shift = draw(shifts(unit))
    as_of = draw(st.one_of(st.just(shift.end), instants(shift, 0, 25)))
    patients, known, stay_start = [], {}, {}
    for number in range(draw(st.integers(1, 3))):
        patient_id = f"00{number}"
        periods = draw(st.lists(orders(shift), min_size=1, max_size=3, unique_by=by_start))
        *earlier, order = sorted(periods, key=by_start)
        patients.append(
            Patient(
                patient_id,
                "Larkspur, Odile",
                date(1958, 4, 2),
                f"{number}A",
                Place("night.csv", 2),
                order=order,
                earlier_orders=tuple(earlier),
                baseline_ml=draw(st.sampled_from([None, 1900.0])),
                device_scale_ml=draw(st.sampled_from([None, 2500.0])),
                sex=draw(st.sampled_from([None, "female", "male"])),
                height_cm=draw(st.sampled_from([None, 150.0, 175.0])),
            )
        )
        rows = draw(st.lists(entries(patient_id, shift), max_size=8))
        rows += draw(courses(patient_id, shift))
        known[patient_id] = tuple(sorted(rows, key=lambda entry: entry.at))
        days_earlier = draw(st.sampled_from([0, 1, 9, 9]))
        stay_start[patient_id] = min(map(by_start, periods)) - timedelta(days=days_earlier)
    # A shift before, or none: it may overlap with this one, or leave a time of which no log tells.
    ends = draw(st.sampled_from([None, None, -10, -2, 0, 1]))
    given = [] if ends is None else [Shift(shift.start - 12 * HOUR, shift.start + ends * HOUR)]
    return Handover(
        unit, shift, as_of, tuple(patients), known, stay_start, (*given, shift), Counts(0, 0, 0)
    )


def moved(handover: Handover, by: timedelta) -> Handover:
    """The same hand-over with every time later by so much."""

    def later(entry: Entry) -> Entry:
        return replace(entry, at=entry.at + by, until=entry.until and entry.until + by)

    def ordered_later(patient: Patient) -> Patient:
        orders = [
            replace(order, start=order.start + by, stop=order.stop and order.stop + by)
            for order in patient.orders
        ]
        return replace(patient, order=orders[-1], earlier_orders=tuple(orders[:-1]))

    shifts = tuple(
        replace(shift, start=shift.start + by, end=shift.end + by) for shift in handover.shifts
    )
    return replace(
        handover,
        shift=shifts[-1],
        as_of=handover.as_of + by,
        patients=tuple(ordered_later(patient) for patient in handover.patients),
        entries={
            patient_id: tuple(later(entry) for entry in known)
            for patient_id, known in handover.entries.items()
        },
        stay_start={key: start + by for key, start in handover.stay_start.items()},
        shifts=shifts,
    )


def with_entries(handover: Handover, patient_id: str, rows: list[Entry]) -> Handover:
    """The same hand-over with other entries of one patient, put in time order."""
    in_order = tuple(sorted(rows, key=lambda entry: entry.at))
    return replace(handover, entries={**handover.entries, patient_id: in_order})

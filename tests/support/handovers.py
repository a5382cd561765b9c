"""Small invented hand-overs for the tests: one patient, one day shift, everything in UTC."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from handoff.measure import measure
from handoff.model.findings import Place
from handoff.model.measures import Measures
from handoff.model.ward import Counts, Entry, Handover, Order, Patient, Shift, Unit, What

PLACE = Place("day.csv", 2)


def on(clock: str, *, days: int = 0) -> datetime:
    """The instant `clock` (UTC) of the shift's day, or so many days later."""
    day = date(2026, 5, 12) + timedelta(days=days)
    return datetime.combine(day, time.fromisoformat(clock), tzinfo=UTC)


DAY_SHIFT = Shift(on("07:00"), on("19:00"))
NO_QUIET_HOURS = Unit("Harbour 3 East", ZoneInfo("UTC"), None)
ORDER = Order(start=on("07:00"))
PATIENT = Patient("10442", "Larkspur, Odile", date(1958, 4, 2), "12A", PLACE, order=ORDER)


def exercise(
    at: datetime, breaths: int | None = None, volume_ml: float | None = None, **fields: object
) -> Entry:
    """An exercise of the one patient; `fields` are further fields of `Entry`."""
    entry = Entry(PATIENT.id, at, PLACE, breaths=breaths, volume_ml=volume_ml)
    return entry._replace(**fields)  # type: ignore[arg-type]


def span(what: What, at: datetime, until: datetime, breaths: int | None = None) -> Entry:
    """An entry of any kind from `at` to `until`."""
    return Entry(PATIENT.id, at, PLACE, until=until, what=what, breaths=breaths)


def handover(
    *entries: Entry,
    patient: Patient = PATIENT,
    unit: Unit = NO_QUIET_HOURS,
    shift: Shift = DAY_SHIFT,
    as_of: datetime | None = None,
    stay_start: datetime | None = None,
) -> Handover:
    """A hand-over of one patient; `as_of` is the shift's end, the stay starts with the order."""
    start = stay_start or (patient.order.start if patient.order else None)
    return Handover(
        unit=unit,
        shift=shift,
        as_of=as_of or shift.end,
        patients=(patient,),
        entries={patient.id: tuple(sorted(entries, key=lambda entry: entry.at))},
        stay_start={patient.id: start} if start else {},
        shifts=(shift,),
        counts=Counts(len(entries), len(entries), 0),
    )


def measured(given: Handover) -> Measures:
    """The measures of the one patient of a hand-over."""
    return measure(given)[given.patients[0].id]

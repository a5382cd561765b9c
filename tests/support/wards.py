"""Small logs of several shifts and units for the tests of stays and transfers."""

from collections.abc import Sequence

from handoff.gather import gather
from handoff.model.ward import Handover, Log
from tests.support.bad_logs import PATIENT, UNIT, night, shift
from tests.support.logs import NOW, log_of

ID = "10442"
EAST, WEST = "Harbour 3 East", "Harbour 3 West"
NOBODY = '- {id: "99", name: "Moss, Bryn", born: 1949-07-30, bed: 3}\n'


def hours(name: str) -> tuple[str, str]:
    """Start and end of `5 day`, 5 March 07:00 to 19:00, and of `5 night`, which ends on the 6th."""
    day, _, kind = name.partition(" ")
    number = int(day)
    if kind == "day":
        return f"2026-03-{number:02} 07:00", f"2026-03-{number:02} 19:00"
    return f"2026-03-{number:02} 19:00", f"2026-03-{number + 1:02} 07:00"


def row(at: str, more: str = "breaths: 8, volume_ml: 1500", patient: str = ID) -> str:
    """An entry on 5 March: `14:10`, or another day's: `6 14:10`."""
    day, _, clock = at.rpartition(" ")
    return f'- {{patient: "{patient}", at: "2026-03-{int(day or 5):02} {clock}", {more}}}\n'


def left(at: str, note: str = "home") -> str:
    return row(at, f"what: left, note: {note}")


def written(name: str, entries: str, patients: str | None, unit: str) -> str:
    """As `log`."""
    listed = ordered() + NOBODY if patients is None else patients
    # Somebody else on each unit.
    listed = listed.replace("Moss, Bryn", f"Moss, {unit.rpartition(' ')[2]}")
    told = UNIT.replace(EAST, unit).replace("America/Halifax", "UTC")
    start, end = name.split(" / ") if "/" in name else hours(name)
    text = night(entries or "[]\n", listed, told, shift(start, end))
    return text if entries else text.replace("entries:\n[]", "entries: []")


def log(
    name: str,
    entries: str = "",
    patients: str | None = None,
    unit: str = EAST,
    file: str | None = None,
) -> Log:
    """A shift's log that lists Odile Larkspur and somebody without an order, unless told."""
    text = written(name, entries, patients, unit)
    return log_of(text, file or f"{unit}, {name}.yaml".replace("/", "to"))


def ordered(start: str = "2026-03-04 10:00", born: str = "1958-04-02", order: str = "") -> str:
    patient = PATIENT.replace("breaths: 10, ", "") if "breaths" in order else PATIENT
    return patient.replace("2026-03-06 10:00", start + order).replace("1958-04-02", born)


def units(*logs: Log, as_of: str | None = None) -> dict[str, Handover]:
    """The hand-overs by the unit's name; the same in whatever order the logs are given."""
    handovers, findings = gather(logs, as_of, NOW)
    for turned in (logs[::-1], _by_halves(logs)):
        assert gather(turned, as_of, NOW) == (handovers, findings)
    return {each.unit.name: each for each in handovers}


def _by_halves(logs: Sequence[Log]) -> tuple[Log, ...]:
    return (*logs[1::2], *logs[::2])


def one_unit(*logs: Log, as_of: str | None = None) -> Handover:
    (handover,) = units(*logs, as_of=as_of).values()
    return handover


def listed_in(handover: Handover, patient_id: str = ID) -> list[tuple[str, str]]:
    """Unit and start of the shifts of the stay that list the patient."""
    return [(each.unit, f"{each.shift.start:%d %H:%M}") for each in handover.listings[patient_id]]


def times(handover: Handover, patient_id: str = ID) -> list[str]:
    return [f"{each.at:%d %H:%M}" for each in handover.entries[patient_id]]


def ids(handover: Handover) -> tuple[list[str], list[str]]:
    """Who is on the list, and who is gone."""
    return [each.id for each in handover.patients], [each.id for each in handover.gone]


def codes(handover: Handover) -> set[str]:
    return {each.code for each in handover.findings}

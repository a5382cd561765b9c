"""The domain: unit, shift, patient, order, entry, and the hand-over that gathers them.

Input: nothing. Output: frozen records that know no file format. Every record keeps the `Place`
it came from. Every instant is an aware `datetime` in UTC, so that the difference of two is real
time; local clock time exists only where a log is read and where a page is written.
A value of None means 'not recorded', never 'no' and never zero.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from enum import StrEnum
from typing import NamedTuple
from zoneinfo import ZoneInfo

from handoff.model.findings import Finding, Place

# Done at a time; done but the time is not recorded (True); said not to be done (False); not
# recorded (None).
Done = datetime | bool | None


def missing(**facts: Done) -> list[tuple[str, str]]:
    """What of it is not there: its name, with 'no' where the log says so, else 'not recorded'."""
    return [
        (name, "not recorded" if fact is None else "no")
        for name, fact in facts.items()
        if fact is None or fact is False
    ]


class What(StrEnum):
    """What an entry records."""

    EXERCISE = "exercise"
    AWAY = "away"
    ASLEEP = "asleep"
    DECLINED = "declined"
    TOLD = "told"
    HOLD = "hold"
    RESUME = "resume"
    SETTLED = "settled"
    LEFT = "left"
    NOTE = "note"
    SEEN = "seen"  # signs alone, with a blank `what`; never written in a log


class Flow(StrEnum):
    """How the inhaled flow looked. `UNREADABLE` stands for a cell that could not be read."""

    STEADY = "steady"
    FAST = "fast"
    SLOW = "slow"
    BLEW = "blew"
    UNREADABLE = "unreadable"


class Symptom(StrEnum):
    """What the patient felt or showed, in the log's words; `NONE`: asked, and none."""

    DIZZY = "dizzy"
    TINGLING = "tingling"
    FAINT = "faint"
    CHEST_PAIN = "chest_pain"
    DROWSY = "drowsy"
    CONFUSED = "confused"
    BREATHLESS = "breathless"
    WHEEZE = "wheeze"
    COUGH = "cough"
    FATIGUE = "fatigue"
    NONE = "none"


DIZZY_SYMPTOMS = (Symptom.DIZZY, Symptom.TINGLING)


class Position(StrEnum):
    """Position for the exercise. It is printed and changes no number."""

    LYING = "lying"
    SITTING = "sitting"
    STANDING = "standing"


class SeenBy(StrEnum):
    """Who saw the exercise; `patient` is self-reported."""

    NURSE = "nurse"
    AIDE = "aide"
    THERAPIST = "therapist"
    PATIENT = "patient"


@dataclass(frozen=True, slots=True)
class Unit:
    """The ward. `quiet_hours` are local clock times (start, end), over midnight allowed."""

    name: str
    time_zone: ZoneInfo
    quiet_hours: tuple[time, time] | None
    phone: str | None = None


@dataclass(frozen=True, slots=True)
class Shift:
    """One shift, start inclusive, end exclusive."""

    start: datetime
    end: datetime
    name: str | None = None
    outgoing: str | None = None
    incoming: str | None = None

    @property
    def hours(self) -> float:
        """Real hours from start to end: 11 in a 12 h night on which the clock goes forward."""
        return (self.end - self.start).total_seconds() / 3600


@dataclass(frozen=True, slots=True)
class Order:
    """What was ordered: `breaths` in each span of `every_h` hours while awake."""

    start: datetime
    stop: datetime | None = None
    breaths: int = 10
    every_h: int = 1
    goal_ml: float | None = None
    hold_s: float = 5
    by: str | None = None
    spo2_min: float | None = None

    def active_at(self, instant: datetime) -> bool:
        """True when it has begun and has not stopped."""
        return self.start <= instant and (self.stop is None or self.stop > instant)


@dataclass(frozen=True, slots=True)
class Move:
    """The beds that a patient left in the shift, and when rows first say the present one."""

    beds: tuple[str, ...]
    by: datetime


@dataclass(frozen=True, slots=True)
class Patient:
    """One person on the list. `id`, `name` and `born` identify the patient on every page; `unread`
    names the facts that are written in the log and cannot be read, by contract name; `order_start`
    also where an order is written without one.
    """

    id: str
    name: str
    born: date | None
    bed: str
    place: Place
    sex: str | None = None  # "female" or "male"
    height_cm: float | None = None
    weight_kg: float | None = None
    reason: str | None = None
    surgery_on: date | None = None
    order: Order | None = None
    baseline_ml: float | None = None
    device_given: Done = None
    device_labelled: bool | None = None
    device_scale_ml: float | None = None
    taught: Done = None
    shown_back: Done = None
    home_on: date | None = None
    precautions: str | None = None
    moved: Move | None = None  # within the shift
    unread: tuple[str, ...] = ()

    @property
    def missing_for_home(self) -> list[tuple[str, str]]:
        """What a patient who goes home should have and has not, as `missing` says it."""
        return missing(
            shown_back=self.shown_back, device=self.device_given, label=self.device_labelled
        )

    @property
    def order_lacks_start(self) -> bool:
        """An order is written, and when it started is not known: nothing can be counted as due."""
        return self.order is None and "order_start" in self.unread

    def is_at_scale(self, volume_ml: float | None) -> bool:
        """Whether the scale of the device ends here, so that the true volume may be higher.

        False below it, and where volume or scale is not known.
        """
        if volume_ml is None or self.device_scale_ml is None:
            return False
        return volume_ml >= self.device_scale_ml


@dataclass(frozen=True, slots=True)
class Signs:
    """What was seen of the patient at one time: symptoms, pain and vital signs.

    `pain` 0 to 10; `spo2` in per cent; `resp_rate` and `pulse` a minute; `temp_c` in degrees
    Celsius; `on_oxygen` None when not recorded; `oxygen` how much and by what, as written.
    """

    symptoms: frozenset[Symptom] = frozenset()
    pain: int | None = None
    spo2: float | None = None
    resp_rate: float | None = None
    pulse: float | None = None
    temp_c: float | None = None
    on_oxygen: bool | None = None
    oxygen: str | None = None


NO_SIGNS = Signs()
# Danger so long before the stay began is judged with its first shift: common practice.
BEFORE_THE_STAY = timedelta(days=1)
NO_CELLS: Mapping[str, str] = {}
NOWHERE = Place("")


class Entry(NamedTuple):
    """One row of the log: what was seen of one patient at `at`, or from `at` to `until`.

    `about` are the contract's words of what a `told` or `settled` row is about; empty where that is
    not recorded. `raw` holds the row's cells as written, by contract name; `unread` names those of
    the signs that could not be read, or not all of them. A named tuple is made, and sent to a
    worker, in a third of the time of a frozen dataclass, and there is one for each row.
    """

    patient_id: str
    at: datetime
    place: Place
    until: datetime | None = None
    what: What = What.EXERCISE
    breaths: int | None = None
    volume_ml: float | None = None
    hold_s: float | None = None
    flow: Flow | None = None
    seen_by: SeenBy | None = None
    position: Position | None = None
    signs: Signs = NO_SIGNS
    note: str | None = None
    about: tuple[str, ...] = ()
    unread: tuple[str, ...] = ()
    raw: Mapping[str, str] = NO_CELLS

    @property
    def content(self) -> tuple[object, ...]:
        """All that it says, wherever and however it is written."""
        return self._replace(place=NOWHERE)[:-1]

    @property
    def good_form(self) -> bool:
        """Flow steady or blank."""
        return self.flow in (None, Flow.STEADY)

    @property
    def is_exercise(self) -> bool:
        """True for an exercise, in whatever form."""
        return self.what is What.EXERCISE

    @property
    def by_staff(self) -> bool:
        """True unless it is self-reported: a blank says nothing against it."""
        return self.seen_by is not SeenBy.PATIENT

    @property
    def says(self) -> bool:
        """Whether it has a note with a word in it: a dash or a dot says nothing."""
        return self.note is not None and any(map(str.isalnum, self.note))

    @property
    def saw_the_patient(self) -> bool:
        """True where somebody looked: an exercise, a decline or any sign; a note or `told` alone
        never makes a patient look seen.
        """
        return self.what in {What.EXERCISE, What.DECLINED, What.SEEN} or self.signs != NO_SIGNS

    @property
    def is_reading(self) -> bool:
        """An exercise with a volume that was breathed in, whatever its form."""
        return self.is_exercise and self.volume_ml is not None and self.flow is not Flow.BLEW

    @property
    def is_good_reading(self) -> bool:
        """A reading in good form: only such take part in best, trend and goal."""
        return self.is_reading and self.good_form


@dataclass(frozen=True, slots=True)
class SetAside:
    """A row that takes no part in any number, with what could still be read of it.

    `raw` holds the row's cells as written, by contract name. `signs` are the cells that could be
    read, so that a danger sign in a bad row is not lost. `reason` is the finding that set it aside.
    """

    place: Place
    reason: Finding
    raw: Mapping[str, str]
    patient_id: str | None = None
    at: datetime | None = None
    signs: Signs = NO_SIGNS


@dataclass(frozen=True, slots=True)
class Counts:
    """Records read, used and set aside; `read == used + set_aside` always."""

    read: int
    used: int
    set_aside: int

    def __add__(self, other: "Counts") -> "Counts":
        return Counts(
            self.read + other.read, self.used + other.used, self.set_aside + other.set_aside
        )


NONE_READ = Counts(0, 0, 0)


@dataclass(frozen=True, slots=True)
class Log:
    """One shift on one unit as one file tells it, checked."""

    file: str
    unit: Unit
    shift: Shift
    patients: tuple[Patient, ...]
    entries: tuple[Entry, ...]
    set_aside: tuple[SetAside, ...]
    counts: Counts
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class Earlier:
    """The shift that was handed over before, and its patients by id, as its log has them."""

    shift: Shift
    patients: Mapping[str, Patient]


@dataclass(frozen=True, slots=True)
class Listing:
    """One shift whose log lists the patient, on which unit, and the patient as that log has it."""

    unit: str
    shift: Shift
    patient: Patient


@dataclass(frozen=True, slots=True)
class Gap:
    """A time within a stay of which no log is given: what happened then is not known."""

    start: datetime
    end: datetime


@dataclass(frozen=True, slots=True)
class Handover:
    """What one unit hands over: its latest shift, and what earlier logs say of the same patients.

    `patients` are those of the latest log, in bed order. `entries` holds each patient's entries of
    all logs up to and after `as_of`, in time order (repeats and far ones are already set aside);
    `stay_start` the earliest order start of the stay, for each patient whom some log of it has an
    order for. `name_alerts` gives, by patient id, the beds of the patients with a similar name,
    `elsewhere` the names of the other units that have the patient on their lists. `shifts` are
    those of all logs, in time order; `earlier` is the one before this, None where no log has one.
    `logs` are the logs by shift, those of one shift read as one, with what each of them sets aside.

    Who left in this shift is not among the `patients` but `gone`, with those of the list before who
    are not on this one; but nobody whom another unit's logs go on with. `left` holds, by id, the
    row that says so, where there is one. For the patients of the latest log and those gone there
    are `listings`, the shifts of the stay that list them (also another unit's that they came from,
    whose entries are among `entries`), and `gaps` between these. A stay ends where the patient
    left: `entries` holds none of an earlier one. Where this shift is the first of a stay,
    `stay_before` and `entries_before` are those of the stay that ended last before. `lapsed` is the
    last order of the stay of those who have none now. `from_elsewhere` are the ids that are first
    listed in this shift, though earlier logs of the unit are given and no other unit's lead here.
    """

    unit: Unit
    shift: Shift
    as_of: datetime
    patients: tuple[Patient, ...]
    entries: Mapping[str, tuple[Entry, ...]]
    stay_start: Mapping[str, datetime]
    shifts: tuple[Shift, ...]
    counts: Counts
    name_alerts: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    set_aside: tuple[SetAside, ...] = ()
    findings: tuple[Finding, ...] = ()
    earlier: Earlier | None = None
    elsewhere: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    logs: tuple[Log, ...] = ()
    listings: Mapping[str, tuple[Listing, ...]] = field(default_factory=dict)
    stay_before: Mapping[str, tuple[Listing, ...]] = field(default_factory=dict)
    gaps: Mapping[str, tuple[Gap, ...]] = field(default_factory=dict)
    gone: tuple[Patient, ...] = ()
    left: Mapping[str, Entry] = field(default_factory=dict)
    entries_before: Mapping[str, tuple[Entry, ...]] = field(default_factory=dict)
    lapsed: Mapping[str, Order] = field(default_factory=dict)
    from_elsewhere: frozenset[str] = frozenset()

    def judged_from(self, patient: Patient) -> datetime:
        """From when the shift's rows are judged: rows of no shift that lists the patient are judged
        with the first one that ends after them, and so is a day before the stay.
        """
        start = self.shift.start
        shifts = (each.shift for each in self.listings_of(patient))
        earlier_ends = [shift.end for shift in shifts if shift.start < start]
        if earlier_ends:
            return min(start, max(earlier_ends))
        stay_start = self.stay_start.get(patient.id, start)
        return min(start, stay_start) - BEFORE_THE_STAY

    def listings_of(self, patient: Patient) -> tuple[Listing, ...]:
        """The shifts of the stay that list the patient, in time order; where nothing is known of
        them, every shift.
        """
        known = self.listings.get(patient.id)
        return known or tuple(Listing(self.unit.name, shift, patient) for shift in self.shifts)

    def entries_of(self, patient: Patient) -> tuple[Entry, ...]:
        """The patient's entries of all logs, in time order."""
        return self.entries.get(patient.id, ())

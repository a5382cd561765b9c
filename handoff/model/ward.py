"""The domain: unit, shift, patient, order, entry, and the hand-over that gathers them.

Input: nothing. Output: frozen records that know no file format. Every record keeps the `Place` it
came from. Every instant is an aware `datetime` in UTC: the difference of two is real time. Local
clock time exists only where a log is read and where a page is written. A value of None means 'not
recorded', never 'no' and never zero.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime, time, timedelta
from enum import Enum, StrEnum
from itertools import zip_longest
from typing import Any
from zoneinfo import ZoneInfo

from msgspec import field
from msgspec.structs import astuple, replace

from handoff.model.findings import Finding, Place
from handoff.model.frozen import Frozen


class Doubt(Enum):
    """In the place of a fact: rows or logs disagree whether it was done. It counts as not done."""

    DISPUTED = "disputed"

    def __bool__(self) -> bool:
        return False


# When it was done; True: done, time not recorded; False: recorded as not done; None: not recorded.
Done = datetime | bool | Doubt | None


class Disputed(Frozen):
    """A fact of a patient, by its name in the contract, and the different values written of it."""

    name: str
    values: tuple[Any, ...]


def missing(**facts: Done) -> list[tuple[str, str]]:
    """The names of facts that are missing: each with 'no' or 'disputed' where the log says so,
    else 'not recorded'.
    """
    return [
        (name, "not recorded" if fact is None else "no" if fact is False else "disputed")
        for name, fact in facts.items()
        if not fact
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


# Kinds of row that may be written after the patient left.
OF_SOMEBODY_GONE = (What.LEFT, What.TOLD, What.SETTLED, What.NOTE)


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


ADULT_FROM_Y = 16  # the age from which the limits of adults are used: common practice
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


class Unit(Frozen):
    """The ward. `quiet_hours` are local clock times (start, end), over midnight allowed."""

    name: str
    time_zone: ZoneInfo
    quiet_hours: tuple[time, time] | None
    phone: str | None = None
    home_phone: str | None = None  # whom a patient at home calls


class Shift(Frozen):
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


GOES_HOME_SOON = timedelta(days=1)


class Order(Frozen):
    """What was ordered: `breaths` in each span of `every_h` hours while awake.

    `spo2_min` to `temp_max` are this patient's own limits: SpO2 in per cent, rates a minute,
    temperature in degrees Celsius. `usual_symptoms` are usual for this patient, who says so is in
    `by`; `comfort_care`: pain and breathlessness alone are judged. `unstated` are the parts with a
    usual value that no cell states. `not_known` are the parts that are written, and of which the
    value is not known: where one of them decides what is due, nothing is. `disputed_limits` are own
    limits that are in dispute: each is the strictest of those written, and never looser than the
    unit's.
    """

    start: datetime
    stop: datetime | None = None
    breaths: int = 10
    every_h: int = 1
    goal_ml: float | None = None
    hold_s: float = 5
    by: str | None = None
    spo2_min: float | None = None
    spo2_max: float | None = None
    resp_rate_min: float | None = None
    resp_rate_max: float | None = None
    pulse_min: float | None = None
    pulse_max: float | None = None
    temp_max: float | None = None
    usual_symptoms: tuple[Symptom, ...] = ()
    comfort_care: bool | None = None
    unstated: tuple[str, ...] = ()
    not_known: tuple[str, ...] = ()
    disputed_limits: tuple[str, ...] = ()

    def __eq__(self, other: object) -> bool:
        """Whether the same is ordered, written out or left to what is usual."""
        return isinstance(other, Order) and self._ordered() == other._ordered()

    def __hash__(self) -> int:
        return hash(self._ordered())

    def _ordered(self) -> tuple[object, ...]:
        return astuple(replace(self, unstated=()))

    @property
    def is_readable(self) -> bool:
        """Whether it is known how many breaths are due, how often and until when."""
        return {"stop", "breaths", "every_h"}.isdisjoint(self.not_known)

    @property
    def is_unstated(self) -> bool:
        """Whether nothing says how many breaths are due, nor how often."""
        return {"breaths", "every_h"} <= set(self.unstated)

    @property
    def amount(self) -> tuple[int, int] | None:
        """Breaths, and in how many hours; None where that cannot be read."""
        return (self.breaths, self.every_h) if self.is_readable else None

    def active_at(self, instant: datetime) -> bool:
        """True when it has begun and has not stopped."""
        return self.start <= instant and (self.stop is None or self.stop > instant)


def periods_of(orders: Iterable[Order]) -> tuple[Order, ...]:
    """The periods of an order, in time order: each ends at its stop or where the next begins."""
    begun = sorted(orders, key=lambda each: each.start)
    ends = [each.start for each in begun[1:]]
    return tuple(
        replace(each, stop=min(each.stop or end, end)) if end else each
        for each, end in zip_longest(begun, ends)
    )


def order_at(periods: Sequence[Order], instant: datetime) -> Order:
    """The last period that has begun; before all of them, the first."""
    begun = [each for each in periods if each.start <= instant]
    return begun[-1] if begun else periods[0]


class Move(Frozen):
    """The beds that a patient left in the shift, and the time of the first row in the new bed."""

    beds: tuple[str, ...]
    by: datetime


class Patient(Frozen):
    """One person on the list. `id`, `name` and `born` identify the patient on every page. `unread`
    has the contract names of facts that are written in the log and cannot be read; and
    `order_start`, where an order is written without a start. `disputed` are the facts of which
    different values are written; which is right is not known. `order` is the one that begins last,
    and `earlier_orders` are those before it in the log, in time order.
    """

    id: str
    name: str
    born: date | None
    bed: str
    place: Place
    sex: str | None = None  # "female" or "male"
    height_cm: float | None = None
    weight_kg: float | None = None
    language: str | None = None  # of the pages for the patient, by BCP 47
    reason: str | None = None
    surgery_on: date | None = None
    order: Order | None = None
    earlier_orders: tuple[Order, ...] = ()
    baseline_ml: float | None = None
    device_given: Done = None
    device_labelled: Done = None
    device_scale_ml: float | None = None
    taught: Done = None
    shown_back: Done = None
    home_on: date | None = None
    precautions: str | None = None
    moved: Move | None = None  # within the shift
    unread: tuple[str, ...] = ()
    disputed: tuple[Disputed, ...] = ()

    @property
    def orders(self) -> tuple[Order, ...]:
        """Every order of the log, in time order."""
        return (*self.earlier_orders, self.order) if self.order else ()

    def disputes(self, name: str) -> tuple[Any, ...]:
        """The different values written of a fact; empty where it is not disputed."""
        return next((each.values for each in self.disputed if each.name == name), ())

    @property
    def has_precautions(self) -> bool:
        """Whether any precaution is written in the log, also one that cannot be read."""
        return bool(self.precautions) or "precautions" in self.unread

    @property
    def not_known(self) -> tuple[str, ...]:
        """The names of facts that are written, and of which the value is not known."""
        return (*self.unread, *(each.name for each in self.disputed))

    @property
    def missing_to_start(self) -> list[tuple[str, str]]:
        """What a patient needs before the first exercise and does not have, as `missing`."""
        return missing(device=self.device_given, label=self.device_labelled, teaching=self.taught)

    @property
    def missing_for_home(self) -> list[tuple[str, str]]:
        """What a patient needs before going home and does not have, in the form of `missing`."""
        return missing(
            device=self.device_given, label=self.device_labelled, shown_back=self.shown_back
        )

    def age_on(self, day: date) -> int | None:
        """Completed years on a day; None when the birth date is not recorded."""
        born = self.born
        if born is None:
            return None
        return day.year - born.year - ((day.month, day.day) < (born.month, born.day))

    def is_child_in(self, shift: Shift, unit: Unit) -> bool:
        """Whether the patient is a child on the local day on which a shift starts."""
        age = self.age_on(shift.start.astimezone(unit.time_zone).date())
        return age is not None and age < ADULT_FROM_Y

    @property
    def order_lacks_start(self) -> bool:
        """An order is written, but its start is not known: nothing can be counted as due."""
        return self.order is None and "order_start" in self.unread

    def goes_home_soon(self, shift: Shift, zone: ZoneInfo) -> bool:
        """Planned to go home no later than the local day after the shift's end."""
        if self.home_on is None:
            return False
        return self.home_on <= shift.end.astimezone(zone).date() + GOES_HOME_SOON

    def is_at_scale(self, volume_ml: float | None) -> bool:
        """Whether the scale of the device ends here, so that the true volume may be higher.

        False below it, and where volume or scale is not known.
        """
        if volume_ml is None or self.device_scale_ml is None:
            return False
        return volume_ml >= self.device_scale_ml


class Signs(Frozen):
    """What was seen of the patient at one time: symptoms, pain and vital signs.

    `pain` 0 to 10; `spo2` in per cent; `resp_rate` and `pulse` a minute; `temp_c` in degrees
    Celsius; `on_oxygen` None when not recorded; `oxygen` how much and by what, as written. `usual`
    are symptoms that are usual for the patient and stood alone: judging takes them out of
    `symptoms`.
    """

    symptoms: frozenset[Symptom] = frozenset()
    pain: int | None = None
    spo2: float | None = None
    resp_rate: float | None = None
    pulse: float | None = None
    temp_c: float | None = None
    on_oxygen: bool | None = None
    oxygen: str | None = None
    usual: frozenset[Symptom] = frozenset()

    @property
    def charted(self) -> frozenset[Symptom]:
        """The symptoms as charted, the usual ones too."""
        return self.symptoms | self.usual


NO_SIGNS = Signs()
# Dangers in this time before the stay are judged with its first shift: common practice.
BEFORE_THE_STAY = timedelta(days=1)
NO_CELLS: Mapping[str, str] = {}
NOWHERE = Place("")


class Entry(Frozen):
    """One row of the log: what was seen of one patient at `at`, or from `at` to `until`.

    `about` are the contract's words for what a `told` or `settled` row is about; empty where not
    recorded. `raw` holds the row's cells as written, by contract name. `unread` names the signs
    that could not be read in full, and `likely` has what was probably meant: never a value, only a
    reason to look soon.
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
    likely: Signs = NO_SIGNS
    raw: Mapping[str, str] = NO_CELLS

    @property
    def content(self) -> tuple[object, ...]:
        """Everything it records, without its place and its raw cells."""
        return astuple(replace(self, place=NOWHERE))[:-1]

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
        """True unless it is self-reported; a blank counts as staff."""
        return self.seen_by is not SeenBy.PATIENT

    @property
    def says(self) -> bool:
        """Whether it has a note with a letter or digit: a dash or a dot says nothing."""
        return self.note is not None and any(map(str.isalnum, self.note))

    @property
    def saw_the_patient(self) -> bool:
        """True where staff saw the patient: an exercise, a decline or any sign. A note or `told`
        alone is not enough.
        """
        seen = self.what in {What.EXERCISE, What.DECLINED, What.SEEN} or self.signs != NO_SIGNS
        return seen and self.by_staff

    @property
    def looked_for_danger(self) -> bool:
        """True where staff charted a vital sign, pain or symptoms, also that there are none."""
        signs = self.signs
        vitals = (signs.spo2, signs.resp_rate, signs.pulse, signs.temp_c, signs.pain)
        return self.by_staff and (bool(signs.symptoms) or any(each is not None for each in vitals))

    @property
    def is_reading(self) -> bool:
        """An exercise with a volume that was breathed in, whatever its form."""
        return self.is_exercise and self.volume_ml is not None and self.flow is not Flow.BLEW

    @property
    def is_good_reading(self) -> bool:
        """A reading in good form: only these count for best, trend and goal."""
        return self.is_reading and self.good_form


class SetAside(Frozen):
    """A row that counts in no number, with the signs that could still be read.

    `raw` holds the row's cells as written, by contract name. `signs`, `unread` and `likely` are
    those of an `Entry`, kept so that a danger sign in a bad row is not lost. `reason` is the
    finding that set it aside.
    """

    place: Place
    reason: Finding
    raw: Mapping[str, str]
    patient_id: str | None = None
    at: datetime | None = None
    signs: Signs = NO_SIGNS
    unread: tuple[str, ...] = ()
    likely: Signs = NO_SIGNS


class Counts(Frozen):
    """Records read, used and set aside; `read == used + set_aside` always. `without_entry` are the
    used ones that are blank, or hold no more than facts of a patient or the unit.
    """

    read: int
    used: int
    set_aside: int
    without_entry: int = 0

    def __add__(self, other: "Counts") -> "Counts":
        return Counts(
            self.read + other.read,
            self.used + other.used,
            self.set_aside + other.set_aside,
            self.without_entry + other.without_entry,
        )

    def as_json(self) -> dict[str, int]:
        """The counts as `measures.json` and `check --json` carry them."""
        return {"read": self.read, "used": self.used, "set_aside": self.set_aside}


NONE_READ = Counts(0, 0, 0)


class Log(Frozen):
    """One shift on one unit, read from one file and checked."""

    file: str
    unit: Unit
    shift: Shift
    patients: tuple[Patient, ...]
    entries: tuple[Entry, ...]
    set_aside: tuple[SetAside, ...]
    counts: Counts
    findings: tuple[Finding, ...]


class Earlier(Frozen):
    """The shift that was handed over before, and its patients by id, as its log has them."""

    shift: Shift
    patients: Mapping[str, Patient]


class Listing(Frozen):
    """One shift and unit whose log lists the patient, and the patient as in that log."""

    unit: str
    shift: Shift
    patient: Patient


class Gap(Frozen):
    """A time within a stay without a log: what happened then is not known."""

    start: datetime
    end: datetime


class Handover(Frozen):
    """What one unit hands over: its latest shift, and what earlier logs say of the same patients.

    `patients` are those of the latest log, in bed order. `entries` holds each patient's entries of
    all logs, before and after `as_of`, in time order; repeats and entries far from the shift are
    already set aside. `stay_start` is the earliest order start of the stay, for each patient with
    an order in some log of it. By patient id, `name_alerts` gives the beds of patients with a
    similar name, `elsewhere` the other units that list the patient, and `other_ids` the last
    listing of each other id that seems to be the same person's. `shifts` are those of all logs, in
    time order. `earlier` is the shift before this one, None without a log of it. `logs`
    has one log a shift, with the rows that each sets aside.

    `gone` are patients who left in this shift, and those on the list before who are not on this
    one. Nobody is `gone` whom another unit lists next. `left` holds, by id, the row that says so,
    where there is one. `listings` are the shifts of the stay that list a patient, also shifts of
    another unit that the patient came from; `entries` has those entries too. `gaps` are the times
    between them without a log. Both cover the patients of the latest log and those gone. A stay
    ends where the patient left, or where a new order begins another: `entries` holds none of an
    earlier stay; `stay_before` and `entries_before` are those of the one before. `lapsed` is the
    last order of the stay, for patients who have none now. `from_elsewhere` are ids first listed in
    this shift, though earlier logs of the unit are given, and no other unit's logs lead here.
    `periods` are those of each patient's order in the stay, as all its logs have it.
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
    other_ids: Mapping[str, tuple[Listing, ...]] = field(default_factory=dict)
    logs: tuple[Log, ...] = ()
    listings: Mapping[str, tuple[Listing, ...]] = field(default_factory=dict)
    stay_before: Mapping[str, tuple[Listing, ...]] = field(default_factory=dict)
    gaps: Mapping[str, tuple[Gap, ...]] = field(default_factory=dict)
    gone: tuple[Patient, ...] = ()
    left: Mapping[str, Entry] = field(default_factory=dict)
    entries_before: Mapping[str, tuple[Entry, ...]] = field(default_factory=dict)
    lapsed: Mapping[str, Order] = field(default_factory=dict)
    from_elsewhere: frozenset[str] = frozenset()
    periods: Mapping[str, tuple[Order, ...]] = field(default_factory=dict)

    def judged_from(self, patient: Patient) -> datetime:
        """The time from which rows are judged with this shift. A row outside all shifts that list
        the patient is judged with the first of them that ends after it. One day before the stay is
        judged with its first shift.
        """
        start = self.shift.start
        shifts = (each.shift for each in self.listings_of(patient))
        earlier_ends = [shift.end for shift in shifts if shift.start < start]
        if earlier_ends:
            return min(start, max(earlier_ends))
        stay_start = self.stay_start.get(patient.id, start)
        return min(start, stay_start) - BEFORE_THE_STAY

    def periods_of(self, patient: Patient) -> tuple[Order, ...]:
        """The periods of the patient's order in the stay, in time order; of the last order where
        there is none now.
        """
        known = self.periods.get(patient.id) or periods_of(patient.orders)
        return known or tuple(filter(None, [self.lapsed.get(patient.id)]))

    def listings_of(self, patient: Patient) -> tuple[Listing, ...]:
        """The shifts of the stay that list the patient, in time order; every shift where these are
        not known.
        """
        known = self.listings.get(patient.id)
        return known or tuple(Listing(self.unit.name, shift, patient) for shift in self.shifts)

    def entries_of(self, patient: Patient) -> tuple[Entry, ...]:
        """The patient's entries of all logs, in time order."""
        return self.entries.get(patient.id, ())

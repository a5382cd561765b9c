"""What is measured of one patient: the type between `measure` and everything after it.

Input: nothing. Output: frozen records, the shape of `measures.json`. Numbers are unrounded; None
means that a number cannot be had. Instants are UTC.
"""

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from handoff.model.ward import Entry, Order, Patient


class SlotState(StrEnum):
    """What one slot of the shift came to. `UNCHARTED` is not known, which is not 'not done'."""

    NOT_DUE = "not_due"
    MET = "met"
    PART = "part"
    NONE = "none"
    UNCHARTED = "uncharted"


@dataclass(frozen=True, slots=True)
class Slot:
    """One span of `every_h` real hours of the shift (the last may be short); breaths due, done."""

    start: datetime
    end: datetime
    due: float
    done: float
    charted: bool
    state: SlotState

    @property
    def credited(self) -> float:
        """min(done, due): a hundred breaths at noon do not make up for an idle morning."""
        return min(self.done, self.due)


@dataclass(frozen=True, slots=True)
class Adherence:
    """Credited breaths against those due, over all slots and over the charted ones only."""

    percent: float | None
    percent_of_charted: float | None
    breaths_done: float
    breaths_due: float
    credited: float
    slots_due: int
    slots_met: int
    slots_uncharted: int
    slots: tuple[Slot, ...]


@dataclass(frozen=True, slots=True)
class DayBest:
    """Best good-form reading of one local calendar day of the stay, in mL."""

    day: date
    best_ml: float


@dataclass(frozen=True, slots=True)
class Volume:
    """Readings in mL; counts are of the shift, `previous_best_ml` of the 24 h before it."""

    best_ml: float | None
    best_at: datetime | None
    previous_best_ml: float | None
    change_ml: float | None
    change_percent: float | None
    stay_best_ml: float | None
    stay_best_at: datetime | None
    first_ml: float | None
    readings: int
    off_form: int
    at_scale: int
    by_day: tuple[DayBest, ...]
    best: Entry | None = None  # the reading behind best_ml
    previous_best: Entry | None = None  # the reading behind previous_best_ml


class Direction(StrEnum):
    """What the trend's interval bears out."""

    TOO_FEW = "too_few"
    RISING = "rising"
    FALLING = "falling"
    NO_CLEAR_CHANGE = "no_clear_change"


@dataclass(frozen=True, slots=True)
class Point:
    """The best good-form reading of one 12 h block, at its own time."""

    at: datetime
    volume_ml: float


@dataclass(frozen=True, slots=True)
class Trend:
    """Theil-Sen over block bests; slope in mL a day, `fitted_ml` the line's value at `as_of`."""

    n: int
    span_h: float | None
    slope_ml_per_day: float | None
    low: float | None
    high: float | None
    direction: Direction
    points: tuple[Point, ...]
    fitted_ml: float | None


class GoalSource(StrEnum):
    """Whose goal it is."""

    ORDERED = "ordered"
    BASELINE = "baseline"
    OWN_BEST = "own_best"


@dataclass(frozen=True, slots=True)
class Goal:
    """The goal in mL, progress to it in per cent, and the days it may take, if it goes on so."""

    goal_ml: float | None
    source: GoalSource
    percent: float | None
    reached_at: datetime | None
    days_to_goal: tuple[float, float | None] | None  # None: not to be had
    goal_over_scale: bool | None


@dataclass(frozen=True, slots=True)
class Reference:
    """Healthy-population inspiratory capacity in mL, for orientation only."""

    volume_ml: float
    lower_limit_ml: float
    equation: str


@dataclass(frozen=True, slots=True)
class Spread:
    """How many values were recorded, their middle, least and greatest."""

    count: int
    median: float
    least: float
    greatest: float


@dataclass(frozen=True, slots=True)
class Bedside:
    """What else was seen in the shift: breath holds in s, pain (0 to 10), the lowest SpO2's row."""

    held_s: Spread | None
    pain: Spread | None
    lowest_spo2: Entry | None


@dataclass(frozen=True, slots=True)
class Hold:
    """No exercise from `since` on; `until` is None where only a `resume` ends it.

    `entry` is the row that says so, the latest where several do.
    """

    since: datetime
    until: datetime | None
    entry: Entry


@dataclass(frozen=True, slots=True)
class Measures:
    """All of one patient with an order.

    `shift_entries` and `stay_entries` are those that count in the shift and in the stay, in time
    order; `drawn_entries` adds those before the stay, which are shown and not counted.
    `caution_entries` are those that cautions read: every entry of the shift, also one before the
    stay, and those of the time before it that no log tells of. `available_h` is the time since the
    order's start in which breaths could be due, outside quiet hours, away, asleep and holds.
    `order` is the one in force, or where there is none any more, the last one of the stay. `hold`
    is the one in force at `as_of`, `exercised_on_hold` the shift's exercises while one was, and
    `hold_of_exercise` that of the last of these.
    """

    patient: Patient
    order: Order
    stay_start: datetime
    shift_entries: tuple[Entry, ...]
    caution_entries: tuple[Entry, ...]
    stay_entries: tuple[Entry, ...]
    drawn_entries: tuple[Entry, ...]
    available_h: float
    adherence: Adherence
    volume: Volume
    trend: Trend
    goal: Goal
    reference: Reference | None
    bedside: Bedside
    hold: Hold | None = None
    exercised_on_hold: tuple[Entry, ...] = ()
    hold_of_exercise: Hold | None = None

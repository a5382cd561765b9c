"""What is measured of one patient: the output of `measure`.

Input: nothing. Output: frozen records, the shape of `measures.json`. Numbers are unrounded; None
means that a number is not available. Instants are UTC.
"""

from collections.abc import Mapping
from datetime import date, datetime
from enum import StrEnum

from handoff.model.frozen import Frozen
from handoff.model.ward import Entry, Order, Patient, Shift

# Common practice: no published source sets these.
USUAL_SHIFT_H = 12  # a shift of another length says so
PREVIOUS_H = 24  # the day before the shift: it has both day and night
BLOCK_H = 12  # about one shift: its readings rise and fall together
TREND_D = 7  # older readings are of another state
FEWEST_POINTS = 5
SHORTEST_SPAN_H = 48
LATELY_H = 48  # the last two of these spans show whether a rise has levelled off
# The usual is the middle of the latest 7 readings of the 72 h before the shift, of 3 at least.
USUAL_READINGS, FEWEST_FOR_USUAL, USUAL_H = 7, 3, 72
UNSEEN_UNDER_ML = 1000  # with a smaller usual, a fall of a third may go unseen
MOST_LAST, LAST_READINGS_H = 3, 24  # readings that are compared with it, and how old they may be
LONGEST_FORECAST_D = 14  # beyond two weeks a straight line says nothing
MOST_AT_A_TIME = 3  # breaths at a time, for a patient who gets dizzy or has many to do


class Span(Frozen, order=True):
    """From `start`, inclusive, to `end`, exclusive; empty where `end` is not after `start`."""

    start: datetime
    end: datetime

    @property
    def seconds(self) -> float:
        """Real length in seconds; 0 for an empty span."""
        return max((self.end - self.start).total_seconds(), 0.0)


class NotDue(Frozen):
    """A part of the shift in which no breaths are due, and why: the kind of row that charts it
    (away, asleep, hold), or another reason where no row does.
    """

    why: str
    span: Span
    entry: Entry | None = None


class SlotState(StrEnum):
    """The state of one slot of the shift. `UNCHARTED` is not known; it does not mean 'not done'."""

    NOT_DUE = "not_due"
    MET = "met"
    PART = "part"
    NONE = "none"
    UNCHARTED = "uncharted"


class Part(Frozen):
    """An entry that charts a slot, and how many of its breaths fall there."""

    entry: Entry
    breaths: float


class Slot(Frozen):
    """One span of `every_h` real hours of the shift (the last may be short); breaths due, done.

    Breaths are due in so many of its minutes by each period of the order: `minutes_by_period`.
    `parts` are the rows that chart it.
    """

    start: datetime
    end: datetime
    due: float
    done: float
    state: SlotState
    minutes_by_period: tuple[float, ...]
    parts: tuple[Part, ...]

    @property
    def available_min(self) -> float:
        """The minutes in which breaths are due."""
        return sum(self.minutes_by_period)

    @property
    def charted(self) -> bool:
        """False where no row charts it."""
        return bool(self.parts)

    @property
    def credited(self) -> float:
        """min(done, due): a hundred breaths at noon do not make up for an idle morning."""
        return min(self.done, self.due)


class Adherence(Frozen):
    """Credited breaths in per cent of those due, over all slots and over the charted ones only."""

    percent: float | None
    percent_of_charted: float | None
    breaths_done: float
    breaths_due: float
    credited: float
    slots_due: int
    slots_met: int
    slots_uncharted: int
    slots: tuple[Slot, ...]
    credited_of_charted: float
    due_of_charted: float


class Due(Frozen):
    """What is due next of one patient.

    `slot` is the one whose breaths are to be done next, by its end; None where the shift has none
    left. `why` says why nothing is due now; None where something is. `late_min` are the minutes
    since `late_from` in which breaths could be due, and nothing was charted; 0 and None where
    nothing is late.
    """

    slot: Slot | None
    why: NotDue | None
    late_from: datetime | None
    late_min: float


class Turns(Frozen):
    """When the breaths of an order are due in the coming day: the start of each turn.

    None of them where the order cannot be read.
    """

    order: Order
    starts: tuple[datetime, ...]


class DayBest(Frozen):
    """Best good-form reading of one local calendar day of the stay, in mL."""

    day: date
    best_ml: float


class Recent(Frozen):
    """What a fall of the volume is read from, in good-form readings.

    `usual` are up to 7 of the 72 h before the shift, in time order, and `usual_ml` is their middle;
    None with fewer than 3. `last` are the shift's latest and up to two before it, the newest first.
    `compared` are the readings that these are compared with, and `compared_ml` is their middle: the
    usual; with fewer than 3 of those, all of the 72 h before the last one.
    """

    usual: tuple[Entry, ...]
    usual_ml: float | None
    compared: tuple[Entry, ...]
    compared_ml: float | None
    last: tuple[Entry, ...]


NOTHING_RECENT = Recent((), None, (), None, ())


class Volume(Frozen):
    """Readings in mL; counts are of the shift, `previous_best_ml` of the 24 h before it. `usual_ml`
    is the middle of `usual_readings` readings before the shift: see `Recent`.
    """

    best_ml: float | None
    best_at: datetime | None
    previous_best_ml: float | None
    change_ml: float | None
    change_percent: float | None
    stay_best_ml: float | None
    stay_best_at: datetime | None
    first_ml: float | None
    usual_ml: float | None
    usual_readings: int
    readings: int
    off_form: int
    at_scale: int
    by_day: tuple[DayBest, ...]
    # The readings behind best_ml, previous_best_ml, stay_best_ml and first_ml.
    best: Entry | None = None
    previous_best: Entry | None = None
    stay_best: Entry | None = None
    first: Entry | None = None
    recent: Recent = NOTHING_RECENT


class Direction(StrEnum):
    """The direction that the trend's whole interval supports."""

    TOO_FEW = "too_few"
    RISING = "rising"
    LEVELLED_OFF = "levelled_off"
    FALLING = "falling"
    STEADY = "steady"
    NOT_CLEAR = "not_clear"


class Point(Frozen):
    """The middle good-form reading of one 12 h block, at its own time."""

    entry: Entry

    @property
    def at(self) -> datetime:
        """The reading's time."""
        return self.entry.at

    @property
    def volume_ml(self) -> float:
        """The reading's volume in mL."""
        return self.entry.volume_ml or 0.0  # a reading has a volume


class Line(Frozen):
    """A line by least squares: its slope (y a unit of x) with the 95 % interval from `low` to
    `high`, and what led to them.

    The line and the ends of its interval turn about the middle of the points, `middle_x` and
    `middle_y`. `xx` and `xy` are the sums of products of the distances from it. `spread` is the
    standard deviation of the `residuals`; the half width is `factor` x spread / square root of xx.
    """

    slope: float
    low: float
    high: float
    middle_x: float
    middle_y: float
    xx: float
    xy: float
    residuals: tuple[float, ...]
    spread: float
    factor: float
    half_width: float


class Lately(Frozen):
    """The middle of the good-form readings of the last 48 h, and of the 48 h before, in mL.

    Both are None, and `readings` empty, unless each of the two has three readings.
    """

    readings: tuple[Entry, ...]
    last_ml: float | None
    before_ml: float | None

    @property
    def rise_ml(self) -> float | None:
        """How much higher the last 48 h are; negative where they are lower."""
        if self.last_ml is None or self.before_ml is None:
            return None
        return self.last_ml - self.before_ml


class Trend(Frozen):
    """The line through the middle readings: slope in mL a day, and the points' mean time and
    volume, about which the line turns.

    `days` are the points' times, in days of 24 real hours from `as_of`; `line` is fitted over them.
    `is_capped`: a reading behind it is at the device's scale.
    """

    n: int
    span_h: float | None
    slope_ml_per_day: float | None
    low: float | None
    high: float | None
    middle_at: datetime | None
    middle_ml: float | None
    direction: Direction
    points: tuple[Point, ...]
    days: tuple[float, ...]
    line: Line | None
    lately: Lately
    is_capped: bool

    def is_given(self, *, fell: bool) -> bool:
        """Whether the line is drawn and its direction named. Beside a fall of the volume only a
        falling one is: any other would say the opposite of the caution.
        """
        if fell:
            return self.direction is Direction.FALLING
        return self.direction not in {Direction.TOO_FEW, Direction.NOT_CLEAR}


class GoalSource(StrEnum):
    """Whose goal it is."""

    ORDERED = "ordered"
    BASELINE = "baseline"
    OWN_BEST = "own_best"


class Goal(Frozen):
    """The goal in mL, progress to it in per cent, and the days to it if the trend goes on."""

    goal_ml: float | None
    source: GoalSource
    percent: float | None
    reached_at: datetime | None
    days_to_goal: tuple[float, float | None] | None  # None: nothing is claimed
    goal_over_scale: bool | None
    reached: Entry | None = None  # the reading behind reached_at


class ReferenceTerms(Frozen):
    """The terms of the reference's equation for one patient: see `measure.reference`."""

    age_y: float
    ln_height: float
    spline: float
    spread: float


class Reference(Frozen):
    """Healthy-population inspiratory capacity in mL, for orientation only."""

    volume_ml: float
    lower_limit_ml: float
    equation: str
    terms: ReferenceTerms


class Spread(Frozen):
    """How many values were recorded, their middle, least and greatest."""

    count: int
    median: float
    least: float
    greatest: float


class Bedside(Frozen):
    """Other values of the shift: breath holds in s, pain (0 to 10), the row of the lowest SpO2.

    `seen_until` is when staff saw the patient last, and `unseen_h` the hours since then in which
    breaths could be due; None where they did not in the shift.
    """

    held_s: Spread | None
    pain: Spread | None
    lowest_spo2: Entry | None
    seen_until: datetime | None
    unseen_h: float | None


class Hold(Frozen):
    """No exercise from `since` on; `until` is None where only a `resume` ends it.

    `entry` is the row that says so, the latest where several do.
    """

    since: datetime
    until: datetime | None
    entry: Entry


class Measures(Frozen):
    """All of one patient with an order.

    `shift_entries` and `stay_entries` count in the shift and in the stay, in time order.
    `drawn_entries` adds entries before the stay: they are shown and not counted. `caution_entries`
    are those that cautions read: every entry of the shift, also one before the stay, and entries of
    the time before the shift that no log covers. `available_h` is the time since the order's start
    in which breaths could be due: outside quiet hours, away, asleep and holds. `not_due` are the
    parts of the shift in which nothing is due; they may overlap. `nights` are the unit's quiet
    hours from a week before `as_of` to the shift's end. `order` is the order in force at `as_of`,
    one of the `periods` of the stay; without one, the last. `hold` is the hold in force at `as_of`.
    `exercised_on_hold` are the shift's exercises during a hold, and `hold_of_exercise` is the hold
    of the last of these.

    A volume is compared with the body's size by the first of these that is known: `reference`;
    `oldest_reference`, which is that of the oldest age it is valid for, for a patient who is older;
    `predicted_weight_kg`; the weight.
    """

    patient: Patient
    order: Order
    periods: tuple[Order, ...]
    stay_start: datetime
    shift_entries: tuple[Entry, ...]
    caution_entries: tuple[Entry, ...]
    stay_entries: tuple[Entry, ...]
    drawn_entries: tuple[Entry, ...]
    available_h: float
    not_due: tuple[NotDue, ...]
    nights: tuple[Span, ...]
    adherence: Adherence
    volume: Volume
    trend: Trend
    goal: Goal
    reference: Reference | None
    oldest_reference: Reference | None
    predicted_weight_kg: float | None
    bedside: Bedside
    hold: Hold | None = None
    exercised_on_hold: tuple[Entry, ...] = ()
    hold_of_exercise: Hold | None = None

    @property
    def comfort_care(self) -> bool:
        """Whether comfort care is ordered, now or by an order that follows: nobody is coached."""
        from_now = self.periods[self.periods.index(self.order) :]
        return any(each.comfort_care for each in from_now)


class RoundHour(Frozen):
    """One hour of the next shift, the last perhaps short. `is_due`: breaths are due in some of its
    minutes, as far as is known now. `begins`: a span of the order begins with it.
    """

    span: Span
    is_due: bool
    begins: bool


class NextShift(Frozen):
    """The shift after the one handed over: its hours, and by patient id the hours of each patient
    with an order, and the charted times away or asleep that reach into it.
    """

    shift: Shift
    hours: tuple[Span, ...]
    of_patient: Mapping[str, tuple[RoundHour, ...]]
    away: Mapping[str, tuple[NotDue, ...]]


class Coming(Frozen):
    """One patient's measures, and when breaths are due in the coming day, by each order of it."""

    measures: Measures
    turns: tuple[Turns, ...]

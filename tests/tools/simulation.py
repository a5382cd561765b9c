"""Simulated recoveries with a known truth, as the hand-overs that a ward would have had of them.

Enters: `Assumptions` and a random generator. Leaves: `Course`s, and a `Handover` for each of their
shifts. Never measures. The same generator state gives the same courses.

Time runs in hours from the start of the first shift. A charted volume is the underlying one, plus a
swing by day and night, plus an effect that all readings of one shift share, plus an error of its
own; now and then it is a poor effort; and it is read to the device's nearest mark.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from math import ceil, inf, pi, sqrt
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from handoff.model.findings import Place
from handoff.model.ward import Counts, Entry, Handover, Order, Patient, Shift, Signs
from tests.support.builders import UNIT, ZONE

FIRST_DAY = date(2026, 5, 4)  # three weeks from here the clock does not change
WEEK_D = 7
WAKING = range(6, 22)  # local hours; common practice
EVENING, MORNING = 19, 5  # a shift that starts between them is a night shift; common practice
FEVER_C = 38.5

Floats = NDArray[np.float64]
Range = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Assumptions:
    """What recoveries are made of. No published source fixes any of it: every value is assumed.

    (P) is common practice, (I) is invented. A range is drawn from evenly, once a course.
    """

    gain_ml_per_day: float = 0.0  # (I) underlying change of the volume
    volume_ml: Range = (600, 2500)  # (I) holds the straight line of the first seven days
    learning_ml: float = 0.0  # (I) missing at the start, for want of skill
    learning_h: float = 6.0  # (I) time in which all but 37 % of that is learned
    plateau_after_d: Range = (inf, inf)  # (I) then the patient's own ceiling is reached
    onset_h: Range = (inf, inf)  # (I) when a complication sets in
    loss: float = 0.0  # (I) part of the volume that it takes
    loss_over_h: float = 1.0  # (I) time in which it takes it; above 0
    goal_after_d: Range = (inf, inf)  # (I) when the straight line gets to the goal, before rounding
    goal_part: float = 1.3  # (I) a course that does not rise: goal as a part of its first volume

    swing_ml: float = 40.0  # (I) amplitude by day and night, highest at 16:00
    shift_sd_ml: float = 80.0  # (I) spread of what the readings of one shift share
    carried: float = 0.0  # (I) correlation of that with the shift before, 0 to 1
    reading_sd_ml: float = 80.0  # (I) spread of single readings within a shift
    poor_chance: float = 0.05  # (I) a reading is a poor effort
    poor_part: float = 0.6  # (I) part of the volume that a poor effort gives
    steps_ml: tuple[int, ...] = (50, 100)  # (P) marks of the device; one is drawn a course

    first_clock_h: int = 7  # (P) local hour at which the first shift begins
    shift_h: int = 12  # (P) length of each shift
    order_h: Range = (0, 6)  # (I) order's start after the first shift's
    charted_chance: float = 0.4  # (I) a waking hour's round leaves a volume
    missed_night_chance: float = 0.15  # (I) a night shift leaves none at all
    sign_chance_well: float = 0.0  # (I) a shift charts a fever
    sign_chance_ill: float = 0.0  # (I) the same once the complication has set in
    length_d: int = WEEK_D


@dataclass(frozen=True, slots=True)
class Path:
    """The truth: the volume that underlies the readings, in mL."""

    start_ml: float
    gain_ml_per_day: float
    ceiling_ml: float
    order_h: float
    learning_ml: float
    learning_h: float
    onset_h: float
    loss: float
    loss_over_h: float

    def at(self, hours: ArrayLike) -> Floats:
        """The underlying volume at so many hours after the first shift's start."""
        time_h = np.asarray(hours, dtype=np.float64)
        line_ml = np.minimum(self.start_ml + self.gain_ml_per_day * time_h / 24, self.ceiling_ml)
        unlearned_ml = self.learning_ml * np.exp(-(time_h - self.order_h) / self.learning_h)
        lost = self.loss * np.clip((time_h - self.onset_h) / self.loss_over_h, 0, 1)
        volume_ml: Floats = (line_ml - unlearned_ml) * (1 - lost)
        return volume_ml

    def average_change(self, first_h: float, last_h: float) -> float:
        """The true slope between two times: what was gained, in mL a day of the time between."""
        first_ml, last_ml = self.at([first_h, last_h])
        return float(24 * (last_ml - first_ml) / (last_h - first_h))

    def reaches_h(self, goal_ml: float, longest_d: int = 60) -> float:
        """The first time at or above the goal, to a tenth of an hour; inf where there is none."""
        time_h = np.arange(self.order_h, 24 * longest_d, 0.1)
        reached = self.at(time_h) >= goal_ml
        return float(time_h[reached.argmax()]) if reached.any() else inf


@dataclass(frozen=True, slots=True)
class Course:
    """One patient: the truth, and what was charted of it, in time order."""

    path: Path
    goal_ml: float
    goal_h: float  # when the underlying volume is there; inf for never
    reading_h: Floats
    reading_ml: Floats
    fever: NDArray[np.bool_]  # charted beside the reading
    scale_ml: float = inf  # the device's, where it is known

    def next_at_goal_h(self, after_h: float) -> float:
        """Time of the first charted reading after `after_h` at or above the goal, or inf."""
        there = (self.reading_h > after_h) & (self.reading_ml >= self.goal_ml)
        return float(self.reading_h[there.argmax()]) if there.any() else inf


def simulate(given: Assumptions, rng: np.random.Generator) -> Course:
    """One course under the assumptions."""
    path = _path(given, rng)
    step_ml = rng.choice(given.steps_ml)
    hours = _charted_hours(given, path.order_h, rng)
    volumes = path.at(hours) + _swing(given, hours) + _shared(given, hours, rng)
    volumes += rng.normal(0, given.reading_sd_ml, hours.size)
    volumes[rng.random(hours.size) < given.poor_chance] *= given.poor_part
    goal_ml = _goal(given, path, rng)
    return Course(
        path=path,
        goal_ml=goal_ml,
        goal_h=path.reaches_h(goal_ml),
        reading_h=hours,
        reading_ml=np.maximum(step_ml * np.round(volumes / step_ml), 0),
        fever=_fevers(given, path, hours, rng),
    )


class Shifts(Protocol):
    """What hand-overs ask of the assumptions of either generator."""

    @property
    def first_clock_h(self) -> int: ...

    @property
    def shift_h(self) -> int: ...


def hand_overs(
    given: Shifts, courses: Sequence[Course], days: int = WEEK_D
) -> Iterator[tuple[float, Handover]]:
    """A ward of these courses at the end of each of its shifts: hours run, and the hand-over."""
    start = datetime.combine(FIRST_DAY, datetime.min.time(), tzinfo=ZONE).astimezone(UTC)
    start += timedelta(hours=given.first_clock_h)
    step = timedelta(hours=given.shift_h)
    shifts = [
        Shift(start + number * step, start + (number + 1) * step)
        for number in range(24 * days // given.shift_h)
    ]
    patients = tuple(_patient(number, course, start) for number, course in enumerate(courses))
    entries = {
        patient.id: _entries(patient, course, start)
        for patient, course in zip(patients, courses, strict=True)
    }
    for number, shift in enumerate(shifts, 1):
        known = {
            patient_id: tuple(row for row in rows if row.at < shift.end)
            for patient_id, rows in entries.items()
        }
        used = sum(map(len, known.values()))
        yield (
            float(number * given.shift_h),
            Handover(
                unit=UNIT,
                shift=shift,
                as_of=shift.end,
                patients=patients,
                entries=known,
                stay_start={each.id: each.order.start for each in patients if each.order},
                shifts=tuple(shifts[:number]),
                counts=Counts(used, used, 0),
            ),
        )


def _path(given: Assumptions, rng: np.random.Generator) -> Path:
    week_ml = WEEK_D * given.gain_ml_per_day
    least_ml, most_ml = given.volume_ml
    start_ml = rng.uniform(least_ml - min(week_ml, 0), most_ml - max(week_ml, 0))
    plateau_d, onset_h = _draw(given.plateau_after_d, rng), _draw(given.onset_h, rng)
    return Path(
        start_ml=start_ml,
        gain_ml_per_day=given.gain_ml_per_day,
        ceiling_ml=inf if plateau_d == inf else start_ml + given.gain_ml_per_day * plateau_d,
        order_h=round(_draw(given.order_h, rng) * 60) / 60,
        learning_ml=given.learning_ml,
        learning_h=given.learning_h,
        onset_h=onset_h,
        loss=given.loss,
        loss_over_h=given.loss_over_h,
    )


def _draw(between: Range, rng: np.random.Generator) -> float:
    low, high = between
    return low if low == high else float(rng.uniform(low, high))


def _goal(given: Assumptions, path: Path, rng: np.random.Generator) -> float:
    goal_d = _draw(given.goal_after_d, rng)
    rises = path.gain_ml_per_day > 0 and goal_d != inf
    gained_ml = path.gain_ml_per_day * goal_d if rises else (given.goal_part - 1) * path.start_ml
    return 50.0 * round((path.start_ml + gained_ml) / 50)


def _charted_hours(given: Assumptions, order_h: float, rng: np.random.Generator) -> Floats:
    """One time in each waking hour whose round left a volume, to the minute."""
    hours = np.arange(24 * given.length_d)
    times_h = hours + rng.integers(0, 60, hours.size) / 60
    charted = rng.random(hours.size) < given.charted_chance
    awake = np.isin((given.first_clock_h + hours) % 24, WAKING)
    kept: Floats = times_h[charted & awake & (times_h >= order_h) & ~_missed(given, hours, rng)]
    return kept


def _missed(
    given: Assumptions, hours: NDArray[np.int_], rng: np.random.Generator
) -> NDArray[np.bool_]:
    """The hours of night shifts that leave no volume at all."""
    shift = hours // given.shift_h
    clock_h = (given.first_clock_h + given.shift_h * np.arange(_shifts(given))) % 24
    is_night = (clock_h >= EVENING) | (clock_h < MORNING)
    missed: NDArray[np.bool_] = is_night & (rng.random(clock_h.size) < given.missed_night_chance)
    return missed[shift]


def _shifts(given: Assumptions) -> int:
    return ceil(24 * given.length_d / given.shift_h)


def _swing(given: Assumptions, hours: Floats) -> Floats:
    swing: Floats = given.swing_ml * np.cos(2 * pi * (given.first_clock_h + hours - 16) / 24)
    return swing


def _shared(given: Assumptions, hours: Floats, rng: np.random.Generator) -> Floats:
    """What all readings of one shift share; part of it is carried over from the shift before."""
    effects = rng.normal(0, given.shift_sd_ml, _shifts(given))
    fresh = sqrt(1 - given.carried**2)  # keeps the spread of every shift the same
    for shift in range(1, effects.size):
        effects[shift] = given.carried * effects[shift - 1] + fresh * effects[shift]
    shared: Floats = effects[(hours // given.shift_h).astype(int)]
    return shared


def _fevers(
    given: Assumptions, path: Path, hours: Floats, rng: np.random.Generator
) -> NDArray[np.bool_]:
    """A fever beside the last reading of the shifts that chart one."""
    shift = hours // given.shift_h
    is_last = np.append(shift[1:] != shift[:-1], True)[: hours.size]
    chance = np.where(hours >= path.onset_h, given.sign_chance_ill, given.sign_chance_well)
    fevers: NDArray[np.bool_] = is_last & (rng.random(hours.size) < chance)
    return fevers


def _patient(number: int, course: Course, start: datetime) -> Patient:
    order = Order(start + timedelta(hours=course.path.order_h), goal_ml=course.goal_ml)
    name, born = f"Course {number}", date(1960, 1, 1)
    scale_ml = None if course.scale_ml == inf else course.scale_ml
    place = Place("simulated")
    return Patient(
        str(number), name, born, str(number), place, order=order, device_scale_ml=scale_ml
    )


def _entries(patient: Patient, course: Course, start: datetime) -> tuple[Entry, ...]:
    rows = zip(course.reading_h, course.reading_ml, course.fever, strict=True)
    return tuple(
        Entry(
            patient.id,
            start + timedelta(minutes=round(60 * hour)),
            Place("simulated", line),
            breaths=10,
            volume_ml=float(volume_ml),
            signs=Signs(temp_c=FEVER_C if fever else None),
        )
        for line, (hour, volume_ml, fever) in enumerate(rows, 1)
    )

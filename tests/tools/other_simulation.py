"""A second generator of recoveries, built otherwise than `simulation`, so that no limit is tuned to
one: errors are parts of the volume, know no borders of shifts, and now and then are large.

Enters: `OtherAssumptions` and a random generator. Leaves: `Course`s, for the same hand-overs. Never
measures. The same generator state gives the same courses.

A charted volume is the underlying one times a swing by day and night, a slow disturbance that
fades, a quick one with heavy tails, a poor effort where there is one, and a short dip where there
is one. It is read to the device's nearest mark and is cut at its top. Less is charted in an ill
patient.
"""

from dataclasses import dataclass
from math import inf, pi

import numpy as np
from numpy.typing import NDArray

from tests.tools.simulation import EVENING, MORNING, WAKING, WEEK_D, Course, Floats, Path, Range


@dataclass(frozen=True, slots=True)
class OtherAssumptions:
    """What these recoveries are made of. No published source fixes any of it: all is invented.

    A range is drawn from evenly, once a course. A part is of the volume.
    """

    gain_ml_per_day: float = 0.0  # underlying change of the volume
    volume_ml: Range = (600, 2500)  # holds the straight line of the first seven days
    missing_part: Range = (0.0, 0.12)  # missing at the start, and won back
    missing_h: Range = (6, 6)  # time in which all but 37 % of that is won back
    plateau_after_d: Range = (inf, inf)  # then the patient's own ceiling is reached
    onset_h: Range = (inf, inf)  # when a complication sets in
    loss: float = 0.0  # part of the volume that it takes
    loss_over_h: Range = (1, 1)  # time in which it takes it
    goal_after_d: Range = (inf, inf)  # when the straight line gets to the goal

    noise_part: Range = (0.04, 0.10)  # spread of the slow and of the quick disturbance, each
    slow_fades_h: float = 8.0  # time in which the slow one fades to 37 %
    swing_part: Range = (0.01, 0.06)  # amplitude by day and night, highest between 12:00 and 20:00
    poor_chance: float = 0.02  # a reading begins a run of one to three poor efforts
    poor_part: Range = (0.4, 0.8)  # what each of these gives
    dips_a_day: float = 0.1  # a short dip of one to four hours
    dip_part: Range = (0.6, 0.9)  # what is left in it
    steps_ml: tuple[int, ...] = (50, 100, 250)  # marks of the device; one is drawn a course
    scales_ml: tuple[int, ...] = (2500, 5000)  # its top; one that holds the course is drawn

    first_clock_h: int = 7  # local hour at which the first shift begins
    shift_h: int = 12  # length of each shift
    order_h: Range = (0, 6)  # order's start after the first shift's
    charted_chance: float = 0.4  # a waking hour's round leaves a volume, where nothing is wrong
    less_charted: float = 1.3  # times the part lost: how much less is charted in an ill patient
    charted_in_dip: float = 0.5  # the part of the rounds that is charted in a dip
    missed_night_chance: float = 0.25  # a night leaves none at all
    length_d: int = WEEK_D


def simulate_other(given: OtherAssumptions, rng: np.random.Generator) -> Course:
    """One course under the assumptions."""
    path = _path(given, rng)
    hours = np.arange(24 * given.length_d) + rng.integers(0, 60, 24 * given.length_d) / 60
    in_dip = _dips(given, hours, rng)
    lost = given.loss * np.clip((hours - path.onset_h) / path.loss_over_h, 0, 1)
    chance = given.charted_chance * np.maximum(1 - given.less_charted * lost, 0)
    chance *= np.where(in_dip < 1, given.charted_in_dip, 1)
    clock_h = (given.first_clock_h + hours) % 24
    is_awake = np.isin(np.floor(clock_h), WAKING) & (hours >= path.order_h)
    kept = is_awake & (rng.random(hours.size) < chance) & ~_missed(given, hours, clock_h, rng)
    hours, in_dip, clock_h = hours[kept], in_dip[kept], clock_h[kept]
    spread = rng.uniform(*given.noise_part)
    peak_h = rng.uniform(12, 20)
    volumes = path.at(hours) * in_dip * _efforts(given, hours.size, rng)
    volumes *= 1 + rng.uniform(*given.swing_part) * np.cos(2 * pi * (clock_h - peak_h) / 24)
    # Student's t of 3 degrees has a spread of square root of 3.
    quick = spread * rng.standard_t(3, hours.size) / np.sqrt(3)
    volumes *= np.maximum(1 + spread * _slow(given, hours, rng) + quick, 0.1)
    step_ml = rng.choice(given.steps_ml)
    highest_ml = float(path.at(np.linspace(0, 24 * WEEK_D, 8)).max())
    scale_ml = min((each for each in given.scales_ml if each >= highest_ml), default=inf)
    goal_ml = 50.0 * round(_goal(given, path, rng) / 50)
    return Course(
        path=path,
        goal_ml=goal_ml,
        goal_h=path.reaches_h(goal_ml),
        reading_h=hours,
        reading_ml=np.clip(step_ml * np.round(volumes / step_ml), 0, scale_ml),
        fever=np.zeros(hours.size, dtype=np.bool_),
        scale_ml=scale_ml,
    )


def _path(given: OtherAssumptions, rng: np.random.Generator) -> Path:
    week_ml = WEEK_D * given.gain_ml_per_day
    least_ml, most_ml = given.volume_ml
    start_ml = rng.uniform(least_ml - min(week_ml, 0), most_ml - max(week_ml, 0))
    plateau_d = _draw(given.plateau_after_d, rng)
    return Path(
        start_ml=start_ml,
        gain_ml_per_day=given.gain_ml_per_day,
        ceiling_ml=inf if plateau_d == inf else start_ml + given.gain_ml_per_day * plateau_d,
        order_h=round(_draw(given.order_h, rng) * 60) / 60,
        learning_ml=start_ml * _draw(given.missing_part, rng),
        learning_h=_draw(given.missing_h, rng),
        onset_h=_draw(given.onset_h, rng),
        loss=given.loss,
        loss_over_h=_draw(given.loss_over_h, rng),
    )


def _draw(between: Range, rng: np.random.Generator) -> float:
    low, high = between
    return low if low == high else float(rng.uniform(low, high))


def _goal(given: OtherAssumptions, path: Path, rng: np.random.Generator) -> float:
    goal_d = _draw(given.goal_after_d, rng)
    if goal_d == inf or path.gain_ml_per_day <= 0:
        return 0.95 * path.start_ml if given.missing_part[0] > 0 else 1.3 * path.start_ml
    return path.start_ml + path.gain_ml_per_day * goal_d


def _dips(given: OtherAssumptions, hours: Floats, rng: np.random.Generator) -> Floats:
    """What is left at each time: 1 where there is no dip."""
    left = np.ones(hours.size)
    for _ in range(rng.poisson(given.dips_a_day * given.length_d)):
        begins = rng.uniform(0, 24 * given.length_d)
        is_in = (hours >= begins) & (hours < begins + rng.uniform(1, 4))
        left[is_in] = rng.uniform(*given.dip_part)
    return left


def _missed(
    given: OtherAssumptions, hours: Floats, clock_h: Floats, rng: np.random.Generator
) -> NDArray[np.bool_]:
    """The hours of nights that leave no volume at all; a night is counted from noon to noon."""
    night = ((given.first_clock_h + hours - 12) // 24).astype(int)
    is_missed = rng.random(night.max() + 2) < given.missed_night_chance
    missed: NDArray[np.bool_] = is_missed[night] & ((clock_h >= EVENING) | (clock_h < MORNING + 2))
    return missed


def _efforts(given: OtherAssumptions, count: int, rng: np.random.Generator) -> Floats:
    """The part that each reading gives: poor efforts come in runs."""
    parts = np.ones(count)
    for first in np.flatnonzero(rng.random(count) < given.poor_chance):
        length = rng.integers(1, 4)
        parts[first : first + length] = rng.uniform(
            *given.poor_part, parts[first : first + length].size
        )
    return parts


def _slow(given: OtherAssumptions, hours: Floats, rng: np.random.Generator) -> Floats:
    """A disturbance of spread 1 that fades with time, whatever shift it is."""
    slow = rng.normal(size=hours.size)
    for number in range(1, hours.size):
        kept = np.exp(-(hours[number] - hours[number - 1]) / given.slow_fades_h)
        slow[number] = kept * slow[number - 1] + np.sqrt(1 - kept**2) * slow[number]
    return slow

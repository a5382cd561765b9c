"""A simulated month of a ward: what the hand-overs cost it, with and without matters of the stay.

Input: `Rates` and a seed. Output: a `Handover` for each shift, and the figures of the month. Prints
what one shift alone would give (the gravest rule that its own rows meet) beside what the program
gives (an escalation stays open until it is told and settled). The same seed gives the same month.

30 beds, 46 days of 3 shifts of 8 h, from 07:00: 138 hand-overs. `python -m tests.tools.month`
prints it, `python -m tests.tools.month 1 2 3` three of them. Seeds 1 to 5 gave, a shift: one shift
alone 1.8 to
2.1 ESCALATE, 9.0 to 10.3 FOLLOW UP, 17.1 to 17.7 CONTINUE; the program 2.6 to 4.6, 8.9 to 10.5 and
14.9 to 16.2, 3.3 to 4.9 times asked to tell, and 2.8 to 5.1 to measure or ask again.

The design reckoned with 2.1 to 3.2 ESCALATE, about 10 and about 16, and 2.3 measurements asked for.
More escalates here. Half of these patients have no regular vital signs (`vitals_chance`), so that
often nothing shows that a danger is over, and it stays open. The figure hangs on how long a danger
lasts and how soon somebody looks again.
"""

import sys
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from random import Random
from statistics import mean, median, quantiles
from typing import Any

from msgspec.structs import asdict, replace

from handoff.judge import judge
from handoff.limits.reading import Limits
from handoff.measure import measure
from handoff.model.findings import Place
from handoff.model.matters import Matter, Verdicts
from handoff.model.verdicts import Level, Priority
from handoff.model.ward import (
    Counts,
    Entry,
    Flow,
    Handover,
    Listing,
    Order,
    Patient,
    SeenBy,
    Shift,
    Signs,
    Symptom,
    What,
)
from tests.support.builders import UNIT, default_limits

START = datetime(2026, 5, 4, 10, tzinfo=UTC)  # 07:00 on the unit's clock
SHIFT_H = 8
MINUTE = timedelta(minutes=1)
HOUR = timedelta(hours=1)
ZONE_H = 3  # the unit's clock stands so far behind UTC for the whole month
WAKING = range(6, 22)  # local hours in which exercises are charted


@dataclass(frozen=True, slots=True)
class Rates:
    """Everything the month is made of. No source fixes any of it: every value is invented.

    A chance is of 1; a pair is a range, drawn from evenly.
    """

    beds: int = 30
    shifts: int = 138
    stay_shifts: tuple[int, int] = (4, 26)  # length of a stay; a new patient follows
    empty_chance: float = 0.2  # the bed then stands empty for a shift
    no_order_chance: float = 0.02  # a patient has no order for the whole stay
    order_after_h: tuple[float, float] = (0, 3)
    spo2_min_chance: float = 0.08  # the order sets 88 %
    not_shown_back_chance: float = 0.18

    exercise_chance: float = 0.45  # a waking hour leaves an exercise
    self_chance: float = 0.10  # of exercises: reported by the patient
    volume_chance: float = 0.8  # of exercises
    volume_ml: tuple[float, float] = (900, 2400)  # at the start of the stay
    gain_ml_per_day: tuple[float, float] = (-20, 120)
    reading_spread: float = 0.09  # standard deviation, of the volume
    off_form_chance: float = 0.04  # of exercises: fast; a quarter as many blown into
    declined_chance: float = 0.03  # a waking hour leaves a decline
    none_chance: float = 0.10  # of entries: asked for symptoms, and none
    mild_chance: float = 0.014  # of entries: dizzy, breathless, cough or fatigue
    pain_chance: float = 0.2  # of entries: rated
    strong_pain_chance: float = 0.03  # of those: 7
    spo2_chance: float = 0.15  # of exercises: SpO2 beside it
    on_oxygen_chance: float = 0.6  # of SpO2 values: whether on oxygen is recorded
    vitals_chance: float = 0.5  # of patients: vital signs every 4 h, day and night
    fever_chance: float = 0.010  # of those: 38.0 to 39.0

    danger_chance: float = 0.058  # a patient and shift: a danger sets in and is charted
    danger_h: tuple[float, float] = (0.5, 6)  # how long it lasts
    told_chance: float = 0.5  # the provider was told within half an hour, and it was charted
    about_chance: float = 0.5  # of those: what about
    again_chance: float = 0.8  # measured, or asked, again 1 to 6 h after it was first charted
    settled_chance: float = 0.03  # a person writes, 2 to 20 h after, that it is over


# Each danger, how often it is the one, its value, and the word of `about`.
DANGERS: list[tuple[str, float, dict[str, Any], str]] = [
    ("spo2", 0.30, {"spo2": (84, 87)}, "oxygen"),
    ("resp_rate", 0.14, {"resp_rate": (25, 33)}, "breathing"),
    ("pulse", 0.16, {"pulse": (131, 150)}, "pulse"),
    ("temp_c", 0.03, {"temp_c": (34, 35)}, "temperature"),
    ("faint", 0.08, {"symptom": Symptom.FAINT}, "faint"),
    ("chest_pain", 0.08, {"symptom": Symptom.CHEST_PAIN}, "chest_pain"),
    ("drowsy", 0.08, {"symptom": Symptom.DROWSY}, "drowsy"),
    ("confused", 0.08, {"symptom": Symptom.CONFUSED}, "confused"),
    ("dizzy", 0.05, {"symptom": Symptom.DIZZY, "pulse": (131, 145)}, "dizzy"),
]
USUAL: dict[str, tuple[int, int]] = {
    "spo2": (93, 98),
    "resp_rate": (12, 20),
    "pulse": (60, 100),
    "temp_c": (36, 37),
}


@dataclass(frozen=True, slots=True)
class Stay:
    """One patient of the month, from the first to the last shift that lists them."""

    patient: Patient
    first: int
    last: int
    entries: tuple[Entry, ...]


@dataclass(slots=True)
class Figures:
    """What the hand-overs of the month came to."""

    shifts: int = 0
    shift_alone: Counter[str] = field(default_factory=Counter)
    program: Counter[str] = field(default_factory=Counter)
    states: Counter[str] = field(default_factory=Counter)
    ages_h: list[float] = field(default_factory=list)  # of matters open or told, at each hand-over
    told_asked: int = 0  # matters open, or settled and not told and still printed one by one
    measurements_asked: int = 0  # matters open or told

    def a_shift(self, count: int) -> float:
        return count / self.shifts


# The month


def hand_overs(rates: Rates, seed: int) -> Iterator[Handover]:
    """One hand-over at the end of each shift, with all that earlier shifts charted."""
    draw = Random(seed)
    shifts = [
        Shift(START + number * SHIFT_H * HOUR, START + (number + 1) * SHIFT_H * HOUR)
        for number in range(rates.shifts)
    ]
    stays = [stay for bed in range(rates.beds) for stay in _bed(draw, rates, shifts, bed)]
    for number, shift in enumerate(shifts):
        here = [stay for stay in stays if stay.first <= number <= stay.last]
        known = {
            stay.patient.id: tuple(row for row in stay.entries if row.at < shift.end)
            for stay in here
        }
        used = sum(len(rows) for rows in known.values())
        yield Handover(
            unit=UNIT,
            shift=shift,
            as_of=shift.end,
            patients=tuple(stay.patient for stay in here),
            entries=known,
            stay_start={
                stay.patient.id: stay.patient.order.start for stay in here if stay.patient.order
            },
            shifts=tuple(shifts[: number + 1]),
            counts=Counts(used, used, 0),
            listings={
                stay.patient.id: tuple(
                    Listing(UNIT.name, earlier, stay.patient)
                    for earlier in shifts[stay.first : number + 1]
                )
                for stay in here
            },
        )


def _bed(draw: Random, rates: Rates, shifts: list[Shift], bed: int) -> Iterator[Stay]:
    """The patients of one bed, one after the other; the month begins in the middle of a stay."""
    first = -draw.randrange(rates.stay_shifts[1])
    while first < len(shifts):
        last = first + draw.randint(*rates.stay_shifts) - 1
        if last >= 0:
            yield _stay(draw, rates, shifts, bed, (max(first, 0), min(last, len(shifts) - 1)))
        first = last + 1
        while draw.random() < rates.empty_chance:
            first += 1


def _stay(
    draw: Random, rates: Rates, shifts: list[Shift], bed: int, listed: tuple[int, int]
) -> Stay:
    first, last = listed
    start, end = shifts[first].start, shifts[last].end
    order = Order(
        start + int(60 * draw.uniform(*rates.order_after_h)) * MINUTE,
        spo2_min=88.0 if draw.random() < rates.spo2_min_chance else None,
    )
    patient = Patient(
        id=f"{bed:02}-{first:03}",
        name=f"Patient {bed}-{first}",
        born=date(1960, 1, 1),
        bed=str(bed + 1),
        place=Place("month", bed + 1),
        order=None if draw.random() < rates.no_order_chance else order,
        device_given=True,
        device_labelled=True,
        device_scale_ml=4000,
        taught=True,
        shown_back=None if draw.random() < rates.not_shown_back_chance else True,
    )
    rows = [
        *_rounds(draw, rates, patient, order.start, end),
        *_vital_signs(draw, rates, patient, order.start, end),
    ]
    for shift in shifts[first : last + 1]:
        if draw.random() < rates.danger_chance:
            begins = shift.start + draw.randrange(SHIFT_H * 60) * MINUTE
            rows = _with_danger(draw, rates, patient, max(begins, order.start), rows)
    placed = [replace(row, place=Place("month", line)) for line, row in enumerate(rows, 1)]
    in_order = sorted((row for row in placed if row.at < end), key=lambda row: row.at)
    return Stay(patient, first, last, tuple(in_order))


def _rounds(
    draw: Random, rates: Rates, patient: Patient, start: datetime, end: datetime
) -> Iterator[Entry]:
    """Exercises and declines of the waking hours, with what was seen and measured beside them."""
    level_ml, gain_ml = draw.uniform(*rates.volume_ml), draw.uniform(*rates.gain_ml_per_day)
    hour = start.replace(minute=0)
    while hour < end:
        at = hour + draw.randrange(60) * MINUTE
        waking = (at.hour - ZONE_H) % 24 in WAKING and start <= at < end
        if waking and draw.random() < rates.exercise_chance:
            usual_ml = level_ml + gain_ml * ((at - start) / timedelta(days=1))
            volume_ml = 50.0 * round(usual_ml * draw.gauss(1, rates.reading_spread) / 50)
            flow = draw.choice([Flow.STEADY, None])
            if draw.random() < rates.off_form_chance:
                flow = draw.choice([Flow.FAST, Flow.FAST, Flow.FAST, Flow.BLEW])
            yield Entry(
                patient.id,
                at,
                patient.place,
                breaths=draw.choice([8, 10, 10, 10, 10]),
                volume_ml=volume_ml if draw.random() < rates.volume_chance else None,
                flow=flow,
                seen_by=SeenBy.PATIENT if draw.random() < rates.self_chance else None,
                signs=_signs_beside(draw, rates, patient),
            )
        elif waking and draw.random() < rates.declined_chance:
            yield Entry(patient.id, at, patient.place, what=What.DECLINED)
        hour += HOUR


def _signs_beside(draw: Random, rates: Rates, patient: Patient) -> Signs:
    seen: dict[str, Any] = {}
    if draw.random() < rates.mild_chance:
        mild = [Symptom.DIZZY, Symptom.BREATHLESS, Symptom.COUGH, Symptom.FATIGUE]
        seen["symptoms"] = frozenset({draw.choice(mild)})
    elif draw.random() < rates.none_chance:
        seen["symptoms"] = frozenset({Symptom.NONE})
    if draw.random() < rates.pain_chance:
        strong = draw.random() < rates.strong_pain_chance
        seen["pain"] = 7 if strong else draw.choice([0, 1, 2, 2, 3])
    if draw.random() < rates.spo2_chance:
        seen["spo2"] = draw.randint(*_usual(patient, "spo2"))
        seen["on_oxygen"] = _on_oxygen(draw, rates, usually=False)
    return Signs(**seen)


def _usual(patient: Patient, name: str) -> tuple[int, int]:
    """The patient's values on a good day; who has an SpO2 limit of 88 has it low on good days."""
    if name == "spo2" and patient.order is not None and patient.order.spo2_min is not None:
        return (88, 93)
    return USUAL[name]


def _on_oxygen(draw: Random, rates: Rates, *, usually: bool) -> bool | None:
    return usually if draw.random() < rates.on_oxygen_chance else None


def _vital_signs(
    draw: Random, rates: Rates, patient: Patient, start: datetime, end: datetime
) -> Iterator[Entry]:
    """All four every 4 h in a part of the patients; none is a danger, now and then a fever."""
    at = start + draw.randrange(240) * MINUTE
    every_4_h = draw.random() < rates.vitals_chance
    while every_4_h and at < end:
        seen: dict[str, Any] = {name: float(draw.randint(*_usual(patient, name))) for name in USUAL}
        if draw.random() < rates.fever_chance:
            seen["temp_c"] = round(draw.uniform(38, 39), 1)
        seen["on_oxygen"] = _on_oxygen(draw, rates, usually=False)
        yield Entry(patient.id, at, patient.place, what=What.SEEN, signs=Signs(**seen))
        at += 4 * HOUR + draw.randint(-20, 20) * MINUTE


def _with_danger(
    draw: Random, rates: Rates, patient: Patient, begins: datetime, rows: list[Entry]
) -> list[Entry]:
    """The rows with a danger in them: while it lasts, what measures the same measures it too."""
    _, _, shows, word = draw.choices(DANGERS, [each[1] for each in DANGERS])[0]
    ends = begins + draw.uniform(*rates.danger_h) * HOUR
    on_oxygen = draw.random() < 0.5  # in this danger, for as long as it lasts

    def shown() -> Signs:
        seen: dict[str, Any] = {
            name: float(draw.randint(*value)) for name, value in shows.items() if name != "symptom"
        }
        if "symptom" in shows:
            seen["symptoms"] = frozenset({shows["symptom"]})
        if "spo2" in seen:
            seen["on_oxygen"] = _on_oxygen(draw, rates, usually=on_oxygen)
            seen["oxygen"] = "2 L nasal" if seen["on_oxygen"] else None
        return Signs(**seen)

    def observed(at: datetime, signs: Signs) -> Entry:
        return Entry(patient.id, at, patient.place, what=What.SEEN, signs=signs)

    changed = []
    for row in rows:
        measures_it = any(getattr(row.signs, name, None) is not None for name in shows)
        asked = "symptom" in shows and row.signs.symptoms == frozenset({Symptom.NONE})
        if begins <= row.at < ends and (measures_it or asked):
            danger = shown()
            given = {name: value for name, value in asdict(danger).items() if value}
            changed.append(replace(row, signs=replace(row.signs, **given)))
        else:
            changed.append(row)
    changed.append(observed(begins, shown()))
    if draw.random() < rates.again_chance:
        again = begins + draw.randint(60, 360) * MINUTE
        signs = shown() if again < ends else _over(draw, rates, patient, shows)
        changed.append(observed(again, signs))
    if draw.random() < rates.told_chance:
        about = (word,) if draw.random() < rates.about_chance else ()
        at = begins + draw.randint(1, 30) * MINUTE
        changed.append(_by_a_person(patient, What.TOLD, at, about))
    if draw.random() < rates.settled_chance:
        at = begins + draw.randint(120, 1200) * MINUTE
        changed.append(_by_a_person(patient, What.SETTLED, at, (word,)))
    return changed


def _by_a_person(patient: Patient, what: What, at: datetime, about: tuple[str, ...]) -> Entry:
    return Entry(patient.id, at, patient.place, what=what, about=about, note="Dr P. Marwood")


def _over(draw: Random, rates: Rates, patient: Patient, shows: dict[str, Any]) -> Signs:
    """What is measured or asked again once it is over; half of low SpO2s are seen over on air."""
    seen: dict[str, Any] = {
        name: float(draw.randint(*_usual(patient, name))) for name in shows if name != "symptom"
    }
    if "symptom" in shows:
        seen["symptoms"] = frozenset({Symptom.NONE})
    if "spo2" in seen:
        seen["on_oxygen"] = _on_oxygen(draw, rates, usually=draw.random() < 0.5)
        seen["oxygen"] = "2 L nasal" if seen["on_oxygen"] else None
    return Signs(**seen)


# What it costs


def count(given: Iterable[Handover], limits: Limits) -> Figures:
    """The priorities of one shift alone and the program's, over all patients with an order and all
    hand-overs; and what the program says is open.
    """
    figures = Figures()
    for handover in given:
        figures.shifts += 1
        measured = measure(handover)
        for patient in handover.patients:
            if patient.order is None:
                continue
            verdicts = judge(measured[patient.id], handover, limits)
            without_matters = judge(measured[patient.id], handover, limits, ())
            figures.shift_alone[_of_the_shift_alone(without_matters)] += 1
            figures.program[verdicts.priority] += 1
            for matter in verdicts.matters:
                _count_matter(figures, matter, handover.as_of)
    return figures


def _of_the_shift_alone(verdicts: Verdicts) -> Priority:
    """As it was before: the gravest rule that the shift's own rows meet, told or not."""
    met = {verdict.level for verdict in verdicts.cautions}
    if Level.ESCALATE in met:
        return Priority.ESCALATE
    return Priority.FOLLOW_UP if Level.FOLLOW_UP in met else Priority.CONTINUE


def _count_matter(figures: Figures, matter: Matter, as_of: datetime) -> None:
    figures.states[matter.state] += 1
    if matter.holds_back:
        figures.measurements_asked += 1
        figures.ages_h.append((as_of - matter.opened_at) / HOUR)
    if not matter.is_told and not matter.is_counted:
        figures.told_asked += 1


def report(figures: Figures) -> str:
    """The figures as lines of text, each a shift."""
    lines = [
        f"{figures.shifts} hand-overs; a shift:",
        "",
        "          ESCALATE  FOLLOW UP  CONTINUE",
    ]
    for name, counted in (("one shift", figures.shift_alone), ("program", figures.program)):
        each = [figures.a_shift(counted[priority]) for priority in Priority]
        lines.append(f"{name:<10}{each[0]:>8.1f}{each[1]:>11.1f}{each[2]:>10.1f}")
    lines.append(f"matters open: {figures.a_shift(figures.states['open']):.1f}")
    lines.append(f"matters told: {figures.a_shift(figures.states['told']):.1f}")
    if len(figures.ages_h) > 1:
        ninth = quantiles(figures.ages_h, n=10)[-1]
        middle, average = median(figures.ages_h), mean(figures.ages_h)
        lines.append(
            f"their age: median {middle:.1f} h, mean {average:.1f} h, 90 % up to {ninth:.1f} h"
        )
    lines.append(f"told asked for: {figures.a_shift(figures.told_asked):.1f}")
    lines.append(f"measurements asked for: {figures.a_shift(figures.measurements_asked):.1f}")
    return "\n".join(lines)


if __name__ == "__main__":
    for seed in map(int, sys.argv[1:] or ["1"]):
        figures_of_month = count(hand_overs(Rates(), seed), default_limits())
        print(f"seed {seed}: {report(figures_of_month)}", flush=True)  # noqa: T201 - its output

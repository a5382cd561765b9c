"""Logs of an invented unit over weeks, for the review: two shifts of 12 h a day.

Input: a `Unit` (how big, how long, what changes when) and a seed. Output: its logs in YAML, in a
folder. The same seed gives the same logs. Nothing of it is measured on a real ward: every chance
is invented.
"""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from pathlib import Path
from random import Random

ZONE = "America/Halifax"
HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)
WAKING = range(7, 22)
AT = "%Y-%m-%d %H:%M"
SHIFT_STARTS = (7, 19)  # o'clock
SURNAMES = ("Larkspur", "Bryony", "Moss", "Teasel", "Sorrel", "Yarrow", "Fennel", "Campion")
Row = tuple[datetime, str]
FIRST_NAMES = ("Odile", "Tam", "Bryn", "Ines", "Ravi", "Mei", "Jonas", "Amara", "Luca")


@dataclass(frozen=True, slots=True)
class Unit:
    """What is simulated. From the day `changes_on` a kit lies ready at each bed, so that the first
    exercise comes sooner. With `vitals`, vital signs are charted every four hours.
    """

    name: str = "Harbour 3 East"
    beds: int = 30
    first: date = date(2026, 1, 5)  # a Monday
    days: int = 56
    changes_on: date | None = None
    vitals: bool = False
    soon: float = 0.4  # chance of a first exercise within 4 h of the order
    soon_with_kit: float = 0.9
    never: float = 0.03
    does: float = 0.45  # chance of an exercise in a waking hour, of a patient in the middle
    differs: float = 0.1  # and how patients differ in it
    danger: float = 0.25  # chance of a low SpO2 in a stay


def write_logs(folder: Path, unit: Unit, seed: int) -> list[str]:
    """The paths of the unit's logs, in time order."""
    draw = Random(seed)
    listed: defaultdict[datetime, list[str]] = defaultdict(list)
    rows: defaultdict[datetime, list[Row]] = defaultdict(list)
    for bed in range(unit.beds):
        _fill_bed(draw, unit, bed, listed, rows)
    paths = []
    for shift in _shifts(unit):
        name = "day" if shift.hour == SHIFT_STARTS[0] else "night"
        path = folder / f"{shift:%Y-%m-%d}-{name}.yaml"
        entries = [line for _, line in sorted(rows[shift])]
        text = [
            f"unit: {{name: {unit.name}, time_zone: {ZONE}}}",
            f"shift: {{name: {name}, start: {shift:{AT}}, end: {shift + 12 * HOUR:{AT}}}}",
            "patients:" if listed[shift] else "patients: []",
            *listed[shift],
            "entries:" if entries else "entries: []",
            *entries,
        ]
        path.write_text("\n".join(text) + "\n", encoding="utf-8")
        paths.append(str(path))
    return paths


def _start(unit: Unit) -> datetime:
    return datetime.combine(unit.first, time())  # local, as a log has it


def _shifts(unit: Unit) -> Iterator[datetime]:
    for day in range(unit.days):
        for hour in SHIFT_STARTS:
            yield _start(unit) + timedelta(day, hours=hour)


def _fill_bed(
    draw: Random,
    unit: Unit,
    bed: int,
    listed: defaultdict[datetime, list[str]],
    rows: defaultdict[datetime, list[Row]],
) -> None:
    """The patients of one bed, one after the other; the weeks begin in the middle of a stay."""
    comes = _start(unit) - draw.uniform(0, 6) * timedelta(1)
    end = _start(unit) + unit.days * timedelta(1)
    number = 0
    while comes < end:
        comes = comes.replace(hour=draw.randint(8, 19), minute=draw.randrange(60), second=0)
        comes = comes.replace(microsecond=0)
        goes = (comes + draw.uniform(1.5, 7) * timedelta(1)).replace(hour=draw.randint(9, 17))
        patient_id = f"{100_000 + 1000 * bed + number}"
        patient = _patient(draw, patient_id, bed, comes)
        for shift in _between(comes, goes):
            listed[shift].append(patient)
        stay = Stay(draw, unit, patient_id, comes, goes)
        for at, more in (*stay.exercises(), *stay.vital_signs(), *stay.dangers(), *stay.leaving()):
            line = f'- {{patient: "{patient_id}", at: {at:{AT}}, {more}}}'
            rows[_shift_of(at)].append((at, line))
        number += 1
        comes = goes + draw.uniform(1, 14) * HOUR


def _shift_of(at: datetime) -> datetime:
    day, night = SHIFT_STARTS
    if at.hour < day:
        return (at - timedelta(1)).replace(hour=night, minute=0)
    return at.replace(hour=night if at.hour >= night else day, minute=0)


def _between(comes: datetime, goes: datetime) -> Iterator[datetime]:
    shift = _shift_of(comes)
    while shift < goes:
        yield shift
        shift += 12 * HOUR


def _patient(draw: Random, patient_id: str, bed: int, comes: datetime) -> str:
    given, taught, back = (f"{comes + n * MINUTE:{AT}}" for n in (20, 30, 40))
    name = f"{draw.choice(SURNAMES)}, {draw.choice(FIRST_NAMES)}"
    born = date(1930, 1, 1) + timedelta(draw.randrange(25_000))
    facts = [f'- id: "{patient_id}"', f"  name: {name}", f"  born: {born}", f"  bed: {bed + 1}"]
    facts.append(f"  order: {{start: {comes:{AT}}, breaths: 10, every_h: 1}}")
    if draw.random() < 0.9:
        facts.append(f"  device: {{given: {given}, labelled: yes, scale_ml: 4000}}")
    if draw.random() < 0.85:
        shown = f", shown_back: {back}" if draw.random() < 0.8 else ""
        facts.append(f"  teaching: {{taught: {taught}{shown}}}")
    return "\n".join(facts)


@dataclass(frozen=True, slots=True)
class Stay:
    """What is charted of one stay: each row's time and its other fields."""

    draw: Random
    unit: Unit
    patient_id: str
    comes: datetime
    goes: datetime

    def exercises(self) -> Iterator[Row]:
        """Exercises from the first on, and declines."""
        draw, unit = self.draw, self.unit
        has_kit = unit.changes_on is not None and self.comes.date() >= unit.changes_on
        soon = draw.random() < (unit.soon_with_kit if has_kit else unit.soon)
        begins = self.comes + (draw.uniform(0.3, 3.9) if soon else draw.uniform(4.5, 30)) * HOUR
        begins = begins.replace(second=0, microsecond=0)
        never = draw.random() < unit.never or begins >= self.goes
        does = min(max(draw.gauss(unit.does, unit.differs), 0.05), 0.95)
        level_ml = draw.randrange(1200, 2400, 50)
        if not never:
            yield begins, self._exercise(level_ml)
        for at in self._hours():
            if at.hour in WAKING:
                if not never and at > begins + 30 * MINUTE and draw.random() < does:
                    yield at, self._exercise(level_ml)
                elif draw.random() < 0.03:
                    yield at, "what: declined, note: tired"

    def _hours(self) -> Iterator[datetime]:
        """A minute of each hour of the stay."""
        hour = self.comes.replace(minute=0) + HOUR
        while hour < self.goes - HOUR:
            yield hour + self.draw.randrange(60) * MINUTE
            hour += HOUR

    def _exercise(self, level_ml: int) -> str:
        draw = self.draw
        flow = draw.choices(("steady", "fast", "blew"), (88, 9, 3))[0]
        more = f"breaths: {draw.choice((6, 8, 10, 10, 10))}, flow: {flow}"
        more += f", volume_ml: {level_ml + draw.choice((-50, 0, 0, 50))}"
        more += f", hold_s: {draw.randint(3, 6)}" if draw.random() < 0.5 else ""
        more += f", pain: {draw.choice((0, 1, 2, 2, 3, 4, 5))}" if draw.random() < 0.3 else ""
        more += ", symptoms: [dizzy]" if draw.random() < 0.02 else ""
        return f"{more}, seen_by: {draw.choice(('nurse', 'aide'))}"

    def vital_signs(self) -> Iterator[Row]:
        """Every four hours, where the unit charts them."""
        for at in self._hours() if self.unit.vitals else ():
            if at.hour % 4 == 0:
                spo2, pulse = self.draw.randint(93, 98), self.draw.randint(60, 99)
                yield at, f"spo2: {spo2}, on_oxygen: no, pulse: {pulse}"

    def dangers(self) -> Iterator[Row]:
        """A low SpO2 once in some stays; mostly somebody is told, and it is measured again."""
        draw = self.draw
        at = self.comes + draw.uniform(1, 24) * HOUR
        at = at.replace(second=0, microsecond=0)
        if draw.random() < self.unit.danger:
            yield at, f"spo2: {draw.randint(84, 87)}, on_oxygen: no"
            if draw.random() < 0.8:
                told_at = at + draw.randint(3, 90) * MINUTE
                yield told_at, "what: told, about: oxygen, note: provider told"
            if draw.random() < 0.8:
                yield at + draw.randint(100, 170) * MINUTE, "spo2: 96, on_oxygen: no"

    def leaving(self) -> Iterator[Row]:
        """A row that says so, mostly."""
        if self.draw.random() < 0.7:
            yield self.goes, "what: left, note: home"

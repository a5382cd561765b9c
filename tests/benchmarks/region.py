"""A region to measure with: units of 30 patients, four days of logs each, all of it invented.

Input: how many units. Output: their logs in a folder, eight shifts a unit, about 60 entries a
patient. The same number gives the same logs.
"""

import random
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

PATIENTS, SHIFTS, ENTRIES_A_SHIFT = 30, 8, 8
FIRST_SHIFT = datetime(2026, 2, 2, 7)  # noqa: DTZ001 - a local time, as a log has it
SHIFT = timedelta(hours=12)
ZONE = "America/Halifax"
FLOWS = ("steady", "steady", "steady", "fast")
NOTES = ("", "", "sat up in the chair", "coached to go slowly", "tired, rested between breaths")
SYLLABLES = ("ba", "do", "fe", "gi", "hu", "ky")  # each letter once: no two names are nearly one


def write_region(folder: Path, units: int, patients: int = PATIENTS) -> list[str]:
    """The paths of all logs of so many units, written to `folder`."""
    paths = []
    for unit in range(units):
        choose = random.Random(unit)
        for shift in range(SHIFTS):
            path = folder / f"unit-{unit:03}-{shift}.yaml"
            path.write_text("\n".join(_log(choose, unit, shift, patients)) + "\n", encoding="utf-8")
            paths.append(str(path))
    return paths


def _log(choose: random.Random, unit: int, shift: int, patients: int) -> Iterator[str]:
    start = FIRST_SHIFT + shift * SHIFT
    yield f"unit: {{name: Ward {unit:03}, time_zone: {ZONE}, phone: ext. {1000 + unit}}}"
    yield f"shift: {{start: {start:%Y-%m-%d %H:%M}, end: {start + SHIFT:%Y-%m-%d %H:%M}}}"
    yield "patients:"
    for number in range(patients):
        yield from _patient(number, unit)
    yield "entries:"
    for number in range(patients):
        yield from (_entry(choose, number, unit, shift, at) for at in _times(choose, start))


def _patient(number: int, unit: int) -> Iterator[str]:
    yield f'- id: "{_id(number, unit)}"'
    yield f"  name: {_name(number)}, Odile"
    yield f"  born: {1940 + number}-{1 + unit % 12:02}-{1 + unit // 12 % 28:02}"
    yield f"  bed: {number // 2 + 1}{'AB'[number % 2]}"
    yield "  reason: open bowel surgery"
    yield "  surgery_on: 2026-02-01"
    goal_ml = 1400 + 20 * number
    yield f"  order: {{start: 2026-02-02 08:00, breaths: 10, goal_ml: {goal_ml}, by: Dr T. Quill}}"
    yield "  device: {given: 2026-02-02 08:20, labelled: yes, scale_ml: 2500}"
    yield "  teaching: {taught: 2026-02-02 08:30, shown_back: 2026-02-02 08:40}"


def _entry(choose: random.Random, number: int, unit: int, shift: int, at: datetime) -> str:
    volume_ml = 700 + 10 * number + 40 * shift + choose.randrange(0, 200, 50)
    facts = (
        f"breaths: {choose.randint(4, 10)}, volume_ml: {volume_ml}, flow: {choose.choice(FLOWS)}"
    )
    note = choose.choice(NOTES)
    more = f', note: "{note}"' if note else ""
    symptoms = ", symptoms: [dizzy]" if choose.random() < 0.02 else ""
    vital_signs = f", spo2: {choose.randint(92, 97)}, resp_rate: {choose.randint(12, 22)}"
    return (
        f'- {{patient: "{_id(number, unit)}", at: {at:%Y-%m-%d %H:%M}, {facts}, seen_by: nurse'
        f"{vital_signs}{symptoms}{more}}}"
    )


def _times(choose: random.Random, start: datetime) -> list[datetime]:
    minutes = sorted(choose.sample(range(90, 720, 5), ENTRIES_A_SHIFT))
    return [start + timedelta(minutes=each) for each in minutes]


def _id(number: int, unit: int) -> str:
    return f"{100_000 + 100 * unit + number}"


def _name(number: int) -> str:
    base = len(SYLLABLES)
    return "".join(SYLLABLES[number // base**place % base] for place in range(4)).capitalize()

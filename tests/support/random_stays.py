"""Random stays for the matters: shifts of 8 or 12 h, gaps, orders that come and go, and entries
whose signs lie at and about the limits, so that every rule is met, told, settled and met again.

The same seed gives the same stay. Every time is a whole minute; entries crowd on the hours and on
the borders of shifts, so that several fall into one minute.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from random import Random
from typing import Any
from zoneinfo import ZoneInfo

from msgspec.structs import replace

from handoff.model.findings import Place
from handoff.model.ward import (
    Counts,
    Entry,
    Flow,
    Gap,
    Handover,
    Listing,
    Order,
    Patient,
    SeenBy,
    Shift,
    Signs,
    Symptom,
    Unit,
    What,
    periods_of,
)

UNIT = Unit("Harbour 3 East", ZoneInfo("America/Halifax"), quiet_hours=None)
START = datetime(2026, 5, 4, 10, tzinfo=UTC)
MINUTE = timedelta(minutes=1)
ABOUT = [
    *["oxygen", "breathing", "pulse", "temperature", "faint", "chest_pain", "drowsy", "confused"],
    *["dizzy", "breathless", "wheeze", "pain", "volume", "volume", "volume", "all", "other"],
]
# Symptoms that belong to a matter or to a sign beside one, `none` more often than each of them.
SYMPTOMS = [
    *["none"] * 5,
    *["faint", "chest_pain", "drowsy", "confused", "dizzy", "tingling", "breathless", "wheeze"],
    *["dizzy", "dizzy", "breathless", "cough"],
]
OXYGEN = ["1 L nasal", "2 L nasal", "2 L/min", "1.5 L", "28 %", "24 %", "mask", "2 litres, 28 %"]
# On both sides of each limit and of each step that counts as worse.
VALUES: dict[str, list[float]] = {
    "spo2": [84, 86, 87, 88, 89, 90, 91, 92, 93, 94, 96, 97],
    "resp_rate": [6, 8, 9, 14, 18, 24, 25, 29, 30, 34],
    "pulse": [34, 39, 40, 41, 70, 80, 130, 131, 135, 136, 141],
    "temp_c": [34.0, 34.4, 34.5, 34.9, 35.0, 35.1, 36.8, 37.9, 38.0, 38.6, 39.0, 39.1, 39.6],
}


# Signs that are a danger only where they come again, and when they came before.
LED_UP_TO = [
    Signs(symptoms=frozenset({Symptom.DIZZY})),
    Signs(symptoms=frozenset({Symptom.BREATHLESS})),
    Signs(pain=8),
]
ALL_IS_WELL = Signs(frozenset({Symptom.NONE}), pain=3, spo2=95, on_oxygen=False, pulse=80)
BEFORE_MIN = [(29,), (30,), (30, 59), (30, 60), (31, 61)]


@dataclass(frozen=True, slots=True)
class Habits:
    """How a ward charts: drawn anew for each stay, so that quiet and busy ones both come up."""

    entries_per_shift: int
    sign_chance: float
    air_chance: float
    told_chance: float
    kinds: list[str]
    low_from: datetime  # from then, and until then, the volume is low
    low_until: datetime


def random_handover(seed: int) -> Handover:
    """The last shift of a random stay of one patient, with all that was charted of it."""
    draw = Random(seed)
    shifts = _shifts(draw)
    listed = [n for n in range(len(shifts)) if draw.random() < 0.9 or n == len(shifts) - 1]
    listings = tuple(
        Listing(UNIT.name, shifts[number], patient)
        for number, patient in zip(listed, _patients(draw, len(listed)), strict=True)
    )
    ordered = [each.patient.order for each in listings if each.patient.order is not None]
    stay_start = min((order.start for order in ordered), default=shifts[0].start)
    last = shifts[-1]
    as_of = last.end
    if draw.random() < 0.3:
        as_of = last.start + draw.randrange(int((last.end - last.start) / MINUTE) + 120) * MINUTE
    rows = _entries(draw, shifts)
    for _ in range(draw.choice([0, 0, 1, 1, 2])):
        rows += _episode(draw, shifts, as_of, len(rows) + 2)
    entries = tuple(sorted(rows, key=lambda entry: entry.at))
    used = len(entries)
    patient = listings[-1].patient
    return Handover(
        unit=UNIT,
        shift=last,
        as_of=as_of,
        patients=(patient,),
        entries={patient.id: entries},
        stay_start={patient.id: stay_start},
        shifts=tuple(shifts),
        counts=Counts(used, used, 0),
        listings={patient.id: listings},
        periods={patient.id: _periods(listings)},
        gaps={
            patient.id: tuple(
                Gap(one.end, other.start)
                for one, other in pairwise(shifts)
                if one.end < other.start
            )
        },
    )


def _periods(listings: Sequence[Listing]) -> tuple[Order, ...]:
    """What a later log has otherwise of the order has changed at its shift's start."""
    periods: list[Order] = []
    known = None
    for each in listings:
        order = each.patient.order
        if order is None or order == known:
            continue
        begins = max(order.start, each.shift.start) if periods else order.start
        periods = [*(one for one in periods if one.start < begins), replace(order, start=begins)]
        known = order
    return periods_of(periods)


def _shifts(draw: Random) -> list[Shift]:
    length = timedelta(hours=draw.choice([8, 12]))
    start, shifts = START, []
    for _ in range(draw.choice([1, 2, 3, 4, 6, 8, 12, 14])):
        start += length if draw.random() < 0.1 else timedelta()  # a gap: no log is given
        shifts.append(Shift(start, start + length))
        start += length
    return shifts


def _patients(draw: Random, count: int) -> list[Patient]:
    """The patient as each log has it: the order may change, stop being written, or come late."""
    order: Order | None = None
    patients = []
    for number in range(count):
        if order is None or draw.random() < 0.15:
            start = START + draw.randrange(-120, 240) * MINUTE
            spo2_min = draw.choice([None, None, 92.0, 88.0, 90.0])
            order = order or Order(start)
            order = Order(order.start, spo2_min=spo2_min, **_own_limits(draw))
        without = draw.random() < (0.1 if number == 0 else 0.15)
        patients.append(
            Patient(
                id="10442",
                name="Larkspur, Odile",
                born=date(1958, 4, 2),
                bed="12A",
                place=Place(f"{number}.csv", 2),
                order=None if without else order,
            )
        )
    return patients


def _own_limits(draw: Random) -> dict[str, Any]:
    """Further parts of an order that change how the patient is judged, each of them seldom."""
    some: dict[str, list[Any]] = {
        "spo2_max": [92.0, 94.0],
        "resp_rate_min": [6.0, 10.0],
        "resp_rate_max": [20.0, 30.0],
        "pulse_min": [35.0, 50.0],
        "pulse_max": [120.0, 140.0],
        "temp_max": [38.5, 39.5],
        "usual_symptoms": [(Symptom.CONFUSED,), (Symptom.DIZZY, Symptom.BREATHLESS)],
        "comfort_care": [True],
    }
    return {name: draw.choice(values) for name, values in some.items() if draw.random() < 0.08}


def _entries(draw: Random, shifts: list[Shift]) -> list[Entry]:
    kinds = ["spo2", "resp_rate", "pulse", "temp_c", "symptoms", "volume", "pain"]
    first, last = shifts[0].start - timedelta(hours=3), shifts[-1].end + timedelta(hours=2)
    length_min = int((last - first) / MINUTE)
    low_from = first + draw.randrange(length_min) * MINUTE
    habits = Habits(
        entries_per_shift=draw.choice([0, 1, 5, 8, 12]),
        sign_chance=draw.choice([0.2, 0.5, 0.9]),
        air_chance=draw.choice([0.0, 0.1, 0.5, 0.9]),
        told_chance=draw.choice([0.05, 0.2, 0.4]),
        kinds=draw.sample(kinds, draw.randint(1, len(kinds))),
        low_from=low_from,
        low_until=low_from + timedelta(hours=draw.choice([12, 30, 200])),
    )
    entries = []
    for line in range(habits.entries_per_shift * len(shifts)):
        after_min = draw.randrange(length_min)
        after_min -= after_min % draw.choice([1, 1, 20, 60])
        entries.append(_entry(draw, habits, first + after_min * MINUTE, line + 2))
    return entries


def _episode(draw: Random, shifts: list[Shift], as_of: datetime, line: int) -> list[Entry]:
    """One danger, told of, and what was seen of it later, each near the border of a definition.

    Now and then it is 10 h, one day, or three before `as_of`, give or take a minute.
    """
    length_min = int((as_of - shifts[0].start) / MINUTE)
    before_min = draw.choice([draw.randrange(length_min + 1), 10 * 60, 24 * 60, 72 * 60])
    at = as_of - (before_min + draw.choice([-1, 0, 0, 1])) * MINUTE
    danger: dict[str, Any] = draw.choice(
        [
            {"signs": Signs(spo2=88, on_oxygen=draw.choice([None, False, True]))},
            {"signs": Signs(spo2=88, on_oxygen=True, oxygen="2 L nasal")},
            {"signs": Signs(spo2=98, on_oxygen=True)},
            {"signs": Signs(symptoms=frozenset({Symptom.CONFUSED}))},
            {"signs": Signs(symptoms=frozenset({Symptom.DIZZY}), pulse=140)},
            *({"signs": each} for each in LED_UP_TO),
            *[{"volume_ml": 1000.0}] * 3,
            *[{"volume_ml": 1000.0, "signs": Signs(temp_c=38.5)}] * 1,
        ]
    )
    rows: list[dict[str, Any]] = [{"at": at, **danger}]
    if "volume_ml" in danger:
        usual_at = at - draw.choice([13, 23, 24]) * 60 * MINUTE
        rows += [{"at": usual_at - 20 * n * MINUTE, "volume_ml": 1500.0} for n in range(3)]
        rows.append({"at": at - draw.choice([5, 70]) * MINUTE, "volume_ml": 950.0})
    if danger.get("signs") in LED_UP_TO:
        rows += [{"at": at - minutes * MINUTE, **danger} for minutes in draw.choice(BEFORE_MIN)]
    if draw.random() < 0.3:
        again_min = draw.choice([60, 120, 239, 240, 241, 245])
        rows.append({"at": at + again_min * MINUTE, **danger})
    about = draw.choice([(), ("all",), ("all",), ("all",), ("other",)])
    said = {"what": What.TOLD, "about": about, "note": "Dr P. Marwood"}
    if draw.random() < 0.6:
        rows.append({"at": at + draw.choice([-1, 0, 0, 1, 5, 60, 61]) * MINUTE, **said})
    for _ in range(draw.choice([0, 2, 3, 4])):
        later_min = draw.choice([59, 60, 61, 119, 120, 121, 300, 301, 600, 780])
        seen: dict[str, Any] = draw.choice(
            [
                {"signs": Signs(spo2=95, on_oxygen=True, oxygen=draw.choice(OXYGEN))},
                {"signs": Signs(spo2=95, on_oxygen=draw.choice([None, False, True]))},
                {"signs": Signs(pulse=80)},
                {"signs": Signs(pain=4)},
                *[{"signs": ALL_IS_WELL, "volume_ml": 1500.0}] * 2,
                {"volume_ml": None},
            ]
        )
        rows.append({"at": at + later_min * MINUTE, **seen})
    return [
        Entry(
            "10442",
            place=Place("episode.csv", line + number),
            **{"breaths": None if "what" in row else 8, **row},
        )
        for number, row in enumerate(rows)
    ]


def _entry(draw: Random, habits: Habits, at: datetime, line: int) -> Entry:
    row: dict[str, Any] = {"patient_id": "10442", "at": at, "place": Place("random.csv", line)}
    row["seen_by"] = draw.choice([None, SeenBy.NURSE, SeenBy.THERAPIST, SeenBy.PATIENT])
    if draw.random() < habits.told_chance:
        words = draw.sample(ABOUT, draw.choice([1, 3]))
        about = draw.choice([[], [], ["all"], ["all"], words, words])
        note = draw.choice(["Dr P. Marwood", "Dr P. Marwood", "Dr P. Marwood", None])
        what = draw.choice([*[What.TOLD] * 5, What.SETTLED])
        return Entry(**row, what=what, about=tuple(about), note=note, signs=_signs(draw, habits, 4))
    signs = _signs(draw, habits, 1)
    what = draw.choice([*[What.EXERCISE] * 4, What.SEEN, What.SEEN, What.DECLINED, What.NOTE])
    if "volume" not in habits.kinds or what is not What.EXERCISE:
        return Entry(**row, what=what, breaths=8 if what is What.EXERCISE else None, signs=signs)
    is_low = habits.low_from <= at < habits.low_until
    # 70, 80 and 85 % of 1,500 mL are among them
    levels_ml = [900.0, 1000.0, 1050.0, 1200.0] if is_low else [1275.0, 1300.0, 1500.0]
    level_ml = draw.choice(levels_ml)
    flow = draw.choice([None, None, None, Flow.STEADY, Flow.FAST, Flow.BLEW])
    return Entry(**row, what=what, breaths=8, volume_ml=level_ml, flow=flow, signs=signs)


def _signs(draw: Random, habits: Habits, rarer: int) -> Signs:
    """Signs of the stay's kinds; `on_oxygen` beside a part of them, `oxygen` beside some of it."""
    fields: dict[str, Any] = {}
    for name, values in VALUES.items():
        if name in habits.kinds and draw.random() < habits.sign_chance / rarer:
            # half of them within limits, so that much settles too
            middle = {"spo2": 95, "resp_rate": 16, "pulse": 75, "temp_c": 36.9}[name]
            fields[name] = draw.choice([*values, *[middle] * len(values)])
    if "symptoms" in habits.kinds and draw.random() < habits.sign_chance / rarer:
        word = draw.choice(SYMPTOMS)
        words = [word] if word == "none" else [word, draw.choice([word, "dizzy", "cough"])]
        fields["symptoms"] = frozenset(Symptom(each) for each in words)
    if "spo2" in fields and draw.random() < 0.7:
        fields["on_oxygen"] = draw.random() >= habits.air_chance
        if fields["on_oxygen"] and draw.random() < 0.7:
            fields["oxygen"] = draw.choice(OXYGEN)
    if draw.random() < (habits.sign_chance / rarer if "pain" in habits.kinds else 0.1):
        fields["pain"] = draw.choice([0, 3, 3, 4, 6, 7, 8, 9, 10])
    return Signs(**fields)

"""The counts of a review a second time, row by row and minute by minute, from the definitions.

Input: the checked logs of one unit in which every id has one stay, one order throughout, and no
hold or sleep. Output: plain numbers, before anything is hidden. Imports no stage.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from handoff.model.ward import Entry, Flow, Log, Patient, Symptom, What

HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)
QUIET = (22, 23, 0, 1, 2, 3, 4, 5)  # local hours in which nothing is due


@dataclass
class Sum:
    """So much of so much, and whose stays these are."""

    top: float = 0
    bottom: float = 0
    stays: set[str] = field(default_factory=set)

    def add(self, top: float, bottom: float, stay: str) -> None:
        self.top, self.bottom = self.top + top, self.bottom + bottom
        self.stays.add(stay)


@dataclass
class Plain:
    """Every share by name and group, and the hours behind the curve and the delays."""

    sums: defaultdict[tuple[object, ...], Sum] = field(default_factory=lambda: defaultdict(Sum))
    followed: list[tuple[float, bool]] = field(default_factory=list)
    told_after_h: list[float] = field(default_factory=list)
    settled_after_h: list[float] = field(default_factory=list)

    def add(self, top: float, bottom: float, stay: str, *names: tuple[object, ...]) -> None:
        for name in names:
            self.sums[name].add(top, bottom, stay)


def plain_review(logs: Sequence[Log]) -> Plain:
    plain = Plain()
    listed: defaultdict[str, list[tuple[Log, Patient]]] = defaultdict(list)
    for log in sorted(logs, key=lambda log: log.shift.start):
        for patient in log.patients:
            listed[patient.id].append((log, patient))
    ends = max(log.shift.end for log in logs)
    for stay, listings in listed.items():
        rows = [row for log, _ in listings for row in log.entries if row.patient_id == stay]
        rows.sort(key=lambda row: row.at)
        order = listings[-1][1].order
        assert order is not None
        rows = [row for row in rows if row.at >= order.start]
        left = next((row.at for row in rows if row.what is What.LEFT), None)
        last = listings[-1][0].shift.end
        gone = left or last
        _spans(plain, stay, listings, rows, gone)
        _rows(plain, stay, rows, order.hold_s)
        if listings[0][0].shift.start - order.start < 2 * HOUR:
            here = left is None and last == ends
            _begun(plain, stay, listings, rows, (gone, here))
        _dangers(plain, stay, rows)
    return plain


def day_of(log: Log) -> date:
    return log.shift.start.astimezone(log.unit.time_zone).date()


def monday_of(day: date) -> date:
    return day - timedelta(day.weekday())


def _spans(
    plain: Plain,
    stay: str,
    listings: Sequence[tuple[Log, Patient]],
    rows: Sequence[Entry],
    gone: datetime,
) -> None:
    for log, patient in listings:
        zone, order = log.unit.time_zone, patient.order
        assert order is not None
        assert order.every_h == 1
        start = log.shift.start
        week = monday_of(day_of(log))
        while start < log.shift.end:
            minutes = sum(
                order.start <= start + n * MINUTE < gone
                and (start + n * MINUTE).astimezone(zone).hour not in QUIET
                for n in range(60)
            )
            within = [row for row in rows if start <= row.at < start + HOUR]
            charted = [row for row in within if row.what in {What.EXERCISE, What.DECLINED}]
            done = sum(
                row.breaths or 0
                for row in charted
                if row.what is What.EXERCISE and row.flow is not Flow.BLEW
            )
            due = order.breaths * minutes / 60
            if due:
                local = start.astimezone(zone)
                groups: tuple[tuple[object, ...], ...] = (
                    (),
                    ("week", week),
                    ("shift", log.shift.start.astimezone(zone).time()),
                    ("hour", local.weekday(), local.hour),
                )
                plain.add(min(done, due), due, stay, *(("credited", *each) for each in groups))
                plain.add(not charted, 1, stay, *(("not_charted", *each) for each in groups))
            start += HOUR


def _rows(plain: Plain, stay: str, rows: Sequence[Entry], hold_s: float) -> None:
    for row in rows:
        if row.what is What.EXERCISE:
            plain.add(row.flow is Flow.BLEW, 1, stay, ("blew",))
            plain.add(row.flow is Flow.FAST, 1, stay, ("fast",))
            dizzy = {Symptom.DIZZY, Symptom.TINGLING} & row.signs.symptoms
            plain.add(bool(dizzy), 1, stay, ("dizzy",))
            if row.hold_s is not None:
                plain.add(row.hold_s < hold_s, 1, stay, ("short_hold",))
        if row.what in {What.EXERCISE, What.DECLINED}:
            plain.add(row.what is What.DECLINED, 1, stay, ("declined",))
        if row.signs.pain is not None:
            plain.add(row.signs.pain >= 4, 1, stay, ("pain",))


def _begun(
    plain: Plain,
    stay: str,
    listings: Sequence[tuple[Log, Patient]],
    rows: Sequence[Entry],
    end: tuple[datetime, bool],
) -> None:
    gone, is_here = end
    _, patient = listings[-1]
    order = patient.order
    assert order is not None
    first = next((row.at for row in rows if row.what is What.EXERCISE), None)
    facts = {
        "device": patient.device_given,
        "taught": patient.taught,
        "shown_back": patient.shown_back,
    }
    for name, fact in facts.items():
        plain.add(bool(fact), 1, stay, (name,))
    if first or gone - order.start >= 4 * HOUR:
        soon = first is not None and first - order.start <= 4 * HOUR
        week = monday_of(day_of(listings[0][0]))
        plain.add(soon, 1, stay, ("within", 4, week))
    plain.add(first is None and not is_here, 1, stay, ("never",))
    plain.followed.append((((first or gone) - order.start) / HOUR, first is not None))


def _dangers(plain: Plain, stay: str, rows: Sequence[Entry]) -> None:
    """The one low SpO2 of a stay, on air: told by the first row that says so, over by the first
    good value an hour later or more.
    """
    measured = [(row.at, row.signs.spo2) for row in rows if row.signs.spo2 is not None]
    lows = [at for at, spo2 in measured if spo2 <= 91]
    assert len(lows) <= 1
    for low in lows:
        told = next((row.at for row in rows if row.at >= low and row.what is What.TOLD), None)
        good = [at for at, spo2 in measured if spo2 > 91 and at - low >= HOUR]
        settled = min(good, default=None)
        plain.add(told is not None, 1, stay, ("told",))
        plain.add(settled is not None, 1, stay, ("settled",))
        plain.add(told is None or settled is None, 1, stay, ("open",))
        plain.told_after_h += [(told - low) / HOUR] if told else []
        plain.settled_after_h += [(settled - low) / HOUR] if settled else []

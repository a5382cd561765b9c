"""Follows each danger of a stay from shift to shift, until it is told and settled.

Input: a `Handover`, one of its patients, the `Limits`. Output: the patient's `Matter`s, closed ones
too, in printing order. Every shift of the stay is judged once, by today's limits and the order in
force then. Dangers it met are carried on. Never closes a matter because nothing is charted.

Rows of the same minute are read in this order: rows that meet a rule, rows that measure again, then
`told` and `settled`. The times here are common practice.
"""

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence, Set
from datetime import UTC, datetime, timedelta
from itertools import groupby
from operator import attrgetter
from types import MappingProxyType

from handoff.judge.about import minute
from handoff.judge.case import Case, ShiftRows, good_readings
from handoff.judge.course import (
    DANGERS,
    FALL_WITH,
    FOLLOWED_BY_SYMPTOM,
    SHOWS,
    Course,
    Window,
)
from handoff.judge.signs import SYMPTOMS, usual_apart
from handoff.judge.unreadable import Unreadable, rows_aside
from handoff.judge.vitals import VITALS, Bound
from handoff.limits.reading import Limits
from handoff.model.matters import Matter
from handoff.model.measures import USUAL_H, Recent, Span
from handoff.model.usual import find_recent
from handoff.model.verdicts import Level
from handoff.model.ward import (
    BEFORE_THE_STAY,
    NO_SIGNS,
    Entry,
    Handover,
    Patient,
    Shift,
    What,
    order_at,
)

__all__ = ["DANGERS", "follow"]

SIGNS = tuple(dict.fromkeys(each.field for each in VITALS.values()))
VOLUME = "volume_ml"

# What a row charts of each danger: none is met in a stay in which no row so far charts any of it,
# unless a sign cannot be read. Of a fall a volume: a deep one is met without any sign.
SHOWN_BY: Mapping[str, frozenset[str]] = MappingProxyType(
    {
        name: frozenset(
            [VITALS[name].field]
            if name in VITALS
            else (word for each in (name, *SHOWS.get(name, ())) for word in SYMPTOMS.get(each, ()))
        )
        for name in DANGERS
        if name != FALL_WITH
    }
    | {FALL_WITH: frozenset({VOLUME})}
)


def follow(handover: Handover, patient: Patient, limits: Limits) -> tuple[Matter, ...]:
    """Every matter of the patient's stay, in its state at `as_of`.

    Sorted by level, the gravest first; then those not told; then in the rules' order; then the
    newest. Empty for a patient who never had an order in the stay.
    """
    windows = list(_windows(handover, patient, limits))
    courses = _courses(windows)
    matters = [course.matter(windows[-1], handover.as_of) for course in courses]
    matters.sort(key=lambda each: each.last_at, reverse=True)
    levels, rules = list(Level), list(DANGERS)
    return tuple(
        sorted(
            matters,
            key=lambda each: (levels.index(each.level), each.is_told, rules.index(each.rule)),
        )
    )


def _windows(handover: Handover, patient: Patient, limits: Limits) -> Iterator[Window]:
    """Each shift of the stay with the rows that are judged with it; every row is in one.

    A row outside all shifts is judged with the first shift that ends after it; after the last
    shift, with the last. A row in two overlapping shifts is judged with the later. One day before
    the stay is judged too. A shift is judged by the last order that has begun before its
    end, or else by the first.
    """
    listings = handover.listings_of(patient)
    periods = handover.periods_of(patient)
    if not periods:
        return
    entries = [each for each in handover.entries_of(patient) if each.at <= handover.as_of]
    readings = good_readings(entries)
    begins = handover.stay_start.get(patient.id, periods[0].start)
    aside = rows_aside(handover, patient)
    first = upto = _first_at(entries, min(begins, listings[0].shift.start) - BEFORE_THE_STAY)
    stay = Span(begins, handover.as_of)
    # The limits in force are the same in all its shifts, but for a child who comes of age.
    in_force: defaultdict[bool, dict[tuple[str, datetime], tuple[Bound, ...]]] = defaultdict(dict)
    for number, listing in enumerate(listings):
        is_last = number + 1 == len(listings)
        at = handover.as_of if is_last else listing.shift.end - timedelta.resolution
        order = order_at(periods, at)
        begin, upto = upto, len(entries)
        if not is_last:
            following = listings[number + 1].shift
            upto = max(_first_at(entries, min(listing.shift.end, following.start)), begin)
        ends = datetime.max.replace(tzinfo=UTC) if is_last else listing.shift.end
        rows = ShiftRows(
            patient=listing.patient,
            order=order,
            start=listing.shift.start,
            entries=tuple(entries[begin:upto]),
            before=tuple(entries[first:begin]),
            recent=_recent(listing.shift, readings, stay),
            periods=periods,
            is_child=listing.patient.is_child_in(listing.shift, handover.unit),
            aside=tuple(row for row in aside if row.at < ends),
        )
        aside = [row for row in aside if row.at >= ends]
        rows = usual_apart(rows, limits)
        yield Window(number, listing, Case("", rows, limits, in_force[rows.is_child]))


def _first_at(entries: Sequence[Entry], moment: datetime) -> int:
    """The number of the first of these entries, in time order, that is not before a moment."""
    return bisect_left(entries, moment, key=attrgetter("at"))


def _recent(shift: Shift, readings: Sequence[Entry], stay: Span) -> Recent:
    """What a fall in a shift is read from; `readings` are in good form, and `stay` ends at 'data as
    of'.
    """
    since = max(shift.start - timedelta(hours=USUAL_H), stay.start)
    some = readings[_first_at(readings, since) : _first_at(readings, shift.end)]
    return find_recent(some, shift, min(shift.end, stay.end))


def _courses(windows: Sequence[Window]) -> list[Course]:
    """Read the rows of the stay in time order, and pass each to the matters. A row that met a rule
    only together with a row of the next shift is read at its own time too.
    """
    events: list[tuple[datetime, int, Entry, str, Window]] = []
    so_far = {each for window in windows[:1] for each in _charted(window.case.rows.before)}
    for window in windows:
        so_far |= _charted(window.case.entries)
        met = _met(window, so_far)
        events += [
            (minute(row.at), 0, row, key, window) for key, rows in met.items() for row in rows
        ]
        for row in window.case.entries:
            if row.what in {What.TOLD, What.SETTLED}:
                events.append((minute(row.at), 2, row, "", window))
            events.append((minute(row.at), 1, row, "", window))
    courses: list[Course] = []
    live: dict[str, Course] = {}
    in_time = sorted(events, key=lambda event: event[:2])
    for _, of_minute in groupby(in_time, key=lambda event: event[0]):
        for _, kind, row, key, window in of_minute:
            if kind == 0:
                if key not in live:
                    live[key] = Course(key, window)
                    courses.append(live[key])
                live[key].meet(row, window)
            for course in live.values() if kind else ():
                (course.look if kind == 1 else course.hear)(row, window)
        for course in [each for each in live.values() if each.closed_at is not None]:
            del live[course.key]
    return courses


def _charted(rows: Sequence[Entry]) -> set[str]:
    """The symptoms in any of the rows, also usual ones, the vital signs by their field, and a
    volume.
    """
    charted = {VOLUME} if any(row.is_good_reading for row in rows) else set[str]()
    for signs in (row.signs for row in rows if row.signs is not NO_SIGNS):
        charted |= signs.charted
        charted |= {each for each in SIGNS if getattr(signs, each) is not None}
    return charted


def _met(window: Window, so_far: Set[str]) -> dict[str, list[Entry]]:
    """The rows that met a rule in the shift at level `escalate`, by the key of the matter. Rows of
    a graver rule open no matter of the milder one that it replaces. `so_far` is what the stay has
    charted by the end of the shift.
    """
    case = window.case
    met: dict[str, list[Entry]] = {}
    unread = case.rows.aside or any(entry.unread for entry in case.entries)
    signs = any(entry.signs is not NO_SIGNS for entry in case.entries)
    for name, rule in DANGERS.items():
        shown = (signs or name == FALL_WITH) and not SHOWN_BY[name].isdisjoint(so_far)
        if not (shown or unread):
            continue
        judged = case.where_judged(name)
        if not judged.entries and not case.is_judged(name):
            continue
        verdict = rule.decide(judged)
        if not verdict.met or verdict.level is not Level.ESCALATE:
            continue
        cited = set(zip(verdict.entries, verdict.times, strict=True)) - set(verdict.led_up)
        known = (*case.rows.before, *case.entries, *case.rows.aside)
        rows = [row for row in known if (row.place, row.at) in cited]
        if isinstance(verdict.found, Unreadable):
            for sign in verdict.found.unsure:
                of_sign = [row for row in rows if row.place == sign.place]
                met.setdefault(f"{name}:{sign.followed_as}", []).extend(of_sign)
            continue
        if name not in FOLLOWED_BY_SYMPTOM:
            met[name] = rows
            continue
        for word in SYMPTOMS[name]:
            of_word = [row for row in rows if word in row.signs.symptoms]
            if of_word:
                met[f"{name}:{word}"] = of_word
    milder = {each for name in met if name in DANGERS for each in DANGERS[name].replaces}
    return {key: rows for key, rows in met.items() if key not in milder}

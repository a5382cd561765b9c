"""Followed stays -> tidy tables: one row an entry, a span, a stay, an escalation.

Input: `FollowedStay`s of one unit, its shifts, the period. Output: the `StayRows` of each stay,
made apart from each other; and `Tables` of them all. A stay has a number of
its own, in the order of the orders; nothing in a table tells an id, a name, a bed, a note or who
charted it. `day` is the local day on which the shift of a row starts: all of a night is of the day
on which it begins.
"""

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, fields
from datetime import date, datetime, timedelta
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

import pandas as pd

from handoff.model.matters import Matter, MatterState
from handoff.model.review import Ending, FollowedStay, Period
from handoff.model.ward import Done, Entry, Listing, Shift, order_at

Row = tuple[Any, ...]  # of a table

# An order so much older than the first log with the patient began elsewhere, or before the logs:
# the time of the caution `came-from-elsewhere` (common practice).
BEGAN_BEFORE = timedelta(hours=2)

BEGUN, NEVER, NOT_KNOWN = "begun", "never", "not_known"  # what became of the exercise
YES, NO, NOT_RECORDED = "yes", "no", "not_recorded"

ENTRY_COLUMNS = (
    *("stay", "day", "at", "until", "what", "breaths", "volume_ml", "hold_s", "ordered_hold_s"),
    *("flow", "seen_by", "position", "symptoms", "pain", "spo2", "resp_rate", "pulse", "temp_c"),
    "on_oxygen",
)
SPAN_COLUMNS = ("stay", "day", "start", "end", "shift_starts", "due", "done", "credited", "state")
STAY_COLUMNS = (
    *("stay", "day", "last_day", "ordered_at", "began_here", "first_exercise_at"),
    *("followed_until", "exercise", "ending", "device", "taught", "shown_back", "times_taught"),
)
ESCALATION_COLUMNS = (
    *("stay", "day", "rule", "symptom", "opened_at", "told", "told_at", "settled", "settled_at"),
)
INSTANTS = frozenset(
    {
        *("at", "until", "start", "end", "ordered_at", "first_exercise_at", "followed_until"),
        *("opened_at", "told_at", "settled_at"),
    }
)
DAYS = frozenset({"day", "last_day"})
# Of a kind that knows 'not recorded': a blank is neither a no nor a fraction.
COUNTS, ANSWERS = frozenset({"breaths", "pain"}), frozenset({"on_oxygen"})
CERTAIN = frozenset({"told", "settled", "began_here"})


@dataclass(frozen=True)
class Tables:
    """What counts in the period; instants are in the unit's zone.

    `stays` are all listed in it. `spans` are those of the order, with breaths due, done and
    credited; a span with neither due nor done is left out.
    """

    entries: pd.DataFrame
    spans: pd.DataFrame
    stays: pd.DataFrame
    escalations: pd.DataFrame


class ShiftDays:
    """The day of any instant: of the shift that holds it, of two that overlap the later."""

    def __init__(self, shifts: Sequence[Shift], zone: ZoneInfo) -> None:
        self.zone = zone
        self._shifts = shifts
        self._starts = [shift.start for shift in shifts]
        self._days = [shift.start.astimezone(zone).date() for shift in shifts]

    def of(self, instant: datetime) -> date:
        """The local day on which that shift starts; between shifts the instant's own."""
        number = bisect_right(self._starts, instant) - 1
        in_shift = number >= 0 and instant < self._shifts[number].end
        return self._days[number] if in_shift else instant.astimezone(self.zone).date()


class StayRows(NamedTuple):
    """The rows of one stay in each table, without its number."""

    stay: Row
    entries: list[Row]
    spans: list[Row]
    escalations: list[Row]


def rows_of(stay: FollowedStay, days: ShiftDays) -> StayRows:
    """The rows of one stay."""
    return StayRows(
        stay=_stay(stay, days),
        entries=list(_entries(stay, days)),
        spans=list(_spans(stay, days)),
        escalations=[
            (days.of(matter.opened_at), *_escalation(matter))
            for matter in stay.matters
            if matter.unit == stay.handover.unit.name
        ],
    )


def tables_of(stays: Iterable[StayRows], zone: ZoneInfo, period: Period) -> Tables:
    """The tables of one unit's stays."""
    return _numbered(_within(_all_rows(stays, zone), period))


def _all_rows(stays: Iterable[StayRows], zone: ZoneInfo) -> Tables:
    entries: list[Row] = []
    spans: list[Row] = []
    of_stays: list[Row] = []
    escalations: list[Row] = []
    for number, rows in enumerate(stays):
        of_stays.append((number, *rows.stay))
        entries += ((number, *row) for row in rows.entries)
        spans += ((number, *row) for row in rows.spans)
        escalations += ((number, *row) for row in rows.escalations)
    return Tables(
        entries=_table(entries, ENTRY_COLUMNS, zone),
        spans=_table(spans, SPAN_COLUMNS, zone),
        stays=_table(of_stays, STAY_COLUMNS, zone),
        escalations=_table(escalations, ESCALATION_COLUMNS, zone),
    )


def _entries(stay: FollowedStay, days: ShiftDays) -> Iterator[Row]:
    """The rows charted on this unit, from the order on."""
    handover = stay.handover
    (patient,) = handover.patients
    listings, periods = handover.listings_of(patient), handover.periods_of(patient)
    for entry in _counted(stay):
        if _unit_at(listings, entry.at) == handover.unit.name:
            signs = entry.signs
            yield (
                *(days.of(entry.at), entry.at, entry.until, str(entry.what), entry.breaths),
                *(entry.volume_ml, entry.hold_s, order_at(periods, entry.at).hold_s),
                *(entry.flow and str(entry.flow), entry.seen_by and str(entry.seen_by)),
                *(entry.position and str(entry.position), ";".join(sorted(signs.symptoms))),
                *(signs.pain, signs.spo2, signs.resp_rate, signs.pulse, signs.temp_c),
                signs.on_oxygen,
            )


def _spans(stay: FollowedStay, days: ShiftDays) -> Iterator[Row]:
    """The spans of its shifts on this unit in which breaths were due or done."""
    for shift, slots in stay.shifts:
        day, starts = days.of(shift.start), shift.start.astimezone(days.zone).time()
        for slot in slots:
            if slot.due or slot.done:
                yield (
                    *(day, slot.start, slot.end, starts),
                    *(slot.due, slot.done, slot.credited, str(slot.state)),
                )


def _counted(stay: FollowedStay) -> list[Entry]:
    (patient,) = stay.handover.patients
    begins = stay.handover.stay_start[patient.id]
    known = stay.handover.entries_of(patient)
    return [each for each in known if begins <= each.at <= stay.handover.as_of]


def _unit_at(listings: Sequence[Listing], instant: datetime) -> str:
    """The unit whose log listed the patient last by then."""
    begun = bisect_right(listings, instant, key=lambda each: each.shift.start)
    return listings[max(begun - 1, 0)].unit


def _stay(stay: FollowedStay, days: ShiftDays) -> Row:
    """When it was ordered, first done and last followed, how it ended, what is recorded as done.

    It is followed until the patient is gone or the order stopped, or until a time without a log
    that begins before the first exercise: what was done then is not known.
    """
    handover = stay.handover
    (patient,) = handover.patients
    listings = handover.listings_of(patient)
    ordered_at = handover.stay_start[patient.id]
    first = next((entry.at for entry in _counted(stay) if entry.is_exercise), None)
    stops = [order.stop for order in handover.periods_of(patient)]
    left = handover.left.get(patient.id)
    gone_at = left.at if left else min(handover.as_of, handover.shift.end)
    until = min(gone_at, stops[-1] or gone_at)
    gap = next((each.start for each in handover.gaps.get(patient.id, ())), until)
    if gap < min(first or until, until):
        first, until, exercise = None, gap, NOT_KNOWN
    elif first:
        until, exercise = max(first, until), BEGUN
    else:
        is_over = stay.ending in {Ending.LEFT, Ending.NOT_LISTED} or until < gone_at
        exercise = NEVER if is_over else NOT_KNOWN
    times_taught = {each.patient.taught for each in listings} - {None, True, False}
    is_own = listings[0].unit == handover.unit.name
    return (
        *(days.of(ordered_at), days.of(handover.shift.start), ordered_at),
        *(is_own and listings[0].shift.start - ordered_at < BEGAN_BEFORE, first, until),
        *(exercise, str(stay.ending)),
        *(
            _recorded([getattr(each.patient, fact) for each in listings])
            for fact in ("device_given", "taught", "shown_back")
        ),
        sum(isinstance(each, datetime) for each in times_taught),
    )


def _recorded(facts: Sequence[Done]) -> str:
    """What any log of the stay says: a blank in one says nothing against a value in another."""
    if any(facts):
        return YES
    return NO if False in facts else NOT_RECORDED


def _escalation(matter: Matter) -> Row:
    told = [each.at for each in (*matter.told_before, *matter.told) if each.named]
    told = told or [each.at for each in matter.told]
    is_settled = matter.state in {MatterState.SETTLED, MatterState.CLOSED}
    return (
        *(matter.rule, matter.symptom, matter.opened_at, matter.is_told),
        *(min(told) if matter.is_told else None, is_settled),
        matter.settled_at if is_settled else None,
    )


def _table(rows: Sequence[Row], columns: Sequence[str], zone: ZoneInfo) -> pd.DataFrame:
    table = pd.DataFrame(rows, columns=list(columns))
    for name in columns:
        if name in INSTANTS:
            table[name] = pd.to_datetime(table[name], utc=True).dt.tz_convert(zone)
        elif name in DAYS:
            table[name] = pd.to_datetime(table[name])
        elif name in COUNTS:
            table[name] = table[name].astype("Int64")
        elif name in ANSWERS:
            table[name] = table[name].astype("boolean")
        elif name in CERTAIN:
            table[name] = table[name].astype(bool)
    return table


def _within(tables: Tables, period: Period) -> Tables:
    """The rows of the days of the period; of stays, those that reach into it."""
    first, last = pd.Timestamp(period.first), pd.Timestamp(period.last)
    stays = tables.stays
    reaches_in = (stays["day"] <= last) & (stays["last_day"] >= first)
    kept = {
        each.name: (table := getattr(tables, each.name))[table["day"].between(first, last)]
        for each in fields(Tables)
        if each.name != "stays"
    }
    return Tables(stays=stays[reaches_in], **kept)


def _numbered(tables: Tables) -> Tables:
    """The same with stays numbered from 1, in the order of their orders."""
    stays = tables.stays.sort_values(["ordered_at", "stay"])
    numbers = pd.Series(range(1, len(stays) + 1), index=stays["stay"])
    numbered = {
        each.name: (table := getattr(tables, each.name)).assign(stay=table["stay"].map(numbers))
        for each in fields(Tables)
    }
    by_time = {
        name: table.sort_values([table.columns[0], table.columns[2]], ignore_index=True)
        for name, table in numbered.items()
    }
    return Tables(**by_time)

"""Followed stays -> tidy tables: one row an entry, a span, a stay, an escalation.

Input: `FollowedStay`s of one unit, its shifts, the period. Output: `Tables` of some stays, and of
all that were made so, apart from each other. A stay has a number of its own, in the order of the
orders; nothing in a table tells an id, a name, a bed, a note or who charted it. `day` is the local
day on which the shift of a row starts: all of a night is of the day on which it begins.
"""

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pandas as pd
from msgspec.structs import asdict

from handoff.model.frozen import Frozen
from handoff.model.matters import MatterState
from handoff.model.review import Ending, FollowedStay, Period
from handoff.model.ward import Done, Entry, Listing, Shift, order_at

Row = tuple[Any, ...]  # of a table, with its stay before it

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
# The type of each column that holds no words, the same whatever is in it. A blank is not recorded:
# neither a no nor a zero.
INSTANT = "datetime64[us, UTC]"
TYPES = {
    **dict.fromkeys(("at", "until", "start", "end", "ordered_at", "first_exercise_at"), INSTANT),
    **dict.fromkeys(("followed_until", "opened_at", "told_at", "settled_at"), INSTANT),
    **dict.fromkeys(("day", "last_day"), "datetime64[s]"),
    **dict.fromkeys(("breaths", "pain"), "Int64"),
    **dict.fromkeys(("volume_ml", "hold_s", "ordered_hold_s"), "float64"),
    **dict.fromkeys(("spo2", "resp_rate", "pulse", "temp_c", "due", "done", "credited"), "float64"),
    "on_oxygen": "boolean",
    "shift_starts": "object",
    **dict.fromkeys(("told", "settled", "began_here"), "bool"),
    **dict.fromkeys(("stay", "times_taught"), "int64"),
}


class Tables(Frozen):
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


def tables_of_stays(stays: Iterable[FollowedStay], days: ShiftDays) -> Tables:
    """The tables of some stays, numbered from 0 as they come, with instants in UTC."""
    entries: list[Row] = []
    spans: list[Row] = []
    of_stays: list[Row] = []
    escalations: list[Row] = []
    for number, stay in enumerate(stays):
        of_stays.append((number, *_stay(stay, days)))
        entries += ((number, *row) for row in _entries(stay, days))
        spans += ((number, *row) for row in _spans(stay, days))
        escalations += ((number, *row) for row in _escalations(stay, days))
    return Tables(
        entries=_table(entries, ENTRY_COLUMNS),
        spans=_table(spans, SPAN_COLUMNS),
        stays=_table(of_stays, STAY_COLUMNS),
        escalations=_table(escalations, ESCALATION_COLUMNS),
    )


def joined(parts: Iterable[Tables], zone: ZoneInfo, period: Period) -> Tables:
    """The tables of all stays of a unit, from those of some each."""
    none = tables_of_stays((), ShiftDays((), zone))
    numbered = [dict(named(none))]
    stays = 0
    for part in parts:
        numbered.append(
            {name: each.assign(stay=each["stay"] + stays) for name, each in named(part)}
        )
        stays += len(part.stays)
    whole = {
        name: _in_zone(pd.concat([each[name] for each in numbered]), zone)
        for name, _ in named(none)
    }
    return _numbered(_within(Tables(**whole), period))


def named(tables: Tables) -> Iterator[tuple[str, pd.DataFrame]]:
    """Each table with its name."""
    yield from asdict(tables).items()


def _in_zone(table: pd.DataFrame, zone: ZoneInfo) -> pd.DataFrame:
    return table.assign(**{each: table[each].dt.tz_convert(zone) for each in instants_of(table)})


def instants_of(table: pd.DataFrame) -> list[str]:
    """The names of its columns of instants."""
    return [str(name) for name in table if TYPES.get(str(name)) == INSTANT]


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


def _escalations(stay: FollowedStay, days: ShiftDays) -> Iterator[Row]:
    """Those that were opened on this unit."""
    for matter in stay.matters:
        if matter.unit == stay.handover.unit.name:
            told = [each.at for each in (*matter.told_before, *matter.told) if each.named]
            told = told or [each.at for each in matter.told]
            is_settled = matter.state in {MatterState.SETTLED, MatterState.CLOSED}
            yield (
                *(days.of(matter.opened_at), matter.rule, matter.symptom, matter.opened_at),
                *(matter.is_told, min(told) if matter.is_told else None, is_settled),
                matter.settled_at if is_settled else None,
            )


def _table(rows: Sequence[Row], columns: Sequence[str]) -> pd.DataFrame:
    values = zip(*rows, strict=True) if rows else ((),) * len(columns)
    return pd.DataFrame(dict(map(_column, columns, values)))


def _column(name: str, values: Sequence[Any]) -> "tuple[str, pd.Series[Any]]":
    kind = TYPES.get(name, "object")
    if kind == INSTANT:
        return name, pd.Series(pd.to_datetime(values, utc=True).as_unit("us"))
    return name, pd.Series(values, dtype=kind)


def _within(tables: Tables, period: Period) -> Tables:
    """The rows of the days of the period; of stays, those that reach into it."""
    first, last = pd.Timestamp(period.first), pd.Timestamp(period.last)
    stays = tables.stays
    reaches_in = (stays["day"] <= last) & (stays["last_day"] >= first)
    kept = {name: table[table["day"].between(first, last)] for name, table in named(tables)}
    return Tables(**(kept | {"stays": stays[reaches_in]}))


def _numbered(tables: Tables) -> Tables:
    """The same with stays numbered from 1, in the order of their orders."""
    stays = tables.stays.sort_values(["ordered_at", "stay"])
    numbers = pd.Series(range(1, len(stays) + 1), index=stays["stay"], dtype="int64")
    by_time = {
        name: table.assign(stay=numbers.loc[table["stay"]].array).sort_values(
            [table.columns[0], table.columns[2]], ignore_index=True
        )
        for name, table in named(tables)
    }
    return Tables(**by_time)

"""The local clock of a unit: times as people write them, to instants in UTC.

Input: the text of a cell. Output: an aware datetime in UTC, a plain date, a time zone, or quiet
hours. Raises `BadCell` for text that cannot be read. Never guesses between month and day, the
meaning of a spreadsheet's serial number, or a time that the clock skipped.
"""

import difflib
import re
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from typing import TypeVar
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError, available_timezones

from handoff.log.cell import BadCell, Doubtful
from handoff.log.times import Order, read_parts, usual_time
from handoff.model.frozen import Frozen

T = TypeVar("T")
_ZONE_NAME = re.compile(r"[A-Za-z][\w+-]*(?:/[\w+-]+)*", re.ASCII)
# Names of no single zone, or of another zone than people expect: EST never changes its clock, and
# Etc/GMT-4 is four hours ahead of UTC.
_NO_PLACE = re.compile(
    r"(?:localtime|posixrules|Factory|EST|MST|HST|Etc/GMT[+-]\d+)$|posix/|right/"
)
# A text that may be a mistyped name. Short ones and numbers are not: AST and MST, GMT-4 and GMT+4
# differ in one letter, and by hours.
_MISTYPED = re.compile(r"[A-Za-z_ ]{5,}(?:/[A-Za-z_ -]+)*", re.ASCII)
_QUIET = re.compile(r"(.+?)\s*[-–]\s*(.+)")


class Clock(Frozen):
    """Reads what people of one time zone write.

    `dates` is 'mdy', 'dmy' or None; without it `order_of` gives the order of dates that are written
    with one mark, or None where month and day cannot be told apart.
    """

    zone: ZoneInfo
    dates: str | None = None
    order_of: Order = lambda _mark: None

    def moment(
        self, raw: str, earliest: datetime | None = None, before: datetime | None = None
    ) -> datetime | Doubtful[datetime]:
        """The instant that `raw` names, in UTC.

        A time without a date is the first such time at or after `earliest`; it cannot be read
        without `earliest`, or when that is not earlier than `before`. A time that occurs twice is
        read as the first of the two, and is `Doubtful`.
        """
        usual = _usual_moment(raw, self.zone)
        if usual:
            return usual
        written = read_parts(
            raw,
            "not-a-time",
            self._order,
            near=lambda: earliest.astimezone(self.zone).date() if earliest else None,
        )
        if written.since_midnight is None:
            raise BadCell("date-without-time")
        if written.day:
            found = self._dated(written.day, written.since_midnight, written.ahead_of_utc)
            return _with_doubts(found, written.doubts)
        if written.ahead_of_utc is not None:
            raise BadCell("not-a-time")
        if earliest is None:
            raise BadCell("time-without-date")
        found = self._undated(written.since_midnight, earliest)
        moment = found.value if isinstance(found, Doubtful) else found
        if before and moment >= before:
            raise BadCell("time-without-date", found=moment)
        return _with_doubts(found, written.doubts)

    def day(self, raw: str) -> date | Doubtful[date]:
        """The calendar day that `raw` names; midnight after it, as spreadsheets add, is allowed.

        A year of two digits is not read here: people are born in two centuries. In a date with a
        time of day it is a year of this century.
        """
        written = read_parts(raw, "not-a-date", self._order)
        if written.day is None or written.since_midnight or written.ahead_of_utc is not None:
            raise BadCell("not-a-date")
        return _with_doubts(written.day, written.doubts)

    def _order(self, mark: str) -> str | None:
        return self.dates or self.order_of(mark)

    def _dated(
        self, day: date, since_midnight: timedelta, ahead_of_utc: timedelta | None
    ) -> datetime | Doubtful[datetime]:
        wall = datetime.combine(day, time()) + since_midnight
        if ahead_of_utc is not None:
            return (wall - ahead_of_utc).replace(tzinfo=UTC)
        return self._chosen(instants(wall, self.zone))

    def _undated(
        self, since_midnight: timedelta, earliest: datetime
    ) -> datetime | Doubtful[datetime]:
        now = earliest.astimezone(self.zone).replace(tzinfo=None)
        wall = datetime.combine(now.date(), time()) + since_midnight % timedelta(days=1)
        if wall >= now and not instants(wall, self.zone):
            raise BadCell("time-does-not-exist")
        today = tuple(moment for moment in instants(wall, self.zone) if moment >= earliest)
        return self._chosen(today or instants(wall + timedelta(days=1), self.zone))

    def _chosen(self, found: tuple[datetime, ...]) -> datetime | Doubtful[datetime]:
        if not found:
            raise BadCell("time-does-not-exist")
        if len(found) == 1:
            return found[0]
        read, other = (
            moment.astimezone(self.zone).isoformat(sep=" ", timespec="minutes") for moment in found
        )
        return Doubtful(found[0], (BadCell("time-twice", read=read, other=other),))


def _with_doubts(found: T | Doubtful[T], doubts: tuple[BadCell, ...]) -> T | Doubtful[T]:
    if not doubts:
        return found
    if isinstance(found, Doubtful):
        return Doubtful(found.value, (*doubts, *found.doubts))
    return Doubtful(found, doubts)


@lru_cache(maxsize=10_000)
def _usual_moment(raw: str, zone: ZoneInfo) -> datetime | None:
    """The instant of a date and time in the usual form; None for another text, and where the clock
    does not show that time just once. Kept: log after log has the same facts of a patient.
    """
    wall = usual_time(raw)
    found = instants(wall, zone) if wall else ()
    return found[0] if len(found) == 1 else None


def instants(wall: datetime, zone: ZoneInfo) -> tuple[datetime, ...]:
    """The instants, in UTC and in order, at which clocks in `zone` show the naive time `wall`.

    None where the clock is put forward over it, two where it is put back over it, else one.
    """
    both = [wall.replace(tzinfo=zone, fold=fold) for fold in (0, 1)]
    if both[0].utcoffset() == both[1].utcoffset():
        return (both[0].astimezone(UTC),)
    moments = (each.astimezone(UTC) for each in both)
    return tuple(
        sorted(each for each in moments if each.astimezone(zone).replace(tzinfo=None) == wall)
    )


def time_zone(raw: str) -> ZoneInfo:
    """The time zone of an IANA name."""
    try:
        if _ZONE_NAME.fullmatch(raw) and not _NO_PLACE.match(raw):
            return ZoneInfo(raw)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        pass
    raise BadCell("bad-time-zone", hint=_nearest_zone(raw))


def _nearest_zone(raw: str) -> str | None:
    wanted = raw.casefold().replace(" ", "_")
    names = sorted(name for name in available_timezones() if not _NO_PLACE.match(name))
    ends = (name for name in names if name.casefold().rpartition("/")[2] == wanted)
    close = difflib.get_close_matches(raw, names, n=1) if _MISTYPED.fullmatch(raw) else ()
    return next(ends, close[0] if close else None)


def quiet_hours(raw: str) -> tuple[()] | tuple[time, time]:
    """Local clock times (start, end) of the hours in which no breaths are due; () for 'none'."""
    if raw.casefold() == "none":
        return ()
    both = _QUIET.fullmatch(raw)
    if not both:
        raise BadCell("bad-quiet-hours")
    start, end = (_time_of_day(part) for part in both.groups())
    if start == end:
        raise BadCell("bad-quiet-hours")
    return start, end


def _time_of_day(raw: str) -> time:
    written = read_parts(raw, "bad-quiet-hours", lambda _mark: None)
    if written.day or written.ahead_of_utc is not None or written.doubts:
        raise BadCell("bad-quiet-hours")
    if written.since_midnight is None:
        raise BadCell("bad-quiet-hours")
    return (datetime.combine(date.min, time()) + written.since_midnight).time()

"""The local clock of a unit: times as people write them, to instants in UTC.

Input: the text of a cell. Output: an aware datetime in UTC, a plain date, a time zone, or quiet
hours. Raises `BadCell` for text that cannot be read. Never guesses between month and day, the
meaning of a spreadsheet's serial number, or a time that the clock skipped.
"""

import difflib
import re
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import TypeVar
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError, available_timezones

from handoff.log.cell import READ_AS, BadCell, Doubtful

T = TypeVar("T")
_Order = Callable[[str], str | None]  # of dates with a mark: 'mdy', 'dmy' or None

_CLOCK_FACE = (12, *range(1, 12))  # hours of half a day, in their order
NEAR = timedelta(days=31)
FIRST_YEAR, LAST_YEAR = 1900, 2199
THIS_CENTURY, _WHOLE_YEAR = 2000, 4  # of years of two digits and of four

_DATE = r"(?P<year>\d{4})-(?P<month>\d{2})-(?P<day>\d{2})"
_OTHER_DATE = (
    r"(?P<one>\d{1,2})(?P<mark>[/.-])(?P<two>\d{1,2})(?P=mark)"
    r"(?P<last_year>\d{4}|(?<=[/.])\d{2}(?!\d))"
)
_CLOCK = (
    r"(?:(?P<hour>\d{1,2}):(?P<minute>\d{2})(?::(?P<second>\d{2}(?:\.\d{1,6})?))?"
    r"(?:\s*(?P<half>[AaPp])\.?[Mm]\.?)?|(?P<military>\d{4}))"
)
_OFFSET = r"(?P<offset>Z|[+-]\d{2}:?\d{2})"
_WRITTEN = re.compile(
    rf"(?:(?:{_DATE}|{_OTHER_DATE})(?:[T\s]\s*(?=\d)|$))?(?P<clock>{_CLOCK}\s*{_OFFSET}?)?",
    re.ASCII,
)
_YEAR_FIRST = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?!\d)(.*)", re.ASCII)
_MONTH_NAMED = re.compile(r"(\d{1,2})[-. ]+([A-Za-z]{3,9})[-., ]+(\d{4}|\d{2})(?!\d)(.*)", re.ASCII)
_MONTHS = (
    *("january", "february", "march", "april", "may", "june", "july", "august", "september"),
    *("october", "november", "december"),
)
# Clock times that can be meant in one way only: 730, 19h10, 6am.
_SHORT_CLOCK = re.compile(
    r"(?P<hour>\d{1,2})(?:h(?P<minute>\d{2})|(?P<minutes>(?<!\d\d)\d{2})|\s*(?P<half>[ap])\.?m\.?)",
    re.ASCII | re.IGNORECASE,
)
_SERIAL = re.compile(r"\d{5}(?:[.,]\d+)?|0?[.,]\d+", re.ASCII)
_NEARLY_A_TIME = re.compile(
    r"[~?]?\s*(?P<hour>\d{1,2})(?:\s*[:.;h]?\s*(?P<minute>\d{2}))?\s*(?:(?P<half>[ap])\.?m?\.?|[^\d:]*)",
    re.ASCII | re.IGNORECASE,
)
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


@dataclass(frozen=True, slots=True)
class Clock:
    """Reads what people of one time zone write.

    `dates` is 'mdy', 'dmy' or None; without it `order_of` gives the order of dates that are written
    with one mark, or None where month and day cannot be told apart.
    """

    zone: ZoneInfo
    dates: str | None = None
    order_of: _Order = lambda _mark: None

    def moment(
        self, raw: str, earliest: datetime | None = None, before: datetime | None = None
    ) -> datetime | Doubtful[datetime]:
        """The instant that `raw` names, in UTC.

        A time without a date is the first such time at or after `earliest`; it cannot be read
        without `earliest`, or when that is not earlier than `before`. A time that occurs twice is
        read as the first of the two, and is `Doubtful`.
        """
        near = earliest.astimezone(self.zone).date() if earliest else None
        written = _read(raw, "not-a-time", self._order, near)
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
        written = _read(raw, "not-a-date", self._order)
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


def instants(wall: datetime, zone: ZoneInfo) -> tuple[datetime, ...]:
    """The instants, in UTC and in order, at which clocks in `zone` show the naive time `wall`.

    None where the clock is put forward over it, two where it is put back over it, else one.
    """
    both = {wall.replace(tzinfo=zone, fold=fold).astimezone(UTC) for fold in (0, 1)}
    return tuple(
        sorted(moment for moment in both if moment.astimezone(zone).replace(tzinfo=None) == wall)
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
    written = _read(raw, "bad-quiet-hours", lambda _mark: None)
    if written.day or written.ahead_of_utc is not None or written.doubts:
        raise BadCell("bad-quiet-hours")
    if written.since_midnight is None:
        raise BadCell("bad-quiet-hours")
    return (datetime.combine(date.min, time()) + written.since_midnight).time()


@dataclass(frozen=True, slots=True)
class _Written:
    """The parts of a date and time as written; None for a part that is missing. `doubts` say that
    another form was read.
    """

    day: date | None
    since_midnight: timedelta | None
    ahead_of_utc: timedelta | None
    doubts: tuple[BadCell, ...] = ()


def _read(raw: str, code: str, order: _Order, near: date | None = None) -> _Written:
    """The parts of a date and time. Raises `BadCell` with `code`; `near` is a date close to the
    likely one.
    """
    if _SERIAL.fullmatch(raw):
        raise BadCell("spreadsheet-serial")
    found = _WRITTEN.fullmatch(raw)
    doubts: tuple[BadCell, ...] = ()
    if not found:
        usual = _in_usual_form(raw, code)
        found = _WRITTEN.fullmatch(usual)
        doubts = (BadCell(READ_AS, what="another form of date or time", read=usual),)
    if not raw or not found:
        raise BadCell(code, hint=_likely(raw, code))
    try:
        return _Written(
            _day(found, code, order, near),
            _since_midnight(found),
            _ahead_of_utc(found["offset"]),
            doubts,
        )
    except ValueError as error:
        raise BadCell(code, hint=_likely(raw, code)) from error


def _in_usual_form(raw: str, code: str) -> str:
    """A date with its year first or its month as a word, and a short clock time, in the usual form;
    any other text as it is. In a birth date a year of two digits is not read.
    """
    dated, rest = "", raw
    year_first, named = _YEAR_FIRST.fullmatch(raw), _MONTH_NAMED.fullmatch(raw)
    if year_first:
        year, month, day, rest = year_first.groups()
        dated = f"{year}-{month:0>2}-{day:0>2}"
    elif named and (len(named[3]) == _WHOLE_YEAR or code == "not-a-time"):
        day, word, year, rest = named.groups()
        whole = [each for each in _MONTHS if each.startswith(word.casefold())]
        if not whole:
            return raw
        year = year if len(year) == _WHOLE_YEAR else f"{THIS_CENTURY + int(year)}"
        dated = f"{year}-{_MONTHS.index(whole[0]) + 1:02}-{day:0>2}"
    rest = rest.removeprefix("T").strip()
    short = _SHORT_CLOCK.fullmatch(rest)
    if short and short["half"]:
        rest = f"{short['hour']}:00 {short['half'].upper()}M"
    elif short:
        rest = f"{short['hour']:0>2}:{short['minute'] or short['minutes']}"
    return f"{dated} {rest}".strip()


def _likely_day(raw: str) -> str | None:
    """The same date in the form in which it is read."""
    year_first = _YEAR_FIRST.fullmatch(raw)
    if not year_first:
        return None
    year, month, day, rest = year_first.groups()
    likely = f"{year}-{month:0>2}-{day:0>2}{rest}"
    return likely if likely != raw else None


def _likely_time(raw: str) -> str | None:
    """The same date and time in the form in which they are read."""
    dated = _YEAR_FIRST.fullmatch(_likely_day(raw) or raw)
    rest = dated[4] if dated else raw
    nearly = _NEARLY_A_TIME.fullmatch(rest.strip(" ,T"))
    clock_time = _clock_time(nearly) if nearly else rest.strip()
    likely = f"{'-'.join(dated.groups()[:3])} {clock_time}" if dated else clock_time
    return likely if likely != raw and _WRITTEN.fullmatch(likely) else None


def _likely(raw: str, code: str) -> str | None:
    """The date or time that was probably meant."""
    if code == "not-a-time":
        return _likely_time(raw)
    return _likely_day(raw) if code == "not-a-date" else None


def _clock_time(nearly: re.Match[str]) -> str:
    """The clock time in a text with another mark between hours and minutes, a word after it, or no
    minutes.
    """
    hour, minute, half = int(nearly["hour"]), nearly["minute"] or "00", nearly["half"] or ""
    if half and hour in _CLOCK_FACE:
        return f"{hour}:{minute} {half.upper()}M"
    is_one = nearly["minute"] and hour <= 24 and int(minute) < 60  # noqa: PLR2004 - a clock's
    return f"{hour:02}:{minute}" if is_one else ""


def orders_of(raw: str) -> tuple[str, tuple[str, ...]]:
    """The mark of a date such as `9/30/1941`, and the orders in which it is a date; none for any
    other text, and for a year of two digits, which may be the first number.
    """
    found = _WRITTEN.fullmatch(raw)
    if not found or len(found["last_year"] or "") != _WHOLE_YEAR:
        return "", ()
    return found["mark"], tuple(_in_each_order(found))


def _day(found: re.Match[str], code: str, order: _Order, near: date | None) -> date | None:
    if found["year"]:
        day = date(int(found["year"]), int(found["month"]), int(found["day"]))
    elif not found["last_year"]:
        return None
    elif len(found["last_year"]) < _WHOLE_YEAR and code == "not-a-date":
        raise ValueError(found["last_year"])
    else:
        dates = order(found["mark"])
        if dates is None:
            raise BadCell("ambiguous-date", hint=_likely_order(found, near))
        day = _ordered(found, dates)
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise ValueError(day)
    return day


def _ordered(found: re.Match[str], dates: str) -> date:
    month, day = ("one", "two") if dates == "mdy" else ("two", "one")
    since = 0 if len(found["last_year"]) == _WHOLE_YEAR else THIS_CENTURY
    return date(since + int(found["last_year"]), int(found[month]), int(found[day]))


def _in_each_order(found: re.Match[str]) -> dict[str, date]:
    """The date by each order that gives one."""
    days = {}
    for dates in ("mdy", "dmy"):
        with suppress(ValueError):
            days[dates] = _ordered(found, dates)
    return days


def _likely_order(found: re.Match[str], near: date | None) -> str | None:
    """The date, with its time of day, where just one order gives a date near the shift, and the
    option that reads it so.

    Raises `ValueError` where neither order gives a date.
    """
    days = _in_each_order(found)
    if not days:
        raise ValueError(found[0])
    likely = [
        f"{day} {found['clock'] or ''}".strip() + f" (as --dates {dates} reads it)"
        for dates, day in days.items()
        if near is None or abs(day - near) <= NEAR
    ]
    return likely[0] if len(likely) == 1 else None


def _since_midnight(found: re.Match[str]) -> timedelta | None:
    if not found["clock"]:
        return None
    if found["military"]:
        hour, minute, second = int(found["military"][:2]), int(found["military"][2:]), 0.0
    else:
        hour, minute, second = int(found["hour"]), int(found["minute"]), float(found["second"] or 0)
    if found["half"]:
        hour = _CLOCK_FACE.index(hour) + (12 if found["half"] in "Pp" else 0)
    if (hour, minute, second) != (24, 0, 0):
        time(hour, minute, int(second))  # refuses 25:10, and 23:60 and 23:59:60 too
    return timedelta(hours=hour, minutes=minute, seconds=second)


def _ahead_of_utc(offset: str | None) -> timedelta | None:
    """Local time minus UTC; offsets in use reach from -12 to +14 hours."""
    if offset is None:
        return None
    ahead = datetime.strptime(offset, "%z").utcoffset()
    if ahead is None or abs(ahead) > timedelta(hours=14):
        raise ValueError(offset)
    return ahead

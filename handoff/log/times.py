"""A date and time as people write it: text -> its parts.

Input: the text of a cell. Output: its day, its time of day and its offset from UTC, as far as they
are written. Raises `BadCell` for text that cannot be read, with what was probably meant. Never
guesses between month and day, or the meaning of a spreadsheet's serial number.
"""

import re
from collections.abc import Callable
from contextlib import suppress
from datetime import date, datetime, time, timedelta

from handoff.log.cell import BadCell, read_as_doubt
from handoff.model.frozen import Frozen
from handoff.model.wording import FINDINGS

Order = Callable[[str], str | None]  # of dates with a mark: 'mdy', 'dmy' or None
Near = Callable[[], date | None]  # a date close to the likely one

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
# As nearly all times are written. The standard library reads it, many times as fast as `_WRITTEN`.
_USUAL = re.compile(r"(?:19|2[01])\d\d-\d\d-\d\d \d\d:\d\d", re.ASCII)
_WRITTEN = re.compile(
    rf"(?:(?:{_DATE}|{_OTHER_DATE})(?:[T\s]\s*(?=\d)|$))?(?P<clock>{_CLOCK}\s*{_OFFSET}?)?",
    re.ASCII,
)
_MARKED_DATE = re.compile(rf"{_OTHER_DATE}(?=\s)", re.ASCII)
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


class Written(Frozen):
    """The parts of a date and time as written; None for a part that is missing. `doubts` say that
    another form was read.
    """

    day: date | None
    since_midnight: timedelta | None
    ahead_of_utc: timedelta | None
    doubts: tuple[BadCell, ...] = ()


def usual_time(raw: str) -> datetime | None:
    """The date and time of day of a text in the usual form; None for any other text."""
    if _USUAL.fullmatch(raw):
        with suppress(ValueError):
            return datetime.fromisoformat(raw)
    return None


def read_parts(raw: str, code: str, order: Order, near: Near = lambda: None) -> Written:
    """The parts of a date and time. Raises `BadCell` with `code`."""
    if _SERIAL.fullmatch(raw):
        raise BadCell("spreadsheet-serial")
    found = _WRITTEN.fullmatch(raw)
    doubts: tuple[BadCell, ...] = ()
    if not found:
        in_usual_form = _in_usual_form(raw, code)
        found = _WRITTEN.fullmatch(in_usual_form)
        doubts = (read_as_doubt("date-form", in_usual_form),)
    if not raw or not found:
        raise BadCell(code, hint=_likely(raw, code))
    try:
        return Written(
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
    marked = _MARKED_DATE.match(raw)
    if marked:
        dated, rest = marked[0], raw[marked.end() :]
    elif year_first:
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


def _day(found: re.Match[str], code: str, order: Order, near: Near) -> date | None:
    if found["year"]:
        day = date(int(found["year"]), int(found["month"]), int(found["day"]))
    elif not found["last_year"]:
        return None
    elif len(found["last_year"]) < _WHOLE_YEAR and code == "not-a-date":
        raise ValueError(found["last_year"])
    else:
        dates = order(found["mark"])
        if dates is None:
            raise BadCell("ambiguous-date", hint=_likely_order(found, near()))
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
        FINDINGS.say(
            "ambiguous-date.likely", read=f"{day} {found['clock'] or ''}".strip(), dates=dates
        )
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

"""The likely meaning of a time or date that cannot be right: only words for a finding, never used.

Input: a time or date, and the shift or range it is compared with. Output: the likely one as a log
writes it; None where none is likely, or two are. The usual slip is a wrong date beside a right
clock time: the wrong side of midnight, or last year's date in January.
"""

from collections.abc import Collection, Iterator
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from handoff.log.clock import instants
from handoff.log.written import written
from handoff.model.ward import Shift

NEAR = timedelta(hours=1)  # how far outside the shift a likely time may be (common practice)
LONGEST_LIKELY = timedelta(hours=12)  # for a span that crosses dates
ONE_DAY, A_MONTH = timedelta(days=1), timedelta(days=31)
A_CENTURY = 100  # years


def likely_time(at: datetime, shift: Shift, zone: ZoneInfo) -> str | None:
    """The same clock time in or near the shift, where the date differs by one slip."""
    first, last = shift.start - NEAR, shift.end + NEAR
    if first <= at < last:
        return None
    day = at.astimezone(zone).date()
    near = [each for each in _same_clock(at, first, last, zone) if _one_slip(day, each, zone)]
    within = [each for each in near if shift.start <= each < shift.end]
    likely = within or near
    return written(likely[0], zone) if likely else None


def likely_end(
    start: datetime, end: datetime, zone: ZoneInfo, longest: timedelta = LONGEST_LIKELY
) -> str | None:
    """The first time after the start with the clock time of `end`, at most `longest` after it."""
    soonest = start + timedelta(microseconds=1)
    likely = next(_same_clock(end, soonest, soonest + longest, zone), None)
    return written(likely, zone) if likely else None


def likely_shift(moments: Collection[datetime], shift: Shift, zone: ZoneInfo) -> str | None:
    """The shift's hours on the one day on which they hold all the moments."""
    bounds = [each.astimezone(zone).replace(tzinfo=None) for each in (shift.start, shift.end)]
    first = min(moments).astimezone(zone).date()
    for day in (first, first - ONE_DAY):
        both = [instants(wall + (day - bounds[0].date()), zone) for wall in bounds]
        if all(both) and both[0][0] <= min(moments) and max(moments) < both[1][0]:
            return " to ".join(written(each[0], zone) for each in both)
    return None


def likely_year(day: date, shift: Shift, zone: ZoneInfo) -> int | None:
    """The year before or after, if it brings a date far from the shift to within a month of it."""
    today = shift.start.astimezone(zone).date()
    if abs(day - today) <= A_MONTH:
        return None
    for year in (day.year - 1, day.year + 1):
        other = _in_year(day, year)
        if other and abs(other - today) <= A_MONTH:
            return year
    return None


def likely_birth(born: date, earliest: date, latest: date) -> str | None:
    """The same date a century earlier or later, where only one of the two can be a birth date.

    A date of this year has no wrong century: it is the date of something else.
    """
    if born.year == latest.year:
        return None
    centuries = (_in_year(born, born.year + years) for years in (-A_CENTURY, A_CENTURY))
    likely = [each for each in centuries if each and earliest <= each <= latest]
    return likely[0].isoformat() if len(likely) == 1 else None


def _same_clock(
    moment: datetime, first: datetime, last: datetime, zone: ZoneInfo
) -> Iterator[datetime]:
    """Instants from `first` to `last` with the same clock time as `moment`."""
    clock = moment.astimezone(zone).time()
    day = first.astimezone(zone).date()
    while day <= last.astimezone(zone).date():
        found = instants(datetime.combine(day, clock), zone)
        yield from (each for each in found if first <= each < last)
        day += ONE_DAY


def _in_year(day: date, year: int) -> date | None:
    """The date in another year; none for 29 February in a common year."""
    try:
        return day.replace(year=year)
    except ValueError:
        return None


def _one_slip(day: date, meant: datetime, zone: ZoneInfo) -> bool:
    """Whether a date is one day off, has a wrong year or month, or has month and day exchanged."""
    other = meant.astimezone(zone).date()
    if abs(day - other) <= ONE_DAY:
        return True
    differ = (day.year != other.year, day.month != other.month, day.day != other.day)
    turned = day.year == other.year and (day.month, day.day) == (other.day, other.month)
    return turned or differ in {(True, False, False), (False, True, False)}

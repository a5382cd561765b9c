"""What was probably meant by a time or date that cannot be right: words for a finding, never used.

Input: what was written, and what it is compared with. Output: the likely one as a log writes it, or
None where nothing is likely, or two things are. Mostly the date was typed wrong and the clock time
beside it right: the date of the day before or after midnight, or last year's in January.
"""

from collections.abc import Collection, Iterator
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from handoff.log.clock import instants
from handoff.log.written import written
from handoff.model.ward import Shift

NEAR = timedelta(
    hours=1
)  # so long before and after a shift its entries may be of (common practice)
LONGEST_LIKELY = timedelta(hours=12)  # of a span from one date to another
ONE_DAY, A_MONTH = timedelta(days=1), timedelta(days=31)
A_CENTURY = 100  # years


def likely_time(at: datetime, shift: Shift, zone: ZoneInfo) -> str | None:
    """The same clock time in the shift, or near it, where the date is one slip away from that."""
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
    """The first such clock time after the start, within half a day unless it may be `longest`."""
    soonest = start + timedelta(microseconds=1)
    likely = next(_same_clock(end, soonest, soonest + longest, zone), None)
    return written(likely, zone) if likely else None


def likely_shift(moments: Collection[datetime], shift: Shift, zone: ZoneInfo) -> str | None:
    """The same hours on the day that has all of the moments in them."""
    bounds = [each.astimezone(zone).replace(tzinfo=None) for each in (shift.start, shift.end)]
    first = min(moments).astimezone(zone).date()
    for day in (first, first - ONE_DAY):
        both = [instants(wall + (day - bounds[0].date()), zone) for wall in bounds]
        if all(both) and both[0][0] <= min(moments) and max(moments) < both[1][0]:
            return " to ".join(written(each[0], zone) for each in both)
    return None


def likely_year(day: date, shift: Shift, zone: ZoneInfo) -> int | None:
    """The year before or after, in which a date that is far from the shift is within a month."""
    today = shift.start.astimezone(zone).date()
    for year in (day.year - 1, day.year + 1):
        other = _in_year(day, year)
        if other and abs(other - today) <= A_MONTH and abs(day - today) > A_MONTH:
            return year
    return None


def likely_birth(born: date, earliest: date, latest: date) -> str | None:
    """The same date a century before or after, where only one of them can be a birth date.

    In this year's date the century is not what is wrong: it is that of some other day.
    """
    if born.year == latest.year:
        return None
    centuries = (_in_year(born, born.year + years) for years in (-A_CENTURY, A_CENTURY))
    likely = [each for each in centuries if each and earliest <= each <= latest]
    return likely[0].isoformat() if len(likely) == 1 else None


def _same_clock(
    moment: datetime, first: datetime, last: datetime, zone: ZoneInfo
) -> Iterator[datetime]:
    """Instants from `first` up to `last` at which clocks show what they show at `moment`."""
    clock = moment.astimezone(zone).time()
    day = first.astimezone(zone).date()
    while day <= last.astimezone(zone).date():
        found = instants(datetime.combine(day, clock), zone)
        yield from (each for each in found if first <= each < last)
        day += ONE_DAY


def _in_year(day: date, year: int) -> date | None:
    """The date in another year; 29 February is not in every one."""
    try:
        return day.replace(year=year)
    except ValueError:
        return None


def _one_slip(day: date, meant: datetime, zone: ZoneInfo) -> bool:
    """Whether a date is a day off, or has another year or month, or month and day exchanged."""
    other = meant.astimezone(zone).date()
    if abs(day - other) <= ONE_DAY:
        return True
    differ = (day.year != other.year, day.month != other.month, day.day != other.day)
    turned = day.year == other.year and (day.month, day.day) == (other.day, other.month)
    return turned or differ in {(True, False, False), (False, True, False)}

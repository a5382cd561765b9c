"""Nights in which the clock is changed, in three zones, from the log to the breaths that are due.

What clocks show is taken minute by minute from `zoneinfo`, from UTC to local time only.
"""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from zoneinfo import ZoneInfo

import pytest

from handoff.gather import gather
from handoff.measure import measure
from handoff.model.ward import Handover, Log
from tests.support.bad_logs import night, shift
from tests.support.logs import NOW, log_of

A_MINUTE = timedelta(minutes=1)


@dataclass(frozen=True)
class Night:
    """A night from 19:00 to 07:00 in which the clock is changed, and how long it really is."""

    zone: str
    evening: str
    hours: float

    @property
    def morning(self) -> str:
        return (datetime.fromisoformat(self.evening) + timedelta(days=1)).date().isoformat()


NIGHTS = [
    Night("America/Halifax", "2026-03-07", 11),
    Night("America/Halifax", "2026-10-31", 13),
    Night("Europe/Berlin", "2026-03-28", 11),
    Night("Europe/Berlin", "2026-10-24", 13),
    Night("Australia/Lord_Howe", "2026-10-03", 11.5),  # it changes by half an hour
    Night("Australia/Lord_Howe", "2026-04-04", 12.5),
]
BY_NAME = pytest.mark.parametrize("of_night", NIGHTS, ids=lambda each: f"{each.zone} {each.hours}")


@cache
def shown(of_night: Night) -> Mapping[str, list[datetime]]:
    """The instants at which clocks of the zone show each minute of that evening and morning."""
    zone = ZoneInfo(of_night.zone)
    moment = datetime.fromisoformat(f"{of_night.evening} 00:00+00:00") - timedelta(hours=14)
    found: defaultdict[str, list[datetime]] = defaultdict(list)
    for passed in range(72 * 60):
        each = moment + passed * A_MINUTE
        found[each.astimezone(zone).strftime("%Y-%m-%d %H:%M")].append(each)
    return found


def walls(of_night: Night) -> list[str]:
    """Every minute from 19:00 to 07:00 as it would be typed, whether clocks show it or not."""
    start = datetime.fromisoformat(f"{of_night.evening} 19:00")
    return [f"{start + passed * A_MINUTE:%Y-%m-%d %H:%M}" for passed in range(12 * 60)]


def log_with(of_night: Night, times: list[str]) -> Log:
    """A log of the night with one entry for each time, and breaths due at all hours."""
    patient = f"""\
- {{id: "1", name: "Quince, Ida", born: 1958-04-02, bed: 5,
   order: {{start: {of_night.evening} 10:00}}}}
"""
    entries = "".join(f'- {{patient: "1", at: "{at}", breaths: 8}}\n' for at in times)
    unit = f"unit:\n  name: Harbour 3 East\n  time_zone: {of_night.zone}\n  quiet_hours: none\n"
    hours = shift(f"{of_night.evening} 19:00", f"{of_night.morning} 07:00")
    return log_of(night(entries, patient, unit, hours))


@BY_NAME
def test_every_minute_is_what_clocks_show(of_night: Night) -> None:
    times = walls(of_night)
    log = log_with(of_night, times)
    oracle = shown(of_night)
    line_of_first = log.entries[0].place.line or 0
    typed = {line_of_first + number: at for number, at in enumerate(times)}
    read = {typed[entry.place.line or 0]: entry.at for entry in log.entries}
    assert read == {at: oracle[at][0] for at in times if oracle[at]}
    skipped = [typed[row.place.line or 0] for row in log.set_aside]
    assert skipped == [at for at in times if not oracle[at]]
    assert {row.reason.code for row in log.set_aside} <= {"time-does-not-exist"}
    twice = {typed[each.place.line or 0] for each in log.findings if each.code == "time-twice"}
    assert twice == {at for at in times if len(oracle[at]) == 2}
    changed = abs(of_night.hours - 12) * 60
    assert len(skipped) + len(twice) == changed


@BY_NAME
def test_a_time_alone_is_read_as_the_same_one_with_its_date(of_night: Night) -> None:
    dated = log_with(of_night, walls(of_night))
    alone = log_with(of_night, [at[-5:] for at in walls(of_night)])
    said = [[(each.content, each.place) for each in log.entries] for log in (alone, dated)]
    assert said[0] == said[1]
    assert [row.place for row in alone.set_aside] == [row.place for row in dated.set_aside]
    codes = [[each.code for each in log.findings] for log in (alone, dated)]
    assert codes[0] == codes[1]


@BY_NAME
def test_with_its_offset_every_minute_is_one_instant(of_night: Night) -> None:
    moments = [moment for at in walls(of_night) for moment in shown(of_night)[at]]
    zone = ZoneInfo(of_night.zone)
    typed = [moment.astimezone(zone).isoformat(" ", "minutes") for moment in moments]
    log = log_with(of_night, typed)
    assert log.findings == ()
    assert [entry.at for entry in log.entries] == moments
    assert len(moments) == of_night.hours * 60


def test_an_offset_that_the_clock_has_not_then_is_still_an_instant() -> None:
    """02:30 at UTC-4 is the instant at which clocks show 03:30."""
    log = log_with(NIGHTS[0], ["2026-03-08 02:30-04:00"])
    assert log.entries[0].at == datetime(2026, 3, 8, 6, 30, tzinfo=UTC)


def handed_over(log: Log) -> Handover:
    (handover,), _ = gather([log], None, NOW + timedelta(days=400))
    return handover


@BY_NAME
def test_the_hours_due_are_the_real_ones(of_night: Night) -> None:
    log = log_with(of_night, ["20:00"])
    assert log.shift.hours == of_night.hours
    adherence = measure(handed_over(log))["1"].adherence
    assert adherence.breaths_due == pytest.approx(10 * of_night.hours)
    assert adherence.slots_due == -(-of_night.hours // 1)
    real = sum((slot.end - slot.start for slot in adherence.slots), timedelta())
    assert real == timedelta(hours=of_night.hours)

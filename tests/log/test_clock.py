"""Local times become instants, held against the standard library's own time zones."""

from datetime import UTC, date, datetime, time, timedelta
from functools import partial
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handoff.log.cell import BadCell, Doubtful, read_cell
from handoff.log.clock import Clock, instants, quiet_hours, time_zone
from handoff.model.findings import Place
from tests.support.how_many import few
from tests.support.logs import utc

HALIFAX = ZoneInfo("America/Halifax")  # UTC-4, UTC-3 in summer; changes at 02:00
LORD_HOWE = ZoneInfo("Australia/Lord_Howe")  # changes by half an hour
APIA = ZoneInfo("Pacific/Apia")  # had no 30 December 2011
ZONES = st.sampled_from([HALIFAX, LORD_HOWE, APIA, ZoneInfo("Asia/Kolkata"), ZoneInfo("UTC")])

ISO = Clock(HALIFAX)
EVENING = datetime(2026, 3, 7, 19, tzinfo=HALIFAX)


def code_of(raw: str, clock: Clock = ISO, earliest: datetime | None = EVENING) -> str:
    with pytest.raises(BadCell) as caught:
        clock.moment(raw, earliest)
    return caught.value.code


@pytest.mark.parametrize(
    ("raw", "expected"),
    [
        ("2026-03-07 19:40", "2026-03-07 23:40"),
        ("2026-03-07T19:40", "2026-03-07 23:40"),
        ("2026-03-07  19:40:30", "2026-03-07 23:40:30"),
        ("2026-03-07 19:40:30.250", "2026-03-07 23:40:30.25"),
        ("2026-03-07 9:05", "2026-03-07 13:05"),
        ("2026-03-07 1940", "2026-03-07 23:40"),
        ("2026-03-07 7:40 PM", "2026-03-07 23:40"),
        ("2026-03-07 7:40 p.m.", "2026-03-07 23:40"),
        ("2026-03-07 12:00 AM", "2026-03-07 04:00"),
        ("2026-03-07 12:00 PM", "2026-03-07 16:00"),
        ("2026-03-07 24:00", "2026-03-08 04:00"),
        ("2026-03-08 03:00", "2026-03-08 06:00"),
        ("1900-01-01 00:00Z", "1900-01-01 00:00"),
        ("2199-12-31 24:00Z", "2200-01-01 00:00"),
        ("2026-03-07 19:40Z", "2026-03-07 19:40"),
        ("2026-03-07T19:40+05:30", "2026-03-07 14:10"),
        ("2026-03-07 19:40 -0400", "2026-03-07 23:40"),
        ("2026-11-01 01:30-04:00", "2026-11-01 05:30"),
    ],
)
def test_a_date_and_time_is_an_instant(raw: str, expected: str) -> None:
    assert ISO.moment(raw) == utc(expected)


@pytest.mark.parametrize(
    ("raw", "expected"),
    [
        ("19:00", "2026-03-07 23:00"),
        ("19:40", "2026-03-07 23:40"),
        ("18:59", "2026-03-08 21:59"),
        ("24:00", "2026-03-08 04:00"),
        ("00:00", "2026-03-08 04:00"),
        ("0640", "2026-03-08 09:40"),
        ("6:40 am", "2026-03-08 09:40"),
    ],
)
def test_a_time_alone_is_the_first_one_from_the_anchor(raw: str, expected: str) -> None:
    assert ISO.moment(raw, EVENING) == utc(expected)


def test_a_time_alone_needs_an_anchor_and_must_come_before_the_limit() -> None:
    assert code_of("19:40", earliest=None) == "time-without-date"
    morning = datetime(2026, 3, 8, 7, tzinfo=HALIFAX)
    assert ISO.moment("06:59", EVENING, before=morning) == utc("2026-03-08 09:59")
    with pytest.raises(BadCell, match="time-without-date"):
        ISO.moment("07:00", EVENING, before=morning)
    assert ISO.moment("2026-03-09 10:00", EVENING, before=morning) == utc("2026-03-09 13:00")


@pytest.mark.parametrize(
    ("raw", "code"),
    [
        ("2026-03-08 02:00", "time-does-not-exist"),
        ("2026-03-08 02:59", "time-does-not-exist"),
        ("02:30", "time-does-not-exist"),
        ("2026-02-29 10:00", "not-a-time"),
        ("2026-03-07 24:01", "not-a-time"),
        ("2026-03-07 25:00", "not-a-time"),
        ("2026-03-07 19:60", "not-a-time"),
        ("2026-03-07 23:60", "not-a-time"),
        ("2360", "not-a-time"),
        ("2026-03-07 23:59:60", "not-a-time"),
        ("2026-03-07 19:40:60", "not-a-time"),
        ("2026-03-07 13:00 PM", "not-a-time"),
        ("2026-03-07 0:30 AM", "not-a-time"),
        ("2026-03-0719:40", "not-a-time"),
        ("2026-03-07 19:40+15:00", "not-a-time"),
        ("2026-03-07 19:40+04:75", "not-a-time"),
        ("19:40-04:00", "not-a-time"),
        ("1899-12-31 09:00", "not-a-time"),
        ("2200-01-01 09:00", "not-a-time"),
        ("26-03-07 19:40", "not-a-time"),
        ("03/07/26 19:40", "ambiguous-date"),
        ("03-07-26 19:40", "not-a-time"),
        ("03/07/026 19:40", "not-a-time"),
        ("31/31/26 19:40", "not-a-time"),
        ("19.40.30", "not-a-time"),
        ("2026-W10-6 19:40", "not-a-time"),
        ("١٩:٤٠", "not-a-time"),
        ("7:4", "not-a-time"),
        ("7400", "not-a-time"),
        ("760", "not-a-time"),
        ("13pm", "not-a-time"),
        ("", "not-a-time"),
        ("2026-03-07", "date-without-time"),
        ("03/07/2026 19:40", "ambiguous-date"),
        ("13/07/2026 19:40", "ambiguous-date"),
        ("03/07/2026", "ambiguous-date"),
        ("46088.8194", "spreadsheet-serial"),
        ("46088,8194", "spreadsheet-serial"),
        ("46088", "spreadsheet-serial"),
        ("0.8194", "spreadsheet-serial"),
    ],
)
def test_what_is_no_time_is_refused_by_its_own_name(raw: str, code: str) -> None:
    assert code_of(raw) == code


@pytest.mark.parametrize(
    ("raw", "likely"),
    [
        ("2026-3-7 19.40", "2026-03-07 19:40"),
        ("2026-03-07, 19:40", "2026-03-07 19:40"),
        ("2026-03-07 19:40 ADT", "2026-03-07 19:40"),
        ("19.40", "19:40"),
        ("19;40", "19:40"),
        ("1940h", "19:40"),
        ("1940 hrs", "19:40"),
        ("19:40 Uhr", "19:40"),
        ("~19:40", "19:40"),
        ("19:40?", "19:40"),
        ("19:40 PM", "19:40"),
        ("7:40p", "7:40 PM"),
        ("20", None),
        ("7:4", None),
        ("noon", None),
        ("19:40-19:50", None),
        ("99.99", None),
        ("25h00", None),
        ("1:30:00 h", None),
        ("7 March 19:40", None),
    ],
)
def test_a_time_that_is_nearly_right_names_the_likely_one(raw: str, likely: str | None) -> None:
    with pytest.raises(BadCell) as caught:
        ISO.moment(raw, EVENING)
    assert (caught.value.code, caught.value.words.get("hint") or None) == ("not-a-time", likely)
    if likely:
        assert ISO.moment(likely, EVENING)


@pytest.mark.parametrize(
    ("raw", "likely"),
    [
        ("03/07/2026 19:40", "2026-03-07 19:40 (as --dates mdy reads it)"),
        ("07.03.2026 19:40", "2026-03-07 19:40 (as --dates dmy reads it)"),
        ("25/03/2026 19:40", "2026-03-25 19:40 (as --dates dmy reads it)"),
        ("03/03/2026 19:40", None),
        ("12/12/2026 19:40", None),
        ("03/07/26 19:40", "2026-03-07 19:40 (as --dates mdy reads it)"),
        ("07.03.26 7:40 PM", "2026-03-07 7:40 PM (as --dates dmy reads it)"),
    ],
)
def test_which_is_the_month_is_likely_where_one_order_is_near_the_shift(
    raw: str, likely: str | None
) -> None:
    with pytest.raises(BadCell, match="ambiguous-date") as caught:
        ISO.moment(raw, EVENING)
    assert caught.value.words["hint"] == likely


@pytest.mark.parametrize(
    ("raw", "code", "likely"),
    [
        ("19.40", "not-a-date", None),
        ("02/04/1958", "ambiguous-date", None),
        ("22/04/1958", "ambiguous-date", "1958-04-22 (as --dates dmy reads it)"),
    ],
)
def test_a_date_that_is_nearly_right(raw: str, code: str, likely: str | None) -> None:
    with pytest.raises(BadCell, match=code) as caught:
        ISO.day(raw)
    assert caught.value.words["hint"] == likely


def test_the_order_of_month_and_day_is_read_only_as_told() -> None:
    third_of_july, seventh_of_march = utc("2026-07-03 22:40"), utc("2026-03-07 23:40")
    for raw in ("03/07/2026 19:40", "3.7.2026 19:40", "03-07-2026 7:40 PM", "3/7/26 19:40"):
        assert Clock(HALIFAX, "dmy").moment(raw) == third_of_july
        assert Clock(HALIFAX, "mdy").moment(raw) == seventh_of_march
    assert Clock(HALIFAX, "mdy").moment("2026-03-07 19:40") == seventh_of_march
    assert code_of("13/07/2026 19:40", Clock(HALIFAX, "mdy")) == "not-a-time"
    assert code_of("03/07-2026 19:40", Clock(HALIFAX, "mdy")) == "not-a-time"


def test_a_time_that_comes_twice_is_the_first_and_says_both() -> None:
    read = ISO.moment("2026-11-01 01:30")
    assert isinstance(read, Doubtful)
    assert read.value == utc("2026-11-01 04:30")
    (doubt,) = read.doubts
    assert doubt.code == "time-twice"
    assert doubt.words == {"read": "2026-11-01 01:30-03:00", "other": "2026-11-01 01:30-04:00"}


def test_a_time_alone_after_its_first_coming_is_its_second() -> None:
    assert ISO.moment("01:15", utc("2026-11-01 04:30")) == utc("2026-11-01 05:15")


def test_a_time_alone_whose_gap_is_past_is_of_the_next_day() -> None:
    assert ISO.moment("02:30", utc("2026-03-08 06:00")) == utc("2026-03-09 05:30")


def test_days() -> None:
    assert ISO.day("1958-04-02") == date(1958, 4, 2)
    assert ISO.day("1958-04-02 00:00:00") == date(1958, 4, 2)
    assert Clock(HALIFAX, "dmy").day("02/04/1958") == date(1958, 4, 2)
    for raw in ("1958", "1958-4", "10:00", "1958-04-02 10:00", "1958-04-02 00:00Z", "1958-02-30"):
        with pytest.raises(BadCell, match="not-a-date"):
            ISO.day(raw)
    for clock in (ISO, Clock(HALIFAX, "dmy")):
        with pytest.raises(BadCell, match="not-a-date"):
            clock.day("02/04/58")
    with pytest.raises(BadCell, match="ambiguous-date"):
        ISO.day("02/04/1958")
    with pytest.raises(BadCell, match="spreadsheet-serial"):
        ISO.day("21277")


def test_quiet_hours() -> None:
    assert quiet_hours("22:00-06:00") == (time(22), time(6))
    assert quiet_hours("2200 – 0600") == (time(22), time(6))
    assert quiet_hours("10:00 PM - 6:00 AM") == (time(22), time(6))
    assert quiet_hours("22:00-24:00") == (time(22), time(0))
    assert quiet_hours("None") == ()
    for raw in ("22", "22-06", "22:00-22:00", "22:00-26:00", "at night", "22:00-06:00-07:00"):
        with pytest.raises(BadCell, match="bad-quiet-hours"):
            quiet_hours(raw)


@pytest.mark.parametrize(
    ("raw", "hint"),
    [
        ("Halifax", "America/Halifax"),
        ("america/halifax", "America/Halifax"),
        ("New York", "America/New_York"),
        ("America/Halifx", "America/Halifax"),
        ("AST", None),
        ("EST", None),
        ("MST", None),
        ("UTC-4", None),
        ("GMT-4", None),
        ("Etc/GMT-4", None),
        ("-04:00", None),
        ("../../etc/passwd", None),
        ("/etc/localtime", None),
        ("tzdata.zi", None),
    ],
)
def test_what_is_no_time_zone_is_refused(raw: str, hint: str | None) -> None:
    with pytest.raises(BadCell, match="bad-time-zone") as caught:
        time_zone(raw)
    assert caught.value.words["hint"] == hint


@pytest.mark.parametrize(
    "raw", ["localtime", "right/UTC", "America", "Nowhere/Here", "America/\0", "", "UTC+3"]
)
def test_names_that_are_folders_or_files_are_no_time_zones(raw: str) -> None:
    with pytest.raises(BadCell, match="bad-time-zone"):
        time_zone(raw)


SECONDS = st.integers(0, 30 * 365 * 24 * 3600)
INSTANTS = SECONDS.map(lambda passed: datetime(2005, 1, 1, tzinfo=UTC) + timedelta(seconds=passed))


@settings(max_examples=few(80), deadline=None)
@given(INSTANTS, ZONES)
def test_every_instant_is_among_those_of_its_wall_clock_time(
    moment: datetime, zone: ZoneInfo
) -> None:
    wall = moment.astimezone(zone).replace(tzinfo=None)
    found = instants(wall, zone)
    assert moment in found
    assert list(found) == sorted(set(found))
    assert all(each.astimezone(zone).replace(tzinfo=None, fold=0) == wall for each in found)


@settings(max_examples=few(80), deadline=None)
@given(INSTANTS, ZONES)
def test_a_written_offset_settles_every_time(moment: datetime, zone: ZoneInfo) -> None:
    written = moment.astimezone(zone).isoformat(" ")
    assert Clock(zone).moment(written) == moment


@settings(max_examples=few(80), deadline=None)
@given(INSTANTS, st.times().map(lambda t: t.replace(second=0, microsecond=0)), ZONES)
def test_a_time_alone_is_the_first_such_minute_from_the_anchor(
    earliest: datetime, clock_time: time, zone: ZoneInfo
) -> None:
    parse = partial(Clock(zone).moment, earliest=earliest)
    found, findings = read_cell(parse, clock_time.isoformat("minutes"), Place("log"), "at")
    if found is None:
        assert [each.code for each in findings] == ["time-does-not-exist"]
        return
    minute = earliest + timedelta(seconds=-earliest.second % 60)
    between = (minute + timedelta(minutes=passed) for passed in range(50 * 60))
    assert found == next(each for each in between if each.astimezone(zone).time() == clock_time)


@pytest.mark.parametrize(
    ("raw", "usual"),
    [
        ("2026/03/07 19:40", "2026-03-07 19:40"),
        ("2026.3.7 19:40", "2026-03-07 19:40"),
        ("2026-3-7 19:40", "2026-03-07 19:40"),
        ("2026/03/07T19:40", "2026-03-07 19:40"),
        ("7-Mar-2026 19:40", "2026-03-07 19:40"),
        ("7 March 2026 19h40", "2026-03-07 19:40"),
        ("07-mar-26 19:40", "2026-03-07 19:40"),
        ("2026-03-07 740", "2026-03-07 07:40"),
        ("2026-03-07 6am", "2026-03-07 6:00 AM"),
        ("2026-03-07 12 p.m.", "2026-03-07 12:00 PM"),
        ("2026-03-07 19h40", "2026-03-07 19:40"),
        ("2026-03-07 9h05", "2026-03-07 09:05"),
    ],
)
def test_another_form_with_one_meaning_is_read_and_said(raw: str, usual: str) -> None:
    found = ISO.moment(raw)
    assert isinstance(found, Doubtful)
    assert found.value == ISO.moment(usual)
    assert [(each.code, each.words["read"]) for each in found.doubts] == [("read-as", usual)]


@pytest.mark.parametrize(
    ("raw", "usual"),
    [("1958/4/2", "1958-04-02"), ("2-Apr-1958", "1958-04-02"), ("2 April 1958", "1958-04-02")],
)
def test_another_form_of_a_day_is_read_and_said(raw: str, usual: str) -> None:
    found = ISO.day(raw)
    assert isinstance(found, Doubtful)
    assert found.value == ISO.day(usual)
    assert [each.words["read"] for each in found.doubts] == [usual]


@pytest.mark.parametrize(
    "raw", ["2-Apr-58", "31-Feb-2026", "2-Abc-1958", "2-Ap-1958", "2026/13/01", "4/2/58"]
)
def test_a_day_that_can_be_none_or_several_is_not_read(raw: str) -> None:
    with pytest.raises(BadCell):
        ISO.day(raw)


def test_in_a_time_that_comes_twice_both_doubts_are_said() -> None:
    found = ISO.moment("2026/11/01 0130")
    assert isinstance(found, Doubtful)
    assert [each.code for each in found.doubts] == ["read-as", "time-twice"]

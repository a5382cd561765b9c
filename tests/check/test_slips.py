"""A time or date that cannot be right names the likely one, where one is, and is never mended."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handoff.check.slips import likely_birth, likely_end, likely_time, likely_year
from handoff.model.ward import Counts, Shift
from tests.support.bad_logs import PATIENT, SHIFT, night, shift
from tests.support.logs import check_text, log_of

HALIFAX = ZoneInfo("America/Halifax")
NEW_YEAR = shift("2025-12-31 19:00", "2026-01-01 07:00")
CLOCK_BACK = shift("2026-10-31 19:00", "2026-11-01 07:00")
NIGHT = Shift(datetime(2026, 3, 7, 23, tzinfo=UTC), datetime(2026, 3, 8, 10, tzinfo=UTC))


def entry(cells: str) -> str:
    return f'- {{patient: "10442", breaths: 8, {cells}}}\n'


@pytest.mark.parametrize(
    ("at", "code", "likely"),
    [
        # the year
        ("2025-03-07 19:40", "far-from-shift", "2026-03-07 19:40"),
        ("2027-03-08 06:40", "far-from-shift", "2026-03-08 06:40"),
        ("2062-03-07 19:40", "far-from-shift", "2026-03-07 19:40"),
        ("2025-03-07 12:00", "far-from-shift", None),
        # the day
        ("2026-03-07 02:15", "outside-shift", None),  # there is no 02:15 in this night
        ("2026-03-07 01:15", "outside-shift", "2026-03-08 01:15"),
        ("2026-03-08 19:40", "outside-shift", "2026-03-07 19:40"),
        ("2026-03-06 19:40", "outside-shift", "2026-03-07 19:40"),
        ("2026-03-05 19:40", "outside-shift", None),
        ("2026-03-09 06:40", "outside-shift", "2026-03-08 06:40"),
        # the month, and month and day exchanged
        ("2026-02-07 19:40", "outside-shift", "2026-03-07 19:40"),
        ("2026-04-08 05:00", "far-from-shift", "2026-03-08 05:00"),
        ("2026-07-03 19:40", "far-from-shift", "2026-03-07 19:40"),
        ("2026-08-03 04:40", "far-from-shift", "2026-03-08 04:40"),
        ("2025-07-03 19:40", "far-from-shift", None),
        # a little before or after the shift
        ("2026-03-07 18:50", "outside-shift", None),
        ("2026-03-08 07:30", "outside-shift", None),
        ("2026-03-08 18:50", "outside-shift", "2026-03-07 18:50"),
        ("18:50", "time-without-date", "2026-03-07 18:50"),
        ("07:05", "time-without-date", "2026-03-08 07:05"),
        ("07:00", "outside-shift", None),  # the shift's very end
        ("12:00", "time-without-date", None),
        ("2026-03-08 22:40Z", "outside-shift", "2026-03-07 19:40"),
    ],
)
def test_a_time_of_another_day_names_that_of_the_shift(
    at: str, code: str, likely: str | None
) -> None:
    log = log_of(night(entry(f"at: {at}")))
    (found,) = log.findings
    assert found.code == code
    assert (f"Did you mean {likely}?" in found.fix) if likely else ("mean" not in found.fix)
    assert log.counts == (Counts(1, 1, 0) if code == "outside-shift" else Counts(1, 0, 1))


def test_last_years_number_in_the_night_of_new_year() -> None:
    order = PATIENT.replace("2026-03-06", "2025-12-30")
    log = log_of(night(entry("at: 2025-01-01 02:15"), order, shift=NEW_YEAR))
    assert "Did you mean 2026-01-01 02:15?" in log.findings[0].fix


def test_a_likely_time_that_comes_twice_has_its_offset() -> None:
    order = PATIENT.replace("2026-03-06", "2026-10-30")
    log = log_of(night(entry("at: 2026-10-31 01:30"), order, shift=CLOCK_BACK))
    assert "Did you mean 2026-11-01 01:30-03:00?" in log.findings[0].fix


MINUTES = st.integers(-600 * 24 * 60, 600 * 24 * 60)


@settings(max_examples=100, deadline=None)
@given(MINUTES, st.integers(1, 24))
def test_a_likely_time_is_right_when_it_is_typed(minutes: int, hours: int) -> None:
    of_shift = Shift(NIGHT.start, NIGHT.start + timedelta(hours=hours))
    moment = NIGHT.start + timedelta(minutes=minutes)
    likely = likely_time(moment, of_shift, HALIFAX)
    if likely:
        again = datetime.fromisoformat(likely)
        read = (again if again.tzinfo else again.replace(tzinfo=HALIFAX)).astimezone(UTC)
        an_hour = timedelta(hours=1)
        assert of_shift.start - an_hour <= read < of_shift.end + an_hour
        assert likely_time(read, of_shift, HALIFAX) is None


@pytest.mark.parametrize(
    ("until", "code", "likely"),
    [
        ("2026-03-07 00:30", "until-not-after-at", "2026-03-08 00:30"),
        ("2026-03-07 23:20", "until-not-after-at", None),
        ("2026-03-09 01:30", "span-too-long", "2026-03-08 01:30"),
        ("2027-03-08 00:30", "span-too-long", "2026-03-08 00:30"),
        ("2026-03-07 23:30", "until-not-after-at", None),
    ],
)
def test_an_end_on_the_wrong_day_names_the_likely_one(
    until: str, code: str, likely: str | None
) -> None:
    log = log_of(night(entry(f"at: 23:30, until: {until}, what: away")))
    found = next(each for each in log.findings if each.code == code)
    assert (f"Did you mean {likely}?" in found.fix) if likely else ("mean" not in found.fix)


def test_a_shift_that_ends_on_the_wrong_day_names_the_likely_end() -> None:
    for end in ("2026-03-07", "2026-03-09"):
        _, (found,) = check_text(night(shift=SHIFT.replace("2026-03-08", end)))
        assert "Did you mean 2026-03-08 07:00?" in found.fix
    assert likely_end(NIGHT.start, NIGHT.start, HALIFAX) is None


@pytest.mark.parametrize(
    ("times", "likely"),
    [
        (
            ["2026-03-06 19:40", "2026-03-06 23:00", "2026-03-07 06:59"],
            "2026-03-06 19:00 to 2026-03-07 07:00",
        ),
        (
            ["2025-03-08 00:40", "2025-03-08 01:00", "2025-03-08 02:00"],
            "2025-03-07 19:00 to 2025-03-08 07:00",
        ),
        (["2026-03-06 19:40", "2026-03-06 23:00", "2026-03-07 07:00"], None),
        (["2026-03-06 19:40", "2026-03-06 23:00"], ""),
        (["2026-03-06 19:40", "2026-03-06 23:00", "2026-03-07 19:00"], ""),
    ],
)
def test_a_log_of_another_day_names_the_likely_shift(times: list[str], likely: str | None) -> None:
    log = log_of(night("".join(entry(f"at: {at}") for at in times)))
    found = [each for each in log.findings if each.code == "none-in-shift"]
    assert len(found) == (likely != "")
    for each in found:
        assert (f"mean the shift {likely}?" in each.fix) if likely else ("mean" not in each.fix)


@pytest.mark.parametrize(
    ("day", "year"),
    [
        (date(2025, 3, 7), 2026),
        (date(2027, 3, 9), 2026),
        (date(2025, 2, 4), 2026),
        (date(2025, 2, 3), None),  # 32 days before the shift in its year
        (date(2026, 3, 5), None),
        (date(2024, 3, 7), None),  # two years may be meant
        (date(2025, 9, 7), None),
    ],
)
def test_a_date_that_is_a_year_away(day: date, year: int | None) -> None:
    assert likely_year(day, NIGHT, HALIFAX) == year


def test_a_leap_day_is_of_no_other_year() -> None:
    leap_night = Shift(NIGHT.start.replace(year=2025), NIGHT.end.replace(year=2025))
    assert likely_year(date(2024, 2, 29), leap_night, HALIFAX) is None
    assert likely_birth(date(2000, 2, 29), date(1850, 1, 1), date(1990, 1, 1)) is None


@pytest.mark.parametrize(
    ("facts", "field", "year"),
    [
        ("order: {breaths: 10, start: 2025-03-06 10:00}", "order_start", 2026),
        ("surgery_on: 2027-03-05", "surgery_on", 2026),
        ("home_on: 2025-03-09", "home_on", 2026),
        ("device: {given: 2025-03-06 10:20}", "device_given", 2026),
        ("teaching: {taught: 2025-03-06 10:30}", "taught", 2026),
        ("surgery_on: 2019-03-05", "surgery_on", None),
        ("device: {given: yes}", "device_given", None),
    ],
)
def test_a_fact_a_year_away_is_used_and_named(facts: str, field: str, year: int | None) -> None:
    bare = PATIENT.replace("  order: {breaths: 10, start: 2026-03-06 10:00}\n", "")
    log = log_of(night(patients=f"{bare}  {facts}\n"))
    assert [(each.code, each.field) for each in log.findings] == [("year-in-doubt", field)] * bool(
        year
    )
    assert all(f"Did you mean {year}?" in each.fix for each in log.findings)
    (patient,) = log.patients
    assert patient.order if field == "order_start" else getattr(patient, field)


@pytest.mark.parametrize(
    ("born", "likely"),
    [
        ("2058-04-02", "1958-04-02"),
        ("2027-03-07", "1927-03-07"),
        ("2026-03-09", None),
        ("1905-01-01", "2005-01-01"),
        ("2199-04-02", None),
        ("1906-04-02", None),  # 119 years old
        ("2026-03-08", None),
    ],
)
def test_a_birth_date_of_another_century(born: str, likely: str | None) -> None:
    log = log_of(night(patients=PATIENT.replace("1958-04-02", born)))
    fixes = [each.fix for each in log.findings]
    assert [fix.partition("Did you mean ")[2].rstrip("?") for fix in fixes if "mean" in fix] == (
        [likely] if likely else []
    )
    assert log.patients[0].born in {None, date.fromisoformat(born)}

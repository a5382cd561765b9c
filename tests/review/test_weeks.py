"""Every stay of weeks, measured at once: the same as shift by shift, and how each ended."""

from datetime import date, timedelta
from io import BytesIO
from pathlib import Path
from zoneinfo import ZoneInfo

import pandas as pd

from handoff.gather import gather_ward
from handoff.gather.weeks import gaps_of_weeks, stays_over_weeks
from handoff.measure import measure
from handoff.measure.weeks import measure_shifts
from handoff.model.measures import Slot
from handoff.model.review import Ending, FollowedStay, Period
from handoff.model.ward import Log
from handoff.review import ShiftDays, Tables, has_parquet, joined, table_files, tables_of_stays
from tests.support.logs import NOW, hand_over, log_of
from tests.support.unit_weeks import Unit, write_logs
from tests.support.wards import NOBODY, WEST, left, log, ordered, row

MARCH = Period(date(2026, 3, 1), date(2026, 3, 31))


def test_all_shifts_of_a_stay_at_once_have_the_slots_of_each_hand_over(tmp_path: Path) -> None:
    """The clock goes forward in the second night; some stays began before the logs."""
    paths = write_logs(tmp_path, Unit(beds=4, days=3, first=date(2026, 3, 7)), seed=2)
    logs = [log_of(Path(path).read_text(encoding="utf-8"), path) for path in paths]
    at_once: dict[tuple[str, object], tuple[Slot, ...]] = {}
    for handover, _ in stays_over_weeks(gather_ward(logs, None, NOW), []):
        (patient,) = handover.patients
        for shift, slots in measure_shifts(handover, patient):
            at_once[patient.id, shift.start] = slots
    compared = 0
    for number in range(1, len(logs) + 1):
        handover = hand_over(*logs[:number])
        for patient_id, measures in measure(handover).items():
            assert at_once[patient_id, handover.shift.start] == measures.adherence.slots
            compared += 1
    assert compared > 15


def endings(*logs: Log, others: tuple[Log, ...] = ()) -> list[tuple[str, str, Ending]]:
    """First shift, last shift and ending of each stay of Odile Larkspur, the last one first."""
    ward = gather_ward(logs, None, NOW)
    guests = [gather_ward(others, None, NOW)] if others else []
    return [
        (f"{handover.shifts[0].start:%d %H}", f"{handover.shift.start:%d %H}", ending)
        for handover, ending in stays_over_weeks(ward, guests)
    ]


def test_a_stay_ends_where_a_row_says_so_and_a_new_order_begins_another() -> None:
    stays = endings(
        log("4 day"),
        log("4 night", left("4 20:00")),
        log("5 day", patients=NOBODY),
        log("5 night", patients=ordered("2026-03-05 19:30")),
    )
    assert stays == [("05 19", "05 19", Ending.HERE), ("04 07", "04 19", Ending.LEFT)]


def test_who_is_not_on_a_later_list_is_gone_and_who_is_on_another_units_has_moved() -> None:
    here = [log("4 day"), log("4 night"), log("5 day", patients=NOBODY)]
    assert endings(*here) == [("04 07", "04 19", Ending.NOT_LISTED)]
    there = (log("5 day", unit=WEST),)
    assert endings(*here, others=there) == [("04 07", "04 19", Ending.MOVED)]


def tables(*logs: Log) -> Tables:
    ward = gather_ward(logs, None, NOW)
    stays = [
        FollowedStay(handover, ending, measure_shifts(handover, handover.patients[0]), ())
        for handover, ending in stays_over_weeks(ward, [])
    ]
    zone = ward.latest.unit.time_zone
    days = ShiftDays([each.shift for each in ward.logs], zone)
    return joined([tables_of_stays([each], days) for each in stays], zone, MARCH)


def followed(*logs: Log) -> tuple[bool, str, float]:
    """Whether the order began here, what became of it, and the hours it was followed for."""
    (stay,) = tables(*logs).stays.to_dict("records")
    hours = (stay["followed_until"] - stay["ordered_at"]) / timedelta(hours=1)
    return bool(stay["began_here"]), str(stay["exercise"]), round(hours, 2)


def test_nothing_is_due_after_the_patient_left() -> None:
    spans = tables(log("4 day", left("4 12:30"))).spans
    assert spans["due"].sum() == 25  # 10:00 to 12:30
    assert spans["start"].max().hour == 12


def test_an_order_without_an_exercise_is_never_begun_only_where_the_stay_is_over() -> None:
    assert followed(log("4 day")) == (True, "not_known", 9)
    assert followed(log("4 day", left("4 12:30"))) == (True, "never", 2.5)
    assert followed(log("4 day", row("4 12:30"))) == (True, "begun", 9)
    stopped = log("4 day", patients=ordered(order=", stop: 2026-03-04 15:00"))
    assert followed(stopped) == (True, "never", 5)


def test_an_order_of_two_hours_before_the_first_log_began_where_nobody_looked() -> None:
    assert followed(log("4 day", patients=ordered("2026-03-04 05:00")))[0] is False
    assert followed(log("4 day", patients=ordered("2026-03-04 05:01")))[0] is True


def test_what_was_done_in_a_time_without_a_log_is_not_known() -> None:
    known = followed(log("4 day"), log("4 night"), log("5 day", row("5 08:00")))
    assert known == (True, "begun", 33)
    gap = followed(log("4 day"), log("5 day", row("5 08:00")))
    assert gap == (True, "not_known", 9)
    begun_before = followed(log("4 day", row("4 12:00")), log("5 day", row("5 08:00")))
    assert begun_before == (True, "begun", 33)


def test_the_time_that_two_shifts_share_is_the_later_ones() -> None:
    spans = tables(
        log("2026-03-04 07:00 / 2026-03-04 19:30"), log("2026-03-04 19:00 / 2026-03-05 07:00")
    ).spans
    assert spans["due"].sum() == 10 * (12 + 1)  # 10:00 to 22:00, and from 06:00 on
    at_seven = spans[spans["start"].dt.hour == 19]
    assert list(at_seven["shift_starts"].astype(str)) == ["19:00:00"]


def test_a_night_is_of_the_day_on_which_it_begins() -> None:
    found = tables(log("4 night", row("5 02:00"))).entries
    assert [str(each.date()) for each in found["day"]] == ["2026-03-04"]


def test_gaps_are_between_the_logs_and_whole_days_before_and_after_them() -> None:
    logs = [log("4 day"), log("5 day"), log("5 night")]
    assert [(f"{g.start:%d %H}", f"{g.end:%d %H}") for g in gaps_of_weeks(logs, MARCH)] == [
        ("01 00", "04 07"),
        ("04 19", "05 07"),
        ("06 07", "01 00"),
    ]
    of_days = Period(date(2026, 3, 4), date(2026, 3, 5))
    assert [f"{each.start:%d %H}" for each in gaps_of_weeks(logs, of_days)] == ["04 19"]


def test_a_column_has_one_type_whatever_is_in_it() -> None:
    """Tables of two units or periods can be put together."""
    signs = "breaths: 8, volume_ml: 1500, hold_s: 3, position: sitting, resp_rate: 18, temp_c: 37.1"
    few, many = tables(log("4 day", row("4 11:00"))), tables(log("4 day", row("4 11:00", signs)))
    none = tables(log("4 day", patients=NOBODY))
    assert many.entries[["position", "resp_rate"]].notna().all(axis=None)
    for other in (few, none):
        for name in ("entries", "spans", "stays", "escalations"):
            assert list(getattr(other, name).dtypes) == list(getattr(many, name).dtypes)
    if has_parquet():
        files = [dict(table_files(("entries", each.entries))) for each in (few, none, many)]
        tables_read = [pd.read_parquet(BytesIO(each["tables/entries.parquet"])) for each in files]
        types = [list(each.dtypes) for each in tables_read]
        assert types[0] == types[1] == types[2]


def test_instants_are_written_as_pandas_writes_them_also_where_the_clock_changes() -> None:
    zone = ZoneInfo("America/Halifax")
    moments = pd.to_datetime(["2026-03-08 05:59", "", "2026-03-08 06:00"], utc=True)
    midnight = pd.to_datetime(["2026-03-05 04:00"] * 3, utc=True)
    stays = pd.DataFrame({"ordered_at": moments, "followed_until": midnight})
    stays = stays.apply(lambda column: column.dt.tz_convert(zone))
    files = dict(table_files(("stays", stays)))
    assert files["tables/stays.csv"].decode().splitlines() == [
        "ordered_at,followed_until",
        "2026-03-08 01:59:00-04:00,2026-03-05 00:00:00-04:00",
        ",2026-03-05 00:00:00-04:00",
        "2026-03-08 03:00:00-03:00,2026-03-05 00:00:00-04:00",
    ]

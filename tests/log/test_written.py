"""Records written as a log writes them are read back as the same records."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handoff.check.characters import unquoted
from handoff.check.parse import SAYS_NOTHING
from handoff.log.spreadsheet import csv_bytes
from handoff.log.written import patient_cells, shift_cells, unit_cells, written
from handoff.model.findings import Place
from handoff.model.ward import Order, Patient, Shift, Unit
from tests.support.logs import log_of

ZONE = ZoneInfo("America/Halifax")
NOWHERE = Place("")

# Text as the checks leave it: single spaces, nothing that cannot be printed or says nothing.
TEXT = st.text(st.characters(categories=["L", "N", "P", "S", "M"]), min_size=1, max_size=30).filter(
    lambda text: (
        any(map(str.isalnum, text))
        and text.casefold() not in SAYS_NOTHING
        and unquoted(text) == (text, None)
    )
)
MOMENTS = st.integers(0, 3_252_000).map(
    lambda minutes: datetime(2020, 1, 1, tzinfo=UTC) + timedelta(minutes=minutes)
)
ML = st.floats(10, 6000) | st.integers(10, 6000).map(float)
DONE = st.none() | st.booleans() | MOMENTS


@st.composite
def orders(draw: st.DrawFn) -> Order:
    start = draw(MOMENTS)
    return Order(
        start=start,
        stop=draw(st.none() | st.timedeltas(timedelta(minutes=1), timedelta(9)).map(start.__add__)),
        breaths=draw(st.integers(1, 200)),
        every_h=draw(st.integers(1, 24)),
        goal_ml=draw(st.none() | ML),
        hold_s=draw(st.floats(0, 60)),
        by=draw(st.none() | TEXT),
        spo2_min=draw(st.none() | st.floats(50, 100)),
    )


PATIENTS = st.builds(
    Patient,
    id=TEXT,
    name=TEXT,
    born=st.dates(date(1930, 1, 1), date(2010, 1, 1)),
    bed=TEXT,
    place=st.just(NOWHERE),
    sex=st.sampled_from([None, "female", "male"]),
    height_cm=st.none() | st.floats(100, 230),
    weight_kg=st.none() | st.floats(25, 350),
    reason=st.none() | TEXT,
    surgery_on=st.none() | st.dates(date(2020, 1, 1), date(2030, 1, 1)),
    order=st.none() | orders(),
    baseline_ml=st.none() | ML,
    device_given=DONE,
    device_labelled=st.none() | st.booleans(),
    device_scale_ml=st.none() | ML,
    taught=DONE,
    shown_back=DONE,
    home_on=st.none() | st.dates(date(2020, 1, 1), date(2030, 1, 1)),
    precautions=st.none() | TEXT,
)


@given(PATIENTS)
def test_a_patient_is_read_back(patient: Patient) -> None:
    unit = Unit("Harbour 3 East", ZONE, None)
    shift = Shift(datetime(2026, 3, 7, 23, tzinfo=UTC), datetime(2026, 3, 8, 10, tzinfo=UTC))
    cells = {**unit_cells(unit), **shift_cells(shift, ZONE), **patient_cells(patient, ZONE)}
    content = csv_bytes(list(cells), [cells])
    log = log_of(content.decode("utf-8-sig"), "night.csv")
    (read,) = log.patients
    assert replace(read, place=NOWHERE) == patient
    assert (log.unit, log.shift) == (unit, shift)


@pytest.mark.parametrize("quiet", [None, (time(22), time(6)), (time(22, 30, 30), time(0))])
def test_a_unit_is_read_back(quiet: tuple[time, time] | None) -> None:
    unit = Unit("Harbour 3 East", ZONE, quiet)
    cells = {**unit_cells(unit), "shift_start": "2026-03-07 19:00", "shift_end": "07:00"}
    log = log_of(csv_bytes([*cells, "patient_id"], [cells]).decode("utf-8-sig"), "night.csv")
    assert log.unit == unit


def test_a_shift_that_ends_in_the_hour_that_comes_twice_is_read_back() -> None:
    ends = datetime(2026, 11, 1, 5, 30, tzinfo=UTC)  # 01:30 for the second time
    shift = Shift(ends - timedelta(hours=8), ends, outgoing="M. Adeyemi RN")
    cells = shift_cells(shift, ZONE)
    assert cells["shift_end"] == "2026-11-01 01:30-04:00"
    cells |= {"unit": "Harbour 3 East", "time_zone": ZONE.key}
    log = log_of(csv_bytes([*cells, "patient_id"], [cells]).decode("utf-8-sig"), "night.csv")
    assert log.shift == shift


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (True, "yes"),
        (False, "no"),
        (1500.0, "1500"),
        (0.00001, "0.00001"),
        (37.2, "37.2"),
        (date(2026, 3, 7), "2026-03-07"),
        (datetime(2026, 3, 7, 23, tzinfo=UTC), "2026-03-07 19:00"),
        (datetime(2026, 3, 7, 23, 0, 5, tzinfo=UTC), "2026-03-07 19:00:05"),
    ],
)
def test_a_value_is_written_as_people_write_it(value: object, text: str) -> None:
    assert written(value, ZONE) == text


def test_what_is_not_recorded_has_no_cell() -> None:
    patient = Patient(id="1", name="", born=None, bed="", place=NOWHERE)
    assert patient_cells(patient, ZONE) == {"patient_id": "1"}

"""Records written as a log writes them are read back as the same records."""

from datetime import UTC, date, datetime, time, timedelta

import pytest
from hypothesis import given, settings
from msgspec.structs import replace

from handoff.log.spreadsheet import csv_bytes
from handoff.log.written import patient_cells, shift_cells, unit_cells, written
from handoff.model.ward import Patient, Shift, Unit
from tests.support.builders import ZONE
from tests.support.how_many import few
from tests.support.logs import log_of
from tests.support.random_patients import NOWHERE, PATIENTS


@settings(max_examples=few(40))
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

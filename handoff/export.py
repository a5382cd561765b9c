"""The measures for other programs: `measures.json`, `measures.csv`, `set-aside.csv`.

Enters: hand-over, measures, verdicts. Leaves: bytes. Numbers are unrounded; instants are ISO 8601
in the unit's local time with its offset; what cannot be had is null, in the CSV an empty cell.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import fields
from datetime import date, datetime
from enum import StrEnum
from typing import Any
from zoneinfo import ZoneInfo

from handoff.fields import CSV_NAMES, SET_ASIDE_BECAUSE, SET_ASIDE_FROM, Section, fields_of
from handoff.findings import text
from handoff.matters import Verdicts
from handoff.measures import Adherence, Goal, Measures, Reference, Trend, Volume
from handoff.model import Handover, Log, SetAside
from handoff.spreadsheet import csv_bytes
from handoff.verdicts import Verdict
from handoff.written import patient_cells, shift_cells, unit_cells

FORMAT = "handoff-measures/1"
PARTS = ("adherence", "volume", "trend", "goal")
# Parts of the measures that are for drawing and explaining, not for exchange.
INTERNAL = frozenset({"best", "previous_best", "points", "fitted_ml", "charted"})

# What has to be mended comes first, then whose it is, then which shift.
SET_ASIDE_COLUMNS = tuple(
    dict.fromkeys(
        [SET_ASIDE_BECAUSE, SET_ASIDE_FROM]
        + [
            each.name
            for section in (Section.ENTRY, Section.PATIENT, Section.UNIT, Section.SHIFT)
            for each in fields_of(section)
            if each.in_csv
        ]
    )
)


def measures_json(
    handover: Handover, measures: Mapping[str, Measures], verdicts: Mapping[str, Verdicts]
) -> bytes:
    """The whole hand-over as JSON, one patient of the list after the other in bed order."""
    zone = handover.unit.time_zone
    quiet = handover.unit.quiet_hours
    document = {
        "format": FORMAT,
        "unit": {
            "name": handover.unit.name,
            "time_zone": zone.key,
            "quiet_hours": None if quiet is None else f"{quiet[0]:%H:%M}-{quiet[1]:%H:%M}",
        },
        "shift": {
            "start": _plain(handover.shift.start, zone),
            "end": _plain(handover.shift.end, zone),
            "hours": handover.shift.hours,
        },
        "as_of": _plain(handover.as_of, zone),
        "counts": _plain(handover.counts, zone),
        "patients": _patients(handover, measures, verdicts),
        "findings": [finding.as_json() for finding in handover.findings],
    }
    return (json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode()


def measures_csv(
    handover: Handover, measures: Mapping[str, Measures], verdicts: Mapping[str, Verdicts]
) -> bytes:
    """One row a patient: every single number of `measures.json`, named `part.number`."""
    rows = [_flat(patient) for patient in _patients(handover, measures, verdicts)]
    columns = list(dict.fromkeys([*FLAT_COLUMNS, *(name for row in rows for name in row)]))
    return csv_bytes(columns, rows)


def set_aside_csv(logs: Sequence[Log]) -> bytes:
    """Rows set aside with their cells as written, where they stand and why: a log to be mended.

    Each row tells of the unit and the shift of its log, and what that knows of its patient, so that
    the file can be read as a log.
    """
    rows = sorted(
        ((row, log) for log in logs for row in log.set_aside),
        key=lambda pair: (pair[0].place.file, pair[0].place.line or 0),
    )
    table = [_set_aside(row, log) for row, log in rows]
    others = (name for cells in table for name in cells if name not in SET_ASIDE_COLUMNS)
    return csv_bytes([*SET_ASIDE_COLUMNS, *dict.fromkeys(others)], table)


def _set_aside(row: SetAside, log: Log) -> dict[str, str]:
    zone = log.unit.time_zone
    of_log = {**unit_cells(log.unit), **shift_cells(log.shift, zone)}
    known = next((each for each in log.patients if each.id == row.patient_id), None)
    return {
        **{name: cell for name, cell in of_log.items() if name in CSV_NAMES},
        **(patient_cells(known, zone) if known else {}),
        **row.raw,
        SET_ASIDE_BECAUSE: text(row.reason),
        SET_ASIDE_FROM: str(row.place),
    }


def _patients(
    handover: Handover, measures: Mapping[str, Measures], verdicts: Mapping[str, Verdicts]
) -> list[dict[str, Any]]:
    zone = handover.unit.time_zone
    return [
        _patient(patient.id, patient.bed, measures.get(patient.id), verdicts.get(patient.id), zone)
        for patient in handover.patients
    ]


def _patient(
    patient_id: str, bed: str, measures: Measures | None, verdicts: Verdicts | None, zone: ZoneInfo
) -> dict[str, Any]:
    parts: dict[str, Adherence | Volume | Trend | Goal | Reference | None] = {
        name: getattr(measures, name) if measures else None for name in (*PARTS, "reference")
    }
    return {
        "id": patient_id,
        "bed": bed,
        "priority": str(verdicts.priority) if verdicts else None,
        **{name: _plain(part, zone) for name, part in parts.items()},
        "cautions": [_caution(each, zone) for each in verdicts.cautions] if verdicts else None,
    }


def _caution(verdict: Verdict, zone: ZoneInfo) -> dict[str, Any]:
    return {
        "rule": verdict.rule,
        "level": str(verdict.level),
        "value": verdict.value,
        "limit": verdict.limit,
        "source": verdict.source,
        "at": _plain(verdict.at, zone),
        "entries": [str(place) for place in verdict.entries],
        "told_at": _plain(verdict.told[0].at, zone) if verdict.told else None,
    }


def _plain(thing: Any, zone: ZoneInfo) -> Any:  # noqa: ANN401 - any record of the measures
    """A record as what JSON knows: mappings, lists, numbers, local ISO times."""
    match thing:
        case datetime():
            return thing.astimezone(zone).isoformat()
        case date():
            return thing.isoformat()
        case StrEnum():
            return str(thing)
        case tuple():
            return [_plain(part, zone) for part in thing]
        case None | bool() | int() | float() | str():
            return thing
    names = [field.name for field in fields(thing) if field.name not in INTERNAL]
    renamed = {"day": "date"}
    return {renamed.get(name, name): _plain(getattr(thing, name), zone) for name in names}


FLAT_COLUMNS = ("id", "bed", "priority")


def _flat(patient: Mapping[str, Any]) -> dict[str, Any]:
    row = {name: patient[name] for name in FLAT_COLUMNS}
    for part in (*PARTS, "reference"):
        for name, number in (patient[part] or {}).items():
            if name == "days_to_goal":
                row["goal.days_to_goal_low"], row["goal.days_to_goal_high"] = number or (None, None)
            elif not isinstance(number, list):
                row[f"{part}.{name}"] = number
    row["cautions"] = " ".join(caution["rule"] for caution in patient["cautions"] or ())
    return row

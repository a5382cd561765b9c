"""The measures for other programs: `measures.json`, `measures.csv`, `set-aside.csv`.

Input: hand-over, measures, verdicts. Output: bytes. Numbers are unrounded; instants are ISO 8601
in the unit's local time with its offset; what is not available is null, in the CSV an empty cell.
"""

import json
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from enum import StrEnum
from typing import Any
from zoneinfo import ZoneInfo

from msgspec.structs import asdict

from handoff.log.fields import (
    CSV_NAMES,
    SET_ASIDE_BECAUSE,
    SET_ASIDE_CODE,
    SET_ASIDE_FROM,
    Section,
    fields_of,
)
from handoff.log.spreadsheet import csv_bytes
from handoff.log.written import patient_cells, shift_cells, unit_cells
from handoff.model.findings import known_by, text
from handoff.model.matters import Matter, MatterState, Verdicts
from handoff.model.measures import Adherence, Goal, Hold, Measures, Reference, Trend, Volume
from handoff.model.verdicts import Level, Told, Verdict
from handoff.model.ward import Handover, Log, SetAside

FORMAT = "handoff-measures/2"
PARTS = ("adherence", "volume", "trend", "goal")
# Parts of the measures for drawing and explaining only: not exported.
INTERNAL = frozenset(
    {
        *("best", "previous_best", "stay_best", "first", "recent", "reached", "terms"),
        *("points", "days", "line", "lately", "is_capped"),
        *("minutes_by_period", "parts", "credited_of_charted", "due_of_charted"),
    }
)

# The columns in order: the row to mend, the patient, the shift; last, the code that identifies the
# row when it is read again. The words of the reason are only for people.
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
        "counts": handover.counts.as_json(),
        "patients": _patients(handover, measures, verdicts),
        "findings": [finding.as_json() for finding in handover.findings],
    }
    return (json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode()


def measures_csv(
    handover: Handover, measures: Mapping[str, Measures], verdicts: Mapping[str, Verdicts]
) -> bytes:
    """One row a patient: every single number of `measures.json`, named `part.number`, and how many
    matters there are in each state.

    `matters.settled` includes those that are only counted. `matters.not_told`, open or settled,
    does not: the provider still has to be told of these.
    """
    rows = [_flat(patient) for patient in _patients(handover, measures, verdicts)]
    columns = list(dict.fromkeys([*FLAT_COLUMNS, *(name for row in rows for name in row)]))
    return csv_bytes(columns, rows)


def set_aside_csv(logs: Sequence[Log]) -> bytes:
    """Rows set aside with their cells as written, their places and reasons: a log to be mended.

    Each row repeats the unit and shift of its log, and the known facts of its patient: the file can
    be read as a log.
    """
    rows = [(row, log) for log in logs for row in log.set_aside]
    rows.sort(key=lambda both: both[0].place.order)
    table = [_set_aside(row, log) for row, log in rows]
    others = (
        name
        for cells in table
        for name in cells
        if name not in (*SET_ASIDE_COLUMNS, SET_ASIDE_CODE)
    )
    return csv_bytes([*SET_ASIDE_COLUMNS, *dict.fromkeys(others), SET_ASIDE_CODE], table)


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
        SET_ASIDE_CODE: known_by(row.reason),
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
        "matters": _matters(verdicts.matters, zone) if verdicts else None,
        "hold": _hold(measures.hold, zone) if measures and measures.hold else None,
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


def _matters(matters: Sequence[Matter], zone: ZoneInfo) -> list[dict[str, Any]]:
    """The matters of the stay, without those that were closed before the last hand-over."""
    return [
        {
            "rule": each.rule,
            "symptom": each.symptom,
            "sign": each.sign,
            "opened_at": _plain(each.opened_at, zone),
            "last_at": _plain(each.last_at, zone),
            "value": each.verdict.value,
            "state": str(each.state),
            "level": str(each.level),
            "told": [_told(told, zone) for told in each.told],
            "about_unknown": [_told(told, zone) for told in each.about_unknown],
            "settled_at": _plain(each.settled_at, zone),
            "settled_by": _settled_by(each),
        }
        for each in matters
        if each.state is not MatterState.CLOSED or each.closed_now
    ]


def _told(told: Told, zone: ZoneInfo) -> dict[str, Any]:
    return {"at": _plain(told.at, zone), "note": told.note}


def _settled_by(matter: Matter) -> str | None:
    """`record`, or who decided it and what, word for word."""
    if matter.settled_at is None:
        return None
    return matter.settled_by.note if matter.settled_by else "record"


def _hold(hold: Hold, zone: ZoneInfo) -> dict[str, Any]:
    return {
        "since": _plain(hold.since, zone),
        "until": _plain(hold.until, zone),
        "note": hold.entry.note,
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
    renamed = {"day": "date"}
    return {
        renamed.get(name, name): _plain(value, zone)
        for name, value in asdict(thing).items()
        if name not in INTERNAL
    }


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
    row |= _matter_counts(patient["matters"])
    row["hold.since"] = patient["hold"] and patient["hold"]["since"]
    return row


def _matter_counts(matters: Sequence[Mapping[str, Any]] | None) -> dict[str, int | None]:
    """How many there are in each state; nothing is known of a patient who is not judged."""
    columns = [f"matters.{state}" for state in MatterState]
    if matters is None:
        return dict.fromkeys([*columns, "matters.not_told"])
    states = [each["state"] for each in matters]
    untold = [
        each
        for each in matters
        if each["state"] == MatterState.OPEN
        or (each["state"] == MatterState.SETTLED and each["level"] != Level.NOTE)
    ]
    return {
        **dict(zip(columns, map(states.count, MatterState), strict=True)),
        "matters.not_told": len(untold),
    }

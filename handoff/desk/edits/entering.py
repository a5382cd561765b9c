"""A new entry: a form -> a row of a log. The log with the row is checked before it is written.

Input: the patient, and cells as typed. Output: the row in the log, or the findings on it. Never
writes a row with an error. Writes a row with a doubt only when the person has seen and accepted it.
A form is carried out once, however often it is sent.
"""

from collections.abc import Iterator, Mapping, Sequence
from datetime import timedelta
from itertools import chain
from zoneinfo import ZoneInfo

from msgspec.structs import replace

from handoff.desk.edits import change, logbook
from handoff.desk.edits.failures import EditError
from handoff.desk.edits.history import Kind, Noted, counted
from handoff.desk.ward import Desk, Ward
from handoff.log.fields import Kind as FieldKind
from handoff.log.fields import Section, fields_of
from handoff.log.written import written
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place, Severity
from handoff.model.frozen import Frozen
from handoff.model.measures import USUAL_H
from handoff.model.ward import Patient
from handoff.read import Record, parse

NOW = "now"
TIMES = frozenset({FieldKind.MOMENT, FieldKind.FACT_TIME, FieldKind.DONE})
EMPTY = "empty-exercise"
AT_ENTRY = {"repeated-entry": "entry-again"}
FAR_OVER = 3  # times the best of late: more likely a slip or another patient (common practice)
_EDITS = {Section.ENTRY: change.with_entry, Section.PATIENT: change.with_patient}


class Sent(Frozen):
    """A form as it was sent.

    `key` is its own; `accepted` are the codes of the doubts that the person has seen and accepted.
    """

    key: str
    cells: Mapping[str, str]
    accepted: tuple[str, ...] = ()

    @property
    def filled(self) -> dict[str, str]:
        """The cells that are not blank."""
        return {name: cell for name, cell in self.cells.items() if cell}


class Outcome(Frozen):
    """The outcome of a form: the place of its row, or the findings on it."""

    place: Place | None = None
    change: str = ""  # the key of its change in the log's history
    findings: tuple[Finding, ...] = ()
    problem: str = ""  # why the log cannot be added to

    @property
    def may_accept(self) -> bool:
        """True where all findings are doubts, which the person may accept."""
        return bool(self.findings) and all(
            each.severity is not Severity.ERROR for each in self.findings
        )


NOTHING_YET = Outcome()


def fields_for(ward: Ward, path: str, section: Section) -> tuple[str, ...]:
    """The fields of an entry, or of a patient, that a log has a place for."""
    return change.fields_written(section, ward.raw_logs[path])


def add_entry(desk: Desk, patient: Patient, sent: Sent) -> Outcome:
    """Add an entry to the log that lists the patient."""
    row = {"patient_id": patient.id, **sent.filled}
    return _add_once(desk, patient.place.file, Section.ENTRY, row, sent)


def put_back(desk: Desk, path: str, rows: Sequence[Mapping[str, str]]) -> None:
    """Add entries again that were written here and are gone; they were checked before."""
    with logbook.locked(path):
        log = logbook.read_log(path)
        edited = log.text
        for row in rows:
            edited = change.with_entry(edited, path, row)
        desk.add(log, edited, Noted(Kind.ADDED, now=tuple(rows)))
        desk.written_here.leave_out(path, counted(rows).elements())  # now they count once more


def add_patient(desk: Desk, path: str, sent: Sent) -> Outcome:
    """Add a patient to the list of a log."""
    return _add_once(desk, path, Section.PATIENT, sent.filled, sent)


def _add_once(
    desk: Desk, path: str, section: Section, row: Mapping[str, str], sent: Sent
) -> Outcome:
    """The earlier outcome of a form sent again; otherwise write its row, if no finding is against
    it.

    A form sent again with other text is another form.
    """
    key = desk.key("form", sent.key, *chain.from_iterable(sorted(row.items())))
    ward = desk.ward()
    try:
        with logbook.locked(path):
            if key in desk.added:
                place, made = desk.added[key]
                return Outcome(place, made.key)
            log = logbook.read_log(path)
            logs = ((log, each.unit.time_zone) for each in ward.handovers for log in each.logs)
            zone = next(zone for log, zone in logs if log.file == path)
            row = with_the_time(desk, zone, section, row)
            edited = _EDITS[section](log.text, path, row)
            raw_log = parse(edited, path)
            # In a CSV, rows of entries say who the patients are.
            added_to = Section.ENTRY if raw_log.columns else section
            record = change.records_of(raw_log, added_to)[-1]
            after, place = desk.ward_with(ward, path, edited), Place(path, record.line)
            doubts = _volume_doubts(after, row.get("patient_id", ""), place)
            against = (
                *_against(after, path, record, sent.accepted),
                *(each for each in doubts if each.code not in sent.accepted),
            )
            if against:
                return Outcome(findings=against)
            made = desk.add(log, edited, Noted(Kind.ADDED, now=(record.cells,)))
            desk.remember(key, place, made)
            return Outcome(place, made.key)
    except EditError as error:
        return Outcome(problem=str(error))


def with_the_time(
    desk: Desk, zone: ZoneInfo, section: Section, row: Mapping[str, str]
) -> dict[str, str]:
    """The row, with the time in that zone instead of each `now`."""
    now = written(desk.now().replace(second=0, microsecond=0), zone)
    times = {field.name for field in fields_of(section) if field.kind in TIMES}
    return {
        name: now if name in times and cell.casefold() == NOW else cell
        for name, cell in row.items()
    }


def _volume_doubts(ward: Ward, patient_id: str, place: Place) -> Iterator[Finding]:
    """The doubts about the volume of a new entry: over the device's scale, or far over the best."""
    for handover in ward.handovers:
        known = handover.entries.get(patient_id, ())
        added = next((each for each in known if each.place == place), None)
        if added is None or added.volume_ml is None:
            continue
        raw = f"{added.volume_ml:g}"
        patient = next((each for each in handover.patients if each.id == patient_id), None)
        scale_ml = patient.device_scale_ml if patient else None
        if scale_ml and added.volume_ml > scale_ml:
            yield finding("volume-over-scale", place, "volume_ml", raw, scale_ml=scale_ml)
        since = added.at - timedelta(hours=USUAL_H)
        recent = [each for each in known if each is not added and since <= each.at <= added.at]
        best_ml = max((each.volume_ml or 0 for each in recent if each.is_good_reading), default=0)
        if best_ml and added.volume_ml >= FAR_OVER * best_ml:
            words = {"times": FAR_OVER, "hours": USUAL_H, "best_ml": best_ml}
            yield finding("volume-far-over-best", place, "volume_ml", raw, **words)


def _against(ward: Ward, path: str, record: Record, accepted: Sequence[str]) -> tuple[Finding, ...]:
    """The findings on one row, without notes and accepted doubts."""
    lines = change.lines_of(record)
    against = [
        _to_who_adds(each)
        for each in ward.findings
        if (each.place.file == path and each.place.line in lines)
        and (
            each.severity is Severity.ERROR
            or (
                each.severity is Severity.WARNING
                and not {each.code, AT_ENTRY.get(each.code)} & set(accepted)
            )
        )
    ]
    # Where a cell cannot be read, it is no news that nothing is left of the exercise.
    is_explained = any(each.severity is Severity.ERROR and each.code != EMPTY for each in against)
    return tuple(each for each in against if each.code != EMPTY or not is_explained)


def _to_who_adds(found: Finding) -> Finding:
    """The finding in words for somebody who adds the row, where a reader of the log has others."""
    code = AT_ENTRY.get(found.code)
    if code is None:
        return found
    said = finding(code, found.place, found.field, found.raw)
    return replace(said, related=found.related)

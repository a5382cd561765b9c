"""A new entry: a form -> a row of its log, checked in it before it is written.

Enters: whose it is, and cells as they are typed. Leaves: the row in the log, or the findings that
speak against it. What is wrong is never written; what is doubtful only when the person has seen the
doubt and says so. A form is carried out once, however often it is sent.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from handoff.desk import edits, logbook
from handoff.desk.ward import Desk, Ward
from handoff.findings import Finding, Place, Severity
from handoff.model import Patient
from handoff.read import parse


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of a form: where the entry stands now, or the findings against it."""

    place: Place | None
    findings: tuple[Finding, ...] = ()

    @property
    def wrong(self) -> tuple[Finding, ...]:
        """What has to be put right before the entry can be written."""
        return tuple(each for each in self.findings if each.severity is Severity.ERROR)


def fields_for(ward: Ward, patient: Patient) -> tuple[str, ...]:
    """The fields of an entry that the patient's log has a place for."""
    path = patient.place.file
    return edits.fields_written(logbook.text_of(path), ward.sheets[path])


def add_entry(
    desk: Desk, patient: Patient, cells: Mapping[str, str], form: str, accepted: Sequence[str]
) -> Outcome:
    """Add an entry to the log that lists the patient.

    `accepted` are the codes of doubts that the person has seen. Raises `EditError` where the log
    cannot be added to.
    """
    path = patient.place.file
    row = {"patient_id": patient.id, **{name: cell for name, cell in cells.items() if cell}}
    ward = desk.ward()
    with logbook.locked(path):
        if form in desk.added:
            return Outcome(desk.added[form])
        edited = edits.with_entry(logbook.text_of(path), path, row)
        line = parse(edited, path).entries[-1].line
        findings = _about(desk.ward_with(ward, path, edited), path, line)
        against = tuple(
            each
            for each in findings
            if each.severity is Severity.ERROR or each.code not in accepted
        )
        if against:
            return Outcome(None, against)
        desk.add(path, lambda _: edited)
        desk.remember(form, Place(path, line))
        return Outcome(desk.added[form])


def _about(ward: Ward, path: str, line: int) -> tuple[Finding, ...]:
    """The findings of one row, but for notes."""
    return tuple(
        each
        for each in ward.findings
        if each.place.file == path
        and each.place.line == line
        and each.severity is not Severity.NOTE
    )

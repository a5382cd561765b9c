"""A new entry: a form -> a row of its log, checked in it before it is written.

Enters: whose it is, and cells as they are typed. Leaves: the row in the log, or the findings that
speak against it. What is wrong is never written; what is doubtful only when the person has seen the
doubt and says so. A form is carried out once, however often it is sent.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain

from handoff.desk import edits, logbook
from handoff.desk.logbook import LogText
from handoff.desk.ward import Desk, Ward
from handoff.fields import Section
from handoff.findings import Finding, Place, Severity
from handoff.model import Patient
from handoff.read import Record, parse


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of a form: where the entry stands now, or the findings against it."""

    place: Place | None
    findings: tuple[Finding, ...] = ()

    @property
    def wrong(self) -> tuple[Finding, ...]:
        """What has to be put right before the entry can be written."""
        return tuple(each for each in self.findings if each.severity is Severity.ERROR)

    @property
    def may_accept(self) -> bool:
        """True where there are doubts alone, which the person may put aside."""
        return bool(self.findings) and not self.wrong


NOTHING_YET = Outcome(None)


def fields_for(ward: Ward, path: str, section: Section) -> tuple[str, ...]:
    """The fields of an entry, or of a patient, that a log has a place for."""
    return edits.fields_written(section, ward.sheets[path])


def add_entry(
    desk: Desk, patient: Patient, cells: Mapping[str, str], form: str, accepted: Sequence[str]
) -> Outcome:
    """Add an entry to the log that lists the patient.

    `accepted` are the codes of doubts that the person has seen. Raises `EditError` where the log
    cannot be added to.
    """
    path = patient.place.file
    row = {"patient_id": patient.id, **_filled(cells)}

    def add() -> Outcome:
        log = logbook.read_log(path)
        edited = edits.with_entry(log.text, path, row)
        return _checked(desk, ward, log, edited, Section.ENTRY, accepted)

    ward = desk.ward()
    return _once(desk, path, desk.key("form", form, *_flat(row)), add)


def add_patient(
    desk: Desk, path: str, cells: Mapping[str, str], form: str, accepted: Sequence[str]
) -> Outcome:
    """Add a patient to the list of a log, in the same way."""
    row = _filled(cells)

    def add() -> Outcome:
        log = logbook.read_log(path)
        edited = edits.with_patient(log.text, path, row)
        part = Section.ENTRY if ward.sheets[path].columns else Section.PATIENT
        return _checked(desk, ward, log, edited, part, accepted)

    ward = desk.ward()
    return _once(desk, path, desk.key("form", form, *_flat(row)), add)


def _filled(cells: Mapping[str, str]) -> dict[str, str]:
    return {name: cell for name, cell in cells.items() if cell}


def _flat(cells: Mapping[str, str]) -> Iterator[str]:
    return chain.from_iterable(sorted(cells.items()))


def _once(desk: Desk, path: str, form: str, add: Callable[[], Outcome]) -> Outcome:
    """What came of a form before, else what comes of it now; with other words it is another."""
    with logbook.locked(path):
        known = desk.added.get(form)
        outcome = Outcome(known) if known else add()
        if outcome.place:
            desk.remember(form, outcome.place)
        return outcome


def _checked(
    desk: Desk, ward: Ward, log: LogText, edited: str, part: Section, accepted: Sequence[str]
) -> Outcome:
    """Write the edited text where nothing speaks against its new row, the last of its part."""
    path = log.path
    record = edits.records_of(parse(edited, path), part)[-1]
    against = _against(desk.ward_with(ward, path, edited), path, record, accepted)
    if against:
        return Outcome(None, against)
    desk.add(log, edited)
    return Outcome(Place(path, record.line))


def _against(ward: Ward, path: str, record: Record, accepted: Sequence[str]) -> tuple[Finding, ...]:
    """What was found about one row, but for notes and doubts that were accepted."""
    lines = {record.line, *record.lines.values()}
    of_row = (
        each for each in ward.findings if each.place.file == path and each.place.line in lines
    )
    return tuple(
        each
        for each in of_row
        if each.severity is Severity.ERROR
        or (each.severity is Severity.WARNING and each.code not in accepted)
    )

"""Corrections of a row, a cell or a line of a log.

Input: a correction as it is typed. Output: the corrected log. A correction is checked in its log
before it is written. It is written only into the row that the person saw.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from handoff.desk.edits import change, logbook
from handoff.desk.edits.change import Row
from handoff.desk.edits.failures import EditError
from handoff.desk.edits.logbook import LogText
from handoff.desk.ward import Desk, Ward
from handoff.model.findings import Finding, Severity
from handoff.read import Record, parse

BEHIND = "This row has been changed since the page was made. Look at it again; nothing was written."


@dataclass(frozen=True, slots=True)
class Correction:
    """A log's row to correct, the cells as seen, and the wanted cells."""

    path: str
    row: Row
    seen: str  # the fingerprint of the row when the page was made
    cells: Mapping[str, str]


class SeenLine(NamedTuple):
    """A line of a log that is to be corrected, and its fingerprint when the page was made."""

    path: str
    number: int
    seen: str


def correct(
    desk: Desk, correction: Correction, *, in_copy: bool
) -> tuple[str, tuple[Finding, ...]]:
    """Write the changed cells; the path written to, or '' with the findings against it.

    Raises `EditError` where the row is not the one that was seen, or cannot be written.
    """
    path, row = correction.path, correction.row
    ward = desk.ward()
    with logbook.locked(path):
        log = logbook.read_log(path)
        record = _seen_record(desk, log, row, correction.seen)
        changes = _changes(record, correction.cells)
        if not changes:
            raise EditError("Nothing was changed in this row.")
        edited = change.with_cells(log.text, path, row, changes)
        after = desk.ward_with(ward, path, edited)
        against = _against(ward, after, correction, changes)
        return ("", against) if against else (_save(desk, log, edited, in_copy=in_copy), ())


def remove(desk: Desk, path: str, row: Row, seen: str, *, in_copy: bool) -> str:
    """Take a repeated row out; the path written to."""
    with logbook.locked(path):
        log = logbook.read_log(path)
        _seen_record(desk, log, row, seen)
        return _save(desk, log, change.without_row(log.text, path, row), in_copy=in_copy)


def correct_line(desk: Desk, line: SeenLine, new: str, *, in_copy: bool) -> str:
    """Write another text on a line; the path written to."""
    path, number, seen = line
    with logbook.locked(path):
        log = logbook.read_log(path)
        if desk.key("line", change.line_of(log.text, number)) != seen:
            raise EditError(BEHIND)
        return _save(desk, log, change.with_line(log.text, path, number, new), in_copy=in_copy)


def fingerprint(desk: Desk, record: Record) -> str:
    """A key of a row's content: it differs once the row changes."""
    return desk.key("row", *(f"{name}={text}" for name, text in sorted(record.cells.items())))


def _save(desk: Desk, log: LogText, edited: str, *, in_copy: bool) -> str:
    if in_copy:
        return desk.change_copy(log, edited)
    desk.change(log, edited)
    return log.path


def _seen_record(desk: Desk, log: LogText, row: Row, seen: str) -> Record:
    """The row, if it is still the one that the person saw."""
    try:
        record = row.record(parse(log.text, log.path))
    except IndexError:
        raise EditError(BEHIND) from None
    if fingerprint(desk, record) != seen:
        raise EditError(BEHIND)
    return record


def _changes(record: Record, cells: Mapping[str, str]) -> dict[str, str]:
    """The changed cells; line ends do not count, because a browser sends others than a log has."""
    typed = {name: "\n".join(cell.splitlines()) for name, cell in cells.items()}
    return {
        name: cell
        for name, cell in typed.items()
        if cell != "\n".join(record.cells.get(name, "").splitlines())
    }


def _against(
    before: Ward, after: Ward, correction: Correction, changes: Mapping[str, str]
) -> tuple[Finding, ...]:
    """The errors that the changed cells would still have, and new errors elsewhere."""
    path = correction.path
    lines = change.lines_of(correction.row.record(after.raw_logs[path]))
    known = {_kind(each) for each in before.findings}
    return tuple(
        each
        for each in after.findings
        if each.severity is Severity.ERROR
        and (
            _kind(each) not in known
            or (each.place.file == path and each.place.line in lines and each.field in changes)
        )
    )


def _kind(found: Finding) -> tuple[object, ...]:
    """A finding without its place: a longer text moves the lines below it."""
    return found.place.file, found.code, found.field, found.raw

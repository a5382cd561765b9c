"""Corrections of a row, a cell or a line of a log, and a change that is undone.

Input: a correction as it is typed. Output: the corrected log. A correction is checked in its log
before it is written. It is written only into the row that the person saw.
"""

from collections.abc import Container, Mapping
from typing import NamedTuple

from handoff.desk.edits import change, history, logbook
from handoff.desk.edits.change import Row
from handoff.desk.edits.failures import EditError
from handoff.desk.edits.history import Change, Kind, Noted
from handoff.desk.edits.logbook import LogText
from handoff.desk.ward import Desk, Ward
from handoff.model.findings import Finding, Severity, text
from handoff.model.frozen import Frozen
from handoff.read import Record, parse

BEHIND = "row-changed"


class Correction(Frozen):
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


class Written(NamedTuple):
    """Where a change was written, and the change as its history has it."""

    path: str
    change: Change


def correct(desk: Desk, correction: Correction, *, in_copy: bool) -> Written | tuple[Finding, ...]:
    """Write the changed cells; without that, the findings against it.

    Raises `EditError` where the row is not the one that was seen, or cannot be written.
    """
    path, row = correction.path, correction.row
    ward = desk.ward()
    with logbook.locked(path):
        log = logbook.read_log(path)
        record = _seen_record(desk, log, row, correction.seen)
        changes = _changes(record, correction.cells)
        if not changes:
            raise EditError("nothing-changed")
        edited = change.with_cells(log.text, path, row, changes)
        after = desk.ward_with(ward, path, edited)
        against = _against(ward, after, correction, changes)
        if against:
            return against
        now = row.record(after.raw_logs[path]).cells
        noted = Noted(Kind.CORRECTED, (record.cells,), (now,))
        return _save(desk, log, edited, noted, in_copy=in_copy)


def take_out(desk: Desk, path: str, row: Row, seen: str) -> Written:
    """Take an entry out of a log."""
    ward = desk.ward()
    with logbook.locked(path):
        log = logbook.read_log(path)
        record = _seen_record(desk, log, row, seen)
        edited = change.without_entry(log.text, path, row)
        after = _checked(desk, ward, path, edited).raw_logs[path]
        stays = len(after.entries) == len(parse(log.text, path).entries)
        now = (row.record(after).cells,) if stays else ()
        noted = Noted(Kind.TAKEN_OUT, (record.cells,), now)
        return _save(desk, log, edited, noted)


def move(desk: Desk, path: str, row: Row, seen: str, patient_id: str) -> Written:
    """Make an entry another patient's."""
    ward = desk.ward()
    with logbook.locked(path):
        log = logbook.read_log(path)
        record = _seen_record(desk, log, row, seen)
        edited = change.with_entry_moved(log.text, path, row, patient_id)
        after = _checked(desk, ward, path, edited).raw_logs[path]
        added = after.entries[len(parse(log.text, path).entries) :]
        now = (row.record(after).cells, *(each.cells for each in added))
        noted = Noted(Kind.MOVED, (record.cells,), now)
        return _save(desk, log, edited, noted)


def undo(desk: Desk, path: str, key: str) -> Written:
    """Undo a change that a desk made in a log: the undoing is a change too.

    Raises `EditError` where it is undone already, or where the log would be wrong without it.
    """
    ward = desk.ward()
    with logbook.locked(path):
        log = logbook.read_log(path)
        changes = desk.history(path)
        one = next((each for each in changes if each.key == key), None)
        if one is None:
            raise EditError("not-in-history")
        if history.is_undone(one, changes):
            raise EditError("undone-already")
        edited, back = history.without_change(log.text, path, one)
        _checked(desk, ward, path, edited, back)
        noted = Noted(Kind.UNDONE, one.noted.now, one.noted.was, undoes=key)
        desk.forget(one)
        return _save(desk, log, edited, noted)


def correct_line(desk: Desk, line: SeenLine, new: str, *, in_copy: bool) -> Written:
    """Write another text on a line."""
    path, number, seen = line
    with logbook.locked(path):
        log = logbook.read_log(path)
        if desk.key("line", change.line_of(log.text, number)) != seen:
            raise EditError(BEHIND)
        edited = change.with_line(log.text, path, number, new)
        old = change.line_of(log.text, number)
        noted = Noted(Kind.LINE, ({"line": old},), ({"line": new},))
        return _save(desk, log, edited, noted, in_copy=in_copy)


def fingerprint(desk: Desk, record: Record) -> str:
    """A key of a row's content: it differs once the row changes."""
    return desk.key("row", *(f"{name}={text}" for name, text in sorted(record.cells.items())))


def _save(desk: Desk, log: LogText, edited: str, noted: Noted, *, in_copy: bool = False) -> Written:
    if in_copy:
        return Written(*desk.change_copy(log, edited, noted))
    return Written(log.path, desk.change(log, edited, noted))


def _checked(
    desk: Desk, before: Ward, path: str, edited: str, put_back: Container[int] = ()
) -> Ward:
    """The ward with the edited log. Raises `EditError` for an error that the log did not have, but
    for those on lines that are put back as they were.
    """
    after = desk.ward_with(before, path, edited)
    had = {_kind(each) for each in before.findings}
    for each in after.findings:
        is_new = each.severity is Severity.ERROR and _kind(each) not in had
        if is_new and not (each.place.file == path and (each.place.line or 0) in put_back):
            raise EditError("would-be-wrong", finding=text(each))
    return after


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

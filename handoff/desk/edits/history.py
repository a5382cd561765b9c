"""What was changed in a log at the desk: a file beside the log, with a line of JSON a change.

Input: the text of a log before and after a change, and its rows. Output: the `.history` file, its
changes read back, and the text with one change undone. The file is only added to: an undone change
stays in it, and the undoing is a change too. No other room reads it, and nothing is computed from
it: the log alone says what is so.
"""

import json
import secrets
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from enum import StrEnum
from pathlib import Path

from msgspec import to_builtins

from handoff.desk.edits import change, logbook
from handoff.desk.edits.failures import EditError
from handoff.log.fields import Section
from handoff.model.frozen import Frozen
from handoff.read import RawLog, parse

SUFFIX = ".history"
CHANGED_SINCE = "changed-since"

Cells = Mapping[str, str]


class Kind(StrEnum):
    """What was done to a log."""

    ADDED = "added"
    CORRECTED = "corrected"
    MOVED = "moved"
    TAKEN_OUT = "taken out"
    LINE = "line corrected"
    UNDONE = "undone"
    LIST_ANEW = "list made anew"


class Noted(Frozen):
    """What a change does to the rows of a log: their cells before and after it, by contract name.

    A corrected line has its text as its one cell: its cells cannot be told apart.
    """

    kind: Kind
    was: tuple[Cells, ...] = ()
    now: tuple[Cells, ...] = ()
    undoes: str = ""  # the key of the change that this one undoes


class Lines(Frozen):
    """The lines that a change replaced, as text with their ends; `number` counts from 0, and
    `above` is the line before them.
    """

    number: int
    above: str
    old: str
    new: str


class Change(Frozen):
    """One change of a log: `at` in UTC, `by` whoever charts at this desk, '' where nobody said."""

    key: str
    at: datetime
    by: str
    noted: Noted
    lines: Lines


def change_of(before: str, after: str, noted: Noted, at: datetime, by: str | None) -> Change:
    """The change from one text of a log to another."""
    return Change(secrets.token_urlsafe(12), at, by or "", noted, _replaced(before, after))


def history_file(path: str) -> Path:
    """The file beside a log that tells of its changes."""
    log = Path(path).resolve()
    return log.with_name(log.name + SUFFIX)


def keep(path: str, changes: Iterable[Change]) -> None:
    """Write changes of a log down; its lock must be held. Raises `EditError`."""
    # Each begins a line of its own: a killed desk may have left half a line at the end.
    plain = ({**to_builtins(each), "at": str(each.at)} for each in changes)
    lines = "".join(f"\n{json.dumps(each)}\n" for each in plain)
    logbook.append(history_file(path), lines.encode())


def kept(path: str) -> tuple[Change, ...]:
    """The changes of a log, oldest first. A line that was cut short is left out: it was never
    told to anybody.
    """
    try:
        lines = history_file(path).read_bytes().splitlines()
    except OSError:
        return ()
    return tuple(found for line in lines if (found := _read(line)))


def is_undone(one: Change, changes: Sequence[Change]) -> bool:
    """Whether a change is undone, and its undoing is not."""
    return any(each.noted.undoes == one.key and not is_undone(each, changes) for each in changes)


def without_change(text: str, file: str, one: Change) -> tuple[str, range]:
    """The text without a change, and the lines that are back in it, by number from 1.

    Raises `EditError` where the change's lines are not there any more, or where another row would
    change.
    """
    edited, back = _put_back(text, one.lines)
    before, after = parse(text, file), parse(edited, file)
    if before.usable and not after.usable:
        raise EditError(CHANGED_SINCE)
    if one.noted.kind is not Kind.LINE and before.usable:
        old, new = rows_of(before), rows_of(after)
        if (old - new, new - old) != (counted(one.noted.now), counted(one.noted.was)):
            raise EditError(CHANGED_SINCE)
    return edited, back


def _replaced(before: str, after: str) -> Lines:
    old, new = change.split_lines(before), change.split_lines(after)
    shorter = min(len(old), len(new))
    start = next((at for at in range(shorter) if old[at] != new[at]), shorter)
    same = range(1, shorter - start + 1)
    end = next((at - 1 for at in same if old[-at] != new[-at]), shorter - start)
    return Lines(
        start,
        old[start - 1] if start else "",
        "".join(old[start : len(old) - end]),
        "".join(new[start : len(new) - end]),
    )


def _put_back(text: str, replaced: Lines) -> tuple[str, range]:
    """The old lines where the new ones are: below the same line, where that has not been changed,
    and nearest to where they were.
    """
    lines, new = change.split_lines(text), change.split_lines(replaced.new)
    found = [at for at in range(len(lines) - len(new) + 1) if lines[at : at + len(new)] == new]
    below = [at for at in found if (lines[at - 1] if at else "") == replaced.above]
    found = below or (found if new else [])
    if not found:
        raise EditError(CHANGED_SINCE)
    at = min(found, key=lambda at: abs(at - replaced.number))
    back = range(at + 1, at + 1 + len(change.split_lines(replaced.old)))
    return "".join([*lines[:at], replaced.old, *lines[at + len(new) :]]), back


def rows_of(raw_log: RawLog) -> Counter[tuple[tuple[str, str], ...]]:
    """All rows of a log, by their filled cells."""
    sections = list(Section) if raw_log.columns is None else [Section.ENTRY]
    return counted(
        each.cells for section in sections for each in change.records_of(raw_log, section)
    )


def counted(rows: Iterable[Cells]) -> Counter[tuple[tuple[str, str], ...]]:
    """Rows by their filled cells; those without any do not count."""
    stripped = ({name: cell.strip() for name, cell in row.items()} for row in rows)
    filled = (tuple(sorted((name, cell) for name, cell in row.items() if cell)) for row in stripped)
    return Counter(row for row in filled if row)


def _read(line: bytes) -> Change | None:
    try:
        found = json.loads(line)
        noted = found["noted"]
        return Change(
            found["key"],
            datetime.fromisoformat(found["at"]),
            found["by"],
            Noted(Kind(noted["kind"]), tuple(noted["was"]), tuple(noted["now"]), noted["undoes"]),
            Lines(**found["lines"]),
        )
    except (ValueError, KeyError, TypeError):
        return None

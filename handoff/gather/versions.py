"""Finds versions of one log among the logs given: an older one would bring back what was corrected.

Input: checked logs of one unit and one shift. Output: each two versions, with a finding. Two halves
of a unit's log are no versions: few of their rows are of one patient at one time. Neither is a
copy: its rows are all the same.
"""

from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime
from itertools import combinations

from msgspec.structs import replace

from handoff.model.codes import finding
from handoff.model.findings import Finding, Place
from handoff.model.frozen import Frozen
from handoff.model.ward import Entry, Log
from handoff.model.wording import FINDINGS

MOST_ROWS = 4  # that differ, of each log, in one finding
NO_TIME = datetime.max.replace(tzinfo=UTC)


class Versions(Frozen):
    """Two versions of one log, and the finding that names the rows that differ."""

    one: Log
    other: Log
    finding: Finding


def find_versions(logs: Sequence[Log]) -> Iterator[Versions]:
    """Each two of the logs that are versions of one."""
    for one, other in combinations(sorted(logs, key=lambda log: log.file), 2):
        different = _different_rows(one, other)
        if different:
            key = "two-versions.row" if len(different) == 1 else "two-versions.rows"
            rows = FINDINGS.say(key, count=len(different))
            found = finding("two-versions", Place(other.file), other=one.file, rows=rows)
            places = (row.place for pair in different[:MOST_ROWS] for row in pair)
            yield Versions(one, other, replace(found, related=tuple(places)))


def _different_rows(one: Log, other: Log) -> list[tuple[Entry, Entry]]:
    """The rows that differ, where at least half of the shorter log's rows are rows of the other's:
    of the same patient, time and kind. None of these need differ where rows beside them are the
    same but for the time, or but for the patient.
    """
    rows = {_row(entry) for entry in one.entries} & {_row(entry) for entry in other.entries}
    shorter = min(one.entries, other.entries, key=len)
    agree = sum(_row(entry) in rows for entry in shorter)
    if agree == 0 or 2 * agree < len(shorter):
        return []
    same = {entry.content for entry in one.entries} & {entry.content for entry in other.entries}
    left = [entry for entry in one.entries if entry.content not in same]
    left_other = [entry for entry in other.entries if entry.content not in same]
    different = []
    for key in (_row, _but_for_time, _but_for_patient):
        matches = _matches(left, left_other, key)
        different += matches
        used = {id(row) for match in matches for row in match}
        left = [entry for entry in left if id(entry) not in used]
        left_other = [entry for entry in left_other if id(entry) not in used]
    return different


def _row(entry: Entry) -> tuple[object, ...]:
    return entry.patient_id, entry.at, entry.what


def _but_for_time(entry: Entry) -> tuple[object, ...]:
    return replace(entry, at=NO_TIME, until=None).content


def _but_for_patient(entry: Entry) -> tuple[object, ...]:
    return replace(entry, patient_id="").content


def _matches(
    rows: Sequence[Entry], others: Sequence[Entry], key: Callable[[Entry], object]
) -> list[tuple[Entry, Entry]]:
    """Each row with the first of the others that has the same key."""
    of_others = {key(entry): entry for entry in reversed(others)}
    of_rows = {key(entry): entry for entry in reversed(rows)}
    return [(entry, of_others[it]) for it, entry in reversed(of_rows.items()) if it in of_others]

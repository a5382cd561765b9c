"""The entries that this run wrote: which of them another program's stale save took away again.

Input: each change of a log, and the logs as they are. Output: entries that are gone, and the log
with them put back. An entry that was changed elsewhere, at the same time of the same patient, or at
another desk, is not gone. Never writes one back by itself: somebody may have taken it out on
purpose.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable
from itertools import dropwhile

from handoff.desk.edits.history import Change, Kind, counted

Row = tuple[tuple[str, str], ...]  # its filled cells, by name


class WrittenHere:
    """The entries that this run wrote, by log."""

    def __init__(self) -> None:
        self._rows: defaultdict[str, Counter[Row]] = defaultdict(Counter)
        self._changes: set[str] = set()  # keys of the changes of this run

    def note(self, path: str, made: Change) -> None:
        """Note what a change of this run did to the entries of a log."""
        noted = made.noted
        self._changes.add(made.key)
        if noted.kind is not Kind.LINE:
            self._rows[path] += _entries(counted(noted.now))
            self._rows[path] -= _entries(counted(noted.was))

    def moved(self, path: str, copy: str) -> None:
        """A copy of a log is open instead of it."""
        self._rows[copy] = self._rows.pop(path, Counter())

    def leave_out(self, path: str, rows: Iterable[Row]) -> None:
        """Do not miss these entries any more."""
        self._rows[path] -= Counter(rows)

    def gone(
        self, path: str, rows: Callable[[], Counter[Row]], history: Callable[[], Iterable[Change]]
    ) -> tuple[Row, ...]:
        """The entries that were written here and are not among the rows of the log any more."""
        missing = self._rows[path] - rows() if self._rows.get(path) else None
        if not missing:
            return ()
        missing -= self._taken_elsewhere(history())
        elsewhere = {_about(row) for row in rows() if row not in self._rows[path]}
        return tuple(sorted(row for row in missing.elements() if _about(row) not in elsewhere))

    def _taken_elsewhere(self, history: Iterable[Change]) -> Counter[Row]:
        """What other desks have taken out, moved or corrected since this one wrote first."""
        taken = Counter[Row]()
        for each in dropwhile(lambda each: each.key not in self._changes, history):
            if each.key not in self._changes:
                taken.update(counted(each.noted.was))
                taken.subtract(counted(each.noted.now))
        return +taken


def _entries(rows: Counter[Row]) -> Counter[Row]:
    """Of all rows the entries: they alone have a time."""
    return Counter({row: count for row, count in rows.items() if "at" in dict(row)})


def _about(row: Row) -> tuple[str | None, ...]:
    cells = dict(row)
    return tuple(cells.get(name) for name in ("patient_id", "at", "what"))

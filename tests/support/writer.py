"""Somebody who adds entries to a log, as the desk does; imports little, to be started quickly.

Run as `python -m tests.support.writer LOG`, it writes until it is killed.
"""

import sys

from handoff.desk.edits import logbook
from handoff.desk.edits.change import with_entry

LONG = "x" * 500


def add(path: str, minute: int, note: str) -> None:
    """One entry at 21:00 and so many minutes."""
    cells = {"patient_id": "10442", "at": f"21:{minute:02}", "breaths": "5", "note": note}
    with logbook.locked(path):
        log = logbook.read_log(path)
        logbook.add(log, with_entry(log.text, path, cells))


def add_some(path: str, who: int) -> None:
    for minute in range(5):
        add(path, minute, f"writer {who}")


if __name__ == "__main__":
    while True:
        for minute in range(60):
            add(sys.argv[1], minute, LONG)

"""What a run may take at most: size, rows and nesting of a log, seconds and memory.

Input: nothing. Output: `Bounds`, and `OutOfBounds` where the work itself goes over them. All are
common practice: far above any log of one shift, and low enough that a file which is no log, or is
made to do harm, ends with one clear line. Each is an option of the command line.
"""

import resource
import signal
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from types import FrameType

from handoff.model.refused import Refused

_LOOK_EVERY_S = 0.2
_TIDY_S = 60  # to clear what was begun, after the time is up


@dataclass(frozen=True, slots=True)
class Bounds:
    """`size_mb` and `rows` of one log, `nesting` of a YAML; `seconds` for reading all logs, and
    again for making what is asked for; `memory_mb` that this process may have had at once.
    """

    size_mb: float = 64
    rows: int = 1_000_000
    nesting: int = 20
    seconds: int = 600
    memory_mb: int = 2_048


USUAL = Bounds()


class OutOfBounds(Refused):
    """The work takes too long or too much memory; the message says how to mend it."""


@contextmanager
def within(bounds: Bounds) -> Iterator[None]:
    """Ends the block with `OutOfBounds` when it takes more time or memory than it may.

    Looks a few times a second, whatever the block does. A thread other than the main one cannot be
    ended so, and is left alone.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    late = time.monotonic() + bounds.seconds

    def look(_signal: int, _frame: FrameType | None) -> None:
        if time.monotonic() > late:
            what, option = f"takes longer than {bounds.seconds:,} s", "--max-seconds"
        elif peak_memory_mb() > bounds.memory_mb:
            what, option = f"takes more memory than {bounds.memory_mb:,} MB", "--max-memory"
        else:
            return
        signal.setitimer(signal.ITIMER_REAL, _TIDY_S, _TIDY_S)
        raise OutOfBounds(
            f"this {what}, so it is given up. Nothing was changed. Check that the logs are the "
            f"right ones, or raise the bound with {option}"
        )

    handler = signal.signal(signal.SIGALRM, look)
    timer = signal.setitimer(signal.ITIMER_REAL, _LOOK_EVERY_S, _LOOK_EVERY_S)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, *timer)
        signal.signal(signal.SIGALRM, handler)


def peak_memory_mb() -> float:
    """The most memory that this process has had at once."""
    per_mb = 2**20 if sys.platform == "darwin" else 2**10
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / per_mb

"""Enforces bounds: ends work that takes too long or too much memory.

Input: `Bounds`. Output: `OutOfBounds` where the work exceeds them. Knows nothing of the work.
"""

import resource
import signal
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

from handoff.model.bounds import Bounds
from handoff.model.refused import Refused

_LOOK_EVERY_S = 0.2
_TIDY_S = 60  # to clean up after the time is up

NOTHING_CHANGED = "Nothing was changed. Check that the logs are the right ones"


class OutOfBounds(Refused):
    """The work takes too long or too much memory; the message says how to mend it."""


@contextmanager
def within(bounds: Bounds, then: str = NOTHING_CHANGED) -> Iterator[None]:
    """Ends the block with `OutOfBounds` when it takes more time or memory than it may. `then` says
    what has become of the work, and what to do before the bound is raised.

    Checks several times a second, whatever the block does. Only the main thread can be ended like
    this; other threads are not checked.
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
            f"this {what}, so it is given up. {then}, or raise the bound with {option}"
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

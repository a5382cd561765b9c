"""Enforces bounds: ends work that takes too long or too much memory.

Input: `Bounds`. Output: `OutOfBounds` where the work exceeds them. Knows nothing of the work.
"""

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

from handoff import portable
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

    def look() -> None:
        if time.monotonic() > late:
            what, option = f"takes longer than {bounds.seconds:,} s", "--max-seconds"
        elif portable.peak_memory_mb() > bounds.memory_mb:
            what, option = f"takes more memory than {bounds.memory_mb:,} MB", "--max-memory"
        else:
            return
        raise OutOfBounds(
            f"this {what}, so it is given up. {then}, or raise the bound with {option}"
        )

    with portable.alarm(look, _LOOK_EVERY_S, _TIDY_S):
        yield

"""Decides when Python's garbage collector runs.

Input, output: nothing.
"""

import gc

# A collection for every 700 new objects, the default, takes a tenth of the time of a run.
NEW_OBJECTS = 100_000


def forget_seldom() -> None:
    """Collect rarely, and never look again at objects that exist by now."""
    gc.set_threshold(NEW_OBJECTS)
    gc.freeze()


def forget_now() -> None:
    """Collect now: reference cycles of one unit, such as those of its words, are freed before the
    next.

    Otherwise they may stay for many units.
    """
    gc.collect()

"""When Python looks through its objects for what can be forgotten.

Input, output: nothing.
"""

import gc

# Looking each time that so few as 700 objects are new takes a tenth of the time of a run.
NEW_OBJECTS = 100_000


def forget_seldom() -> None:
    """Look only now and then, and never again through what is loaded by now."""
    gc.set_threshold(NEW_OBJECTS)
    gc.freeze()


def forget_now() -> None:
    """Look now: what one unit leaves in circles, as its words do, is gone before the next.

    Left to chance it stays for many units.
    """
    gc.collect()

"""Loads matplotlib plain: nothing of the user's settings is read, and nothing is kept.

Matplotlib looks for settings in the working folder and in the user's, and makes a folder for them
where there is none. A chart must be the same everywhere, and a run leaves nothing but its sheets:
so it is loaded from an empty folder that is gone at once, with the settings it comes with.
"""

import os
from contextlib import chdir
from tempfile import TemporaryDirectory

_OURS = {"MATPLOTLIBRC": ""}


def load_plain() -> None:
    """Import matplotlib, once for the process."""
    before = {name: os.environ.get(name) for name in ("MPLCONFIGDIR", *_OURS)}
    with TemporaryDirectory() as empty, chdir(empty):
        os.environ.update(_OURS, MPLCONFIGDIR=empty)
        import matplotlib  # noqa: F401, PLC0415 - it looks around when it is imported
    for name, value in before.items():
        if value is None:
            del os.environ[name]
        else:
            os.environ[name] = value


load_plain()

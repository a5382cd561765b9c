"""Loads matplotlib without the user's settings, and leaves no files.

Matplotlib looks for settings in the working folder and the user's folder, and makes one for them. A
chart must be the same everywhere, and a run leaves only its sheets. Therefore matplotlib is loaded
from an empty temporary folder, with its own default settings.
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

"""What the bundle starts: with arguments the command that they name; without, by a double-click,
the desk of the person's documents. A person who double-clicks has no terminal: what keeps the desk
from opening is shown as a text.
"""

import multiprocessing
import os
import sys
import webbrowser
from collections.abc import Sequence
from contextlib import redirect_stderr
from io import StringIO
from pathlib import Path
from tempfile import mkstemp

from handoff.cli.main import DONE, main


def start(arguments: Sequence[str]) -> int:
    """Run what was asked for; its exit code."""
    if arguments:
        return main(arguments)
    with redirect_stderr(StringIO()) as said:
        code = main(["desk", "--documents"])
    if code != DONE:
        descriptor, name = mkstemp(prefix="handoff-", suffix=".txt")
        with os.fdopen(descriptor, "w", encoding="utf-8") as file:
            file.write(said.getvalue())
        webbrowser.open(Path(name).as_uri())
    return code


def leave_the_browser_its_libraries() -> None:
    """Take back where PyInstaller's starter has libraries looked for first: a browser needs the
    system's.
    """
    before = os.environ.pop("LD_LIBRARY_PATH_ORIG", None)
    os.environ.pop("LD_LIBRARY_PATH", None)
    if before is not None:
        os.environ["LD_LIBRARY_PATH"] = before


if __name__ == "__main__":
    multiprocessing.freeze_support()
    leave_the_browser_its_libraries()
    sys.exit(start(sys.argv[1:]))

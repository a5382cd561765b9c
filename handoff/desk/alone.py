"""One desk for a folder: who starts a second one gets the one that runs.

Input: a folder. Output: the file of a page that leads to its desk, for its owner only; empty while
no desk runs. The browser opens the file, so that the address with its key stands nowhere where
another user could see it.
"""

import os
import time
import webbrowser
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from jinja2 import Environment

from handoff import portable

NAME = ".handoff-desk.html"
STARTS_WITHIN_S = 20.0
_LOOK_EVERY_S = 0.1


@contextmanager
def only_desk(folder: Path) -> Iterator[Path | None]:
    """The file for the page that leads to this folder's desk, to be filled in by the desk; None
    where a desk of the folder runs, which is opened in the browser.
    """
    page = folder / NAME
    os.close(portable.open_owners(page, os.O_WRONLY | os.O_CREAT))
    with ExitStack() as running:
        try:
            running.enter_context(portable.in_use(page))
        except BlockingIOError:
            _open_running(page)
            yield None
            return
        page.write_bytes(b"")  # what a killed desk left leads nowhere
        running.callback(page.write_bytes, b"")
        yield page


def lead_to(address: str, page: Path, templates: Environment) -> None:
    """Fill in the page that leads to an address."""
    text = templates.get_template("opening.html").render(address=address, style="")
    descriptor = portable.open_owners(page, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    with os.fdopen(descriptor, "w", encoding="utf-8") as file:
        file.write(text)


def _open_running(page: Path) -> None:
    """Open the desk that runs; one that was only just started fills its page in soon."""
    late = time.monotonic() + STARTS_WITHIN_S
    while not page.stat().st_size and time.monotonic() < late:
        time.sleep(_LOOK_EVERY_S)
    webbrowser.open(page.as_uri())

"""A desk that really serves, in a process of its own."""

import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from http.client import HTTPConnection
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from handoff.cli import main as cli
from handoff.desk.safety import FORM_KEY
from tests.support.logs import ROOT

ADDRESS = r"http://127\.0\.0\.1:\d+/open\?key=\S+"


@dataclass
class Served:
    """A running desk, the address that it printed, its host, and the cookie of one browser."""

    process: Any  # of `subprocess` or of `multiprocessing`: both have `kill`
    address: str
    host: str = ""
    cookie: str = ""

    @property
    def port(self) -> int:
        return int(self.address.split("/")[2].partition(":")[2])

    @property
    def origin(self) -> str:
        return f"http://{self.host}"

    def ask(
        self, path: str, form: dict[str, str] | None = None, **headers: str
    ) -> tuple[int, dict[str, str], str]:
        """Status, headers and body; with a form it is sent as a page of the desk sends it."""
        sent = {"Host": self.host, "Cookie": self.cookie, **headers}
        body = None
        if form is not None:
            body = urlencode(form)
            sent |= {"Origin": self.origin, "Content-Type": "application/x-www-form-urlencoded"}
        with closing(HTTPConnection("127.0.0.1", self.port, timeout=60)) as connection:
            connection.request("POST" if form is not None else "GET", path, body, sent)
            with connection.getresponse() as answer:
                text = answer.read().decode("utf-8", "replace")
                return answer.status, dict(answer.headers), text

    def let_in(self) -> "Served":
        _, way, path = self.address.split("/", 3)[1:]
        _, headers, _ = self.ask(f"/{path}", Host=way)
        self.host = headers["Location"].split("/")[2]
        _, headers, _ = self.ask(headers["Location"].removeprefix(self.origin))
        self.cookie = headers["Set-Cookie"].partition(";")[0]
        return self

    def form(self, path: str) -> dict[str, str]:
        """The hidden fields of the last form on a page."""
        _, _, page = self.ask(path)
        return dict(re.findall(r'type="hidden" name="([^"]+)" value="([^"]*)"', page))

    def beds(self) -> list[str]:
        return re.findall(r'<option value="(\w{24})"', self.ask("/entry")[2])

    def add(self, bed: str, **cells: str) -> int:
        """Add an entry as a form does."""
        hidden = self.form("/entry")
        assert FORM_KEY in hidden
        return self.ask("/entry", {**hidden, "bed": bed, **cells})[0]

    def kill(self) -> None:
        self.process.kill()
        (self.process.wait if isinstance(self.process, subprocess.Popen) else self.process.join)(30)


@contextmanager
def started(folder: Path, *arguments: str) -> Iterator[Served]:
    """A desk of this folder, until the block ends, started by a command as a person starts it."""
    process = subprocess.Popen(
        [sys.executable, "-m", "handoff", "desk", "--no-browser", *arguments],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdout
    found = re.search(ADDRESS, process.stdout.readline())
    try:
        assert found, process.communicate(timeout=30)
        yield Served(process, found.group()).let_in()
    finally:
        if process.poll() is None and sys.platform == "win32":
            process.terminate()
        elif process.poll() is None:
            process.send_signal(signal.SIGINT)
        process.communicate(timeout=30)


@contextmanager
def serving(folder: Path, *arguments: str) -> Iterator[Served]:
    """As `started`, but forked from a process that has loaded the program already: loading it
    takes four times as long as most of what a test asks of a desk.
    """
    if sys.platform == "win32":
        with started(folder, *arguments) as served:
            yield served
        return
    forking = get_context("forkserver")
    forking.set_forkserver_preload(["handoff.cli.desk", "handoff.desk.serve", __name__])
    heard, said = forking.Pipe(duplex=False)
    process = forking.Process(target=_run_desk, args=(said, folder, arguments))
    process.start()
    said.close()
    with open(heard.fileno(), closefd=False, encoding="utf-8") as lines:
        found = re.search(ADDRESS, lines.readline())
    try:
        assert found
        yield Served(process, found.group()).let_in()
    finally:
        heard.close()
        process.terminate()
        process.join(30)
        is_stopped = not process.is_alive()
        process.kill()
        assert is_stopped


def _run_desk(said: Connection, folder: Path, arguments: tuple[str, ...]) -> None:
    os.chdir(folder)
    with open(said.fileno(), "w", encoding="utf-8") as sys.stdout:  # noqa: PTH123 - no path
        sys.exit(cli.main(["desk", "--no-browser", *arguments]))

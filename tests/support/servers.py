"""A desk that really serves, in a process of its own, as a person starts it."""

import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from http.client import HTTPConnection
from pathlib import Path
from urllib.parse import urlencode

from handoff.desk.safety import FORM_KEY
from tests.support.logs import ROOT


@dataclass
class Served:
    """A running desk, the address that it printed, its host, and the cookie of one browser."""

    process: subprocess.Popen[str]
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
        self.process.wait(30)


@contextmanager
def serving(folder: Path, *arguments: str) -> Iterator[Served]:
    """A desk of this folder, until the block ends."""
    process = subprocess.Popen(
        [sys.executable, "-m", "handoff", "desk", "--no-browser", *arguments],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdout
    line = process.stdout.readline()
    found = re.search(r"http://127\.0\.0\.1:\d+/open\?key=\S+", line)
    try:
        assert found, process.communicate(timeout=30)
        yield Served(process, found.group()).let_in()
    finally:
        if process.poll() is None and sys.platform == "win32":
            process.terminate()
        elif process.poll() is None:
            process.send_signal(signal.SIGINT)
        process.communicate(timeout=30)

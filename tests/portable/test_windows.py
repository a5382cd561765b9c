"""What the program does on Windows, as far as another system can show it: the functions of that
module, and the stages that use them, with a lock in the place of the one that only Windows has.

`tests/windows/run.py` runs the other tests on Windows's own Python.
"""

import errno
import fcntl
import multiprocessing
import os
import signal
import socket
import threading
import time
from concurrent.futures import BrokenExecutor, ThreadPoolExecutor
from multiprocessing.connection import Connection
from multiprocessing.context import SpawnProcess
from pathlib import Path
from typing import Any

import pytest

from handoff import portable
from handoff.desk.edits import logbook
from handoff.desk.edits.failures import EditError
from handoff.desk.serve import ServeError, Serving, serve
from handoff.limits.reading import load_limits
from handoff.model.bounds import Bounds
from handoff.portable import windows
from handoff.run.bounds import OutOfBounds, within
from handoff.run.processes import ProcessExecutor
from handoff.store.folder import StoreError, storing, write_new
from tests.support.desks import NIGHT, setting
from tests.support.runs import content

OLD, NEW = b"old", b"new"


def take(descriptor: int) -> bool:
    """As Windows locks a file: for one who has it open, not for a process. There, a file that is
    open is not taken away; here it is, and then nobody has locked it.
    """
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return os.fstat(descriptor).st_nlink > 0


@pytest.fixture(autouse=True)
def _on_windows(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in portable.__all__:
        monkeypatch.setattr(portable, name, getattr(windows, name))
    monkeypatch.setattr(windows, "_take", take)
    monkeypatch.setattr(windows, "_MOVES_FOR_S", 0.05)


def put(folder: Path, sheet: bytes) -> None:
    with storing(str(folder)) as new:
        new.write("measures.json", sheet)


def held_open(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file, or something in a folder, that another program has open."""
    replace = Path.replace

    def replaced(self: Path, target: Path) -> Path:
        if path in (self, target):
            raise PermissionError(errno.EACCES, "Zugriff verweigert")
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", replaced)


def test_a_set_replaces_another_and_leaves_no_lock(tmp_path: Path) -> None:
    put(tmp_path / "out", OLD)
    put(tmp_path / "out", NEW)
    assert content(tmp_path) == {"out/measures.json": NEW}


def test_a_pdf_that_is_open_in_its_reader_is_to_be_closed_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put(tmp_path / "out", OLD)
    held_open(tmp_path / "out", monkeypatch)
    with pytest.raises(StoreError, match=r"has one of its files open\. Close the PDF first") as why:
        put(tmp_path / "out", NEW)
    assert "The earlier sheets are as they were" in str(why.value)
    assert content(tmp_path) == {"out/measures.json": OLD}


def test_a_new_set_that_a_scanner_keeps_open_brings_the_old_one_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put(tmp_path / "out", OLD)
    replace = Path.replace

    def replaced(self: Path, target: Path) -> Path:
        if ".new-" in self.name:
            raise PermissionError(errno.EACCES, "Zugriff verweigert")
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", replaced)
    with pytest.raises(StoreError, match=r"Permission denied; if another program has it open"):
        put(tmp_path / "out", NEW)
    assert content(tmp_path) == {"out/measures.json": OLD}


def test_a_scanner_that_lets_go_in_time_is_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(windows, "_MOVES_FOR_S", 30.0)
    refusals = [PermissionError(errno.EACCES, "Zugriff verweigert")] * 2
    replace = Path.replace

    def replaced(self: Path, target: Path) -> Path:
        if refusals:
            raise refusals.pop()
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", replaced)
    put(tmp_path / "out", NEW)
    assert content(tmp_path / "out") == {"measures.json": NEW}


def test_what_a_killed_run_left_is_cleared_and_what_a_running_one_writes_is_not(
    tmp_path: Path,
) -> None:
    for name in ("dead", "running"):
        (tmp_path / f".out.new-{name}").mkdir()
        (tmp_path / f".lock.out.new-{name}").write_bytes(b"")
    with windows.in_use(tmp_path / ".out.new-running"):
        put(tmp_path / "out", NEW)
        there = {each.name for each in tmp_path.iterdir()}
    assert there == {"out", ".out.new-running", ".lock.out.new-running"}
    write_new(str(tmp_path / "night.json"), NEW)
    put(tmp_path / "out", NEW)
    assert {each.name for each in tmp_path.iterdir()} == {"out", "night.json"}


def test_writers_of_a_log_wait_for_each_other(tmp_path: Path) -> None:
    log = tmp_path / "night.yaml"
    log.write_text(NIGHT)

    def add(nth: int) -> None:
        with logbook.locked(str(log)):
            before = logbook.read_log(str(log))
            time.sleep(0.01)
            logbook.add(before, f"{before.text}# {nth}\n")

    with ThreadPoolExecutor(4) as pool:
        list(pool.map(add, range(8)))
    with logbook.locked(str(log)):
        before = logbook.read_log(str(log))
        logbook.change(before, before.text.replace("# 7\n", "# seven\n"))
    added = log.read_text().removeprefix(NIGHT).split("\n")
    assert sorted(added) == ["", *sorted(f"# {nth}" for nth in range(7)), "# seven"]


def test_a_log_that_a_spreadsheet_has_open_is_to_be_closed_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    log = tmp_path / "night.csv"
    log.write_text("at\n")
    held_open(log, monkeypatch)
    with logbook.locked(str(log)), pytest.raises(EditError, match="close it there"):
        logbook.change(logbook.read_log(str(log)), "at,breaths\n")
    assert log.read_text() == "at\n"
    assert {each.name for each in tmp_path.iterdir()} == {"night.csv"}


def test_a_folder_that_may_not_be_written_to_can_still_be_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def denied(_path: Path) -> int:
        raise PermissionError(errno.EACCES, "Zugriff verweigert")

    monkeypatch.setattr(windows, "_opened", denied)
    with windows.locked(tmp_path, shared=True):
        pass
    with pytest.raises(PermissionError), windows.locked(tmp_path):
        pass


def busy() -> None:
    late = time.monotonic() + 20
    while time.monotonic() < late:
        pass


def test_a_run_that_takes_too_long_is_woken_by_a_watcher_and_the_signal_given_back() -> None:
    before = signal.getsignal(signal.SIGTERM)
    started, threads = time.monotonic(), threading.active_count()
    with pytest.raises(OutOfBounds, match="takes longer than 0 s"), within(Bounds(seconds=0)):
        busy()
    assert time.monotonic() < started + 10
    with within(Bounds()):
        pass
    assert signal.getsignal(signal.SIGTERM) is before
    assert threading.active_count() == threads


def test_too_much_memory_ends_a_run_too() -> None:
    with pytest.raises(OutOfBounds, match="more memory"), within(Bounds(memory_mb=1)):
        busy()


def test_workers_are_started_without_forking() -> None:
    with ProcessExecutor(1) as executor:
        assert isinstance(executor._context, multiprocessing.context.SpawnContext)
        assert executor.submit(sum, [1, 2]).result(60) == 3


def test_a_worker_that_is_ended_while_it_begins_is_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    """Windows keeps the worker's end of its pipe open in this process until the worker has it."""
    kept, start, close = [], SpawnProcess.start, Connection.close

    def ended_at_once(self: SpawnProcess) -> None:
        start(self)
        self.kill()

    def keep(self: "Connection[Any, Any]") -> None:
        kept.append(os.dup(self.fileno()))
        close(self)

    monkeypatch.setattr(SpawnProcess, "start", ended_at_once)
    monkeypatch.setattr(Connection, "close", keep)
    with ProcessExecutor(1) as executor:
        made = executor.submit(sum, [1, 2])
        try:
            with pytest.raises(BrokenExecutor):
                made.result(20)
        finally:
            for descriptor in kept:
                os.close(descriptor)


def test_a_folder_in_the_place_of_a_units_own_file_is_said_to_be_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened = Path.open

    def refused(self: Path, *given: Any, **named: Any) -> Any:
        if self == tmp_path:
            raise PermissionError(errno.EACCES, "Zugriff verweigert")
        return opened(self, *given, **named)

    monkeypatch.setattr(Path, "open", refused)
    (found,) = load_limits(str(tmp_path))[1]
    assert "Is a directory" in found.message


@pytest.mark.parametrize("refusal", [errno.EADDRINUSE, errno.EACCES, 10013, 10048])
def test_a_port_that_is_taken_is_said_to_be_whatever_windows_calls_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, refusal: int
) -> None:
    def refused(_self: socket.socket, _address: object) -> None:
        raise OSError(refusal, "Zugriff verweigert")

    monkeypatch.setattr("handoff.desk.serve.socket.socket.bind", refused)
    with pytest.raises(ServeError, match="port 8000 is taken by another program"):
        serve(setting(tmp_path), [], Serving(port=8000), print)


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (FileNotFoundError(errno.ENOENT, "Datei nicht da"), "No such file or directory"),
        (OSError(10061, "Verbindung verweigert"), "Verbindung verweigert"),
        (TimeoutError(), "TimeoutError"),
    ],
)
def test_the_reason_is_in_the_words_of_the_other_systems(error: OSError, words: str) -> None:
    assert windows.reason(error) == words


def test_a_file_takes_bytes_as_they_are(tmp_path: Path) -> None:
    path = tmp_path / "log"
    descriptor = windows.open_owners(path, os.O_WRONLY | os.O_CREAT)
    os.write(descriptor, b"a\nb\n")
    os.close(descriptor)
    windows.flush(path)
    windows.flush(tmp_path)
    assert path.read_bytes() == b"a\nb\n"

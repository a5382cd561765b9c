"""A log on disk: nothing is lost, whoever writes and whatever stops the writing."""

import multiprocessing
import os
import signal
import stat
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path

import pytest

from handoff.desk.edits import logbook
from handoff.desk.edits.failures import EditError
from handoff.read import read
from tests.support.desks import EVENING_CSV, NIGHT
from tests.support.writer import LONG, add, add_some


@pytest.fixture
def path(tmp_path: Path) -> str:
    log = tmp_path / "night.yaml"
    log.write_text(NIGHT)
    return str(log)


def test_threads_and_processes_lose_and_mix_nothing(path: str) -> None:
    context = multiprocessing.get_context("spawn")
    processes = [context.Process(target=add_some, args=(path, who)) for who in range(2)]
    for process in processes:
        process.start()
    with ThreadPoolExecutor(4) as pool:
        list(pool.map(lambda who: add_some(path, who), range(2, 6)))
    for process in processes:
        process.join(60)
        assert process.exitcode == 0
    text = Path(path).read_text()
    assert text.startswith(NIGHT)
    said = [(each.cells["at"], each.cells["note"]) for each in read(path).entries[2:]]
    wanted = [(f"21:{minute:02}", f"writer {who}") for who in range(6) for minute in range(5)]
    assert sorted(said) == sorted(wanted)


def test_a_writer_killed_at_any_moment_leaves_whole_entries(path: str) -> None:
    whole = 0
    for tenth in range(3):
        writer = subprocess.Popen([sys.executable, "-m", "tests.support.writer", path])
        before = Path(path).stat().st_size
        for _ in range(600):
            if Path(path).stat().st_size > before:
                break
            time.sleep(0.05)
        time.sleep(0.013 * tenth)
        os.kill(writer.pid, signal.SIGKILL)
        writer.wait()
        entries = read(path).entries
        assert all(each.cells["note"] == LONG for each in entries[2:])
        assert len(entries) > whole
        whole = len(entries)
    assert Path(path).read_text().startswith(NIGHT)


def test_what_a_full_disk_took_half_of_is_taken_off_again(
    path: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = os.write

    def write(descriptor: int, content: bytes) -> int:
        if len(content) < 10:
            raise OSError(28, "No space left on device")
        return real(descriptor, content[:-5])

    monkeypatch.setattr(os, "write", write)
    with pytest.raises(EditError, match="No space left"):
        add(path, 0, "lost")
    assert Path(path).read_text() == NIGHT
    with logbook.locked(path), pytest.raises(EditError, match="No space left"):
        logbook.change(logbook.read_log(path), NIGHT + "# more\n")
    assert Path(path).read_text() == NIGHT
    assert os.listdir(Path(path).parent) == ["night.yaml"]  # noqa: PTH208 - names alone


def test_a_changed_log_keeps_its_rights_and_its_backup_is_the_old_one(path: str) -> None:
    Path(path).chmod(0o640)
    with logbook.locked(path):
        log = logbook.read_log(path)
        backup = logbook.back_up(log, datetime.now(UTC))
        logbook.change(log, log.text.replace("25O0", "2500"))
    assert Path(path).read_text() == NIGHT.replace("25O0", "2500")
    assert stat.S_IMODE(Path(path).stat().st_mode) == 0o640
    assert backup.read_text() == NIGHT
    assert backup.suffix == ".before"
    assert stat.S_IMODE(backup.stat().st_mode) == 0o600


def test_a_log_that_is_set_read_only_is_neither_added_to_nor_replaced(path: str) -> None:
    Path(path).chmod(0o440)
    log = logbook.read_log(path)
    for write in (logbook.add, logbook.change):
        with logbook.locked(path), pytest.raises(EditError, match="is set read-only"):
            write(log, NIGHT + "# more\n")
    assert Path(path).read_text() == NIGHT
    assert stat.S_IMODE(Path(path).stat().st_mode) == 0o440
    with logbook.locked(path):
        assert logbook.changed_copy(log, NIGHT, "corrected").read_text() == NIGHT


def test_a_new_file_is_its_owners_and_replaces_none(tmp_path: Path) -> None:
    first = logbook.new_file(tmp_path, "a.csv", b"1")
    second = logbook.new_file(tmp_path, "a.csv", b"2")
    assert (first.name, second.name) == ("a.csv", "a-2.csv")
    assert first.read_bytes() == b"1"
    assert stat.S_IMODE(second.stat().st_mode) == 0o600


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "windows-1252"])
def test_a_log_keeps_its_encoding(tmp_path: Path, encoding: str) -> None:
    log = tmp_path / "night.csv"
    before = EVENING_CSV.replace("Quist, Bram", "Quíst, Bram").encode(encoding)
    log.write_bytes(before)
    add(str(log), 0, "señor")
    assert log.read_bytes().startswith(before)
    assert "señor" in log.read_bytes().decode(encoding)


def test_letters_that_the_log_cannot_hold_are_refused(tmp_path: Path) -> None:
    log = tmp_path / "night.csv"
    before = EVENING_CSV.replace("Quist", "Quíst").encode("windows-1252")
    log.write_bytes(before)
    with pytest.raises(EditError, match="windows-1252"):
        add(str(log), 0, "Ветрова")
    assert log.read_bytes() == before


def test_a_log_that_is_gone_is_one_sentence(tmp_path: Path) -> None:
    with (
        pytest.raises(EditError, match="No such file"),
        logbook.locked(str(tmp_path / "no" / "night.yaml")),
    ):
        pass
    with pytest.raises(EditError, match="No such file"):
        logbook.read_log(str(tmp_path / "night.yaml"))


def test_what_another_program_saved_meanwhile_is_not_written_over(path: str) -> None:
    log = logbook.read_log(path)
    Path(path).write_text(NIGHT + "# by an editor\n")
    for write in (logbook.add, logbook.change):
        with logbook.locked(path), pytest.raises(EditError, match="do it again"):
            write(log, NIGHT + "# by the desk\n")
    assert Path(path).read_text() == NIGHT + "# by an editor\n"


def test_everything_written_is_flushed_before_it_counts(
    path: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    flushed: list[int] = []
    monkeypatch.setattr(
        os, "fsync", lambda descriptor: flushed.append(os.fstat(descriptor).st_size)
    )
    add(path, 0, "flushed")
    assert flushed == [Path(path).stat().st_size]
    with logbook.locked(path):
        logbook.change(logbook.read_log(path), NIGHT)
    assert flushed[1] == len(NIGHT)
    assert len(flushed) == 3  # the file and, after it was renamed, its folder

"""Runs that are killed, crowded and refused, each in a process of its own forked from this one.

Run as `python -m tests.support.killed HOW FOLDER [KILLS]`; it prints what was seen as JSON.
Forked, since starting Python with all libraries anew takes far longer than a run: this process has
everything loaded, and has no threads.
"""

import json
import os
import random
import shutil
import signal
import sys
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout, suppress
from functools import partial
from pathlib import Path

import handoff.run.sheets  # noqa: F401 - loaded before any process is forked
from handoff import portable
from handoff.cli import main as cli
from handoff.store.folder import StoreError, storing
from tests.support.runs import content

Files = dict[str, bytes]
NOBODY = 65534

NIGHT = """\
unit: {{name: Harbour 3 East, time_zone: UTC, quiet_hours: none, phone: ext. 4410}}
shift: {{start: 2026-03-07 07:00, end: 2026-03-07 19:00}}
patients:
{patients}
entries:
{entries}
"""


def night(name: str) -> str:
    """A log of three patients whose names begin with this one, each in the same bed as others'."""
    patients = [
        f"- {{id: {name}-{bed}, name: '{name}, Bed {bed}', born: 1958-04-02, bed: {bed}, "
        "order: {start: 2026-03-06 07:00, breaths: 10, goal_ml: 1500}}"
        for bed in "123"
    ]
    entries = [
        f"- {{patient: {name}-{bed}, at: {hour}:00, volume_ml: {900 + 50 * hour}, breaths: 8}}"
        for bed in "123"
        for hour in range(10, 18)
    ]
    return NIGHT.format(patients="\n".join(patients), entries="\n".join(entries))


def make_sheets(log: Path, out: Path) -> int:
    with Path(os.devnull).open("w") as nothing, redirect_stdout(nothing), redirect_stderr(nothing):
        return cli.main(["sheets", str(log), "--out", str(out)])


def forked(task: Callable[[], int | None]) -> int:
    """The id of a child that does the task and ends: 0, or 1 with its fault on standard error."""
    sys.stdout.flush()
    child = os.fork()
    if child:
        return child
    code = 1
    try:
        code = task() or 0
    except Exception:  # noqa: BLE001 - said before the process ends
        traceback.print_exc()
    finally:
        os._exit(code)


def wait(child: int) -> int:
    """The child's exit code; minus the signal that ended it."""
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def begin_and_give_up(out: Path) -> None:
    """The start of a next run, which clears what others left; it changes nothing itself."""
    with suppress(ZeroDivisionError), storing(str(out)):
        raise ZeroDivisionError


def kill_at_random_moments(folder: Path, kills: int) -> dict[str, object]:
    """Runs over an existing set, alternately of two wards, killed at moments spread over a run."""
    out, wards = folder / "out", {name: folder / f"{name}.yaml" for name in ("Larkspur", "Quince")}
    for name, log in wards.items():
        log.write_text(night(name))
    sets = {}
    for name, log in wards.items():
        assert make_sheets(log, out) == cli.DONE
        sets[name] = content(out)
    started = time.monotonic()
    wait(forked(partial(make_sheets, wards["Larkspur"], out)))
    run_s = time.monotonic() - started
    chance, seen, faults = random.Random(1), Counter[str](), []
    current = "Larkspur"
    while seen["killed"] < kills:
        new = next(name for name in wards if name != current)
        child = forked(partial(make_sheets, wards[new], out))
        time.sleep(chance.uniform(0, 1.02 * run_s))
        os.kill(child, signal.SIGKILL)
        seen["killed" if wait(child) == -signal.SIGKILL else "ended before"] += 1
        found = next((name for name, files in sets.items() if files == content(out)), None)
        if found is None:
            faults.append(f"neither set after kill {seen['killed']}: {sorted(content(out))}")
            break
        seen["new set" if found == new else "old set"] += 1
        current = found
        seen["left something"] += len(beside(out)) > 0
        begin_and_give_up(out)
        if beside(out) or content(out) != sets[found]:
            faults.append(f"not cleared after kill {seen['killed']}: {beside(out)}")
            break
    return {"seen": seen, "faults": faults, "run_s": run_s}


def beside(out: Path) -> list[str]:
    """What stands beside the folder and the logs."""
    return [path.name for path in out.parent.iterdir() if path != out and path.suffix != ".yaml"]


OLD: Files = {"measures.json": b"old", "patients/bed-1.pdf": b"of Larkspur"}
NEW: Files = {
    "measures.json": b"new",
    "patients/bed-1.pdf": b"of Quince",
    "discharge/bed-1.pdf": b"x" * 9,
}


CALLS = {
    *("open", "os.mkdir", "os.rename", "os.remove", "os.rmdir", "os.chmod", "os.listdir"),
    *("os.scandir", "fcntl.flock", "shutil.rmtree", "tempfile.mkdtemp"),
}


def put(files: Files, out: Path) -> None:
    with storing(str(out)) as new:
        for name, each in files.items():
            new.write(name, each)


def kill_at_every_event(folder: Path, *, exchange: bool = True) -> dict[str, object]:
    """A new set put over an old one, killed before each call to the file system in its turn."""
    if not exchange:
        portable.exchange = lambda *_names: False
    out, seen, faults = folder / "out", Counter[str](), []
    put(OLD, out)

    def killed_before(event_number: int) -> None:
        countdown = iter(range(event_number))

        def look(event: str, _given: object) -> None:
            if event in CALLS and next(countdown, None) is None:
                os.kill(os.getpid(), signal.SIGKILL)

        sys.addaudithook(look)
        put(NEW, out)

    number = 0
    while wait(forked(partial(killed_before, number))) == -signal.SIGKILL:
        number += 1
        if exchange and content(out) not in (OLD, NEW):
            faults.append(f"neither set at event {number}: {content(out)}")
        seen["no set until the next run"] += not out.exists()
        seen["left something"] += len(beside(out)) > 0
        begin_and_give_up(out)
        now = content(out)
        if now not in (OLD, NEW) or beside(out):
            faults.append(f"not cleared after event {number}: {now} {beside(out)}")
        seen["new set" if now == NEW else "old set"] += 1
        put(OLD, out)
    seen["killed"] = number
    return {"seen": seen, "faults": faults, "ended": content(out) == NEW}


def crowd(folder: Path, rounds: int) -> dict[str, object]:
    """Four runs into one folder at the same time, each of another ward; one whole set is left."""
    out, seen, faults = folder / "out", Counter[str](), []
    names = ("Larkspur", "Quince", "Harrow", "Tansy")
    sets = []
    for name in names:
        (folder / f"{name}.yaml").write_text(night(name))
        make_sheets(folder / f"{name}.yaml", out)
        sets.append(content(out))
    for _ in range(rounds):
        logs = [folder / f"{name}.yaml" for name in names]
        children = [forked(partial(make_sheets, log, out)) for log in logs]
        seen.update(f"exit {wait(child)}" for child in children)
        if content(out) not in sets or beside(out):
            faults.append(f"{sorted(content(out))}, beside it {beside(out)}")
    return {"seen": seen, "faults": faults}


@contextmanager
def as_nobody() -> Iterator[None]:
    """In a child: a user who has no rights on anything but what is open to all."""
    if os.getuid() == 0:
        os.setgroups([])
        os.setgid(NOBODY)
        os.setuid(NOBODY)
    os.chdir("/")
    yield


def refused(folder: Path) -> dict[str, object]:
    """What is said where the rights do not allow it, by which case; '' where it was allowed."""
    said = {}
    for case, (mode, of_out) in {
        "folder beside it not to be written": (0o555, 0o700),
        "folder beside it not to be entered": (0o600, 0o700),
        "earlier set of another user": (0o777, 0o700),
    }.items():
        ward = folder / case.replace(" ", "-")
        put(OLD, ward / "out")
        (ward / "out").chmod(of_out)
        ward.chmod(mode)
        answer = folder / "answer"
        answer.write_text("")
        answer.chmod(0o666)

        def try_it(ward: Path = ward, answer: Path = answer) -> None:
            with answer.open("w") as stream, as_nobody():
                try:
                    put(NEW, ward / "out")
                except StoreError as error:
                    stream.write(str(error))

        code = wait(forked(try_it))
        ward.chmod(0o700)
        (ward / "out").chmod(0o700)
        whole = content(ward / "out") == OLD and not beside(ward / "out")
        said[case] = answer.read_text() if code == 0 and whole else f"code {code}, whole: {whole}"
    return {"said": said}


HOW: dict[str, Callable[[Path, int], dict[str, object]]] = {
    "random": kill_at_random_moments,
    "events": lambda folder, _: kill_at_every_event(folder),
    "events-without-exchange": lambda folder, _: kill_at_every_event(folder, exchange=False),
    "crowd": crowd,
    "refused": lambda folder, _: refused(folder),
}

if __name__ == "__main__":
    _, how, where, *count = sys.argv
    base = Path(where)
    shutil.rmtree(base, ignore_errors=True)
    base.mkdir(parents=True)
    sys.stdout.write(json.dumps(HOW[how](base, int(count[0]) if count else 0)))

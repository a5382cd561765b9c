"""The command line, run while everything that it does outside its files is written down.

`guarded(arguments, may_read, out, cwd)` runs it in a process of its own, under an audit hook that
notes each network call, each program started, each file opened, made, moved or removed other than
those that it was given, its own and its libraries' code and data, time-zone data, and `out` with
what is put beside it. It also notes each piece of code compiled that holds `CANARY`.

The hook sees what Python does, and not what a library does in C.
"""

import json
import os
import subprocess
import sys
import sysconfig
import tempfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.support.logs import ROOT

CANARY = "qanary"  # stands in hostile text, and never in code

# Where Python, its packages and this program's own files lie, and data of the machine that says
# nothing of a patient: clock changes, the system's name for errors, a source of chance.
OWN = (
    *{Path(path).resolve() for path in (*sys.path, *sysconfig.get_paths().values()) if path},
    *{Path(prefix).resolve() for prefix in (sys.prefix, sys.base_prefix)},
    *(ROOT / name for name in ("handoff", "templates", "tests")),
    *map(Path, ("/usr/share/zoneinfo", "/etc/localtime", "/dev/null", "/dev/urandom")),
    Path("/sys/fs/cgroup"),  # how many processors there are
)
# Read, where they are there, by ReportLab.
SETTINGS = (".reportlab_settings", ".reportlab_mods")
FORBIDDEN = (
    *("socket.", "urllib.", "http.", "ftplib.", "smtplib.", "webbrowser."),
    *("subprocess.", "os.system", "os.exec", "os.spawn", "os.posix_spawn", "os.fork", "pty."),
)
CHANGES = (
    *("os.mkdir", "os.rename", "os.remove", "os.rmdir", "os.link", "os.symlink", "os.chmod"),
    *("os.chown", "os.truncate", "os.utime", "shutil.", "tempfile."),
)
LOCKS = (".handoff.lock",) if sys.platform == "win32" else ()
WRITING = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND


@dataclass(frozen=True)
class Guarded:
    """What a run came to, and what it did that it should not have."""

    code: int
    out: str
    err: str
    noted: list[str]


def guarded(
    arguments: Sequence[str], may_read: Iterable[Path], out: Path, **surroundings: Any
) -> Guarded:
    """Run the command line with these arguments; `surroundings` go to the process."""
    with tempfile.TemporaryDirectory() as folder:
        notes, home, temporary = (Path(folder) / name for name in ("notes", "home", "temporary"))
        home.mkdir()
        temporary.mkdir()
        given = json.dumps([str(notes), [str(path.resolve()) for path in may_read], str(out)])
        of_its_own = {"PYTHONPATH": str(ROOT), "HOME": str(home), "TMPDIR": str(temporary)}
        run = subprocess.run(
            [sys.executable, "-m", "tests.support.guarded", given, *arguments],
            capture_output=True,
            text=True,
            check=False,
            env={**os.environ, **of_its_own},
            **surroundings,
        )
        assert notes.exists(), run.stderr
        left = [str(path) for place in (home, temporary) for path in place.iterdir()]
        noted = [*json.loads(notes.read_text()), *(f"left behind: {path}" for path in left)]
        return Guarded(run.returncode, run.stdout, run.stderr, noted)


class Guard:
    """The hook."""

    def __init__(self, may_read: Iterable[Path], out: Path) -> None:
        self.may_read = (*may_read, *OWN)
        self.out = out
        self.home = Path.home()
        self.noted: list[str] = []

    def __call__(self, event: str, arguments: tuple[Any, ...]) -> None:
        if event.startswith(FORBIDDEN):
            self.noted.append(f"{event} {arguments!r}")
        elif event == "compile" and CANARY in str(arguments[0]):
            self.noted.append(f"code of a log: {arguments!r}")
        elif event == "open" and not isinstance(arguments[0], int):
            path, mode, flags = arguments
            writes = bool(flags & WRITING) or bool(mode and set(mode) & set("wax+"))
            self._look(event, path, writes=writes)
        elif event.startswith(CHANGES):
            for path in arguments:
                if isinstance(path, (str, bytes)):
                    self._look(event, path, writes=True)

    def _look(self, event: str, path: str | bytes, *, writes: bool) -> None:
        where = Path(os.fsdecode(path))
        if writes and event in ("os.remove", "os.rmdir") and len(where.parts) == 1:
            return  # within a folder that is being removed, whose own name was looked at
        where = Path(os.path.normpath(where if where.is_absolute() else Path.cwd() / where))
        if self._is_out(where):
            return
        is_setting = where.parent == self.home and where.name in SETTINGS
        if writes or not (is_setting or any(where.is_relative_to(own) for own in self.may_read)):
            self.noted.append(f"{event} {'to write ' if writes else ''}{where}")

    def _is_out(self, path: Path) -> bool:
        """In the folder for the sheets, or in one beside it that becomes it or was it; on Windows
        the locks of both are files.
        """
        if path.is_relative_to(self.out) or path in self.out.parents:
            return True
        beside = self.out.parent
        in_beside = path.is_relative_to(beside) and path != beside
        name = path.relative_to(beside).parts[0] if in_beside else ""
        if sys.platform == "win32":
            name = name.removeprefix(".lock")
        return name.startswith((f".{self.out.name}.", *LOCKS))


def _main() -> None:
    notes, may_read, out = json.loads(sys.argv[1])
    guard = Guard([Path(path) for path in may_read], Path(out))
    from handoff.cli.main import main  # noqa: PLC0415 - before the hook, as the tests themselves are

    sys.dont_write_bytecode = True  # in its own folder, where that may be written
    sys.addaudithook(guard)
    try:
        code = main(sys.argv[2:])
    finally:
        noted, guard.noted = guard.noted, []
        guard.may_read = (*guard.may_read, Path(notes))
        guard.out = Path(notes).parent
        Path(notes).write_text(json.dumps(noted))
    sys.exit(code)


if __name__ == "__main__":
    _main()

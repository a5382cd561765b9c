"""One thing to double-click: the program with Python and all libraries in one folder, zipped.

Run as `python -m tests.bundle.build FOLDER`, with PyInstaller and `handoff[desk]` installed. Makes
`FOLDER/dist/handoff` with `handoff` for a terminal and `handoff-desk` to double-click, the licences
of everything in it in `NOTICES.txt`, and `FOLDER/handoff-SYSTEM.zip`; then tries it elsewhere, with
an empty environment: every page of the sample ward, and a desk that is opened, opened again,
written to and closed.
"""

import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from platformdirs import user_documents_path

from tests.bundle.notices import notices
from tests.support.runs import WARD, content
from tests.support.servers import Served

ROOT = Path(__file__).parents[2]
ON_WINDOWS = sys.platform == "win32"
PROGRAM = ".exe" if ON_WINDOWS else ""
# Windows starts nothing without these; nothing else is handed on.
NOTHING = {name: os.environ[name] for name in ("SYSTEMROOT", "USERPROFILE") if name in os.environ}
PRINTED = (
    ["sheets", *WARD, "--jobs", "2"],
    ["card", *WARD, "--language", "ar"],
    ["review", *WARD],
    ["blank", *WARD],
)
# Under the LGPL and the MPL: in files that can be replaced.
REPLACEABLE = ("bidi/__init__.py", "bidi/bidi*", "pikepdf/__init__.py", "pikepdf/_core*")
STARTS_WITHIN_S = 120.0
# Stands in for the browser: keeps what it is asked to open, and where it would look for libraries.
BROWSER = """
import os, sys
from pathlib import Path
Path(__file__).with_name("opened").write_text(
    sys.argv[1] + "\\n" + os.environ.get("LD_LIBRARY_PATH", "")
)
"""


def main(folder: Path) -> None:
    """Build, pack and try."""
    built, work = folder / "dist" / "handoff", folder / "work"
    where = ["--distpath", built.parent, "--workpath", work]
    command = ["-m", "PyInstaller", "--noconfirm", "--log-level", "ERROR", *where]
    run(sys.executable, *command, ROOT / "tests" / "bundle" / "handoff.spec", of_root=True)
    if not ON_WINDOWS:
        strip(built / "_internal")
    packed = pack(built, work)
    with tempfile.TemporaryDirectory() as elsewhere:
        try_out(packed, Path(elsewhere).resolve())


def pack(built: Path, work: Path) -> Path:
    """The zipped folder, with the notices in it."""
    lines = (work / "handoff" / "bundled.txt").read_text(encoding="utf-8").splitlines()
    bundled = {name: Path(path) for name, path in (line.split("\t") for line in lines)}
    (built / "NOTICES.txt").write_text(notices(bundled), encoding="utf-8")
    for pattern in REPLACEABLE:
        assert any((built / "_internal").glob(pattern)), pattern
    target = built.parents[1] / f"handoff-{sys.platform}"
    packed = Path(shutil.make_archive(str(target), "zip", built.parent))
    sizes = [sum(len(each) for each in content(built).values()), packed.stat().st_size]
    sys.stdout.write("{:.0f} MB, {:.0f} MB zipped\n".format(*(size / 2**20 for size in sizes)))
    return packed


def try_out(packed: Path, elsewhere: Path) -> None:
    """Unpack, print and open the desk."""
    shutil.unpack_archive(packed, elsewhere)
    there = elsewhere / "handoff"
    for name in ("handoff", "handoff-desk"):
        (there / f"{name}{PROGRAM}").chmod(0o755)  # this way of unpacking keeps no rights
    for number, arguments in enumerate(PRINTED):
        try_printing(there, elsewhere / str(number), arguments)
    try_desk(there, elsewhere)


def strip(libraries: Path) -> None:
    """Take what only a debugger reads out of a Python that was built on this machine."""
    built_here = [*libraries.glob("libpython*"), *libraries.glob("python3*/**/*.so")]
    run("strip", "--strip-unneeded", *built_here, of_root=True)


def run(*command: object, of_root: bool = False) -> None:
    """Run a command in an environment with nothing but, if asked for, the way to this checkout."""
    env = {**os.environ, "PYTHONPATH": str(ROOT)} if of_root else NOTHING
    given = [str(each) for each in command]
    done = subprocess.run(
        given,
        check=False,
        env=env,
        stdin=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        encoding="utf-8",
    )
    assert done.returncode in (0, 1), (given, done.stderr)


def try_printing(there: Path, out: Path, arguments: list[str]) -> None:
    """The sample ward has the same bytes from the bundle and from this Python."""
    run(there / f"handoff{PROGRAM}", *arguments, "--out", out / "bundle")
    run(sys.executable, "-m", "handoff", *arguments, "--out", out / "python", of_root=True)
    made, wanted = content(out / "bundle"), content(out / "python")
    assert wanted
    assert made == wanted, sorted(name for name in wanted if made.get(name) != wanted[name])
    sys.stdout.write(f"{arguments[0]}: {len(made)} files, all of the same bytes\n")


def try_desk(there: Path, home: Path) -> None:
    """The desk opens on the documents' folder, is shown by a second start, takes an entry and is
    closed by its button.
    """
    documents = user_documents_path().resolve() if ON_WINDOWS else home / "Documents"
    folder = documents / "handoff"
    folder.mkdir(parents=True)  # one that is there already is somebody's, and ends this
    log, opened = folder / Path(WARD[-1]).name, home / "opened"
    shutil.copy(WARD[-1], log)
    before = log.read_bytes()
    (home / "browser.py").write_text(BROWSER, encoding="utf-8")
    python = Path(sys.executable).with_name("pythonw.exe" if ON_WINDOWS else "python")
    browser = f"{python.as_posix()} {(home / 'browser.py').as_posix()} %s"
    env = {**NOTHING, "HOME": str(home), "BROWSER": browser}
    program = there / f"handoff-desk{PROGRAM}"
    process = subprocess.Popen([program], env=env, text=True, stdin=subprocess.DEVNULL)
    try:
        address = appears(opened)
        assert address.startswith("http://127.0.0.1:")
        served = Served(process, address).let_in()
        hidden, page = served.form("/logs"), served.ask("/logs")[2]
        assert str(folder) in page
        opened.unlink()
        second = subprocess.run([program], env=env, check=False, stdin=subprocess.DEVNULL)
        assert second.returncode == 0
        assert appears(opened) == (folder / ".handoff-desk.html").as_uri()
        key = page.partition('name="log" value="')[2].partition('"')[0]
        assert served.ask("/logs/open", {**hidden, "log": key})[0] == 303
        assert served.add(served.beds()[0], at="18:55", breaths="7") == 303
        assert "The desk is closed" in served.ask("/logs/close-desk", served.form("/logs"))[2]
        assert process.wait(60) == 0
    finally:
        process.kill()
    assert log.read_bytes().startswith(before)
    assert b"18:55" in log.read_bytes().removeprefix(before)
    shutil.rmtree(folder)
    sys.stdout.write("the desk was opened, opened again, written to and closed\n")


def appears(opened: Path) -> str:
    """What the browser was asked to open, soon after; it gets no libraries of the bundle."""
    late = time.monotonic() + STARTS_WITHIN_S
    while not opened.exists() or "\n" not in opened.read_text(encoding="utf-8"):
        assert time.monotonic() < late, "no browser was opened"
        time.sleep(0.2)
    address, libraries = opened.read_text(encoding="utf-8").split("\n")
    assert libraries == ""
    return address


if __name__ == "__main__":
    if len(sys.argv) == 1:
        sys.exit(__doc__)
    main(Path(sys.argv[1]).resolve())

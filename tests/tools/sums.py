"""SHA-256 of everything that the program prints of the samples, to compare before and after a
change that must not change what is printed.

Run as `python -m tests.tools.sums > before.txt`, and the same after the change; `diff` names what
changed.
"""

import contextlib
import hashlib
import io
import os
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from handoff.cli import main as cli
from tests.support.logs import ROOT, options, read_handovers


def logs() -> dict[str, list[str]]:
    """The sample logs by a name for them; paths as seen from the repository."""
    samples = Path("sample_inputs")
    return {
        "ward": sorted(str(each) for each in samples.glob("ward/*.yaml")),
        "ward and elsewhere": sorted(
            str(each) for part in ("ward", "elsewhere") for each in samples.glob(f"{part}/*.yaml")
        ),
        "messy": [str(samples / "messy.csv")],
        **{each.stem: [str(each)] for each in sorted(samples.glob("clock-change/*.yaml"))},
    }


def sums() -> Iterator[tuple[str, str]]:
    """(what, sum) of each file and each text."""
    for name, paths in logs().items():
        for paper in ("letter", "a4"):
            for more in ([], ["--initials"]):
                command = ["sheets", *paths, "--paper", paper, *more]
                yield from _files(f"{name}: sheets {paper} {' '.join(more)}".rstrip(), command)
        for more in ([], ["--for", "unit"]):
            yield from _files(f"{name}: blank {' '.join(more)}".rstrip(), ["blank", *paths, *more])
        yield f"{name}: check --json", _printed(["check", *paths, "--json"])
        for bed in _beds(paths):
            yield f"{name}: explain {bed}", _printed(["explain", *paths, "--bed", bed])
            command = ["explain", *paths, "--bed", bed, "--matter", "all"]
            yield f"{name}: explain {bed} --matter all", _printed(command)


def _files(what: str, command: list[str]) -> Iterator[tuple[str, str]]:
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "out"
        yield what, _printed([*command, "--out", str(out)], folder)
        for path in sorted(each for each in out.rglob("*") if each.is_file()):
            yield f"{what}: {path.relative_to(out)}", _sum(path.read_bytes())


def _beds(paths: list[str]) -> list[str]:
    handovers, _ = read_handovers(paths, options(), None)
    beds = {patient.bed for handover in handovers for patient in handover.patients}
    return sorted(bed for bed in beds if bed)


def _printed(command: list[str], folder: str = "") -> str:
    """The sum of what a command says on both streams, and its exit code."""
    said, found = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(said), contextlib.redirect_stderr(found):
        code = cli.main(command)
    text = f"{code}\n{said.getvalue()}\n{found.getvalue()}"
    return _sum((text.replace(folder, "") if folder else text).encode())


def _sum(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


if __name__ == "__main__":
    os.chdir(ROOT)
    for what, of_it in sums():
        sys.stdout.write(f"{of_it}  {what}\n")

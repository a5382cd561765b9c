"""Runs of the program in this process, and the files they leave."""

from pathlib import Path

from handoff.cli import main as cli
from tests.support.logs import SAMPLES

WARD = sorted(str(path) for path in (SAMPLES / "ward").glob("*.yaml"))


def content(folder: Path) -> dict[str, bytes]:
    """Every file under a folder by relative name."""
    paths = (path for path in folder.rglob("*") if path.is_file())
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in paths}


def sheets(out: Path, *arguments: str) -> dict[str, bytes]:
    """Run `handoff sheets` and read what it wrote, by relative name."""
    assert cli.main(["sheets", *arguments, "--out", str(out)]) in (0, 1)
    return content(out)

"""Runs of the program in this process, and the files they leave."""

import stat
import sys
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from types import MappingProxyType

from handoff.cli import main as cli
from tests.support.logs import SAMPLES

WARD = sorted(str(path) for path in (SAMPLES / "ward").glob("*.yaml"))


def content(folder: Path) -> dict[str, bytes]:
    """Every file under a folder by relative name."""
    paths = (path for path in folder.rglob("*") if path.is_file())
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in paths}


def is_its_owners(path: Path) -> bool:
    """Whether only its owner may use a file or folder; on Windows no mode tells, and so True."""
    wanted = 0o700 if path.is_dir() else 0o600
    return sys.platform == "win32" or stat.S_IMODE(path.stat().st_mode) == wanted


def sheets(out: Path, *arguments: str) -> dict[str, bytes]:
    """Run `handoff sheets` and read what it wrote, by relative name."""
    assert cli.main(["sheets", *arguments, "--out", str(out)]) in (0, 1)
    return content(out)


@cache
def of_ward(*options: str) -> Mapping[str, bytes]:
    """What `handoff sheets` wrote of the sample ward, once for all tests that read it."""
    with TemporaryDirectory() as folder:
        return MappingProxyType(sheets(Path(folder) / "out", *WARD, *options))

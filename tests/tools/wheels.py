"""Which of handoff's dependencies have a wheel for which system: what the README may claim.

Input: `pyproject.toml` and the package index. Output: a table, a row a library, and for each system
the newest version within the bounds that installs there without a compiler, or `none`. Needs the
network.
"""

import json
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from urllib.request import Request, urlopen

from packaging.requirements import Requirement
from packaging.tags import Tag, compatible_tags, cpython_tags, mac_platforms
from packaging.utils import InvalidWheelFilename, parse_wheel_filename
from packaging.version import Version

INDEX = "https://pypi.org/simple"
PYTHONS = ((3, 11), (3, 14))
BY_EXTRA = ["rl-accel"]  # what the extra in `reportlab[accel]` asks for


def linux(machine: str, glibc_minor: int) -> list[str]:
    """The platform tags of a Linux with this glibc, as PEP 600 names them, and the older names."""
    older = {5: "manylinux1", 12: "manylinux2010", 17: "manylinux2014"}
    tags = [f"manylinux_2_{minor}_{machine}" for minor in range(glibc_minor, 4, -1)]
    return [*tags, *(f"{name}_{machine}" for name in older.values())]


def musl(machine: str) -> list[str]:
    """The platform tags of a Linux with musl 1.2, as PEP 656 names them."""
    return [f"musllinux_1_{minor}_{machine}" for minor in (2, 1, 0)]


SYSTEMS = {
    "Windows x86": ["win_amd64"],
    "Windows Arm": ["win_arm64"],
    "macOS 15 Arm": list(mac_platforms((15, 0), "arm64")),
    "macOS 13 Arm": list(mac_platforms((13, 0), "arm64")),
    "macOS 15 Intel": list(mac_platforms((15, 0), "x86_64")),
    "macOS 13 Intel": list(mac_platforms((13, 0), "x86_64")),
    "Linux x86": linux("x86_64", 28),
    "Linux Arm": linux("aarch64", 28),
    "musl x86": musl("x86_64"),
    "musl Arm": musl("aarch64"),
}


def tags_of(python: tuple[int, int], platforms: list[str]) -> frozenset[Tag]:
    """The tags of the wheels that one Python takes on one system."""
    own = cpython_tags(python, platforms=platforms)
    return frozenset((*own, *compatible_tags(python, platforms=platforms)))


def wheels_of(requirement: Requirement) -> Iterator[tuple[Version, frozenset[Tag]]]:
    """Each wheel of the index within the bounds: its version and its tags."""
    address = f"{INDEX}/{requirement.name}/"
    accept = {"Accept": "application/vnd.pypi.simple.v1+json"}
    with urlopen(Request(address, headers=accept)) as answer:  # noqa: S310 - the index, by https
        files = json.load(answer)["files"]
    for file in files:
        try:
            _name, version, _build, tags = parse_wheel_filename(file["filename"])
        except InvalidWheelFilename:
            continue
        if not file.get("yanked") and version in requirement.specifier:
            yield version, tags


def write_row(*cells: str) -> None:
    """A row of the table."""
    sys.stdout.write(f"| {' | '.join(cells)} |\n")


def main() -> None:
    """Print the table; where the Pythons of `PYTHONS` differ, a cell has the version of each."""
    project = tomllib.loads(Path("pyproject.toml").read_text("utf-8"))["project"]
    extras = project["optional-dependencies"]
    needed = [*project["dependencies"], *BY_EXTRA]
    needed += [each for name in extras if name != "test" for each in extras[name]]
    taken = [[tags_of(python, tags) for python in PYTHONS] for tags in SYSTEMS.values()]
    write_row("library", *SYSTEMS)
    write_row(*("---" for _ in range(len(SYSTEMS) + 1)))
    for requirement in map(Requirement, needed):
        wheels = sorted(wheels_of(requirement), key=lambda wheel: wheel[0], reverse=True)
        cells = []
        for system in taken:
            newest = [
                next((str(version) for version, tags in wheels if tags & theirs), "none")
                for theirs in system
            ]
            cells.append(" / ".join(dict.fromkeys(newest)))
        write_row(str(requirement), *cells)


if __name__ == "__main__":
    main()

"""How long the review of a year takes, and how much memory: one unit of 30 beds, 730 logs.

Run by hand: `python -m tests.benchmarks.bench_review [--days N] [--jobs N] [--tables]`. Prints
seconds by the clock and of processor time, of all processes, and the memory of the largest one.
"""

import argparse
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from contextlib import suppress
from datetime import date
from pathlib import Path
from typing import NamedTuple

import psutil

from tests.support.unit_weeks import Unit, write_logs

YEAR = Unit(days=365, first=date(2025, 1, 6), vitals=True)
# An installed program has its modules compiled.
AS_INSTALLED = {name: os.environ[name] for name in {*os.environ} - {"PYTHONDONTWRITEBYTECODE"}}
LOOK_EVERY_S = 0.1


class Took(NamedTuple):
    """What a command took, with its workers."""

    clock_s: float
    processor_s: float
    largest_mb: float


def main() -> None:
    """Write the logs, review them, print what it took."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", type=int, default=YEAR.days)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--tables", action="store_true", help="with the tables behind the review")
    options = parser.parse_args()
    asked = ["--jobs", str(options.jobs), *(["--tables"] if options.tables else [])]
    with tempfile.TemporaryDirectory() as folder:
        logs = Path(folder) / "logs"
        logs.mkdir()
        unit = Unit(days=options.days, first=YEAR.first, vitals=YEAR.vitals)
        paths = write_logs(logs, unit, seed=1)
        entries = sum(Path(path).read_text(encoding="utf-8").count("- {patient") for path in paths)
        command = [sys.executable, "-m", "handoff", "review", *paths, "--out", f"{folder}/out"]
        took = run([*command, *asked])
    lines = [
        f"{len(paths)} logs, {entries:,} entries, {' '.join(asked)}",
        f"{took.clock_s:.1f} s by the clock, {took.processor_s:.1f} s of processor time",
        f"at most {took.largest_mb:.0f} MB in one process",
    ]
    print("\n".join(lines))  # noqa: T201 - its output


def run(command: Sequence[str]) -> Took:
    """Run the command, and look at it and its workers until it ends."""
    processor_s: dict[int, float] = {}
    largest_bytes = 0
    started = time.perf_counter()
    with psutil.Popen(
        command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=AS_INSTALLED
    ) as it:
        while it.poll() is None:
            with suppress(psutil.Error):
                for each in (it, *it.children(recursive=True)):
                    times = each.cpu_times()
                    processor_s[each.pid] = times.user + times.system
                    largest_bytes = max(largest_bytes, each.memory_info().rss)
            time.sleep(LOOK_EVERY_S)
    if it.returncode not in {0, 1}:
        raise SystemExit(f"it ended with {it.returncode}")
    return Took(time.perf_counter() - started, sum(processor_s.values()), largest_bytes / 2**20)


if __name__ == "__main__":
    main()

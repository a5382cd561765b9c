"""How long the review of a year takes, and how much memory: one unit of 30 beds, 730 logs.

Run by hand: `python -m tests.benchmarks.bench_review [--days N] [--jobs N]`. Prints seconds by the
clock and of processor time, and the most memory of the run and of its largest worker.
"""

import argparse
import os
import resource
import subprocess
import sys
import tempfile
import time
from datetime import date
from pathlib import Path

from tests.support.unit_weeks import Unit, write_logs

YEAR = Unit(days=365, first=date(2025, 1, 6), vitals=True)
# An installed program has its modules compiled.
AS_INSTALLED = {name: os.environ[name] for name in {*os.environ} - {"PYTHONDONTWRITEBYTECODE"}}


def main() -> None:
    """Write the logs, review them, print what it took."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", type=int, default=YEAR.days)
    parser.add_argument("--jobs", type=int, default=1)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        logs = Path(folder) / "logs"
        logs.mkdir()
        unit = Unit(days=options.days, first=YEAR.first, vitals=YEAR.vitals)
        paths = write_logs(logs, unit, seed=1)
        entries = sum(Path(path).read_text(encoding="utf-8").count("- {patient") for path in paths)
        command = [sys.executable, "-m", "handoff", "review", *paths, "--out", f"{folder}/out"]
        started = time.perf_counter()
        run = subprocess.run(
            [*command, "--tables", "--jobs", str(options.jobs)],
            check=False,
            capture_output=True,
            text=True,
            env=AS_INSTALLED,
        )
        took_s = time.perf_counter() - started
        of_children = resource.getrusage(resource.RUSAGE_CHILDREN)
    if run.returncode not in {0, 1}:
        raise SystemExit(run.stderr)
    processor_s = of_children.ru_utime + of_children.ru_stime
    lines = [
        run.stdout.strip(),
        f"{len(paths)} logs, {entries:,} entries, --jobs {options.jobs}, with --tables",
        f"{took_s:.1f} s by the clock, {processor_s:.1f} s of processor time",
        f"at most {of_children.ru_maxrss / 1024:.0f} MB in one process",
    ]
    print("\n".join(lines))  # noqa: T201 - its output


if __name__ == "__main__":
    main()

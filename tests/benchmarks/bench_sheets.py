"""How long sheets take, against floors and peers measured in the same run.

Run by hand, after `pip install weasyprint typst` for two of the peers:
`python -m tests.benchmarks.bench_sheets [--runs N] [--patients N ...]`. Prints each ratio, then the
medians that it is made of. What is measured and its yardstick take turns, so that what else the
machine does falls on both.
"""

import argparse
import gc
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

from handoff.compose.patient import compose_patient
from handoff.compose.results import Results
from handoff.compose.words import Words
from handoff.judge import judge
from handoff.judge.since import find_changes
from handoff.limits.reading import load_limits
from handoff.measure import measure
from handoff.model.pages import PatientPage
from handoff.model.ward import Handover
from handoff.run.garbage import forget_seldom
from handoff.run.sheets import Printing, produce_unit
from tests.benchmarks import peers
from tests.benchmarks.region import PATIENTS, write_region
from tests.support.logs import options, read_handovers

LIBRARIES = "import matplotlib.figure, reportlab.pdfgen.canvas, jinja2, yaml"
# An installed program has its modules compiled.
TARGETS = (6, 8, 0.3)  # times the pages a second of each peer; the last is the quickest known
AS_INSTALLED = {name: os.environ[name] for name in {*os.environ} - {"PYTHONDONTWRITEBYTECODE"}}
STARTED = """
import resource, subprocess, sys, time
started = time.perf_counter()
subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL, check=True)
print(time.perf_counter() - started, resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)
"""
STAGES = """
import time; times = [time.perf_counter()]
from handoff import check, gather, read, cli; times.append(time.perf_counter())
from datetime import UTC, datetime
options = check.Options(None, None, None, None, datetime.now(UTC))
sheet = read.read({path!r}); times.append(time.perf_counter())
log, _ = check.check(sheet, options); times.append(time.perf_counter())
gather.gather([log], None, options.now); times.append(time.perf_counter())
print(*(after - before for before, after in zip(times, times[1:])))
"""


def wall_s(command: Sequence[str]) -> tuple[float, float]:
    """Seconds that a command takes, and the most memory in MB that it or a child of it takes.

    A small process starts it: the system counts what the starting one had for the started one.
    """
    small = [sys.executable, "-S", "-c", STARTED]
    ran = subprocess.check_output([*small, *command], text=True, env=AS_INSTALLED)
    spent_s, most = ran.splitlines()[-1].split()
    return float(spent_s), float(most) / (2**20 if sys.platform == "darwin" else 2**10)


def in_turn(runs: int, *each: Callable[[], float]) -> list[float]:
    """The median seconds of each, taking turns."""
    taken = [[one() for one in each] for _ in range(runs)]
    return [statistics.median(times) for times in zip(*taken, strict=True)]


def handoff(*arguments: str) -> list[str]:
    return [sys.executable, "-m", "handoff", *arguments]


def python(program: str) -> Callable[[], float]:
    return lambda: wall_s([sys.executable, "-c", program])[0]


def show(words: str) -> None:
    sys.stdout.write(words + "\n")
    sys.stdout.flush()


def one_ward(logs: list[str], out: str, runs: int) -> None:
    """Target 1: a ward from cold start to the last file."""
    ward_s, libraries_s = in_turn(
        runs, lambda: wall_s(handoff("sheets", *logs, "--out", out))[0], python(LIBRARIES)
    )
    show(
        f"one ward, {PATIENTS} patients, 8 logs: {ward_s / libraries_s:.2f} times the bare import "
        f"of the five libraries ({1000 * ward_s:.0f} ms over {1000 * libraries_s:.0f} ms; target 2)"
    )


def a_check(log: str, runs: int) -> None:
    """Target 3: the check of one log, and what its stages share."""
    check_s, floor_s = in_turn(
        runs, lambda: wall_s(handoff("check", log))[0], python("import yaml")
    )
    command = [sys.executable, "-c", STAGES.format(path=log)]
    shares = [
        subprocess.check_output(command, text=True, env=AS_INSTALLED).split() for _ in range(runs)
    ]
    parts = [1000 * statistics.median(map(float, each)) for each in zip(*shares, strict=True)]
    named = zip(("import", "read", "check", "gather"), parts, strict=True)
    show(
        f"check of one log: {check_s / floor_s:.2f} times Python and PyYAML "
        f"({1000 * check_s:.0f} ms over {1000 * floor_s:.0f} ms; target 4); "
        + ", ".join(f"{name} {part:.0f} ms" for name, part in named)
    )


def one_more_page(logs: list[str], runs: int) -> None:
    """Target 2: what a further patient takes, against the floor and the peers."""
    handover, pages = composed(logs)
    limits, _ = load_limits(None)
    assert limits
    recorded = [peers.record(page) for page in pages]
    ways: dict[str, Callable[[], object]] = {
        "handoff, all of it": lambda: list(produce_unit(handover, limits, Printing())),
        "floor: the same strings and paths": lambda: peers.floor(recorded),
        "matplotlib's file of many pages": lambda: peers.matplotlib_pages(pages),
        "HTML to PDF": lambda: peers.html_to_pdf(pages),
        "a typesetter in Rust": lambda: peers.typst_pages(pages),
    }
    for way in ways.values():
        way()
    taken = in_turn(runs, *(partial(timed, way) for way in ways.values()))
    own_s, *others = taken
    show(
        f"one more page: {1000 * own_s / PATIENTS:.1f} ms a patient (measures, chart, sheet, "
        "joined sheets, summary, JSON; target 35)"
    )
    floor_s, *others = others
    show(f"  {own_s / floor_s:.2f} times the floor, {1000 * floor_s / PATIENTS:.1f} ms (target 3)")
    for name, other_s, target in zip(list(ways)[2:], others, TARGETS, strict=True):
        show(
            f"  {other_s / own_s:.1f} times the pages a second of {name}, "
            f"{1000 * other_s / PATIENTS:.0f} ms (target {target})"
        )


def composed(logs: list[str]) -> tuple[Handover, list[PatientPage]]:
    """The hand-over of a ward and its patients' pages."""
    (handover,), _ = read_handovers(logs, options(), None)
    limits, _ = load_limits(None)
    assert limits
    measures = measure(handover)
    verdicts = {each: judge(measures[each], handover, limits) for each in measures}
    since = find_changes(handover, measures, verdicts)
    results = Results(handover, measures, verdicts, limits, since)
    words = Words(handover.unit.time_zone)
    return handover, [
        compose_patient(results, each.patient, words, (1, 1)) for each in measures.values()
    ]


def timed(way: Callable[[], object]) -> float:
    gc.collect()
    started = time.process_time()
    way()
    return time.process_time() - started


def growth(counts: Sequence[int]) -> None:
    """Target 4: time for each patient, and all memory of the process, as patients become more."""
    first_mb = 0.0
    for count in counts:
        units = max(1, round(count / PATIENTS))
        with tempfile.TemporaryDirectory() as folder:
            logs = write_region(Path(folder), units)
            out = str(Path(folder) / "out")
            spent_s, most_mb = wall_s(handoff("sheets", *logs, "--out", out))
            two_s, _ = wall_s(handoff("sheets", *logs, "--out", out, "--jobs", "2"))
        patients = units * PATIENTS
        first_mb = first_mb or most_mb
        show(
            f"{patients:>6,} patients in {units} units: {1000 * spent_s / patients:.1f} ms a "
            f"patient, {spent_s:.1f} s; at most {most_mb:.0f} MB, {most_mb / first_mb:.2f} times "
            f"that of the fewest (target 1.25 at 3,000 to 150, and 300 MB); two processes "
            f"{spent_s / two_s:.2f} times as fast (target 1.8)"
        )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--patients", type=int, nargs="*", default=[150, 3_000])
    given = parser.parse_args()
    forget_seldom()
    with tempfile.TemporaryDirectory() as folder:
        logs = write_region(Path(folder), 1)
        one_ward(logs, str(Path(folder) / "out"), given.runs)
        one_more_page(logs, given.runs)
        a_check(logs[-1], given.runs)
    growth(given.patients)


if __name__ == "__main__":
    main()

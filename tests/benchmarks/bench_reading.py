"""How many rows a second are read, checked and gathered, and how much memory that takes.

Run by hand: `python -m tests.benchmarks.bench_reading [--wide] [ROWS ...]`. Each size runs in a
process of its own, since the most memory that a process took is all that the system tells. A row
has three cells of an exercise, or where they are wide fifteen, with a note that no other row has.
"""

import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

from handoff.check import check
from handoff.gather import gather
from handoff.model.bounds import Bounds
from handoff.portable import peak_memory_mb
from handoff.read import read
from handoff.run.garbage import forget_seldom
from tests.support.bad_logs import HEADER, IN_OPTIONS
from tests.support.logs import NOW, options

SIZES = (10_000, 100_000, 1_000_000)
ROWS_A_PATIENT = 400
BOUNDS = Bounds(size_mb=1024, rows=10_000_000)
MINUTES = [
    f"2026-03-{7 + (19 * 60 + minute) // 1440:02}"
    f" {(19 * 60 + minute) // 60 % 24:02}:{minute % 60:02}"
    for minute in range(420)  # up to the hour that does not exist in that night
]
SYLLABLES = ("ba", "do", "fe", "gi", "hu", "jy")  # each letter once: no two names are nearly one


WIDE = ",hold_s,flow,seen_by,pain,spo2,resp_rate,pulse,temp_c,on_oxygen,position"


def rows(count: int, *, wide: bool) -> Iterator[str]:
    """So many rows of one shift, each patient's facts on the first of their rows."""
    yield HEADER.replace("\n", f"{WIDE}\n") if wide else HEADER
    for number in range(count):
        patient, entry = divmod(number, ROWS_A_PATIENT)
        facts = f'"{_name(patient)}",1958-04-02,{patient},2026-03-06 10:00' if entry == 0 else ",,,"
        what = f"{entry % 10 + 1},{900 + entry % 50 * 10},{'dizzy' if entry % 40 == 0 else ''}"
        more = f"sat up, round {number}" if wide else ""
        signs = f"{entry % 8},{90 + entry % 9},{14 + entry % 8},{70 + entry % 30},36.{entry % 10}"
        beside = f",{entry % 5 + 1},steady,nurse,{signs},no,sitting" if wide else ""
        yield f'{10_000 + patient},{facts},{MINUTES[entry]},,,{what},"{more}"{beside}\n'


def _name(number: int) -> str:
    """Family names of people who are not easily mixed up."""
    base = len(SYLLABLES)
    letters = [SYLLABLES[number // base**place % base] for place in range(5)]
    return f"{''.join(letters).capitalize()}, Odile"


def loop_s() -> float:
    """How long a bare loop of a million additions takes: what else the machine has to do."""
    start, total = time.process_time(), 0
    for number in range(1_000_000):
        total += number
    return time.process_time() - start


def measure(count: int, *, wide: bool) -> str:
    """One line of the table."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "night.csv"
        with path.open("w") as file:
            file.writelines(rows(count, wide=wide))
        forget_seldom()
        before_mb = peak_memory_mb()
        times = [time.process_time()]
        sheet = read(str(path), BOUNDS)
        times.append(time.process_time())
        log, findings = check(sheet, options(**IN_OPTIONS))
        times.append(time.process_time())
        assert log is not None, findings
        assert log.counts.used == count, findings[:3]
        gather([log], None, NOW)
        times.append(time.process_time())
    read_s, check_s, gather_s = (after - before for before, after in pairwise(times))
    rate = count / (read_s + check_s)
    return (
        f"{count:>9,} rows: read {read_s:6.2f} s, check {check_s:6.2f} s, gather {gather_s:6.2f} s;"
        f" read and check {rate:8,.0f} rows a second; {peak_memory_mb() - before_mb:6,.0f} MB;"
        f" a bare loop {loop_s():.3f} s"
    )


if __name__ == "__main__":
    is_wide = "--wide" in sys.argv
    sizes = [int(each) for each in sys.argv[1:] if each != "--wide"] or SIZES
    if len(sizes) == 1:
        sys.stdout.write(measure(sizes[0], wide=is_wide) + "\n")
    else:
        shape = ["--wide"] if is_wide else []
        for size in sizes:
            subprocess.run([sys.executable, "-m", __spec__.name, *shape, str(size)], check=True)

"""How fast the desk is: its pages, a change seen in another window, and a round by keys.

Run by hand: `python -m tests.benchmarks.bench_desk`. Prints a table; asserts nothing.
"""

import re
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any

from tests.support.browsers import chromium, tab
from tests.support.desks import Opened, open_desk
from tests.support.servers import serving

RUNS = 30
HEAD = """\
unit: {{name: Oak, time_zone: Etc/UTC}}
shift: {{start: {start:%Y-%m-%d %H:%M}, end: {end:%Y-%m-%d %H:%M}}}
patients:
"""
PATIENT = (
    '- {{id: "{id}", name: "Invented {id}, A", born: 1950-01-01, bed: "{id}",'
    " order: {{start: {start:%Y-%m-%d %H:%M}, goal_ml: 1500}}}}\n"
)
PAGES = ("/", "/live", "/round", "/entry", "/put-right", "/logs", "/sheets")


def write_log(path: Path, patients: int, entries: int) -> datetime:
    """A log of the running shift with its entries spread over the six hours before now, but for
    the first patient, who has none; gives the shift's start.
    """
    now = datetime.now(UTC).replace(second=0, microsecond=0)
    start = now.replace(minute=0) - timedelta(hours=6)
    lines = [HEAD.format(start=start, end=start + timedelta(hours=12))]
    lines += [PATIENT.format(id=number, start=start) for number in range(1, patients + 1)]
    lines.append("entries:\n")
    for number in range(entries):
        at = start + timedelta(minutes=number * 350 // entries)
        lines.append(
            f'- {{patient: "{number % (patients - 1) + 2}", at: "{at:%Y-%m-%d %H:%M}", breaths: 10,'
            f" volume_ml: {900 + number % 40 * 10}, spo2: 95, pain: 2}}\n"
        )
    path.write_text("".join(lines))
    return start


def add(path: Path, cells: str) -> None:
    with path.open("a") as log:
        log.write(f'- {{patient: "1", at: {datetime.now(UTC):%H:%M}, {cells}}}\n')


def median_ms(call: Callable[[], object], runs: int = RUNS) -> float:
    times = []
    for _ in range(runs):
        began = time.perf_counter()
        call()
        times.append(time.perf_counter() - began)
    return 1000 * statistics.median(times)


def show(what: str, value: str) -> None:
    sys.stdout.write(f"{what:<58} {value}\n")
    sys.stdout.flush()


def pages(opened: Opened, runs: int) -> None:
    """Each page's median time where nothing changed, and its size."""
    keys = re.findall(r'data-key="(\w+)"', opened.get("/").get_data(as_text=True))
    patient = f"/patients/{keys[-1]}"
    of_one = [patient, f"{patient}/facts", f"{patient}/told", f"/entry?bed={keys[-1]}"]
    for path in (*PAGES, *of_one):
        size = len(opened.get(path).data) / 1000
        took = median_ms(partial(opened.get, path), runs)
        shown = re.sub(r"\w{24}", "KEY", path)
        show(f"  {shown}", f"{took:7.0f} ms {size:6.0f} kB")


def on_the_server() -> None:
    for patients, entries, runs in [(30, 180, RUNS), (30, 10_000, 3)]:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "day.yaml"
            write_log(path, patients, entries)
            opened = open_desk(Path(folder), "day.yaml")
            opened.get("/")
            show(f"{patients} patients, {entries} entries", "")
            pages(opened, runs)
            times = []
            for number in range(3):
                add(path, f"pain: {number}")
                times.append(median_ms(partial(opened.get, "/"), 1))
            show("  / after the log has changed", f"{statistics.median(times):7.0f} ms")


def by_keys(page: Any, name: str, row: Any, keys: list[str], done: str) -> None:
    began = time.perf_counter()
    for key in keys:
        page.keyboard.press(key)
        if key in {"Enter", "e", "a", "t"} and key is keys[0]:
            row.locator("form").wait_for()
    page.locator("#said", has_text=done).wait_for()
    show(f"  {name}", f"{len(keys)} keys, {time.perf_counter() - began:.2f} s")


def in_a_browser() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        start = write_log(folder / "day.yaml", 30, 180)
        with (folder / "day.yaml").open("a") as log:
            at = start + timedelta(hours=5, minutes=55)
            danger = f'- {{patient: "9", at: "{at:%Y-%m-%d %H:%M}", breaths: 8, spo2: 84'
            log.write(danger + ", on_oxygen: no}\n")
        with serving(folder, "day.yaml") as served, chromium() as browser, tab(browser) as page:
            page.goto(served.address)
            page.wait_for_url(f"{served.origin}/")
            show("a round by keys, in a browser", "")
            rows = page.locator("tbody.one")
            for what, keys, said in [
                ("exercise with volume", ["Enter", *"10", "Tab", *"1350", "Enter"], "1350 mL"),
                (
                    "exercise with volume and SpO2",
                    ["Enter", *"10", "Tab", *"1350", "Tab", *"96", "Enter"],
                    "SpO2 96 %",
                ),
                ("asleep", ["a", "Space", "Enter"], "asleep"),
            ]:
                page.locator("tbody[data-next] [data-does=entry]").first.focus()
                row = page.locator("tbody[data-next]").first
                by_keys(page, what, row, keys, said)
                page.wait_for_timeout(1500)
                if page.locator(".place").count():
                    page.keyboard.press("Escape")
            rows.first.locator("[data-does=entry]").focus()
            told = ["t", "Space", "Tab", *"Dr Quill", "Enter"]
            by_keys(page, "told about an open matter", rows.first, told, "told")
            times = []
            two = page.context.new_page()
            two.goto(served.origin)
            for number in range(5):
                text = f"last {700 + number} mL"
                began = time.perf_counter()
                add(folder / "day.yaml", f"breaths: {5 + number}, volume_ml: {700 + number}")
                two.get_by_text(text).wait_for()
                times.append(time.perf_counter() - began)
                two.wait_for_timeout(300)
            show(
                "a change of the log is seen in an open window", f"{max(times):.2f} s at most of 5"
            )


if __name__ == "__main__":
    on_the_server()
    in_a_browser()

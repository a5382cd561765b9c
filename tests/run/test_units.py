"""A unit at a time gives the same as all units at once, and the others are not held meanwhile."""

import gc
from collections import Counter
from collections.abc import Mapping
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from random import Random

import pytest

from handoff.check import check
from handoff.cli import main as cli
from handoff.gather import gather
from handoff.limits.reading import load_limits
from handoff.model.ward import Handover, Log
from handoff.read import parse
from handoff.run.handovers import read_units
from handoff.run.sheets import Printing, produce
from handoff.run.units import UnitLogs, gather_units
from tests.benchmarks.region import SHIFTS, write_region
from tests.support.logs import NOW, options, read_handovers

UNITS = ("East", "North", "West")
NAMES = ("Larkspur", "Larkspur", "Larkspur", "Moss")
BIRTHS = (1958, 1958, 1958, 1985)
WHAT = (
    *("breaths: 8", "breaths: 8, volume_ml: 1500", "what: told, note: Dr Quill"),
    *("what: left, note: home", "what: left", "what: hold", "spo2: 88"),
)
FIRST = datetime(2026, 3, 4, 7)  # noqa: DTZ001 - a local time, as a log has it
REGIONS = 40


def random_region(seed: int) -> dict[str, str]:
    """Logs by name of units that list some of six ids: the same people, and others."""
    draw = Random(seed)
    count = draw.randint(1, 6)  # of most units, so that their latest shifts are often the same
    return {
        f"{unit}-{number}.yaml": _log(draw, unit, FIRST + timedelta(hours=12 * number))
        for unit in UNITS
        for number in range(draw.choice((count, count, draw.randint(1, 6))))
    }


def _log(draw: Random, unit: str, usual_start: datetime) -> str:
    start = usual_start + timedelta(hours=draw.choice((0, 0, 0, 1, 12)))
    end = start + timedelta(hours=draw.choice((8, 12, 12)))
    patients, entries = [], []
    for number in draw.sample(range(6), draw.randint(0, 4)):
        ordered = start - timedelta(hours=draw.choice((1, 30, 60)))
        order = draw.choice(("", f', order: {{start: "{ordered:%Y-%m-%d %H:%M}"}}'))
        patients.append(
            f'{{id: "{number}", name: "{draw.choice(NAMES)} {number}, Odile", '
            f"born: {draw.choice(BIRTHS)}-04-02, bed: {number}{order}}}"
        )
        for _ in range(draw.randint(0, 4)):
            at = f"{start + timedelta(minutes=draw.randrange(-60, 800, 60)):%Y-%m-%d %H:%M}"
            entries.append(f'{{patient: "{number}", at: "{at}", {draw.choice(WHAT)}}}')
    return (
        f"unit: {{name: {unit}, time_zone: UTC}}\n"
        f'shift: {{start: "{start:%Y-%m-%d %H:%M}", end: "{end:%Y-%m-%d %H:%M}"}}\n'
        f"patients: [{', '.join(patients)}]\nentries: [{', '.join(entries)}]\n"
    )


def write(folder: Path, logs: Mapping[str, str]) -> list[str]:
    for name, text in logs.items():
        (folder / name).write_text(text)
    return [str(folder / name) for name in logs]


def test_units_one_at_a_time_give_the_same_as_all_at_once(tmp_path: Path) -> None:
    met: Counter[str] = Counter()
    for seed in range(REGIONS):
        as_of = None if seed % 3 else "2026-03-06 20:00"
        folder = tmp_path / str(seed)
        folder.mkdir()
        paths = write(folder, random_region(seed))
        logs = [check(parse(Path(path).read_text(), path), options())[0] for path in paths]
        whole = gather([log for log in logs if log], as_of, NOW)
        handovers, findings = read_handovers(paths, options(), as_of)
        assert (handovers, tuple(findings)) == whole, seed
        met.update(found.code for found in findings)
        met["other unit"] += sum(
            len({listing.unit for listing in listings}) > 1
            for handover in handovers
            for listings in handover.listings.values()
        )
    assert min(met[each] for each in ("other unit", "on-two-units", "charted-after-left")) > 5


def logs_held() -> int:
    return sum(isinstance(each, Log) for each in gc.get_objects())


def test_the_logs_of_one_unit_are_held_at_a_time(tmp_path: Path) -> None:
    """Besides those of the first unit, which stay as they are."""
    limits, _ = load_limits(None)
    assert limits
    gc.collect()
    before = logs_held()
    units, _ = read_units(write_region(tmp_path, 4, 2), options(), None)
    held = [logs_held()]

    def keep(unit: UnitLogs, _: Handover) -> UnitLogs:
        held.append(logs_held())
        return unit

    gathered, _, _ = gather_units(units, keep)
    by_name = {str(n): partial(unit.hand_over, limits) for n, unit in enumerate(gathered)}
    held += [logs_held() for _ in produce(by_name, limits, Printing(beds=frozenset({"1A"})))]
    assert len(held) > len(units)
    assert max(held) - before <= 3 * SHIFTS  # the first unit's, and one unit's as read and as used


def test_logs_are_read_once(tmp_path: Path) -> None:
    paths = write_region(tmp_path, 2, 2)
    units, _ = read_units(paths, options(), None)
    for path in paths:
        Path(path).unlink()
    handovers, findings, _ = gather_units(units, lambda _, handover: handover)
    assert [len(each.patients) for each in handovers] == [2, 2]
    assert findings == []


@pytest.mark.parametrize("place", [0, 2])
def test_nothing_is_made_where_one_log_cannot_be_used(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], place: int
) -> None:
    """The findings of all logs are said, in the order in which these are read."""
    paths = write_region(tmp_path, 3, 2)
    bad = Path(paths[place * SHIFTS])
    bad.write_text(bad.read_text().replace("time_zone", "zone"))
    for path in (paths[1], paths[-1]):
        Path(path).write_text(Path(path).read_text().replace("breaths: ", "breaths: x", 1))
    out = tmp_path / "out"
    assert cli.main(["sheets", *paths, "--out", str(out)]) == cli.NOTHING_PRODUCED
    assert not out.exists()
    named = [line.split(": ")[1].split(":")[0] for line in capsys.readouterr().err.splitlines()]
    assert set(named) == {str(bad), paths[1], paths[-1]}
    assert named == sorted(named, key=paths.index)

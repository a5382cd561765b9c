"""The sample inputs, checked and handed over."""

from datetime import UTC, datetime
from functools import cache
from pathlib import Path

from handoff.check import Options, check
from handoff.gather import gather
from handoff.model.ward import Handover, Log
from handoff.read import read
from tests.support.logs import SAMPLES

SHIFTS = sorted((SAMPLES / "ward").glob("*.yaml"))
NIGHT = SAMPLES / "ward" / "2026-03-06-night.yaml"
ELSEWHERE = SAMPLES / "elsewhere" / "2026-03-06-night.yaml"
NIGHT_CSV = SAMPLES / "2026-03-06-night.csv"
NIGHT_XLSX = SAMPLES / "2026-03-06-night.xlsx"
MESSY = SAMPLES / "messy.csv"
SPRING, AUTUMN = sorted((SAMPLES / "clock-change").glob("*.yaml"))
LATER = datetime(2027, 1, 1, tzinfo=UTC)


@cache
def checked(path: Path) -> Log:
    log, findings = check(read(str(path)), Options(None, None, None, None, LATER))
    assert log is not None, findings
    return log


@cache
def handed_over(*paths: Path) -> Handover:
    handovers, findings = gather([checked(path) for path in paths], None, LATER)
    assert len(handovers) == 1, findings
    return handovers[0]

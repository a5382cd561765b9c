"""Reads and checks small logs for the tests."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path

from handoff.check import Options, check
from handoff.gather import gather
from handoff.model.findings import Finding
from handoff.model.ward import Handover, Log
from handoff.read import parse, read, text_of
from handoff.run.handovers import Handovers, read_units
from handoff.run.units import gather_units
from tests.support.bad_logs import Found

ROOT = Path(__file__).parents[2]
SAMPLES = ROOT / "sample_inputs"
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
NOW = datetime(2027, 1, 1, 12, tzinfo=UTC)


def utc(moment: str) -> datetime:
    return datetime.fromisoformat(moment).replace(tzinfo=UTC)


def options(
    unit: str | None = None,
    time_zone: str | None = None,
    shift: str | None = None,
    dates: str | None = None,
) -> Options:
    """Options that say nothing but what is given."""
    return Options(unit, time_zone, shift, dates, NOW)


def check_text(
    text: str, name: str = "night.yaml", given: Mapping[str, str] | None = None
) -> tuple[Log | None, tuple[Finding, ...]]:
    """The log in `text` as if it stood in the file `name`."""
    return check(parse(text, name), options(**(given or {})))


def as_text(content: bytes, name: str) -> str:
    """The text of a log's bytes, also of a workbook."""
    text, _ = text_of(content, name)
    assert text is not None
    return text


def log_of(text: str, name: str = "night.yaml", given: Mapping[str, str] | None = None) -> Log:
    """The log in `text`, which must be one that can be used."""
    log, findings = check_text(text, name, given)
    assert log is not None, findings
    return log


def hand_over(*logs: Log, as_of: str | None = None) -> Handover:
    """The one hand-over of the logs."""
    (handover,), findings = gather(logs, as_of, NOW)
    assert set(handover.findings) == set(findings)
    return handover


def read_handovers(paths: Sequence[str], given: Options, as_of: str | None) -> Handovers:
    """The hand-over of each unit, all at once; none where a log cannot be used at all."""
    units, findings = read_units(paths, given, as_of)
    handovers, found, _ = gather_units(units, lambda _, handover: handover)
    return tuple(handovers), [*findings, *found]


def check_file(path: Path, given: Mapping[str, str]) -> tuple[Log | None, tuple[Finding, ...]]:
    """The log at `path`, checked."""
    return check(read(str(path)), options(**given))


def found_in(findings: Iterable[Finding]) -> list[Found]:
    """Where what was found, in the order of the findings."""
    return [(each.place.line, each.place.column, each.code) for each in findings]

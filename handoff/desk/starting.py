"""A new log: the shift's times, with the patients and orders of the shift before -> a file.

Enters: what a person says of the shift, and a hand-over or what is said of the unit. Leaves: a new
log in the folder, made as `handoff blank` makes it. Carries over whom the person keeps on the list
and nothing that was charted.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from handoff.blank import Blank, starter_yaml
from handoff.check import Options, check
from handoff.compose import Words
from handoff.desk import logbook
from handoff.desk.ward import Desk
from handoff.file_names import distinct_names
from handoff.findings import Finding
from handoff.model import Handover, Shift
from handoff.read import silent
from handoff.written import written


@dataclass(frozen=True, slots=True)
class Asked:
    """What a person says of the new log, as it is typed; `keep` are the ids of who stays."""

    unit: str
    time_zone: str
    start: str
    end: str
    name: str = ""
    outgoing: str = ""
    incoming: str = ""
    keep: frozenset[str] = frozenset()


def next_times(shift: Shift, before: Handover) -> Mapping[str, str]:
    """The times of the shift that follows one, if it is as long: to be looked at, not a fact."""
    zone = before.unit.time_zone
    end = shift.end.astimezone(zone).replace(tzinfo=None)
    length = end - shift.start.astimezone(zone).replace(tzinfo=None)
    return {"start": written_clock(end), "end": written_clock(end + length)}


def written_clock(wall: datetime) -> str:
    """A local time as a log has it."""
    return wall.isoformat(" ", "minutes")


def start_log(desk: Desk, asked: Asked, before: Handover | None) -> tuple[str, tuple[Finding, ...]]:
    """Write the new log into the folder; its path, or '' and what is wrong.

    It is opened too, but for a shift that is still to come: the one that is open is not over, and
    its entries and sheets go on.
    """
    told = Options(
        asked.unit,
        asked.time_zone,
        f"{asked.start}/{asked.end}",
        desk.setting.dates,
        datetime.now(UTC),
    )
    log, findings = check(silent("new log"), told)
    if log is None:
        return "", tuple(findings)
    shift = replace(
        log.shift,
        name=asked.name or None,
        outgoing=asked.outgoing or None,
        incoming=asked.incoming or None,
    )
    blank = Blank(log.unit, more=0, shift=shift)
    if before:
        kept = tuple(each for each in before.patients if each.id in asked.keep)
        blank = replace(
            blank,
            unit=before.unit,
            before=before.shift,
            patients=kept,
            name_alerts=before.name_alerts,
        )
    printing = desk.setting.printing
    words = Words(blank.unit.time_zone, printing.language, printing.templates)
    start = written(shift.start, blank.unit.time_zone)
    (name,) = distinct_names("", [f"{start[:10]} {shift.name or start[11:]}"])
    path = logbook.new_file(desk.setting.folder, f"{name}.yaml", starter_yaml(blank, words.say))
    if before is None or shift.start <= datetime.now(UTC):
        desk.open([*desk.paths, str(path)])
    return str(path), ()

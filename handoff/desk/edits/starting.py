"""A new log: the shift's times, with the patients and orders of the shift before -> a file.

Input: a person's facts of the shift, and a hand-over or facts of the unit. Output: a new log in the
folder, as `handoff blank` makes it. Carries over the patients that the person keeps, and their open
matters as comments. Never carries over an entry.
"""

from collections.abc import Mapping

from msgspec.structs import replace

from handoff.check import Options, check
from handoff.compose.languages import UnitWords
from handoff.compose.still_open import open_comments
from handoff.desk.edits import logbook
from handoff.desk.edits.failures import EditError
from handoff.desk.edits.history import Change, Kind, Noted
from handoff.desk.ward import EARLY, Desk
from handoff.log.blank import Blank, starter_yaml
from handoff.log.written import written
from handoff.measure import shift_after
from handoff.model.findings import Finding
from handoff.model.frozen import Frozen
from handoff.model.ward import Handover, Log
from handoff.model.wording import DESK
from handoff.read import parse, silent
from handoff.run.blank import blank_after
from handoff.store.file_names import distinct_names


class NewLog(Frozen):
    """The typed facts of the new log; `keep` are the ids of patients who stay."""

    unit: str
    time_zone: str
    start: str
    end: str
    name: str = ""
    outgoing: str = ""
    incoming: str = ""
    keep: frozenset[str] = frozenset()


def next_times(before: Handover) -> Mapping[str, str]:
    """Suggested times of the next shift, those of the round list: a person checks them."""
    following, zone = shift_after(before), before.unit.time_zone
    walls = [
        each.astimezone(zone).replace(tzinfo=None) for each in (following.start, following.end)
    ]
    start, end = (each.isoformat(" ", "minutes") for each in walls)
    return {"start": start, "end": end}


def start_log(
    desk: Desk, fields: NewLog, before: Handover | None
) -> tuple[str, tuple[Finding, ...]]:
    """Write the new log into the folder; its path, or '' and the findings.

    It is also opened: where its shift is still to come, it takes over by itself when that begins.
    One that is to come later than within a day is not opened.
    """
    options = Options(
        fields.unit,
        fields.time_zone,
        f"{fields.start}/{fields.end}",
        desk.setting.dates,
        desk.now(),
    )
    log, findings = check(silent(DESK.say("new-log.file")), options)
    if log is None:
        return "", tuple(findings)
    shift = replace(
        log.shift,
        name=fields.name or None,
        outgoing=fields.outgoing or None,
        incoming=fields.incoming or None,
    )
    blank = Blank(log.unit, more=0, shift=shift)
    if before:
        blank = replace(_after(desk, before), shift=shift)
        kept = tuple(each for each in blank.patients if each.id in fields.keep)
        blank = replace(blank, patients=kept)
    start = written(shift.start, blank.unit.time_zone)
    (name,) = distinct_names("", [f"{start[:10]} {shift.name or start[11:]}"])
    path = logbook.new_file(desk.setting.folder, f"{name}.yaml", _content(desk, blank))
    if before is None or shift.start <= desk.now() + EARLY:
        desk.open([*desk.paths, str(path)])
    return str(path), ()


def renew_log(desk: Desk, before: Handover, made_early: Log) -> Change:
    """Write a log that was made early anew, with the patients and orders of now.

    Raises `EditError` where it has an entry already.
    """
    content = _content(desk, replace(_after(desk, before), shift=made_early.shift)).decode()
    path = made_early.file
    with logbook.locked(path):
        log = logbook.read_log(path)
        old, new = parse(log.text, path), parse(content, path)
        if any(cell.strip() for each in old.entries for cell in each.cells.values()):
            raise EditError("has-entries")
        was, now = ([each.cells for each in raw_log.patients] for raw_log in (old, new))
        noted = Noted(
            Kind.LIST_ANEW,
            tuple(each for each in was if each not in now),
            tuple(each for each in now if each not in was),
        )
        return desk.change(log, content, noted)


def _content(desk: Desk, blank: Blank) -> bytes:
    printing = desk.setting.printing
    words = UnitWords(blank.unit.time_zone, printing.language, printing.templates).staff
    return starter_yaml(blank, words.say, open_comments(blank, words))


def _after(desk: Desk, before: Handover) -> Blank:
    """The log after a hand-over, with what is open of its patients."""
    found = [each for each in desk.ward().results if each.handover.unit == before.unit]
    if not found:
        raise EditError("logs-changed")
    return blank_after(found[0])

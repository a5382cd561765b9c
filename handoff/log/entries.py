"""Compares entries with each other, within a log and across logs, and sets entries aside.

Input: entries that were read. Output: entries that say the same, entries of the same minute, and
the log with some entries set aside. Never changes an entry.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime
from zoneinfo import ZoneInfo

from msgspec.structs import replace

from handoff.model.codes import finding
from handoff.model.findings import Finding, Place
from handoff.model.frozen import Frozen
from handoff.model.ward import Counts, Entry, Log, SetAside, What

_SAID = (What.TOLD, What.NOTE)

Caught = tuple[Entry, Finding]


def put_aside(log: Log, caught: Iterable[Caught]) -> Log:
    """The log with the caught entries set aside, and with their findings."""
    reasons = {id(entry): reason for entry, reason in caught}
    if not reasons:
        return log
    out = [entry for entry in log.entries if id(entry) in reasons]
    if not out:
        return log
    return replace(
        log,
        entries=tuple(entry for entry in log.entries if id(entry) not in reasons),
        set_aside=log.set_aside + tuple(_set_aside(entry, reasons[id(entry)]) for entry in out),
        counts=log.counts + Counts(read=0, used=-len(out), set_aside=len(out)),
        findings=log.findings + tuple(reasons[id(entry)] for entry in out),
    )


def _set_aside(entry: Entry, reason: Finding) -> SetAside:
    return SetAside(
        place=entry.place,
        reason=reason,
        raw=filled(entry.raw),
        patient_id=entry.patient_id,
        at=entry.at,
        signs=entry.signs,
        unread=entry.unread,
        likely=entry.likely,
    )


def filled(cells: Mapping[str, str]) -> dict[str, str]:
    """The cells that are not blank."""
    return {name: cell for name, cell in cells.items() if cell.strip()}


def about(entry: Entry, code: str, field: str, **words: object) -> Finding:
    """A finding about one field of an entry."""
    return finding(code, entry.place, field, entry.raw.get(field, "").strip() or None, **words)


def local(moment: datetime, zone: ZoneInfo) -> str:
    """An instant in the unit's local time, for the words of a finding."""
    return moment.astimezone(zone).strftime("%Y-%m-%d %H:%M")


class Begun(Frozen):
    """An order that begins after another, of a patient."""

    place: Place
    patient_id: str
    start: datetime


def new_orders(begun: Iterable[Begun], zone: ZoneInfo) -> Iterator[Finding]:
    """One note on all of these in a file, at the first of them: they are seldom wrong."""
    of_files: defaultdict[str, list[Begun]] = defaultdict(list)
    for each in begun:
        of_files[each.place.file].append(each)
    for of_one in of_files.values():
        first, *others = of_one
        said = ", ".join(f"{each.patient_id} {local(each.start, zone)}" for each in of_one)
        found = finding("new-order", first.place, "order_start", begun=said)
        yield replace(found, related=tuple(each.place for each in others))


def repeats(entries: Iterable[Entry]) -> Iterator[Caught]:
    """Entries that repeat an earlier entry exactly."""
    for group in _same_minute_groups(entries):
        first: dict[tuple[object, ...], Entry] = {}
        for entry in group:
            kept = first.setdefault(entry.content, entry)
            if kept is not entry:
                found = about(entry, "repeated-entry", "at")
                yield entry, replace(found, related=(kept.place,))


def different_at_same_minute(entries: Iterable[Entry]) -> Iterator[Finding]:
    """Different entries of one patient at the same minute. Who finds a danger tells of it at once:
    what was told, or noted, is in doubt only beside another of its kind.
    """
    for group in _same_minute_groups(entries):
        first: dict[What | None, Entry] = {}
        for entry in group:
            kept = first.setdefault(entry.what if entry.what in _SAID else None, entry)
            if kept is not entry:
                yield replace(about(entry, "same-minute", "at"), related=(kept.place,))


def _same_minute_groups(entries: Iterable[Entry]) -> list[list[Entry]]:
    first: dict[tuple[str, datetime], Entry] = {}
    groups: dict[tuple[str, datetime], list[Entry]] = {}
    for entry in entries:
        is_whole = not entry.at.second and not entry.at.microsecond
        minute = entry.at if is_whole else entry.at.replace(second=0, microsecond=0)
        key = entry.patient_id, minute
        earlier = first.setdefault(key, entry)
        if earlier is not entry:
            groups.setdefault(key, [earlier]).append(entry)
    return list(groups.values())

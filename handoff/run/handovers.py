"""Runs the stages up to gathering: paths of logs -> the logs of each unit, and their hand-overs.

Input: paths, and what the user says besides the logs. Output: `UnitLogs` or `Handover`s, and all
findings. Reads only the given files, and gathers what it read in one pass: a file that changes
meanwhile is never seen in two states.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from functools import partial
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Optional

from msgspec.structs import replace

from handoff.check import Options, check
from handoff.gather import gather, unit_key
from handoff.gather.mended import doubted, holds_mended_rows, mend
from handoff.gather.roster import on_several_units, other_units
from handoff.gather.versions import Versions, find_versions
from handoff.log.names import person_keys
from handoff.model.bounds import USUAL, Bounds
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place
from handoff.model.frozen import Frozen
from handoff.model.ward import NO_CELLS, Handover, Log
from handoff.read import RawLog, raw_log_of, read, read_text
from handoff.run.ordered_map import ordered_map
from handoff.run.units import Packed, UnitLogs, pack, whole

if TYPE_CHECKING:
    from concurrent.futures import Executor


Handovers = tuple[tuple[Handover, ...], list[Finding]]


class CheckedLog(Frozen):
    """A log with its file, its unit, its shift's times and the keys of the people on its list; or
    None, and the findings that say why it cannot be used. Mended rows have no shift of their own.
    """

    log: Log | Packed[Log] | None
    findings: tuple[Finding, ...] = ()
    file: str = ""
    unit: str = ""
    shift: object = None
    people: frozenset[object] = frozenset()


# Marks a file of mended rows. Its rows are put into their logs before these are checked.
MENDED = CheckedLog(None)


def read_units(
    paths: Sequence[str],
    options: Options,
    as_of: str | None,
    bounds: Bounds = USUAL,
    executor: Optional["Executor"] = None,
) -> tuple[list[UnitLogs], list[Finding]]:
    """The logs of each unit, by its name, and the findings on the paths. Where a log cannot be used
    at all, there is no unit, and the findings are those of all logs.

    Mended rows in files of rows set aside are put into their logs; also rows of a file made from
    another such file. The rest of these files is read as separate logs. A file given twice is read
    once. The executor's workers check the logs; only this process reads files.
    """
    checked, twice = _all_checked(paths, options, as_of, bounds, executor)
    usable, findings = _usable(checked, options)
    return _units(usable, as_of, options), [*twice, *findings]


def read_weeks(
    paths: Sequence[str],
    options: Options,
    bounds: Bounds = USUAL,
    executor: Optional["Executor"] = None,
) -> tuple[list[UnitLogs], list[Finding], tuple[str, ...]]:
    """As `read_units`, but a log that cannot be used at all costs only itself, and two versions of
    one log only these two: the names of all these files come last.
    """
    checked, findings = _all_checked(paths, options, None, bounds, executor, of_weeks=True)
    doubted, notes = _versions(checked, options)
    lost = {file for each in doubted for file in (each.one.file, each.other.file)}
    older = {note.place.file for note in notes}
    usable = [each for each in checked if each.log and each.file not in lost | older]
    lost |= {each.file for each in checked if each.log is None}
    findings += [found for each in checked if each.log is None for found in each.findings]
    findings += [*notes, *(each.finding for each in doubted)]
    return _units(usable, None, options), findings, tuple(sorted(lost))


def _all_checked(  # noqa: PLR0913 - all that a run is given
    paths: Sequence[str],
    options: Options,
    as_of: str | None,
    bounds: Bounds,
    executor: Optional["Executor"],
    *,
    of_weeks: bool = False,
) -> tuple[list[CheckedLog], list[Finding]]:
    """Each log, checked, with mended rows in place; and the findings on the paths."""
    once, twice = _once(paths)
    texts = ((path, *read_text(path, bounds.size_mb)) for path in once)
    task = partial(
        _checked_text,
        options=options,
        bounds=bounds,
        is_sent=executor is not None,
        of_weeks=of_weeks,
    )
    checked = _packed_but_for_one_unit(ordered_map(executor, task, texts))
    if MENDED in checked:
        read_again = [read(path, bounds, options.exchange) for path in once]
        raw_logs = _with_mended_rows(read_again, options, as_of)
        checked = _packed_but_for_one_unit(_checked(each, options) for each in raw_logs)
    return checked, twice


def _usable(
    checked: Sequence[CheckedLog], options: Options
) -> tuple[Sequence[CheckedLog], list[Finding]]:
    """The logs to use, one version of each, and the findings on versions. Where a log cannot be
    used, or which of its versions is right is not known, there is none, and all findings.
    """
    doubted, notes = _versions(checked, options)
    if doubted or any(each.log is None for each in checked):
        of_logs = (whole(each.log).findings if each.log else each.findings for each in checked)
        return [], [*chain.from_iterable(of_logs), *(each.finding for each in doubted)]
    older = {note.place.file for note in notes}
    return [each for each in checked if each.file not in older], notes


def _versions(
    checked: Sequence[CheckedLog], options: Options
) -> tuple[list[Versions], list[Finding]]:
    """The versions of one log of which it is not known which is right; and a note on each that is
    known to be the older one.
    """
    of_shift: defaultdict[object, list[Log | Packed[Log]]] = defaultdict(list)
    for each in checked:
        if each.log and each.shift:
            of_shift[each.unit, each.shift].append(each.log)
    same = (list(map(whole, logs)) for logs in of_shift.values() if logs[1:])
    doubted, notes = [], []
    for pair in (pair for logs in same for pair in find_versions(logs)):
        older = _older(pair) if options.newest else None
        if older:
            notes.append(older)
        else:
            doubted.append(pair)
    return doubted, notes


def _older(versions: Versions) -> Finding | None:
    """The note on the version that was changed first; None where that cannot be told."""
    files = versions.one.file, versions.other.file
    try:
        first, last = sorted((Path(file).stat().st_mtime_ns, file) for file in files)
    except OSError:
        return None
    if first[0] == last[0]:
        return None
    return finding("older-version", Place(first[1]), other=last[1])


def _checked_text(
    given: tuple[str, str | None, list[Finding]],
    options: Options,
    bounds: Bounds,
    *,
    is_sent: bool,
    of_weeks: bool,
) -> CheckedLog:
    """One log, checked, from its path, text and findings; for a file of mended rows,
    only the mark.
    """
    path, text, findings = given
    raw_log = raw_log_of(text, path, findings, bounds, options.exchange)
    if holds_mended_rows(raw_log):
        return MENDED
    checked = _checked(raw_log, options)
    if of_weeks and isinstance(checked.log, Log):
        checked = replace(checked, log=_without_cells(checked.log))
    return _packed(checked) if is_sent else checked


def _without_cells(log: Log) -> Log:
    """The log without the cells of its rows as written, but for rows with an unreadable sign: no
    review shows them, and those of a year take much memory.
    """
    entries = (each if each.unread else replace(each, raw=NO_CELLS) for each in log.entries)
    return replace(log, entries=tuple(entries))


def _checked(raw_log: RawLog, options: Options) -> CheckedLog:
    log, findings = check(raw_log, options)
    if log is None:
        return CheckedLog(None, findings, raw_log.file)
    people = frozenset(key for each in log.patients for key in (each.id, *person_keys(each)))
    shift = None if holds_mended_rows(raw_log) else (log.shift.start, log.shift.end)
    return CheckedLog(log, (), raw_log.file, unit_key(log), shift, people)


def _packed_but_for_one_unit(checked: Iterable[CheckedLog]) -> list[CheckedLog]:
    """The logs, each packed at once. Those of the first log's unit are not packed, and unpacked
    while others are still read: a run with one unit takes no longer.
    """
    logs: list[CheckedLog] = []
    for each in checked:
        if logs and each.unit != logs[0].unit:
            logs.append(_packed(each))
        else:
            logs.append(replace(each, log=whole(each.log) if each.log else None))
    return logs


def _packed(checked: CheckedLog) -> CheckedLog:
    return replace(checked, log=pack(checked.log)) if isinstance(checked.log, Log) else checked


def _units(checked: Iterable[CheckedLog], as_of: str | None, options: Options) -> list[UnitLogs]:
    """The units by name, each with the other units' wards for patients that both list."""
    logs: defaultdict[str, list[Log | Packed[Log]]] = defaultdict(list)
    rosters: defaultdict[str, set[object]] = defaultdict(set)
    for each in checked:
        logs[each.unit] += [each.log] if each.log else []
        rosters[each.unit] |= each.people
    units = {key: UnitLogs(tuple(logs[key]), (), as_of, options.now) for key in sorted(logs)}
    shared = on_several_units(rosters)
    guests = {
        key: pack(unit.ward().only(shared))
        for key, unit in units.items()
        if not shared.keys().isdisjoint(rosters[key])
    }
    return [
        replace(unit, others=tuple(guests[it] for it in other_units(key, rosters[key], shared)))
        for key, unit in units.items()
    ]


def _once(paths: Sequence[str]) -> tuple[list[str], list[Finding]]:
    """The paths: for each file the shortest, with a note on each other path."""
    once: dict[Path, str] = {}
    findings = []
    for path in sorted(paths, key=lambda path: (len(path), path)):
        whole = Path(path).absolute()
        if whole in once:
            findings.append(finding("same-file", Place(path)))
        else:
            once[whole] = path
    return list(once.values()), findings


def hand_over(given: Sequence[RawLog], options: Options, as_of: str | None) -> Handovers:
    """The hand-overs of raw logs that are all in memory, with mended rows in place."""
    return _gathered(_with_mended_rows(given, options, as_of), options, as_of)


def _with_mended_rows(given: Sequence[RawLog], options: Options, as_of: str | None) -> list[RawLog]:
    """The raw logs with mended rows in place, and the rest of the mended raw logs."""
    mended = offered = [raw_log for raw_log in given if holds_mended_rows(raw_log)]
    raw_logs = [raw_log for raw_log in given if not holds_mended_rows(raw_log)]
    rows_left = sum(len(raw_log.entries) for raw_log in mended)
    while rows_left:
        handovers, _ = _gathered(raw_logs, options, as_of)
        logs = [log for handover in handovers for log in handover.logs]
        raw_logs, mended = mend(raw_logs, mended, logs)
        before, rows_left = rows_left, sum(len(raw_log.entries) for raw_log in mended)
        if rows_left == before:
            mended = doubted(offered, mended, logs)
            break
    if not raw_logs:
        return mended
    # Findings of fully used mended logs go to the first log.
    first, *others = raw_logs
    gone = [found for raw_log in mended if not raw_log.entries for found in raw_log.findings]
    left = [raw_log for raw_log in mended if raw_log.entries]
    return [replace(first, findings=(*first.findings, *gone)), *others, *left]


def _gathered(raw_logs: Iterable[RawLog], options: Options, as_of: str | None) -> Handovers:
    checked, found = _usable([_checked(each, options) for each in raw_logs], options)
    if not checked:
        return (), found
    logs = [whole(each.log) for each in checked if each.log]
    handovers, findings = gather(logs, as_of, options.now)
    return handovers, [*findings, *found]

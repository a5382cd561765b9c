"""Runs the stages up to gathering: paths of logs -> a hand-over for each unit.

Input: paths, and what the user says besides the logs. Output: `Handover`s and all findings. Reads
nothing but the files that it is given.
"""

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Optional

from handoff.check import Options, check
from handoff.gather import gather
from handoff.gather.mended import doubted, holds_mended_rows, mend
from handoff.model.bounds import USUAL, Bounds
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place
from handoff.model.ward import Handover, Log
from handoff.read import RawLog, raw_log_of, read, read_text
from handoff.run.ordered_map import ordered_map

if TYPE_CHECKING:
    from concurrent.futures import Executor

Gathered = tuple[tuple[Handover, ...], list[Finding]]
Checked = tuple[Log | None, tuple[Finding, ...]]

# Stands for a file of mended rows, which are put into the logs that they are of before these are
# checked.
MENDED: Checked = (None, ())


def read_handovers(
    paths: Sequence[str],
    options: Options,
    as_of: str | None,
    bounds: Bounds = USUAL,
    executor: Optional["Executor"] = None,
) -> Gathered:
    """The hand-over of each unit; none where a log cannot be used at all.

    Mended rows of files of rows set aside are put into the logs that they are of, also those of a
    file made from another such file. What is left of these files is read as logs of its own. A file
    that is given twice is read once. The executor's workers share the logs, not their files.
    """
    once, twice = _once(paths)
    texts = ((path, *read_text(path, bounds.size_mb)) for path in once)
    checked = list(ordered_map(executor, partial(_checked, options=options, bounds=bounds), texts))
    if MENDED in checked:
        handovers, findings = hand_over([read(path, bounds) for path in once], options, as_of)
    else:
        handovers, findings = _gathered(checked, options, as_of)
    return handovers, [*twice, *findings]


def _checked(
    given: tuple[str, str | None, list[Finding]], options: Options, bounds: Bounds
) -> Checked:
    """One log by its path, text and findings; of a file of mended rows only that it is one."""
    path, text, findings = given
    raw_log = raw_log_of(text, path, findings, bounds)
    return MENDED if holds_mended_rows(raw_log) else check(raw_log, options)


def _once(paths: Sequence[str]) -> tuple[list[str], list[Finding]]:
    """The paths, of those of one file the shortest, and a note of each of the others."""
    once: dict[Path, str] = {}
    findings = []
    for path in sorted(paths, key=lambda path: (len(path), path)):
        whole = Path(path).absolute()
        if whole in once:
            findings.append(finding("same-file", Place(path)))
        else:
            once[whole] = path
    return list(once.values()), findings


def hand_over(given: Sequence[RawLog], options: Options, as_of: str | None) -> Gathered:
    """The hand-overs of raw logs, mended rows in the places of their own."""
    mended = offered = [raw_log for raw_log in given if holds_mended_rows(raw_log)]
    raw_logs = [raw_log for raw_log in given if not holds_mended_rows(raw_log)]
    rows_left = sum(len(raw_log.entries) for raw_log in mended)
    while rows_left:
        checked = [check(raw_log, options) for raw_log in raw_logs]
        handovers, _ = _gathered(checked, options, as_of)
        logs = [log for handover in handovers for log in handover.logs]
        raw_logs, mended = mend(raw_logs, mended, logs)
        before, rows_left = rows_left, sum(len(raw_log.entries) for raw_log in mended)
        if rows_left == before:
            mended = doubted(offered, mended, logs)
            break
    whole = _less_empty(raw_logs, mended)
    return _gathered([check(raw_log, options) for raw_log in whole], options, as_of)


def _less_empty(raw_logs: Sequence[RawLog], mended: Sequence[RawLog]) -> list[RawLog]:
    """All raw logs but the mended ones that nothing is left of, whose findings the first has."""
    if not raw_logs:
        return list(mended)
    first, *others = raw_logs
    gone = [found for raw_log in mended if not raw_log.entries for found in raw_log.findings]
    left = [raw_log for raw_log in mended if raw_log.entries]
    return [replace(first, findings=(*first.findings, *gone)), *others, *left]


def _gathered(checked: Sequence[Checked], options: Options, as_of: str | None) -> Gathered:
    logs = [log for log, _ in checked if log is not None]
    if len(logs) < len(checked):
        return (), [each for _, found in checked for each in found]
    handovers, findings = gather(logs, as_of, options.now)
    return handovers, list(findings)

"""The output of a command, and its exit code: 0 done; 1 done, with findings of severity error; 2
usage, or nothing could be produced; 3 a fault of the program.

Input: results and findings. Output: results on standard output, findings on standard error.
"""

import os
import sys
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

from handoff import portable
from handoff.model.findings import Finding, Severity, text, worst
from handoff.model.refused import Refused

if TYPE_CHECKING:
    from handoff.model.ward import Counts

DONE, DONE_WITH_ERRORS, NOTHING_PRODUCED, FAULT = 0, 1, 2, 3

MOST_LINES = 3  # lines of one kind of finding in one column before they are merged: common practice
_WHO = frozenset({"patient_id", "name", "born", "bed"})


def say(result: str) -> None:
    """Print a result.

    Raises `Refused` where there is no room for it, as on a full disk.
    """
    try:
        print(result, flush=True)
    except BrokenPipeError:
        raise
    except OSError as error:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        # The exit would try to write the rest, and fail.
        os.dup2(nowhere, sys.stdout.fileno())
        raise Refused(f"standard output cannot be written: {portable.reason(error)}") from error


def report(findings: Iterable[Finding], *, of_weeks: bool = False) -> None:
    """Print the findings on standard error. Those of the logs of weeks are too many for a line
    each: all of one kind share one, but for those on whole logs.
    """
    for line in lines(list(findings), of_weeks=of_weeks):
        print(line, file=sys.stderr)


def lines(
    findings: Sequence[Finding], *, every: bool = False, of_weeks: bool = False
) -> Iterator[str]:
    """A line for each finding. Where one column of a file has more than `MOST_LINES` of one kind,
    one line for all of them, unless `every` is given; with `of_weeks` for those of all files.
    """
    kind = _kind_in_any_file if of_weeks else _kind
    alike: defaultdict[object, list[Finding]] = defaultdict(list)
    for each in findings:
        alike[kind(each)].append(each)
    for each in findings:
        first, *others = alike[kind(each)]
        line = f"{each.severity}: {text(each)}"
        if every or len(others) < MOST_LINES:
            yield line
        elif each is first:
            yield f"{line} {_likewise_in_files(others) if of_weeks else _likewise(others)}"


def _kind_in_any_file(finding: Finding) -> object:
    return finding if finding.place.line is None else finding.code


def _likewise_in_files(others: Sequence[Finding]) -> str:
    files = len({each.place.file for each in others})
    logs = "1 log" if files == 1 else f"{files:,} logs"
    return f"Likewise {len(others):,} more in {logs}; handoff check shows those of a log."


def _kind(finding: Finding) -> object:
    """The key of findings that share a line; findings on a patient's identity never do."""
    place, who = finding.place, finding.raw if finding.field in _WHO else None
    return finding if place.line is None else (finding.code, place.file, place.column, who)


def _likewise(others: Sequence[Finding]) -> str:
    places = [each.place.at or str(each.place.line) for each in others]
    shown, more = places[:MOST_LINES], len(places) - MOST_LINES
    last = f"{more:,} more" if more else shown.pop()
    where = "at" if others[0].place.at else "on lines"
    return f"Likewise {where} {', '.join(shown)} and {last}; handoff check --every shows each."


def exit_code(findings: Sequence[Finding]) -> int:
    """The exit code of a command that is done."""
    return DONE_WITH_ERRORS if worst(findings) is Severity.ERROR else DONE


def counts_text(counts: "Counts") -> str:
    """`412 read, 409 used, 3 set aside`, which always adds up; and how many of those used hold no
    entry.
    """
    without = f" ({counts.without_entry:,} without an entry)" if counts.without_entry else ""
    return f"{counts.read:,} read, {counts.used:,} used{without}, {counts.set_aside:,} set aside"

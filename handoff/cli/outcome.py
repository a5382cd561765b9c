"""The output of a command, and its exit code: 0 done; 1 done, with findings of severity error; 2
usage, or nothing could be produced; 3 a fault of the program.

Input: results and findings. Output: results on standard output, findings on standard error.
"""

import os
import sys
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence

from handoff import portable
from handoff.model.findings import Finding, Severity, text, worst
from handoff.model.refused import Refused
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


def report(findings: Iterable[Finding]) -> None:
    """Print the findings on standard error."""
    for line in lines(list(findings)):
        print(line, file=sys.stderr)


def lines(findings: Sequence[Finding], *, every: bool = False) -> Iterator[str]:
    """A line for each finding. Where one column of a file has more than `MOST_LINES` of one kind,
    one line for all of them, unless `every` is given.
    """
    alike: defaultdict[object, list[Finding]] = defaultdict(list)
    for each in findings:
        alike[_kind(each)].append(each)
    for each in findings:
        first, *others = alike[_kind(each)]
        line = f"{each.severity}: {text(each)}"
        if every or len(others) < MOST_LINES:
            yield line
        elif each is first:
            yield f"{line} {_likewise(others)}"


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


def counts_text(counts: Counts) -> str:
    """`412 read, 409 used, 3 set aside`, which always adds up; and how many of those used hold no
    entry.
    """
    without = f" ({counts.without_entry:,} without an entry)" if counts.without_entry else ""
    return f"{counts.read:,} read, {counts.used:,} used{without}, {counts.set_aside:,} set aside"

"""What a command says, and its exit code: 0 done; 1 done, with findings of severity error; 2 usage,
or nothing could be produced; 3 a fault of the program.

Enters: results and findings. Leaves: results on standard output, findings on standard error.
"""

import sys
from collections.abc import Iterable, Sequence

from handoff.findings import Finding, Severity, text, worst
from handoff.model import Counts, Handover

DONE, DONE_WITH_ERRORS, NOTHING_PRODUCED, FAULT = 0, 1, 2, 3


def say(result: str) -> None:
    """Print a result."""
    print(result)


def report(findings: Iterable[Finding]) -> None:
    """Print each finding on a line of standard error."""
    for each in findings:
        print(f"{each.severity}: {text(each)}", file=sys.stderr)


def exit_code(findings: Sequence[Finding]) -> int:
    """The exit code of a command that is done."""
    return DONE_WITH_ERRORS if worst(findings) is Severity.ERROR else DONE


def counts_of(handovers: Sequence[Handover]) -> Counts:
    """The records of all units."""
    return sum((handover.counts for handover in handovers), Counts(0, 0, 0))


def counts_text(counts: Counts) -> str:
    """`412 read, 409 used, 3 set aside`, which always adds up."""
    return f"{counts.read:,} read, {counts.used:,} used, {counts.set_aside:,} set aside"

"""The command line: runs a command; a refusal or a fault is one line.

Input: arguments. Output: an exit code, and what the command and `outcome` print.
"""

import os
import sys
from collections.abc import Sequence
from importlib import import_module
from io import TextIOWrapper
from pathlib import Path

from handoff.cli.arguments import parse
from handoff.cli.outcome import DONE, DONE_WITH_ERRORS, FAULT, NOTHING_PRODUCED, report
from handoff.model.findings import Finding
from handoff.model.refused import Refused
from handoff.run.garbage import forget_seldom

__all__ = ["DONE", "DONE_WITH_ERRORS", "FAULT", "NOTHING_PRODUCED", "main"]

# What to do about a fault; the README has the section.
REPORT = (
    "Run it again with --debug and report what that prints, without patients' data, as 'Report a "
    "fault' in README.md says."
)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; the exit code. The only handler of faults of the program itself."""
    _open_what_is_closed()
    options = parse(arguments)
    forget_seldom()
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            # A file or another program gets UTF-8, which is what handoff reads; a terminal gets its
            # own letters, and what it cannot show as an escape.
            encoding = stream.encoding if stream.isatty() else "utf-8"
            stream.reconfigure(encoding=encoding, errors="backslashreplace")
    try:
        # A command and its libraries are loaded only when it runs: `check` and `limits` load none
        # of the heavy ones.
        command = import_module(f"handoff.cli.{options.command}")
        forget_seldom()  # what is loaded by now stays, and each look at it takes time
        return int(command.run(options))
    except BrokenPipeError:
        sys.stderr.close()
        return NOTHING_PRODUCED
    except Refused as refused:
        return _refused(refused)
    except KeyboardInterrupt:
        return _refused(Refused("stopped"))
    except Exception as fault:
        if options.debug:
            raise
        words = f"this is a fault of the program ({type(fault).__name__}); nothing was written."
        print(f"handoff: {words} {REPORT}", file=sys.stderr)
        return FAULT


def _open_what_is_closed() -> None:
    """Replace a closed stream by one that goes nowhere, so that no other file takes its number."""
    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:
            setattr(sys, name, Path(os.devnull).open("w", encoding="utf-8"))  # noqa: SIM115


def _refused(refused: Refused) -> int:
    if isinstance(refused.why, Finding):
        report([refused.why])
    else:
        print(f"handoff: {refused}.", file=sys.stderr)
    return NOTHING_PRODUCED

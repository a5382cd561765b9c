"""`handoff limits`: every limit in force, with unit, source and edition."""

from argparse import Namespace

from handoff.cli.outcome import NOTHING_PRODUCED, exit_code, report, say
from handoff.limits.printing import print_limits, yaml_limits
from handoff.limits.reading import load_limits
from handoff.store.folder import write_new


def run(options: Namespace) -> int:
    """Print the limits as a table, or as a file that a unit can edit."""
    limits, findings = load_limits(options.limits)
    report(findings)
    if limits is None:
        return NOTHING_PRODUCED
    text = (yaml_limits if options.yaml else print_limits)(limits).rstrip()
    if options.out is None:
        say(text)
    else:
        write_new(options.out, f"{text}\n".encode())
        say(f"limits in {options.out}")
    return exit_code(findings)

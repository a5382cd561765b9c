"""`handoff check`: the findings on logs, line by line. Makes no sheet."""

import json
from argparse import Namespace
from collections.abc import Sequence

from handoff.cli.logs import gathered
from handoff.cli.outcome import NOTHING_PRODUCED, counts_text, exit_code, lines, say
from handoff.limits.reading import load_limits
from handoff.model.findings import Finding
from handoff.model.ward import NONE_READ, Counts


def run(options: Namespace) -> int:
    """Print every finding and the counts, as lines or as JSON."""
    limits, _ = load_limits()
    of_units, findings, doubts = gathered(options, lambda _, handover: handover.counts, limits)
    findings += doubts
    counts = sum(of_units, NONE_READ) if of_units else None
    if options.json:
        say(_as_json(counts, findings))
    else:
        for line in lines(findings, every=options.every):
            say(line)
        if counts:
            say(counts_text(counts))
    return NOTHING_PRODUCED if counts is None else exit_code(findings)


def _as_json(counts: Counts | None, findings: Sequence[Finding]) -> str:
    none = dict.fromkeys(NONE_READ.as_json())
    document = {
        "counts": none if counts is None else counts.as_json(),
        "findings": [each.as_json() for each in findings],
    }
    return json.dumps(document, indent=1)  # in ASCII: any terminal can show it

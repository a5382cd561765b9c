"""`handoff fhir`: exchange with a hospital's record system over HL7 FHIR, release 4.

`get` and `send` are the only commands that open a connection, to the server that is named; only
`send` ever writes there.
"""

from argparse import Namespace
from datetime import UTC, datetime

from handoff.check import Options, check
from handoff.cli.arguments import bounds_of
from handoff.cli.outcome import NOTHING_PRODUCED, counts_text, exit_code, report, say
from handoff.fhir.bundle import collection, not_in_a_bundle
from handoff.fhir.codes import load_codes
from handoff.model.refused import Refused
from handoff.read import read
from handoff.run.bounds import within
from handoff.store.folder import write_new


def run(options: Namespace) -> int:
    """Run `write`, `get` or `send`."""
    return {"write": _write, "get": _get, "send": _send}[options.exchange](options)


def _write(options: Namespace) -> int:
    """Write one log as a Bundle."""
    bounds, (path,) = bounds_of(options), options.logs
    codes, findings = load_codes(options.codes)
    given = Options(
        options.unit, options.time_zone, options.shift, options.dates, datetime.now(UTC)
    )
    with within(bounds):
        log, found = check(read(path, bounds), given)
        findings += found
        findings += [] if log is None else not_in_a_bundle(log)
        report(findings)
        if log is None or codes is None:
            return NOTHING_PRODUCED
        write_new(options.out, collection(codes, options.patient_system, log))
    counts = log.counts
    say(counts_text(counts))
    rows, patients = counts.used - counts.without_entry, len(log.patients)
    of_whom = "1 patient" if patients == 1 else f"{patients:,} patients"
    say(f"{rows:,} rows of {of_whom} in {options.out}")
    return exit_code(findings)


def _get(options: Namespace) -> int:
    """Write what the record says of a ward, a file for each shift."""
    raise Refused(f"{options.base} is not asked yet: this part is being built")


def _send(options: Namespace) -> int:
    """Send what is new, or only say what would be sent."""
    raise Refused(f"{options.base} is not asked yet: this part is being built")

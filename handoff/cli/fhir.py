"""`handoff fhir`: exchange with a hospital's record system over HL7 FHIR, release 4.

`get` and `send` are the only commands that open a connection, to the server that is named; only
`send` ever writes there.
"""

import re
import sys
from argparse import Namespace
from contextlib import closing
from datetime import UTC, datetime
from itertools import pairwise

from handoff.check import Options, check
from handoff.cli.arguments import bounds_of
from handoff.cli.outcome import NOTHING_PRODUCED, counts_text, exit_code, report, say
from handoff.cli.progress import Progress
from handoff.fhir.bundle import collection, not_in_a_bundle
from handoff.fhir.client import Client, read_token
from handoff.fhir.codes import load_codes
from handoff.fhir.get import bundle, fetch, without_number
from handoff.fhir.json_text import dump
from handoff.fhir.outgoing import paired, read_folder
from handoff.fhir.send import How, Sender
from handoff.model.bounds import Bounds
from handoff.model.findings import Finding
from handoff.model.refused import Refused
from handoff.model.ward import Shift, Unit
from handoff.read import Exchange, read, silent
from handoff.run.bounds import within
from handoff.store.folder import storing, write_new

_WARD = re.compile(r"Location/[A-Za-z0-9.-]{1,64}")
_NOTHING_WRITTEN = "Nothing was written. Check the address and the ward"
_SENT_STAYS = "What was sent stays, and sending it again makes nothing twice. Check the address"


def run(options: Namespace) -> int:
    """Run `write`, `get` or `send`."""
    return {"write": _write, "get": _get, "send": _send}[options.exchange](options)


def _write(options: Namespace) -> int:
    """Write one log as a Bundle."""
    bounds, (path,) = bounds_of(options), options.logs
    codes, findings = load_codes(options.fhir_codes)
    exchange = Exchange(options.patient_system, codes, options.time_zone)
    given = Options(
        options.unit,
        options.time_zone,
        options.shift,
        options.dates,
        datetime.now(UTC),
        exchange=exchange,
    )
    with within(bounds):
        log, found = check(read(path, bounds, exchange), given)
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
    """Write what the record says of a ward, a log for each shift."""
    if not _WARD.fullmatch(options.ward):
        raise Refused("--ward names no place; write it as Location/ and its id in the record")
    unit, latest, findings = _asked_for(options)
    codes, code_findings = load_codes(options.fhir_codes)
    findings += code_findings
    report(findings)
    if unit is None or latest is None or codes is None:
        return NOTHING_PRODUCED
    shifts = _with_earlier(latest, options.earlier, unit)
    client = _client(options)
    with (
        storing(options.out, replaces=()) as new,
        closing(Progress(0, sys.stderr, what="patient")) as progress,
        within(_bounds(options), _NOTHING_WRITTEN),
    ):

        def step(_done: int, of: int) -> None:
            progress.of = of
            progress.step()

        client.check_release(writes=False)
        fetched = fetch(client, codes, options.ward, shifts, step)
        for nth, shift in enumerate(shifts):
            made = bundle(codes, fetched, nth, unit.time_zone)
            local = shift.start.astimezone(unit.time_zone)
            new.write(f"{local:%Y-%m-%d-%H%M}.json", f"{dump(made)}\n".encode())
    unnumbered = list(without_number(fetched, options.patient_system))
    report(unnumbered)
    logs = "1 log" if len(shifts) == 1 else f"{len(shifts)} logs"
    patients = len(fetched.patients)
    say(f"{logs} of {patients} {'patient' if patients == 1 else 'patients'} in {options.out}")
    return exit_code([*findings, *unnumbered])


def _asked_for(options: Namespace) -> tuple[Unit | None, Shift | None, list[Finding]]:
    """The ward with its time zone and the shift, read as those of a log are."""
    said = Options(options.ward, options.time_zone, options.shift, None, datetime.now(UTC))
    log, findings = check(silent("--shift"), said)
    return (log.unit, log.shift, [*findings]) if log else (None, None, [*findings])


def _with_earlier(latest: Shift, earlier: int, unit: Unit) -> list[Shift]:
    """The shift and those before it in the order of time, each as long by the ward's clock."""
    end, start = (
        at.astimezone(unit.time_zone).replace(tzinfo=None) for at in (latest.end, latest.start)
    )
    by_clock = [end, *(start - nth * (end - start) for nth in range(earlier + 1))]
    bounds = [at.replace(tzinfo=unit.time_zone).astimezone(UTC) for at in reversed(by_clock)]
    return [*(Shift(*each) for each in pairwise(bounds[:-1])), latest]


def _client(options: Namespace) -> Client:
    token = read_token(options.token_file)
    return Client(options.base, token, options.ca, int(options.max_size * 10**6))


def _bounds(options: Namespace) -> Bounds:
    return Bounds(seconds=options.max_seconds)


def _send(options: Namespace) -> int:
    """Send what is new, or only say what would be sent."""
    if options.before and not options.correct:
        raise Refused("--before marks what is gone as entered in error; add --correct")
    codes, _ = load_codes()
    if codes is None:
        return NOTHING_PRODUCED
    system = codes.systems["rows"]
    how = How(
        system, options.most_entries, options.dry_run, options.correct, frozenset(options.confirm)
    )
    sender = Sender(_client(options), how)
    try:
        with (
            closing(Progress(0, sys.stderr, what="patient")) as progress,
            within(_bounds(options), _SENT_STAYS),
        ):
            outgoing, findings = read_folder(options.folder, system)
            report(findings)
            pairs = paired(outgoing, options.before, system)
            progress.of = len(pairs)
            sender.client.check_release(writes=not options.dry_run)
            for new, older in pairs:
                sender.send(new, older)
                progress.step()
    finally:
        # Also where a refusal ends it midway: what was sent is on the server.
        for each in sender.findings:
            report([each])
        if sender.counts or not sys.exc_info()[0]:
            yet = "; nothing was sent yet" if options.dry_run else ""
            say(sender.counts.text(dry_run=options.dry_run) + yet)
    return exit_code([*findings, *sender.findings])

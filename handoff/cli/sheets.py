"""`handoff sheets`: print what the latest shift hands over."""

import sys
from argparse import Namespace
from collections.abc import Sequence
from concurrent.futures import Executor
from contextlib import closing

from handoff.cli.arguments import bounds_of
from handoff.cli.logs import doubted, gathered
from handoff.cli.outcome import (
    NOTHING_PRODUCED,
    counts_of,
    counts_text,
    exit_code,
    report,
    say,
)
from handoff.cli.progress import Progress
from handoff.draw.paper import letters_lacking, use_font
from handoff.limits.reading import Limits, load_limits
from handoff.model.bounds import within
from handoff.model.refused import Refused
from handoff.model.ward import Handover, Patient
from handoff.run.garbage import forget_seldom
from handoff.run.sheets import Printing, produce
from handoff.run.workers import working
from handoff.store.folder import storing


def run(options: Namespace) -> int:
    """Write every file, and say how many there are."""
    with working(options.jobs, options.dask) as executor:
        return _run(options, executor)


def _run(options: Namespace, executor: Executor | None) -> int:
    handovers, findings = gathered(options, executor)
    limits, limit_findings = load_limits(options.limits)
    findings += limit_findings
    handovers, doubts = doubted(handovers, limits)
    findings += doubts
    report(findings)
    if limits is None or not handovers:
        return NOTHING_PRODUCED
    patients = [patient for handover in handovers for patient in handover.patients]
    _refuse_unknown_beds(patients, options)
    names = _written(handovers, limits, options, executor)
    print_findings = letters_lacking(patients)
    report(print_findings)
    say(counts_text(counts_of(handovers)))
    sheets = sum("patients/" in name for name in names)
    pages = sum("discharge/" in name for name in names)
    say(f"{sheets} patient {'sheet' if sheets == 1 else 'sheets'} in {options.out}")
    say(f"take-home pages for {pages} {'patient' if pages == 1 else 'patients'}")
    return exit_code([*findings, *print_findings])


def _written(
    handovers: Sequence[Handover], limits: Limits, options: Namespace, executor: Executor | None
) -> list[str]:
    """Write every file as it is made; their names."""
    printing = Printing(
        paper=options.paper,
        language=options.language,
        beds=frozenset(options.bed),
        discharge_beds=frozenset(options.discharge),
        initials=options.initials,
        templates=options.templates,
        font=options.font,
    )
    if options.font:
        use_font(options.font)
    forget_seldom()  # what was read stays
    names, bounds = [], bounds_of(options)
    with (
        storing(options.out, keep=options.logs) as new,
        closing(Progress(printing.sheets(handovers, limits), sys.stderr)) as progress,
        within(bounds),
    ):
        for name, content in produce(handovers, limits, printing, executor, bounds):
            new.write(name, content)
            names.append(name)
            if "patients/" in name:
                progress.step()
    return names


def _refuse_unknown_beds(patients: Sequence[Patient], options: Namespace) -> None:
    """A bed given as an option that has no patient, or none with an order to go home with."""
    beds = {patient.bed for patient in patients}
    ordered = {patient.bed for patient in patients if patient.order is not None}
    for option, given in (("--bed", options.bed), ("--discharge", options.discharge)):
        for bed in given:
            if bed not in beds:
                raise Refused(f"no patient in bed {bed}; give {option} as the log has it")
    for bed in options.discharge:
        if bed not in ordered:
            raise Refused(
                f"bed {bed} has no order with a start, so that there is no page to take home"
            )

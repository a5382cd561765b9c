"""`handoff sheets`: print the sheets of the latest shift."""

import sys
from argparse import Namespace
from collections.abc import Sequence
from concurrent.futures import Executor
from contextlib import closing
from functools import partial
from typing import TYPE_CHECKING, Optional

from msgspec.structs import replace

from handoff.cli.arguments import bounds_of
from handoff.cli.logs import gathered
from handoff.cli.outcome import NOTHING_PRODUCED, counts_text, exit_code, report, say
from handoff.cli.progress import Progress
from handoff.compose.languages import not_translated
from handoff.draw.paper import Typesetter, letters_lacking
from handoff.limits.reading import Limits, load_limits
from handoff.model.findings import Finding, Severity, worst
from handoff.model.frozen import Frozen
from handoff.model.refused import Refused
from handoff.model.ward import NONE_READ, Counts, Handover, Patient
from handoff.read import JSON
from handoff.run.bounds import within
from handoff.run.sheets import Printing, produce
from handoff.run.units import UnitLogs
from handoff.run.workers import working
from handoff.store.folder import storing

if TYPE_CHECKING:
    from handoff.fhir.bundle import Sending


class Preview(Frozen):
    """The facts of one unit that are needed before printing."""

    unit: UnitLogs
    name: str
    patients: tuple[Patient, ...]
    counts: Counts
    sheets: int


def run(options: Namespace) -> int:
    """Write every file, and print their number."""
    with working(options.jobs, options.dask) as executor:
        return _run(options, executor)


def _run(options: Namespace, executor: Executor | None) -> int:
    limits, limit_findings = load_limits(options.limits)
    sending, code_findings = _sending(options)
    printing = Printing(
        paper=options.paper,
        language=options.language,
        beds=frozenset(options.bed),
        discharge_beds=frozenset(options.discharge),
        initials=options.initials,
        templates=options.templates,
        sending=sending,
    )

    def preview(unit: UnitLogs, handover: Handover) -> Preview:
        sheets = printing.sheets(handover, limits) if limits else 0
        name, counts = handover.unit.name, handover.counts
        return Preview(unit, name, handover.patients, counts, sheets)

    units, findings, doubts = gathered(options, preview, limits, executor)
    findings += [*limit_findings, *code_findings, *doubts]
    report(findings)
    if limits is None or not units or worst(code_findings) is Severity.ERROR:
        return NOTHING_PRODUCED
    patients = [patient for unit in units for patient in unit.patients]
    _refuse_unknown_beds(patients, options)
    printing = replace(printing, typesetter=Typesetter(options.font))
    names = _written(units, limits, printing, options, executor)
    print_findings = [
        *letters_lacking(patients, printing.typesetter),
        *not_translated(patients, options.language, options.templates),
    ]
    report(print_findings)
    say(counts_text(sum((unit.counts for unit in units), NONE_READ)))
    sheets = sum("patients/" in name for name in names)
    pages = sum("discharge/" in name for name in names)
    say(f"{sheets} patient {'sheet' if sheets == 1 else 'sheets'} in {options.out}")
    say(f"take-home pages for {pages} {'patient' if pages == 1 else 'patients'}")
    if sending:
        bundles = sum("fhir/" in name for name in names)
        where = options.out if units[1:] else f"{options.out}/fhir"
        say(f"{bundles} {'Bundle' if bundles == 1 else 'Bundles'} to send in {where}")
    return exit_code([*findings, *print_findings])


def _sending(options: Namespace) -> tuple[Optional["Sending"], list[Finding]]:
    """What is written for the hospital's record; None where nothing is, or the unit's own codes
    have an error.
    """
    if options.fhir is None:
        is_read = any(each.lower().endswith(JSON) for each in options.logs)
        if options.sent_besides or (options.fhir_codes and not is_read):
            raise Refused("--with and --fhir-codes are of what --fhir writes; give --fhir too")
        return None, []
    from handoff.fhir.bundle import Sending  # noqa: PLC0415 - few sheets are sent
    from handoff.fhir.codes import load_codes  # noqa: PLC0415 - the same

    codes, findings = load_codes(options.fhir_codes)
    if codes is None:
        return None, findings
    besides = options.sent_besides
    return Sending(codes, options.fhir, "signs" in besides, "flags" in besides), findings


def _written(
    units: Sequence[Preview],
    limits: Limits,
    printing: Printing,
    options: Namespace,
    executor: Executor | None,
) -> list[str]:
    """Write every file as it is made, and return their names."""
    handovers = {each.name: partial(each.unit.hand_over, limits) for each in units}
    names, bounds = [], bounds_of(options)
    with (
        storing(options.out, keep=options.logs) as new,
        closing(Progress(sum(each.sheets for each in units), sys.stderr)) as progress,
        within(bounds),
    ):
        for name, content in produce(handovers, limits, printing, executor, bounds):
            new.write(name, content)
            names.append(name)
            if "patients/" in name:
                progress.step()
    return names


def _refuse_unknown_beds(patients: Sequence[Patient], options: Namespace) -> None:
    """Refuse a bed in the options without a patient, or, for a page to take home,
    without an order.
    """
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

"""The command line: a command is run, its findings and its exit code leave.

Enters: arguments. Leaves: results on standard output, findings on standard error, and an exit code:
0 done; 1 done, with findings of severity error; 2 usage, or nothing could be produced; 3 a fault of
the program. `check` and `limits` import none of the heavy libraries.
"""

import argparse
import gc
import json
import sys
from collections.abc import Callable, Mapping, Sequence
from contextlib import closing
from dataclasses import asdict
from datetime import UTC, datetime
from functools import partial
from importlib.util import find_spec
from io import TextIOWrapper
from pathlib import Path
from zoneinfo import ZoneInfo

from handoff.arguments import EXPLAINED, bounds_of, parse
from handoff.blank import Blank
from handoff.bounds import OutOfBounds, within
from handoff.check import Options, check
from handoff.fields import EXAMPLES
from handoff.findings import Finding, Severity, text, worst
from handoff.limits import Limits, load_limits
from handoff.limits_text import print_limits, yaml_limits
from handoff.model import Counts, Handover
from handoff.progress import Progress
from handoff.read import silent
from handoff.reading import read_handovers

# What is read lives as long as the run does: looking through it for what can be forgotten each time
# that so few as 700 objects are new takes a third of the time of a large log.
NEW_OBJECTS = 100_000

# What to do about a fault; the README has the section.
REPORT = (
    "Run it again with --debug and report what that prints, without patients' data, as 'Report a "
    "fault' in README.md says."
)

DONE, DONE_WITH_ERRORS, NOTHING_PRODUCED, FAULT = 0, 1, 2, 3


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; the exit code. The only handler of faults of the program itself."""
    options = parse(arguments)
    gc.set_threshold(NEW_OBJECTS)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")  # a letter the terminal cannot show
    try:
        return COMMANDS[options.command](options)
    except BrokenPipeError:
        sys.stderr.close()
        return NOTHING_PRODUCED
    except OutOfBounds as error:
        return _nothing_produced([], str(error))
    except KeyboardInterrupt:
        return _nothing_produced([], "stopped")
    except Exception as fault:
        if options.debug:
            raise
        print(
            f"handoff: this is a fault of the program ({type(fault).__name__}); nothing was "
            f"written. {REPORT}",
            file=sys.stderr,
        )
        return FAULT


def _sheets(options: argparse.Namespace) -> int:
    handovers, findings = _gather(options)
    limits, limit_findings = load_limits(options.limits)
    findings += limit_findings
    if limits is None or not handovers:
        return _nothing_produced(findings)
    unknown = _unknown_bed(handovers, options)
    if unknown:
        return _nothing_produced(findings, unknown)
    # The heavy libraries are imported only where sheets are made.
    from handoff.compose import WordingError
    from handoff.paper import FontError
    from handoff.store import StoreError
    from handoff.workers import WorkersError

    try:
        files, print_findings = _print_sheets(handovers, limits, options)
    except WordingError as error:
        return _nothing_produced([*findings, error.finding])
    except (FontError, StoreError, WorkersError) as error:
        return _nothing_produced(findings, str(error))
    findings += print_findings
    _print_findings(findings)
    _say(_counts_text(_counts(handovers)))
    sheets = sum("patients/" in name for name in files)
    _say(f"{sheets} patient sheets in {options.out}")
    discharges = sum("discharge/" in name for name in files)
    _say(f"take-home pages for {discharges} patients")
    return _exit_code(findings)


def _print_sheets(
    handovers: Sequence[Handover], limits: Limits, options: argparse.Namespace
) -> tuple[list[str], list[Finding]]:
    """Write every file; their names, and findings about what cannot be printed as written."""
    from handoff.paper import letters_lacking, use_font
    from handoff.produce import Printing, produce
    from handoff.store import storing
    from handoff.workers import working

    printing = Printing(
        paper=options.paper,
        language=options.language,
        beds=frozenset(options.bed),
        discharge_beds=frozenset(options.discharge),
        initials=options.initials,
        templates=options.templates,
        font=options.font,
    )
    patients = [patient for handover in handovers for patient in handover.patients]
    sheets = sum(printing.prints(patient) for patient in patients if patient.order)
    names = []
    # What is loaded and read by now stays: no looking through it for what can be forgotten.
    gc.freeze()
    if options.font:
        use_font(options.font)
    with (
        storing(options.out, keep=options.logs) as new,
        working(options.jobs, options.dask) as executor,
        closing(Progress(sheets, sys.stderr)) as progress,
        within(bounds_of(options)),
    ):
        for name, content in produce(handovers, limits, printing, executor):
            new.write(name, content)
            names.append(name)
            if "patients/" in name:
                progress.step()
    return names, letters_lacking(patients)


def _unknown_bed(handovers: Sequence[Handover], options: argparse.Namespace) -> str:
    """What is wrong with a bed given as an option; '' when every one can be printed."""
    patients = [patient for handover in handovers for patient in handover.patients]
    beds = {patient.bed for patient in patients}
    ordered = {patient.bed for patient in patients if patient.order is not None}
    for option, given in (("--bed", options.bed), ("--discharge", options.discharge)):
        for bed in given:
            if bed not in beds:
                return f"no patient in bed {bed}; give {option} as the log has it"
    for bed in options.discharge:
        if bed not in ordered:
            return f"no exercise is ordered for bed {bed}, so that there is no page to take home"
    return ""


def _check(options: argparse.Namespace) -> int:
    handovers, findings = _gather(options)
    counts = _counts(handovers) if handovers else None
    if options.json:
        _say(_check_json(counts, findings))
    else:
        for each in findings:
            _say(f"{each.severity}: {text(each)}")
        if counts:
            _say(_counts_text(counts))
    return NOTHING_PRODUCED if counts is None else _exit_code(findings)


def _explain(options: argparse.Namespace) -> int:
    handovers, findings = _gather(options)
    limits, limit_findings = load_limits(options.limits)
    findings += limit_findings
    if limits is None or not handovers:
        return _nothing_produced(findings)
    in_bed = [
        (handover, patient)
        for handover in handovers
        for patient in handover.patients
        if patient.bed == options.bed
    ]
    ordered = [(handover, patient.id) for handover, patient in in_bed if patient.order]
    if not ordered:
        what = "has no order, so nothing is measured" if in_bed else "is not on the list"
        return _nothing_produced(findings, f"the patient in bed {options.bed} {what}")
    # The heavy libraries are imported only where numbers are made.
    from handoff.explain import Subject, explain
    from handoff.judge import judge
    from handoff.measure import measure

    _print_findings(findings)
    with within(bounds_of(options)):
        for handover, patient_id in ordered:
            measures = measure(handover)[patient_id]
            subject = Subject(handover, measures, judge(measures, handover, limits), limits)
            _say(explain(subject, options.measure or EXPLAINED))
    return _exit_code(findings)


def _blank(options: argparse.Namespace) -> int:
    known, findings = _known_before(options)
    if not known:
        return _nothing_produced(findings)
    from handoff.compose import WordingError
    from handoff.paper import FontError, use_font
    from handoff.produce_blank import BlankPrinting, produce_blank
    from handoff.store import StoreError, storing

    for_unit = options.page_for == "unit"
    printing = BlankPrinting(options.paper, options.language, for_unit, options.templates)
    try:
        if options.font:
            use_font(options.font)
        with within(bounds_of(options)):
            files, print_findings = produce_blank(known, printing)
        with storing(options.out, replace=False) as new:
            for name, content in files.items():
                new.write(name, content)
    except WordingError as error:
        return _nothing_produced([*findings, error.finding])
    except (FontError, StoreError) as error:
        return _nothing_produced(findings, str(error))
    findings += print_findings
    _print_findings(findings)
    _say(f"{', '.join(sorted(files))} in {options.out}")
    return _exit_code(findings)


def _known_before(options: argparse.Namespace) -> tuple[list[Blank], list[Finding]]:
    """What logs and options tell of a log to fill in, for each unit; none where they are wrong."""
    if options.logs:
        handovers, findings = _gather(options)
        more = options.patients or 0
        return [_next_of(each, more) for each in handovers], findings
    example = f"{EXAMPLES['shift_start']}/{EXAMPLES['shift_end']}"
    told = Options(
        unit=options.unit or EXAMPLES["unit"],
        time_zone=options.time_zone or EXAMPLES["time_zone"],
        shift=options.shift or example,
        dates=options.dates,
        now=datetime.now(UTC),
    )
    log, found = check(silent("blank.yaml"), told)
    more = 1 if options.patients is None else options.patients
    return [Blank(log.unit, more, log.shift)] if log else [], list(found)


def _next_of(handover: Handover, more: int) -> Blank:
    """The log after a hand-over: its patients, and the times of the next shift to fill in."""
    return Blank(
        unit=handover.unit,
        more=more,
        before=handover.shift,
        patients=handover.patients,
        name_alerts=handover.name_alerts,
    )


def _desk(options: argparse.Namespace) -> int:
    limits, findings = load_limits(options.limits)
    if limits is None:
        return _nothing_produced(findings)
    folder = Path(options.folder)
    if not folder.is_dir():
        return _nothing_produced(findings, f"{folder} is no folder; give one with --folder")
    if not all(map(find_spec, ("flask", "waitress"))):
        needs = "the desk needs two more packages; install them with: pip install 'handoff[desk]'"
        return _nothing_produced(findings, needs)
    from handoff.compose import WordingError, Words
    from handoff.desk.serve import ServeError, Serving, serve
    from handoff.desk.ward import Setting
    from handoff.paper import FontError, use_font
    from handoff.produce import Printing

    printing = Printing(
        paper=options.paper,
        language=options.language,
        templates=options.templates,
        font=options.font,
    )
    setting = Setting(
        folder, limits, printing, options.unit, options.time_zone, options.shift, options.dates
    )
    serving = Serving(options.port, options.idle, options.browser, options.debug)
    _print_findings(findings)
    try:
        if options.font:
            use_font(options.font)
        Words(ZoneInfo("UTC"), options.language, options.templates)  # wrong ones end it here
        serve(setting, options.logs, serving, partial(print, flush=True))
    except WordingError as error:
        return _nothing_produced([error.finding])
    except (FontError, ServeError) as error:
        return _nothing_produced([], str(error))
    return _exit_code(findings)


def _limits(options: argparse.Namespace) -> int:
    limits, findings = load_limits(options.limits)
    if limits is None:
        return _nothing_produced(findings)
    _print_findings(findings)
    _say((yaml_limits if options.yaml else print_limits)(limits).rstrip())
    return _exit_code(findings)


def _gather(options: argparse.Namespace) -> tuple[tuple[Handover, ...], list[Finding]]:
    """The hand-over of each unit; none where a log cannot be used at all."""
    now = datetime.now(UTC)
    told = Options(options.unit, options.time_zone, options.shift, options.dates, now)
    bounds = bounds_of(options)
    with within(bounds):
        return read_handovers(options.logs, told, options.as_of, bounds)


def _counts(handovers: Sequence[Handover]) -> Counts:
    return sum((handover.counts for handover in handovers), Counts(0, 0, 0))


def _counts_text(counts: Counts) -> str:
    return f"{counts.read:,} read, {counts.used:,} used, {counts.set_aside:,} set aside"


def _check_json(counts: Counts | None, findings: Sequence[Finding]) -> str:
    none = dict.fromkeys(("read", "used", "set_aside"))
    document = {
        "counts": none if counts is None else asdict(counts),
        "findings": [each.as_json() for each in findings],
    }
    return json.dumps(document, indent=1)  # in ASCII: any terminal and any name can carry it


def _exit_code(findings: Sequence[Finding]) -> int:
    return DONE_WITH_ERRORS if worst(findings) is Severity.ERROR else DONE


def _nothing_produced(findings: Sequence[Finding], reason: str | None = None) -> int:
    _print_findings(findings)
    if reason:
        print(f"handoff: {reason}.", file=sys.stderr)
    return NOTHING_PRODUCED


def _print_findings(findings: Sequence[Finding]) -> None:
    for each in findings:
        print(f"{each.severity}: {text(each)}", file=sys.stderr)


def _say(result: str) -> None:
    print(result)


COMMANDS: Mapping[str, Callable[[argparse.Namespace], int]] = {
    "sheets": _sheets,
    "check": _check,
    "explain": _explain,
    "blank": _blank,
    "desk": _desk,
    "limits": _limits,
}

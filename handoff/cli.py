"""The command line: options in, stages run, findings out, exit code.

Enters: arguments. Leaves: results on standard output, findings on standard error, and an exit code:
0 done; 1 done, with findings of severity error; 2 usage, or nothing could be produced; 3 a fault of
the program. `check` and `limits` import none of the heavy libraries.
"""

import argparse
import json
import sys
from collections.abc import Sequence
from dataclasses import asdict
from datetime import UTC, datetime

from handoff import __version__
from handoff.check import Options, check
from handoff.findings import Finding, Severity, text, worst
from handoff.gather import gather
from handoff.languages import languages
from handoff.limits import load_limits
from handoff.limits_text import print_limits, yaml_limits
from handoff.model import Counts, Handover
from handoff.read import read

# The parts of an explanation; stated here so that `--help` need not load what explains them.
EXPLAINED = ("volume", "adherence", "trend", "goal", "reference", "bedside", "cautions")

DONE, DONE_WITH_ERRORS, NOTHING_PRODUCED, FAULT = 0, 1, 2, 3

PROGRAM = """\
Reads hand-kept shift logs of incentive spirometry, checks them line by line, and prints what one
shift hands to the next: a page for each patient, a unit summary, and the numbers behind them.

It does not diagnose and does not replace the order, local policy or clinical judgement.
Everything stays on this machine."""

SHEETS_EXAMPLE = """\
example:
  handoff sheets evening.yaml night.yaml --out tonight
      the night's sheets in the folder tonight; the evening gives the trend

  handoff sheets night.csv --unit "Harbour 3 East" --time-zone America/Halifax \\
      --shift 2026-03-06T19:00/2026-03-07T07:00 --out tonight
      a CSV that says neither unit nor shift

Earlier logs may be given in any order; the latest shift is handed over. DIR is created, or replaced
when it holds an earlier set of sheets. Exit code: 0 done, 1 done but something in a log was lost
(standard error says what), 2 nothing was produced, 3 a fault of the program."""

CHECK_EXAMPLE = """\
example:
  handoff check night.yaml
      each finding on a line: where, what is wrong, how to mend it

Exit code: 0 nothing is lost, 1 a cell or a row would be lost, 2 a log cannot be read at all."""

EXPLAIN_EXAMPLE = """\
example:
  handoff explain evening.yaml night.yaml --bed 12A
      every number of that patient's sheet: the rows used and left out, and the arithmetic

  handoff explain evening.yaml night.yaml --bed 12A --measure trend
      only the trend; --measure can be repeated

Give the logs, --as-of and --limits that the sheet was made with. Exit code: as for sheets."""

LIMITS_EXAMPLE = """\
example:
  handoff limits --yaml > unit-limits.yaml
      a file to edit; fill in who approved it and when, then
  handoff sheets night.yaml --limits unit-limits.yaml --out tonight"""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; the exit code. The only handler of faults of the program itself."""
    options = _parser().parse_args(arguments)
    try:
        return int(options.run(options))
    except BrokenPipeError:
        sys.stderr.close()
        return NOTHING_PRODUCED
    except Exception as fault:
        if options.debug:
            raise
        print(
            f"handoff: this is a fault of the program ({type(fault).__name__}); nothing was "
            "written. Run it again with --debug and report what it prints, without patients' data.",
            file=sys.stderr,
        )
        return FAULT


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="handoff",
        description=PROGRAM,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"handoff {__version__}")
    parser.add_argument(
        "--debug", action="store_true", help="show the trace of a fault of the program"
    )
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)
    _add_sheets(commands)
    _add_check(commands)
    _add_explain(commands)
    _add_limits(commands)
    return parser


def _add_command(
    commands: "argparse._SubParsersAction[argparse.ArgumentParser]",
    name: str,
    about: str,
    example: str,
) -> argparse.ArgumentParser:
    return commands.add_parser(
        name,
        help=about,
        description=about[0].upper() + about[1:] + ".",
        epilog=example,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )


def _add_sheets(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    command = _add_command(
        commands, "sheets", "print the sheets of the latest shift", SHEETS_EXAMPLE
    )
    _add_log_options(command)
    command.add_argument("--out", metavar="DIR", required=True, help="folder for the sheets")
    command.add_argument("--limits", metavar="FILE", help="the unit's own limits")
    command.add_argument("--templates", metavar="DIR", help="the unit's own words")
    command.add_argument(
        "--paper", choices=("letter", "a4"), default="letter", help="paper size (default: letter)"
    )
    command.add_argument(
        "--bed",
        action="append",
        default=[],
        metavar="BED",
        help="only this bed's sheet; repeatable",
    )
    command.add_argument(
        "--discharge",
        action="append",
        default=[],
        metavar="BED",
        help="also the page to take home of this bed; repeatable (always printed for who goes home "
        "by the day after the shift)",
    )
    command.add_argument(
        "--language",
        choices=languages(),
        default="en",
        help="language of the sheets (default: en)",
    )
    command.add_argument(
        "--initials",
        action="store_true",
        help="unit summary with initials and the last four of the id, to lie open",
    )
    command.set_defaults(run=_sheets)


def _add_check(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    command = _add_command(
        commands, "check", "report what is wrong with logs, print nothing", CHECK_EXAMPLE
    )
    _add_log_options(command)
    command.add_argument("--json", action="store_true", help="findings as JSON, for a program")
    command.set_defaults(run=_check)


def _add_explain(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    command = _add_command(
        commands, "explain", "say where the numbers of a patient's sheet come from", EXPLAIN_EXAMPLE
    )
    _add_log_options(command)
    command.add_argument("--bed", metavar="BED", required=True, help="whose sheet")
    command.add_argument(
        "--measure",
        action="append",
        choices=EXPLAINED,
        metavar="MEASURE",
        help=f"only this one of {', '.join(EXPLAINED)}; repeatable",
    )
    command.add_argument("--limits", metavar="FILE", help="the unit's own limits")
    command.set_defaults(run=_explain)


def _add_limits(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    command = _add_command(
        commands,
        "limits",
        "print every limit in force, with unit, source and edition",
        LIMITS_EXAMPLE,
    )
    command.add_argument("--limits", metavar="FILE", help="the unit's own limits")
    command.add_argument(
        "--yaml", action="store_true", help="as a file that a unit can edit and give with --limits"
    )
    command.set_defaults(run=_limits)


def _add_log_options(command: argparse.ArgumentParser) -> None:
    command.add_argument("logs", nargs="+", metavar="LOG", help="shift log, .yaml or .csv")
    command.add_argument(
        "--as-of",
        metavar="TIME",
        help="hand over what was known then, local time (default: the shift's end, or now while "
        "it is running)",
    )
    command.add_argument(
        "--shift", metavar="START/END", help="the shift, where a CSV does not say it: local times"
    )
    command.add_argument("--time-zone", metavar="ZONE", help="IANA name, where a CSV has none")
    command.add_argument("--unit", metavar="NAME", help="the unit, where a CSV does not name it")
    command.add_argument(
        "--dates", choices=("mdy", "dmy"), help="how to read dates such as 03/07/2026"
    )


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
    from handoff.produce import Printing, produce
    from handoff.store import StoreError, store

    printing = Printing(
        paper=options.paper,
        language=options.language,
        beds=frozenset(options.bed),
        discharge_beds=frozenset(options.discharge),
        initials=options.initials,
    )
    try:
        files, print_findings = produce(handovers, limits, options.templates, printing)
        store(files, options.out)
    except WordingError as error:
        return _nothing_produced([*findings, error.finding])
    except StoreError as error:
        return _nothing_produced(findings, str(error))
    findings += print_findings
    _print_findings(findings)
    _say(_counts_text(_counts(handovers)))
    sheets = sum("patients/" in name for name in files)
    _say(f"{sheets} patient sheets in {options.out}")
    discharges = sum("discharge/" in name for name in files)
    _say(f"take-home pages for {discharges} patients")
    return _exit_code(findings)


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
    for handover, patient_id in ordered:
        measures = measure(handover)[patient_id]
        subject = Subject(handover, measures, judge(measures, handover, limits), limits)
        _say(explain(subject, options.measure or EXPLAINED))
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
    reading = Options(options.unit, options.time_zone, options.shift, options.dates, now)
    checked = [check(read(path), reading) for path in options.logs]
    logs = [log for log, _ in checked if log is not None]
    if len(logs) < len(checked):
        return (), [each for _, found in checked for each in found]
    handovers, findings = gather(logs, options.as_of, now)
    return handovers, list(findings)


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
    return json.dumps(document, ensure_ascii=False, indent=1)


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

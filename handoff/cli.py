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
from handoff.blank import Blank
from handoff.check import Options, check
from handoff.fields import EXAMPLES
from handoff.findings import Finding, Severity, text, worst
from handoff.languages import languages
from handoff.limits import load_limits
from handoff.limits_text import print_limits, yaml_limits
from handoff.model import Counts, Handover
from handoff.read import silent
from handoff.reading import read_handovers

# The parts of an explanation; stated here so that `--help` need not load what explains them.
EXPLAINED = ("volume", "adherence", "trend", "goal", "reference", "bedside", "cautions")

MOST_BLANK_PATIENTS = 200

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

BLANK_EXAMPLE = """\
example:
  handoff blank --unit "Harbour 3 East" --time-zone America/Halifax \\
      --shift 2026-03-07T19:00/2026-03-08T07:00 --patients 8 --out tonight
      blank.yaml and blank.csv to type into, blank.pdf with a page for each of 8 patients

  handoff blank night.yaml --for unit --out day
      the patients and orders of that night, the times of the next shift left to fill in

What the options do not say of the unit and the shift is an example, which no log of a patient may
keep. DIR must be new or empty: a log that was filled in is never replaced."""

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
    _add_blank(commands)
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
    _add_printing_options(command)
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


def _add_blank(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    command = _add_command(commands, "blank", "make a log to fill in", BLANK_EXAMPLE)
    _add_reading_options(command, logs="*")
    _add_printing_options(command)
    command.add_argument("--out", metavar="DIR", required=True, help="folder for the files")
    command.add_argument(
        "--patients",
        type=_count,
        metavar="N",
        help="room for so many patients who are in no LOG (default: 1, with a LOG 0)",
    )
    command.add_argument(
        "--for",
        dest="page_for",
        choices=("patients", "unit"),
        default="patients",
        help="blank.pdf has a page a patient, or one for the unit (default: patients)",
    )
    command.set_defaults(run=_blank, as_of=None)


def _count(text: str) -> int:
    """How many patients a log to fill in has room for."""
    if not text.isdecimal() or int(text) > MOST_BLANK_PATIENTS:
        raise argparse.ArgumentTypeError(f"a whole number from 0 to {MOST_BLANK_PATIENTS}")
    return int(text)


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
    _add_reading_options(command, logs="+")
    command.add_argument(
        "--as-of",
        metavar="TIME",
        help="hand over what was known then, local time (default: the shift's end, or now while "
        "it is running)",
    )


def _add_reading_options(command: argparse.ArgumentParser, logs: str) -> None:
    command.add_argument("logs", nargs=logs, metavar="LOG", help="shift log, .yaml or .csv")
    command.add_argument(
        "--shift", metavar="START/END", help="the shift, where a CSV does not say it: local times"
    )
    command.add_argument("--time-zone", metavar="ZONE", help="IANA name, where a CSV has none")
    command.add_argument("--unit", metavar="NAME", help="the unit, where a CSV does not name it")
    command.add_argument(
        "--dates", choices=("mdy", "dmy"), help="how to read dates such as 03/07/2026"
    )


def _add_printing_options(command: argparse.ArgumentParser) -> None:
    command.add_argument("--templates", metavar="DIR", help="the unit's own words")
    command.add_argument(
        "--paper", choices=("letter", "a4"), default="letter", help="paper size (default: letter)"
    )
    command.add_argument(
        "--language",
        choices=languages(),
        default="en",
        help="language of what is printed (default: en)",
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
        progress=_progress,
    )
    try:
        files, print_findings = produce(handovers, limits, options.templates, printing)
        store(files, options.out, keep=options.logs)
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


def _progress(done: int, of: int) -> None:
    """How far the printing is; on a terminal only."""
    if sys.stderr.isatty():
        end = "\n" if done == of else ""
        print(f"\rsheet {done} of {of}", end=end, file=sys.stderr, flush=True)


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


def _blank(options: argparse.Namespace) -> int:
    known, findings = _known_before(options)
    if not known:
        return _nothing_produced(findings)
    from handoff.compose import WordingError
    from handoff.produce_blank import BlankPrinting, produce_blank
    from handoff.store import StoreError, store

    for_unit = options.page_for == "unit"
    printing = BlankPrinting(options.paper, options.language, for_unit, options.templates)
    try:
        files, print_findings = produce_blank(known, printing)
        store(files, options.out, replace=False)
    except WordingError as error:
        return _nothing_produced([*findings, error.finding])
    except StoreError as error:
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
    return read_handovers(options.logs, told, options.as_of)


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

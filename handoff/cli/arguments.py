"""The arguments of the command line: commands, options, help with an example in each.

Input: the arguments as typed. Output: a namespace whose `command` names the command to run. Runs
nothing; argparse ends wrong usage with exit code 2 and one line.
"""

import argparse
import os
import re
from collections.abc import Callable, Iterator, Sequence
from datetime import date
from difflib import get_close_matches
from glob import glob
from typing import TypeAlias

from handoff import __version__
from handoff.model.bounds import USUAL, Bounds
from handoff.model.wording import ENGLISH

# The parts of an explanation, repeated here: `--help` does not load `explain`.
EXPLAINED = ("volume", "adherence", "trend", "goal", "reference", "bedside", "cautions")

MOST_BLANK_PATIENTS, MOST_JOBS = 200, 256

IDLE_MIN, MOST_IDLE_MIN = 720, 10_080  # one long shift, one week
MOST_PORT = 65_535
MOST_EARLIER = 90  # shifts: a month of three a day
MOST_ENTRIES = 1_000
SENT_BESIDES = frozenset({"signs", "flags"})

PROGRAM = """\
Reads hand-kept shift logs of incentive spirometry, checks them line by line, and prints what one
shift hands to the next: a page for each patient, a unit summary, and the numbers behind them.

It does not diagnose and does not replace the order, local policy or clinical judgement.
Everything stays on this machine, unless you name a cluster or a FHIR server."""

SHEETS_EXAMPLE = """\
example:
  handoff sheets evening.yaml night.yaml --out tonight
      the night's sheets in the folder tonight; the evening gives the trend

  handoff sheets night.csv --unit "Harbour 3 East" --time-zone America/Halifax \\
      --shift 2026-03-06T19:00/2026-03-07T07:00 --out tonight
      for a CSV that names neither unit nor shift

  handoff sheets evening.yaml night.yaml --out tonight --fhir urn:oid:2.999.1
      also a file for each patient in tonight/fhir, for handoff fhir send

Earlier logs may be given in any order; the latest shift is handed over. DIR is created, or replaced
when it holds an earlier set of sheets. Exit code: 0 done, 1 done but something in a log was lost
(standard error says what), 2 nothing was produced, 3 a fault of the program."""

CHECK_EXAMPLE = """\
example:
  handoff check night.yaml
      a line for each finding: where it is, what is wrong, how to mend it. More than three of one
      kind in one column share a line, with the first places and how many there are

Exit code: 0 nothing is lost, 1 a cell or a row would be lost, 2 a log cannot be read at all."""

EXPLAIN_EXAMPLE = """\
example:
  handoff explain evening.yaml night.yaml --bed 12A
      every number of that patient's sheet: the rows used and left out, and the arithmetic

  handoff explain evening.yaml night.yaml --bed 12A --measure trend
      only the trend; --measure can be repeated

  handoff explain evening.yaml night.yaml --bed 5B --matter low-oxygen
      what became of that danger over the stay: the rows that met the rule, told somebody or
      measured again, and what would close it

Give the logs, --as-of and --limits that the sheet was made with. Exit code: as for sheets."""

BLANK_EXAMPLE = """\
example:
  handoff blank --unit "Harbour 3 East" --time-zone America/Halifax \\
      --shift 2026-03-07T19:00/2026-03-08T07:00 --patients 8 --out tonight
      blank.yaml, blank.csv or blank.xlsx to type into, blank.pdf with a page for each of 8
      patients

  handoff blank evening.yaml night.yaml --for unit --out day
      the patients and orders of that night, and what is open of each; the times of the next shift
      are left to fill in. Give the earlier logs of the stay too, as for sheets

Unit, time zone and shift are an example where no option gives them. Replace it: a log that still
has the example is refused. DIR must be new or empty, so that no filled-in log is replaced."""

CARD_EXAMPLE = """\
example:
  handoff card evening.yaml night.yaml --out cards
      cards/bedside-cards.pdf: a page for each patient, for the 24 hours after that night

  handoff card evening.yaml night.yaml --bed 12A --initials --out card-12A
      one card, with initials instead of the name

Give the logs of the stay, as for sheets. A card is for the patient and for whoever comes to the
bed: nothing of the illness, of precautions or of what is open stands on it. Nobody acts on it: the
sheet has the two identifiers. DIR must be new or empty. Exit code: as for sheets."""

REVIEW_EXAMPLE = """\
example:
  handoff review 2026/*.yaml --out spring --from 2026-03-02 --to 2026-05-31
      how the unit did in these 13 weeks: review.pdf, review.csv

A shift counts on the day on which it starts. Give the logs of the days before too: they tell how
the stays began that reach into these days. A time without a log is named, and nothing is put in for
it. A log that cannot be read is named and left out. Nobody is named or ranked, and what rests on
fewer than five stays is not shown. DIR is created, or replaced when it holds an earlier review.
Exit code: as for sheets."""

DESK_EXAMPLE = """\
example:
  handoff desk
      opens the browser, to choose among the logs of this folder

  handoff desk evening.yaml night.yaml --limits unit-limits.yaml
      opens these two, with the unit's own limits

Only this machine can reach the desk (127.0.0.1). Its address holds a key: whoever has the address
can open it, until Ctrl-C closes it. It leads to a random name that ends in .localhost, which
Firefox, Chromium and their kin find without a network. The desk needs three more packages:
pip install 'handoff[desk]'."""

LIMITS_EXAMPLE = """\
example:
  handoff limits --yaml --out unit-limits.yaml
      a file to edit; fill in who approved it and when, then
  handoff sheets night.yaml --limits unit-limits.yaml --out tonight"""

FHIR_EXAMPLE = """\
Only the server that you name is asked, and only send ever writes to it. A token is read from
--token-file, or from HANDOFF_FHIR_TOKEN where there is no such option; it is never an argument."""

FHIR_WRITE_EXAMPLE = """\
example:
  handoff fhir write night.yaml --out night.json --patient-system urn:oid:2.999.1
      the whole log as a Bundle, which is a log again: handoff sheets night.json --out tonight

It names patients: treat it like the log. Rows that are set aside stay so in it. FILE must be new.
Exit code: 0 done, 1 done but something in the log was lost (standard error says what), 2 nothing
was written, 3 a fault of the program."""

FHIR_GET_EXAMPLE = """\
example:
  handoff fhir get https://record.example/fhir --ward Location/3-east --time-zone America/Halifax \\
      --shift 2026-03-06T19:00/2026-03-07T07:00 --earlier 2 --out record \\
      --patient-system urn:oid:2.999.1 --token-file token
      a log for that shift and for each of the two before it, to give to handoff sheets

Nothing is changed on the server. DIR must be new or empty. Exit code: 0 done, 1 done but somebody
has no single number of that system, 2 nothing was written, 3 a fault of the program."""

FHIR_SEND_EXAMPLE = """\
example:
  handoff fhir send tonight/fhir https://record.example/fhir --token-file token --dry-run
      what would be sent; the same without --dry-run sends it

Patients, encounters, orders and goals are the record's: they are never created or changed. Sending
again makes nothing twice. Exit code: 0 all of it is there, 1 something was left out or differs
(standard error says what), 2 nothing was sent, or it ended before all was: send it again, 3 a fault
of the program."""


# argparse has no public name for this type.
Commands: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"  # noqa: SLF001


def parse(arguments: Sequence[str] | None) -> argparse.Namespace:
    """The options of one command; `None` takes the process's own arguments."""
    options, unknown = _parser().parse_known_args(arguments)
    if unknown:
        options.parser.error(_not_understood(unknown, options.parser))
    if "logs" in options:
        given, options.logs = options.logs, [*_expanded(options.logs)]
        if options.command == "fhir" and options.logs[1:]:
            options.parser.error(f"{given[0]} means {len(options.logs)} logs; give one")
    return options


def _not_understood(unknown: Sequence[str], parser: argparse.ArgumentParser) -> str:
    """A line on the first argument that the command does not take."""
    first = next((each for each in unknown if each.startswith("-")), unknown[0]).partition("=")[0]
    known = sorted(set(re.findall(r"--[a-z-]+", parser.format_help())))
    like = [each for each in known if each.startswith(first)] or get_close_matches(first, known, 1)
    what = f"has no option {first}" if first.startswith("-") else f"does not take {first}"
    hint = f"write {' or '.join(like)}" if like else "--help lists what it takes"
    return f"{parser.prog} {what}; {hint}"


def _expanded(names: Sequence[str]) -> Iterator[str]:
    """The names of logs, with the files that a pattern such as `ward/*.yaml` means in its place,
    in the order of their names.

    A shell does this before, but not on Windows, and not where the pattern is quoted. What is the
    name of a file is no pattern, and one that means no file stays, to be named by a finding.
    """
    for name in names:
        is_pattern = any(each in name for each in "*?[") and not os.path.lexists(name)
        # A path as it was typed may have the pattern in any part.
        found = sorted(glob(name)) if is_pattern else []  # noqa: PTH207
        yield from found or [name]


def bounds_of(options: argparse.Namespace) -> Bounds:
    """The bounds of the run."""
    return Bounds(
        size_mb=options.max_size,
        rows=options.max_rows,
        nesting=options.max_nesting,
        seconds=options.max_seconds,
        memory_mb=options.max_memory,
    )


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="handoff",
        description=PROGRAM,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"handoff {__version__}")
    _add_debug(parser, default=False)
    commands = parser.add_subparsers(
        title="commands", metavar="COMMAND", dest="command", required=True
    )
    _add_sheets(commands)
    _add_check(commands)
    _add_explain(commands)
    _add_review(commands)
    _add_blank(commands)
    _add_card(commands)
    _add_desk(commands)
    _add_fhir(commands)
    _add_limits(commands)
    _add_command(commands, "codes", "print all that can be wrong with a log, and how to mend it")
    return parser


def _add_command(
    commands: Commands, name: str, about: str, example: str | None = None
) -> argparse.ArgumentParser:
    command = commands.add_parser(
        name,
        help=about,
        description=about[0].upper() + about[1:] + ".",
        epilog=example,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    _add_debug(command)
    command.set_defaults(parser=command)
    return command


def _add_debug(parser: argparse.ArgumentParser, default: object = argparse.SUPPRESS) -> None:
    """The option that the line on a fault asks for, behind the command as well as before it."""
    parser.add_argument_group("faults").add_argument(
        "--debug",
        action="store_true",
        default=default,
        help="show where a fault of the program happened, to report it",
    )


def _add_sheets(commands: Commands) -> None:
    command = _add_command(
        commands, "sheets", "print the sheets of the latest shift", SHEETS_EXAMPLE
    )
    command.add_argument("--out", metavar="DIR", required=True, help="folder for the sheets")
    _add_log_options(command)
    _add_own_limits(command)
    _add_printing_options(command)
    _add_beds(command, "sheet")
    command.add_argument(
        "--discharge",
        action="append",
        default=[],
        metavar="BED",
        help="also the page to take home for this bed; repeatable (printed anyway for those who go "
        "home by the day after the shift, unless the exercise is held or a danger is open)",
    )
    command.add_argument(
        "--initials",
        action="store_true",
        help="initials and the last four of the id on the pages of the whole unit (summary, round "
        "list, courses), so that they may lie open",
    )
    exchange = command.add_argument_group(
        "exchange with the hospital's record", "Written for handoff fhir send; nothing is sent."
    )
    exchange.add_argument(
        "--fhir",
        type=_absolute_address,
        metavar="URI",
        help="also write DIR/fhir, a Bundle of HL7 FHIR R4 a patient: the shift's rows, results "
        "and pages; URI is the identifier system of the hospital's patient number",
    )
    exchange.add_argument(
        "--with",
        dest="sent_besides",
        type=_kinds,
        default=frozenset(),
        metavar="KINDS",
        help="with --fhir: signs, for vital signs, pain and symptoms, where the record does not "
        "have them anyway; flags, for a Flag of each danger; or signs,flags",
    )
    _add_workers(command, "the units between N processes (default: 1, quickest for one unit)")
    _add_bounds(command)


def _add_workers(command: argparse.ArgumentParser, shares: str) -> None:
    workers = command.add_mutually_exclusive_group()
    workers.add_argument(
        "--jobs",
        type=_whole_number(1, MOST_JOBS),
        default=1,
        metavar="N",
        help=f"share {shares}",
    )
    workers.add_argument(
        "--dask",
        metavar="ADDRESS",
        help="share the units between machines: the scheduler of a Dask cluster, whose workers "
        "have the same version of handoff, and --templates and --font at the same paths",
    )


def _add_review(commands: Commands) -> None:
    command = _add_command(
        commands, "review", "show how a unit did over weeks or months", REVIEW_EXAMPLE
    )
    command.add_argument("--out", metavar="DIR", required=True, help="folder for the review")
    _add_reading_options(command, logs="+")
    for option, name, which in (("--from", "first", "first"), ("--to", "last", "last")):
        command.add_argument(
            option,
            dest=name,
            type=_day,
            metavar="DATE",
            help=f"the {which} day that counts (default: the {which} of the logs)",
        )
    command.add_argument(
        "--tables",
        action="store_true",
        help="also DIR/tables: entries, spans, stays and escalations as CSV (and as Parquet where "
        "pyarrow is installed), without names and ids; they still tell of patients",
    )
    _add_own_limits(command)
    _add_printing_options(command)
    _add_workers(command, "the units, or a single unit's stays, between N processes (default: 1)")
    _add_bounds(command)
    command.set_defaults(as_of=None)


def _day(text: str) -> date:
    """A parser of a day."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError("a day, such as 2026-03-02") from None


def _add_check(commands: Commands) -> None:
    command = _add_command(
        commands, "check", "report what is wrong with logs, and make no sheets", CHECK_EXAMPLE
    )
    _add_log_options(command)
    shown = command.add_mutually_exclusive_group()
    shown.add_argument(
        "--every",
        action="store_true",
        help="a line for each finding, also where one column has many of a kind",
    )
    shown.add_argument("--json", action="store_true", help="findings as JSON, for a program")
    command.add_argument(
        "--templates", metavar="DIR", help="folder with the unit's own words, for its languages"
    )
    _add_bounds(command)


def _add_explain(commands: Commands) -> None:
    command = _add_command(
        commands,
        "explain",
        "show where the numbers of a patient's sheet come from",
        EXPLAIN_EXAMPLE,
    )
    _add_log_options(command)
    command.add_argument(
        "--bed", metavar="BED", required=True, help="whose sheet, by the bed in the log"
    )
    only = command.add_mutually_exclusive_group()
    only.add_argument(
        "--measure",
        action="append",
        choices=EXPLAINED,
        metavar="MEASURE",
        help=f"only this part, one of {', '.join(EXPLAINED)}; repeatable",
    )
    only.add_argument(
        "--matter",
        metavar="RULE",
        help="only the dangers that this rule found over the stay, also of a patient who has left: "
        "such as low-oxygen or faint-or-chest-pain:faint; all: a line for each danger",
    )
    _add_own_limits(command)
    _add_bounds(command)


def _add_blank(commands: Commands) -> None:
    command = _add_command(commands, "blank", "make a log to fill in", BLANK_EXAMPLE)
    command.add_argument("--out", metavar="DIR", required=True, help="folder for the files")
    _add_reading_options(command, logs="*")
    _add_printing_options(command)
    _add_own_limits(command)
    command.add_argument(
        "--patients",
        type=_whole_number(0, MOST_BLANK_PATIENTS),
        metavar="N",
        help="room for N more patients (default: 1, or 0 where a LOG is given)",
    )
    command.add_argument(
        "--for",
        dest="page_for",
        choices=("patients", "unit"),
        default="patients",
        help="a page of blank.pdf for each patient, or one for the unit (default: patients)",
    )
    _add_bounds(command)
    command.set_defaults(as_of=None)


def _add_card(commands: Commands) -> None:
    command = _add_command(commands, "card", "print a card for each patient's table", CARD_EXAMPLE)
    command.add_argument("--out", metavar="DIR", required=True, help="folder for the cards")
    _add_log_options(command)
    _add_own_limits(command)
    _add_printing_options(command)
    _add_beds(command, "card")
    command.add_argument(
        "--initials", action="store_true", help="initials instead of names, where visitors come"
    )
    _add_bounds(command)


def _add_desk(commands: Commands) -> None:
    command = _add_command(
        commands,
        "desk",
        "show and keep the logs of a ward in the browser of this machine",
        DESK_EXAMPLE,
    )
    _add_reading_options(command, logs="*")
    _add_own_limits(command)
    _add_printing_options(command)
    command.add_argument(
        "--folder",
        metavar="DIR",
        default=".",
        help="where logs are chosen from, and new ones kept (default: this folder)",
    )
    command.add_argument(
        "--documents",
        action="store_true",
        help="the folder handoff in your documents instead, which is made if need be; where its "
        "desk is open already, that one is shown",
    )
    command.add_argument(
        "--port",
        type=_whole_number(0, MOST_PORT),
        default=0,
        metavar="N",
        help="where the desk is served (default: any port that is free)",
    )
    command.add_argument(
        "--idle",
        type=_whole_number(0, MOST_IDLE_MIN),
        default=IDLE_MIN,
        metavar="MIN",
        help=f"close the desk when nobody used it for MIN minutes; 0: never (default: {IDLE_MIN})",
    )
    command.add_argument(
        "--by", metavar="NAME", help="who charts at this desk: stands beside each change"
    )
    command.add_argument(
        "--no-browser",
        dest="browser",
        action="store_false",
        help="print the address and open nothing",
    )


def _add_fhir(commands: Commands) -> None:
    command = _add_command(
        commands, "fhir", "exchange with a hospital's record system (HL7 FHIR R4)", FHIR_EXAMPLE
    )
    exchanges = command.add_subparsers(
        title="commands", metavar="COMMAND", dest="exchange", required=True
    )
    _add_fhir_write(exchanges)
    _add_fhir_get(exchanges)
    _add_fhir_send(exchanges)


def _add_fhir_write(exchanges: Commands) -> None:
    command = _add_command(exchanges, "write", "write a log as a Bundle", FHIR_WRITE_EXAMPLE)
    command.add_argument("--out", metavar="FILE", required=True, help="the Bundle, a new file")
    _add_reading_options(command, logs=1, needs_system=True)
    _add_bounds(command)


def _absolute_address(text: str) -> str:
    """A parser of an identifier system: it is written into every patient's number."""
    if not re.fullmatch(r"[A-Za-z][A-Za-z0-9+.-]*:[^\s|]+", text):
        raise argparse.ArgumentTypeError(
            "an absolute address, such as urn:oid:2.999.1 or https://hospital.example/patients"
        )
    return text


def _kinds(text: str) -> frozenset[str]:
    """A parser of what is written for sending besides rows, results and pages."""
    kinds = frozenset(each.strip() for each in text.split(","))
    if not kinds <= SENT_BESIDES:
        raise argparse.ArgumentTypeError(f"one of {', '.join(sorted(SENT_BESIDES))}, or both")
    return kinds


def _add_fhir_get(exchanges: Commands) -> None:
    command = _add_command(
        exchanges, "get", "write what the record says of a ward, as logs", FHIR_GET_EXAMPLE
    )
    command.add_argument("base", metavar="BASE", help="base address of the server")
    command.add_argument("--out", metavar="DIR", required=True, help="folder for the logs")
    command.add_argument(
        "--ward", metavar="Location/ID", required=True, help="the ward, as the record knows it"
    )
    command.add_argument(
        "--shift", metavar="START/END", required=True, help="local times of the shift"
    )
    command.add_argument(
        "--time-zone", metavar="ZONE", required=True, help="time zone, such as America/Halifax"
    )
    command.add_argument(
        "--earlier",
        type=_whole_number(0, MOST_EARLIER),
        default=0,
        metavar="N",
        help="also the N shifts before it, each as long by the clock (default: 0)",
    )
    command.add_argument(
        "--patient-system",
        type=_absolute_address,
        metavar="URI",
        required=True,
        help="identifier system of the hospital's patient number",
    )
    command.add_argument(
        "--fhir-codes", metavar="FILE", help="file with the unit's own codes of the exchange"
    )
    _add_server_options(command)


def _add_fhir_send(exchanges: Commands) -> None:
    command = _add_command(
        exchanges, "send", "send what handoff sheets --fhir wrote", FHIR_SEND_EXAMPLE
    )
    command.add_argument("folder", metavar="DIR", help="the folder fhir of a set of sheets")
    command.add_argument("base", metavar="BASE", help="base address of the server")
    command.add_argument(
        "--dry-run", action="store_true", help="only say what would be sent, and send nothing"
    )
    command.add_argument(
        "--correct",
        action="store_true",
        help="also replace what was sent before and says something else now",
    )
    command.add_argument(
        "--before",
        metavar="OLDER",
        help="with --correct: the folder that was sent before; what is gone from it is marked as "
        "entered in error",
    )
    command.add_argument(
        "--confirm",
        action="append",
        default=[],
        metavar="NUMBER",
        help="send this patient's although the record spells the name in another way; repeatable",
    )
    command.add_argument(
        "--most-entries",
        type=_whole_number(1, MOST_ENTRIES),
        default=8,
        metavar="N",
        help="entries in one transaction, where the server allows more or fewer (default: 8)",
    )
    _add_server_options(command)


def _add_server_options(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--token-file",
        metavar="FILE",
        help="file with the access token, which only you can read (default: HANDOFF_FHIR_TOKEN)",
    )
    command.add_argument(
        "--ca", metavar="FILE", help="certificate of the hospital's own authority (PEM)"
    )
    group = command.add_argument_group("bounds")
    for option, unit, bound, what in (
        ("seconds", "S", USUAL.seconds, "seconds for all of it"),
        ("size", "MB", USUAL.size_mb, "size of all answers together"),
    ):
        group.add_argument(
            f"--max-{option}",
            type=_whole_number(1, 10**6),
            default=bound,
            metavar=unit,
            help=f"{what} (default: {bound:,})",
        )


def _whole_number(low: int, high: int) -> Callable[[str], int]:
    """A parser of a whole-number option within a range."""

    def read(text: str) -> int:
        if not text.isdecimal() or not low <= int(text) <= high:
            raise argparse.ArgumentTypeError(f"a whole number from {low} to {high:,}")
        return int(text)

    return read


def _add_limits(commands: Commands) -> None:
    command = _add_command(
        commands,
        "limits",
        "print every limit in force, with unit, source and edition",
        LIMITS_EXAMPLE,
    )
    command.add_argument(
        "--out", metavar="FILE", help="write a new file instead of standard output"
    )
    _add_own_limits(command)
    command.add_argument(
        "--yaml",
        action="store_true",
        help="print a file that a unit can edit and give with --limits",
    )


def _add_log_options(command: argparse.ArgumentParser) -> None:
    _add_reading_options(command, logs="+")
    command.add_argument(
        "--as-of",
        metavar="TIME",
        help="hand over what was known at this local time (default: the end of the shift, or now "
        "while it is running)",
    )


def _add_reading_options(
    command: argparse.ArgumentParser, logs: str | int, *, needs_system: bool = False
) -> None:
    command.add_argument(
        "logs", nargs=logs, metavar="LOG", help="shift log, .yaml, .csv, .xlsx or .json"
    )
    command.add_argument(
        "--shift", metavar="START/END", help="local times of the shift, where a CSV lacks them"
    )
    command.add_argument(
        "--time-zone",
        metavar="ZONE",
        help="time zone, such as America/Halifax, where a CSV has none",
    )
    command.add_argument("--unit", metavar="NAME", help="the unit, where a CSV names none")
    command.add_argument(
        "--dates",
        choices=("mdy", "dmy"),
        help="how to read dates such as 03/07/2026: month first, or day first",
    )
    if logs != 1:
        command.add_argument(
            "--newest",
            action="store_true",
            help="of several versions of one log, use the file that was changed last",
        )
    command.add_argument(
        "--patient-system",
        type=_absolute_address,
        metavar="URI",
        required=needs_system,
        help="identifier system of the hospital's patient number, for a Bundle of HL7 FHIR R4"
        + ("" if needs_system else "; without it a number marked MR is taken, if there is one"),
    )
    command.add_argument(
        "--fhir-codes", metavar="FILE", help="file with the unit's own codes of the exchange"
    )


def _add_bounds(command: argparse.ArgumentParser) -> None:
    group = command.add_argument_group(
        "bounds",
        "A run that goes beyond one of these ends with one line, so that a wrong file can\n"
        "neither fill the memory nor take hours.",
    )
    for option, unit, bound, highest, what in (
        ("size", "MB", USUAL.size_mb, 10**6, "size of a log"),
        ("rows", "N", USUAL.rows, 10**9, "rows or entries of a log"),
        ("nesting", "N", USUAL.nesting, 100, "levels of a YAML log"),
        (
            "seconds",
            "S",
            USUAL.seconds,
            10**6,
            "seconds for reading, and as many for making the result",
        ),
        ("memory", "MB", USUAL.memory_mb, 10**6, "memory of this process"),
    ):
        group.add_argument(
            f"--max-{option}",
            type=_whole_number(1, highest),
            default=bound,
            metavar=unit,
            help=f"{what} (default: {bound:,})",
        )


def _add_own_limits(command: argparse.ArgumentParser) -> None:
    command.add_argument("--limits", metavar="FILE", help="file with the unit's own limits")


def _add_beds(command: argparse.ArgumentParser, of: str) -> None:
    command.add_argument(
        "--bed",
        action="append",
        default=[],
        metavar="BED",
        help=f"only this bed's {of}; repeatable",
    )


def _add_printing_options(command: argparse.ArgumentParser) -> None:
    command.add_argument("--templates", metavar="DIR", help="folder with the unit's own words")
    command.add_argument(
        "--font", metavar="FILE", help="TrueType font for letters that the sheets' own fonts lack"
    )
    command.add_argument(
        "--paper", choices=("letter", "a4"), default="letter", help="paper size (default: letter)"
    )
    command.add_argument(
        "--language",
        metavar="CODE",
        default=ENGLISH,
        help="language of pages for patients whose log has none, and of all pages where there are "
        f"words for the staff in it (default: {ENGLISH})",
    )

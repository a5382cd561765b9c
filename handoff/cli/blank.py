"""`handoff blank`: a log to fill in, empty or with the known facts of the next shift."""

from argparse import Namespace
from datetime import UTC, datetime

from handoff.check import Options, check
from handoff.cli.arguments import bounds_of
from handoff.cli.logs import gathered
from handoff.cli.outcome import NOTHING_PRODUCED, exit_code, report, say
from handoff.draw.paper import Typesetter
from handoff.limits.reading import load_limits
from handoff.log.blank import Blank
from handoff.log.fields import EXAMPLES
from handoff.model.findings import Finding
from handoff.model.ward import Handover
from handoff.read import silent
from handoff.run.blank import BlankPrinting, blank_after, produce_blank
from handoff.run.bounds import within
from handoff.run.sheets import results_of
from handoff.run.units import UnitLogs
from handoff.store.folder import storing


def run(options: Namespace) -> int:
    """Write the starters and the page, and print their names."""
    known, findings = _known_before(options)
    report(findings)
    if not known:
        return NOTHING_PRODUCED
    for_unit = options.page_for == "unit"
    printing = BlankPrinting(
        options.paper, options.language, for_unit, options.templates, Typesetter(options.font)
    )
    with within(bounds_of(options)):
        files, print_findings = produce_blank(known, printing)
    with storing(options.out, replaces=()) as new:
        for name, content in files.items():
            new.write(name, content)
    report(print_findings)
    say(f"{', '.join(sorted(files))} in {options.out}")
    return exit_code([*findings, *print_findings])


def _known_before(options: Namespace) -> tuple[list[Blank], list[Finding]]:
    """The known facts of a log to fill in, for each unit, from logs and options; none where these
    have errors.
    """
    limits, limit_findings = load_limits(options.limits)
    if limits is None:
        return [], limit_findings
    if options.logs:

        def after(_: UnitLogs, handover: Handover) -> Blank:
            return blank_after(results_of(handover, limits), options.patients or 0)

        blanks, findings, _ = gathered(options, after)
        return blanks, [*findings, *limit_findings]
    shift = f"{EXAMPLES['shift_start']}/{EXAMPLES['shift_end']}"
    check_options = Options(
        unit=options.unit or EXAMPLES["unit"],
        time_zone=options.time_zone or "UTC",
        shift=options.shift or shift,
        dates=options.dates,
        now=datetime.now(UTC),
    )
    log, found = check(silent("blank.yaml"), check_options)
    more = 1 if options.patients is None else options.patients
    examples = frozenset(
        name
        for name in EXAMPLES
        if not getattr(options, "shift" if name.startswith("shift") else name)
    )
    blanks = [Blank(log.unit, more, log.shift, examples=examples)] if log else []
    return blanks, [*found, *limit_findings]

"""`handoff review`: show how a unit did over weeks or months."""

from argparse import Namespace
from concurrent.futures import Executor

from handoff.cli.arguments import bounds_of
from handoff.cli.logs import check_options_of
from handoff.cli.outcome import NOTHING_PRODUCED, counts_text, exit_code, report, say
from handoff.draw.paper import Typesetter
from handoff.limits.reading import Limits, load_limits
from handoff.model.findings import Finding
from handoff.model.refused import Refused
from handoff.model.review import FEWEST_STAYS
from handoff.model.ward import NONE_READ
from handoff.review import has_parquet
from handoff.run.bounds import within
from handoff.run.handovers import read_weeks
from handoff.run.review import Reviewed, Weeks, produce_reviews
from handoff.run.sheets import File, Printing
from handoff.run.workers import working
from handoff.store.file_names import distinct_names
from handoff.store.folder import REVIEW, storing


def run(options: Namespace) -> int:
    """Write the review of each unit, and print what it is made of."""
    if options.first and options.last and options.first > options.last:
        raise Refused(f"--from {options.first} is after --to {options.last}")
    limits, findings = load_limits(options.limits)
    made: list[tuple[str, Reviewed, list[File]]] = []
    if limits:
        with working(options.jobs, options.dask) as executor:
            made, found = _made(options, limits, executor)
        findings = [*findings, *found]
    report(findings, of_weeks=True)
    reviewed = [each for _, each, _ in made if each.review]
    if not reviewed:
        return NOTHING_PRODUCED
    with storing(options.out, replaces=REVIEW, keep=options.logs) as new:
        for folder, _, files in made:
            for name, content in files:
                new.write(f"{folder}/{name}" if made[1:] else name, content)
    say(counts_text(sum((each.counts for _, each, _ in made), NONE_READ)))
    for each in reviewed:
        say(_made_of(each))
    if options.tables and not has_parquet():
        say("tables as CSV only: for Parquet, pip install 'handoff[tables]'")
    return exit_code(findings)


def _made(
    options: Namespace, limits: Limits, executor: Executor | None
) -> tuple[list[tuple[str, Reviewed, list[File]]], list[Finding]]:
    """The folder, review and files of each unit, and all findings."""
    check_options, findings = check_options_of(options)
    if check_options is None:
        return [], findings
    bounds = bounds_of(options)
    with within(bounds):
        units, found, lost = read_weeks(options.logs, check_options, bounds, executor)
    printing = Printing(
        paper=options.paper,
        language=options.language,
        templates=options.templates,
        typesetter=Typesetter(options.font),
    )
    weeks = Weeks(options.first, options.last, lost, options.tables, printing)
    folders = distinct_names("", [unit.name for unit in units])
    results = list(produce_reviews(units, limits, weeks, executor, bounds))
    made = [
        (folder, reviewed, files)
        for folder, (reviewed, files) in zip(folders, results, strict=True)
    ]
    of_units = [each for reviewed, _ in results for each in reviewed.findings]
    return made, [*findings, *found, *of_units]


def _made_of(reviewed: Reviewed) -> str:
    review = reviewed.review
    if review is None:
        raise ValueError("the unit has no review")
    gaps = len(review.logs.gaps)
    days = f"{review.period.first} to {review.period.last}"
    missing = f", {gaps} {'time' if gaps == 1 else 'times'} without a log" if gaps else ""
    lost = len(review.logs.not_used)
    left_out = f", {lost} {'log' if lost == 1 else 'logs'} left out" if lost else ""
    logs = f"{review.logs.used} {'log' if review.logs.used == 1 else 'logs'}"
    stays = f"{review.stays or f'under {FEWEST_STAYS}'} stays"
    return f"{reviewed.name}, {days}: {stays} in {logs}{missing}{left_out}"

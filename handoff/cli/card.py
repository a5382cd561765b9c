"""`handoff card`: a card for each patient's table."""

from argparse import Namespace

from handoff.cli.arguments import bounds_of
from handoff.cli.logs import gathered
from handoff.cli.outcome import NOTHING_PRODUCED, exit_code, report, say
from handoff.compose.results import Results
from handoff.draw.paper import Typesetter, letters_lacking
from handoff.limits.reading import load_limits
from handoff.model.refused import Refused
from handoff.model.ward import Handover
from handoff.run.bounds import within
from handoff.run.card import produce_cards
from handoff.run.sheets import Printing, results_of
from handoff.run.units import UnitLogs
from handoff.store.folder import CARDS, storing


def run(options: Namespace) -> int:
    """Write the cards of each unit in one file, and print its name."""
    limits, limit_findings = load_limits(options.limits)

    def keep(_: UnitLogs, handover: Handover) -> Results | None:
        return results_of(handover, limits) if limits else None

    kept, findings, doubts = gathered(options, keep, limits)
    findings += [*limit_findings, *doubts]
    report(findings)
    units = [each for each in kept if each]
    if not units:
        return NOTHING_PRODUCED
    patients = [each.patient for of_unit in units for each in of_unit.measures.values()]
    for bed in options.bed:
        if bed not in {each.bed for each in patients}:
            raise Refused(f"no patient in bed {bed} has an order; give --bed as the log has it")
    if not patients:
        raise Refused("no patient has an order with a start, so that there is no card")
    printing = Printing(
        paper=options.paper,
        language=options.language,
        beds=frozenset(options.bed),
        initials=options.initials,
        templates=options.templates,
        typesetter=Typesetter(options.font),
    )
    with within(bounds_of(options)):
        files = list(produce_cards(units, printing))
    with storing(options.out, replaces=CARDS, keep=options.logs) as new:
        for name, content in files:
            new.write(name, content)
    printed = [each for each in patients if printing.prints(each)]
    print_findings = letters_lacking(printed, printing.typesetter)
    report(print_findings)
    names = ", ".join(name for name, _ in files)
    cards = f"{len(printed)} {'card' if len(printed) == 1 else 'cards'}"
    say(f"{cards}: {names} in {options.out}")
    return exit_code([*findings, *print_findings])

"""Explains the cautions: rows, value, limit and source of each rule met; of each other, why not.

Input: a `Subject`. Output: blocks of text. Judges nothing again.
"""

from collections.abc import Iterator

from handoff.explain.matters import list_matters, value_and_limit
from handoff.explain.subject import Subject, in_words
from handoff.explain.text import Block
from handoff.judge import BY_NAME
from handoff.model.findings import Place
from handoff.model.verdicts import Level, State, Verdict
from handoff.model.wording import EXPLAIN


def explain_cautions(subject: Subject) -> Iterator[Block]:
    """The priority, the matters of the stay, the rules met in the shift, a line for each other."""
    verdicts = subject.verdicts
    yield EXPLAIN.say("cautions.priority", priority=verdicts.priority)
    yield ""
    yield EXPLAIN.say("cautions.matters")
    yield from list_matters(verdicts.matters, subject.zone)
    yield EXPLAIN.say("cautions.rules")
    met = [verdict for verdict in verdicts.all if verdict.state is State.MET]
    for verdict in met:
        yield from _met(subject, verdict)
    if not met:
        yield EXPLAIN.say("cautions.none-met")
    yield ""
    yield EXPLAIN.say("cautions.others")
    for verdict in verdicts.all:
        if verdict.state is not State.MET:
            yield f"    {_not_met(subject, verdict)}"
    for rule in subject.limits.off:
        question = BY_NAME[rule].question(subject.limits)
        yield f"    {EXPLAIN.say('cautions.off', rule=rule, question=question)}"


def _not_met(subject: Subject, verdict: Verdict) -> str:
    return EXPLAIN.say(
        "cautions.not-met" if verdict.state is State.NOT_MET else "cautions.undecided",
        rule=verdict.rule,
        why=verdict.why,
        found=verdict.found.text(subject.when),
        question=BY_NAME[verdict.rule].question(subject.limits),
    )


def _met(subject: Subject, verdict: Verdict) -> Iterator[Block]:
    key = "cautions.replaced" if verdict.replaced_by else "cautions.met"
    yield EXPLAIN.say(key, rule=verdict.rule, level=verdict.level, by=verdict.replaced_by)
    yield f"    {EXPLAIN.say('any.rule', question=BY_NAME[verdict.rule].question(subject.limits))}"
    yield f"    {EXPLAIN.say('cautions.found', found=verdict.found.text(subject.when))}"
    yield from value_and_limit(verdict, subject.zone)
    for place in verdict.entries:
        yield f"    {EXPLAIN.say('cautions.row', row=_row(subject, place))}"
    for told in verdict.told:
        at, note = subject.when(told.at), told.note or EXPLAIN.say("cautions.no-note")
        yield f"    {EXPLAIN.say('cautions.told', at=at, row=told.place, note=note)}"
    if verdict.met and verdict.level is Level.ESCALATE and not verdict.told:
        yield f"    {EXPLAIN.say('cautions.not-told')}"


def _row(subject: Subject, place: Place) -> str:
    """A cited row: an entry with its values, or the patient's own row."""
    entry = next((row for row in subject.rows if row.place == place), None)
    if entry is None:
        return EXPLAIN.say("cautions.own-facts", row=place)
    return f"{subject.cited(entry)}: {in_words(entry)}"

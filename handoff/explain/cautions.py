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


def explain_cautions(subject: Subject) -> Iterator[Block]:
    """The priority, the matters of the stay, the rules met in the shift, a line for each other."""
    verdicts = subject.verdicts
    yield (
        "priority: the gravest level among the matters of the stay, the rules met to follow up, "
        f"and a hold (follow_up) = {verdicts.priority}"
    )
    yield ""
    yield "Matters of the stay, followed from shift to shift until told and settled:"
    yield from list_matters(verdicts.matters, subject.zone)
    yield "Rules in this shift:"
    met = [verdict for verdict in verdicts.all if verdict.state is State.MET]
    for verdict in met:
        yield from _met(subject, verdict)
    if not met:
        yield "No rule is met by what is recorded."
    yield ""
    yield "Not met, or not to be decided:"
    for verdict in verdicts.all:
        if verdict.state is State.NOT_MET:
            yield f"    {verdict.rule}: not met. {_found(subject, verdict)}"
        elif verdict.state is State.UNDECIDED:
            yield f"    {verdict.rule}: undecided, {verdict.why}. {_found(subject, verdict)}"
    for rule in subject.limits.off:
        question = BY_NAME[rule].question(subject.limits)
        yield f"    {rule}: switched off by the unit. Rule: {question}."


def _found(subject: Subject, verdict: Verdict) -> str:
    question = BY_NAME[verdict.rule].question(subject.limits)
    return f"Found: {verdict.found.text(subject.when)}. Rule: {question}."


def _met(subject: Subject, verdict: Verdict) -> Iterator[Block]:
    replaced = f", replaced by {verdict.replaced_by}" if verdict.replaced_by else ""
    yield f"{verdict.rule}: met, {verdict.level}{replaced}"
    yield f"    rule: {BY_NAME[verdict.rule].question(subject.limits)}"
    yield f"    found: {verdict.found.text(subject.when)}"
    yield from value_and_limit(verdict, subject.zone)
    for place in verdict.entries:
        yield f"    row {_row(subject, place)}"
    for told in verdict.told:
        yield f"    told {subject.when(told.at)} ({told.place}): {told.note or 'no note'}"
    if verdict.met and verdict.level is Level.ESCALATE and not verdict.told:
        yield "    not yet recorded as told"


def _row(subject: Subject, place: Place) -> str:
    """A cited row: an entry with its values, or the patient's own row."""
    entry = next((row for row in subject.rows if row.place == place), None)
    if entry is None:
        return f"{place}: the patient's own facts"
    return f"{subject.cited(entry)}: {in_words(entry)}"

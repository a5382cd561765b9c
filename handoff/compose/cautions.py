"""The cautions of a patient, in the words of the sheet: open matters, then the rules of the shift.

Input: one patient's verdicts, facts and words. Output: `Caution`s in printing order. Judges
nothing.
"""

from collections.abc import Iterator, Set

from handoff.compose.asked import caution_words, to_do
from handoff.compose.facts import Facts
from handoff.compose.matters import TOLD_LENGTH, MatterWords, Moment
from handoff.compose.words import Words, closed
from handoff.model.findings import Place
from handoff.model.matters import MatterState, Verdicts
from handoff.model.pages import Caution
from handoff.model.verdicts import Level, Verdict


def sheet_cautions(
    verdicts: Verdicts, moment: Moment, facts: Facts, words: Words
) -> Iterator[Caution]:
    """The open matters, and the rules of the shift that are only followed up or noted. Within each
    level, matters come first. A told text is printed once word for word.
    """
    shown = [each for each in verdicts.matters if each.level is not Level.NOTE]
    others = [each for each in verdicts.cautions if each.level is not Level.ESCALATE]
    told_above = {told.place for matter in shown for told in matter.told}
    for level in Level:
        for matter in shown:
            if matter.level is level:
                yield _of_matter(MatterWords(matter, words, moment, facts), facts, words)
        for verdict in others:
            if verdict.level is level:
                yield _of_rule(verdict, told_above, moment, facts, words)


def _of_matter(matter_words: MatterWords, facts: Facts, words: Words) -> Caution:
    matter = matter_words.matter
    happened = matter.state is MatterState.CLOSED
    is_over = {"is_over": False} if matter.seen_over else {}  # the verdict reads no later rows
    action = to_do(matter.verdict, "action", facts, words, **is_over)
    if matter.settled_at:
        action = words.say("matter.happened") if happened else ""
    elif matter.is_told:
        action = words.say("matter.measure_first")
    return Caution(
        rule=matter.rule,
        level=matter.level,
        level_words=words.say(f"level.{matter.level}"),
        title=matter_words.title,
        seen=matter_words.seen,
        action=closed(action) if action else "",
        told=matter_words.told_last(),
        mark=matter_words.mark,
        asked=matter_words.asked(),
        matter=None if happened else matter.name,
        brief=matter_words.brief,
    )


def _of_rule(
    verdict: Verdict,
    told_above: Set[Place],
    moment: Moment,
    facts: Facts,
    words: Words,
) -> Caution:
    """A rule of the shift that is followed up or noted. A telling printed above is not repeated."""
    told = [
        words.say(
            "matter.told_above" if each.place in told_above else "matter.told",
            told_at=each.at,
            note=each.note,
            longest=TOLD_LENGTH,
            now_from=moment.now_from,
        )
        for each in reversed(verdict.told)
    ]
    seen = caution_words(verdict, "seen", facts, words)
    # A row of no given log's shift, judged with this one: its clock time alone would mislead.
    if verdict.times and verdict.times[-1] < moment.now_from:
        seen = words.say("matter.before_shift", at=min(verdict.times), seen=seen)
    return Caution(
        rule=verdict.rule,
        level=verdict.level,
        level_words=words.say(f"level.{verdict.level}"),
        title=caution_words(verdict, "title", facts, words),
        seen=seen,
        action=closed(to_do(verdict, "action", facts, words)),
        told=tuple(told) or None,
        mark=words.say("matter.mark") if told else "",
    )

"""What a sheet says and asks of a patient: the words of cautions, lines to tick off, rows to check.

Enters: one patient's cautions, facts and entries, words. Leaves: finished words. While the exercise
is held back, nothing here asks for it.
"""

from collections.abc import Iterator, Mapping, Sequence

from handoff.compose.words import Words
from handoff.matters import Verdicts
from handoff.measures import Measures
from handoff.verdicts import Verdict

LEAST_TICKS, MOST_TICKS = 3, 5
USUAL: Sequence[str] = "coach", "chart", "reach"
# Where the exercise is held back.
WHILE_HELD: Sequence[str] = "record", "chart"


def caution_words(verdict: Verdict, part: str, facts: Mapping[str, object], words: Words) -> str:
    """One part (title, seen, action, next_shift) of a caution's words; '' where it has none."""
    name = f"{verdict.rule}.{part}"
    if not words.has(name):
        return ""
    own = {
        "value": verdict.value,
        "limit": verdict.limit,
        "source": verdict.source,
        "at": verdict.at,
        "times": verdict.times,
        "level": str(verdict.level),
    }
    return words.say(name, **{**facts, **own, **verdict.detail})


def next_shift(
    cautions: Sequence[Verdict], facts: Mapping[str, object], words: Words
) -> tuple[str, ...]:
    """What to tick off: three to five lines, from the cautions in their order, then the usual.

    While something is to be escalated, or the order is not active, nobody is coached, and what
    holds the exercise back comes before all else.
    """
    asked = [to_do(verdict, "next_shift", facts, words) for verdict in cautions]
    asked = [*_held_back(cautions, facts, words), *filter(None, asked)]
    lines = list(dict.fromkeys(asked))[:MOST_TICKS]
    usual = WHILE_HELD if facts["held"] else USUAL
    missing = max(LEAST_TICKS - len(lines), 0)
    return (*lines, *(words.say(f"usual.{name}", **facts) for name in usual[:missing]))


def _held_back(
    cautions: Sequence[Verdict], facts: Mapping[str, object], words: Words
) -> Iterator[str]:
    """Why the exercise is not to go on as it did, and who is not to leave; nothing where it is."""
    if facts["escalations"]:
        firsts = (caution_words(verdict, "first", facts, words) for verdict in cautions)
        yield next(filter(None, firsts), None) or words.say("usual.resume", **facts)
        if facts["home_soon"]:
            yield words.say("usual.home", **facts)
    if facts["not_begun"] or facts["stopped"]:
        yield words.say("usual.not_active", **facts)


def to_do(verdict: Verdict, part: str, facts: Mapping[str, object], words: Words) -> str:
    """What a caution asks for (`action`, `next_shift`), less the exercise while it is held back."""
    asked = caution_words(verdict, part, facts, words)
    held = caution_words(verdict, "held", facts, words) if asked and facts["held"] else ""
    return held or asked


def to_check(verdicts: Verdicts, measures: Measures, words: Words, *, raw: bool = True) -> str:
    """Danger signs in rows set aside, then cells of signs that could not be read, `raw` as they are
    written, those alike together and the rarest first, then such facts of the patient; '' where
    there are none."""
    rows: dict[str, list[str]] = {}
    for each in verdicts.set_aside_signs:
        rows.setdefault(str(each.place), []).append(words.sign(each.rule, each.seen))
    unread: dict[str, list[str]] = {}
    for entry in measures.caution_entries:
        for name in entry.unread:
            cell = words.say("unread_cell", name=name, raw=raw and entry.raw.get(name))
            unread.setdefault(cell, []).append(str(entry.place))
    facts = [words.say(f"blank.label.{name}") for name in measures.patient.unread]
    said = (
        words.say("set_aside_signs", rows=rows) if rows else "",
        words.say("unread", cells=dict(sorted(unread.items(), key=_rare))) if unread else "",
        words.say("unread_facts", facts=facts) if facts else "",
    )
    return " ".join(filter(None, said))


def _rare(cell: tuple[str, list[str]]) -> int:
    """In how many rows: what each row has is a habit, what one row has is a slip."""
    return len(cell[1])

"""The words that a sheet asks with: the actions of cautions, lines to tick off, rows to check.

Input: one patient's cautions, facts and entries, words. Output: finished words. While the exercise
is held back, nothing here asks for it.
"""

from collections.abc import Iterable, Iterator, Sequence

from msgspec.structs import asdict

from handoff.compose.facts import Facts
from handoff.compose.words import Words
from handoff.model.matters import Matter, Verdicts
from handoff.model.measures import Measures
from handoff.model.verdicts import Level, Verdict

LEAST_TICKS, MOST_TICKS = 3, 5
USUAL: Sequence[str] = "coach", "chart", "reach"
# Where the exercise is held back.
WHILE_HELD: Sequence[str] = ("watch",)
IN_COMFORT_CARE: Sequence[str] = ("comfort",)  # nobody is coached
# Facts whose dispute stands where the fact is printed.
SAID_ELSEWHERE = frozenset(
    {
        *("bed", "precautions", "reason", "baseline_ml", "goal_ml", "spo2_min"),
        *("order_hold_s", "order_breaths", "order_every_h", "order_stop"),
    }
)


def caution_words(
    verdict: Verdict, part: str, facts: Facts | None, words: Words, **more: object
) -> str:
    """One part (title, seen, action, next_shift) of a caution's words; '' where it has none."""
    as_usual = getattr(verdict.found, "usual", False)
    name = f"usual_symptom.{part}" if as_usual else f"{verdict.rule}.{part}"
    if not words.has(name):
        return ""
    own = {
        "value": verdict.value,
        "limit": verdict.limit,
        "source": verdict.source,
        "at": verdict.at,
        "times": verdict.times,
        "level": str(verdict.level),
        "is_told": bool(verdict.told),
        "last_entry_at": facts and facts.last_entry_at,
    }
    return words.say(name, facts, **{**own, **asdict(verdict.found), **more})


def titles(matters: Iterable[Matter], facts: Facts | None, words: Words) -> list[str]:
    """A few words for each matter."""
    return [caution_words(each.verdict, "title", facts, words) for each in matters]


def next_shift(verdicts: Verdicts, facts: Facts, words: Words) -> tuple[str, ...]:
    """Lines to tick off: the steps that close open matters, then three to five lines from the
    cautions in their order, then the usual ones.

    While the exercise is held back nobody is coached, and the reason comes first.
    """
    lines = own_lines(verdicts, facts, words)
    usual = WHILE_HELD if facts.held else USUAL
    if facts.comfort_care:
        usual = IN_COMFORT_CARE
    missing = max(LEAST_TICKS - len(lines), 0)
    return (*lines, *(words.say(f"usual.{name}", facts) for name in usual[:missing]))


def own_lines(verdicts: Verdicts, facts: Facts, words: Words) -> tuple[str, ...]:
    """The lines that are not for everybody: those that close what is open, then up to five in all
    from the cautions. What another line ends with, as 'Before going home: ...', is asked once.
    """
    cautions = [each for each in verdicts.cautions if each.level is not Level.ESCALATE]
    asked = [to_do(each, "next_shift", facts, words) for each in cautions if not each.told]
    first = closing(verdicts, facts, words)
    every = dict.fromkeys([*first, *filter(None, asked)])
    lines = tuple(
        each
        for each in every
        if not any(other.endswith(f": {each[:1].lower()}{each[1:]}") for other in every)
    )
    return lines[: max(MOST_TICKS, len(first))]


def closing(verdicts: Verdicts, facts: Facts, words: Words) -> tuple[str, ...]:
    """Lines that are never cut: why the exercise is held back, and what closes the open matters."""
    return (*_held_back(verdicts, facts, words), *_closes(verdicts, facts, words))


def _held_back(verdicts: Verdicts, facts: Facts, words: Words) -> Iterator[str]:
    """Lines on why the exercise is held back, and that the patient must not leave; none where it
    goes on.
    """
    if facts.hold:
        yield words.say("usual.on_hold", facts)
    elif facts.holds_back:
        open_ones = [each for each in verdicts.open_matters if each.holds_back]
        told = bool(open_ones) and all(each.is_told for each in open_ones)
        usual = words.say("usual.look_first" if told else "usual.resume", facts)
        ask_first = [each.verdict for each in open_ones] or verdicts.waiting
        firsts = (caution_words(verdict, "first", facts, words) for verdict in ask_first)
        yield usual if told else next(filter(None, firsts), usual)
    if facts.home_soon and facts.kept_back:
        yield words.say("usual.home", facts)
    if (facts.not_begun or facts.stopped) and not facts.holds_back:
        yield words.say("usual.not_active", facts)


def _closes(verdicts: Verdicts, facts: Facts, words: Words) -> Iterator[str]:
    """The steps that close the matters: each kind of step once, with all matters that it is for."""
    matters = verdicts.open_matters
    untold = [each for each in matters if not each.is_told]
    if untold:
        yield words.say("matter.ask_tell", titles=titles(untold, facts, words))
    unsettled = [each for each in matters if each.settled_at is None]
    for name, attribute in (("ask_again", "vitals"), ("ask_symptoms", "symptoms")):
        wanted = [each for each in unsettled if getattr(each, attribute)]
        if wanted:
            from_at = min(each.settles_from for each in wanted)
            named = [each for matter in wanted for each in getattr(matter, attribute)]
            own = {"names": named, "from_at": from_at, "later": from_at > facts.as_of}
            yield words.say(f"matter.{name}", facts, **own)
    over_ml = [each.over_ml for each in unsettled if each.over_ml is not None]
    if over_ml:
        yield words.say("matter.ask_volume", over_ml=max(over_ml))


def to_do(verdict: Verdict, part: str, facts: Facts, words: Words, **more: object) -> str:
    """The request of a caution (`action`, `next_shift`), without the exercise while it is held
    back.
    """
    asked = caution_words(verdict, part, facts, words, **more)
    held = caution_words(verdict, "held", facts, words, **more) if asked and facts.held else ""
    return held or asked


def to_check(verdicts: Verdicts, measures: Measures, words: Words, *, raw: bool = True) -> str:
    """What to check: danger signs in later rows; signs that cannot be read and that no caution
    names (with their text where `raw`); unreadable facts of the patient, and disputed ones that no
    other words name. '' where there are none.
    """
    later: dict[str, list[str]] = {}
    for each in verdicts.later_signs:
        later.setdefault(str(each.place), []).append(words.sign(each.rule, each.seen))
    patient = measures.patient
    facts = [words.say(f"blank.label.{name}") for name in patient.unread]
    disputed = [
        f"{words.say(f'blank.label.{each.name}')} {words.disputed(patient, each.name)}"
        for each in patient.disputed
        if each.name not in SAID_ELSEWHERE
    ]
    parts = (
        words.say("later_signs", rows=later) if later else "",
        words.unsure_signs(verdicts.unread, quotes=raw),
        words.say("unread_facts", facts=facts) if facts else "",
        words.say("disputed_facts", facts=disputed) if disputed else "",
    )
    return " ".join(filter(None, parts))

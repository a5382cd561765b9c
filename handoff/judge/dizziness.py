"""Rules on dizziness and tingling.

Input: a `Case`. Output: a `Verdict` a rule. Says which signs were seen together, never that one
causes the other.
"""

from collections.abc import Sequence

from msgspec.structs import replace

from handoff.judge.about import minute
from handoff.judge.beside import beside, without_a_pair
from handoff.judge.case import Case, Seen
from handoff.judge.rule import Rule
from handoff.judge.signs import (
    BREATHING_RATE,
    DROWSY_OR_CONFUSED,
    FAINT_OR_CHEST_PAIN,
    LOW_OXYGEN,
    PULSE,
    Charted,
    charted,
    symptom,
    symptom_rows,
)
from handoff.model.measures import MOST_AT_A_TIME
from handoff.model.rounding import exact
from handoff.model.verdicts import Found, Verdict, When
from handoff.model.ward import Entry
from handoff.model.wording import JUDGE

GRAVE_SIGNS = tuple(
    rule.name
    for rule in (LOW_OXYGEN, BREATHING_RATE, PULSE, FAINT_OR_CHEST_PAIN, DROWSY_OR_CONFUSED)
)


class Dizzy(Charted):
    """The rows that chart dizziness, and the most breaths done at one time on one of them
    (`at_once`); None where they were few, or are not recorded.
    """

    at_once: int | None = None


class BreathsAtOnce(Found):
    """Breaths of each dizzy exercise at one time, None where not recorded."""

    counts: tuple[int | None, ...]

    def text(self, _: When, /) -> str:
        """`breaths at exercises of that kind: 12`."""
        breaths = ", ".join(map(exact, self.counts)) or JUDGE.say("any.none")
        return JUDGE.say("found.at-once", breaths=breaths)


def dizziness(case: Case) -> Verdict:
    """Dizzy or tingling in the shift. Value: the entries that chart it, at the latest."""
    verdict = symptom(case)
    if not verdict.met or not isinstance(verdict.found, Charted):
        return verdict
    cited = set(zip(verdict.entries, verdict.times, strict=True))
    rows = [row for row in case.entries if (row.place, row.at) in cited]
    return replace(verdict, found=_found(verdict.found, rows))


def dizziness_again(case: Case) -> Verdict:
    """Dizzy or tingling at several different times, those just before the shift too, and in the
    shift. At more of them it escalates. Value: how many, at the latest.
    """
    near = case.looking_back().of(DIZZINESS.name)
    rows = symptom_rows(near)
    found = _found(charted(near, rows), rows)
    if not case.entries:
        return case.undecided(found, JUDGE.say("why.no-entry"))
    times = sorted({minute(row.at) for row in rows})
    many, again = case.limit("times_to_escalate_at_or_over"), case.limit("times_at_or_over")
    if len(times) < again or rows[-1].at < case.entries[0].at:
        return case.not_met(found)
    if len(times) < many:
        seen = Seen(len(times), case.against("times_at_or_over"), rows)
        return case.met(found, seen, case.limits.rules[case.rule].milder_level)
    met_at = times[int(many) - 1]
    led_up = [row for row in rows if minute(row.at) < met_at]
    against = case.against("times_to_escalate_at_or_over")
    return case.met(found, Seen(len(times), against, rows, led_up=led_up))


def dizziness_with_signs(case: Case) -> Verdict:
    """Dizzy or tingling within so many minutes of a grave sign.

    Value: minutes between the closest two, at the last row that met it. Undecided when no grave
    sign is seen, and a vital sign is not recorded within those minutes of some dizziness.
    """
    near = beside(case, DIZZINESS.name, GRAVE_SIGNS)
    if not near.pairs:
        return without_a_pair(case, near.found)
    against = case.against("minutes_at_or_under")
    rows = near.cited(near.paired)
    return case.met(near.met_by(near.paired), Seen(near.value_min, against, rows))


def too_many_at_once(case: Case) -> Verdict:
    """More breaths than the limit at one time, with dizzy or tingling on that entry.

    A span is spread over its minutes and takes no part. Value: breaths of the largest such
    exercise, the latest of equals. Undecided when a dizzy exercise does not record its breaths.
    """
    dizzy = [
        row
        for row in symptom_rows(case.of(DIZZINESS.name))
        if row.is_exercise and row.until is None
    ]
    found = BreathsAtOnce(tuple(row.breaths for row in dizzy))
    counted = [(row.breaths, row.at, row) for row in dizzy if row.breaths is not None]
    over = [each for each in counted if each[0] > case.limit("breaths_over")]
    if over:
        breaths, at, _ = max(over, key=lambda each: each[:2])
        rows = [row for _, _, row in over]
        return case.met(found, Seen(breaths, case.against("breaths_over"), rows, at))
    if len(counted) < len(dizzy):
        return case.undecided(found, JUDGE.say("why.breaths"))
    return case.not_met(found)


def _found(known: Charted, rows: Sequence[Entry]) -> Dizzy:
    """What these dizzy rows chart, and how many breaths were done at one time on them."""
    counts = [row.breaths or 0 for row in rows if row.is_exercise and row.until is None]
    most = max(counts, default=0)
    own = {name: getattr(known, name) for name in Charted.__struct_fields__}
    return Dizzy(**own, at_once=most if most > MOST_AT_A_TIME else None)


DIZZINESS = Rule("dizziness", dizziness, about=("dizzy",))
DIZZINESS_AGAIN = Rule(
    "dizziness-again",
    dizziness_again,
    replaces=(DIZZINESS.name,),
    about=("dizzy",),
)
DIZZINESS_WITH_SIGNS = Rule(
    "dizziness-with-signs",
    dizziness_with_signs,
    replaces=(DIZZINESS.name, DIZZINESS_AGAIN.name),
    about=("dizzy",),
)
TOO_MANY_AT_ONCE = Rule(
    "too-many-at-once",
    too_many_at_once,
    about=("dizzy",),
)

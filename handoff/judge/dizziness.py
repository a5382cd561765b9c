"""Rules on dizziness and tingling beyond their first mention.

Input: a `Case`. Output: a `Verdict` a rule. Says which signs were seen together, never that one
causes the other.
"""

from dataclasses import dataclass, replace
from datetime import timedelta

from handoff.judge.case import NO_ENTRY, Case, Seen, joined
from handoff.judge.rule import Rule
from handoff.judge.signs import (
    BREATHING_RATE,
    DIZZINESS,
    DROWSY_OR_CONFUSED,
    FAINT_OR_CHEST_PAIN,
    LOW_OXYGEN,
    PULSE,
    Charted,
    SignAt,
    charted,
    not_recorded,
    signs_seen,
    signs_text,
    symptom_rows,
)
from handoff.model.rounding import exact
from handoff.model.verdicts import Found, Verdict, When
from handoff.model.ward import Entry

GRAVE_SIGNS = tuple(
    rule.name
    for rule in (LOW_OXYGEN, BREATHING_RATE, PULSE, FAINT_OR_CHEST_PAIN, DROWSY_OR_CONFUSED)
)


@dataclass(frozen=True, slots=True)
class DizzyWithSigns(Found):
    """Dizziness near grave signs. `read` are all dizzy rows, `signs_read` all grave signs, of the
    shift and the minutes before it.

    `symptoms` are those of the dizzy rows near a grave sign, and `signs` are these signs, in time
    order. `missing` are the vital signs not recorded within `minutes` (the limit) of dizziness.
    """

    read: Charted
    signs_read: tuple[SignAt, ...]
    minutes: float
    symptoms: tuple[str, ...] = ()
    signs: tuple[SignAt, ...] = ()
    missing: tuple[str, ...] = ()

    def text(self, when: When, /) -> str:
        """`charted in 1 of 3 rows (at ...); signs: pulse 140 /min at 2026-05-12 10:00`."""
        return f"{self.read.text(when)}; signs: {signs_text(self.signs_read, when)}"


@dataclass(frozen=True, slots=True)
class BreathsAtOnce(Found):
    """Breaths of each dizzy exercise at one time, None where not recorded."""

    counts: tuple[int | None, ...]

    def text(self, _: When, /) -> str:
        """`breaths at exercises of that kind: 12`."""
        return f"breaths at exercises of that kind: {', '.join(map(exact, self.counts)) or 'none'}"


def dizziness_again(case: Case) -> Verdict:
    """Dizzy or tingling at several different times. Value: how many, at the latest."""
    dizzy = case.of(DIZZINESS.name)
    rows = symptom_rows(dizzy)
    found = charted(dizzy, rows)
    if not case.entries:
        return case.undecided(found, NO_ENTRY)
    times = len(set(found.charted_at))
    if times < case.limit("times_at_or_over"):
        return case.not_met(found)
    return case.met(found, Seen(times, case.against("times_at_or_over"), rows))


def dizziness_with_signs(case: Case) -> Verdict:
    """Dizzy or tingling within so many real minutes of a grave sign, before it or after it.

    Value: minutes between the closest two, at the last row that met it. A span counts by its start.
    Rows of that time before the shift take part. Undecided when no grave sign is seen, and a vital
    sign is not recorded within those minutes of some dizziness.
    """
    limit = case.limit("minutes_at_or_under")
    within = timedelta(minutes=limit)
    near = case.with_rows_just_before(within)
    near_dizzy = near.of(DIZZINESS.name)
    rows, signs = symptom_rows(near_dizzy), signs_seen(near, GRAVE_SIGNS)
    found = DizzyWithSigns(charted(near_dizzy, rows), tuple(sign.at for sign in signs), limit)
    if not case.entries:
        return case.undecided(found, NO_ENTRY)
    start = case.entries[0].at
    pairs = [
        (row, sign)
        for sign in signs
        for row in rows
        if _gap(row, sign.entry) <= within and max(row.at, sign.entry.at) >= start
    ]
    if not pairs:
        missing = [
            name
            for row in symptom_rows(case.of(DIZZINESS.name))
            for name in not_recorded(
                [entry for entry in case.entries if _gap(entry, row) <= within], GRAVE_SIGNS
            )
        ]
        if not missing:
            return case.not_met(found)
        found = replace(found, missing=tuple(dict.fromkeys(missing)))
        return case.undecided(found, f"{joined(found.missing)} not recorded within {limit:g} min")
    dizzy = [row for row in rows if any(row == paired for paired, _ in pairs)]
    found = replace(
        found,
        symptoms=charted(near_dizzy, dizzy).symptoms,
        signs=tuple(dict.fromkeys(sign.at for _, sign in pairs)),
    )
    cited = [*dizzy, *(sign.entry for _, sign in pairs)]
    return case.met(
        found,
        Seen(
            min(_gap(row, sign.entry) for row, sign in pairs) / timedelta(minutes=1),
            case.against("minutes_at_or_under"),
            [entry for entry in near.entries if entry in cited],
        ),
    )


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
        return case.undecided(found, "breaths not recorded at the dizzy exercise")
    return case.not_met(found)


def _gap(one: Entry, other: Entry) -> timedelta:
    return abs(one.at - other.at)


DIZZINESS_AGAIN = Rule(
    "dizziness-again",
    "dizzy or tingling charted at {times_at_or_over} different times or more",
    dizziness_again,
    replaces=(DIZZINESS.name,),
    about=("dizzy",),
)
DIZZINESS_WITH_SIGNS = Rule(
    "dizziness-with-signs",
    "dizzy or tingling within {minutes_at_or_under} min of low oxygen, breathing rate or pulse at "
    "a limit, faint, chest pain, drowsy or confused",
    dizziness_with_signs,
    replaces=(DIZZINESS.name, DIZZINESS_AGAIN.name),
    about=("dizzy",),
)
TOO_MANY_AT_ONCE = Rule(
    "too-many-at-once",
    "more than {breaths_over} breaths at one time with dizzy or tingling in that row",
    too_many_at_once,
    about=("dizzy",),
)

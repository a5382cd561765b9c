"""A symptom beside other signs: which rows chart it within so many minutes of a sign.

Input: a `Case`, the rule of the symptom, the rules of the signs. Output: `Beside`, for the rules on
several signs together. Says what was seen together, never that one causes the other.
"""

from collections.abc import Sequence
from datetime import datetime, timedelta

from msgspec.structs import replace

from handoff.judge.case import LOOKS_BACK, Case, joined
from handoff.judge.signs import (
    Charted,
    Sign,
    charted,
    not_recorded,
    signs_seen,
    signs_text,
    symptom_rows,
)
from handoff.model.frozen import Frozen
from handoff.model.verdicts import Found, SignAt, Verdict, When
from handoff.model.ward import Entry
from handoff.model.wording import JUDGE

MINUTE = timedelta(minutes=1)


class SymptomWithSigns(Found):
    """A symptom near signs. `read` are all rows that chart it, `signs_read` all signs, of the shift
    and the minutes before it.

    `symptoms` and `charted_at` are those of the rows that met the rule, and `signs` are the signs
    near them, in time order. Without such a sign `missing` are those not recorded within `minutes`
    (the limit) of the symptom.
    """

    read: Charted
    signs_read: tuple[SignAt, ...]
    minutes: float
    symptoms: tuple[str, ...] = ()
    charted_at: tuple[datetime, ...] = ()
    signs: tuple[SignAt, ...] = ()
    missing: tuple[str, ...] = ()

    def text(self, when: When, /) -> str:
        """`charted in 1 of 3 rows (at ...); signs: pulse 140 /min at 2026-05-12 10:00`."""
        signs = signs_text(self.signs_read, when)
        return JUDGE.say("any.with-signs", found=self.read.text(when), signs=signs)


class Beside(Frozen):
    """The rows of the symptom, of the shift and the minutes before it (`near`), and its pairs with
    a sign: one of the two, at least, is of the shift.
    """

    near: Case
    rows: Sequence[Entry]
    pairs: Sequence[tuple[Entry, Sign]]
    found: SymptomWithSigns

    @property
    def paired(self) -> list[Entry]:
        """The rows of the symptom near a sign."""
        return [row for row in self.rows if any(row == each for each, _ in self.pairs)]

    @property
    def value_min(self) -> float:
        """The minutes between the closest two."""
        return min(_gap(row, sign.entry) for row, sign in self.pairs) / MINUTE

    def cited(self, rows: Sequence[Entry]) -> list[Entry]:
        """These rows and those of the signs, in time order."""
        cited = [*rows, *(sign.entry for _, sign in self.pairs)]
        return [entry for entry in self.near.entries if entry in cited]

    def met_by(self, rows: Sequence[Entry]) -> SymptomWithSigns:
        """What is found where these rows of the symptom met the rule."""
        return replace(
            self.found,
            symptoms=charted(self.near, rows).symptoms,
            charted_at=tuple(row.at for row in rows),
            signs=tuple(dict.fromkeys(sign.at for _, sign in self.pairs)),
        )


def beside(case: Case, symptom: str, signs: Sequence[str]) -> Beside:
    """The rows within `minutes_at_or_under` real minutes of a sign, before it or after it. A span
    counts by its start. Rows of that time before the shift take part.
    """
    minutes = case.limit("minutes_at_or_under")
    within = minutes * MINUTE
    near = case.looking_back(max(within, LOOKS_BACK)).of(symptom)
    rows, seen = symptom_rows(near), signs_seen(near, signs)
    pairs = [
        (row, sign)
        for sign in seen
        for row in rows
        if _gap(row, sign.entry) <= within and max(row.at, sign.entry.at) >= case.entries[0].at
    ]
    missing = [
        name
        for row in symptom_rows(case.of(symptom))
        for name in not_recorded(
            [each for each in case.entries if _gap(each, row) <= within], signs
        )
    ]
    found = SymptomWithSigns(
        charted(near, rows),
        tuple(sign.at for sign in seen),
        minutes,
        missing=() if pairs else tuple(dict.fromkeys(missing)),
    )
    return Beside(near, rows, pairs, found)


def without_a_pair(case: Case, found: SymptomWithSigns) -> Verdict:
    """Undecided where a vital sign is not recorded near the symptom, else not met."""
    if not case.entries:
        return case.undecided(found, JUDGE.say("why.no-entry"))
    if not found.missing:
        return case.not_met(found)
    signs, minutes = joined(found.missing), found.minutes
    return case.undecided(found, JUDGE.say("why.not-within", signs=signs, minutes=minutes))


def _gap(one: Entry, other: Entry) -> timedelta:
    return abs(one.at - other.at)

"""Follows one danger of a stay row by row: each row may meet, look at, tell of or settle it.

Input: rows in time order, each with its shift. Output: a `Matter`, in its state at the end.
`matters` decides which rows meet a rule, and the order of rows. The times are common practice.
"""

from collections.abc import Mapping
from datetime import datetime, timedelta
from types import MappingProxyType

from msgspec.structs import replace

from handoff.judge.about import ANSWERS_LATER_ROWS, UNNAMED_ANSWERS, minute, names
from handoff.judge.breathlessness import BREATHLESS, BREATHLESS_AGAIN, SIGNS_WITH_BREATHLESS
from handoff.judge.case import Case, Seen
from handoff.judge.dizziness import DIZZINESS, DIZZINESS_AGAIN, DIZZINESS_WITH_SIGNS, GRAVE_SIGNS
from handoff.judge.oxygen import HIGH_OXYGEN
from handoff.judge.pain import PAIN_AGAIN
from handoff.judge.rule import Rule
from handoff.judge.settling import (
    NONE,
    VOLUME,
    Danger,
    is_within_limits,
    looks_at,
    oxygen_that_settles,
    why_not_settled,
)
from handoff.judge.signs import (
    BREATHING_RATE,
    DROWSY_OR_CONFUSED,
    FAINT_OR_CHEST_PAIN,
    FEVER,
    LOW_OXYGEN,
    LOW_TEMPERATURE,
    PULSE,
    SYMPTOMS,
    sign_of,
)
from handoff.judge.unreadable import SIGN_UNREADABLE, Unreadable
from handoff.judge.vitals import VITALS, beyond
from handoff.judge.volume import SIGNS_WITH_DROP, VOLUME_DROP_WITH_SIGNS
from handoff.model.findings import Place
from handoff.model.frozen import Frozen
from handoff.model.matters import Eased, Look, Matter, MatterState, WhyNot
from handoff.model.verdicts import Level, Told, Verdict
from handoff.model.ward import Entry, Listing, Signs, Symptom, What

# The rules that may tell the provider now, by name, in printing order.
DANGERS: Mapping[str, Rule[Case]] = MappingProxyType(
    {
        rule.name: rule
        for rule in (
            *(LOW_OXYGEN, HIGH_OXYGEN, BREATHING_RATE, PULSE, LOW_TEMPERATURE, FEVER),
            *(FAINT_OR_CHEST_PAIN, DROWSY_OR_CONFUSED),
            *(DIZZINESS_AGAIN, DIZZINESS_WITH_SIGNS, BREATHLESS_AGAIN),
            *(VOLUME_DROP_WITH_SIGNS, PAIN_AGAIN, SIGN_UNREADABLE),
        )
    }
)
FOLLOWED_BY_SYMPTOM = tuple(name for name in DANGERS if name in SYMPTOMS)
FALL_WITH = VOLUME_DROP_WITH_SIGNS.name

# The signs, by their rules, that a row of one of these dangers may show. But for a fall, all of
# them that it showed have to be over: the symptoms and each vital sign.
SHOWS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        DIZZINESS_AGAIN.name: (DIZZINESS.name,),
        DIZZINESS_WITH_SIGNS.name: (DIZZINESS.name, *GRAVE_SIGNS),
        BREATHLESS_AGAIN.name: (BREATHLESS.name, *SIGNS_WITH_BREATHLESS),
        FALL_WITH: SIGNS_WITH_DROP,
    }
)
# Met by all of a shift's rows together, so that the verdict of its own shift is printed.
OF_A_SHIFT = frozenset({DIZZINESS_AGAIN.name, BREATHLESS_AGAIN.name, FALL_WITH, PAIN_AGAIN.name})

# A matter that was told is only followed up where:
ON_OXYGEN_APART = timedelta(minutes=60)  # two values within limits on oxygen are so far apart
SYMPTOM_IS_OLD, ROWS_SINCE = timedelta(hours=24), 3  # so long ago, and so many rows by staff since
FALL_IS_OLD = timedelta(hours=72)


class Window(Frozen):
    """One shift of the stay, by its number, and its rows."""

    number: int
    listing: Listing
    case: Case


class Course:
    """A matter while it is followed, in its state after the last row read."""

    def __init__(self, key: str, window: Window) -> None:
        self.key, self.opened = key, window
        self.rule, _, part = key.partition(":")
        self.symptom, self.sign = ("", part) if part in VITALS else (part, "")
        self.rows: list[tuple[Entry, Window]] = []
        self.fell_from_ml = 0.0
        self.told: list[Told] = []  # those of the rows that cover the last row
        self.heard: list[Told] = []  # all of the rows that may be about it
        self.settled_rows: list[Place] = []
        self.closed_at: datetime | None = None
        self.closed_in = -1
        self.looked: list[Look] = []
        self.looked_before: list[Look] = []
        self.settled_by: Told | None = None
        self.settled_before: list[Told] = []
        self._forget_what_came_since()

    def _forget_what_came_since(self) -> None:
        """A row met the rule again: no earlier row can show now that the danger is over."""
        self.looked_before += self.looked
        self.settled_before += [self.settled_by] if self.settled_by else []
        self.looked = []
        self.rows_since = 0
        self.settled_parts: set[str] = set()
        self.settled_at: datetime | None = None
        self.settled_by = None
        self.settled_in = -1

    @property
    def _about(self) -> tuple[str, ...]:
        """The log's words that name it, besides `all`."""
        return (self.symptom,) if self.symptom else DANGERS[self.sign or self.rule].about

    @property
    def last_at(self) -> datetime:
        """When the rule was met last."""
        return self.rows[-1][0].at

    def meet(self, row: Entry, window: Window) -> None:
        """Take in a row that meets the rule. An older row that met it only with a later one is just
        added.
        """
        if any((each.place, each.at) == (row.place, row.at) for each, _ in self.rows):
            return
        if self.rows and row.at < self.last_at:
            self.rows.insert(0, (row, window))
            return
        self.told = [each for each in self.told if self._still_answers(each, row, window)]
        self.rows.append((row, window))
        self.fell_from_ml = window.case.rows.recent.compared_ml or 0
        self._forget_what_came_since()

    def look(self, row: Entry, window: Window) -> None:
        """Take in a row of any kind: it may show that a part of the matter is over."""
        if row.at <= self.last_at:
            return
        parts = self._parts()
        self.rows_since += row.saw_the_patient
        since = [look.row.signs for look in self.looked]
        danger = Danger(self.last_at, self._low(), since, self.fell_from_ml)
        for part in sorted(part for part in parts if looks_at(part, row)):
            why_not = why_not_settled(part, row, window.case, danger)
            self.looked.append(Look(row, part, why_not))
            if why_not is None:
                self.settled_parts.add(part)
        if self.settled_at is None and self.settled_parts == parts:
            self._settle(row.at, None, window)

    def hear(self, row: Entry, window: Window) -> None:
        """Take in a `told` or `settled` row, never one from before the last row. It may be about
        this matter, or not say what it is about.
        """
        is_named = names(row, self._about)
        heard = Told(row.at, row.note, row.place, named=bool(row.about))
        if row.what is What.SETTLED:
            if is_named:
                self.settled_rows.append(row.place)
                self._settle(row.at, heard, window)
        elif is_named or (row.says and row.by_staff and not row.about):
            self.heard.append(heard)
            if is_named:
                self.told.append(heard)
            self._close(row.at, window)

    def _settle(self, at: datetime, by: Told | None, window: Window) -> None:
        if self.settled_at is None:
            self.settled_at, self.settled_by, self.settled_in = at, by, window.number
        self._close(at, window)

    def _close(self, at: datetime, window: Window) -> None:
        is_told = bool(self.told or self._unnamed())
        if self.closed_at is None and self.settled_at is not None and is_told:
            self.closed_at, self.closed_in = at, window.number

    def _unnamed(self) -> list[Told]:
        """The told rows without a topic that come soon enough after the last row to be about this
        matter.
        """
        last = minute(self.last_at)
        waited = [(each, minute(each.at) - last) for each in self.heard if not each.named]
        return [each for each, after in waited if timedelta() <= after <= UNNAMED_ANSWERS]

    def _low(self) -> list[Signs]:
        """The signs of its rows with a low SpO2."""
        rows = [(row.signs, _marks(self.rule, row, window)) for row, window in self.rows]
        return [signs for signs, marks in rows if LOW_OXYGEN.name in {self.rule, *marks}]

    def _parts(self) -> set[str]:
        """The parts that have to be settled: see `settling`."""
        if self.symptom:
            return {NONE}
        if self.rule == FALL_WITH:
            return {VOLUME}
        if self.rule in SHOWS:
            return {NONE} | (self._all_marks() & VITALS.keys())
        return {self.sign or self.rule}

    def _symptoms(self) -> tuple[str, ...]:
        """The symptoms of the matter, in the log's words."""
        if self.symptom:
            return (self.symptom,)
        if self.rule == FALL_WITH:
            return ()
        marks = self._all_marks()
        return tuple(str(each) for each in Symptom if each in marks)

    def _all_marks(self) -> set[str]:
        """The signs in any of its rows, where several signs together meet the rule."""
        return set().union(*(_marks(self.rule, row, window) for row, window in self.rows))

    def _still_answers(self, told: Told, row: Entry, window: Window) -> bool:
        """Whether a told row also covers a later row: for some hours, unless that is worse or has a
        new sign.
        """
        if minute(row.at) - minute(told.at) > ANSWERS_LATER_ROWS:
            return False
        before = [each for each in self.rows if minute(each[0].at) <= minute(told.at)]
        known = set().union(*(_marks(self.rule, each, at) for each, at in before))
        if not _marks(self.rule, row, window) <= known:
            return False
        for value, low in _values(self.rule, row, window):
            same = [each for of in before for each, side in _values(self.rule, *of) if side is low]
            worst = min(same, default=None) if low else max(same, default=None)
            if (
                worst is None
                or (worst - value if low else value - worst) >= VITALS[self.rule].worse_by
            ):
                return False
        return True

    def matter(self, now: Window, as_of: datetime) -> Matter:
        """The matter in its state at `as_of`, in the shift handed over (`now`)."""
        told, unnamed = self.told, self._unnamed()
        if self.closed_at is not None:
            state = MatterState.CLOSED
            told, unnamed = told or unnamed, []
        elif self.settled_at is not None:
            state = MatterState.SETTLED
        else:
            state = MatterState.TOLD if told else MatterState.OPEN
        eased = self._eased(as_of) if state is MatterState.TOLD else None
        before = [each for each in self.heard if minute(each.at) < minute(self.last_at)]
        unsettled = set() if self.settled_at else self._parts() - self.settled_parts
        return Matter(
            rule=self.rule,
            symptom=self.symptom or None,
            sign=self.sign or None,
            verdict=self._verdict(),
            shift=self.opened.listing.shift,
            unit=self.opened.listing.unit,
            opened_at=self.rows[0][0].at,
            last_at=self.last_at,
            rows=tuple(row for row, _ in self.rows),
            state=state,
            level=self._level(state, now, eased),
            told=tuple(told),
            about_unknown=tuple(unnamed),
            told_before=tuple(each for each in before if each not in self.told),
            looked=tuple(self.looked),
            looked_before=tuple(self.looked_before),
            settled_at=self.settled_at,
            settled_by=self.settled_by,
            settled_before=tuple(self.settled_before),
            closed_at=self.closed_at,
            eased=eased,
            opened_now=self.opened.number == now.number,
            closed_now=self.closed_in == now.number,
            vitals=tuple(each.name for rule, each in VITALS.items() if rule in unsettled),
            symptoms=self._symptoms() if NONE in unsettled else (),
            settled_rows=tuple(self.settled_rows),
            unsettled=tuple(sorted(unsettled)),
            wanted_oxygen=oxygen_that_settles(self._low()),
            fell_from_ml=self.fell_from_ml if VOLUME in unsettled else None,
            about=tuple(sorted(self._about)),
        )

    def _level(self, state: MatterState, now: Window, eased: Eased | None) -> Level:
        """Its effect on the priority of the shift that is handed over: none where comfort care is
        ordered by then, and the rule is not judged in it.
        """
        last = now.number
        if not now.case.is_judged(self.rule):
            return Level.NOTE
        if state is MatterState.OPEN:
            return Level.ESCALATE
        if state is MatterState.TOLD:
            return Level.FOLLOW_UP if eased else Level.ESCALATE
        if state is MatterState.CLOSED:
            return Level.FOLLOW_UP if self.opened.number == last else Level.NOTE
        met_in = self.rows[-1][1].number
        if met_in == last:
            return Level.ESCALATE
        # It is named once more: at the next hand-over, or at the first that knows that it is over.
        return Level.FOLLOW_UP if last == max(met_in + 1, self.settled_in) else Level.NOTE

    def _eased(self, as_of: datetime) -> Eased | None:
        """Why a matter that was told and has not settled is only followed up."""
        age = as_of - self.last_at
        if self.rule == FALL_WITH:
            return Eased.OLD_FALL if age >= FALL_IS_OLD else None
        if self._parts() - self.settled_parts == {NONE}:
            old = age >= SYMPTOM_IS_OLD and self.rows_since >= ROWS_SINCE
            return Eased.NOT_ASKED if old else None
        if self.rule == LOW_OXYGEN.name:
            case = self.rows[-1][1].case
            good = [
                look.row.at
                for look in self.looked
                if look.why_not is not WhyNot.BY_PATIENT
                and look.row.signs.on_oxygen
                and is_within_limits(self.rule, look.row, case)
            ]
            apart = bool(good) and good[-1] - good[0] >= ON_OXYGEN_APART
            return Eased.ON_OXYGEN if apart else None
        return None

    def _verdict(self) -> Verdict:
        """The rule's verdict on the rows of this matter, from the shift with the worst value (of
        equals the latest). Where all rows of a shift together met it, the verdict of that shift.
        """
        window = self.rows[-1][1]
        if self.rule in VITALS:
            ranked = [
                (bound.excess(value), row.at, of)
                for row, of in self.rows
                for value, bound in beyond(of.case.of(self.rule).at(row), row.signs)
            ]
            window = max(ranked, key=lambda each: each[:2])[2]
        rows = tuple(row for row, of in self.rows if of is window)
        if self.rule == SIGN_UNREADABLE.name:
            return self._unread_verdict(window)
        if self.symptom:
            symptoms = frozenset({Symptom(self.symptom)})
            rows = tuple(replace(row, signs=replace(row.signs, symptoms=symptoms)) for row in rows)
        if self.rule in OF_A_SHIFT:
            rows = window.case.entries
        case = replace(window.case, rule=self.rule, rows=replace(window.case.rows, entries=rows))
        return DANGERS[self.rule].decide(case)

    def _unread_verdict(self, window: Window) -> Verdict:
        """The verdict on the rows in which just this sign is not known for sure."""
        verdict = SIGN_UNREADABLE.decide(window.case.of(SIGN_UNREADABLE.name))
        part, rows = self.symptom or self.sign, [row for row, of in self.rows if of is window]
        unsure = verdict.found.unsure if isinstance(verdict.found, Unreadable) else ()
        mine = tuple(each for each in unsure if each.followed_as == part)
        seen = Seen(len(mine), window.case.of(self.rule).without_limit("{signs}"), rows)
        found = Unreadable(mine, names=tuple(dict.fromkeys(each.name for each in mine)))
        return window.case.of(self.rule).met(found, seen)


def _values(rule: str, row: Entry, window: Window) -> list[tuple[float, bool]]:
    """The value of a vital sign beyond its limit, and whether it is too low."""
    if rule not in VITALS:
        return []
    return [(value, bound.low) for value, bound in beyond(window.case.of(rule).at(row), row.signs)]


def _marks(rule: str, row: Entry, window: Window) -> frozenset[str]:
    """The signs in a row, for a rule that several signs together meet."""
    seen = {each: sign_of(window.case.of(each).at(row), row.signs) for each in SHOWS.get(rule, ())}
    marks: set[str] = set()
    for each, sign in seen.items():
        marks |= {each} if isinstance(sign, float | int) else set(sign or ())
    return frozenset(marks)

"""The input of a rule, and the ways to build its verdict.

Input: one patient's measures, the hand-over, the limits. Output: `Case`, which a rule reads, and
its three kinds of verdict: met, not met, undecided. Holds no rule and no number.
"""

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from operator import attrgetter
from typing import TYPE_CHECKING, Self

from msgspec.structs import replace

from handoff.limits.reading import Limits
from handoff.model.frozen import Frozen
from handoff.model.matters import Matter
from handoff.model.measures import Measures, Recent
from handoff.model.verdicts import Found, Level, State, Verdict
from handoff.model.ward import Entry, Handover, Order, Patient, order_at
from handoff.model.wording import JUDGE

if TYPE_CHECKING:
    from handoff.judge.vitals import Bound

# The rules that are judged where comfort care is ordered: pain and breathlessness.
IN_COMFORT_CARE = frozenset({"breathless", "breathless-again", "pain-limits", "pain-again"})

# How far a rule that counts what comes again looks back over the shift's start: common practice.
LOOKS_BACK = timedelta(minutes=60)


class Against(Frozen):
    """A limit to compare a value with, both in `unit`, and the limit's source."""

    limit: float | None
    unit: str | None
    source: str | None


class Seen(Frozen):
    """What met a rule: the printed value, the limit it was compared with, its rows, its time.

    Without rows, the patient's own row is cited. `led_up` are those of the rows that came before it
    was met. With `holds_back` no page asks for the exercise.
    """

    value: float | str | None
    against: Against
    rows: Sequence[Entry] = ()
    at: datetime | None = None
    led_up: Sequence[Entry] = ()
    holds_back: bool = False


class ShiftRows(Frozen):
    """One patient's rows of one shift, with the order in force at its end, and all `periods` of the
    order: what is seen is judged by the order of its minute.

    `start` is the shift's. `entries` are all that are judged with it, `before` the earlier ones of
    the stay, both in time order. `recent` are the readings in good form that a fall is read from.
    `is_child`: the patient is a child on the day the shift starts. `aside` are rows set aside that
    may be of the shift: see `unreadable`.
    """

    patient: Patient
    order: Order
    start: datetime
    entries: tuple[Entry, ...]
    before: tuple[Entry, ...]
    recent: Recent
    is_child: bool = False
    aside: tuple[Entry, ...] = ()
    periods: tuple[Order, ...] = ()


class Case(Frozen):
    """One rule's view of one patient's shift: `rule` names whose limits `limit` looks up.

    `in_force` are the limits of vital signs that were worked out for this patient, by rule and
    start of the order: every view asks for them, row by row.
    """

    rule: str
    rows: ShiftRows
    limits: Limits
    in_force: dict[tuple[str, datetime], "tuple[Bound, ...]"]

    def of(self, rule: str) -> Self:
        """The same patient in another rule's view."""
        return type(self)(rule, self.rows, self.limits, self.in_force)

    def at(self, row: Entry) -> "Case":
        """The same view with the order in force at the time of a row."""
        periods = self.rows.periods
        order = order_at(periods, row.at) if periods[1:] else self.order
        if order is self.order:
            return self
        rows = replace(self.rows, order=order)
        return Case(self.rule, rows, self.limits, self.in_force)

    def where_judged(self, rule: str) -> Self:
        """A rule's view of the rows at whose time the order lets it be judged."""
        periods = self.rows.periods or (self.order,)
        if rule in IN_COMFORT_CARE or not any(each.comfort_care for each in periods):
            return self.of(rule)
        entries = tuple(each for each in self.entries if self.at(each).is_judged(rule))
        return replace(self, rule=rule, rows=replace(self.rows, entries=entries))

    def looking_back(self, time: timedelta = LOOKS_BACK) -> Self:
        """The same case; the rows of so long before the shift are among its entries too."""
        since = min([self.rows.start, *(entry.at for entry in self.entries[:1])]) - time
        before = self.rows.before[bisect_left(self.rows.before, since, key=attrgetter("at")) :]
        if not before:
            return self
        return replace(self, rows=replace(self.rows, entries=(*before, *self.entries)))

    @property
    def patient(self) -> Patient:
        """The patient judged."""
        return self.rows.patient

    @property
    def order(self) -> Order:
        """The order in force; a patient who never had one is not judged."""
        return self.rows.order

    @property
    def entries(self) -> tuple[Entry, ...]:
        """Every entry of the shift, whatever it records, in time order."""
        return self.rows.entries

    @property
    def exercises(self) -> tuple[Entry, ...]:
        """Those of the entries that are exercises."""
        return tuple(entry for entry in self.entries if entry.is_exercise)

    def is_judged(self, rule: str) -> bool:
        """Whether the order lets a rule be judged: in comfort care, pain and breathlessness."""
        return rule in IN_COMFORT_CARE or not self.order.comfort_care

    def limit(self, name: str) -> float:
        """One of the rule's own limits, in its unit."""
        return self.limits.value(self.rule, name)

    def against(self, name: str) -> Against:
        """One of the rule's own limits, to compare a value with."""
        limit = self.limits.limit(self.rule, name)
        return Against(float(limit.value), limit.unit, self.limits.cited(self.rule, name))

    def without_limit(self, unit: str | None = None) -> Against:
        """For a rule without a limit: nothing to compare with, and the rule's own source."""
        return Against(None, unit, self.limits.cited(self.rule))

    def met(self, found: Found, seen: Seen, level: str | None = None) -> Verdict:
        """Met, at the rule's own level unless another is given."""
        rows = seen.rows
        return Verdict(
            rule=self.rule,
            level=Level(level or self.limits.level(self.rule)),
            state=State.MET,
            found=found,
            value=seen.value,
            limit=seen.against.limit,
            unit=seen.against.unit,
            source=seen.against.source,
            at=seen.at or (rows[-1].at if rows else None),
            entries=tuple(row.place for row in rows) or (self.patient.place,),
            times=tuple(row.at for row in rows),
            led_up=tuple((row.place, row.at) for row in seen.led_up),
            holds_back=seen.holds_back,
        )

    def not_met(self, found: Found) -> Verdict:
        """Not met; everything that the rule needs is recorded."""
        level = Level(self.limits.level(self.rule))
        return Verdict(self.rule, level, State.NOT_MET, found)

    def undecided(self, found: Found, why: str) -> Verdict:
        """Something that the rule needs is not recorded; `why` says what, in a few plain words."""
        return replace(self.not_met(found), state=State.UNDECIDED, why=why)


class MeasuredCase(Case):
    """The view of a rule that also reads measures and the stay's matters, for the shift handed
    over.
    """

    measures: Measures
    handover: Handover
    matters: Sequence[Matter] = ()

    def of(self, rule: str) -> Self:
        """The same patient in another rule's view."""
        known = self.measures, self.handover, self.matters
        return type(self)(rule, self.rows, self.limits, self.in_force, *known)

    @property
    def unsettled(self) -> list[Matter]:
        """The matters that are not seen to be over."""
        return [each for each in self.matters if each.holds_back]


def joined(words: Sequence[str]) -> str:
    """Words as a clause names them: 'a', 'a and b', 'a, b and c'."""
    *before, last = words
    return JUDGE.say("any.and", words=", ".join(before), last=last) if before else last


def good_readings(entries: Iterable[Entry]) -> tuple[Entry, ...]:
    """The readings that take part in best, trend and goal."""
    return tuple(entry for entry in entries if entry.is_good_reading)

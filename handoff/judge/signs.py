"""Vital signs and symptoms: the signs that meet a rule, and the rules on single signs.

Input: a `Case`. Output: a `Verdict` a rule, and signs for the rules on several signs together.
Every entry of the shift is read, of whatever kind. Never says what is wrong with the patient.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import NamedTuple

from handoff.judge.case import NO_ENTRY, THE_ORDER, Against, Case, Seen
from handoff.judge.rule import Rule, rows_text
from handoff.model.rounding import exact
from handoff.model.verdicts import Found, SeenSign, Verdict, When
from handoff.model.ward import DIZZY_SYMPTOMS, Entry, Signs, Symptom


class Bound(NamedTuple):
    """One side of a limit, met by values under it (`low`) or over it; if `inclusive`, also by the
    limit itself.
    """

    limit: float
    against: Against
    low: bool
    inclusive: bool = True

    def excess(self, value: float) -> float:
        """How far `value` is beyond the limit, in its own unit; negative within it."""
        return self.limit - value if self.low else value - self.limit

    def met_by(self, value: float) -> bool:
        """True when `value` is beyond the limit, or at an inclusive one."""
        excess = self.excess(value)
        return excess > 0 or (self.inclusive and excess == 0)


@dataclass(frozen=True, slots=True)
class Vital:
    """A vital sign, or pain: its name and unit, its field in `Signs`, and the names of its rule's
    limits. A value worse by at least the given amount needs a new `told` row (common practice).
    """

    name: str
    unit: str
    field: str
    low: str | None
    high: str | None
    worse_by: float

    def value(self, signs: Signs) -> float | None:
        """What an entry records of it."""
        value: float | None = getattr(signs, self.field)
        return value

    def recorded(self, entries: Iterable[Entry]) -> list[tuple[float, Entry]]:
        """Its values, each with the entry that records it."""
        valued = [(self.value(entry.signs), entry) for entry in entries]
        return [(value, entry) for value, entry in valued if value is not None]

    def bounds(self, case: Case) -> tuple[Bound, ...]:
        """Its limits for the patient: for SpO2 the order's own where there is one."""
        ordered = case.order.spo2_min
        if self.field == "spo2" and ordered is not None:
            return (Bound(ordered, Against(ordered, "%", THE_ORDER), low=True, inclusive=False),)
        return tuple(
            Bound(case.limit(name), case.against(name), low=name == self.low)
            for name in (self.low, self.high)
            if name
        )


PAIN = "pain-again"  # the rule whose limit is that of strong pain

VITALS: Mapping[str, Vital] = {
    "low-oxygen": Vital("SpO2", "%", "spo2", "spo2_at_or_under", None, 2),
    "breathing-rate": Vital(
        *("breathing rate", "/min", "resp_rate", "resp_rate_at_or_under", "resp_rate_at_or_over"), 5
    ),
    "pulse": Vital("pulse", "/min", "pulse", "pulse_at_or_under", "pulse_at_or_over", 5),
    "low-temperature": Vital("temperature", "°C", "temp_c", "temp_c_at_or_under", None, 0.5),
    "fever": Vital("temperature", "°C", "temp_c", None, "temp_c_at_or_over", 0.5),
    PAIN: Vital("pain", "of 10", "pain", None, "pain_at_or_over", 2),
}

SYMPTOMS: Mapping[str, tuple[Symptom, ...]] = {
    "faint-or-chest-pain": (Symptom.FAINT, Symptom.CHEST_PAIN),
    "drowsy-or-confused": (Symptom.DROWSY, Symptom.CONFUSED),
    "dizziness": DIZZY_SYMPTOMS,
    "breathless": (Symptom.BREATHLESS, Symptom.WHEEZE),
}


class LatestValue(NamedTuple):
    """A vital sign as it was recorded last, and on what oxygen."""

    value: float
    at: datetime
    on_oxygen: bool | None
    oxygen: str | None


@dataclass(frozen=True, slots=True)
class VitalFound(Found):
    """Every value of one vital sign in the shift; `of_order` is the ordered limit, in words.

    The other fields are about the value that met the rule: `side` ('low' or 'high'), `ordered` (its
    limit is the order's), `on_oxygen` and `oxygen` (None for not recorded), and `latest`, the last
    value recorded after it. `missing` is the name of a vital sign that is not recorded.
    """

    name: str
    values: tuple[float, ...]
    of_order: str
    missing: tuple[str, ...] = ()
    side: str | None = None
    ordered: bool = False
    on_oxygen: bool | None = None
    oxygen: str | None = None
    latest: LatestValue | None = None

    def text(self, _: When, /) -> str:
        """`SpO2 95 to 97 in 2 rows; ordered 92 % or more`."""
        if not self.values:
            return f"{self.name} not recorded{self.of_order}"
        low, high = exact(min(self.values)), exact(max(self.values))
        span = low if low == high else f"{low} to {high}"
        return f"{self.name} {span} in {rows_text(len(self.values))}{self.of_order}"


@dataclass(frozen=True, slots=True)
class Charted(Found):
    """The entries that chart a symptom of a rule, among `of_rows` that were read.

    `symptoms` are those charted, in the log's words, and `charted_at` the times of the entries.
    `seen_before` are the symptoms that earlier shifts of the stay charted too.
    """

    symptoms: tuple[str, ...]
    charted_at: tuple[datetime, ...]
    of_rows: int
    seen_before: tuple[str, ...]

    def text(self, when: When, /) -> str:
        """`charted in 1 of 3 rows (at 2026-05-12 08:00)`."""
        times = ", ".join(map(when, dict.fromkeys(self.charted_at)))
        at = f" (at {times})" if times else ""
        return f"charted in {len(self.charted_at)} of {rows_text(self.of_rows)}{at}"


class SignAt(NamedTuple):
    """A sign for the words of a caution: the rule that it meets, what was seen, and when."""

    rule: str
    seen: SeenSign
    at: datetime


@dataclass(frozen=True, slots=True)
class Sign:
    """A sign that meets `rule`, with its entry."""

    rule: str
    entry: Entry
    seen: SeenSign

    @property
    def at(self) -> SignAt:
        """The sign with its time, without its entry."""
        return SignAt(self.rule, self.seen, self.entry.at)


def signs_text(signs: Iterable[SignAt], when: When) -> str:
    """Each sign with its time, in the log's terms."""
    return ", ".join(f"{reads(rule, seen)} at {when(at)}" for rule, seen, at in signs) or "none"


def vital_sign(case: Case) -> Verdict:
    """A value beyond a limit.

    SpO2 (%) meets it under the order's own limit; without one, at or under the unit's. Rates (a
    minute) and temperature (degrees Celsius) meet it at the limit too. The value is the one
    farthest beyond its limit, the latest of equals. Undecided with none recorded.
    """
    vital = VITALS[case.rule]
    recorded = vital.recorded(case.entries)
    of_order, ordered = "", case.order.spo2_min
    if vital.field == "spo2":
        of_order = (
            "; no limit ordered" if ordered is None else f"; ordered {exact(ordered)} % or more"
        )
    found = VitalFound(vital.name, tuple(value for value, _ in recorded), of_order)
    if not recorded:
        found = replace(found, missing=(vital.name,))
        return case.undecided(found, f"{vital.name} not recorded")
    bounds = vital.bounds(case)
    beyond_limit = [
        (bound.excess(value), entry.at, entry, value, bound)
        for value, entry in recorded
        for bound in bounds
        if bound.met_by(value)
    ]
    if not beyond_limit:
        return case.not_met(found)
    *_, worst, value, bound = max(beyond_limit, key=lambda each: each[:2])
    last_value, last = recorded[-1]
    latest = LatestValue(last_value, last.at, last.signs.on_oxygen, last.signs.oxygen)
    found = replace(
        found,
        side="low" if bound.low else "high",
        ordered=bound.against.source == THE_ORDER,
        on_oxygen=worst.signs.on_oxygen,
        oxygen=worst.signs.oxygen,
        latest=latest if last.at > worst.at else None,
    )
    rows = [entry for _, _, entry, _, _ in beyond_limit]
    return case.met(found, Seen(value, bound.against, rows, worst.at))


def symptom(case: Case) -> Verdict:
    """One of the rule's symptoms is charted. Value: the entries that chart one, at the latest.

    Drowsiness and confusion meet it whether new or not: also when an earlier shift charted the
    same.
    """
    rows = symptom_rows(case)
    found = charted(case, rows)
    if not case.entries:
        return case.undecided(found, NO_ENTRY)
    if not rows:
        return case.not_met(found)
    return case.met(found, Seen(len(rows), case.without_limit("{entries}"), rows))


def charted(case: Case, rows: Sequence[Entry]) -> Charted:
    """The symptoms of the case's rule in `rows`, which are some of the case's entries."""
    symptoms = _charted(case.rule, rows)
    before = _charted(case.rule, case.rows.before) if rows else ()
    return Charted(
        symptoms=symptoms,
        charted_at=tuple(row.at for row in rows),
        of_rows=len(case.entries),
        seen_before=tuple(name for name in before if name in symptoms),
    )


def symptom_rows(case: Case) -> list[Entry]:
    """The shift's entries that chart a symptom of the case's rule, in time order."""
    return [entry for entry in case.entries if _words(case.rule, entry.signs)]


def signs_seen(case: Case, rules: Iterable[str]) -> list[Sign]:
    """Every sign in the shift that meets one of `rules`, in time order.

    A rule that the unit switched off gives no verdict; its limits still count here.
    """
    found: list[Sign] = []
    for rule in rules:
        if rule in VITALS:
            recorded = VITALS[rule].recorded(case.entries)
            bounds = VITALS[rule].bounds(case.of(rule)) if recorded else ()
            found += [
                Sign(rule, entry, value)
                for value, entry in recorded
                if any(bound.met_by(value) for bound in bounds)
            ]
        else:
            charted_in = [(_words(rule, entry.signs), entry) for entry in case.entries]
            found += [Sign(rule, entry, words) for words, entry in charted_in if words]
    return sorted(found, key=lambda sign: sign.entry.at)


def sign_of(case: Case, signs: Signs) -> SeenSign | None:
    """The part of `signs` that meets the case's rule; None without one."""
    if case.rule in VITALS:
        return next((value for value, _ in beyond(case, signs)), None)
    return _words(case.rule, signs) or None


def reads(rule: str, seen: SeenSign) -> str:
    """A sign in the log's terms: 'SpO2 84 %', 'chest pain'."""
    if isinstance(seen, tuple):
        return ", ".join(seen).replace("_", " ")
    vital = VITALS[rule]
    return f"{vital.name} {seen:g} {vital.unit}"


def not_recorded(entries: Sequence[Entry], rules: Iterable[str]) -> list[str]:
    """The names of the vital signs of `rules` that none of the entries records."""
    vitals = [VITALS[rule] for rule in rules if rule in VITALS]
    return [vital.name for vital in vitals if not vital.recorded(entries)]


def beyond(case: Case, signs: Signs) -> list[tuple[float, Bound]]:
    """The value of the case's vital sign with the limit that it is beyond; empty within
    all limits.
    """
    vital = VITALS[case.rule]
    value = vital.value(signs)
    if value is None:
        return []
    return [(value, bound) for bound in vital.bounds(case) if bound.met_by(value)]


def _charted(rule: str, entries: Iterable[Entry]) -> tuple[str, ...]:
    seen = {word for entry in entries for word in _words(rule, entry.signs)}
    return tuple(str(name) for name in SYMPTOMS[rule] if name in seen)


def _words(rule: str, signs: Signs) -> tuple[str, ...]:
    if not signs.symptoms:
        return ()
    return tuple(str(name) for name in SYMPTOMS[rule] if name in signs.symptoms)


LOW_OXYGEN = Rule(
    "low-oxygen",
    "SpO2 under the order's own limit; where none is ordered, {spo2_at_or_under} % or less",
    vital_sign,
    about=("oxygen",),
)
BREATHING_RATE = Rule(
    "breathing-rate",
    "breathing rate {resp_rate_at_or_under} /min or less, or {resp_rate_at_or_over} or more",
    vital_sign,
    about=("breathing",),
)
PULSE = Rule(
    "pulse",
    "pulse {pulse_at_or_under} /min or less, or {pulse_at_or_over} or more",
    vital_sign,
    about=("pulse",),
)
LOW_TEMPERATURE = Rule(
    "low-temperature",
    "temperature {temp_c_at_or_under} °C or less",
    vital_sign,
    about=("temperature",),
)
FEVER = Rule(
    "fever", "temperature {temp_c_at_or_over} °C or more", vital_sign, about=("temperature",)
)
FAINT_OR_CHEST_PAIN = Rule(
    "faint-or-chest-pain", "faint or chest pain charted", symptom, about=("faint", "chest_pain")
)
DROWSY_OR_CONFUSED = Rule(
    "drowsy-or-confused", "drowsy or confused charted", symptom, about=("drowsy", "confused")
)

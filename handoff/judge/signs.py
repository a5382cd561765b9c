"""Vital signs and symptoms: what meets a rule, and the rules on them alone.

Input: a `Case`. Output: a `Verdict` a rule, and signs for the rules that ask what else was seen.
Every entry of the shift is read, whatever it records. Never says what is wrong with the patient.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from handoff.judge.case import NO_ENTRY, THE_ORDER, Against, Case, Seen
from handoff.model.verdicts import SeenSign, Verdict
from handoff.model.ward import DIZZY_SYMPTOMS, Entry, Signs, Symptom


@dataclass(frozen=True, slots=True)
class Bound:
    """One side of a limit: met by values under it (`low`) or over it; at it when `inclusive`."""

    limit: float
    against: Against
    low: bool
    inclusive: bool = True

    def excess(self, value: float) -> float:
        """How far `value` lies beyond the limit, in its own unit; negative when it does not."""
        return self.limit - value if self.low else value - self.limit

    def met_by(self, value: float) -> bool:
        """True when `value` lies beyond the limit, or at an inclusive one."""
        excess = self.excess(value)
        return excess > 0 or (self.inclusive and excess == 0)


@dataclass(frozen=True, slots=True)
class Vital:
    """A vital sign: its name and unit, its value in an entry, and its limits for a patient."""

    name: str
    unit: str
    value: Callable[[Signs], float | None]
    bounds: Callable[[Case], tuple[Bound, ...]]


def _low(case: Case, name: str) -> Bound:
    return Bound(case.limit(name), case.against(name), low=True)


def _high(case: Case, name: str) -> Bound:
    return Bound(case.limit(name), case.against(name), low=False)


def _spo2_bounds(case: Case) -> tuple[Bound, ...]:
    ordered = case.order.spo2_min
    if ordered is None:
        return (_low(case, "spo2_at_or_under"),)
    return (Bound(ordered, Against(ordered, "%", THE_ORDER), low=True, inclusive=False),)


def _resp_rate_bounds(case: Case) -> tuple[Bound, ...]:
    return (_low(case, "resp_rate_at_or_under"), _high(case, "resp_rate_at_or_over"))


def _pulse_bounds(case: Case) -> tuple[Bound, ...]:
    return (_low(case, "pulse_at_or_under"), _high(case, "pulse_at_or_over"))


def _low_temperature_bounds(case: Case) -> tuple[Bound, ...]:
    return (_low(case, "temp_c_at_or_under"),)


def _fever_bounds(case: Case) -> tuple[Bound, ...]:
    return (_high(case, "temp_c_at_or_over"),)


VITALS: Mapping[str, Vital] = {
    "low-oxygen": Vital("SpO2", "%", lambda signs: signs.spo2, _spo2_bounds),
    "breathing-rate": Vital(
        "breathing rate", "/min", lambda signs: signs.resp_rate, _resp_rate_bounds
    ),
    "pulse": Vital("pulse", "/min", lambda signs: signs.pulse, _pulse_bounds),
    "low-temperature": Vital(
        "temperature", "°C", lambda signs: signs.temp_c, _low_temperature_bounds
    ),
    "fever": Vital("temperature", "°C", lambda signs: signs.temp_c, _fever_bounds),
}

SYMPTOMS: Mapping[str, tuple[Symptom, ...]] = {
    "faint-or-chest-pain": (Symptom.FAINT, Symptom.CHEST_PAIN),
    "drowsy-or-confused": (Symptom.DROWSY, Symptom.CONFUSED),
    "dizziness": DIZZY_SYMPTOMS,
    "breathless": (Symptom.BREATHLESS, Symptom.WHEEZE),
}


@dataclass(frozen=True, slots=True)
class Sign:
    """What meets `rule` in the entry it was seen in."""

    rule: str
    entry: Entry
    seen: SeenSign

    @property
    def detail(self) -> tuple[str, SeenSign, datetime]:
        """The sign as a verdict's detail carries it: rule, what was seen, at."""
        return (self.rule, self.seen, self.entry.at)


def vital_sign(case: Case) -> Verdict:
    """`low-oxygen`, `breathing-rate`, `pulse`, `low-temperature`, `fever`: a value beyond a limit.

    SpO2 (%) is low when under the order's own limit; where none is ordered, at or under the
    unit's. Rates (a minute) and temperature (degrees Celsius) are met at the limit too. The value
    is the one farthest beyond its limit, the latest of equals. Undecided with none recorded.

    Detail: `side` ('low' or 'high'), `ordered` (the limit is the order's), `on_oxygen` and
    `oxygen` (at the value's entry; None for not recorded), `latest` (`value`, `at`, `on_oxygen` and
    `oxygen` of the last one recorded; None where that is the value).
    """
    vital = VITALS[case.rule]
    valued = [(vital.value(entry.signs), entry) for entry in case.entries]
    recorded = [(value, entry) for value, entry in valued if value is not None]
    if not recorded:
        return case.undecided(f"{vital.name} not recorded", missing=[vital.name])
    bounds = vital.bounds(case)
    readings = [
        (bound.excess(value), entry.at, entry, value, bound)
        for value, entry in recorded
        for bound in bounds
        if bound.met_by(value)
    ]
    if not readings:
        return case.not_met()
    *_, worst, value, bound = max(readings, key=lambda reading: reading[:2])
    return case.met(
        Seen(
            value,
            bound.against,
            rows=[entry for _, _, entry, _, _ in readings],
            at=worst.at,
            detail={
                "side": "low" if bound.low else "high",
                "ordered": bound.against.source == THE_ORDER,
                "on_oxygen": worst.signs.on_oxygen,
                "oxygen": worst.signs.oxygen,
                "latest": _after(worst, vital, case.entries),
            },
        )
    )


def _after(worst: Entry, vital: Vital, entries: Iterable[Entry]) -> dict[str, object] | None:
    """The last value that was recorded after the worst one, with its time."""
    recorded = [entry for entry in entries if vital.value(entry.signs) is not None]
    last = recorded[-1]
    if last.at <= worst.at:
        return None
    signs = last.signs
    return {
        "value": vital.value(signs),
        "at": last.at,
        "on_oxygen": signs.on_oxygen,
        "oxygen": signs.oxygen,
    }


def symptom(case: Case) -> Verdict:
    """`faint-or-chest-pain`, `drowsy-or-confused`, `dizziness`, `breathless`: one of its symptoms.

    Value: the entries that chart one, at the latest. Whether drowsiness or confusion is new is not
    left to the log: it is met also when an earlier shift charted the same.

    Detail: `symptoms` (those charted, in the log's words), `count` (the entries), `breaths` (of
    the latest of them, or None), `seen_before` (those that earlier shifts of the stay charted too).
    """
    if not case.entries:
        return case.undecided(NO_ENTRY)
    rows = symptom_rows(case)
    if not rows:
        return case.not_met()
    return case.met(
        Seen(len(rows), case.without_limit("{entries}"), rows, detail=symptom_detail(case, rows))
    )


def symptom_rows(case: Case) -> list[Entry]:
    """The shift's entries that chart a symptom of the case's rule, in time order."""
    return [entry for entry in case.entries if _charted(case.rule, [entry])]


def symptom_detail(case: Case, rows: Sequence[Entry]) -> dict[str, object]:
    """What the words of a rule on symptoms need; see `symptom`."""
    symptoms = _charted(case.rule, rows)
    return {
        "symptoms": symptoms,
        "count": len(rows),
        "breaths": rows[-1].breaths,
        "seen_before": [name for name in _charted(case.rule, case.rows.before) if name in symptoms],
    }


def signs_seen(case: Case, rules: Iterable[str]) -> list[Sign]:
    """Every sign in the shift that meets one of `rules`, in time order.

    A rule that the unit switched off gives no verdict of its own; its limits hold here still.
    """
    found = [
        Sign(rule, entry, seen)
        for rule in rules
        for entry in case.entries
        if (seen := sign_of(case.of(rule), entry.signs)) is not None
    ]
    return sorted(found, key=lambda sign: sign.entry.at)


def sign_of(case: Case, signs: Signs) -> SeenSign | None:
    """What of `signs` meets the case's rule; None when nothing does."""
    if case.rule in VITALS:
        return next((value for value, _ in beyond(case, signs)), None)
    return tuple(_words(case.rule, signs)) or None


def reads(rule: str, seen: SeenSign) -> str:
    """A sign in the log's terms: 'SpO2 84 %', 'chest pain'."""
    if isinstance(seen, tuple):
        return ", ".join(seen).replace("_", " ")
    vital = VITALS[rule]
    return f"{vital.name} {seen:g} {vital.unit}"


def not_recorded(entries: Sequence[Entry], rules: Iterable[str]) -> list[str]:
    """The names of the vital signs of `rules` that none of the entries records."""
    vitals = [VITALS[rule] for rule in rules if rule in VITALS]
    return [
        vital.name for vital in vitals if all(vital.value(entry.signs) is None for entry in entries)
    ]


def beyond(case: Case, signs: Signs) -> list[tuple[float, Bound]]:
    """The value of the case's vital sign with the limit it is beyond; empty when beyond none."""
    vital = VITALS[case.rule]
    value = vital.value(signs)
    if value is None:
        return []
    return [(value, bound) for bound in vital.bounds(case) if bound.met_by(value)]


def _charted(rule: str, entries: Iterable[Entry]) -> list[str]:
    seen = {word for entry in entries for word in _words(rule, entry.signs)}
    return [str(name) for name in SYMPTOMS[rule] if name in seen]


def _words(rule: str, signs: Signs) -> list[str]:
    return [str(name) for name in SYMPTOMS[rule] if name in signs.symptoms]

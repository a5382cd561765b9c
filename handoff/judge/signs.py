"""Vital signs and symptoms: the signs that meet a rule, and the rules on single signs.

Input: a `Case`. Output: a `Verdict` a rule, and signs for the rules on several signs together.
Every entry of the shift is read, of whatever kind. Never says what is wrong with the patient.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from itertools import chain

from msgspec.structs import replace

from handoff.judge.case import Case, Seen, ShiftRows, joined
from handoff.judge.rule import Rule, rows_text
from handoff.judge.vitals import VITALS, Bound, beyond
from handoff.limits.reading import Limits
from handoff.log.fields import MAY_BE_USUAL
from handoff.model.frozen import Frozen
from handoff.model.rounding import exact
from handoff.model.verdicts import Found, Level, SeenSign, SignAt, Verdict, When
from handoff.model.ward import DIZZY_SYMPTOMS, NO_SIGNS, Entry, Signs, Symptom
from handoff.model.wording import JUDGE

SYMPTOMS: Mapping[str, tuple[Symptom, ...]] = {
    "faint-or-chest-pain": (Symptom.FAINT, Symptom.CHEST_PAIN),
    "drowsy-or-confused": (Symptom.DROWSY, Symptom.CONFUSED),
    "dizziness": DIZZY_SYMPTOMS,
    "breathless": (Symptom.BREATHLESS, Symptom.WHEEZE),
}


BESIDE = timedelta(minutes=60)  # a sign so near a usual symptom: common practice


class LatestValue(Frozen):
    """A vital sign as it was recorded last, and on what oxygen."""

    value: float
    at: datetime
    on_oxygen: bool | None
    oxygen: str | None


class VitalFound(Found):
    """Every value of one vital sign in the shift; `of_order` are the ordered limits, in words.

    The other fields are about the value that met the rule: the limit that it is beyond (`bound`),
    `on_oxygen` and `oxygen` (None for not recorded), and `latest`, the last value recorded after
    it. `missing` is the name of a vital sign that is not recorded.
    """

    name: str
    values: tuple[float, ...]
    of_order: str
    missing: tuple[str, ...] = ()
    bound: Bound | None = None
    on_oxygen: bool | None = None
    oxygen: str | None = None
    latest: LatestValue | None = None

    def text(self, _: When, /) -> str:
        """`SpO2 95 to 97 in 2 rows; ordered 92 % or more`."""
        if not self.values:
            return JUDGE.say("found.no-vital", sign=self.name, ordered=self.of_order)
        low, high = exact(min(self.values)), exact(max(self.values))
        return JUDGE.say(
            "found.vital",
            sign=self.name,
            values=low if low == high else JUDGE.say("found.span", low=low, high=high),
            rows=rows_text(len(self.values)),
            ordered=self.of_order,
        )


class Charted(Found):
    """The entries that chart a symptom of a rule, among `of_rows` that were read.

    `symptoms` are those charted, in the log's words, and `charted_at` the times of the entries.
    `seen_before` are the symptoms that earlier shifts of the stay charted too. `usual`: they are
    usual for the patient, and stood alone.
    """

    symptoms: tuple[str, ...]
    charted_at: tuple[datetime, ...]
    of_rows: int
    seen_before: tuple[str, ...]
    usual: bool = False

    def text(self, when: When, /) -> str:
        """`charted in 1 of 3 rows (at 2026-05-12 08:00)`."""
        times = ", ".join(map(when, dict.fromkeys(self.charted_at)))
        found = JUDGE.say(
            "found.symptom-at" if times else "found.symptom",
            count=len(self.charted_at),
            rows=rows_text(self.of_rows),
            times=times,
        )
        return JUDGE.say("found.usual", found=found) if self.usual else found


class Sign(Frozen):
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
    each = [
        JUDGE.say("any.at", sign=reads(sign.rule, sign.seen), at=when(sign.at)) for sign in signs
    ]
    return ", ".join(each) or JUDGE.say("any.none")


def vital_sign(case: Case) -> Verdict:
    """A value beyond a limit: the order's own, met beyond it, or else the unit's, met at it too.

    At the gravest level that a value meets. The value is the one farthest beyond a limit of that
    level, the latest of equals. Undecided with none recorded.
    """
    vital = VITALS[case.rule]
    recorded = vital.recorded(case.entries)
    found = VitalFound(vital.name, tuple(value for value, _ in recorded), ordered_text(case))
    if not recorded:
        found = replace(found, missing=(vital.name,))
        return case.undecided(found, JUDGE.say("any.not-recorded", sign=vital.name))
    met = [
        (bound.excess(value), entry.at, entry, value, bound)
        for _, entry in recorded
        for value, bound in beyond(case.at(entry), entry.signs)
    ]
    if not met:
        return case.not_met(found)
    levels = {each[-1].level for each in met}
    level = next(each for each in Level if each in levels)
    gravest = [each for each in met if each[-1].level is level]
    *_, worst, value, bound = max(gravest, key=lambda each: each[:2])
    last_value, last = recorded[-1]
    latest = LatestValue(last_value, last.at, last.signs.on_oxygen, last.signs.oxygen)
    found = replace(
        found,
        bound=bound,
        on_oxygen=worst.signs.on_oxygen,
        oxygen=worst.signs.oxygen,
        latest=latest if last.at > worst.at else None,
    )
    rows = [entry for _, _, entry, _, _ in gravest]
    return case.met(found, Seen(value, bound.against, rows, worst.at), level)


def ordered_text(case: Case) -> str:
    """The limits that the order has of the case's vital sign, in words."""
    vital = VITALS[case.rule]
    sides = ((vital.ordered_low, "more"), (vital.ordered_high, "less"))
    named = [(getattr(case.order, name), side) for name, side in sides if name]
    own = [
        JUDGE.say(f"found.or-{side}", limit=exact(limit), unit=vital.unit)
        for limit, side in named
        if limit is not None
    ]
    return JUDGE.say("found.ordered", limits=joined(own)) if own else ""


def symptom(case: Case) -> Verdict:
    """One of the rule's symptoms is charted. Value: the entries that chart one, at the latest.

    Drowsiness and confusion meet it whether new or not: also when an earlier shift charted the
    same. A symptom that is usual for the patient, and stood alone, is a note.
    """
    rows = symptom_rows(case)
    found = charted(case, rows)
    if not case.entries:
        return case.undecided(found, JUDGE.say("why.no-entry"))
    if rows:
        return case.met(found, Seen(len(rows), case.without_limit("{entries}"), rows))
    as_usual = [row for row in case.entries if not row.signs.usual.isdisjoint(SYMPTOMS[case.rule])]
    if not as_usual:
        return case.not_met(found)
    found = replace(charted(case, [_with_usual(row) for row in as_usual]), usual=True)
    return case.met(found, Seen(len(as_usual), case.without_limit("{entries}"), as_usual), "note")


def usual_apart(rows: ShiftRows, limits: Limits) -> ShiftRows:
    """The rows with the symptoms taken out that are usual for the patient, where they stood alone:
    no vital sign beyond a limit and no other symptom of a rule within an hour of them. They are in
    `usual` then.

    Fainting, chest pain and drowsiness are never usual.
    """
    of_orders = {order.usual_symptoms for order in (rows.order, *rows.periods)}
    usual = frozenset(chain(*of_orders)) & frozenset(MAY_BE_USUAL)
    if not usual:
        return rows
    case = Case("", rows, limits, {})
    others = frozenset(each for symptoms in SYMPTOMS.values() for each in symptoms) - usual
    signs_at = [
        row.at
        for row in (*rows.before, *rows.entries)
        if row.signs.symptoms & others
        or any(beyond(case.of(rule).at(row), row.signs) for rule in VITALS)
    ]

    def apart(row: Entry) -> Entry:
        alone = row.signs.symptoms & usual & frozenset(case.at(row).order.usual_symptoms)
        if not alone or any(abs(at - row.at) <= BESIDE for at in signs_at):
            return row
        left = row.signs.symptoms - usual
        return replace(row, signs=replace(row.signs, symptoms=left, usual=alone))

    return replace(
        rows, entries=tuple(map(apart, rows.entries)), before=tuple(map(apart, rows.before))
    )


def _with_usual(row: Entry) -> Entry:
    """The row as it was charted, with its usual symptoms among the others."""
    return replace(row, signs=replace(row.signs, symptoms=row.signs.charted))


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
    with_signs = [entry for entry in case.entries if entry.signs is not NO_SIGNS]
    with_symptoms = [entry for entry in with_signs if entry.signs.symptoms]
    for rule in rules:
        of_rule = case.of(rule)
        vital = VITALS.get(rule)
        rows = [row for _, row in vital.recorded(with_signs)] if vital else with_symptoms
        seen = [(sign_of(of_rule.at(entry), entry.signs), entry) for entry in rows]
        found += [Sign(rule, entry, sign) for sign, entry in seen if sign is not None]
    return sorted(found, key=lambda sign: sign.entry.at)


def sign_of(case: Case, signs: Signs) -> SeenSign | None:
    """The part of `signs` that meets the case's rule; None without one, and where the order lets it
    not be judged.
    """
    if not case.is_judged(case.rule):
        return None
    if case.rule in VITALS:
        return next((value for value, _ in beyond(case, signs)), None)
    return _words(case.rule, signs) or None


def escalates(case: Case, signs: Signs) -> bool:
    """Whether the part of `signs` that meets the case's rule is beyond a limit that escalates."""
    met = beyond(case, signs) if case.rule in VITALS else ()
    return case.rule not in VITALS or any(bound.level is Level.ESCALATE for _, bound in met)


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


def _charted(rule: str, entries: Iterable[Entry]) -> tuple[str, ...]:
    seen = {word for entry in entries for word in _words(rule, entry.signs)}
    return tuple(str(name) for name in SYMPTOMS[rule] if name in seen)


def _words(rule: str, signs: Signs) -> tuple[str, ...]:
    if not signs.symptoms:
        return ()
    return tuple(str(name) for name in SYMPTOMS[rule] if name in signs.symptoms)


LOW_OXYGEN = Rule(
    "low-oxygen",
    vital_sign,
    about=("oxygen",),
)
BREATHING_RATE = Rule(
    "breathing-rate",
    vital_sign,
    about=("breathing",),
)
PULSE = Rule(
    "pulse",
    vital_sign,
    about=("pulse",),
)
LOW_TEMPERATURE = Rule(
    "low-temperature",
    vital_sign,
    about=("temperature",),
)
FEVER = Rule(
    "fever",
    vital_sign,
    about=("temperature",),
)
FAINT_OR_CHEST_PAIN = Rule("faint-or-chest-pain", symptom, about=("faint", "chest_pain"))
DROWSY_OR_CONFUSED = Rule("drowsy-or-confused", symptom, about=("drowsy", "confused"))

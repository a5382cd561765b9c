"""Rules on the inspired volume: its fall since the shift before, its trend, its size.

Input: a `Case`. Output: a `Verdict` a rule. Only good-form readings are compared with a limit;
others never raise a caution here.
"""

from dataclasses import dataclass, replace
from typing import TypeVar

from handoff.judge.breathlessness import BREATHLESS
from handoff.judge.case import NO_GOOD_READING, Case, MeasuredCase, Seen, good_readings, joined
from handoff.judge.rule import Rule
from handoff.judge.signs import (
    BREATHING_RATE,
    FEVER,
    LOW_OXYGEN,
    SignAt,
    not_recorded,
    signs_seen,
    signs_text,
)
from handoff.model.measures import Direction
from handoff.model.rounding import exact
from handoff.model.verdicts import Found, Verdict, When

SIGNS_WITH_DROP = tuple(rule.name for rule in (LOW_OXYGEN, BREATHING_RATE, FEVER, BREATHLESS))


@dataclass(frozen=True, slots=True)
class Fall(Found):
    """The shift's best and the best of the 24 h before it, in mL, and the positions of these two
    readings in the log's words; None for not recorded.

    `percent` is the best in per cent of the previous one. It is None where they cannot be compared;
    `why_not` says why. `readings` is the number of the shift's good-form readings. Where a best is
    at the device's scale (`best_at_scale`, `previous_at_scale`), it may be higher.
    """

    best_ml: float | None
    previous_best_ml: float | None
    position: str | None
    previous_position: str | None
    readings: int
    percent: float | None
    why_not: str | None
    best_at_scale: bool
    previous_at_scale: bool

    def text(self, _: When, /) -> str:
        """`best 100 x 1000 / 1500 = 66.666667 %; good-form readings in the shift: 1`."""
        best, previous = exact(self.best_ml), exact(self.previous_best_ml)
        if self.percent is None:
            return f"best {best} mL, previous best {previous} mL"
        percent = f"best 100 x {best} / {previous} = {exact(self.percent)} %"
        return f"{percent}; good-form readings in the shift: {self.readings}"


@dataclass(frozen=True, slots=True)
class FallWithSigns(Fall):
    """A fall, and `signs_read`: every sign of the shift that counts beside a fall, in time order.
    `signs` are the same where `volume-drop` is met. `missing` are the vital signs not recorded in
    the shift, where there is a fall and no sign.
    """

    signs_read: tuple[SignAt, ...] = ()
    signs: tuple[SignAt, ...] = ()
    missing: tuple[str, ...] = ()

    def text(self, when: When, /) -> str:
        """The text of a fall, and the signs."""
        return f"{Fall.text(self, when)}; signs: {signs_text(self.signs_read, when)}"


@dataclass(frozen=True, slots=True)
class TrendFound(Found):
    """The trend's direction and interval (mL a day), from `n` points."""

    direction: Direction
    low: float | None
    high: float | None
    n: int

    def text(self, _: When, /) -> str:
        """`direction falling, interval -300 to -100 mL a day`."""
        if self.low is None:
            return f"direction {self.direction}, points {self.n}"
        interval = f"{exact(self.low)} to {exact(self.high)} mL a day"
        return f"direction {self.direction}, interval {interval}"


@dataclass(frozen=True, slots=True)
class Size(Found):
    """The best of the shift, compared with the body's size: the reference (at `reference_age_y`
    where the patient is older), else a weight, `predicted` from the height or as recorded. Only the
    one used is given. `limit_ml`, `factor` times the size, is the rule's limit in mL; `readings`
    are those in good form.
    """

    best_ml: float | None
    factor: float
    limit_ml: float | None
    reference_ml: float | None
    reference_age_y: float | None
    weight_kg: float | None
    predicted: bool
    readings: int

    def text(self, _: When, /) -> str:
        """`best of the shift 1500 mL; good-form readings: 2; 10 mL/kg x weight 72 kg = 720 mL`."""
        best = f"best of the shift {exact(self.best_ml)} mL; good-form readings: {self.readings}"
        if self.limit_ml is None:
            return f"{best}; no reference, no weight"
        size = f"{exact(self.factor)} x reference {exact(self.reference_ml)} mL"
        if self.reference_age_y is not None:
            size += f" at {exact(self.reference_age_y)} years"
        if self.reference_ml is None:
            kind = "predicted weight" if self.predicted else "weight"
            size = f"{exact(self.factor)} mL/kg x {kind} {exact(self.weight_kg)} kg"
        return f"{best}; {size} = {exact(self.limit_ml)} mL"


def volume_drop(case: Case) -> Verdict:
    """The shift's best is at or under so many per cent of the best of the 24 h before it.

    Met at the rule's milder level when the shift has fewer readings than the limit asks for: one
    poor reading is common. Cites every good-form reading of the shift, at the best one's time.
    """
    found = _compare(case, Fall)
    if found.percent is None:
        return case.undecided(found, found.why_not or "")
    if found.percent > case.limit("percent_at_or_under"):
        return case.not_met(found)
    enough = found.readings >= case.limit("readings_at_or_over")
    best, against = case.rows.best, case.against("percent_at_or_under")
    seen = Seen(found.percent, against, case.rows.readings, best and best.at)
    return case.met(found, seen, None if enough else case.limits.rules[case.rule].milder_level)


def volume_drop_with_signs(case: Case) -> Verdict:
    """The fall of `volume-drop` in a shift with a sign; or a deeper fall, without a sign.

    The limit is the deeper one where that is met, else that of `volume-drop`. Undecided when there
    is a fall without a sign, and a vital sign is not recorded in the shift.
    """
    signs = signs_seen(case, SIGNS_WITH_DROP)
    found = replace(_compare(case, FallWithSigns), signs_read=tuple(sign.at for sign in signs))
    if found.percent is None:
        return case.undecided(found, found.why_not or "")
    drop = case.of(VOLUME_DROP.name)
    deep = found.percent <= case.limit("percent_at_or_under")
    without_signs = deep and found.readings >= case.limit("readings_at_or_over")
    fell = found.percent <= drop.limit("percent_at_or_under")
    if fell:
        found = replace(found, signs=found.signs_read)
    beside_signs = found.signs and found.readings >= case.limit("readings_with_signs_at_or_over")
    if not without_signs and not beside_signs:
        missing = not_recorded(case.entries, SIGNS_WITH_DROP) if fell and not signs else []
        if not missing:
            return case.not_met(found)
        found = replace(found, missing=tuple(missing))
        return case.undecided(found, f"{joined(missing)} not recorded")
    cited = [*case.rows.readings, *(sign.entry for sign in signs if fell)]
    rows = [entry for entry in case.entries if entry in cited]
    against = (case if without_signs else drop).against("percent_at_or_under")
    best = case.rows.best
    return case.met(found, Seen(found.percent, against, rows, best and best.at))


def falling_trend(case: MeasuredCase) -> Verdict:
    """The trend's whole interval is under zero. Value: slope in mL a day, at the last point."""
    trend = case.measures.trend
    found = TrendFound(trend.direction, trend.low, trend.high, trend.n)
    if trend.direction is Direction.TOO_FEW:
        return case.undecided(found, "too few readings for a trend")
    if trend.direction is not Direction.FALLING:
        return case.not_met(found)
    points = {(point.at, point.volume_ml) for point in trend.points}
    rows = [
        entry
        for entry in good_readings(case.measures.stay_entries)
        if (entry.at, entry.volume_ml) in points
    ]
    return case.met(found, Seen(trend.slope_ml_per_day, case.without_limit("mL/d"), rows))


def volume_too_low(case: MeasuredCase) -> Verdict:
    """The shift's best is under a part of the reference; without a reference, under so many mL/kg.

    The reference of a patient over its oldest age is the one at that age. The weight is the one
    predicted from sex and height, else the recorded one: of somebody heavy it asks too much.
    Value and limit: a part of the reference (unit 1), or mL/kg. Undecided with neither, with fewer
    good-form readings in the shift than the limit asks for, and where only the device's scale
    keeps the best under the limit.
    """
    measures, best, rows = case.measures, case.rows.best, case.rows.readings
    reference = measures.reference or measures.oldest_reference
    weight_kg = measures.predicted_weight_kg or case.patient.weight_kg
    name, size = "ml_per_kg_under", weight_kg
    if reference is not None:
        name, size = "part_of_reference_under", reference.volume_ml
    best_ml, limit = best.volume_ml if best else None, case.limit(name)
    found = Size(
        best_ml=best_ml,
        factor=limit,
        limit_ml=None if size is None else limit * size,
        reference_ml=reference.volume_ml if reference else None,
        reference_age_y=reference.terms.age_y if reference and not measures.reference else None,
        weight_kg=None if reference else weight_kg,
        predicted=not reference and measures.predicted_weight_kg is not None,
        readings=len(rows),
    )
    if best_ml is None or len(rows) < case.limit("readings_at_or_over"):
        return case.undecided(found, "too few readings in good form in the shift")
    if size is None:
        return case.undecided(found, "neither reference volume nor weight is known")
    if best_ml / size >= limit:
        return case.not_met(found)
    if case.patient.is_at_scale(best_ml):
        return case.undecided(found, "the best is at the device's scale, and may be higher")
    cited = [row for row in rows if row.volume_ml == best_ml]
    return case.met(found, Seen(best_ml / size, case.against(name), cited, best and best.at))


AnyFall = TypeVar("AnyFall", bound=Fall)


def _compare(case: Case, kind: type[AnyFall]) -> AnyFall:
    """The two bests in a record of the given kind, or why they cannot be compared."""
    best, previous = case.rows.best, case.rows.previous_best
    best_ml = best.volume_ml if best else None
    previous_ml = previous.volume_ml if previous else None
    percent = why_not = None
    if best_ml is None:
        why_not = NO_GOOD_READING
    elif previous_ml is None:
        why_not = "no reading in good form in the 24 h before the shift"
    elif not previous_ml:
        why_not = "the best of the 24 h before the shift is 0 mL"
    else:
        percent = 100 * best_ml / previous_ml
    return kind(
        best_ml=best_ml,
        previous_best_ml=previous_ml,
        position=best and best.position and str(best.position),
        previous_position=previous and previous.position and str(previous.position),
        readings=len(case.rows.readings),
        percent=percent,
        why_not=why_not,
        best_at_scale=case.patient.is_at_scale(best_ml),
        previous_at_scale=case.patient.is_at_scale(previous_ml),
    )


VOLUME_DROP = Rule(
    "volume-drop",
    "best {percent_at_or_under} % or less of the best of the 24 h before, with "
    "{readings_at_or_over} good-form readings or more (with fewer a note)",
    volume_drop,
    about=("volume",),
)
VOLUME_DROP_WITH_SIGNS = Rule(
    "volume-drop-with-signs",
    "the fall of volume-drop with {readings_with_signs_at_or_over} good-form readings or more and "
    "low oxygen, breathing rate, fever or breathless; or {percent_at_or_under} % or less with "
    "{readings_at_or_over} readings or more",
    volume_drop_with_signs,
    replaces=(VOLUME_DROP.name,),
    about=("volume",),
)
FALLING_TREND = Rule("falling-trend", "trend falling", falling_trend, about=("volume",))
VOLUME_TOO_LOW = Rule(
    "volume-too-low",
    "best of the shift under {part_of_reference_under} of the reference; where that is not known, "
    "under {ml_per_kg_under} mL/kg of the predicted weight, else of the weight; with "
    "{readings_at_or_over} good-form readings",
    volume_too_low,
    about=("volume",),
)

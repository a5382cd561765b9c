"""Rules on the inspired volume: its fall under the usual, its trend, its size.

Input: a `Case`. Output: a `Verdict` a rule. Only good-form readings are compared with a limit;
others never raise a caution here.
"""

from collections.abc import Callable
from functools import partial
from typing import TypeVar

from msgspec.structs import replace

from handoff.judge.breathlessness import BREATHLESS
from handoff.judge.case import Case, MeasuredCase, Seen, good_readings, joined
from handoff.judge.rule import Rule
from handoff.judge.signs import (
    BREATHING_RATE,
    FEVER,
    LOW_OXYGEN,
    not_recorded,
    signs_seen,
    signs_text,
)
from handoff.limits.reading import Limits
from handoff.model.measures import Direction, Recent
from handoff.model.rounding import exact
from handoff.model.verdicts import Found, SignAt, Verdict, When
from handoff.model.ward import Entry
from handoff.model.wording import JUDGE

SIGNS_WITH_DROP = tuple(rule.name for rule in (LOW_OXYGEN, BREATHING_RATE, FEVER, BREATHLESS))


class Fall(Found):
    """The last readings of the shift in mL, the newest first, and the usual that they are compared
    with: the middle of so many `readings`. `is_early`: fewer than 3 of these are from before the
    shift.

    `line` is the line of the rule's table that is met, and `percent` the highest of the readings
    that it looks at, in per cent of the usual. Without a line it is the last reading's. `why_not`
    says why they cannot be compared. `position` is that of the last reading, in the log's words.
    Where the usual is at the device's scale (`usual_at_scale`), it may be higher.
    """

    last_ml: tuple[float, ...]
    usual_ml: float | None
    readings: int
    is_early: bool
    position: str | None
    usual_at_scale: bool = False
    line: str | None = None
    percent: float | None = None
    why_not: str | None = None

    def text(self, _: When, /) -> str:
        """`last 900, 850 mL; usual 1200 mL of 7; highest of them 75 % (line: two)`."""
        found = JUDGE.say(
            "found.fall-before" if self.is_early else "found.fall-usual",
            last=", ".join(map(exact, self.last_ml)) or JUDGE.say("any.none"),
            than=exact(self.usual_ml),
            readings=self.readings,
        )
        if self.percent is None:
            return found
        key = "found.fall-highest" if self.line else "found.fall-last"
        return JUDGE.say(key, found=found, percent=exact(self.percent), line=self.line)


class FallWithSigns(Fall):
    """A fall, and `signs`: every sign of the shift that counts beside a fall, in time order.
    `missing` are the vital signs not recorded in the shift, where a sign would be enough.
    """

    signs: tuple[SignAt, ...] = ()
    missing: tuple[str, ...] = ()

    def text(self, when: When, /) -> str:
        """The text of a fall, and the signs."""
        signs = signs_text(self.signs, when)
        return JUDGE.say("any.with-signs", found=Fall.text(self, when), signs=signs)


class TrendFound(Found):
    """The trend's direction and interval (mL a day), from `n` points."""

    direction: Direction
    low: float | None
    high: float | None
    n: int

    def text(self, _: When, /) -> str:
        """`direction falling, interval -300 to -100 mL a day`."""
        if self.low is None:
            return JUDGE.say("found.points", direction=self.direction, points=self.n)
        low, high = exact(self.low), exact(self.high)
        return JUDGE.say("found.interval", direction=self.direction, low=low, high=high)


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
        best = JUDGE.say("found.best", best=exact(self.best_ml), readings=self.readings)
        if self.limit_ml is None:
            return JUDGE.say("found.no-size", best=best)
        of_age = "found.reference" if self.reference_age_y is None else "found.reference-at"
        of_weight = "found.predicted" if self.predicted else "found.weight"
        return JUDGE.say(
            of_weight if self.reference_ml is None else of_age,
            best=best,
            factor=exact(self.factor),
            size=exact(self.weight_kg if self.reference_ml is None else self.reference_ml),
            age=exact(self.reference_age_y),
            limit=exact(self.limit_ml),
        )


def volume_drop(case: Case) -> Verdict:
    """The last one, two or three readings are all so far under the usual. Value: the highest of
    them in per cent of it.

    Met at the rule's milder level where one reading alone is low, which is common. Early in a stay
    only the line of one reading is asked. Cites the readings that the line looks at.
    """
    found = _compare(case, Fall)
    lines = ("one",) if found.is_early else ("one", "two", "three", "alone")
    line = next((each for each in lines if _is_under(case, found, each)), None)
    if line is None:
        return case.undecided(found, found.why_not) if found.why_not else case.not_met(found)
    found, rows = _of_line(case, found, line)
    level = case.limits.rules[case.rule].milder_level if line == "alone" else None
    against = case.against(f"{line}_percent_at_or_under")
    return case.met(found, Seen(found.percent, against, rows, rows[-1].at), level)


def volume_drop_with_signs(case: Case) -> Verdict:
    """The last two readings are far under the usual; or the last one is under it, beside a sign.

    Undecided where a sign would be enough, none is seen, and a vital sign is not recorded in the
    shift.
    """
    found = _compare(case, FallWithSigns)
    signs = signs_seen(case, SIGNS_WITH_DROP)
    found = replace(found, signs=tuple(sign.at for sign in signs))
    beside = _is_under(case, found, "sign")
    line = "deep" if not found.is_early and _is_under(case, found, "deep") else None
    if line is None and not (beside and signs):
        missing = not_recorded(case.entries, SIGNS_WITH_DROP) if beside else []
        if missing:
            found = replace(found, missing=tuple(missing))
            return case.undecided(found, JUDGE.say("any.not-recorded", sign=joined(missing)))
        return case.undecided(found, found.why_not) if found.why_not else case.not_met(found)
    found, rows = _of_line(case, found, line or "sign")
    against = case.against(f"{found.line}_percent_at_or_under")
    cited = [*rows, *(sign.entry for sign in signs)]
    known = (*case.rows.before, *case.entries)
    ordered = [entry for entry in known if entry in cited]
    return case.met(found, Seen(found.percent, against, ordered, rows[-1].at))


def falling_trend(case: MeasuredCase) -> Verdict:
    """The trend's whole interval is under zero. Value: slope in mL a day, at the last point."""
    trend = case.measures.trend
    found = TrendFound(trend.direction, trend.low, trend.high, trend.n)
    if trend.direction is Direction.TOO_FEW:
        return case.undecided(found, JUDGE.say("why.few-for-trend"))
    if trend.direction is not Direction.FALLING:
        return case.not_met(found)
    rows = [point.entry for point in trend.points]
    return case.met(found, Seen(trend.slope_ml_per_day, case.without_limit("mL/d"), rows))


def volume_too_low(case: MeasuredCase) -> Verdict:
    """The shift's best is under a part of the reference; without a reference, under so many mL/kg.

    The reference of a patient over its oldest age is the one at that age. The weight is the one
    predicted from sex and height, else the recorded one: of somebody heavy it asks too much.
    Value and limit: a part of the reference (unit 1), or mL/kg. Undecided with neither, with fewer
    good-form readings in the shift than the limit asks for, and where only the device's scale
    keeps the best under the limit.
    """
    measures, best = case.measures, case.measures.volume.best
    rows = good_readings(measures.shift_entries)
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
        return case.undecided(found, JUDGE.say("why.few-readings"))
    if size is None:
        return case.undecided(found, JUDGE.say("why.no-size"))
    if best_ml / size >= limit:
        return case.not_met(found)
    if case.patient.is_at_scale(best_ml):
        return case.undecided(found, JUDGE.say("why.at-scale"))
    cited = [row for row in rows if row.volume_ml == best_ml]
    return case.met(
        found, Seen(best_ml / size, case.against(name), cited, best.at if best else None)
    )


AnyFall = TypeVar("AnyFall", bound=Fall)

# How many of the last readings a line of the two tables looks at: all of them must be low.
LOOKS_AT = {"one": 1, "two": 2, "three": 3, "alone": 1, "deep": 2, "sign": 1}


def _compare(case: Case, kind: type[AnyFall]) -> AnyFall:
    """The last readings and the usual in a record of the given kind, or why they cannot be
    compared in full.
    """
    recent, why_not = case.rows.recent, None
    last = recent.last
    is_early = recent.usual_ml is None
    if not last:
        why_not = JUDGE.say("why.no-good-reading")
    elif is_early:
        why_not = JUDGE.say("why.no-usual")
    elif not recent.usual_ml:
        why_not = JUDGE.say("why.usual-0")
    usual_ml = recent.compared_ml
    return kind(
        last_ml=tuple(each.volume_ml or 0 for each in last),
        usual_ml=usual_ml,
        readings=len(recent.compared),
        is_early=is_early,
        position=str(last[0].position) if last and last[0].position else None,
        percent=100 * (last[0].volume_ml or 0) / usual_ml if last and usual_ml else None,
        why_not=why_not,
        usual_at_scale=case.patient.is_at_scale(usual_ml),
    )


def _is_under(case: Case, found: Fall, line: str) -> bool:
    """Whether all readings that a line looks at are at or under its share of the usual, and so many
    mL under it.
    """
    looked = found.last_ml[: LOOKS_AT[line]]
    if not found.usual_ml or len(looked) < LOOKS_AT[line]:
        return False
    return _is_so_low(case.limit, line, max(looked), found.usual_ml)


def _is_so_low(limit: Callable[[str], float], line: str, volume_ml: float, usual_ml: float) -> bool:
    """Whether a volume is under the usual by both limits of a line."""
    share = 100 * volume_ml <= limit(f"{line}_percent_at_or_under") * usual_ml
    return share and usual_ml - volume_ml >= limit(f"{line}_ml_under_at_or_over")


def _of_line(case: Case, found: AnyFall, line: str) -> tuple[AnyFall, list[Entry]]:
    """The record of the line that is met, and the rows that it looks at, in time order."""
    last_ml, rows = found.last_ml[: LOOKS_AT[line]], case.rows.recent.last[: LOOKS_AT[line]]
    percent = 100 * max(last_ml) / (found.usual_ml or 1)
    found = replace(found, line=line, percent=percent, last_ml=last_ml, why_not=None)
    return found, list(reversed(rows))


VOLUME_DROP = Rule(
    "volume-drop",
    volume_drop,
    about=("volume",),
)
VOLUME_DROP_WITH_SIGNS = Rule(
    "volume-drop-with-signs",
    volume_drop_with_signs,
    replaces=(VOLUME_DROP.name,),
    about=("volume",),
)
FALLING_TREND = Rule("falling-trend", falling_trend, about=("volume",))
VOLUME_TOO_LOW = Rule(
    "volume-too-low",
    volume_too_low,
    about=("volume",),
)


def usual_over(reading: Entry, recent: Recent, limits: Limits) -> float | None:
    """The usual volume in mL, where a reading alone is low against it, by the limits of the line
    `alone`. None where it is not, or the usual is not known, or the unit does not ask.
    """
    usual_ml, volume_ml = recent.usual_ml, reading.volume_ml
    if not usual_ml or volume_ml is None or not limits.is_on(VOLUME_DROP.name):
        return None
    limit = partial(limits.value, VOLUME_DROP.name)
    return usual_ml if _is_so_low(limit, "alone", volume_ml, usual_ml) else None

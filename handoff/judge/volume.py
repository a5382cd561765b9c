"""Rules on the inspired volume: its fall since the shift before, its trend, its size.

Input: a `Case`. Output: a `Verdict` a rule. Only good-form readings are held against a limit: an
off-form one never raises a caution here.
"""

from dataclasses import dataclass

from handoff.judge.case import NO_GOOD_READING, Case, MeasuredCase, Seen, good_readings, listed
from handoff.judge.signs import not_recorded, signs_seen
from handoff.model.measures import Direction
from handoff.model.verdicts import Verdict
from handoff.model.ward import Entry

DROP = "volume-drop"
SIGNS_WITH_DROP = ("low-oxygen", "breathing-rate", "fever", "breathless")


@dataclass(frozen=True, slots=True)
class Comparison:
    """The shift's best and the best of the 24 h before it, in mL, with the entries behind them."""

    best: Entry
    best_ml: float
    previous: Entry
    previous_ml: float
    readings: tuple[Entry, ...]

    @property
    def percent(self) -> float:
        """The best in per cent of the previous best, which is above 0 mL."""
        return 100 * self.best_ml / self.previous_ml

    @property
    def detail(self) -> dict[str, object]:
        """What the words of both rules on a fall need; see `volume_drop`."""
        return {
            "percent": self.percent,
            "readings": len(self.readings),
            "best_ml": self.best_ml,
            "previous_best_ml": self.previous_ml,
            "position": self.best.position and str(self.best.position),
            "previous_position": self.previous.position and str(self.previous.position),
        }


def volume_drop(case: Case) -> Verdict:
    """Best of the shift at or under so many per cent of the best of the 24 h before it.

    Met at the rule's milder level when the shift has fewer readings than the limit asks for: one
    poor reading is common. Cites every good-form reading of the shift, at the best one's time.

    Detail: `percent`, `readings` (good-form, of the shift), `best_ml`, `previous_best_ml`,
    `position`, `previous_position` (of these two readings, in the log's words, or None).
    """
    compared = _compare(case)
    if isinstance(compared, str):
        return case.undecided(compared)
    if compared.percent > case.limit("percent_at_or_under"):
        return case.not_met()
    enough = len(compared.readings) >= case.limit("readings_at_or_over")
    seen = Seen(
        compared.percent,
        case.against("percent_at_or_under"),
        compared.readings,
        compared.best.at,
        compared.detail,
    )
    return case.met(seen, None if enough else case.limits.rules[case.rule].milder_level)


def volume_drop_with_signs(case: Case) -> Verdict:
    """The fall of `volume-drop` in a shift with a sign in it; or a deeper one, without a sign.

    The limit is the deeper one where that is met, else that of `volume-drop`. Undecided when there
    is a fall and no sign is seen, but a vital sign is recorded nowhere in the shift.

    Detail: as `volume_drop`; `signs`: (rule, what was seen, at) of each sign, in time order. When
    undecided for want of them, `missing` (the vital signs).
    """
    compared = _compare(case)
    if isinstance(compared, str):
        return case.undecided(compared)
    readings = len(compared.readings)
    deep = compared.percent <= case.limit("percent_at_or_under")
    alone = deep and readings >= case.limit("readings_at_or_over")
    fell = compared.percent <= case.of(DROP).limit("percent_at_or_under")
    signs = signs_seen(case, SIGNS_WITH_DROP) if fell else []
    beside_signs = signs and readings >= case.limit("readings_with_signs_at_or_over")
    if not alone and not beside_signs:
        return _without_signs(case) if fell and not signs else case.not_met()
    cited = [*compared.readings, *(sign.entry for sign in signs)]
    return case.met(
        Seen(
            compared.percent,
            (case if alone else case.of(DROP)).against("percent_at_or_under"),
            [entry for entry in case.entries if entry in cited],
            compared.best.at,
            {**compared.detail, "signs": [sign.detail for sign in signs]},
        )
    )


def falling_trend(case: MeasuredCase) -> Verdict:
    """The trend's whole interval is under zero. Value: slope in mL a day, at the last point.

    Detail: `low`, `high` (of the interval, mL a day), `n` (points), `span_h`.
    """
    trend = case.measures.trend
    if trend.direction is Direction.TOO_FEW:
        return case.undecided("too few readings for a trend")
    if trend.direction is not Direction.FALLING:
        return case.not_met()
    points = {(point.at, point.volume_ml) for point in trend.points}
    rows = [
        entry
        for entry in good_readings(case.measures.stay_entries)
        if (entry.at, entry.volume_ml) in points
    ]
    detail = {"low": trend.low, "high": trend.high, "n": trend.n, "span_h": trend.span_h}
    return case.met(Seen(trend.slope_ml_per_day, case.without_limit("mL/d"), rows, detail=detail))


def volume_too_low(case: MeasuredCase) -> Verdict:
    """Best of the stay under a part of the reference; where that is not known, under so many mL/kg.

    Value and limit: a part of the reference (unit 1), or mL/kg. Undecided with neither reference
    nor weight, and with fewer good-form readings in the stay than the limit asks for.

    Detail: `best_ml`, `limit_ml` (the same two in mL), `reference_ml` or None, `weight_kg` or None
    (only the one that was used), `readings` (good-form, of the stay).
    """
    best = case.measures.volume.stay_best_ml
    rows = good_readings(case.measures.stay_entries)
    if best is None or len(rows) < case.limit("readings_at_or_over"):
        return case.undecided("too few readings in good form in the stay")
    name, size = _body_size(case)
    if size is None:
        return case.undecided("neither reference volume nor weight is known")
    if best / size >= case.limit(name):
        return case.not_met()
    by_weight = name == "ml_per_kg_under"
    return case.met(
        Seen(
            best / size,
            case.against(name),
            [row for row in rows if row.volume_ml == best],
            case.measures.volume.stay_best_at,
            {
                "best_ml": best,
                "limit_ml": case.limit(name) * size,
                "reference_ml": None if by_weight else size,
                "weight_kg": size if by_weight else None,
                "readings": len(rows),
            },
        )
    )


def _compare(case: Case) -> Comparison | str:
    """The two bests, or why they cannot be compared."""
    best, previous = case.rows.best, case.rows.previous_best
    if best is None or best.volume_ml is None:
        return NO_GOOD_READING
    if previous is None or previous.volume_ml is None:
        return "no reading in good form in the 24 h before the shift"
    if not previous.volume_ml:
        return "the best of the 24 h before the shift is 0 mL"
    return Comparison(best, best.volume_ml, previous, previous.volume_ml, case.rows.readings)


def _without_signs(case: Case) -> Verdict:
    missing = not_recorded(case.entries, SIGNS_WITH_DROP)
    if not missing:
        return case.not_met()
    return case.undecided(f"{listed(missing)} not recorded", missing=missing)


def _body_size(case: MeasuredCase) -> tuple[str, float | None]:
    """The limit to use, and what it is a part of: the reference in mL, else the weight in kg."""
    if case.measures.reference is not None:
        return "part_of_reference_under", case.measures.reference.volume_ml
    return "ml_per_kg_under", case.patient.weight_kg

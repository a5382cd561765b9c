"""Vital signs and the limits in force for one patient: the order's own, else the unit's.

Input: an order, limits, one entry's signs. Output: `Bound`s, and which of them a value is beyond.
Gives no verdict.
"""

from collections.abc import Iterable, Iterator, Mapping
from types import MappingProxyType

from msgspec.structs import replace

from handoff.judge.case import Against, Case
from handoff.limits.reading import Limits
from handoff.model.frozen import Frozen
from handoff.model.verdicts import Level
from handoff.model.ward import Entry, Order, Signs
from handoff.model.wording import JUDGE


class Bound(Frozen):
    """One side of a vital sign's limit, met by values under it (`low`) or over it; if `inclusive`,
    also by the limit itself.

    `ordered`: it is the order's own, and replaces the unit's at the same level. `stricter_than` is
    that limit of the unit, where the order's own is met by values that do not meet it. `of_adults`:
    the patient is a child, and the limit one of adults.
    """

    limit: float
    against: Against
    low: bool
    inclusive: bool
    level: Level
    ordered: bool = False
    stricter_than: float | None = None
    of_adults: bool = False

    def excess(self, value: float) -> float:
        """How far `value` is beyond the limit, in its own unit; negative within it."""
        return self.limit - value if self.low else value - self.limit

    def met_by(self, value: float) -> bool:
        """True when `value` is beyond the limit, or at an inclusive one."""
        excess = self.excess(value)
        return excess > 0 or (self.inclusive and excess == 0)


class Vital(Frozen):
    """A vital sign, or pain, of one rule: its name and unit, and its field in `Signs`.

    `low` and `high` name the rule's limits, the milder one first; `ordered_low` and `ordered_high`
    the order's own, which replace them. `step` is the least difference that is charted. A value
    worse by at least `worse_by` needs a new `told` row (common practice).
    """

    name: str
    unit: str
    field: str
    worse_by: float
    step: float = 1
    low: tuple[str, ...] = ()
    high: tuple[str, ...] = ()
    ordered_low: str = ""
    ordered_high: str = ""

    def value(self, signs: Signs) -> float | None:
        """What an entry records of it."""
        value: float | None = getattr(signs, self.field)
        return value

    def recorded(self, entries: Iterable[Entry]) -> list[tuple[float, Entry]]:
        """Its values, each with the entry that records it."""
        valued = [(self.value(entry.signs), entry) for entry in entries]
        return [(value, entry) for value, entry in valued if value is not None]


PAIN = "pain-again"  # the rule whose limit is that of strong pain

VITALS: Mapping[str, Vital] = MappingProxyType(
    {
        "low-oxygen": Vital(
            *("SpO2", "%", "spo2", 2), low=("spo2_at_or_under",), ordered_low="spo2_min"
        ),
        "high-oxygen": Vital(
            *("SpO2", "%", "spo2", 2), high=("spo2_at_or_over",), ordered_high="spo2_max"
        ),
        "breathing-rate": Vital(
            *("breathing rate", "/min", "resp_rate", 5),
            low=("resp_rate_at_or_under",),
            high=("resp_rate_at_or_over",),
            ordered_low="resp_rate_min",
            ordered_high="resp_rate_max",
        ),
        "pulse": Vital(
            *("pulse", "/min", "pulse", 5),
            low=("pulse_at_or_under",),
            high=("pulse_at_or_over",),
            ordered_low="pulse_min",
            ordered_high="pulse_max",
        ),
        "low-temperature": Vital(
            *("temperature", "°C", "temp_c", 0.5, 0.1), low=("temp_c_at_or_under",)
        ),
        "fever": Vital(
            *("temperature", "°C", "temp_c", 0.5, 0.1),
            high=("temp_c_at_or_over", "high_temp_c_at_or_over"),
            ordered_high="temp_max",
        ),
        PAIN: Vital("pain", "of 10", "pain", 2, high=("pain_at_or_over",)),
    }
)
ON_OXYGEN = "high-oxygen"  # the one vital sign that is beyond its limit only on oxygen
# Rules whose upper limit is one of adults: a healthy child may well be over it (common practice).
HIGHER_IN_CHILDREN = frozenset({"breathing-rate", "pulse"})


def bounds_in_force(
    rule: str, order: Order, limits: Limits, *, is_child: bool = False
) -> tuple[Bound, ...]:
    """The limits of one vital sign, by the name of its rule in `VITALS`, for one patient.

    The order's own limit of a side replaces those of the unit on that side, and is met beyond it,
    not at it. `is_child`: the patient is a child in this shift.
    """
    if rule == ON_OXYGEN:
        return tuple(_bounds_on_oxygen(order, limits))
    vital = VITALS[rule]
    sides = ((True, vital.low, vital.ordered_low), (False, vital.high, vital.ordered_high))
    bounds: list[Bound] = []
    for low, names, ordered_name in sides:
        levels = _levels(rule, limits, len(names))
        of_unit = [
            Bound(
                limit=limits.value(rule, name),
                against=Against(
                    limits.value(rule, name),
                    limits.limit(rule, name).unit,
                    limits.cited(rule, name),
                ),
                low=low,
                inclusive=True,
                level=level,
                of_adults=is_child and not low and rule in HIGHER_IN_CHILDREN,
            )
            for name, level in zip(names, levels, strict=True)
        ]
        ordered: float | None = getattr(order, ordered_name) if ordered_name else None
        own = [] if ordered is None else [_ordered(ordered, of_unit[-1], vital.step)]
        if ordered_name in order.disputed_limits:  # it is never looser than the unit's
            own = [bound for bound in own if bound.stricter_than is not None]
        bounds += own or of_unit
    return tuple(bounds)


def _bounds_on_oxygen(order: Order, limits: Limits) -> Iterator[Bound]:
    """The limits of an SpO2 that is too high on oxygen: none without an upper limit.

    With a lower limit that is usual only where high oxygen is a danger, that of the published
    target range stands in for an upper one.
    """
    target = limits.value(ON_OXYGEN, "spo2_max_at_or_under")
    upper, low = order.spo2_max, order.spo2_min
    against = Against(upper, "%", JUDGE.say("source.order"))
    if upper is None:
        if low is None or low > limits.value(ON_OXYGEN, "spo2_min_at_or_under"):
            return
        upper = target
        against = Against(upper, "%", limits.cited(ON_OXYGEN, "spo2_max_at_or_under"))
    is_ordered = order.spo2_max is not None
    yield Bound(
        upper, against, low=False, inclusive=False, level=Level.FOLLOW_UP, ordered=is_ordered
    )
    if upper <= target:
        limit = limits.value(ON_OXYGEN, "spo2_at_or_over")
        grave = Against(limit, "%", limits.cited(ON_OXYGEN, "spo2_at_or_over"))
        yield Bound(limit, grave, low=False, inclusive=True, level=Level.ESCALATE)


def _levels(rule: str, limits: Limits, count: int) -> list[Level]:
    """The level of each limit of one side, the milder first."""
    own = limits.rules[rule]
    return [Level(own.milder_level or own.level), Level(own.level)][-count:] if count else []


def _ordered(limit: float, of_unit: Bound, step: float) -> Bound:
    """The order's own limit, at the level of the unit's gravest one, which it replaces."""
    least_met = limit - step if of_unit.low else limit + step
    stricter = round(of_unit.excess(least_met), 6) < 0
    return replace(
        of_unit,
        limit=limit,
        against=Against(limit, of_unit.against.unit, JUDGE.say("source.order")),
        inclusive=False,
        ordered=True,
        stricter_than=of_unit.limit if stricter else None,
        of_adults=False,
    )


def beyond(case: Case, signs: Signs) -> list[tuple[float, Bound]]:
    """The value of the case's vital sign with each limit that it is beyond; empty within
    all limits. A high SpO2 is beyond its limit only on oxygen.
    """
    value = VITALS[case.rule].value(signs)
    if value is None or (case.rule == ON_OXYGEN and not signs.on_oxygen):
        return []
    return [(value, bound) for bound in bounds_of(case) if bound.met_by(value)]


def bounds_of(case: Case) -> tuple[Bound, ...]:
    """The limits of the case's vital sign, by its order."""
    key = case.rule, case.order.start
    if key not in case.in_force:
        case.in_force[key] = bounds_in_force(
            case.rule, case.order, case.limits, is_child=case.rows.is_child
        )
    return case.in_force[key]

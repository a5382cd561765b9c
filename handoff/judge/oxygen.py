"""Rules on the oxygen that is given: an SpO2 too high on it, and oxygen that is new.

Input: a `Case`. Output: a `Verdict` a rule. Never says how much oxygen to give.
"""

from datetime import datetime, timedelta

from msgspec.structs import replace

from handoff.judge.case import Case, Seen
from handoff.judge.rule import Rule
from handoff.judge.signs import (
    BREATHING_RATE,
    DROWSY_OR_CONFUSED,
    LatestValue,
    Sign,
    VitalFound,
    ordered_text,
    signs_seen,
)
from handoff.judge.vitals import ON_OXYGEN, VITALS, beyond, bounds_of
from handoff.model.verdicts import Found, Level, SignAt, Verdict, When
from handoff.model.ward import Entry
from handoff.model.wording import JUDGE


class HighOxygen(VitalFound):
    """SpO2 with the upper limit in force on oxygen (`upper`, None without one), in per cent.
    `upper_ordered`: it is the order's own. `signs` are the grave signs near a value over it.
    `is_over` is false once the last SpO2 is not over the limit, or the patient was seen on air:
    oxygen is not to be turned down then. `air_at` is when, if after the last SpO2.
    """

    upper: float | None = None
    upper_ordered: bool = False
    lower: float | None = None
    signs: tuple[SignAt, ...] = ()
    is_over: bool = True
    air_at: datetime | None = None

    def text(self, when: When, /) -> str:
        """`SpO2 95 in 1 row; on oxygen at most 92 %`."""
        key = "found.no-upper" if self.upper is None else "found.oxygen"
        return JUDGE.say(key, found=VitalFound.text(self, when), upper=self.upper)


class NewOxygen(Found):
    """When oxygen was first charted after air, and the last row on air before; `oxygen` is the
    latest amount, as written. All None where oxygen is not new.
    """

    since: datetime | None
    air_at: datetime | None
    oxygen: str | None

    def text(self, when: When, /) -> str:
        """`on oxygen since 2026-05-12 10:00, on air at 2026-05-12 08:00`."""
        if self.since is None or self.air_at is None:
            return JUDGE.say("found.no-new-oxygen")
        return JUDGE.say("found.new-oxygen", since=when(self.since), air_at=when(self.air_at))


def high_oxygen(case: Case) -> Verdict:
    """On oxygen, with an SpO2 over the upper limit: at the milder level. At the graver one where
    the SpO2 is far too high, or a grave sign was seen within so many minutes of it, also before
    the shift.

    Value: the highest SpO2, the latest of equals. Undecided where SpO2 is not recorded; and where
    it is over the limit and nobody wrote whether on oxygen.
    """
    vital = VITALS[case.rule]
    recorded = vital.recorded(case.entries)
    values = tuple(value for value, _ in recorded)
    found = _with_upper(HighOxygen(vital.name, values, ordered_text(case)), case)
    over = [entry for entry in case.entries if beyond(case.at(entry), entry.signs)]
    if not over and found.upper is None:
        return case.not_met(found)
    pairs = _beside_grave_signs(case) if case.entries else []
    far_over = [
        row
        for row in over
        if any(bound.level is Level.ESCALATE for _, bound in beyond(case.at(row), row.signs))
    ]
    high = [*far_over, *(row for row, _ in pairs)] or over
    if not high and not recorded:
        found = replace(found, missing=(vital.name,))
        return case.undecided(found, JUDGE.say("any.not-recorded", sign=vital.name))
    if not high:
        unknown = any(
            row.signs.on_oxygen is None and beyond(case.at(row), replace(row.signs, on_oxygen=True))
            for _, row in recorded
        )
        why = JUDGE.say("why.oxygen")
        return case.undecided(found, why) if unknown else case.not_met(found)
    worst = max(high, key=lambda row: (row.signs.spo2 or 0, row.at))
    value, bound = beyond(case.at(worst), worst.signs)[-1]
    last_value, last = vital.recorded([worst, *case.entries])[-1]
    latest = LatestValue(last_value, last.at, last.signs.on_oxygen, last.signs.oxygen)
    says = [row for row in (worst, *case.entries) if row.signs.on_oxygen is not None][-1]
    if_on_oxygen = replace(last.signs, on_oxygen=True)  # a row that does not say counts as before
    found = replace(
        _with_upper(found, case.at(worst)),
        bound=bound,
        on_oxygen=worst.signs.on_oxygen,
        oxygen=worst.signs.oxygen,
        latest=latest if last.at > worst.at else None,
        signs=tuple(dict.fromkeys(sign.at for _, sign in pairs)),
        is_over=bool(says.signs.on_oxygen and beyond(case.at(last), if_on_oxygen)),
        air_at=says.at if not says.signs.on_oxygen and says.at > last.at else None,
    )
    cited = [*high, *(sign.entry for _, sign in pairs)]
    known = {(row.place, row.at): row for row in (*case.rows.before, *case.entries)}
    rows = [row for row in known.values() if row in cited]
    level = Level.ESCALATE if far_over or pairs else Level.FOLLOW_UP
    return case.met(found, Seen(value, bound.against, rows, worst.at), level)


def _with_upper(found: HighOxygen, case: Case) -> HighOxygen:
    """What was found, with the upper limit of the case's order, where it has one."""
    for upper in bounds_of(case)[:1]:
        lower = case.order.spo2_min
        return replace(found, upper=upper.limit, upper_ordered=upper.ordered, lower=lower)
    return found


def _beside_grave_signs(case: Case) -> list[tuple[Entry, Sign]]:
    """The rows with an SpO2 over its limit, each with the grave signs near it; one of the two at
    least is of the shift.
    """
    within = timedelta(minutes=case.limit("minutes_at_or_under"))
    near, start = case.looking_back(within), case.entries[0].at
    slow = near.of(BREATHING_RATE.name)

    def is_slow(row: Entry) -> bool:
        return any(bound.low for _, bound in beyond(slow.at(row), row.signs))

    signs = [
        sign
        for sign in signs_seen(near, (BREATHING_RATE.name, DROWSY_OR_CONFUSED.name))
        if sign.rule != slow.rule or is_slow(sign.entry)
    ]
    return [
        (row, sign)
        for row in near.entries
        if beyond(case.at(row), row.signs)
        for sign in signs
        if abs(row.at - sign.entry.at) <= within and max(row.at, sign.entry.at) >= start
    ]


def new_oxygen(case: Case) -> Verdict:
    """On oxygen now, and on air at the last earlier row that says. Value: the amount, as written.

    Met in the shift in which it was first charted. A row that does not say counts for nothing.
    """
    says = [row for row in case.rows.before if row.signs.on_oxygen is not None]
    says += [row for row in case.entries if row.signs.on_oxygen is not None]
    on_air = [number for number, row in enumerate(says) if not row.signs.on_oxygen]
    since = says[on_air[-1] + 1 :] if on_air else []
    if not since or since[0].at < case.entries[0].at:
        return case.not_met(NewOxygen(None, None, None))
    amounts = [row.signs.oxygen for row in since if row.signs.oxygen]
    oxygen = amounts[-1] if amounts else None
    found = NewOxygen(since[0].at, says[on_air[-1]].at, oxygen)
    seen = Seen(oxygen, case.without_limit(), since[:1], since[0].at)
    return case.met(found, seen)


HIGH_OXYGEN = Rule(
    ON_OXYGEN,
    high_oxygen,
    about=("oxygen",),
)
NEW_OXYGEN = Rule(
    "new-oxygen",
    new_oxygen,
    about=("oxygen",),
)

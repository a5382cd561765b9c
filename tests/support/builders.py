"""Small invented hand-overs for the tests, with times as short texts on the unit's clock.

`patient(...)`, `order(...)`, `entry(...)` and `set_aside(...)` make records, `handover(...)` puts
them together; everything left out has a plain default that raises as few cautions as it can. The
shift is a day shift, 07:00 to 19:00, without quiet hours.
"""

from collections.abc import Mapping
from datetime import UTC, date, datetime, timedelta
from fractions import Fraction
from functools import cache
from typing import Any
from zoneinfo import ZoneInfo

from msgspec.structs import asdict, replace

from handoff.judge import judge
from handoff.judge.signs import reads
from handoff.limits.reading import UNIT_MARK, Limit, Limits, load_limits
from handoff.measure import measure
from handoff.model.findings import Finding, Place, Severity
from handoff.model.matters import Verdicts
from handoff.model.measures import Measures
from handoff.model.verdicts import Verdict
from handoff.model.ward import (
    Counts,
    Entry,
    Flow,
    Handover,
    Order,
    Patient,
    Position,
    SetAside,
    Shift,
    Signs,
    Symptom,
    Unit,
    What,
)

FILE = "day.yaml"
ZONE = ZoneInfo("America/Halifax")
DAY = date(2026, 5, 12)
UNIT = Unit("Harbour 3 East", ZONE, quiet_hours=None)

# Who approved a unit's own limits.
APPROVED: Mapping[str, Any] = {
    "file": "unit.yaml",
    "approved_by": "Dr T. Quill",
    "approved_on": date(2026, 3, 1),
}
SIGNS = ("pain", "spo2", "resp_rate", "pulse", "temp_c", "on_oxygen", "oxygen")


def at(clock: str) -> datetime:
    """The instant of `10:30` on the shift's day, of `-1 10:30` the day before, `+1` the day after.

    A whole date and time (`2026-05-12 10:30`) is itself.
    """
    day, _, time = clock.rpartition(" ")
    on = date.fromisoformat(day) if len(day) > len("-10") else DAY + timedelta(days=int(day or 0))
    local = datetime.fromisoformat(f"{on} {time}").replace(tzinfo=ZONE)
    return local.astimezone(UTC)


SHIFT = Shift(at("07:00"), at("19:00"), name="day")
SHIFT_BEFORE = Shift(at("-1 19:00"), at("07:00"), name="night")


def order(start: str = "07:00", stop: str | None = None, **fields: Any) -> Order:
    """An order from the shift's start; `fields` are further fields of `Order`."""
    return Order(start=at(start), stop=at(stop) if stop else None, **fields)


def patient(**fields: Any) -> Patient:
    """One patient, ordered, with everything set up; `fields` stand in for the defaults."""
    set_up = Patient(
        id="10442",
        name="Larkspur, Odile",
        born=date(1958, 4, 2),
        bed="12A",
        place=Place(FILE, 1000),
        order=order(goal_ml=2000),
        device_given=True,
        device_labelled=True,
        device_scale_ml=4000,
        taught=True,
        shown_back=True,
    )
    return replace(set_up, **fields)


def signs(symptoms: str = "", /, **vital_signs: Any) -> Signs:
    """Symptoms in the log's words, separated by a space, and vital signs by field name."""
    return Signs(frozenset(Symptom(word) for word in symptoms.split()), **vital_signs)


def entry(clock: str, symptoms: str = "", /, **fields: Any) -> Entry:
    """One entry of the patient; an exercise of 10 breaths unless `fields` say otherwise.

    `fields` are those of the log: `what`, `until`, `flow` and `position` as text, signs by name.
    """
    what = What(fields.pop("what", "exercise"))
    until, flow, position = (fields.pop(name, None) for name in ("until", "flow", "position"))
    seen = {name: fields.pop(name) for name in SIGNS if name in fields}
    if what is What.EXERCISE:
        fields.setdefault("breaths", 10)
    return Entry(
        patient_id=fields.pop("patient_id", "10442"),
        at=at(clock),
        place=Place(FILE),
        until=at(until) if until else None,
        what=what,
        flow=Flow(flow) if flow else None,
        position=Position(position) if position else None,
        signs=signs(symptoms, **seen),
        **fields,
    )


def set_aside(clock: str | None = None, symptoms: str = "", /, **fields: Any) -> SetAside:
    """A row that takes no part, with the signs that could be read of it."""
    place = Place(FILE, fields.pop("line", 900))
    patient_id = fields.pop("patient_id", "10442")
    reason = Finding(Severity.ERROR, "bad-time", place, "this is not a time.", "Write a time.")
    when = at(clock) if clock else None
    return SetAside(place, reason, {}, patient_id, when, signs(symptoms, **fields))


def handover(
    *entries: Entry,
    patients: tuple[Patient, ...] = (),
    set_aside: tuple[SetAside, ...] = (),
    as_of: str | None = None,
    stay_start: str | None = None,
    **fields: Any,
) -> Handover:
    """The day shift of one patient (or of `patients`); entries are lines 1, 2, ... of the log.

    `as_of` is the shift's end, and stays start with their order, unless times are given. `fields`
    stand in for the defaults.
    """
    shift = fields.get("shift", SHIFT)
    listed = patients or (patient(),)
    numbered = [replace(each, place=Place(FILE, line)) for line, each in enumerate(entries, 1)]
    numbered.sort(key=lambda each: each.at)
    read = len(entries) + len(set_aside)
    made = Handover(
        unit=UNIT,
        shift=shift,
        as_of=at(as_of) if as_of else shift.end,
        patients=listed,
        entries={
            each.id: tuple(row for row in numbered if row.patient_id == each.id) for each in listed
        },
        stay_start={
            each.id: at(stay_start) if stay_start else each.order.start
            for each in listed
            if each.order is not None
        },
        shifts=(SHIFT_BEFORE, shift),
        counts=Counts(read=read, used=len(entries), set_aside=len(set_aside)),
        set_aside=set_aside,
    )
    return replace(made, **fields)


def measured(given: Handover) -> Measures:
    """The measures of the hand-over's first patient."""
    return measure(given)[given.patients[0].id]


@cache
def default_limits() -> Limits:
    """The limits as they ship, read once."""
    limits, findings = load_limits()
    assert limits is not None, findings
    return limits


def with_limit(rule: str, name: str, value: str, limits: Limits | None = None) -> Limits:
    """The default limits (or `limits`) with one of them set by the unit."""
    limits = limits or default_limits()
    own = replace(limits.limit(rule, name), value=Fraction(value), mark=UNIT_MARK)
    changed = replace(limits.rules[rule], limits={**limits.rules[rule].limits, name: own})
    return replace(limits, rules={**limits.rules, rule: changed}, **APPROVED)


def without_rules(*rules: str) -> Limits:
    """The default limits with rules switched off, which a unit can do."""
    limits = default_limits()
    assert all(limits.level(rule) != "escalate" for rule in rules)
    off = {rule: replace(limits.rules[rule], on=False) for rule in rules}
    return replace(limits, rules={**limits.rules, **off}, **APPROVED)


def all_changed() -> Limits:
    """All that a unit's file can change: every limit at the end of its range, and every rule
    without a limit switched off.
    """
    limits = default_limits()
    rules = {
        name: replace(rule, on=rule.level == "escalate" or bool(rule.limits))
        for name, rule in limits.rules.items()
    }
    for name, rule in rules.items():
        own = {
            each: replace(of, value=_far_end(of), mark=UNIT_MARK)
            for each, of in rule.limits.items()
        }
        rules[name] = replace(rule, limits=own)
    return replace(limits, rules=rules, **APPROVED)


def _far_end(limit: Limit) -> Fraction:
    return limit.at_most if limit.value == limit.at_least else limit.at_least


def judged(given: Handover, limits: Limits | None = None) -> Verdicts:
    """The verdicts on the hand-over's first patient."""
    return judge(measured(given), given, limits or default_limits())


def verdict(rule: str, given: Handover, limits: Limits | None = None) -> Verdict:
    """One rule's verdict on the hand-over's first patient."""
    return next(each for each in judged(given, limits).all if each.rule == rule)


def lines(places: tuple[Place, ...]) -> list[int | None]:
    """The lines of places, in order: what a verdict cites."""
    return [place.line for place in places]


def found(given: Verdict) -> dict[str, Any]:
    """What the rule found, by the names under which its words know it."""
    return asdict(given.found)


def signs_beside(given: Verdict) -> list[tuple[str, str, datetime]]:
    """Rule, reading and time of each sign that a verdict was met with."""
    signs = found(given)["signs"]
    return [(sign.rule, reads(sign.rule, sign.seen), sign.at) for sign in signs]

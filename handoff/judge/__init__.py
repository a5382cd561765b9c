"""Judge: what the rules say of one patient.

Enters: the patient's `Measures`, the `Handover`, the `Limits`. Leaves: `Verdicts`. Never measures,
holds no limit of its own, never says what is wrong with the patient. A patient without an order is
not judged.

A rule that the unit switched off gives no verdict. `dizziness-with-signs` and
`volume-drop-with-signs` ask for signs of other rules by those rules' limits, also where one of them
is switched off: a unit that wants no caution on a pulse alone still hears of it beside dizziness.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from types import MappingProxyType

from handoff.judge.case import Case
from handoff.judge.dizziness import dizziness_again, dizziness_with_signs, too_many_at_once
from handoff.judge.goal import goal_over_scale, goal_reached, no_goal, reading_at_scale
from handoff.judge.practice import (
    declined,
    low_adherence,
    not_charted,
    nothing_charted,
    pain_limits,
    short_hold,
    technique,
)
from handoff.judge.setting_up import (
    going_home,
    no_return_demonstration,
    not_labelled,
    not_started,
)
from handoff.judge.signs import sign_of, symptom, vital_sign
from handoff.judge.volume import (
    falling_trend,
    volume_drop,
    volume_drop_with_signs,
    volume_too_low,
)
from handoff.limits import Limits
from handoff.measures import Measures
from handoff.model import Entry, Handover, SetAside, What
from handoff.verdicts import Level, Priority, SetAsideSign, Told, Verdict, Verdicts

__all__ = ["REPLACES", "RULES", "judge"]

RULES: Mapping[str, Callable[[Case], Verdict]] = MappingProxyType(
    {
        "low-oxygen": vital_sign,
        "breathing-rate": vital_sign,
        "pulse": vital_sign,
        "low-temperature": vital_sign,
        "fever": vital_sign,
        "faint-or-chest-pain": symptom,
        "drowsy-or-confused": symptom,
        "dizziness": symptom,
        "dizziness-again": dizziness_again,
        "dizziness-with-signs": dizziness_with_signs,
        "breathless": symptom,
        "volume-drop": volume_drop,
        "volume-drop-with-signs": volume_drop_with_signs,
        "falling-trend": falling_trend,
        "volume-too-low": volume_too_low,
        "not-started": not_started,
        "nothing-charted": nothing_charted,
        "not-charted": not_charted,
        "no-return-demonstration": no_return_demonstration,
        "not-labelled": not_labelled,
        "low-adherence": low_adherence,
        "declined": declined,
        "pain-limits": pain_limits,
        "technique": technique,
        "short-hold": short_hold,
        "too-many-at-once": too_many_at_once,
        "goal-reached": goal_reached,
        "goal-over-scale": goal_over_scale,
        "reading-at-scale": reading_at_scale,
        "no-goal": no_goal,
        "going-home": going_home,
    }
)

# A graver rule that is met stands in the place of its milder twins; the gravest comes last.
REPLACES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "dizziness-again": ("dizziness",),
        "dizziness-with-signs": ("dizziness", "dizziness-again"),
        "volume-drop-with-signs": ("volume-drop",),
    }
)

# What can be read in a row set aside: the rules on one sign, without the row's time or neighbours.
READ_IN_A_ROW = (
    "low-oxygen",
    "breathing-rate",
    "pulse",
    "low-temperature",
    "faint-or-chest-pain",
    "drowsy-or-confused",
)


def judge(measures: Measures, handover: Handover, limits: Limits) -> Verdicts:
    """Every rule that is on, in order, and the priority that the met ones give."""
    case = Case("", measures, handover, limits)
    on = [name for name in RULES if limits.is_on(name)]
    verdicts = [RULES[name](case.of(name)) for name in on]
    verdicts = [_answered(verdict, case.entries) for verdict in _without_twins(verdicts)]
    return Verdicts(
        patient=measures.patient,
        priority=_priority(verdicts),
        all=tuple(verdicts),
        set_aside_signs=tuple(_set_aside_signs(case)),
    )


def _without_twins(verdicts: list[Verdict]) -> list[Verdict]:
    met = {verdict.rule for verdict in verdicts if verdict.met}
    graver = {
        milder: rule for rule, milders in REPLACES.items() if rule in met for milder in milders
    }
    return [
        replace(verdict, replaced_by=graver.get(verdict.rule)) if verdict.met else verdict
        for verdict in verdicts
    ]


def _answered(verdict: Verdict, entries: Iterable[Entry]) -> Verdict:
    """The verdict with what the provider was told at or after the last row that met it."""
    if not verdict.met or verdict.level is not Level.ESCALATE:
        return verdict
    last = max(verdict.times)
    told = (entry for entry in entries if entry.what is What.TOLD and entry.at >= last)
    return replace(verdict, told=tuple(Told(entry.at, entry.note, entry.place) for entry in told))


def _priority(verdicts: Iterable[Verdict]) -> Priority:
    levels = {verdict.level for verdict in verdicts if verdict.met}
    if Level.ESCALATE in levels:
        return Priority.ESCALATE
    return Priority.FOLLOW_UP if Level.FOLLOW_UP in levels else Priority.CONTINUE


def _set_aside_signs(case: Case) -> Iterable[SetAsideSign]:
    rules = [rule for rule in READ_IN_A_ROW if case.limits.is_on(rule)]
    for row in case.handover.set_aside:
        if row.patient_id == case.patient.id and _may_be_of_the_shift(row, case.handover):
            for rule in rules:
                seen = sign_of(case.of(rule), row.signs)
                if seen is not None:
                    yield SetAsideSign(row.place, rule, seen)


def _may_be_of_the_shift(row: SetAside, handover: Handover) -> bool:
    """False only where the row's own time says that it belongs to another shift or after `as_of`.

    A row whose time cannot be read, or that no shift covers (a mistyped date), may be of this one.
    """
    shift, at = handover.shift, row.at
    if at is None:
        return True
    if shift.start <= at < shift.end:
        return at <= handover.as_of
    return not any(other.start <= at < other.end for other in handover.shifts)

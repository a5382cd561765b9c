"""Judge: what the rules say of one patient.

Input: the patient's `Measures`, the `Handover`, the `Limits`. Output: `Verdicts`. Never measures,
never says what is wrong with the patient. A patient without an order is not judged, unless a matter
of the stay is not closed.

A rule that the unit switched off gives no verdict. `dizziness-with-signs` and
`volume-drop-with-signs` ask for signs of other rules by those rules' limits, also where one of them
is switched off: a unit that wants no caution on a pulse alone still hears of it beside dizziness.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import timedelta
from types import MappingProxyType

from handoff.judge.about import WORSE_BY, minute, names, told_of
from handoff.judge.carried import came_from_elsewhere, exercise_on_hold
from handoff.judge.case import MeasuredCase, ShiftRows, good_readings
from handoff.judge.dizziness import dizziness_again, dizziness_with_signs, too_many_at_once
from handoff.judge.goal import goal_over_scale, goal_reached, no_goal, reading_at_scale
from handoff.judge.matters import follow
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
from handoff.limits.reading import Limits
from handoff.model.matters import Matter, Verdicts
from handoff.model.measures import Measures
from handoff.model.verdicts import Level, Priority, SetAsideSign, Told, Verdict
from handoff.model.ward import BEFORE_THE_STAY, Entry, Handover, SetAside

__all__ = ["REPLACES", "RULES", "follow", "judge", "rows_of"]

RULES: Mapping[str, Callable[[MeasuredCase], Verdict]] = MappingProxyType(
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
        "exercise-on-hold": exercise_on_hold,
        "came-from-elsewhere": came_from_elsewhere,
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


FEVER_GOES_ON = timedelta(hours=24)  # after it was told: common practice


def judge(
    measures: Measures,
    handover: Handover,
    limits: Limits,
    matters: Sequence[Matter] | None = None,
) -> Verdicts:
    """Every rule that is on, in order, the stay's matters, and the priority that they give.

    `matters` are those of the patient where they were followed before.
    """
    case = MeasuredCase("", rows_of(measures), limits, measures, handover)
    on = [name for name in RULES if limits.is_on(name)]
    verdicts = [RULES[name](case.of(name)) for name in on]
    if matters is None:
        matters = follow(handover, measures.patient, limits)
    known = measures.stay_entries
    signs = list(_set_aside_signs(case))
    set_aside = [each for each in signs if not each.later]
    verdicts = [_answered(each, matters, known) for each in _without_twins(verdicts)]
    return Verdicts(
        patient=measures.patient,
        priority=_priority(verdicts, matters, asks=bool(measures.hold or set_aside)),
        all=tuple(verdicts),
        set_aside_signs=tuple(signs),
        matters=tuple(matters),
    )


def rows_of(measures: Measures) -> ShiftRows:
    """The rows of the shift that is handed over."""
    cautions = measures.caution_entries
    first = cautions[0].at if cautions else None
    return ShiftRows(
        patient=measures.patient,
        order=measures.order,
        entries=cautions,
        before=tuple(each for each in measures.stay_entries if first and each.at < first),
        readings=good_readings(measures.shift_entries),
        best=measures.volume.best,
        previous_best=measures.volume.previous_best,
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


def _answered(verdict: Verdict, matters: Sequence[Matter], known: Sequence[Entry]) -> Verdict:
    """The verdict with what the provider was told of it: what answers its matter; of what is only
    to be followed up, what names it at or after its last row.
    """
    if not verdict.met:
        return verdict
    if verdict.level is Level.ESCALATE:
        told = [each for matter in matters if matter.rule == verdict.rule for each in matter.told]
        ordered = sorted(dict.fromkeys(told), key=lambda each: each.at)
        return replace(verdict, told=tuple(ordered))
    since = max(verdict.times, default=None)
    if since is None:
        return verdict
    named = [each for each in told_of(known) if names(each, verdict.rule)]
    answers = [
        Told(each.at, each.note, each.place)
        for each in named
        if minute(each.at) >= minute(since) or _goes_on(verdict, each, known)
    ]
    return replace(verdict, told=tuple(answers))


def _goes_on(verdict: Verdict, told: Entry, known: Sequence[Entry]) -> bool:
    """Whether a fever is one that the provider was told of, not gone and not much higher since."""
    limit = verdict.limit
    if verdict.rule != "fever" or not isinstance(verdict.value, int | float):
        return False
    if not isinstance(limit, int | float):
        return False
    if verdict.at is None or not timedelta() <= verdict.at - told.at <= FEVER_GOES_ON:
        return False
    then = [each.signs.temp_c for each in known if each.at <= told.at]
    highest = max((each for each in then if each is not None), default=None)
    between = [each.signs.temp_c for each in known if told.at < each.at < min(verdict.times)]
    went = any(each is not None and each < limit for each in between)
    return highest is not None and not went and verdict.value - highest < WORSE_BY["fever"]


def _priority(verdicts: Iterable[Verdict], matters: Iterable[Matter], *, asks: bool) -> Priority:
    """What escalates is a matter; the shift's own rules are followed up, and so is what `asks` for
    it besides: a hold, and a danger sign in a row set aside.
    """
    levels = {each.level for each in matters}
    levels |= {each.level for each in verdicts if each.met and each.level is Level.FOLLOW_UP}
    if Level.ESCALATE in levels:
        return Priority.ESCALATE
    return Priority.FOLLOW_UP if Level.FOLLOW_UP in levels or asks else Priority.CONTINUE


def _set_aside_signs(case: MeasuredCase) -> Iterable[SetAsideSign]:
    """What can be read in rows that take no part: set aside in the stay, or later than `as_of`."""
    rules = [rule for rule in READ_IN_A_ROW if case.limits.is_on(rule)]
    handover, patient = case.handover, case.patient
    rows = [
        (row.place, row.signs, False)
        for row in handover.set_aside
        if row.patient_id == patient.id and _may_be_of_the_stay(row, case)
    ]
    known = handover.entries_of(patient)
    rows += [(row.place, row.signs, True) for row in known if row.at > handover.as_of]
    for place, signs, later in rows:
        for rule in rules:
            seen = sign_of(case.of(rule), signs)
            if seen is not None:
                yield SetAsideSign(place, rule, seen, later)


def _may_be_of_the_stay(row: SetAside, case: MeasuredCase) -> bool:
    """False only for a repeat of a row that is used, and where the row's own time says that it
    belongs to a stay before or to after `as_of`.

    A row whose time cannot be read, or that no shift covers (a mistyped date), may be of this one.
    """
    if row.reason.code == "repeated-entry":
        return False
    handover, at = case.handover, row.at
    if at is None or not any(shift.start <= at < shift.end for shift in handover.shifts):
        return True
    first = handover.listings_of(case.patient)[0].shift.start
    return min(case.measures.stay_start, first) - BEFORE_THE_STAY <= at <= handover.as_of

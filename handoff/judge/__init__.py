"""Judge: every rule applied to one patient.

Input: the patient's `Measures`, the `Handover`, the `Limits`. Output: `Verdicts`. Never measures,
never says what is wrong with the patient. Does not judge a patient without an order, unless a
matter of the stay is not closed.

A rule that the unit switched off gives no verdict. `dizziness-with-signs` and
`volume-drop-with-signs` use signs of other rules by those rules' limits, also where such a rule is
switched off. A unit that wants no caution on the pulse alone still gets one on a pulse beside
dizziness.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import timedelta
from types import MappingProxyType

from handoff.judge.about import minute, names, told_of
from handoff.judge.breathlessness import BREATHLESS, BREATHLESS_AGAIN
from handoff.judge.carried import CAME_FROM_ELSEWHERE, EXERCISE_ON_HOLD
from handoff.judge.case import MeasuredCase, ShiftRows, good_readings
from handoff.judge.course import DANGERS
from handoff.judge.dizziness import (
    DIZZINESS,
    DIZZINESS_AGAIN,
    DIZZINESS_WITH_SIGNS,
    TOO_MANY_AT_ONCE,
)
from handoff.judge.goal import GOAL_OVER_SCALE, GOAL_REACHED, NO_ORDERED_GOAL, READING_AT_SCALE
from handoff.judge.matters import follow
from handoff.judge.pain import PAIN_AGAIN, PAIN_LIMITS
from handoff.judge.practice import (
    DECLINED,
    LOW_ADHERENCE,
    NOT_CHARTED,
    NOTHING_CHARTED,
    SHORT_HOLD,
    TECHNIQUE,
)
from handoff.judge.rule import Rule
from handoff.judge.setting_up import (
    GOING_HOME,
    NO_RETURN_DEMONSTRATION,
    NOT_LABELLED,
    NOT_STARTED,
)
from handoff.judge.signs import (
    BREATHING_RATE,
    DROWSY_OR_CONFUSED,
    FAINT_OR_CHEST_PAIN,
    FEVER,
    LOW_OXYGEN,
    LOW_TEMPERATURE,
    PAIN,
    PULSE,
    SYMPTOMS,
    VITALS,
    sign_of,
)
from handoff.judge.volume import (
    FALLING_TREND,
    VOLUME_DROP,
    VOLUME_DROP_WITH_SIGNS,
    VOLUME_TOO_LOW,
)
from handoff.limits.reading import Limits
from handoff.model.matters import Matter, Verdicts
from handoff.model.measures import Measures
from handoff.model.verdicts import Level, Priority, SetAsideSign, Told, Verdict
from handoff.model.ward import BEFORE_THE_STAY, Entry, Handover, SetAside

__all__ = ["BY_NAME", "RULES", "follow", "judge"]

# In printing order; a graver rule comes after the milder ones that it replaces.
RULES: tuple[Rule[MeasuredCase], ...] = (
    *(LOW_OXYGEN, BREATHING_RATE, PULSE, LOW_TEMPERATURE, FEVER),
    *(FAINT_OR_CHEST_PAIN, DROWSY_OR_CONFUSED),
    *(DIZZINESS, DIZZINESS_AGAIN, DIZZINESS_WITH_SIGNS),
    *(BREATHLESS, BREATHLESS_AGAIN),
    *(VOLUME_DROP, VOLUME_DROP_WITH_SIGNS, FALLING_TREND, VOLUME_TOO_LOW),
    *(NOT_STARTED, NOTHING_CHARTED, NOT_CHARTED, NO_RETURN_DEMONSTRATION, NOT_LABELLED),
    *(LOW_ADHERENCE, DECLINED, PAIN_LIMITS, PAIN_AGAIN, TECHNIQUE, SHORT_HOLD, TOO_MANY_AT_ONCE),
    *(EXERCISE_ON_HOLD, CAME_FROM_ELSEWHERE),
    *(GOAL_REACHED, GOAL_OVER_SCALE, READING_AT_SCALE, NO_ORDERED_GOAL, GOING_HOME),
)
BY_NAME: Mapping[str, Rule[MeasuredCase]] = MappingProxyType({rule.name: rule for rule in RULES})

# Rules that can be judged by a row set aside: dangers that are one sign, without the row's time or
# other rows.
READ_IN_A_ROW = tuple(
    name for name in DANGERS if (name in VITALS and name != PAIN) or name in SYMPTOMS
)

FEVER_GOES_ON = timedelta(hours=24)  # after it was told: common practice


def judge(
    measures: Measures,
    handover: Handover,
    limits: Limits,
    matters: Sequence[Matter] | None = None,
) -> Verdicts:
    """The verdicts of all rules that are on, in order, the stay's matters, and the priority.

    `matters` are the patient's, if they were followed before.
    """
    cautions = measures.caution_entries
    first = cautions[0].at if cautions else None
    rows = ShiftRows(
        patient=measures.patient,
        order=measures.order,
        start=handover.shift.start,
        entries=cautions,
        before=tuple(each for each in measures.stay_entries if first and each.at < first),
        readings=good_readings(measures.shift_entries),
        best=measures.volume.best,
        previous_best=measures.volume.previous_best,
    )
    case = MeasuredCase("", rows, limits, measures, handover)
    verdicts = [rule.decide(case.of(rule.name)) for rule in RULES if limits.is_on(rule.name)]
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


def _without_twins(verdicts: list[Verdict]) -> list[Verdict]:
    met = {verdict.rule for verdict in verdicts if verdict.met}
    # The gravest comes last, and replaces all that the others replace.
    graver = {milder: rule.name for rule in RULES if rule.name in met for milder in rule.replaces}
    return [
        replace(verdict, replaced_by=graver.get(verdict.rule)) if verdict.met else verdict
        for verdict in verdicts
    ]


def _answered(verdict: Verdict, matters: Sequence[Matter], known: Sequence[Entry]) -> Verdict:
    """The verdict with the told rows about it. For an escalation these are the ones of its matter;
    for a follow-up, those that name it at or after its last row.
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
    named = [each for each in told_of(known) if names(each, BY_NAME[verdict.rule].about)]
    answers = [
        Told(each.at, each.note, each.place)
        for each in named
        if minute(each.at) >= minute(since) or _goes_on(verdict, each, known)
    ]
    return replace(verdict, told=tuple(answers))


def _goes_on(verdict: Verdict, told: Entry, known: Sequence[Entry]) -> bool:
    """Whether the provider was already told of this fever: it did not end, and is not much higher
    since.
    """
    limit = verdict.limit
    if verdict.rule != FEVER.name or not isinstance(verdict.value, int | float):
        return False
    if not isinstance(limit, int | float):
        return False
    if verdict.at is None or not timedelta() <= verdict.at - told.at <= FEVER_GOES_ON:
        return False
    then = [each.signs.temp_c for each in known if each.at <= told.at]
    highest = max((each for each in then if each is not None), default=None)
    between = [each.signs.temp_c for each in known if told.at < each.at < min(verdict.times)]
    went = any(each is not None and each < limit for each in between)
    return (
        highest is not None and not went and verdict.value - highest < VITALS[FEVER.name].worse_by
    )


def _priority(verdicts: Iterable[Verdict], matters: Iterable[Matter], *, asks: bool) -> Priority:
    """The priority. Only matters escalate. The shift's own rules are followed up, and so are a hold
    and a danger sign in a row set aside (`asks`).
    """
    levels = {each.level for each in matters}
    levels |= {each.level for each in verdicts if each.met and each.level is Level.FOLLOW_UP}
    if Level.ESCALATE in levels:
        return Priority.ESCALATE
    return Priority.FOLLOW_UP if Level.FOLLOW_UP in levels or asks else Priority.CONTINUE


def _set_aside_signs(case: MeasuredCase) -> Iterable[SetAsideSign]:
    """The danger signs in rows that do not count: set aside in the stay, or later than `as_of`."""
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
    """False only for a repeat of a used row, and for a row whose own time is in an earlier stay or
    after `as_of`.

    A row whose time cannot be read, or is in no shift (a mistyped date), may be of this stay.
    """
    if row.reason.code == "repeated-entry":
        return False
    handover, at = case.handover, row.at
    if at is None or not any(shift.start <= at < shift.end for shift in handover.shifts):
        return True
    first = handover.listings_of(case.patient)[0].shift.start
    return min(case.measures.stay_start, first) - BEFORE_THE_STAY <= at <= handover.as_of

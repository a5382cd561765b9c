"""Judge: every rule applied to one patient.

Input: the patient's `Measures`, the `Handover`, the `Limits`. Output: `Verdicts`. Never measures,
never says what is wrong with the patient. Does not judge a patient without an order, unless a
matter of the stay is not closed.

A rule that the unit switched off gives no verdict; none that may escalate is ever off. Its signs
still count beside others: a unit that wants no caution on a single wheeze still gets one on a
wheeze beside a fall of the volume.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import timedelta
from types import MappingProxyType

from msgspec.structs import replace

from handoff.judge.about import minute, names, told_of
from handoff.judge.breathlessness import BREATHLESS, BREATHLESS_AGAIN
from handoff.judge.call_if import call_if
from handoff.judge.carried import CAME_FROM_ELSEWHERE, EXERCISE_ON_HOLD
from handoff.judge.case import MeasuredCase, ShiftRows
from handoff.judge.dizziness import (
    DIZZINESS,
    DIZZINESS_AGAIN,
    DIZZINESS_WITH_SIGNS,
    TOO_MANY_AT_ONCE,
)
from handoff.judge.goal import GOAL_OVER_SCALE, GOAL_REACHED, NO_ORDERED_GOAL, READING_AT_SCALE
from handoff.judge.matters import follow
from handoff.judge.oxygen import HIGH_OXYGEN, NEW_OXYGEN
from handoff.judge.pain import PAIN_AGAIN, PAIN_LIMITS
from handoff.judge.practice import (
    DECLINED,
    LOW_ADHERENCE,
    NOT_CHARTED,
    NOT_SEEN,
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
    NOT_TAUGHT,
)
from handoff.judge.signs import (
    BREATHING_RATE,
    DROWSY_OR_CONFUSED,
    FAINT_OR_CHEST_PAIN,
    FEVER,
    LOW_OXYGEN,
    LOW_TEMPERATURE,
    PULSE,
    escalates,
    sign_of,
    usual_apart,
)
from handoff.judge.unreadable import READ_ALONE, SIGN_UNREADABLE, Unreadable, rows_aside
from handoff.judge.vitals import VITALS
from handoff.judge.volume import (
    FALLING_TREND,
    VOLUME_DROP,
    VOLUME_DROP_WITH_SIGNS,
    VOLUME_TOO_LOW,
)
from handoff.limits.reading import Limits
from handoff.model.matters import Matter, Verdicts
from handoff.model.measures import Measures
from handoff.model.verdicts import LaterSign, Level, Priority, Told, Verdict
from handoff.model.ward import Entry, Handover

__all__ = ["BY_NAME", "RULES", "follow", "judge"]

# In printing order; of several graver rules that replace the same one, the gravest comes last.
RULES: tuple[Rule[MeasuredCase], ...] = (
    *(LOW_OXYGEN, HIGH_OXYGEN, NEW_OXYGEN, BREATHING_RATE, PULSE, LOW_TEMPERATURE, FEVER),
    *(FAINT_OR_CHEST_PAIN, DROWSY_OR_CONFUSED),
    *(DIZZINESS, DIZZINESS_AGAIN, DIZZINESS_WITH_SIGNS),
    *(BREATHLESS, BREATHLESS_AGAIN),
    *(VOLUME_DROP, VOLUME_DROP_WITH_SIGNS, FALLING_TREND, VOLUME_TOO_LOW),
    *(NOT_STARTED, NOTHING_CHARTED, NOT_SEEN, NOT_CHARTED),
    *(NOT_TAUGHT, NO_RETURN_DEMONSTRATION, NOT_LABELLED),
    *(LOW_ADHERENCE, DECLINED, PAIN_LIMITS, PAIN_AGAIN, TECHNIQUE, SHORT_HOLD, TOO_MANY_AT_ONCE),
    *(EXERCISE_ON_HOLD, CAME_FROM_ELSEWHERE),
    *(GOAL_REACHED, GOAL_OVER_SCALE, READING_AT_SCALE, NO_ORDERED_GOAL),
    *(SIGN_UNREADABLE, GOING_HOME),
)
BY_NAME: Mapping[str, Rule[MeasuredCase]] = MappingProxyType({rule.name: rule for rule in RULES})

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
        periods=measures.periods,
        start=handover.shift.start,
        entries=cautions,
        before=tuple(each for each in measures.stay_entries if first and each.at < first),
        recent=measures.volume.recent,
        is_child=measures.patient.is_child_in(handover.shift, handover.unit),
        aside=tuple(
            row
            for row in rows_aside(handover, measures.patient)
            if row.at >= handover.judged_from(measures.patient)
        ),
    )
    if matters is None:
        matters = follow(handover, measures.patient, limits)
    case = MeasuredCase("", usual_apart(rows, limits), limits, {}, measures, handover, matters)
    judged = [each for each in RULES if limits.is_on(each.name) and case.is_judged(each.name)]
    verdicts = [rule.decide(case.where_judged(rule.name)) for rule in judged]
    known = measures.stay_entries
    verdicts = [_answered(each, matters, known) for each in _without_twins(verdicts)]
    verdicts = [_said_by_a_matter(each, matters) for each in verdicts]
    found = Verdicts(
        patient=measures.patient,
        priority=_priority(verdicts, matters, held=measures.hold is not None),
        all=tuple(verdicts),
        call_if=call_if(measures, handover, limits),
        later_signs=tuple(_later_signs(case)),
        unread=tuple(
            sign
            for each in verdicts
            if isinstance(each.found, Unreadable)
            for sign in each.found.others
        ),
        matters=tuple(matters),
    )
    if not found.fell:
        return found
    # The usual follows a fall down: two readings under it would be too late to call.
    return replace(found, call_if=replace(found.call_if, volume=None))


def _without_twins(verdicts: list[Verdict]) -> list[Verdict]:
    met = {verdict.rule for verdict in verdicts if verdict.met}
    # The gravest comes last, and replaces all that the others replace.
    graver = {milder: rule.name for rule in RULES if rule.name in met for milder in rule.replaces}
    return [
        replace(verdict, replaced_by=graver.get(verdict.rule)) if verdict.met else verdict
        for verdict in verdicts
    ]


def _said_by_a_matter(verdict: Verdict, matters: Iterable[Matter]) -> Verdict:
    """The verdict, replaced by the graver rule of an open matter of an earlier shift, whose words
    then name its rows. Not where the provider was told of the matter, but not of these rows; and
    no volume, which the matter does not name.
    """
    for matter in matters if verdict.met and verdict.level is not Level.ESCALATE else ():
        open_now = matter.is_open and matter.holds_back and not matter.is_fall
        covers = open_now and (verdict.told or not matter.is_told)
        if covers and verdict.rule in BY_NAME[matter.rule].replaces:
            return replace(verdict, replaced_by=matter.rule)
    return verdict


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


def _priority(verdicts: Iterable[Verdict], matters: Iterable[Matter], *, held: bool) -> Priority:
    """The priority. Only matters escalate. The shift's own rules are followed up, as is a hold."""
    levels = {each.level for each in matters}
    levels |= {each.level for each in verdicts if each.met and each.level is Level.FOLLOW_UP}
    if Level.ESCALATE in levels:
        return Priority.ESCALATE
    return Priority.FOLLOW_UP if Level.FOLLOW_UP in levels or held else Priority.CONTINUE


def _later_signs(case: MeasuredCase) -> Iterable[LaterSign]:
    """The danger signs in rows later than `as_of`, which this hand-over does not judge."""
    later = (row for row in case.handover.entries_of(case.patient) if row.at > case.handover.as_of)
    for row in later:
        for rule in READ_ALONE:
            of_rule = case.of(rule).at(row)
            seen = sign_of(of_rule, row.signs)
            if seen is not None and escalates(of_rule, row.signs):
                yield LaterSign(row.place, rule, seen)

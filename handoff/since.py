"""Since: what changed since the hand-over before, patient by patient.

Enters: a `Handover`, what was measured and judged of it, the `Limits`. Leaves: a `Since`, or None
where the logs hold no shift before. Measures and judges that shift by today's rules, from the same
logs: an entry that was charted late counts where its time puts it. Never says that a danger is
over, only that what is recorded does not meet its rule any more.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from handoff.changes import Changes, EscalationChanges, OrderChanges, Since
from handoff.judge import judge
from handoff.limits import Limits
from handoff.measure import measure
from handoff.measures import Measures
from handoff.model import Earlier, Handover, Order, Patient
from handoff.names import bed_key, bed_order
from handoff.verdicts import Level, State, Verdict, Verdicts

# What is ordered; who ordered it is not a change.
ORDERED = ("start", "stop", "breaths", "every_h", "goal_ml", "hold_s", "spo2_min")


@dataclass(frozen=True, slots=True)
class Side:
    """One patient at one hand-over, made for `as_of`; None for what there is not."""

    as_of: datetime
    patient: Patient | None
    measures: Measures | None
    verdicts: Verdicts | None

    @property
    def order(self) -> Order | None:
        """The order as that hand-over's log has it."""
        return self.patient.order if self.patient else None

    @property
    def escalations(self) -> dict[str, Verdict]:
        """What was to be told to the provider at once, by rule."""
        cautions = self.verdicts.cautions if self.verdicts else ()
        return {each.rule: each for each in cautions if each.level is Level.ESCALATE}


def find_changes(
    handover: Handover,
    measures: Mapping[str, Measures],
    verdicts: Mapping[str, Verdicts],
    limits: Limits,
) -> Since | None:
    """What is new of every patient on the list, and who is not on it any more."""
    earlier = handover.earlier
    if earlier is None:
        return None
    before = _hand_over_before(handover, earlier)
    measured = measure(before)
    judged = {key: judge(of_one, before, limits) for key, of_one in measured.items()}
    changes = {}
    for patient in handover.patients:
        key = patient.id
        known = earlier.patients.get(key)
        then = Side(before.as_of, known, measured.get(key), judged.get(key))
        now = Side(handover.as_of, patient, measures.get(key), verdicts.get(key))
        changes[key] = _compare(then, now)
    gone = {**earlier.patients, **{patient.id: patient for patient in handover.gone}}
    not_here = [patient for key, patient in gone.items() if key not in changes]
    return Since(before.as_of, changes, tuple(sorted(not_here, key=bed_order)))


def _hand_over_before(handover: Handover, earlier: Earlier) -> Handover:
    """The hand-over of the shift before, of the patients who have an order then and now."""
    known = (earlier.patients.get(patient.id) for patient in handover.patients if patient.order)
    return replace(
        handover,
        shift=earlier.shift,
        as_of=min(earlier.shift.end, handover.as_of),
        patients=tuple(patient for patient in known if patient and patient.order),
        earlier=None,
    )


def _compare(then: Side, now: Side) -> Changes:
    return Changes(
        new_on_list=then.patient is None,
        moved_from=_moved_from(then, now),
        order=_order_changes(then, now),
        escalations=_escalation_changes(then, now),
        first_reading=_is_since(then, _first_reading_at(now)),
        goal_reached=_is_since(then, now.measures.goal.reached_at if now.measures else None),
    )


def _moved_from(then: Side, now: Side) -> str | None:
    """The bed of then, where the patient lies in another one now."""
    if then.patient is None or now.patient is None:
        return None
    moved = bed_key(then.patient.bed) != bed_key(now.patient.bed)
    return then.patient.bed if moved else None


def _order_changes(then: Side, now: Side) -> OrderChanges:
    if then.order is None or now.order is None:
        if any(side.patient and side.patient.order_lacks_start for side in (then, now)):
            return OrderChanges()
        return OrderChanges(new=now.order is not None, withdrawn=then.order is not None)
    stop = now.order.stop
    stopped = then.order.active_at(then.as_of) and stop is not None and stop <= now.as_of
    changed = [name for name in ORDERED if getattr(then.order, name) != getattr(now.order, name)]
    return OrderChanges(
        stopped=stopped, changed=tuple(name for name in changed if name != "stop" or not stopped)
    )


def _escalation_changes(then: Side, now: Side) -> EscalationChanges:
    judged = {each.rule: each for each in now.verdicts.all} if now.verdicts else {}
    was_met, is_met = then.escalations, now.escalations
    over = [(was, judged[rule]) for rule, was in was_met.items() if rule in judged]
    return EscalationChanges(
        begun=tuple(verdict for rule, verdict in is_met.items() if rule not in was_met),
        ended=tuple(was for was, verdict in over if verdict.state is State.NOT_MET),
        unjudged=tuple(
            replace(was, why=verdict.why, detail={**was.detail, **verdict.detail})
            for was, verdict in over
            if verdict.state is State.UNDECIDED
        ),
    )


def _first_reading_at(side: Side) -> datetime | None:
    """Time of the stay's first good-form reading."""
    entries = side.measures.stay_entries if side.measures else ()
    return next((each.at for each in entries if each.is_good_reading), None)


def _is_since(then: Side, instant: datetime | None) -> bool:
    """At the hand-over before or later: that very minute belongs to the shift that follows."""
    return instant is not None and instant >= then.as_of

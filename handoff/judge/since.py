"""Finds the changes since the hand-over before, patient by patient.

Input: a `Handover`, its measures and verdicts. Output: a `Since`, or None where no log has a shift
before. Never decides that a danger is over: the matter says so.
"""

from collections.abc import Mapping
from datetime import datetime

from handoff.log.names import bed_key, bed_order
from handoff.model.changes import Changes, OrderChanges, Since
from handoff.model.frozen import Frozen
from handoff.model.matters import Verdicts
from handoff.model.measures import Measures
from handoff.model.ward import Handover, Order, Patient, What, order_at

# The fields of an order that can change; a new name of who ordered it is no change.
ORDERED = (
    *("start", "stop", "breaths", "every_h", "goal_ml", "hold_s"),
    *("spo2_min", "spo2_max", "resp_rate_min", "resp_rate_max", "pulse_min", "pulse_max"),
    *("temp_max", "usual_symptoms", "comfort_care"),
)


class Side(Frozen):
    """One patient at one hand-over, made for `as_of`; `patient` is None where not on that list."""

    as_of: datetime
    patient: Patient | None

    @property
    def order(self) -> Order | None:
        """The order in force then, as that hand-over's log has it."""
        orders = self.patient.orders if self.patient else ()
        return order_at(orders, self.as_of) if orders else None


def find_changes(
    handover: Handover, measures: Mapping[str, Measures], verdicts: Mapping[str, Verdicts]
) -> Since | None:
    """The changes for every patient on the list, and the patients who are no longer on it."""
    earlier = handover.earlier
    if earlier is None:
        return None
    at = min(earlier.shift.end, handover.as_of)
    changes = {}
    for patient in handover.patients:
        then = Side(at, earlier.patients.get(patient.id))
        now = Side(handover.as_of, patient)
        of_one, judged = measures.get(patient.id), verdicts.get(patient.id)
        matters = judged.matters if judged else ()
        hold = of_one.hold if of_one else None
        first = of_one.volume.first if of_one else None
        changes[patient.id] = Changes(
            new_on_list=then.patient is None,
            moved_from=_moved_from(then, now),
            precautions=then.patient is not None
            and then.patient.precautions != patient.precautions,
            held_at=hold.since if hold and hold.since >= at else None,
            lifted_at=_last_at(handover, patient, What.RESUME, at),
            order=_order_changes(then, now),
            opened=tuple(each for each in matters if each.opened_now),
            closed=tuple(each for each in matters if each.closed_now and not each.opened_now),
            first_reading=_is_since(at, first.at if first else None),
            goal_reached=_is_since(at, of_one.goal.reached_at if of_one else None),
        )
    gone = {**earlier.patients, **{patient.id: patient for patient in handover.gone}}
    not_here = [patient for key, patient in gone.items() if key not in changes]
    return Since(at, changes, tuple(sorted(not_here, key=bed_order)))


def _moved_from(then: Side, now: Side) -> str | None:
    """The earlier bed, where the patient is in another one now."""
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


def _last_at(handover: Handover, patient: Patient, what: What, since: datetime) -> datetime | None:
    """Time of the last row of one kind since the hand-over before."""
    rows = (each for each in handover.entries_of(patient) if since <= each.at <= handover.as_of)
    return max((each.at for each in rows if each.what is what), default=None)


def _is_since(then: datetime, instant: datetime | None) -> bool:
    """At or after the hand-over before: its own minute belongs to the shift that follows."""
    return instant is not None and instant >= then

"""What is due next of one patient, from the slots of the shift.

Input: measures and `as_of`. Output: `Due`. Counts nothing again: the slots and the times in which
nothing is due are those of `measure`.
"""

from datetime import datetime

from handoff.measure.adherence import TOLERANCE_BREATHS, available_s, due_in
from handoff.measure.shift import LATER
from handoff.measure.spans import outside
from handoff.model.measures import Due, Measures, NotDue, Slot, SlotState, Span
from handoff.model.ward import What

# Of several reasons the first of these is given; any other one comes last.
REASONS = (str(What.HOLD), str(What.AWAY), str(What.ASLEEP))


def measure_due(measures: Measures, as_of: datetime) -> Due:
    """What is due next at `as_of`.

    The breaths of a slot are due by its end. A slot is done with when something charts it, and its
    exercises, if there are any, make up all that is due in it. Breaths are late from the end of the
    first slot that nothing charts, where nothing charts any later one: in minutes of the time in
    which breaths could be due. While nothing is due, nothing is late.
    """
    known = [each for each in measures.not_due if each.why != LATER]
    why = _reason(measures, known, as_of)
    ahead = [slot for slot in measures.adherence.slots if slot.end > as_of]
    following = (slot for slot in ahead if _is_left(slot, measures, known, as_of))
    slot = next(following, None)
    if why is not None:
        return Due(slot, why, None, 0.0)
    late_from = _late_from(measures.adherence.slots, as_of)
    if late_from is None:
        return Due(slot, None, None, 0.0)
    late = outside(Span(late_from, as_of), (each.span for each in known))
    return Due(slot, None, late_from, sum(span.seconds for span in late) / 60)


def _reason(measures: Measures, known: list[NotDue], as_of: datetime) -> NotDue | None:
    """Why nothing is due at `as_of`; None where something is."""
    hold = measures.hold
    if hold is not None:  # one without an end is known up to `as_of` only
        return NotDue(str(What.HOLD), Span(hold.since, hold.until or as_of), hold.entry)
    now = [each for each in known if each.span.start <= as_of < each.span.end]
    by_reason = {each.why: each for each in now}
    named = (by_reason[why] for why in (*REASONS, *by_reason) if why in by_reason)
    return next(named, None)


def _is_left(slot: Slot, measures: Measures, known: list[NotDue], as_of: datetime) -> bool:
    """Whether breaths of a slot that has not ended are still to be done."""
    rest = outside(Span(max(slot.start, as_of), slot.end), (each.span for each in known))
    rest_s = sum(span.seconds for span in rest)
    slot_span = Span(slot.start, slot.end)
    seconds = [available_s(each, [slot_span], rest)[0] for each in measures.periods]
    due = slot.due + due_in(measures.periods, seconds)
    return rest_s > 0 and (not slot.charted or 0 < slot.done < due - TOLERANCE_BREATHS)


def _late_from(slots: tuple[Slot, ...], as_of: datetime) -> datetime | None:
    """The end of the first slot of those that nothing charts, up to `as_of`."""
    found = None
    for slot in reversed([each for each in slots if each.start <= as_of]):
        if slot.charted:
            break
        if slot.end <= as_of and slot.state is SlotState.UNCHARTED:
            found = slot.end
    return found

"""Breaths due, done and credited in every shift of a stay at once.

Input: the `Handover` of a stay's end. Output: the slots of each shift. The same slots as measured
shift by shift, but that all is known by now: a row charted a shift late counts where its time puts
it, and where two shifts overlap, the time they share is the later one's.
"""

from handoff.measure.adherence import measure_slots
from handoff.measure.shift import cut, first_of_shift, not_due, quiet_spans, sort_entries
from handoff.measure.spans import outside
from handoff.model.measures import Slot, Span
from handoff.model.ward import Handover, Patient, Shift


def measure_shifts(
    handover: Handover, patient: Patient
) -> tuple[tuple[Shift, tuple[Slot, ...]], ...]:
    """Each shift of the stay that lists the patient on this unit, with its slots."""
    stay = sort_entries(handover, patient)
    listings = handover.listings_of(patient)
    starts = [each.shift.start for each in listings[1:]]
    shifts = [
        Shift(each.shift.start, min(each.shift.end, following))
        for each, following in zip(listings, [*starts, handover.shift.end], strict=True)
        if each.unit == handover.unit.name
    ]
    whole = Shift(listings[0].shift.start, handover.shift.end)
    quiet = quiet_spans(handover.unit, Span(whole.start, whole.end))
    idle = [each.span for each in not_due(whole, quiet, stay)]
    slots = [cut(shift, first_of_shift(shift, stay).every_h) for shift in shifts]
    measured = iter(
        measure_slots(
            stay.periods,
            [slot for of_shift in slots for slot in of_shift],
            outside(Span(whole.start, whole.end), idle),
            stay.counted,
        )
    )
    return tuple(
        (shift, tuple(next(measured) for _ in of_shift))
        for shift, of_shift in zip(shifts, slots, strict=True)
    )

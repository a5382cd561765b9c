"""What the log before said of the same order, where a log of the stay leaves it blank.

Input: the shifts of a stay that list a patient, in time order. Output: the same shifts with these
blanks filled, and a finding for the latest. A blank says nothing against a value: precautions, a
patient's own limits and comfort care hold until a new order, or a word that ends them.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from handoff.gather.presence import Listed
from handoff.log.fields import ORDER_PARTS
from handoff.model.codes import finding
from handoff.model.findings import Finding
from handoff.model.ward import Patient

# A start makes an order, and a stop may have been taken back.
HOLDS_ON = {name: part for name, part in ORDER_PARTS.items() if part not in {"start", "stop"}}


def carry_on(listed: Sequence[Listed]) -> tuple[Listed, ...]:
    """The shifts of one stay, each with what the one before it said and it leaves blank."""
    known: list[Listed] = []
    for each in listed:
        patient = _filled(each.patient, known[-1].patient) if known else each.patient
        known.append(each._replace(patient=patient))
    return tuple(known)


def not_repeated(listed: Sequence[Listed], known: Sequence[Listed]) -> Iterator[Finding]:
    """A finding where the last log of a stay leaves blank what still holds."""
    if not listed:
        return
    written, patient = listed[-1].patient, known[-1].patient
    names = ["precautions"] if written.precautions != patient.precautions else []
    if written.order and patient.order:
        names += [
            name
            for name, part in HOLDS_ON.items()
            if getattr(written.order, part) != getattr(patient.order, part)
        ]
    if names:
        yield finding("not-repeated", patient.place, names[0], patient.id, names=", ".join(names))


def _filled(patient: Patient, before: Patient) -> Patient:
    """The patient with the blanks filled. A cell that cannot be read or is disputed is no blank."""
    not_known = patient.not_known
    if patient.precautions is None and before.precautions and "precautions" not in not_known:
        patient = replace(patient, precautions=before.precautions)
    order, earlier = patient.order, before.order
    if order is None or earlier is None or order.start != earlier.start:
        return patient
    if order == earlier and order.unstated == earlier.unstated:
        return patient
    blanks = {
        name: part
        for name, part in HOLDS_ON.items()
        if name not in not_known and (getattr(order, part) in (None, ()) or part in order.unstated)
    }
    parts = {part: getattr(earlier, part) for part in blanks.values()}
    unstated = tuple(
        part for part in order.unstated if part not in parts or part in earlier.unstated
    )
    return replace(patient, order=replace(order, **parts, unstated=unstated))

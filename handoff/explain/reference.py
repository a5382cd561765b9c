"""Explains the reference volume: the equation with this patient's numbers in it.

Input: a `Subject`. Output: blocks of text. The numbers are those of `Measures`, the constants
those of its equation.
"""

from collections.abc import Iterator

from handoff.explain.subject import Subject
from handoff.explain.text import Block, Result
from handoff.measure.reference import (
    DAYS_A_YEAR,
    EQUATIONS,
    FIFTH_CENTILE_Z,
    KG_PER_CM,
    OLDEST_Y,
    PREDICTED_FROM_CM,
    PREDICTED_KG,
    YOUNGEST_Y,
)
from handoff.model.measures import Reference
from handoff.model.rounding import exact, volume

SOURCE = "Hall GL et al., Eur Respir J 2021;57:2000289, Table 3"
VOLUME = "inspiratory capacity of healthy adults, for orientation only, in mL"
LOWER = "its lower limit of normal (5th centile), in mL"


def explain_reference(subject: Subject) -> Iterator[Block]:
    """The equation's terms one by one; or why there is no reference, and what the rule on a very
    low volume uses instead.
    """
    patient, measures = subject.patient, subject.measures
    if measures.reference is not None:
        yield from _equation(subject, measures.reference)
        return
    why = f"sex, height or birth date not recorded, or not {YOUNGEST_Y} to {OLDEST_Y} years old"
    yield Result("volume_ml", VOLUME, None, "", why)
    yield Result("lower_limit_ml", LOWER, None, "", why)
    if measures.oldest_reference is not None:
        yield f"Over {OLDEST_Y} years: volume-too-low uses the reference at {OLDEST_Y}."
        yield from _equation(subject, measures.oldest_reference)
    elif measures.predicted_weight_kg is not None and patient.sex and patient.height_cm:
        base_kg, over_cm = (
            PREDICTED_KG[patient.sex],
            f"{exact(patient.height_cm)} - {PREDICTED_FROM_CM}",
        )
        yield (
            f"volume-too-low uses the predicted weight (ARDS Network 2000, after Devine 1974): "
            f"{base_kg} + {KG_PER_CM} ({over_cm}) = {exact(measures.predicted_weight_kg)} kg"
        )


def _equation(subject: Subject, reference: Reference) -> Iterator[Block]:
    patient, terms = subject.patient, reference.terms
    if patient.sex is None or patient.height_cm is None or patient.born is None:
        return  # there is no reference without them
    day = subject.handover.shift.start.astimezone(subject.zone).date()
    days, height = (day - patient.born).days, patient.height_cm
    equation = EQUATIONS[patient.sex]
    yield f"{reference.equation}: {SOURCE}, for {patient.sex}; e is the base of natural logarithms"
    age = f"age = {days} days / {DAYS_A_YEAR} = {exact(days / DAYS_A_YEAR)} years"
    used = f", used: {exact(terms.age_y)}" if days / DAYS_A_YEAR > OLDEST_Y else ""
    yield f"    {age}{used}; height = {exact(height)} cm"
    yield f"    ln height = {exact(terms.ln_height)}; spline at that age = {exact(terms.spline)}"
    spread = f"{equation.spread} + {equation.spread_age} age"
    yield f"    S = e^({spread}) = {exact(terms.spread)}; L = {equation.skew}"
    median = f"{equation.median} + {equation.median_age} age + {equation.median_height} ln height"
    if used:
        yield f"    volume = 1000 e^({median} + spline) = {exact(reference.volume_ml)} mL"
        return
    yield Result(
        "volume_ml",
        VOLUME,
        reference.volume_ml,
        f"1000 e^({median} + spline)",
        sheet=volume(reference.volume_ml),
    )
    yield Result(
        "lower_limit_ml",
        LOWER,
        reference.lower_limit_ml,
        f"{exact(reference.volume_ml)} (1 - {FIFTH_CENTILE_Z} L S)^(1 / L)",
        sheet=volume(reference.lower_limit_ml),
    )

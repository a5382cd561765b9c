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
    OLDEST_Y,
    YOUNGEST_Y,
)
from handoff.model.rounding import exact, volume

SOURCE = "Hall GL et al., Eur Respir J 2021;57:2000289, Table 3"
VOLUME = "inspiratory capacity of healthy adults, for orientation only, in mL"
LOWER = "its lower limit of normal (5th centile), in mL"


def explain_reference(subject: Subject) -> Iterator[Block]:
    """The equation's terms one by one; or why there is no reference."""
    patient, reference = subject.patient, subject.measures.reference
    if reference is None or patient.sex is None or patient.height_cm is None or not patient.born:
        why = f"sex, height or birth date not recorded, or not {YOUNGEST_Y} to {OLDEST_Y} years old"
        yield Result("volume_ml", VOLUME, None, "", why)
        yield Result("lower_limit_ml", LOWER, None, "", why)
        return
    day = subject.handover.shift.start.astimezone(subject.zone).date()
    days, height = (day - patient.born).days, patient.height_cm
    equation, terms = EQUATIONS[patient.sex], reference.terms
    yield f"{reference.equation}: {SOURCE}, for {patient.sex}; e is the base of natural logarithms"
    age = f"age = {days} days / {DAYS_A_YEAR} = {exact(terms.age_y)} years"
    yield f"    {age}; height = {exact(height)} cm"
    yield f"    ln height = {exact(terms.ln_height)}; spline at that age = {exact(terms.spline)}"
    spread = f"{equation.spread} + {equation.spread_age} age"
    yield f"    S = e^({spread}) = {exact(terms.spread)}; L = {equation.skew}"
    median = f"{equation.median} + {equation.median_age} age + {equation.median_height} ln height"
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

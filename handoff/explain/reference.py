"""Explains the reference volume: the equation with this patient's numbers in it.

Input: a `Subject`. Output: blocks of text. The numbers are those of `Measures`; constants and
spline come from the functions that measured them.
"""

from collections.abc import Iterator
from math import exp, log

from handoff.explain.subject import Subject
from handoff.explain.text import Block, Result
from handoff.measure.reference import (
    DAYS_A_YEAR,
    EQUATIONS,
    FIFTH_CENTILE_Z,
    OLDEST_Y,
    YOUNGEST_Y,
    age_y,
    spline,
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
    days, age = (day - patient.born).days, age_y(patient.born, day)
    terms, height, corrected = EQUATIONS[patient.sex], patient.height_cm, spline(patient.sex, age)
    spread = exp(terms.spread + terms.spread_age * age)
    yield f"{reference.equation}: {SOURCE}, for {patient.sex}; e is the base of natural logarithms"
    yield f"    age = {days} days / {DAYS_A_YEAR} = {exact(age)} years; height = {exact(height)} cm"
    yield f"    ln height = {exact(log(height))}; spline at that age = {exact(corrected)}"
    yield f"    S = e^({terms.spread} + {terms.spread_age} age) = {exact(spread)}; L = {terms.skew}"
    equation = f"{terms.median} + {terms.median_age} age + {terms.median_height} ln height + spline"
    yield Result(
        "volume_ml",
        VOLUME,
        reference.volume_ml,
        f"1000 e^({equation})",
        sheet=volume(reference.volume_ml),
    )
    yield Result(
        "lower_limit_ml",
        LOWER,
        reference.lower_limit_ml,
        f"{exact(reference.volume_ml)} (1 - {FIFTH_CENTILE_Z} L S)^(1 / L)",
        sheet=volume(reference.lower_limit_ml),
    )

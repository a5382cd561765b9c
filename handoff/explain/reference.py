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
from handoff.model.wording import EXPLAIN


def explain_reference(subject: Subject) -> Iterator[Block]:
    """The equation's terms one by one; or why there is no reference, and what the rule on a very
    low volume uses instead.
    """
    patient, measures = subject.patient, subject.measures
    if measures.reference is not None:
        yield from _equation(subject, measures.reference)
        return
    why = EXPLAIN.say("reference.none", youngest=YOUNGEST_Y, oldest=OLDEST_Y)
    yield Result("volume_ml", EXPLAIN.say("reference.volume"), None, "", why)
    yield Result("lower_limit_ml", EXPLAIN.say("reference.lower"), None, "", why)
    if measures.oldest_reference is not None:
        yield EXPLAIN.say("reference.over", oldest=OLDEST_Y)
        yield from _equation(subject, measures.oldest_reference)
    elif measures.predicted_weight_kg is not None and patient.sex and patient.height_cm:
        yield EXPLAIN.say(
            "reference.weight",
            base=PREDICTED_KG[patient.sex],
            per_cm=KG_PER_CM,
            height=exact(patient.height_cm),
            from_cm=PREDICTED_FROM_CM,
            weight=exact(measures.predicted_weight_kg),
        )


def _equation(subject: Subject, reference: Reference) -> Iterator[Block]:
    patient, terms = subject.patient, reference.terms
    if patient.sex is None or patient.height_cm is None or patient.born is None:
        return  # there is no reference without them
    day = subject.handover.shift.start.astimezone(subject.zone).date()
    days, height = (day - patient.born).days, patient.height_cm
    equation = EQUATIONS[patient.sex]
    is_over = days / DAYS_A_YEAR > OLDEST_Y
    yield EXPLAIN.say("reference.equation", equation=reference.equation, sex=patient.sex)
    age = EXPLAIN.say(
        "reference.age-used" if is_over else "reference.age",
        days=days,
        days_a_year=DAYS_A_YEAR,
        years=exact(days / DAYS_A_YEAR),
        used=exact(terms.age_y),
        height=exact(height),
    )
    yield f"    {age}"
    logs = EXPLAIN.say(
        "reference.logs", ln_height=exact(terms.ln_height), spline=exact(terms.spline)
    )
    yield f"    {logs}"
    spread = EXPLAIN.say(
        "reference.spread",
        factor=equation.spread,
        factor_age=equation.spread_age,
        spread=exact(terms.spread),
        skew=equation.skew,
    )
    yield f"    {spread}"
    working = EXPLAIN.say(
        "reference.working",
        factor=equation.median,
        factor_age=equation.median_age,
        factor_height=equation.median_height,
    )
    volume_ml = exact(reference.volume_ml)
    if is_over:
        yield f"    {EXPLAIN.say('reference.at-oldest', working=working, volume=volume_ml)}"
        return
    yield Result(
        "volume_ml",
        EXPLAIN.say("reference.volume"),
        reference.volume_ml,
        working,
        sheet=volume(reference.volume_ml),
    )
    yield Result(
        "lower_limit_ml",
        EXPLAIN.say("reference.lower"),
        reference.lower_limit_ml,
        f"{volume_ml} (1 - {FIFTH_CENTILE_Z} L S)^(1 / L)",
        sheet=volume(reference.lower_limit_ml),
    )

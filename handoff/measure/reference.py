"""Inspiratory capacity of healthy adults, GLI 2021: for orientation only, never a goal. Predicted
weight, where that is not known.

Input: a patient and the local date of the shift's start. Output: `Reference` or kg, or None.
Never extrapolates. Source: Hall GL et al., Eur Respir J 2021;57:2000289, Table 3 (equation) and
its look-up table (spline), for people of European ancestry; volumes not at the bedside's
conditions.
"""

import csv
from bisect import bisect_right
from collections.abc import Mapping, Sequence
from datetime import date
from functools import cache
from importlib.resources import files
from math import exp, log

from handoff.model.frozen import Frozen
from handoff.model.measures import Reference, ReferenceTerms
from handoff.model.ward import Patient

EQUATION = "GLI 2021 inspiratory capacity"
SPLINE_FILE = "gli2021-inspiratory-capacity-spline.csv"
YOUNGEST_Y, OLDEST_Y = 18, 80
SHORTEST_CM, TALLEST_CM = 100, 230  # what a log may hold; the source states no range of heights
DAYS_A_YEAR = 365.25
FIFTH_CENTILE_Z = 1.645
PREDICTED_KG, KG_PER_CM = {"male": 50.0, "female": 45.5}, 0.91  # of predicted body weight
PREDICTED_FROM_CM = 152.4


class Equation(Frozen):
    """Table 3 for one sex: M = exp(median + median_age age + median_height ln height + spline),
    S = exp(spread + spread_age age), L = skew; litres, years, centimetres.
    """

    median: float
    median_age: float
    median_height: float
    spread: float
    spread_age: float
    skew: float


EQUATIONS = {
    "male": Equation(-10.121688, 0.001265, 2.188801, -1.856546, 0.002008, 1.146),
    "female": Equation(-9.4438787, -0.0002484, 2.0312769, -1.775276, 0.002673, 0.9726),
}


def find_reference(patient: Patient, on: date) -> Reference | None:
    """Reference of a patient on a date; None where sex, height or birth date is not recorded."""
    if patient.sex is None or patient.height_cm is None or patient.born is None:
        return None
    return reference_volume(patient.sex, age_y(patient.born, on), patient.height_cm)


def find_oldest_reference(patient: Patient, on: date) -> Reference | None:
    """The reference at the oldest age of the equation, for a patient who is older; else None."""
    if patient.sex is None or patient.height_cm is None or patient.born is None:
        return None
    if age_y(patient.born, on) <= OLDEST_Y:
        return None
    return reference_volume(patient.sex, OLDEST_Y, patient.height_cm)


def find_predicted_weight_kg(patient: Patient, on: date) -> float | None:
    """Predicted body weight, 50 (male) or 45.5 (female) + 0.91 (height in cm - 152.4) kg.

    Source: ARDS Network 2000, after Devine 1974. It holds for adults of 152.4 cm or more: None for
    others, and where sex or height is not recorded. A patient without a birth date counts as an
    adult.
    """
    if patient.sex is None or patient.height_cm is None:
        return None
    is_child = patient.born is not None and age_y(patient.born, on) < YOUNGEST_Y
    if is_child or patient.height_cm < PREDICTED_FROM_CM:
        return None
    return PREDICTED_KG[patient.sex] + KG_PER_CM * (patient.height_cm - PREDICTED_FROM_CM)


def age_y(born: date, on: date) -> float:
    """Age in real years, days / 365.25: up to a day off the birthday, which changes the volume by
    less than 1 mL.
    """
    return (on - born).days / DAYS_A_YEAR


def reference_volume(sex: str, age: float, height_cm: float) -> Reference | None:
    """Median and lower limit of normal (5th centile, M (1 - 1.645 L S)^(1/L)) in mL.

    Valid for ages of 18 to 80 years and heights of 100 to 230 cm; None outside.
    """
    if not (YOUNGEST_Y <= age <= OLDEST_Y and SHORTEST_CM <= height_cm <= TALLEST_CM):
        return None
    equation = EQUATIONS[sex]
    ln_height, correction, skew = log(height_cm), spline(sex, age), equation.skew
    linear = equation.median + equation.median_age * age + equation.median_height * ln_height
    median_l = exp(linear + correction)
    spread = exp(equation.spread + equation.spread_age * age)
    lower_limit_l = median_l * (1 - FIFTH_CENTILE_Z * skew * spread) ** (1 / skew)
    terms = ReferenceTerms(age, ln_height, correction, spread)
    return Reference(1000 * median_l, 1000 * lower_limit_l, EQUATION, terms)


def spline(sex: str, age: float) -> float:
    """The table's correction at an age of 18 to 80 years, interpolated linearly between quarter
    years.
    """
    table = _spline_table()
    ages, corrections = table["age_y"], table[sex]
    after = min(bisect_right(ages, age), len(ages) - 1)
    before = after - 1
    slope = (corrections[after] - corrections[before]) / (ages[after] - ages[before])
    return corrections[before] + slope * (age - ages[before])


@cache
def _spline_table() -> Mapping[str, Sequence[float]]:
    """The table's columns."""
    with files(__package__).joinpath(SPLINE_FILE).open(encoding="utf-8") as table:
        names, *rows = csv.reader(table)
    columns = zip(*(map(float, row) for row in rows), strict=True)
    return dict(zip(names, columns, strict=True))

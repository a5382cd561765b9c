"""Values from outside the program, each with its source and how it was had beside it.

[read]: read in the source, or in a copy or page that quotes it. [memory]: from memory.
[run]: computed with the library named.
"""

import re
from datetime import date
from fractions import Fraction
from importlib import import_module
from itertools import product
from typing import Any

import numpy as np
import pytest
from pyspiro import GLI_2021

from handoff.limits.reading import Limits, load_limits
from handoff.measure.reference import find_predicted_weight_kg, reference_volume
from handoff.measure.trend import fit
from tests.support.builders import patient
from tests.support.logs import ROOT

# Predicted weight


# ARDS Network 2000, after Devine 1974 [read]; the values worked by hand from it [run].
@pytest.mark.parametrize(
    ("sex", "height_cm", "weight_kg"), [("male", 180, 75.1), ("female", 160, 52.4)]
)
def test_predicted_weight(sex: str, height_cm: float, weight_kg: float) -> None:
    given = patient(sex=sex, height_cm=height_cm)
    predicted = find_predicted_weight_kg(given, date(2026, 3, 7))
    assert predicted == pytest.approx(weight_kg, abs=0.05)


# Trend

# Data of three kinds; their slopes by least squares are in none of the sources.
# Sen PK. J Am Stat Assoc 1968;63:1379-1389, the worked example [read in SciPy's own tests].
SEN_X = [1, 2, 3, 4, 10, 12, 18]
SEN_Y = [9, 15, 19, 20, 45, 55, 78]

# US EPA. Unified Guidance 2009, EPA 530/R-09-007, Example 17-7, p. 17-36 [read as printed by the
# manual of a statistics package].
EPA_X = [89.6, 90.1, 90.8, 91.1, 92.1, 93.1, 94.1, 95.6, 96.1, 96.3]
EPA_Y = [56, 53, 51, 55, 52, 60, 62, 59, 61, 63]

# Forced volume of a girl of the Six Cities cohort (public data, child 1), years and mL. It checks
# the arithmetic on real repeated lung volumes, and nothing clinical [run: SciPy].
CHILD_AGE_Y = [9.3415, 10.3929, 11.4524, 12.46, 13.4182, 15.4743, 16.3723]
CHILD_ML = [1240, 1450, 1630, 2120, 2300, 2440, 2390]


# NIST. Statistical Reference Datasets, linear regression, Norris: the certified slope of y on x and
# its standard deviation [read in the file that SciPy's own tests carry].
NORRIS_X = [
    *(0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4),
    *(0.6, 775.5, 666.9, 338.0, 447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3),
    *(0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5),
]
NORRIS_Y = [
    *(0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3),
    *(0.1, 778.1, 668.8, 339.3, 448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3),
    *(0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2),
]


@pytest.mark.parametrize(
    ("x", "y", "slope", "half_width"),
    [
        (SEN_X, SEN_Y, 4.0213523, 0.2628971),
        (EPA_X, EPA_Y, 1.3877650, 1.0043486),
        (CHILD_AGE_Y, CHILD_ML, 178.4617203, 89.8867111),
    ],
)
def test_slope_and_half_width_of_published_series(
    x: list[float], y: list[float], slope: float, half_width: float
) -> None:
    """Values [run]: scipy.stats.linregress, and 1.2 x scipy.stats.t.ppf(0.975) x its error."""
    line = fit(x, y)
    assert (line.slope, line.half_width) == pytest.approx((slope, half_width), abs=6e-8)


def linregress(x: object, y: object) -> Any:
    """SciPy's, imported here: that takes seconds, of every process that collects the tests."""
    return import_module("scipy.stats").linregress(x, y)


def test_slope_and_its_error_of_norris_as_nist_certifies_them() -> None:
    """The 36 points in three parts, each within the 15 that a trend may have, against SciPy; and
    the certified values of all of them against the same oracle.
    """
    certified = linregress(NORRIS_X, NORRIS_Y)
    assert certified.slope == pytest.approx(1.00211681802045, rel=1e-12)
    assert certified.stderr == pytest.approx(0.429796848199937e-03, rel=1e-9)
    for start in (0, 12, 24):
        x, y = NORRIS_X[start : start + 12], NORRIS_Y[start : start + 12]
        oracle, line = linregress(x, y), fit(x, y)
        assert line.slope == pytest.approx(oracle.slope, rel=1e-12)
        assert line.half_width / line.factor == pytest.approx(oracle.stderr, rel=1e-9)


def test_trend_equals_scipy_on_500_random_series() -> None:
    """Oracle: scipy.stats.linregress and scipy.stats.t.ppf [run]."""
    ppf = import_module("scipy.stats").t.ppf
    for seed in range(500):
        random = np.random.default_rng(seed)
        size = int(random.integers(5, 16))
        x = np.sort(random.uniform(-7, 0, size))
        y = random.normal(1200, 200, size) + 60 * x
        y = np.round(y, -2) if seed % 2 else y
        oracle, line = linregress(x, y), fit(x.tolist(), y.tolist())
        half_width = 1.2 * ppf(0.975, size - 2) * oracle.stderr
        found = (line.slope, line.half_width, line.slope - line.low, line.high - line.slope)
        expected = (oracle.slope, half_width, half_width, half_width)
        assert found == pytest.approx(expected, rel=1e-6), f"seed {seed}"
        fitted = oracle.intercept + oracle.slope * line.middle_x
        assert line.middle_y == pytest.approx(fitted, rel=1e-9)


# Reference volume: Hall GL et al. Eur Respir J 2021;57:2000289, Table 3 [read]; these values [run]
# with the package pyspiro 1.0.0.


@pytest.mark.parametrize(
    ("sex", "age", "height_cm", "volume_l", "lower_limit_l"),
    [("male", 60, 175, 3.5424, 2.4905), ("female", 70, 160, 2.1499, 1.4311)],
)
def test_reference_volume_worked(
    sex: str, age: float, height_cm: float, volume_l: float, lower_limit_l: float
) -> None:
    found = reference_volume(sex, age, height_cm)
    assert found is not None
    assert found.volume_ml / 1000 == pytest.approx(volume_l, abs=5e-5)
    assert found.lower_limit_ml / 1000 == pytest.approx(lower_limit_l, abs=5e-5)


AGES_Y = [*np.arange(18, 80.25, 0.25).tolist(), 18.1, 31.4, 48.9, 55.55, 64.2, 72.875, 79.99]
HEIGHTS_CM = [140, 167.5, 195]


@pytest.mark.parametrize(("code", "sex"), [(0, "female"), (1, "male")])
def test_reference_volume_equals_pyspiro(code: int, sex: str) -> None:
    """Every quarter year of the table, and ages between them, where both interpolate."""
    oracle = GLI_2021()
    capacity = oracle.Parameters.IC
    for age, height_cm in product(AGES_Y, HEIGHTS_CM):
        found = reference_volume(sex, age, height_cm)
        assert found is not None
        _, median_l, _ = oracle.lms(code, age, height_cm, capacity, None)
        lower_limit_l = oracle.lln(code, age, height_cm, capacity, None)
        assert found.volume_ml == pytest.approx(1000 * median_l, rel=1e-9), (age, height_cm)
        assert found.lower_limit_ml == pytest.approx(1000 * lower_limit_l, rel=1e-9)


# Warning limits: the early-warning score NEWS2, Royal College of Physicians 2017 [read: a copy of
# chart 1 of the report, and a table in Thorax that compares both SpO2 scales]. Only what a single
# parameter scores is used: the score is never added up, and no part of it is called the score.

SCORES_3 = {
    ("breathing-rate", "resp_rate_at_or_under"): (8, "/min"),
    ("breathing-rate", "resp_rate_at_or_over"): (25, "/min"),
    ("low-oxygen", "spo2_at_or_under"): (91, "%"),  # scale 1
    ("pulse", "pulse_at_or_under"): (40, "/min"),
    ("pulse", "pulse_at_or_over"): (131, "/min"),
    ("low-temperature", "temp_c_at_or_under"): (35.0, "Cel"),
    ("high-oxygen", "spo2_at_or_over"): (97, "%"),  # scale 2, on oxygen
}
# Scale 2 is for a prescribed target of 88 to 92 %, which scores nothing.
TARGET = {("high-oxygen", "spo2_max_at_or_under"): (92, "%")}
PUBLISHED = SCORES_3 | TARGET


@pytest.fixture(scope="module")
def limits() -> Limits:
    found, findings = load_limits()
    assert findings == []
    assert found is not None
    return found


@pytest.mark.parametrize(("rule", "name"), PUBLISHED)
def test_single_parameter_limits(limits: Limits, rule: str, name: str) -> None:
    limit = limits.limit(rule, name)
    assert (float(limit.value), limit.unit) == PUBLISHED[rule, name]
    assert (limit.mark, limits.level(rule)) == ("published", "escalate")
    assert "NEWS2" in limit.source
    assert "2017" in limit.source


def test_every_limit_called_published_is_in_the_table_above(limits: Limits) -> None:
    held = [
        (rule, name)
        for rule, each in limits.rules.items()
        for name, limit in each.limits.items()
        if limit.mark == "published"
    ]
    assert sorted(held) == sorted(PUBLISHED)


def test_the_score_is_never_added_up() -> None:
    """No printed word has a total, and no limit is one of points."""
    words = "".join(
        (ROOT / "templates" / "en" / name).read_text(encoding="utf-8")
        for name in ("sheet.yaml", "cautions.yaml", "blank.yaml", "discharge.yaml")
    )
    assert not re.search(r"NEWS|\btotal score|\bpoints\b", words)


def test_no_limit_of_common_practice_is_called_published(limits: Limits) -> None:
    """38.0 C after surgery and 80 % of the usual volume have no published source; 39.1 C scores 2
    [read], which calls for no urgent review by itself.
    """
    assert limits.limit("fever", "high_temp_c_at_or_over").value == Fraction("39.1")
    assert limits.limit("fever", "high_temp_c_at_or_over").mark == "common practice"
    assert limits.limit("fever", "temp_c_at_or_over").value == 38
    assert limits.limit("fever", "temp_c_at_or_over").mark == "common practice"
    for each in ("volume-drop", "volume-drop-with-signs"):
        assert {limit.mark for limit in limits.rules[each].limits.values()} == {"common practice"}

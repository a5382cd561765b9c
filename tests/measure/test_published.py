"""Values from outside the program, each with its source and how it was had beside it.

[read]: read in the source, or in a copy or page that quotes it. [memory]: from memory.
[run]: computed with the library named.
"""

import math
import re
from fractions import Fraction
from importlib import import_module
from itertools import product
from typing import Any

import numpy as np
import pytest
from pyspiro import GLI_2021

from handoff.limits.reading import Limits, load_limits
from handoff.measure.reference import reference_volume
from handoff.measure.trend import theil_sen
from tests.support.logs import ROOT

# Trend

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


def test_slope_and_intercept_of_sen_1968() -> None:
    line = theil_sen(SEN_X, SEN_Y)
    assert line.slope == 4
    assert line.intercept == 4


def test_interval_of_sen_1968() -> None:
    """Published as 93 %: of 21 slopes the ranks, once rounded, are the same at 95 %."""
    line = theil_sen(SEN_X, SEN_Y)
    assert line.low == pytest.approx(26 / 7, rel=1e-12)
    assert line.high == pytest.approx(35 / 8, rel=1e-12)


def test_epa_unified_guidance_example_17_7() -> None:
    line = theil_sen(EPA_X, EPA_Y)
    assert line.slope == pytest.approx(1.3333333, abs=5e-8)
    assert line.intercept == pytest.approx(-65.9666667, abs=5e-8)


def test_real_repeated_lung_volumes() -> None:
    line = theil_sen(CHILD_AGE_Y, CHILD_ML)
    assert line.slope == pytest.approx(187.8522, abs=5e-5)
    assert line.low == pytest.approx(69.0131, abs=5e-5)
    assert line.high == pytest.approx(282.1869, abs=5e-5)


def random_series(seed: int) -> tuple[np.ndarray[Any, Any], np.ndarray[Any, Any]]:
    """2 to 15 points, by turns without ties, with ties in y, and with ties in both."""
    random = np.random.default_rng(seed)
    size = int(random.integers(2, 16))
    x = np.sort(random.uniform(-7, 0, size))
    y = random.normal(1200, 200, size) + 60 * x
    if seed % 3 >= 1:
        y = np.round(y, -2)
    if seed % 3 == 2:
        x = np.round(x)
    return x, y


def theilslopes(*series: object, **options: object) -> Any:
    """SciPy's, imported here: that takes seconds, of every process that collects the tests."""
    return import_module("scipy.stats").theilslopes(*series, **options)


def test_trend_equals_scipy() -> None:
    """Oracle: scipy.stats.theilslopes, method 'separate' [run]."""
    for seed in range(300):
        x, y = random_series(seed)
        expected = theilslopes(y, x, alpha=0.95, method="separate")
        line = theil_sen(x, y)
        found = (line.slope, line.intercept, line.low, line.high)
        assert found == pytest.approx(tuple(expected), rel=1e-12, abs=1e-9), f"seed {seed}"


def test_the_interval_is_unknown_where_ties_leave_no_variance() -> None:
    x, y = [1, 1, 1, 1, 2], [5, 5, 5, 5, 6]
    with np.errstate(invalid="ignore"):
        expected = theilslopes(y, x, alpha=0.95, method="separate")
    line = theil_sen(x, y)
    assert math.isnan(expected.low_slope)
    assert math.isnan(line.low)
    assert math.isnan(line.high)
    assert line.slope == expected.slope == 1


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
    """38.0 C after surgery and 80 % of the previous best have no published source; 39.1 C scores 2
    [read], which calls for no urgent review by itself.
    """
    assert limits.limit("fever", "high_temp_c_at_or_over").value == Fraction("39.1")
    assert limits.limit("fever", "high_temp_c_at_or_over").mark == "common practice"
    assert limits.limit("fever", "temp_c_at_or_over").value == 38
    assert limits.limit("fever", "temp_c_at_or_over").mark == "common practice"
    assert limits.limit("volume-drop", "percent_at_or_under").mark == "common practice"

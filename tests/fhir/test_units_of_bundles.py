"""Amounts of a Bundle: each unit of the table by a UCUM library, and what is refused."""

import json
from fractions import Fraction
from importlib import import_module

import pytest

from handoff.fhir.codes import load_codes
from tests.support.bundles import LOINC, amount, concept, exercise, night, observed, raw_log_of

COUNTED = {"{breaths}", "{breath}", "{score}", "1"}  # numbers without a dimension


def test_each_factor_is_that_of_a_ucum_library() -> None:
    """Oracle: ucumvert, which reads UCUM's own essence file."""
    registry, codes = import_module("ucumvert").PintUcumRegistry(), load_codes()[0]
    assert codes is not None
    compared = 0
    for wanted, table in codes.units.items():
        for unit in table.keys() - COUNTED:
            amount_of = registry.Quantity(100.0, registry.from_ucum(unit).units)
            theirs = amount_of.to(registry.from_ucum(wanted).units).magnitude
            ours = codes.converted(Fraction(100), unit, wanted)
            assert ours is not None
            assert float(ours) == pytest.approx(theirs, rel=1e-12)
            compared += 1
    assert compared == 21


@pytest.mark.parametrize(
    ("code", "value", "unit", "cell"),
    [
        ("8302-2", 63.78, "[in_i]", ("height_cm", "162.0012")),  # 63.78 x 2.54
        ("8302-2", 1.62, "m", ("height_cm", "162")),
        ("8302-2", 1620, "mm", ("height_cm", "162")),
        ("29463-7", 154, "[lb_av]", ("weight_kg", "69.8532")),  # 154 x 0.45359237
        ("29463-7", 70000, "g", ("weight_kg", "70")),
    ],
)
def test_sizes_in_other_units(code: str, value: float, unit: str, cell: tuple[str, str]) -> None:
    size = observed(concept(code, LOINC), "size", valueQuantity=amount(value, unit))
    raw_log = raw_log_of(night(size))
    name, text = cell
    assert raw_log.patients[-1].cells[name] == text
    assert [each.code for each in raw_log.findings] == ["fhir-converted"]


@pytest.mark.parametrize(
    ("unit", "value", "cell"),
    [
        ("mL", 1100, "1100"),
        ("ml", 1100, "1100"),
        ("cm3", 1100, "1100"),
        ("L", 1.1, "1100"),
        ("l", 1.1, "1100"),
        ("dL", 11, "1100"),
        ("mL{best}", 1100, "1100"),
    ],
)
def test_volumes(unit: str, value: float, cell: str) -> None:
    assert (
        raw_log_of(night(exercise(volume=amount(value, unit)))).entries[0].cells["volume_ml"]
        == cell
    )


@pytest.mark.parametrize(
    ("value", "cell"), [(98.6, "37"), (100.4, "38"), (100.3, "37.9444"), (-40, "-40")]
)
def test_temperatures_in_fahrenheit(value: float, cell: str) -> None:
    warm = observed(concept("8310-5", LOINC), "t", valueQuantity=amount(value, "[degF]"))
    assert raw_log_of(night(warm)).entries[0].cells["temp_c"] == cell


@pytest.mark.parametrize("unit", ["/min", "1/min", "{beats}/min", "{Beats}/min"])
def test_rates(unit: str) -> None:
    rate = observed(concept("8867-4", LOINC), "p", valueQuantity=amount(92, unit))
    assert raw_log_of(night(rate)).entries[0].cells["pulse"] == "92"


@pytest.mark.parametrize("unit", ["{score}", "1"])
def test_a_score(unit: str) -> None:
    pain = observed(concept("72514-3", LOINC), "p", valueQuantity=amount(4, unit))
    assert raw_log_of(night(pain)).entries[0].cells["pain"] == "4"


REFUSED = (
    *(
        "uL",
        "nL",
        "cL",
        "kL",
        "hL",
        "m3",
        "dm3",
        "mm3",
        "[foz_us]",
        "[pt_us]",
        "[qt_us]",
        "[gal_us]",
    ),
    *("[cup_us]", "ML", "mls", "cc", "mL/s", "L/min", "mL/kg", "g", "kg", "%", "1", "{score}", "s"),
    *("cm[H2O]", "mm[Hg]", "Cel", "K", "/min", "", "{mL}", "mL mL", "milliliter"),
)


@pytest.mark.parametrize("unit", REFUSED)
def test_any_other_unit_of_a_volume_is_refused(unit: str) -> None:
    raw_log = raw_log_of(night(exercise(volume=amount(1100, unit))))
    assert "volume_ml" not in raw_log.entries[0].cells
    assert [each.code for each in raw_log.findings] == ["fhir-unit"]
    assert raw_log.entries[0].lost["volume_ml"].place.at == "Observation/row.valueQuantity"


@pytest.mark.parametrize(
    "written", ["1e400", "1" * 40, "1e-99", "0.1e9999999999", '"1100"', "true"]
)
def test_a_number_of_absurd_length_is_none(written: str) -> None:
    text = json.dumps(night(exercise())).replace('"value": 1100', f'"value": {written}')
    assert [each.code for each in raw_log_of(text).findings] == ["fhir-no-value"]


def test_a_number_is_kept_as_it_is_written() -> None:
    for written, cell in (("1100.0", "1100.0"), ("1.1e3", "1100"), ("11E2", "1100")):
        text = json.dumps(night(exercise())).replace('"value": 1100', f'"value": {written}')
        assert raw_log_of(text).entries[0].cells["volume_ml"] == cell

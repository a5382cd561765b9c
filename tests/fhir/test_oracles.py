"""What judges the resources can find what is wrong: each broken one, by the oracles that say so."""

import pytest

from tests.support.broken_resources import BROKEN
from tests.support.fhir_oracles import ORACLES, all_find


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_resource_is_found_by_these_oracles(name: str) -> None:
    broken = BROKEN[name]
    resource = broken.made()
    assert all_find(resource) == []
    broken.breaks(resource)
    assert {oracle for oracle, find in ORACLES.items() if find(resource)} == broken.found_by


def test_no_oracle_is_enough_and_none_is_too_many() -> None:
    found = {name for name, each in BROKEN.items() if each.found_by}
    assert len(BROKEN) - len(found) == 2
    for oracle in ORACLES:
        alone = [name for name, each in BROKEN.items() if each.found_by == {oracle}]
        assert alone, oracle

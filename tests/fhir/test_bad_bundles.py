"""What can be wrong with a Bundle is found, by resource and element."""

import pytest

from handoff.model.findings import text
from tests.support.bad_bundles import BAD_BUNDLES
from tests.support.bundles import WARD, bundle, checked, exercise, found_in, night


@pytest.mark.parametrize("code", BAD_BUNDLES)
def test_each_finding_is_where_the_fault_is(code: str) -> None:
    bad = BAD_BUNDLES[code]
    _, findings = checked(bad.content)
    of_exchange = tuple(each for each in findings if each.code.startswith("fhir-"))
    assert found_in(of_exchange) == bad.found, [text(each) for each in findings]


def test_the_same_night_without_a_fault_has_no_finding() -> None:
    for good in (bundle(*WARD), night(exercise())):
        log, findings = checked(good)
        assert log is not None
        assert findings == ()


@pytest.mark.parametrize("code", BAD_BUNDLES)
def test_what_is_read_is_used_or_set_aside(code: str) -> None:
    log, _ = checked(BAD_BUNDLES[code].content)
    if log is not None:
        assert log.counts.read == log.counts.used + log.counts.set_aside

"""What is the same on a server though it is written in another way, and what is not."""

from typing import Any

import pytest

from handoff.fhir.client import Client
from handoff.fhir.json_text import Num
from handoff.fhir.same import difference

PATH_OF = Client("https://record.example/fhir").path_of
OURS: dict[str, Any] = {
    "resourceType": "Observation",
    "status": "final",
    "identifier": [{"system": "s", "value": "v"}],
    "subject": {"reference": "Patient/p1"},
    "effectiveDateTime": "2026-03-07T01:10:00Z",
    "valueQuantity": {"value": Num("1150"), "code": "mL"},
    "note": [{"text": "007"}],
}


@pytest.mark.parametrize(
    "changed",
    [
        {"id": "r7", "meta": {"versionId": "3"}, "text": {"div": "<div/>"}},
        {"status": "corrected"},
        {"status": "amended"},
        {"identifier": [{"system": "s", "value": "v"}, {"system": "t", "value": "w"}]},
        {"subject": {"reference": "https://record.example/fhir/Patient/p1", "display": "Odile"}},
        {"subject": {"reference": "Patient/p1/_history/4"}},
        {"effectiveDateTime": "2026-03-06T21:10:00-04:00"},
        {"effectiveDateTime": "2026-03-07T01:10:00.000Z"},
        {"valueQuantity": {"value": Num("1150.0"), "code": "mL", "unit": "mL"}},
    ],
)
def test_another_way_to_write_the_same_is_no_difference(changed: dict[str, Any]) -> None:
    assert difference(OURS, {**OURS, **changed}, PATH_OF) is None


@pytest.mark.parametrize(
    ("changed", "found"),
    [
        ({"status": "cancelled"}, "status: cancelled, here final"),
        (
            {"subject": {"reference": "Patient/p2"}},
            "subject.reference: Patient/p2, here Patient/p1",
        ),
        (
            {"subject": {"reference": "https://other.example/fhir/Patient/p1"}},
            "subject.reference: https://other.example/fhir/Patient/p1, here Patient/p1",
        ),
        (
            {"effectiveDateTime": "2026-03-07T01:10:00-04:00"},
            "effectiveDateTime: 2026-03-07T01:10:00-04:00, here 2026-03-07T01:10:00Z",
        ),
        ({"valueQuantity": {"value": Num("1151")}}, "valueQuantity.value: 1151, here 1150"),
        ({"valueQuantity": {"value": Num("1150")}}, "valueQuantity.code: nothing, here mL"),
        ({"note": [{"text": "7"}]}, "note[0].text: 7, here 007"),
        ({"note": []}, "note"),
        ({"note": None}, "note"),
        ({"component": []}, "component, which is not here"),
    ],
)
def test_what_says_something_else_is_named(changed: dict[str, Any], found: str) -> None:
    assert difference(OURS, {**OURS, **changed}, PATH_OF) == found

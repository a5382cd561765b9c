"""Files that are made to do harm, or are no Bundle at all: one clear line, and no fault.

Oracle: the official examples of HL7 FHIR 4.0.1, alone and mangled.
"""

import json
import re
import sys
from random import Random
from typing import Any

import pytest

from handoff.compose.export import set_aside_csv
from handoff.model.findings import text
from handoff.model.ward import Log
from tests.support.bad_bundles import BAD_BUNDLES
from tests.support.bundles import (
    WARD,
    as_text,
    bundle,
    checked,
    exercise,
    night,
    patient,
    raw_log_of,
    saturation,
    to,
)
from tests.support.examples import examples
from tests.support.mangled import mangled

OPTIONS = {
    "unit": "Harbour 3 East",
    "time_zone": "America/Halifax",
    "shift": "2026-03-07T19:00/2026-03-08T07:00",
}
ONE = json.dumps(night(exercise()))


@pytest.mark.parametrize(
    ("content", "code"),
    [
        ("[" * 100_000 + "]" * 100_000, "fhir-nesting"),
        ('{"a":' * 100_000, "fhir-nesting"),
        (ONE.replace("1100", "NaN"), "fhir-json-constant"),
        (ONE.replace("1100", "-Infinity"), "fhir-json-constant"),
        (ONE.replace('"id": "odile"', '"id": "odile", "id": "rosa"'), "fhir-repeated-name"),
        (ONE.replace("Odile", "Odile \\ud800"), "fhir-json"),
        (ONE.replace("Odile", "Odile \\udc00\\ud800"), "fhir-json"),
        (ONE.replace("Odile", "Odile\n"), "fhir-json"),
        (ONE.replace("Odile", "\\"), "fhir-json"),
        (ONE[: len(ONE) // 2], "fhir-json"),
        (ONE + ONE, "fhir-json"),
        ('{"a":"' + '\\"' * 50_000, "fhir-json"),
        ("<Bundle xmlns='http://hl7.org/fhir'/>", "fhir-not-a-bundle"),
        ("<!DOCTYPE html><title>Log in</title>", "fhir-not-a-bundle"),
        ("null", "fhir-not-a-bundle"),
        ("[]", "fhir-not-a-bundle"),
        ('"Bundle"', "fhir-not-a-bundle"),
        ("7", "fhir-not-a-bundle"),
        ("{}", "fhir-not-a-bundle"),
        ('{"resourceType": "Bundle"}', "fhir-bundle-type"),
        ('{"resourceType": "Bundle", "type": "collection", "entry": {}}', "fhir-shape"),
    ],
)
def test_what_is_no_bundle_to_read_is_one_clear_line(content: str, code: str) -> None:
    log, findings = checked(content)
    assert log is None
    [found] = [each for each in findings if each.code.startswith("fhir-")]
    assert found.code == code
    line = text(found)
    assert "\n" not in line
    assert len(line) < 400


def test_whole_pairs_and_letters_of_all_languages_are_read() -> None:
    log, _ = checked(night(patient(name=[{"text": "Łarkspur, Ödile 😀"}]), exercise()))
    assert log is not None
    escaped = json.dumps(night(exercise(note=[{"text": "well 😀"}])))  # an escaped pair
    log, findings = checked(escaped)
    assert findings == ()
    assert log is not None
    assert log.entries[0].note == "well 😀"


@pytest.mark.parametrize("own_id", ["a b", "../x", "\u202e", "x" * 65, "", "é"])
def test_an_id_that_is_none_never_stands_in_a_place(own_id: str) -> None:
    raw_log = raw_log_of(night(exercise(own_id, status="finished")))
    assert {each.place.at for each in raw_log.findings} == {"Bundle.entry[6].status"}


def test_numbers_of_millions_of_digits_are_lost_and_nothing_more() -> None:
    raw_log = raw_log_of(ONE.replace("1100", "1" * 1_000_000))
    assert [each.code for each in raw_log.findings] == ["fhir-no-value"]
    assert raw_log.entries[0].cells["breaths"] == "8"


def assert_is_a_result(document: Any) -> Log | None:
    """A log or findings, that can be shown, and that count every row."""
    log, findings = checked(json.dumps(document), None, **OPTIONS)
    assert log is not None or findings
    for each in findings:
        assert each.place.file
        json.dumps(each.as_json()).encode()
        assert "\n" not in text(each)
    if log is not None:
        assert log.counts.read == log.counts.used + log.counts.set_aside
        set_aside_csv([log])
    assert_adds_up(document)
    return log


def assert_adds_up(document: Any) -> None:
    """The fates of all resources are as many as there are resources."""
    for each in raw_log_of(document, None).findings:
        if each.code == "fhir-other-resources":
            counted = re.findall(r"[0-9,]*[0-9]", each.message.partition("(")[0])
            read, *fates = (int(number.replace(",", "")) for number in counted)
            assert len(fates) == 6
            assert read == sum(fates), each.message


def test_every_official_example_gives_a_result() -> None:
    assert len(examples()) == 160
    for document in examples():
        assert_is_a_result(document)


def test_mangled_bundles_give_a_result(request: pytest.FixtureRequest) -> None:
    bad = [each.content for each in BAD_BUNDLES.values() if isinstance(each.content, dict)]
    wards = [night(exercise(hasMember=[to("Observation/spo2")]), saturation()), *bad]
    for seed in range(request.config.getoption("--mutations") // 2):
        random = Random(seed)
        of_standard = [each for each in examples() if len(each["entry"]) == 1]
        document = random.choice(wards if seed % 4 else of_standard)
        assert_is_a_result(mangled(document, random))


def calls_to_read(rows: int) -> int:
    """Python calls that reading so many rows takes."""
    resources = [
        each
        for number in range(rows)
        for each in (
            exercise(f"row-{number}", hasMember=[to(f"Observation/spo2-{number}")]),
            saturation(94, f"spo2-{number}"),
            saturation(93, f"alone-{number}"),
        )
    ]
    document = as_text(bundle(*WARD, *resources))
    calls = 0

    def count(_frame: object, event: str, _argument: object) -> None:
        nonlocal calls
        calls += event == "call"

    sys.setprofile(count)
    try:
        raw_log_of(document)
    finally:
        sys.setprofile(None)
    return calls


def test_reading_takes_steps_that_grow_with_the_bundle() -> None:
    few, many = calls_to_read(50), calls_to_read(200)
    assert many < 4.2 * few

"""What can be wrong with a Bundle is found, by resource and element."""

from pathlib import Path

import pytest

from handoff.cli.main import main
from handoff.cli.outcome import DONE, DONE_WITH_ERRORS, NOTHING_PRODUCED, lines
from handoff.model.findings import text
from tests.support.bad_bundles import BAD_BUNDLES
from tests.support.bundles import (
    LOINC,
    NUMBERS,
    WARD,
    amount,
    as_text,
    bed,
    bundle,
    checked,
    concept,
    exercise,
    found_in,
    night,
    observed,
    order,
    patient,
    shift,
    stay,
    ward,
)


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


def test_many_of_a_kind_share_a_line_that_names_resources() -> None:
    rows = [exercise(f"row-{number}", volume=amount(1.1, "L")) for number in range(6)]
    for number, row in enumerate(rows):
        row["effectiveDateTime"] = f"2026-03-07T19:4{number}:00-04:00"
    [line] = lines(list(checked(night(*rows))[1]))
    assert line.endswith(
        "Likewise at Observation/row-1.valueQuantity, Observation/row-2.valueQuantity, "
        "Observation/row-3.valueQuantity and 2 more; handoff check --every shows each."
    )


def test_what_a_bundle_does_not_say_at_all_is_said_of_the_bundle() -> None:
    _, findings = checked(bundle(patient()))
    assert {text(each).partition(":")[0] for each in findings if each.code == "missing-shift"} == {
        "night.json Bundle shift_start",
        "night.json Bundle shift_end",
    }


def test_the_command_line_takes_the_system_of_numbers_and_the_units_codes(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    numbers = [{"system": NUMBERS, "value": "10442"}, {"system": "urn:oid:2.999.7", "value": "A"}]
    measured = observed(concept("19852-3", LOINC), "lab", valueQuantity=amount(1300, "mL"))
    parts = bundle(ward(), shift(), patient(identifier=numbers), bed(), stay(), order(), measured)
    log, codes = tmp_path / "night.json", tmp_path / "codes.yaml"
    log.write_text(as_text(parts), encoding="utf-8")
    codes.write_text("concepts: {exercise: {read: [loinc 19852-3]}}\n", encoding="utf-8")
    assert main(["check", str(log)]) == DONE_WITH_ERRORS
    assert "has no number marked MR" in capsys.readouterr().out
    given = ["--patient-system", NUMBERS, "--fhir-codes", str(codes)]
    assert main(["check", str(log), *given]) == DONE
    assert capsys.readouterr().out == "1 read, 1 used, 0 set aside\n"
    codes.write_text("concepts: {pulse: {read: [loinc 9279-1]}}\n", encoding="utf-8")
    assert main(["check", str(log), *given]) == NOTHING_PRODUCED
    assert "this code already means `resp-rate`" in capsys.readouterr().out

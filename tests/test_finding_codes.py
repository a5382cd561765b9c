"""Every code of a finding is printed by `handoff codes`, and something triggers it."""

import re
from functools import cache

import pytest

from handoff.cli.main import main
from handoff.model.codes import CODES
from handoff.model.findings import Finding
from tests.fhir.bad_sendings import SEND_CODES
from tests.fhir.bad_servers import SERVER_CODES
from tests.support.bad_bundles import BAD_BUNDLES
from tests.support.bad_logs import BAD_HANDOVERS, BAD_LOGS
from tests.support.bad_units_own_files import BAD_CODES, BAD_LIMITS, BAD_WORDS
from tests.support.finding_codes import findings_by_code
from tests.support.logs import found_in

WITHOUT_A_FILE = {
    "no-permission": [(None, None, "no-permission")],
    "file-too-large": [(None, None, "file-too-large")],
    "too-many-rows": [(8, None, "too-many-rows")],
    "bad-file-name": [(None, None, "bad-file-name")],
    "same-file": [(None, None, "same-file"), (14, "at", "not-a-time")],
    "fhir-not-written": [(8, None, "fhir-not-written")],
    "two-versions": [(None, None, "two-versions")],
    "older-version": [(None, None, "older-version")],
    "missing-words": [(None, "language.english_name", "missing-words")],
    "no-such-language": [(None, None, "no-such-language")],
    "words-not-translated": [(None, "discharge.title", "words-not-translated")],
    "time-shared": [(None, None, "time-shared")],
    "no-shift-in-period": [(None, None, "no-shift-in-period")],
    "letters-not-in-font": [(1000, None, "letters-not-in-font")],
    "time-of-the-page": [(None, None, "time-of-the-page")],
    "entry-again": [(None, None, "entry-again")],
    "volume-over-scale": [(None, None, "volume-over-scale")],
    "volume-far-over-best": [(None, None, "volume-far-over-best")],
    "mended-row": [(2, None, "mended-row")],
    "mended-row-twice": [(2, None, "mended-row-twice"), (2, None, "mended-row")],
    "mended-row-in-doubt": [(2, None, "mended-row-in-doubt"), (14, "at", "not-a-time")],
}


@cache
def findings() -> dict[str, list[Finding]]:
    return findings_by_code()


def test_every_code_of_the_program_has_something_that_triggers_it() -> None:
    assert set(findings()) == set(CODES)
    of_files = [*BAD_LOGS, *BAD_BUNDLES, *BAD_HANDOVERS, *BAD_LIMITS, *BAD_CODES, *BAD_WORDS]
    of_tests = [*of_files, *SERVER_CODES, *SEND_CODES, *WITHOUT_A_FILE]
    assert sorted(of_tests) == sorted(findings())


@pytest.mark.parametrize("code", [*BAD_LIMITS, *BAD_CODES, *BAD_WORDS])
def test_what_is_wrong_in_a_units_own_file_is_found_where_it_stands(code: str) -> None:
    bad = (BAD_LIMITS | BAD_CODES | BAD_WORDS)[code]
    others = [each for each in found_in(findings()[code]) if each[2] != "limits-not-approved"]
    assert (others or found_in(findings()[code])) == bad.found


@pytest.mark.parametrize("code", WITHOUT_A_FILE)
def test_what_takes_more_than_a_log_is_found_where_it_stands(code: str) -> None:
    assert found_in(findings()[code]) == WITHOUT_A_FILE[code]


def test_the_command_prints_every_code_with_its_severity(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["codes"]) == 0
    printed = re.findall(
        r"^([a-z-]+) \((error|warning|note)\)$", capsys.readouterr().out, re.MULTILINE
    )
    found = {
        code: next(each.severity for each in findings()[code] if each.code == code)
        for code in findings()
    }
    assert dict(printed) == found
    assert len(printed) == len(found)


def test_the_command_prints_the_words_of_a_code(capsys: pytest.CaptureFixture[str]) -> None:
    main(["codes"])
    printed = " ".join(capsys.readouterr().out.split())
    assert "too-many-rows (error) this file has more than {most} rows, which no log" in printed
    assert "Write it as - {patient: ..., at: ..., breaths: ...}." in printed

"""A patient's language, as somebody writes it in a log."""

import pytest

from handoff.log.cell import BadCell, Doubtful
from handoff.log.languages import PATIENT_PAGE, languages_with, read_language
from tests.support.full_log import FULL
from tests.support.logs import log_of

KNOWN = languages_with(PATIENT_PAGE)


def test_there_are_words_in_these_languages() -> None:
    assert KNOWN == ("ar", "de", "en", "es", "fr", "pl", "pt", "uk", "vi")


@pytest.mark.parametrize("code", ["es", "ES", "pt-BR", "pt_br", "es-419", "ar-Arab-EG"])
def test_a_code_with_its_region_or_script_is_read(code: str) -> None:
    assert read_language(code, KNOWN) == code.replace("_", "-")


@pytest.mark.parametrize(
    ("written", "meant"),
    [("Spanish", "es"), ("español", "es"), ("POLISH", "pl"), ("العربية", "ar"), ("Klingon", None)],
)
def test_the_name_of_a_language_is_no_code_and_the_finding_says_which_is(
    written: str, meant: str | None
) -> None:
    with pytest.raises(BadCell) as raised:
        read_language(written, KNOWN)
    assert (raised.value.code, raised.value.words["hint"]) == ("not-a-language", meant)


def test_a_language_without_words_is_kept_with_a_warning_that_says_which_there_are() -> None:
    read = read_language("so", KNOWN)
    assert isinstance(read, Doubtful)
    assert read.value == "so"
    (doubt,) = read.doubts
    assert (doubt.code, doubt.words["codes"]) == ("no-words-in-language", ", ".join(KNOWN))


def test_norwegian_is_a_language_and_no_negation() -> None:
    log = log_of(FULL.replace("language: es", "language: no"))
    assert log.patients[0].language == "no"
    assert [each.code for each in log.findings if each.field == "language"] == [
        "no-words-in-language"
    ]


def test_two_rows_that_disagree_make_it_not_known() -> None:
    table = (
        "unit,time_zone,shift_start,shift_end,patient_id,name,born,bed,language,at,breaths\n"
        "Harbour,UTC,2026-03-07 07:00,2026-03-07 19:00,1,Larkspur,1958-04-02,1A,es,08:00,5\n"
        ",,,,1,Larkspur,1958-04-02,1A,pl,09:00,5\n"
    )
    log = log_of(table, "day.csv")
    assert log.patients[0].language is None
    assert "patient-disagrees" in [each.code for each in log.findings]

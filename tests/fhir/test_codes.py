"""The codes of the exchange, and a unit's own file over them."""

from pathlib import Path

from handoff.fhir.codes import Codes, load_codes
from handoff.log.fields import ABOUT, BY_NAME, Section, fields_of
from handoff.model.ward import Flow, Position, Symptom

LOINC = "http://loinc.org"
SPIROMETRY = "19852-3"


def codes(tmp_path: Path | None = None, text: str = "") -> Codes:
    file = tmp_path and tmp_path / "codes.yaml"
    if file:
        file.write_text(text, encoding="utf-8")
    loaded, findings = load_codes(str(file) if file else None)
    assert loaded is not None, findings
    return loaded


def test_the_words_of_the_log_are_those_of_its_contract() -> None:
    words = codes().words
    assert words["about"] == ABOUT
    assert words["symptom"] == tuple(map(str, Symptom))
    assert words["position"] == tuple(map(str, Position))
    assert words["flow"] == tuple(str(each) for each in Flow if each is not Flow.UNREADABLE)
    assert words["cell"] == tuple(each.name for each in fields_of(Section.ENTRY))
    assert words["yes-no"] == BY_NAME[Section.ENTRY, "on_oxygen"].choices


def test_every_word_is_found_again_by_its_code() -> None:
    known = codes()
    for group, words in known.words.items():
        for word in words:
            [coding] = known.concept_of_word(group, word)["coding"]
            assert known.word(group, known.name_of(coding["system"], coding["code"])) == word


def test_every_concept_is_found_again_by_each_of_its_codes_and_no_result_is() -> None:
    known = codes()
    for name in known.concepts:
        for coding in known.concept(name)["coding"]:
            assert known.name_of(coding["system"], coding["code"]) == name
    for name in known.results:
        for coding in known.concept(name)["coding"]:
            assert known.name_of(coding["system"], coding["code"]) is None


def test_a_code_is_known_in_its_own_system_only() -> None:
    assert codes().name_of(LOINC, "8867-4") == "pulse"
    assert codes().name_of("http://snomed.info/sct", "8867-4") is None
    assert codes().name_of(None, "8867-4") is None
    assert codes().name_of(["http://loinc.org"], {}) is None


def test_capacity_by_spirometry_is_off_until_a_unit_adds_it(tmp_path: Path) -> None:
    assert codes().name_of(LOINC, SPIROMETRY) is None
    only_read = codes(tmp_path, f"concepts: {{exercise: {{read: [loinc {SPIROMETRY}]}}}}\n")
    assert only_read.name_of(LOINC, SPIROMETRY) == "exercise"
    assert [each["code"] for each in only_read.concept("exercise")["coding"]] == ["exercise"]
    only_written = codes(tmp_path, f"concepts: {{exercise: {{write: [loinc {SPIROMETRY}]}}}}\n")
    assert only_written.name_of(LOINC, SPIROMETRY) is None
    assert [each["code"] for each in only_written.concept("exercise")["coding"]] == [SPIROMETRY]


def test_a_system_of_a_units_own_is_named_by_its_address(tmp_path: Path) -> None:
    own = codes(tmp_path, "concepts: {pain: {read: [https://hospital.example/codes pain]}}\n")
    assert own.name_of("https://hospital.example/codes", "pain") == "pain"

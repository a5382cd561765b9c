"""The table of the exchange is what the code does, field by field and element by element."""

import re
from pathlib import Path

from handoff.fhir.codes import load_codes
from handoff.log.fields import FIELDS
from handoff.model.ward import What
from tests.support.full_log import FULL
from tests.support.logs import ROOT, log_of
from tests.support.written_bundles import bundle_of, default_codes, resources

TABLE = (ROOT / "handoff" / "fhir" / "mapping.md").read_text(encoding="utf-8")
SENT_ONLY = "## Results, for sending only"

# Elements that say whose a resource is, what it is and where it belongs, not what a field holds.
OF_EVERY_RESOURCE = {"resourceType", "identifier", "status", "subject", "code", "category"}
OF_A_FIELD_TOO = {
    *(("Observation", "code"), ("Flag", "code"), ("Patient", "identifier")),
    *((each, "status") for each in ("Procedure", "Communication", "ServiceRequest")),
}
OF_SOME = {
    *("Location.physicalType", "Location.partOf", "Encounter.class", "Observation.hasMember"),
    *("Observation.basedOn", "Observation._effectiveDateTime", "ServiceRequest.intent"),
    *("Goal.lifecycleStatus", "Goal.description", "Goal.addresses", "DeviceUseStatement.device"),
    *("Procedure.reasonReference", "Communication.about"),
}


def rows(text: str) -> list[list[str]]:
    lines = [line for line in text.splitlines() if line.startswith("| ")]
    cells = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]
    return [each for each in cells if each[0] not in {"field", "what"}]


def elements_in(text: str) -> set[str]:
    return set(re.findall(r"`([A-Z]\w+\.\w+)`", text))


def written() -> set[str]:
    return {
        f"{resource['resourceType']}.{element}"
        for resource in resources(bundle_of(log_of(FULL)))
        for element in resource
        if element not in OF_EVERY_RESOURCE
    }


def test_every_field_of_the_log_has_a_row() -> None:
    named = [name for row in rows(TABLE) for name in re.findall(r"`(\w+)`", row[0])]
    assert {each.name for each in FIELDS} == set(named)
    assert {name for name in named if named.count(name) > 1} == {"what"}


def test_every_kind_of_row_has_one() -> None:
    kinds = [row[0].split(": ")[1].split(" →")[0] for row in rows(TABLE) if "`what`:" in row[0]]
    named = {kind for each in kinds for kind in each.split(", ")}
    assert named == {str(each) for each in What if each is not What.SEEN}


def test_every_element_of_the_table_is_written_and_no_other() -> None:
    before, _, after = TABLE.partition(SENT_ONLY)
    full = written()
    named = elements_in(before)
    assert named - full == {f"{kind}.{each}" for kind, each in OF_A_FIELD_TOO}
    assert full - named == OF_SOME & full
    assert elements_in(after) <= {
        *("Observation.valueQuantity", "DocumentReference.content", "Flag.code")
    }


def test_every_code_of_our_own_in_the_table_is_one() -> None:
    codes = default_codes()
    words = {
        each if group == "yes-no" else f"{group}-{each.replace('_', '-')}"
        for group, of_group in codes.words.items()
        for each in of_group
    }
    known = {*codes.concepts, *codes.results, *words, "x"}
    assert set(re.findall(r"own:([\w-]+)", TABLE)) - known == set()


def test_every_code_of_a_standard_in_the_table_is_one_that_is_written() -> None:
    numbers = set(re.findall(r"\b(\d{3,}-\d|\d{8,})\b", TABLE))
    standard = {
        coding.code
        for concept in (*default_codes().concepts.values(), *default_codes().results.values())
        for coding in concept.write
        if coding.system != default_codes().systems["own"]
    }
    assert numbers == standard - {"85353-1"}


def test_every_unit_in_the_table_is_the_one_of_its_codes() -> None:
    codes = default_codes()
    of_concepts = {each.unit for each in codes.concepts.values() if each.unit}
    named = {unit for row in rows(TABLE) for unit in row[2].split(", ") if unit}
    assert named == {*of_concepts, "h", "mL/d"}


def test_the_file_of_codes_that_it_shows_is_read(tmp_path: Path) -> None:
    (tmp_path / "codes.yaml").write_text(
        TABLE.split("```")[1].removeprefix("yaml"), encoding="utf-8"
    )
    codes, findings = load_codes(str(tmp_path / "codes.yaml"))
    assert codes is not None
    assert findings == []
    assert codes.name_of("https://record.example/flags", "FALL") == "precautions"

"""Rows of a Bundle that were set aside are mended in `set-aside.csv`, named by their resource."""

import csv
import io
import json
from pathlib import Path

import pytest

from handoff.check.header import Options
from handoff.compose.export import set_aside_csv
from handoff.model.ward import Handover
from handoff.read import Exchange
from tests.support.bundles import NUMBERS, WARD, Resource, amount, bundle, exercise, night, stay, to
from tests.support.logs import NOW, read_handovers

OPTIONS = Options(None, None, None, None, NOW, exchange=Exchange(NUMBERS))


@pytest.fixture(autouse=True)
def _in_a_folder_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def handed_over(document: Resource, mended: str = "", name: str = "night.json") -> Handover:
    Path(name).write_text(json.dumps(document), encoding="utf-8")
    logs = [name]
    if mended:
        Path("set-aside.csv").write_text(mended, encoding="utf-8")
        logs.append("set-aside.csv")
    (handover,), _ = read_handovers(logs, OPTIONS, None)
    return handover


def rows_set_aside(handover: Handover) -> list[dict[str, str]]:
    content = set_aside_csv(handover.logs).decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(content, newline="")))


def as_csv(rows: list[dict[str, str]]) -> str:
    out = io.StringIO()
    writer = csv.DictWriter(out, list(rows[0]))
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def contents(handover: Handover) -> list[object]:
    return sorted((each.content for log in handover.logs for each in log.entries), key=repr)


def test_a_mended_row_of_a_bundle_is_as_if_it_had_been_right() -> None:
    right = exercise("o-17", volume=amount(1300, "mL"))
    wrong = {**right, "effectiveDateTime": "2026-03-07"}
    handover = handed_over(night(exercise("o.17"), wrong))
    [row] = rows_set_aside(handover)
    assert row["set_aside_from"] == "night.json Observation/o-17"
    mended = as_csv([{**row, "at": "2026-03-07T19:40:00-04:00"}])
    after = handed_over(night(exercise("o.17"), wrong), mended)
    assert contents(after) == contents(handed_over(night(exercise("o.17"), right), name="r.json"))
    assert after.counts.set_aside == 0
    assert after.counts.read == 2


def test_a_row_of_nobody_is_given_its_patient() -> None:
    document = night(exercise("o-17", subject=to("Patient/somebody")))
    [row] = rows_set_aside(handed_over(document))
    assert "patient_id" not in row or row["patient_id"] == ""
    after = handed_over(document, as_csv([{**row, "patient_id": "10442"}]))
    assert [each.patient_id for log in after.logs for each in log.entries] == ["10442"]
    assert "fhir-patient-unresolved" not in {x.code for log in after.logs for x in log.findings}


def test_a_row_that_was_not_mended_stays_set_aside_and_is_counted_once() -> None:
    document = night(exercise("o-17", subject=to("Patient/somebody")))
    rows = rows_set_aside(handed_over(document))
    after = handed_over(document, as_csv(rows))
    assert (after.counts.used, contents(after)) == (0, [])


def test_ids_that_differ_in_case_alone_are_two_rows() -> None:
    wrong = [exercise(own_id, effectiveDateTime="2026-03-07") for own_id in ("o-17", "O-17")]
    rows = rows_set_aside(handed_over(night(*wrong)))
    assert len(rows) == 2
    of_second = [each for each in rows if each["set_aside_from"].endswith("O-17")]
    mended = [{**each, "at": "2026-03-07T20:00:00-04:00"} for each in of_second]
    after = handed_over(night(*wrong), as_csv(mended))
    assert [each.raw["at"] for log in after.logs for each in log.entries] == [
        "2026-03-07T20:00:00-04:00"
    ]
    assert [str(each.place) for log in after.logs for each in log.set_aside] == [
        "night.json Observation/o-17"
    ]


def test_a_bed_that_was_set_aside_is_given_back() -> None:
    nowhere = bundle(*WARD[:4], stay(to("Patient/somebody")), exercise())
    [row] = rows_set_aside(handed_over(nowhere))
    assert row["set_aside_from"] == "night.json Encounter/stay"
    after = handed_over(nowhere, as_csv([{**row, "patient_id": "10442", "bed": "12A"}]))
    assert [each.bed for each in after.patients] == ["12A"]


def test_a_resource_without_an_id_is_named_by_its_entry() -> None:
    wrong = exercise(effectiveDateTime="2026-03-07")
    del wrong["id"]
    document = night(wrong)
    [row] = rows_set_aside(handed_over(document))
    assert row["set_aside_from"] == "night.json Bundle.entry[6]"
    after = handed_over(document, as_csv([{**row, "at": "2026-03-07T20:00:00-04:00"}]))
    assert len(contents(after)) == 1

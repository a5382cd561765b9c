"""`measures.json`, `measures.csv` and `set-aside.csv`: the shape that other programs rely on."""

import csv
import io
import json
from dataclasses import replace
from typing import Any

from handoff.export import measures_csv, measures_json, set_aside_csv
from handoff.judge import judge
from handoff.measure import measure
from handoff.model import Handover
from tests.builders import default_limits, entry, handover, patient, set_aside

GIVEN = handover(
    entry("-1 20:00", volume_ml=1000),
    entry("09:00", volume_ml=1200, spo2=85),
    entry("09:30", what="told", note="Dr Quill"),
    patients=(patient(bed="2"), patient(id="007", bed="10", order=None)),
)


def exported(given: Handover) -> dict[str, Any]:
    measures = measure(given)
    verdicts = {each: judge(measures[each], given, default_limits()) for each in measures}
    document: dict[str, Any] = json.loads(measures_json(given, measures, verdicts))
    return document


def rows(given: Handover) -> list[dict[str, str]]:
    measures = measure(given)
    verdicts = {each: judge(measures[each], given, default_limits()) for each in measures}
    text = measures_csv(given, measures, verdicts).decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text)))


def test_the_document_has_the_parts_of_its_format() -> None:
    document = exported(GIVEN)
    assert list(document) == [
        *("format", "unit", "shift", "as_of", "counts", "patients", "findings")
    ]
    assert document["format"] == "handoff-measures/1"
    assert document["shift"] == {
        "start": "2026-05-12T07:00:00-03:00",
        "end": "2026-05-12T19:00:00-03:00",
        "hours": 12.0,
    }
    assert document["counts"] == {"read": 3, "used": 3, "set_aside": 0}


def test_a_patients_parts_have_the_names_of_their_definitions() -> None:
    (one, _) = exported(GIVEN)["patients"]
    assert set(one) == {
        *("id", "bed", "priority", "adherence", "volume", "trend", "goal", "reference"),
        "cautions",
    }
    assert set(one["adherence"]) == {
        *("percent", "percent_of_charted", "breaths_done", "breaths_due", "credited"),
        *("slots_due", "slots_met", "slots_uncharted", "slots"),
    }
    assert set(one["adherence"]["slots"][0]) == {"start", "end", "due", "done", "state"}
    assert set(one["volume"]) == {
        *("best_ml", "best_at", "previous_best_ml", "change_ml", "change_percent"),
        *("stay_best_ml", "stay_best_at", "first_ml", "readings", "off_form", "at_scale", "by_day"),
    }
    assert set(one["trend"]) == {"n", "span_h", "slope_ml_per_day", "low", "high", "direction"}
    assert set(one["goal"]) == {
        *("goal_ml", "source", "percent", "reached_at", "days_to_goal", "goal_over_scale")
    }
    assert one["volume"]["by_day"] == [{"date": "2026-05-12", "best_ml": 1200}]


def test_a_caution_cites_rows_and_when_it_was_told() -> None:
    (one, _) = exported(GIVEN)["patients"]
    caution = next(each for each in one["cautions"] if each["rule"] == "low-oxygen")
    assert caution == {
        "rule": "low-oxygen",
        "level": "escalate",
        "value": 85,
        "limit": 91.0,
        "source": caution["source"],
        "at": "2026-05-12T09:00:00-03:00",
        "entries": ["day.yaml:2"],
        "told_at": "2026-05-12T09:30:00-03:00",
    }
    assert "NEWS2" in caution["source"]


def test_a_patient_without_an_order_has_null_for_each_part() -> None:
    (_, other) = exported(GIVEN)["patients"]
    assert other == {
        "id": "007",
        "bed": "10",
        **dict.fromkeys(
            ("priority", "adherence", "volume", "trend", "goal", "reference", "cautions")
        ),
    }


def test_the_table_has_a_row_a_patient_and_keeps_leading_zeros() -> None:
    one, other = rows(GIVEN)
    assert one["volume.best_ml"] == "1200"
    assert one["cautions"].split()[0] == "low-oxygen"
    assert other["id"] == "007"
    assert other["volume.best_ml"] == ""


def test_set_aside_rows_keep_their_cells_and_say_where_and_why() -> None:
    row = replace(set_aside(line=14), raw={"patient_id": "10442", "note": "=cmd()"})
    text = set_aside_csv([row]).decode("utf-8-sig")
    (read,) = csv.DictReader(io.StringIO(text))
    assert read["patient_id"] == "10442"
    assert read["note"] == "'=cmd()"
    assert read["set_aside_from"] == "day.yaml:14"
    assert "not a time" in read["set_aside_because"]


def test_an_empty_set_aside_file_has_its_header() -> None:
    text = set_aside_csv([]).decode("utf-8-sig")
    assert text == "set_aside_from,set_aside_because\r\n"

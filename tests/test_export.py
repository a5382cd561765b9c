"""`measures.json`, `measures.csv` and `set-aside.csv`: the shape that other programs rely on."""

import csv
import io
import json
from typing import Any

from handoff.export import measures_csv, measures_json, set_aside_csv
from handoff.fields import CSV_NAMES
from handoff.judge import judge
from handoff.measure import measure
from handoff.model import Handover
from tests.bad_logs import EVENING, night
from tests.builders import default_limits, entry, handover, patient
from tests.logs import log_of

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


WRONG = """\
- {patient: "10442", at: soon, breaths: 8, note: "=cmd()"}
- {patient: "10999", at: 19:50, breaths: 8}
"""


def set_aside_rows(*texts: str) -> list[dict[str, str]]:
    logs = [log_of(text, f"{number}.yaml") for number, text in enumerate(texts)]
    text = set_aside_csv(logs).decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text)))


def test_set_aside_rows_keep_their_cells_and_say_where_and_why() -> None:
    row, stranger = set_aside_rows(night(WRONG))
    assert (row["patient_id"], row["at"], row["breaths"]) == ("10442", "soon", "8")
    assert row["note"] == "'=cmd()"
    assert row["set_aside_from"] == "0.yaml:14"
    assert "not a date and time" in row["set_aside_because"]
    assert (stranger["patient_id"], stranger["set_aside_from"]) == ("10999", "0.yaml:15")


def test_set_aside_rows_tell_of_their_own_unit_shift_and_patient() -> None:
    _, _, row, stranger = set_aside_rows(night(WRONG), night(WRONG, shift=EVENING))
    shift = {
        "unit": "Harbour 3 East",
        "time_zone": "America/Halifax",
        "quiet_hours": "22:00-06:00",
        "shift_start": "2026-03-07 07:00",
        "shift_end": "2026-03-07 19:00",
    }
    facts = {"name": "Larkspur, Odile", "born": "1958-04-02", "bed": "12A"}
    assert row == row | shift | facts | {"order_start": "2026-03-06 10:00", "order_breaths": "10"}
    assert stranger == stranger | shift | dict.fromkeys(facts, "")


def test_set_aside_rows_stand_in_the_order_of_their_files() -> None:
    many = "".join(f'- {{patient: "10442", at: soon, breaths: {n}}}\n' for n in range(12))
    rows = set_aside_rows(night(many), night(many))
    assert [row["set_aside_from"] for row in rows[:12]] == [f"0.yaml:{14 + n}" for n in range(12)]
    assert [row["breaths"] for row in rows[12:]] == [str(n) for n in range(12)]


def test_an_empty_set_aside_file_has_its_header() -> None:
    header, *rows = set_aside_csv([]).decode("utf-8-sig").splitlines()
    assert header.startswith("set_aside_because,set_aside_from,patient_id,at,until,what,about,")
    assert set(header.split(",")) == CSV_NAMES | {"set_aside_because", "set_aside_from"}
    assert rows == []

"""`measures.json`, `measures.csv` and `set-aside.csv`: the shape that other programs rely on."""

import csv
import io
import json
from typing import Any

from msgspec.structs import replace

from handoff.compose.export import measures_csv, measures_json, set_aside_csv
from handoff.log.fields import CSV_NAMES
from handoff.model.ward import Entry, Handover, Listing, Shift
from handoff.run.judged import judge_unit
from tests.support.bad_logs import EVENING, night
from tests.support.builders import (
    SHIFT,
    SHIFT_BEFORE,
    at,
    default_limits,
    entry,
    handover,
    order,
    patient,
)
from tests.support.logs import log_of

GIVEN = handover(
    entry("-1 20:00", volume_ml=1000),
    entry("09:00", volume_ml=1200, spo2=85),
    entry("09:30", what="told", about=("oxygen",), note="Dr Quill"),
    patients=(patient(bed="2"), patient(id="007", bed="10", order=None)),
)


def exported(given: Handover) -> dict[str, Any]:
    judged = judge_unit(given, default_limits())
    document: dict[str, Any] = json.loads(measures_json(given, judged.measures, judged.verdicts))
    return document


def rows(given: Handover) -> list[dict[str, str]]:
    judged = judge_unit(given, default_limits())
    text = measures_csv(given, judged.measures, judged.verdicts).decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text)))


def test_the_document_has_the_parts_of_its_format() -> None:
    document = exported(GIVEN)
    assert list(document) == [
        *("format", "unit", "shift", "as_of", "counts", "patients", "findings")
    ]
    assert document["format"] == "handoff-measures/2"
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
        *("cautions", "matters", "hold"),
    }
    assert set(one["adherence"]) == {
        *("percent", "percent_of_charted", "breaths_done", "breaths_due", "credited"),
        *("slots_due", "slots_met", "slots_uncharted", "slots"),
    }
    assert set(one["adherence"]["slots"][0]) == {"start", "end", "due", "done", "state"}
    assert set(one["volume"]) == {
        *("best_ml", "best_at", "previous_best_ml", "change_ml", "change_percent"),
        *("stay_best_ml", "stay_best_at", "first_ml", "readings", "off_form", "at_scale", "by_day"),
        *("usual_ml", "usual_readings"),
    }
    assert set(one["trend"]) == {
        *("n", "span_h", "slope_ml_per_day", "low", "high", "middle_at", "middle_ml", "direction")
    }
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
        **dict.fromkeys(("matters", "hold")),
    }


def test_the_table_has_a_row_a_patient_and_keeps_leading_zeros() -> None:
    one, other = rows(GIVEN)
    assert one["volume.best_ml"] == "1200"
    assert one["cautions"].split()[0] == "low-oxygen"
    assert other["id"] == "007"
    assert other["volume.best_ml"] == ""


# Matters and holds

LOW, FINE = {"spo2": 85, "on_oxygen": False}, {"spo2": 97, "on_oxygen": False}
TOLD = {"what": "told", "about": ("oxygen",), "note": "Dr Quill: mask"}


def of_two_shifts(*entries: Entry) -> Handover:
    """The day shift of a patient who was ordered before the night."""
    return handover(*entries, patients=(patient(order=order("-1 08:00")),))


def matters(*entries: Entry) -> list[dict[str, Any]]:
    (one,) = exported(of_two_shifts(*entries))["patients"]
    return list(one["matters"])


def states(*entries: Entry) -> list[tuple[str, str, str]]:
    return [(each["rule"], each["state"], each["level"]) for each in matters(*entries)]


def test_a_matter_says_what_was_seen_what_was_told_and_that_it_is_open() -> None:
    unclear = entry("-1 20:30", what="told", note="Dr Quill called back")
    (matter,) = matters(entry("-1 20:00", **LOW), unclear)
    assert matter == {
        "rule": "low-oxygen",
        "symptom": None,
        "sign": None,
        "opened_at": "2026-05-11T20:00:00-03:00",
        "last_at": "2026-05-11T20:00:00-03:00",
        "value": 85,
        "state": "open",
        "level": "escalate",
        "told": [],
        "about_unknown": [{"at": "2026-05-11T20:30:00-03:00", "note": "Dr Quill called back"}],
        "settled_at": None,
        "settled_by": None,
    }


def test_a_matter_that_was_met_again_has_its_worst_value_and_its_last_time() -> None:
    (matter,) = matters(entry("-1 20:00", **LOW), entry("09:00", spo2=88))
    assert (matter["value"], matter["opened_at"], matter["last_at"]) == (
        *(85, "2026-05-11T20:00:00-03:00", "2026-05-12T09:00:00-03:00"),
    )


def test_who_settled_a_matter_is_the_record_or_what_a_person_said() -> None:
    by_person = entry("09:00", what="settled", about=("oxygen",), note="Dr Quill: usual for her")
    by_whom = [
        [(each["settled_by"], each["settled_at"]) for each in matters(entry("08:00", **LOW), later)]
        for later in (entry("09:00", **FINE), by_person)
    ]
    nine = "2026-05-12T09:00:00-03:00"
    assert by_whom == [[("record", nine)], [("Dr Quill: usual for her", nine)]]


def test_what_was_told_stands_word_for_word_with_its_time() -> None:
    (matter,) = matters(entry("08:00", **LOW), entry("08:10", **TOLD))
    assert matter["told"] == [{"at": "2026-05-12T08:10:00-03:00", "note": "Dr Quill: mask"}]
    assert (matter["state"], matter["level"]) == ("told", "escalate")


def test_a_matter_that_is_told_and_settled_is_in_once_and_then_left_out() -> None:
    low, told = entry("-1 20:00", **LOW), entry("-1 20:10", **TOLD)
    assert states(low, told, entry("09:00", **FINE)) == [("low-oxygen", "closed", "note")]
    assert states(low, told, entry("-1 22:00", **FINE)) == []
    assert states(entry("08:00", **LOW), entry("08:10", **TOLD), entry("10:00", **FINE)) == [
        ("low-oxygen", "closed", "follow_up")
    ]


def test_a_matter_that_is_only_counted_any_more_stays_in() -> None:
    """Settled two hand-overs ago and never told: nobody has to be told, and nothing hides it."""
    once = states(entry("-1 20:00", **LOW), entry("-1 22:00", **FINE))
    assert once == [("low-oxygen", "settled", "follow_up")]
    (one,) = exported(counted())["patients"]
    assert [(each["state"], each["level"]) for each in one["matters"]] == [("settled", "note")]


def counted() -> Handover:
    """A shift two after the one in which a low value was met and settled."""
    given = of_two_shifts(entry("-2 20:00", **LOW), entry("-2 22:00", **FINE))
    listed = replace(given.patients[0], order=order("-2 08:00"))
    before = Shift(at("-2 19:00"), at("-1 07:00"))
    return replace(
        given,
        patients=(listed,),
        stay_start={listed.id: at("-2 08:00")},
        shifts=(before, *given.shifts),
    )


def test_two_matters_of_one_rule_are_told_apart_by_their_symptom() -> None:
    both = matters(entry("08:00", "faint"), entry("09:00", "chest_pain"))
    assert [(each["rule"], each["symptom"]) for each in both] == [
        ("faint-or-chest-pain", "chest_pain"),
        ("faint-or-chest-pain", "faint"),
    ]


def test_the_table_counts_the_matters_in_each_state() -> None:
    (row,) = rows(
        of_two_shifts(
            entry("-1 20:00", **LOW, resp_rate=30),
            entry("-1 20:10", **TOLD),
            entry("09:00", "faint", **FINE),
            entry("10:00", "drowsy"),
            entry("11:00", pulse=140, resp_rate=14),
            entry("11:10", what="told", about=("pulse",), note="Dr Quill: seen"),
        )
    )
    counts = {name: row[f"matters.{name}"] for name in MATTER_COUNTS}
    assert counts == {"open": "2", "told": "1", "settled": "1", "closed": "1", "not_told": "3"}


MATTER_COUNTS = ("open", "told", "settled", "closed", "not_told")


def test_what_is_only_counted_any_more_is_settled_and_not_among_what_is_to_be_told() -> None:
    (row,) = rows(counted())
    assert [row[f"matters.{name}"] for name in MATTER_COUNTS] == ["0", "0", "1", "0", "0"]


def test_nobody_knows_the_matters_of_a_patient_who_is_not_judged() -> None:
    judged, other = rows(GIVEN)
    assert [judged[f"matters.{name}"] for name in MATTER_COUNTS] == ["0", "1", "0", "0", "0"]
    assert {other[f"matters.{name}"] for name in MATTER_COUNTS} == {""}


def test_a_hold_in_force_has_its_time_and_its_note() -> None:
    held = entry("08:00", what="hold", until="+1 08:00", note="Dr Quill: scan")
    (one,) = exported(of_two_shifts(held))["patients"]
    assert one["hold"] == {
        "since": "2026-05-12T08:00:00-03:00",
        "until": "2026-05-13T08:00:00-03:00",
        "note": "Dr Quill: scan",
    }
    (row,) = rows(of_two_shifts(held))
    assert row["hold.since"] == "2026-05-12T08:00:00-03:00"


def test_a_hold_that_ended_is_none() -> None:
    ended = (entry("08:00", what="hold", note="Dr Quill"), entry("09:00", what="resume"))
    (one,) = exported(of_two_shifts(*ended))["patients"]
    assert one["hold"] is None
    assert rows(of_two_shifts(*ended))[0]["hold.since"] == ""


def lapsed(*entries: Entry) -> dict[str, Any]:
    """The patient of a hand-over whose order is there in the night and withdrawn by day."""
    given = of_two_shifts(*entries)
    ordered = given.patients[0]
    assert ordered.order is not None
    now = replace(ordered, order=None)
    listings = [Listing(given.unit.name, *each) for each in ((SHIFT_BEFORE, ordered), (SHIFT, now))]
    (one,) = exported(
        replace(
            given,
            patients=(now,),
            listings={now.id: tuple(listings)},
            lapsed={now.id: ordered.order},
        )
    )["patients"]
    return dict(one)


def test_a_danger_that_is_open_outlives_its_order() -> None:
    one = lapsed(entry("-1 20:00", volume_ml=900, **LOW))
    assert one["priority"] == "escalate"
    assert [(each["rule"], each["state"]) for each in one["matters"]] == [("low-oxygen", "open")]
    assert one["volume"]["stay_best_ml"] == 900


def test_without_an_order_and_with_nothing_open_nothing_is_measured() -> None:
    one = lapsed(entry("-1 20:00", volume_ml=900, **FINE))
    assert {one[name] for name in ("priority", "volume", "cautions", "matters", "hold")} == {None}


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
    assert row["set_aside_because"].startswith('0.yaml:14 at "soon": ')
    assert row["set_aside_code"] == 'not-a-time at "soon"'
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
    assert header.endswith(",set_aside_code")
    own = {"set_aside_because", "set_aside_from", "set_aside_code"}
    assert set(header.split(",")) == CSV_NAMES | own
    assert rows == []

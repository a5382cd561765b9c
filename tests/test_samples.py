"""The sample inputs do what `sample_inputs/README.md` says of them."""

import csv
import io
import json
import re
from collections.abc import Iterable, Mapping
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest
from msgspec.structs import replace

from handoff.compose.export import PARTS, measures_json
from handoff.gather import gather
from handoff.limits.reading import load_limits
from handoff.measure import measure
from handoff.model.findings import Finding, Place, Severity
from handoff.model.matters import Eased, Matter, MatterState, Verdicts
from handoff.model.measures import Direction, Measures
from handoff.model.verdicts import Level, Priority, Verdict
from handoff.model.ward import Log, Patient, Symptom, What
from handoff.run.sheets import results_of
from tests.support.logs import SAMPLES
from tests.support.samples import (
    AUTUMN,
    ELSEWHERE,
    LATER,
    MESSY,
    NIGHT,
    NIGHT_CSV,
    NIGHT_XLSX,
    SHIFTS,
    SPRING,
    checked,
    handed_over,
)

UP_TO_THE_NIGHT = SHIFTS[:-1]

NOWHERE = Place("")


@cache
def measured(*paths: Path) -> Mapping[str, Measures]:
    return measure(handed_over(*paths))


@cache
def judged(*paths: Path) -> Mapping[str, Verdicts]:
    """The verdicts by bed."""
    limits, findings = load_limits()
    assert limits is not None, findings
    each = results_of(handed_over(*paths), limits).verdicts.values()
    return {verdicts.patient.bed: verdicts for verdicts in each}


def cautions(bed: str) -> dict[str, Verdict]:
    return {verdict.rule: verdict for verdict in judged(*SHIFTS)[bed].cautions}


def matters(bed: str, *paths: Path) -> dict[str, Matter]:
    return {matter.name: matter for matter in judged(*(paths or SHIFTS))[bed].matters}


def test_eight_shifts_follow_each_other_without_a_gap() -> None:
    shifts = handed_over(*SHIFTS).shifts
    assert len(shifts) == 8
    assert all(one.end == after.start for one, after in pairwise(shifts))


@pytest.mark.parametrize(
    "path", [*SHIFTS, ELSEWHERE, NIGHT_CSV, AUTUMN], ids=lambda path: path.name
)
def test_a_good_log_loses_nothing(path: Path) -> None:
    log = checked(path)
    assert [each for each in log.findings if each.severity is Severity.ERROR] == []
    assert log.counts.read == log.counts.used > 0


def above_notes(findings: Iterable[Finding]) -> list[tuple[str, str]]:
    """The codes and files of findings that are more than notes."""
    over = (each for each in findings if each.severity is not Severity.NOTE)
    return [(each.code, Path(each.place.file).name) for each in over]


# Bed 7A has no order any more, and no log has its stop.
LEFT_OUT = [("order-left-out", "2026-03-07-day.yaml")]


def test_the_eight_shifts_together_raise_notes_and_the_order_without_a_stop() -> None:
    assert above_notes(handed_over(*SHIFTS).findings) == LEFT_OUT


def test_every_rule_is_met_by_somebody_in_the_day() -> None:
    limits, _ = load_limits()
    assert limits is not None
    met = {caution.rule for each in judged(*SHIFTS).values() for caution in each.cautions}
    # Every cell of the ward's logs can be read; the messy one has a sign that cannot.
    assert met == set(limits.rules) - {"sign-unreadable"}
    assert "sign-unreadable" in {each.rule for each in judged(MESSY)["1B"].matters}


def test_the_read_me_names_the_rules_and_the_matters_of_each_bed() -> None:
    read_me = (SAMPLES / "README.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| (\w+) \| \d{5} \|[^|]*\|([^|]*)\|([^|]*)\|$", read_me, re.MULTILINE)
    everybody = {patient.bed for patient in handed_over(*SHIFTS).patients}
    assert {bed for bed, *_ in rows} == everybody
    named = {bed: set(re.findall(r"(?<!\()`([\w-]+)`", rules)) for bed, rules, _ in rows}
    met = {bed: {each.rule for each in of.cautions} for bed, of in judged(*SHIFTS).items()}
    assert named == {bed: set() for bed in everybody} | met
    said = {bed: set(re.findall(r"`([\w:-]+)` (\w+)", carried)) for bed, _, carried in rows}
    followed = {
        bed: {(each.name, str(each.state)) for each in of.matters if _is_handed_over(each)}
        for bed, of in judged(*SHIFTS).items()
    }
    assert said == {bed: set() for bed in everybody} | followed


def _is_handed_over(matter: Matter) -> bool:
    return matter.level is not Level.NOTE or matter.closed_now


def test_a_volume_drop_is_met_at_both_of_its_levels() -> None:
    assert cautions("6B")["volume-drop"].level is Level.FOLLOW_UP
    assert cautions("9A")["volume-drop"].level is Level.NOTE


# What each cell of the table of told and settled does to the priority, and a patient in it: the
# bed, the matter, its state, whether it opened in the shift handed over, and its level.
CELLS = [
    ("5B", "low-oxygen", MatterState.OPEN, False, Level.ESCALATE),
    ("6B", "drowsy-or-confused:drowsy", MatterState.OPEN, True, Level.ESCALATE),
    ("5A", "faint-or-chest-pain:faint", MatterState.TOLD, False, Level.ESCALATE),
    ("3A", "low-oxygen", MatterState.TOLD, False, Level.FOLLOW_UP),
    ("6A", "low-oxygen", MatterState.SETTLED, True, Level.ESCALATE),
    ("9A", "pulse", MatterState.SETTLED, False, Level.FOLLOW_UP),
    ("8B", "low-temperature", MatterState.CLOSED, True, Level.FOLLOW_UP),
    ("5B", "drowsy-or-confused:drowsy", MatterState.CLOSED, False, Level.NOTE),
]


@pytest.mark.parametrize(("bed", "name", "state", "opened_now", "level"), CELLS)
def test_each_cell_of_told_and_settled_has_a_patient(
    bed: str, name: str, state: MatterState, opened_now: bool, level: Level
) -> None:
    matter = matters(bed)[name]
    assert (matter.state, matter.opened_now, matter.level) == (state, opened_now, level)


def test_one_danger_was_never_told_and_not_measured_again() -> None:
    never = [
        (bed, matter.name)
        for bed, of in judged(*SHIFTS).items()
        for matter in of.matters
        if matter.state is MatterState.OPEN and not (matter.looked or matter.about_unknown)
    ]
    assert never == [("5B", "low-oxygen")]


def test_what_was_told_and_what_settled_it_is_of_each_kind() -> None:
    assert matters("3A")["low-oxygen"].eased is Eased.ON_OXYGEN
    assert [each.note for each in matters("6B")["drowsy-or-confused:drowsy"].about_unknown]
    assert matters("9B")["faint-or-chest-pain:chest_pain"].settled_by is not None
    unnamed = matters("6A")["low-temperature"]  # closed in the night by a row that names nothing
    [told] = [each for each in handed_over(*SHIFTS).entries["10452"] if each.what is What.TOLD]
    assert told.about == ()
    assert unnamed.state is MatterState.CLOSED


def test_a_danger_outlives_the_order() -> None:
    verdicts = judged(*SHIFTS)["7A"]
    assert verdicts.patient.order is None
    assert verdicts.priority is Priority.ESCALATE
    assert [each.name for each in verdicts.matters] == ["drowsy-or-confused:confused"]


def test_a_hold_lasts_from_the_night_over_the_day_of_somebody_else_fine() -> None:
    handover = handed_over(*SHIFTS)
    measures = measured(*SHIFTS)["10379"]
    assert measures.hold is not None
    assert measures.hold.since < handover.shift.start
    verdicts = judged(*SHIFTS)["10B"]
    assert (verdicts.priority, verdicts.matters) == (Priority.FOLLOW_UP, ())
    assert cautions("10B").keys() == {"high-oxygen"}


def test_one_went_home_and_one_left_with_something_open() -> None:
    limits, _ = load_limits()
    assert limits is not None
    results = results_of(handed_over(*SHIFTS), limits)
    gone = {patient.id: patient.bed for patient in results.handover.gone}
    assert gone == {"10402": "1B", "10398": "3B"}
    still = {
        gone[key]: [each.name for each in of if each.holds_back]
        for key, (of, _) in results.gone.items()
    }
    assert {bed: names for bed, names in still.items() if names} == {"3B": ["low-oxygen"]}


def test_with_the_log_of_the_other_unit_it_is_known_what_came_along() -> None:
    assert cautions("12A").keys() == {"new-oxygen", "came-from-elsewhere", "not-taught"}
    assert matters("12A") == {}
    limits, _ = load_limits()
    assert limits is not None
    handovers, findings = gather([checked(path) for path in (*SHIFTS, ELSEWHERE)], None, LATER)
    assert above_notes(findings) == LEFT_OUT
    ward = next(each for each in handovers if each.unit.name == "Harbour 3 East")
    verdicts = results_of(ward, limits).verdicts["10361"]
    assert [each.rule for each in verdicts.cautions] == ["new-oxygen", "not-taught"]
    [matter] = verdicts.matters
    assert (matter.name, matter.state) == ("faint-or-chest-pain:chest_pain", MatterState.OPEN)
    assert matter.unit == "Intensive care 2"


def test_some_patients_are_simply_fine() -> None:
    fine = {bed for bed, each in judged(*SHIFTS).items() if each.priority is Priority.CONTINUE}
    rising = {
        each.patient.bed
        for each in measured(*SHIFTS).values()
        if each.trend.direction is Direction.RISING and (each.adherence.percent or 0) > 90
    }
    assert fine >= {"1A", "2A"}
    assert rising >= {"1A", "2A"}


def test_trends_of_each_kind_are_there() -> None:
    directions = {each.patient.bed: each.trend.direction for each in measured(*SHIFTS).values()}
    assert directions["1A"] is Direction.RISING
    assert directions["2B"] is Direction.FALLING
    assert directions["6B"] is Direction.NOT_CLEAR
    assert directions["6A"] is Direction.TOO_FEW


def test_a_patient_moved_bed_and_one_went_home_between_the_shifts() -> None:
    before = {patient.id: patient.bed for patient in checked(SHIFTS[-3]).patients}
    after = {patient.id: patient.bed for patient in checked(NIGHT).patients}
    assert {patient_id for patient_id in after if before.get(patient_id) != after[patient_id]} == {
        "10409"
    }
    assert before.keys() - after.keys() == {"10371"}
    latest = {patient.id for patient in checked(SHIFTS[-1]).patients}
    assert latest - after.keys() == {"10361", "10463"}


def test_two_names_are_alike_and_nobody_elses() -> None:
    assert handed_over(*SHIFTS).name_alerts == {"10433": ("8B",), "00718": ("5A",)}


# The form of a table: its bytes from the rows of the CSV night, and how its name ends.
FORMS: Mapping[str, tuple[str, str, str]] = {
    "as another country's spreadsheet saves it": (";", "utf-8-sig", ".csv"),
    "as text with tabs": ("\t", "utf-16", ".txt"),
    "without a byte-order mark": (",", "utf-8", ".csv"),
}


def is_the_yaml_night(path: Path) -> None:
    yaml, table = checked(NIGHT), checked(path)
    assert table.unit == replace(yaml.unit, phone=None, home_phone=None)
    assert table.shift == replace(yaml.shift, name=None)
    assert _without_place(table.patients) == _without_place(yaml.patients)
    assert _entries(table) == _entries(yaml)


@pytest.mark.parametrize("path", [NIGHT_CSV, NIGHT_XLSX], ids=["csv", "xlsx"])
def test_the_night_of_a_spreadsheet_is_the_yaml_night(path: Path) -> None:
    is_the_yaml_night(path)


@pytest.mark.parametrize("form", FORMS)
def test_the_csv_night_is_the_yaml_night_wherever_it_was_saved(tmp_path: Path, form: str) -> None:
    delimiter, encoding, suffix = FORMS[form]
    rows = csv.reader(NIGHT_CSV.read_text(encoding="utf-8-sig").splitlines())
    stream = io.StringIO()
    writer = csv.writer(stream, delimiter=delimiter)
    for row in rows:
        commas = [re.sub(r"^(\d+)\.(\d+)$", r"\1,\2", cell) for cell in row]
        writer.writerow(row if delimiter == "," else commas)
    path = tmp_path / f"night{suffix}"
    path.write_bytes(stream.getvalue().encode(encoding))
    is_the_yaml_night(path)


def test_the_workbook_of_the_night_says_which_sheet_is_read() -> None:
    assert {each.code for each in checked(NIGHT_XLSX).findings} - {
        each.code for each in checked(NIGHT_CSV).findings
    } == {"sheet-not-read"}


def test_the_csv_night_is_written_as_spreadsheets_write() -> None:
    raw = NIGHT_CSV.read_bytes()
    assert raw.startswith(b"\xef\xbb\xbfUnit,Time zone,")
    assert raw.count(b"\r\n") == raw.count(b"\n") == 88


@pytest.mark.parametrize("path", [NIGHT_CSV, NIGHT_XLSX], ids=["csv", "xlsx"])
def test_the_night_of_a_spreadsheet_measures_as_the_yaml_night(path: Path) -> None:
    from_yaml = measures_of_patients(*UP_TO_THE_NIGHT)
    assert len(from_yaml) > 20
    assert measures_of_patients(*UP_TO_THE_NIGHT[:-1], path) == from_yaml


def measures_of_patients(*paths: Path) -> dict[str, object]:
    """Everything that `measures.json` gives of each patient that is measured, by id."""
    exported = json.loads(measures_json(handed_over(*paths), measured(*paths), {}))
    return {
        each["id"]: {part: each[part] for part in (*PARTS, "reference")}
        for each in exported["patients"]
    }


def test_the_spring_night_has_eleven_hours_and_no_half_past_two() -> None:
    log = checked(SPRING)
    assert log.shift.hours == 11
    [lost] = log.set_aside
    assert lost.reason.code == "time-does-not-exist"
    assert lost.raw["at"] == "2026-03-08 02:30"


def test_the_autumn_night_has_thirteen_hours_and_one_hour_twice() -> None:
    log = checked(AUTUMN)
    assert log.shift.hours == 13
    assert [finding.raw for finding in log.findings if finding.code == "time-twice"] == [
        "2026-11-01 01:20"
    ]
    awake = [entry.at for entry in log.entries if entry.breaths == 3]
    gaps_min = [(after - one).total_seconds() / 60 for one, after in pairwise(awake)]
    assert gaps_min == [20, 60]


def _without_place(patients: Iterable[Patient]) -> dict[str, Patient]:
    return {patient.id: replace(patient, place=NOWHERE) for patient in patients}


def _entries(log: Log) -> list[object]:
    return [entry.content for entry in log.entries]


# By line of messy.csv: field and code of each finding, warnings and notes too.
MESSY_FINDINGS = {
    None: {(None, "encoding-assumed")},
    1: {(None, "title-row")},
    2: {(None, "unknown-field")},
    4: {("volume_ml", "not-a-number")},
    5: {("volume_ml", "looks-like-litres")},
    6: {("goal_ml", "not-a-number")},
    7: {("at", "repeated-entry")},
    8: {(None, "blank-row")},
    9: {("patient_id", "unknown-patient")},
    12: {("at", "spreadsheet-serial")},
    13: {("volume_ml", "not-a-number")},
    15: {("symptoms", "not-a-choice")},
    16: {("spo2", "out-of-range")},
    17: {("until", "missing-until")},
    18: {("at", "not-a-time")},
    19: {(None, "short-row")},
    20: {(None, "long-row")},
    21: {(None, "repeated-header")},
    22: {("patient_id", "identity-in-doubt")},
    23: {("patient_id", "identity-in-doubt"), ("name", "one-id-two-people")},
    24: {("flow", "not-a-choice")},
    25: {("at", "ambiguous-date")},
    26: {("breaths", "not-whole"), ("pain", "out-of-range")},
    28: {("at", "same-minute")},
    29: {("at", "outside-shift")},
    30: {("what", "not-a-choice")},
    33: {("breaths", "breaths-for-volume")},
    34: {("at", "far-from-shift")},
    35: {("spo2", "read-as"), ("volume_ml", "read-as")},
    36: {("bed", "bed-changed")},
}
MESSY_SET_ASIDE = [7, 9, 12, 17, 18, 19, 20, 22, 23, 25, 30, 33, 34]


def test_the_messy_sheet_is_found_out_line_by_line() -> None:
    found: dict[int | None, set[tuple[str | None, str]]] = {}
    for finding in checked(MESSY).findings:
        found.setdefault(finding.place.line, set()).add((finding.field, finding.code))
    assert found == MESSY_FINDINGS


def test_the_messy_sheet_sets_aside_what_it_must_and_no_more() -> None:
    log = checked(MESSY)
    assert sorted(row.place.line or 0 for row in log.set_aside) == MESSY_SET_ASIDE
    assert (log.counts.read, log.counts.used, log.counts.set_aside) == (32, 19, 13)


def test_a_faint_in_a_row_set_aside_is_not_lost() -> None:
    [row] = [row for row in checked(MESSY).set_aside if row.place.line == 18]
    assert Symptom.FAINT in row.signs.symptoms
    faint = matters("1B", MESSY)["sign-unreadable:faint"]
    assert ([each.place.line for each in faint.rows], str(faint.state)) == ([18], "open")

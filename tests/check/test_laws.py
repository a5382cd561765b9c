"""Laws that hold for every log, however it is mangled."""

import csv
import io
import json
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from handoff.check import check
from handoff.compose.export import measures_csv
from handoff.gather import gather
from handoff.log.fields import Section, fields_of
from handoff.measure import measure
from handoff.model.findings import Finding, Place, Severity
from handoff.model.ward import Log
from handoff.read import read
from handoff.read.from_csv import read_csv
from handoff.read.from_yaml import read_yaml
from tests.support.accounted import assert_nothing_is_lost
from tests.support.bad_logs import BAD_LOGS, IN_OPTIONS, SHIFT, UNIT
from tests.support.how_many import few
from tests.support.logs import NOW, options

GIVEN = options(**IN_OPTIONS)

# Cells as people, spreadsheets and slips of the key leave them.
TIMES = [
    "19:40",
    "2025-03-07 19:40",
    "19h40",
    "2026-03-07 20:15",
    "7:50 PM",
    "02:30",
    "soon",
    "46088.8194",
    "2026-03-09 09:00",
]
CELLS = {
    "patient_id": ["10442", "7", "0042", "42", " 10442 ", "#REF!"],
    "name": ["Larkspur, Odile", "Odile Larkspur", "Quince, Ida", "Larkspurr, O"],
    "born": ["1958-04-02", "1950-01-01", "04/02/1958", "2058-01-01"],
    "bed": ["12A", "12a", "3", "3 B"],
    "precautions": ["flat, spine not cleared", "-"],
    "order_start": ["2026-03-06 10:00", "20:00", "10:00", "2026-03-06"],
    "order_breaths": ["10", "ten", "0"],
    "goal_ml": ["1500", "1.5", "1,500", "１５００"],
    "device_given": ["yes", "no", "2026-03-06 10:20", "maybe"],
    "at": TIMES,
    "until": TIMES,
    "what": [
        "",
        "exercise",
        "away",
        "asleep",
        "declined",
        "told",
        "note",
        "exercize",
        "hold",
        "resume",
    ],
    "about": ["oxygen", "pulse; chest pain", "o2 pulse", ""],
    "breaths": ["8", "8.0", "1O", "-1", "201", "1200"],
    "volume_ml": ["1100", "1.1", "11OO", "0", "6001", "8", "1,200", "1100 mL"],
    "flow": ["steady", "fast", "blew", "steddy"],
    "pain": ["3", "4.5", "11"],
    "symptoms": ["dizzy", "dizzy;faint", "chest pain", "fiant dizzy", "none", "none/dizzy"],
    "spo2": ["94", "84", "0.94", "94%"],
    "on_oxygen": ["yes", "no", "2L"],
    "oxygen": ["2 L nasal", "RA", "28 %"],
    "note": ["sat up", "a, b", "<b>", "x" * 2001],
}
NAMES = list(CELLS)
PATIENT_NAMES = [each.name for each in fields_of(Section.PATIENT) if each.name in CELLS]
ENTRY_NAMES = [each.name for each in fields_of(Section.ENTRY) if each.name in CELLS]


USUAL_FACTS = {"name": "Larkspur, Odile", "born": "1958-04-02", "bed": "12A"}
USUAL_ENTRY = {"patient_id": "10442", "at": "19:40", "breaths": "8"}


@st.composite
def a_row(draw: st.DrawFn, usual: dict[str, str], names: list[str]) -> dict[str, str]:
    """A row that is fine, but for a few cells that say something else and perhaps one gone."""
    row = dict(usual)
    for name in draw(st.lists(st.sampled_from(names), max_size=3)):
        row[name] = draw(st.sampled_from(CELLS[name]))
    gone = draw(st.sampled_from([None, None, None, *usual]))
    return {name: cell for name, cell in row.items() if name != gone}


ROWS = st.lists(
    st.one_of(
        a_row({**USUAL_FACTS, **USUAL_ENTRY}, NAMES),
        a_row({**USUAL_ENTRY, "at": "20:00"}, NAMES),
        a_row({"patient_id": "10442"}, NAMES),
        a_row({"patient_id": "7", **USUAL_FACTS}, PATIENT_NAMES),
        st.just({}),
    ),
    max_size=8,
)


def csv_text(rows: list[dict[str, str]]) -> str:
    out = io.StringIO()
    writer = csv.DictWriter(out, NAMES, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


@settings(max_examples=few(60))
@given(ROWS)
def test_every_record_is_used_or_set_aside_and_named(rows: list[dict[str, str]]) -> None:
    log, _ = check(read_csv(csv_text(rows), "night.csv", []), GIVEN)
    assert log is not None
    assert log.counts.read == len(rows)
    assert_nothing_is_lost(log)


MANGLERS = st.tuples(
    st.sampled_from(["insert", "delete", "double", "swap"]),
    st.integers(0, 10_000),
    st.sampled_from(list('",;\n\t\r x0\u202e\x0b')),
)


def mangled(text: str, manglers: list[tuple[str, int, str]]) -> str:
    """The text with something slipped in, left out, doubled or put in the wrong place."""
    for how, where, character in manglers:
        at = where % (len(text) + 1)
        if how == "insert":
            text = text[:at] + character + text[at:]
        elif how == "delete":
            text = text[:at] + text[at + 1 :]
        elif how == "double":
            text = text[:at] + text[at : at + 40] + text[at:]
        else:
            text = text[at:] + text[:at]
    return text


@settings(max_examples=few(60))
@given(ROWS, st.lists(MANGLERS, max_size=3))
@example([{"patient_id": "1", "at": "19:40"}], [("insert", 150, '"')])
def test_a_mangled_table_is_never_a_fault(
    rows: list[dict[str, str]], manglers: list[tuple[str, int, str]]
) -> None:
    log, findings = check(read_csv(mangled(csv_text(rows), manglers), "night.csv", []), GIVEN)
    if log is None:
        assert Severity.ERROR in {each.severity for each in findings}
    else:
        assert_nothing_is_lost(log)


YAML_LOGS = [bad.content for bad in BAD_LOGS.values() if isinstance(bad.content, str)]


@settings(max_examples=few(60))
@given(st.sampled_from(YAML_LOGS), st.lists(MANGLERS, max_size=4))
def test_a_mangled_document_is_never_a_fault(
    text: str, manglers: list[tuple[str, int, str]]
) -> None:
    log, findings = check(read_yaml(mangled(text, manglers), "night.yaml", []), GIVEN)
    if log is None:
        assert Severity.ERROR in {each.severity for each in findings}
    else:
        assert_nothing_is_lost(log)


@settings(max_examples=few(40), suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.binary(max_size=200), st.sampled_from(["yaml", "csv"]))
def test_any_bytes_are_read_without_a_fault(tmp_path: Path, content: bytes, suffix: str) -> None:
    path = tmp_path / f"night.{suffix}"
    path.write_bytes(content)
    sheet = read(str(path))
    assert sheet.usable or sheet.findings
    check(sheet, GIVEN)


# YAML and CSV


def yaml_text(patients: list[dict[str, str]], entries: list[dict[str, str]]) -> str:
    """The same log in YAML, every cell in quotation marks."""
    lines = [UNIT, SHIFT, "patients:\n"]
    lines += [f"- {json.dumps(nested(row, Section.PATIENT))}\n" for row in patients]
    lines += ["entries:\n"]
    lines += [f"- {json.dumps(nested(row, Section.ENTRY))}\n" for row in entries]
    return "".join(lines)


def nested(row: dict[str, str], section: Section) -> dict[str, object]:
    item: dict[str, object] = {}
    for field in fields_of(section):
        if field.name in row:
            group, _, name = field.path.rpartition(".")
            inner = item.setdefault(group, {}) if group else item
            assert isinstance(inner, dict)
            inner[name] = row[field.name]
    return item


def seen(log: Log) -> tuple[object, ...]:
    """What a log holds, wherever it stands in its file."""
    nowhere = Place("")
    return (
        Counter(replace(patient, place=nowhere) for patient in log.patients),
        Counter(entry.content for entry in log.entries),
        Counter((row.patient_id, row.at, row.signs, row.reason.code) for row in log.set_aside),
    )


def kinds(findings: tuple[Finding, ...]) -> Counter[tuple[str, str | None]]:
    of_csv_alone = {"patient-only-row"}
    return Counter((each.code, each.field) for each in findings if each.code not in of_csv_alone)


FACTS = [name for name in PATIENT_NAMES if name != "patient_id"]
PEOPLE = st.dictionaries(
    st.sampled_from(["10442", "7", "0042"]), a_row(USUAL_FACTS, FACTS), min_size=1, max_size=3
)


@settings(max_examples=few(60))
@given(PEOPLE, st.lists(a_row(USUAL_ENTRY, ENTRY_NAMES), max_size=5))
def test_yaml_and_csv_of_one_log_say_the_same(
    people: dict[str, dict[str, str]], entries: list[dict[str, str]]
) -> None:
    patients = [{"patient_id": patient_id, **facts} for patient_id, facts in people.items()]
    in_yaml, _ = check(read_yaml(yaml_text(patients, entries), "night", []), GIVEN)
    in_csv, _ = check(read_csv(csv_text(patients + entries), "night", []), GIVEN)
    assert in_yaml is not None
    assert in_csv is not None
    in_doubt = {"patient-not-identified", "too-few-identifiers"}
    if in_doubt.isdisjoint(each.code for each in in_csv.findings):
        assert seen(in_yaml) == seen(in_csv)
        assert kinds(in_yaml.findings) == kinds(in_csv.findings)


def numbers(log: Log | None) -> bytes:
    """All that is measured of a log that is handed over alone."""
    assert log is not None
    (handover,), _ = gather([log], None, NOW)
    return measures_csv(handover, measure(handover), {})


@settings(max_examples=25, deadline=None)
@given(PEOPLE, st.lists(a_row(USUAL_ENTRY, ENTRY_NAMES), min_size=2, max_size=5))
def test_yaml_and_csv_of_one_log_give_the_same_measures(
    people: dict[str, dict[str, str]], entries: list[dict[str, str]]
) -> None:
    ordered = {"order_start": "2026-03-06 10:00"}
    patients = [{"patient_id": each, **ordered, **facts} for each, facts in people.items()]
    in_yaml, _ = check(read_yaml(yaml_text(patients, entries), "night", []), GIVEN)
    in_csv, findings = check(read_csv(csv_text(patients + entries), "night", []), GIVEN)
    if "too-few-identifiers" not in {each.code for each in findings}:
        assert numbers(in_yaml) == numbers(in_csv)


@pytest.mark.parametrize("code", [c for c, bad in BAD_LOGS.items() if bad.name == "night.csv"])
def test_checking_twice_says_the_same(code: str, tmp_path: Path) -> None:
    bad = BAD_LOGS[code]
    path = tmp_path / bad.name
    assert bad.content is not None
    path.write_bytes(bad.content if isinstance(bad.content, bytes) else bad.content.encode())
    first = check(read(str(path)), options(**bad.options))
    assert check(read(str(path)), options(**bad.options)) == first

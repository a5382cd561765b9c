"""Checking a log: what is used, what is lost, what is set aside, and what is said of it."""

from collections import Counter
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from handoff.check import check
from handoff.log.fields import BY_NAME, CSV_NAMES, Section, nearest
from handoff.model.findings import Severity, text
from handoff.model.ward import Counts, Entry, Flow, Log, SetAside, Signs, Symptom, What
from handoff.read import read
from tests.support.bad_logs import (
    AGAIN,
    BAD_LOGS,
    ENTRY,
    HEADER,
    IN_OPTIONS,
    OTHER,
    PATIENT,
    ROW,
    SHIFT,
    UNIT,
    WHO,
    night,
    table,
)
from tests.support.logs import check_file, check_text, found_in, log_of, options, utc


def entry_of(cells: str) -> Entry:
    """The one entry of the night, used."""
    (entry,) = log_of(night(f'- {{patient: "10442", {cells}}}\n')).entries
    return entry


def set_aside_of(cells: str) -> SetAside:
    """The one entry of the night, set aside."""
    log = log_of(night(f"- {{{cells}}}\n"))
    assert log.entries == ()
    (row,) = log.set_aside
    return row


def csv_log(*rows: str, header: str = HEADER) -> Log:
    return log_of(table(*rows, header=header), "night.csv", IN_OPTIONS)


# every kind of finding


@pytest.mark.parametrize("code", BAD_LOGS)
def test_each_kind_of_finding_has_a_log_that_triggers_it_and_reads_well(
    code: str, tmp_path: Path
) -> None:
    bad = BAD_LOGS[code]
    path = tmp_path / bad.name
    if bad.content is not None:
        path.write_bytes(bad.content if isinstance(bad.content, bytes) else bad.content.encode())
    log, findings = check_file(path, bad.options)
    assert code in {each.code for each in findings}
    assert Counter(found_in(findings)) == Counter(bad.found)
    if log is not None:
        assert log.counts.read == log.counts.used + log.counts.set_aside
    for each in findings:
        assert each.message.endswith(".")
        assert each.fix.endswith((".", "?"))
        assert each.fix[0].isupper()
        assert "{" not in each.message + each.fix.replace(
            "{patient: ..., at: ..., breaths: ...}", ""
        )
        assert "None" not in each.message + each.fix
        assert "\n" not in text(each)


def test_an_entry_names_its_signs_that_could_not_be_read_or_not_wholly() -> None:
    at = "at: 2026-03-07 20:00, breaths: 5"
    assert entry_of(f"{at}, temp_c: 101, pulse: 80, volume_ml: 9999").unread == ("temp_c",)
    assert entry_of(f"{at}, symptoms: [dizzy, feint]").unread == ("symptoms",)
    assert entry_of(f"{at}, symptoms: [dizzy], spo2: 95").unread == ()


def test_a_log_without_fault_has_no_finding() -> None:
    for log in (log_of(night()), csv_log(ROW)):
        assert log.findings == ()
        assert log.counts == Counts(1, 1, 0)


# a whole log


def test_every_field_of_the_guide_is_read() -> None:
    log = log_of(
        """\
unit: {name: Harbour 3 East, time_zone: America/Halifax, quiet_hours: none, phone: ext. 4410}
shift: {name: night, start: 2026-03-07 19:00, end: 07:00, outgoing: M. Adeyemi RN, incoming: }
patients:
- {id: "0042", name: "Larkspur, Odile", born: 1958-04-02, bed: 12A, sex: Female, height_cm: 162,
   weight_kg: 70.5, reason: open bowel surgery, surgery_on: 2026-03-05, precautions: lies flat,
   order: {start: 2026-03-06 10:00, stop: 2026-03-09 10:00, breaths: 12, every_h: 2,
           goal_ml: 1500, hold_s: 3, by: Dr T. Quill, spo2_min: 92},
   baseline_ml: 1900, device: {given: 2026-03-06 10:20, labelled: no, scale_ml: 2500},
   teaching: {taught: yes, shown_back: no}, home_on: 2026-03-09}
entries:
- {patient: "0042", at: 19:40, until: 20:10, what: exercise, breaths: 8, volume_ml: 1100, hold_s: 4,
   flow: steady, seen_by: nurse, pain: 4, symptoms: [dizzy, cough], spo2: 94, resp_rate: 18,
   pulse: 80, temp_c: 37.2, on_oxygen: yes, oxygen: 2 L nasal, position: sitting, note: sat up}
"""
    )
    assert log.findings == ()
    assert (log.unit.name, log.unit.quiet_hours, log.unit.phone) == (
        "Harbour 3 East",
        None,
        "ext. 4410",
    )
    assert (log.shift.name, log.shift.outgoing, log.shift.incoming) == (
        "night",
        "M. Adeyemi RN",
        None,
    )
    assert log.shift.hours == 11  # the clock goes forward in this night
    (patient,) = log.patients
    assert (patient.id, patient.name, patient.born, patient.bed) == (
        "0042",
        "Larkspur, Odile",
        date(1958, 4, 2),
        "12A",
    )
    assert (patient.sex, patient.height_cm, patient.weight_kg) == ("female", 162, 70.5)
    assert (patient.reason, patient.surgery_on) == ("open bowel surgery", date(2026, 3, 5))
    order = patient.order
    assert order is not None
    assert (order.start, order.stop) == (utc("2026-03-06 14:00"), utc("2026-03-09 13:00"))
    assert (order.breaths, order.every_h, order.goal_ml, order.hold_s) == (12, 2, 1500, 3)
    assert (order.by, order.spo2_min, patient.baseline_ml) == ("Dr T. Quill", 92, 1900)
    assert patient.device_given == utc("2026-03-06 14:20")
    assert (patient.device_labelled, patient.device_scale_ml) == (False, 2500)
    assert (patient.taught, patient.shown_back) == (True, False)
    assert patient.home_on == date(2026, 3, 9)
    assert patient.precautions == "lies flat"
    (entry,) = log.entries
    assert (entry.at, entry.until) == (utc("2026-03-07 23:40"), utc("2026-03-08 00:10"))
    assert (entry.what, entry.breaths, entry.volume_ml, entry.hold_s) == (
        What.EXERCISE,
        8,
        1100,
        4,
    )
    assert (entry.flow, entry.seen_by, entry.position) == ("steady", "nurse", "sitting")
    assert entry.signs == Signs(
        frozenset({Symptom.DIZZY, Symptom.COUGH}),
        4,
        94,
        18,
        80,
        37.2,
        on_oxygen=True,
        oxygen="2 L nasal",
    )
    assert entry.note == "sat up"
    assert entry.raw["volume_ml"] == "1100"


def test_what_is_blank_is_not_recorded_and_not_a_no() -> None:
    log = log_of(night('- {patient: "10442", at: 19:40, breaths: 8, on_oxygen: , flow: }\n'))
    patient, entry = log.patients[0], log.entries[0]
    assert (patient.device_given, patient.device_labelled, patient.taught) == (None, None, None)
    assert (entry.signs.on_oxygen, entry.flow, entry.volume_ml) == (None, None, None)
    assert log.unit.quiet_hours is not None


# cells


@pytest.mark.parametrize(
    ("cell", "code", "hint"),
    [
        ("volume_ml: 25O0", "not-a-number", "2500"),
        ("volume_ml: 1.1 L", "not-a-number", "1100"),
        ("volume_ml: '1,1'", "not-a-number", "1100"),
        ("volume_ml: '1,10'", "not-a-number", "1100"),
        ("volume_ml: 1 100", "not-a-number", "1100"),
        ("volume_ml: 1'100", "not-a-number", "1100"),
        ("volume_ml: 1100 cc", "not-a-number", "1100"),
        ("volume_ml: 900-1100", "not-a-number", None),
        ("volume_ml: 900 1100", "not-a-number", None),
        ("volume_ml: 1e3", "not-a-number", None),
        ("volume_ml: inf", "not-a-number", None),
        ("volume_ml: nan", "not-a-number", None),
        ("volume_ml: 1_100", "not-a-number", None),
        ("volume_ml: '+1100'", "not-a-number", None),
        ("volume_ml: '١١٠٠'", "not-a-number", "1100"),
        ("volume_ml: about 1100", "not-a-number", None),
        ("volume_ml: 1.2", "looks-like-litres", "1200"),
        ("volume_ml: 2", "looks-like-litres", "2000"),
        ("volume_ml: 0.75", "looks-like-litres", "750"),
        ("volume_ml: 8", "looks-like-litres", None),
        ("volume_ml: 6001", "out-of-range", None),
        ("volume_ml: -1", "out-of-range", None),
        (f"volume_ml: {'9' * 400}", "out-of-range", None),
        ("breaths: 201", "out-of-range", None),
        ("breaths: 8.5", "not-whole", None),
        ("breaths: 1O", "not-a-number", "10"),
        ("pain: 11", "out-of-range", None),
        ("pain: 11/10", "out-of-range", None),
        ("pain: 4/5", "not-a-number", None),
        ("spo2: 9 4%", "not-a-number", None),
        ("spo2: '0,94'", "not-a-number", "94"),
        ("spo2: 0.94 %", "out-of-range", "94"),
        ("spo2: 0.94", "out-of-range", "94"),
        ("spo2: 49", "out-of-range", None),
        ("temp_c: 98.6", "out-of-range", "37"),
        ("temp_c: '37,2'", "not-a-number", "37.2"),
        ("temp_c: '37,200'", "not-a-number", "37.200"),
        ("hold_s: 61", "out-of-range", None),
        ("resp_rate: 81", "out-of-range", None),
        ("pulse: 301", "out-of-range", None),
        ("flow: steddy", "not-a-choice", "steady"),
        ("flow: unreadable", "not-a-choice", None),
        ("flow: '-'", "not-a-choice", "a blank cell"),
        ("seen_by: doctor", "not-a-choice", None),
        ("position: siting", "not-a-choice", "sitting"),
        ("on_oxygen: 1", "not-yes-or-no", None),
    ],
)
def test_a_bad_cell_is_lost_alone_and_never_mended(cell: str, code: str, hint: str | None) -> None:
    name = cell.partition(":")[0]
    charted = "volume_ml: 1100" if name == "breaths" else "breaths: 8"
    log = log_of(night(f'- {{patient: "10442", at: 19:40, {charted}, {cell}}}\n'))
    (found,) = log.findings
    assert (found.code, found.field, found.severity) == (code, name, Severity.ERROR)
    assert (f"Did you mean {hint}?" in found.fix) if hint else ("Did you mean" not in found.fix)
    (entry,) = log.entries
    lost: Any = getattr(entry, name) if hasattr(entry, name) else getattr(entry.signs, name)
    assert lost is (Flow.UNREADABLE if name == "flow" else None)
    assert log.counts == Counts(1, 1, 0)


@pytest.mark.parametrize(
    ("cell", "value", "what"),
    [
        ("spo2: 94%", 94, "a unit"),
        ("spo2: 94 %", 94, "a unit"),
        ("spo2: ９４％", 94, "a unit"),
        ("volume_ml: 1100 ml", 1100, "a unit"),
        ("hold_s: 4.5 s", 4.5, "a unit"),
        ("temp_c: 37.2°C", 37.2, "a unit"),
        ("temp_c: 37.2 C", 37.2, "a unit"),
        ("volume_ml: '1,200'", 1200, "a comma between thousands"),
        ("volume_ml: '1,200 mL'", 1200, "a comma between thousands"),
        ("volume_ml: '1,200.5'", 1200.5, "a comma between thousands"),
        ("volume_ml: １２００", 1200, "full-width characters"),
        ("pain: ４", 4, "full-width characters"),
        ('volume_ml: "1\\u00a0200"', 1200, "a non-breaking space"),
        ('volume_ml: "1\\u202f200"', 1200, "a non-breaking space"),
    ],
)
def test_what_can_be_meant_in_one_way_is_read_and_said(cell: str, value: float, what: str) -> None:
    log = log_of(night(f'- {{patient: "10442", at: 19:40, breaths: 8, {cell}}}\n'))
    (found,) = log.findings
    assert (found.code, found.severity) == ("read-as", Severity.WARNING)
    assert f"written with {what}. It is read as {value}, and" in found.message
    (entry,) = log.entries
    name = cell.partition(":")[0]
    assert getattr(entry if hasattr(entry, name) else entry.signs, name) == value


@pytest.mark.parametrize(
    "at",
    ["１９：４０", "2026–03–07 19:40", "2026-03-07\u00a019:40", "7:40\u202fPM", "2026−03−07 19:40"],
)
def test_a_time_in_other_characters_is_read_and_said(at: str) -> None:
    log = log_of(night(f'- {{patient: "10442", at: "{at}", breaths: 8}}\n'))
    assert [(each.code, each.field) for each in log.findings] == [("read-as", "at")]
    assert log.entries[0].at == utc("2026-03-07 23:40")


@pytest.mark.parametrize(
    "id_typed", ["\u201c10442\u201d", "\u201e10442\u201c", "\u00ab10442\u00bb"]
)
def test_an_id_in_marks_of_a_word_processor_is_the_same_id_and_said(id_typed: str) -> None:
    log = log_of(
        night(f"- {{patient: {id_typed}, at: 19:40, breaths: 8, note: \u201cfine\u201d}}\n")
    )
    (found,) = log.findings
    assert (found.code, found.field, found.raw) == ("read-as", "patient_id", id_typed)
    assert "curly quotation marks. It is read as 10442," in found.message
    assert (log.entries[0].patient_id, log.entries[0].note) == ("10442", "\u201cfine\u201d")


def test_a_ditto_mark_makes_no_patient_and_a_note_may_be_one() -> None:
    log = csv_log(ROW, '"""",ditto,1958-04-02,12A,,20:40,,,8,,,\n', AGAIN + '20:50,,,8,,,""""\n')
    assert [each.id for each in log.patients] == ["10442"]
    assert [each.note for each in log.entries] == [None, '"']
    assert log.counts == Counts(read=3, used=2, set_aside=1)
    assert found_in(log.findings).count((3, "patient_id", "says-nothing")) == 1


def test_what_belongs_to_the_order_and_stands_beside_it_is_not_lost_unsaid() -> None:
    beside = PATIENT.replace(
        "{breaths: 10, start: 2026-03-06 10:00}", "\n  start: 2026-03-06 10:00"
    )
    log = log_of(night(patients=beside))
    assert log.patients[0].order is None
    assert {each.severity for each in log.findings} == {Severity.ERROR}
    assert found_in(log.findings) == [
        (8, "order.start", "order-without-start"),
        (13, "start", "wrong-group"),
    ]


def test_text_keeps_its_characters() -> None:
    entry = entry_of("at: 19:40, breaths: 8, note: ９４％ – sat up")
    assert entry.note == "９４％ – sat up"


def test_a_way_of_writing_is_said_once_a_column() -> None:
    cells = ("spo2: 94%", "spo2: 95%", "spo2: 96%, pain: ４", "spo2: ９７", "spo2: 0.9%")
    entries = (
        f'- {{patient: "10442", at: 19:4{number}, breaths: 8, {each}}}\n'
        for number, each in enumerate(cells)
    )
    log = log_of(night("".join(entries)))
    assert found_in(log.findings) == [
        (14, "spo2", "read-as"),
        (16, "pain", "read-as"),
        (17, "spo2", "read-as"),
        (18, "spo2", "out-of-range"),
    ]


def test_with_decimal_commas_a_comma_is_never_of_thousands() -> None:
    header = "patient_id;name;born;at;breaths;volume_ml;temp_c;spo2\n"
    row = "1;Quince, Ida;1958-04-02;19:40;8;1,200;37,2 °C;94,5%\n"
    log = log_of(table(row, header=header), "night.csv", IN_OPTIONS)
    assert log.entries[0].volume_ml is None
    assert (log.entries[0].signs.temp_c, log.entries[0].signs.spo2) == (37.2, 94.5)
    assert sorted(each.code for each in log.findings if each.field in {"volume_ml", "spo2"}) == [
        *("looks-like-litres", "read-as")
    ]


def test_a_number_read_with_a_decimal_comma_is_not_read_so_in_another_log() -> None:
    header = "patient_id;name;born;at;breaths;temp_c\n"
    row = "1;Quince, Ida;1958-04-02;19:40;8;37,4\n"
    log = log_of(table(row, header=header), "night.csv", IN_OPTIONS)
    assert log.entries[0].signs.temp_c == 37.4
    assert entry_of("at: 19:40, breaths: 8, temp_c: '37,4'").signs.temp_c is None


@pytest.mark.parametrize(
    ("cell", "expected"),
    [
        ("volume_ml: 0", 0),
        ("volume_ml: 10", 10),
        ("volume_ml: 6000", 6000),
        ("volume_ml: 1100.5", 1100.5),
        ("breaths: 8.0", 8),
        ("breaths: 200", 200),
        ("flow: ' Steady'", "steady"),
        ("what: DECLINED", "declined"),
    ],
)
def test_what_is_allowed_is_read(cell: str, expected: object) -> None:
    name = cell.partition(":")[0]
    other = "volume_ml: 1100" if name == "breaths" else "breaths: 0"
    assert getattr(entry_of(f"at: 19:40, {other}, {cell}"), name) == expected


# The ranges of the guide; those of the order, the goal, the scale and the baseline are common
# practice: the guide gives none.
RANGES = [
    ("breaths", 0, 200),
    ("volume_ml", 0, 6000),
    ("hold_s", 0, 60),
    ("pain", 0, 10),
    ("spo2", 50, 100),
    ("resp_rate", 0, 80),
    ("pulse", 0, 300),
    ("temp_c", 25, 45),
]
PATIENT_RANGES = [
    ("height_cm", "height_cm: {}", 100, 230),
    ("weight_kg", "weight_kg: {}", 5, 350),
    ("baseline_ml", "baseline_ml: {}", 10, 6000),
    ("device_scale_ml", "device: {{scale_ml: {}}}", 10, 6000),
    ("goal_ml", "order: {{start: 2026-03-06 10:00, goal_ml: {}}}", 10, 6000),
    ("spo2_min", "order: {{start: 2026-03-06 10:00, spo2_min: {}}}", 50, 100),
    ("breaths", "order: {{start: 2026-03-06 10:00, breaths: {}}}", 1, 200),
    ("every_h", "order: {{start: 2026-03-06 10:00, every_h: {}}}", 1, 24),
    ("hold_s", "order: {{start: 2026-03-06 10:00, hold_s: {}}}", 0, 60),
]


@pytest.mark.parametrize(("name", "low", "high"), RANGES)
def test_an_entrys_ranges_hold_their_ends_and_no_more(name: str, low: int, high: int) -> None:
    charted = "volume_ml: 1100" if name == "breaths" else "breaths: 8"
    for number, is_in in ((low, True), (high, True), (low - 1, False), (high + 1, False)):
        entry = entry_of(f"at: 19:40, {charted}, {name}: {number}")
        read_number = getattr(entry if hasattr(entry, name) else entry.signs, name)
        assert read_number == (number if is_in else None)


@pytest.mark.parametrize(("name", "cell", "low", "high"), PATIENT_RANGES)
def test_a_patients_ranges_hold_their_ends_and_no_more(
    name: str, cell: str, low: int, high: int
) -> None:
    bare = PATIENT.replace("  order: {breaths: 10, start: 2026-03-06 10:00}\n", "")
    for number, is_in in ((low, True), (high, True), (low - 1, False), (high + 1, False)):
        log = log_of(night(patients=f"{bare}  {cell.format(number)}\n"))
        assert ([each.code for each in log.findings] == []) is is_in
        holder = log.patients[0] if hasattr(log.patients[0], name) else log.patients[0].order
        if is_in:
            assert getattr(holder, name) == number


def test_a_text_may_have_its_full_length() -> None:
    assert entry_of(f"at: 19:40, breaths: 8, note: {'x' * 2000}").note == "x" * 2000
    assert entry_of(f"at: 19:40, breaths: 8, note: {'x' * 2001}").note is None


def test_a_note_keeps_its_lines_and_other_text_does_not() -> None:
    row = ROW.replace(",\n", ',"a\r\n  b"\n').replace("Larkspur, Odile", "Larkspur,\n Odile")
    log = csv_log(row)
    assert log.entries[0].note == "a\nb"
    assert log.patients[0].name == "Larkspur, Odile"


def test_words_of_a_finding_say_the_unit_and_the_length_of_a_span() -> None:
    entries = '- {patient: "10442", at: 19:40, breaths: x, volume_ml: x}\n'
    # 23 hours on the clock, which goes forward in this night
    spans = '- {patient: "10442", at: 20:00, until: 2026-03-08 19:00, what: asleep}\n'
    messages = [each.message for each in log_of(night(entries + spans)).findings]
    assert "not a number." in messages
    assert "not a number in mL." in messages
    assert "the span lasts 22 hours. It is used as it is." in messages


@pytest.mark.parametrize(
    ("symptoms", "expected", "errors"),
    [
        ("[dizzy, chest pain]", {"dizzy", "chest_pain"}, 0),
        ("Chest-Pain", {"chest_pain"}, 0),
        ("'dizzy tingling;faint, cough'", {"dizzy", "tingling", "faint", "cough"}, 0),
        ("[dizzy, dizzy]", {"dizzy"}, 0),
        ("[]", set(), 0),
        ("[fiant, dizzy]", {"dizzy"}, 1),
        ("[none]", {"none"}, 0),
        ("dizzy/faint", {"dizzy", "faint"}, 0),
        ("n/a", set(), 1),
        ("[pain, chest]", set(), 2),
    ],
)
def test_a_symptom_misspelt_does_not_hide_the_others(
    symptoms: str, expected: set[str], errors: int
) -> None:
    log = log_of(night(f'- {{patient: "10442", at: 19:40, breaths: 8, symptoms: {symptoms}}}\n'))
    assert log.entries[0].signs.symptoms == expected
    assert [each.code for each in log.findings] == ["not-a-choice"] * errors


@pytest.mark.parametrize(
    ("symptom", "likely"),
    [
        ("no", "none"),
        ("N/A", "a blank cell"),
        ("dizziness", "dizzy"),
        ("breathlessness", "breathless"),
        ("fainted", "faint"),
        ("lightheaded", "dizzy"),
        ("cp", "chest_pain"),
        ("sob", "breathless"),
        ("pale", None),
    ],
)
def test_a_symptom_in_other_words_names_the_likely_one(symptom: str, likely: str | None) -> None:
    entry = f'- {{patient: "10442", at: 19:40, breaths: 8, symptoms: {symptom}}}\n'
    (found,) = log_of(night(entry)).findings
    assert found.code == "not-a-choice"
    assert (f"Did you mean {likely}?" in found.fix) if likely else ("mean" not in found.fix)


def test_a_flow_in_other_words_is_said_to_be_off_form_and_the_known_words_are_offered() -> None:
    log = log_of(night('- {patient: "10442", at: 19:40, volume_ml: 900, flow: ok}\n'))
    (entry,), (found,) = log.entries, log.findings
    assert entry.is_reading
    assert not entry.is_good_reading
    assert found.message == (
        "'ok' is not one of the words used here, so this exercise does not count as in good form."
    )
    assert found.fix == "Type one of: steady, fast, slow, blew."


@pytest.mark.parametrize(
    "denied",
    [
        *("denies chest pain", "no dizziness", "Denied faint", "not dizzy", "without cough"),
        *("w/o chest pain", "[no, dizzy]", "dizzy (no)", "'dizzy: no'", "chest pain 0"),
        *("doesn't feel dizzy", "neg chest pain", "chest-pain free", "never faint", "nil dizzy"),
        *("no chest pain, dizzy", "'\u00f8 chest pain'", "not dizzy; none"),
    ],
)
def test_what_denies_a_symptom_charts_none(denied: str) -> None:
    log = log_of(night(f'- {{patient: "10442", at: 19:40, breaths: 8, symptoms: {denied}}}\n'))
    assert log.entries[0].signs.symptoms == frozenset()
    assert log.entries[0].unread == ("symptoms",)
    found = [each.code for each in log.findings if each.code != "comma-in-text"]
    assert found == ["denied"]
    assert "Type only what there is, or type none if" in log.findings[-1].fix


@pytest.mark.parametrize(
    ("cell", "likely"),
    [
        ("symptoms: 'faint, denies chest pain'", Signs(frozenset({Symptom.FAINT}))),
        ("symptoms: 'denies chest pain, faint'", Signs()),
        ("symptoms: dizzy/fiant", Signs(frozenset({Symptom.FAINT}))),
        ("symptoms: fiant pale", Signs(frozenset({Symptom.FAINT}))),
        ("spo2: 84 RA", Signs(spo2=84)),
        ("spo2: 84-86", Signs(spo2=84)),
        ("spo2: '< 88'", Signs(spo2=88)),
        ("pulse: '>140'", Signs(pulse=140)),
        ("spo2: 840", Signs()),
    ],
)
def test_what_a_lost_sign_probably_means_is_kept_for_the_rules(cell: str, likely: Signs) -> None:
    entry = entry_of(f"at: 19:40, breaths: 8, {cell}")
    assert entry.likely == likely


@pytest.mark.parametrize(
    ("symptoms", "likely"),
    [
        ("dizzy/fiant", "dizzy; faint"),
        ("'dizzy, fiant, sob'", "dizzy; faint; breathless"),
        ("dizzy pale", None),
    ],
)
def test_the_cell_that_was_meant_is_offered_whole(symptoms: str, likely: str | None) -> None:
    log = log_of(night(f'- {{patient: "10442", at: 19:40, breaths: 8, symptoms: {symptoms}}}\n'))
    for each in log.findings:
        assert (each.fix.endswith(f"mean {likely}?")) if likely else ("mean" not in each.fix)


@pytest.mark.parametrize(
    ("cell", "likely"),
    [
        ("flow: slow and steady", None),
        ("flow: not steady", None),
        ("flow: very slow", "slow"),
        ("what: notified", "told"),
        ("what: notify MD", "told"),
        ("what: not declined", None),
        ("position: up in chair", "sitting"),
    ],
)
def test_a_choice_is_offered_only_where_one_alone_can_be_meant(
    cell: str, likely: str | None
) -> None:
    log = log_of(night(f'- {{patient: "10442", at: 19:40, breaths: 8, {cell}}}\n'))
    (found,) = log.findings
    assert (found.fix.endswith(f"mean {likely}?")) if likely else ("mean" not in found.fix)


@pytest.mark.parametrize(
    ("fact", "likely"),
    [
        ("weight_kg: 154 lb", "69.9"),
        ("weight_kg: 70 kilos", "70"),
        ("weight_kg: 11 st", None),
        ("height_cm: 64 in", "162.6"),
        ("height_cm: 1.62 m", "162"),
        ("baseline_ml: 12 dL", "1200"),
        ("baseline_ml: 120 cl", "1200"),
        ("baseline_ml: 1.2 litres", "1200"),
        ("baseline_ml: 900 to goal", None),
    ],
)
def test_a_number_in_another_unit_is_offered_in_the_own_one(fact: str, likely: str | None) -> None:
    log = log_of(night(patients=f"{PATIENT}  {fact}\n"))
    (found,) = log.findings
    assert found.code == "not-a-number"
    assert (found.fix.endswith(f"mean {likely}?")) if likely else ("mean" not in found.fix)


@pytest.mark.parametrize(
    ("cell", "value", "what"),
    [
        ("pain: 3/10", 3, "its scale (of 10)"),
        ("pain: 3 out of 10", 3, "its scale (of 10)"),
        ("spo2: 94.", 94, "a full stop at its end"),
        ("symptoms: dizzy.", {"dizzy"}, "a full stop at its end"),
        ("symptoms: dizzy/faint.", {"dizzy", "faint"}, "a full stop at its end"),
        ("flow: steady.", Flow.STEADY, "a full stop at its end"),
        ("what: Exercise.", What.EXERCISE, "a full stop at its end"),
    ],
)
def test_what_is_written_in_passing_is_read_and_said(cell: str, value: object, what: str) -> None:
    log = log_of(night(f'- {{patient: "10442", at: 19:40, breaths: 8, {cell}}}\n'))
    (found,) = log.findings
    assert found.code == "read-as"
    assert f"written with {what}" in found.message
    (entry,) = log.entries
    name = cell.partition(":")[0]
    assert getattr(entry if hasattr(entry, name) else entry.signs, name) == value


@pytest.mark.parametrize(("letter", "sex"), [("M", "male"), ("f", "female")])
def test_a_letter_is_a_sex_and_said(letter: str, sex: str) -> None:
    log = log_of(night(patients=f"{PATIENT}  sex: {letter}\n"))
    assert (log.patients[0].sex, [each.code for each in log.findings]) == (sex, ["read-as"])


@pytest.mark.parametrize(
    ("patient_id", "likely"),
    [
        ("10442.0", "10442"),
        ('"10442,00"', "10442"),
        ("1.23457E+11", None),
        ("#N/A", None),
        ("#REF!", None),
        ("########", None),
    ],
)
def test_an_id_that_a_spreadsheet_spoiled_is_lost(patient_id: str, likely: str | None) -> None:
    log = csv_log(ROW.replace("10442", patient_id), ROW)
    assert [patient.id for patient in log.patients] == ["10442"]
    (found,) = log.findings
    assert found.code == ("error-value" if "#" in patient_id else "spoiled-by-spreadsheet")
    assert (found.fix.endswith(f"mean {likely}?")) if likely else ("mean" not in found.fix)
    assert [row.reason for row in log.set_aside] == [found]


@pytest.mark.parametrize("bed", ["1.00E+02", "12.0", "#N/A"])
def test_a_bed_that_a_spreadsheet_spoiled_is_lost(bed: str) -> None:
    log = csv_log(ROW.replace("12A", bed))
    assert (log.patients[0].bed, log.patients[0].unread) == ("", ("bed",))
    assert [each.severity for each in log.findings] == [Severity.ERROR]


@pytest.mark.parametrize("bed", ["2-Jan", "Jan-02", "46085", "2026-01-02", "02/01/2026"])
def test_a_bed_like_a_date_is_used_and_said(bed: str) -> None:
    log = csv_log(ROW.replace("12A", bed))
    assert log.patients[0].bed == bed
    assert [(each.code, each.severity) for each in log.findings] == [
        ("bed-like-a-date", Severity.WARNING)
    ]


@pytest.mark.parametrize("bed", ["12A", "1-2", "3-12-1", "3E2", "46", "4608", "1.2", "Bed 2"])
def test_the_names_of_beds_are_no_dates(bed: str) -> None:
    assert csv_log(ROW.replace("12A", bed)).findings == ()


def test_a_character_without_width_makes_no_second_patient() -> None:
    log = csv_log(ROW, ROW.replace("10442", "10442\u200b").replace("19:40", "19:50"))
    assert [patient.id for patient in log.patients] == ["10442"]
    assert [each.patient_id for each in log.entries] == ["10442"] * 2
    assert found_in(log.findings) == [(3, "patient_id", "read-as")]


# times without a date


@pytest.mark.parametrize(
    ("cells", "code"),
    [
        ("at: 06:30, breaths: 8", "time-without-date"),
        ("at: 19:01, breaths: 8", "time-without-date"),
        ("at: 19:00, breaths: 8", "outside-shift"),  # the very end: of the next shift
        ("at: 07:00, breaths: 8", None),
        ("at: 17:55, until: 17:25, what: away", "end-without-date"),
        ("at: 17:55, until: 20:01, what: away", "end-without-date"),
        ("at: 17:55, until: 20:00, what: away", None),
    ],
)
def test_a_time_without_its_date_lies_in_the_shift_or_is_asked(
    cells: str, code: str | None
) -> None:
    day = "shift:\n  start: 2026-03-07 07:00\n  end: 2026-03-07 19:00\n"
    log = log_of(night(f'- {{patient: "10442", {cells}}}\n', shift=day))
    assert [each.code for each in log.findings] == ([code] if code else [])
    assert bool(log.set_aside) is (code in {"time-without-date", "end-without-date"})


@pytest.mark.parametrize(
    ("start", "is_said"), [("2027-01-02 08:00", False), ("2027-01-02 08:01", True)]
)
def test_a_shift_more_than_a_day_away_is_said(start: str, is_said: bool) -> None:
    shift = f"shift: {{start: {start}, end: 2027-01-02 19:00}}\n"  # it is 1 January, 08:00 here
    log = log_of(night("", PATIENT.replace("2026-03", "2026-12"), shift=shift))
    assert [each.code for each in log.findings] == ["shift-to-come"] * is_said


def test_decimal_commas_where_the_delimiter_is_none() -> None:
    header = "patient_id;name;born;at;breaths;hold_s;volume_ml\n"
    row = "1;Quince, Ida;1958-04-02;19:40;8;4,5;1,2\n"
    log = log_of(table(row, header=header), "night.csv", IN_OPTIONS)
    assert log.entries[0].hold_s == 4.5
    assert [each.code for each in log.findings if each.field == "volume_ml"] == [
        "looks-like-litres"
    ]
    with_comma = csv_log(WHO + '19:40,,,8,"1100,0",,\n')
    assert [each.code for each in with_comma.findings] == ["not-a-number"]


def test_dates_with_the_month_first_are_read_only_as_told() -> None:
    entry = '- {patient: "10442", at: 03/07/2026 19:40, breaths: 8}\n'
    assert log_of(night(entry)).entries == ()
    assert log_of(night(entry), given={"dates": "mdy"}).entries[0].at == utc("2026-03-07 23:40")


MONTH_FIRST = PATIENT.replace("1958-04-02", "9/30/1941")


def test_where_one_date_leaves_one_order_all_are_read_by_it_and_that_is_said_once() -> None:
    entry = '- {patient: "10442", at: 03/07/2026 19:40, breaths: 8}\n'
    log = log_of(night(entry + entry.replace("19:40", "20:40"), MONTH_FIRST))
    assert log.patients[0].born == date(1941, 9, 30)
    assert [each.at for each in log.entries] == [utc("2026-03-07 23:40"), utc("2026-03-08 00:40")]
    assert found_in(log.findings) == [(10, "born", "date-order")]
    assert "the month first" in log.findings[0].message
    assert "--dates mdy says the same" in log.findings[0].fix


def test_a_short_clock_time_may_stand_after_any_date() -> None:
    entry = '- {patient: "10442", at: 07.03.2026 19h40, breaths: 8}\n'
    log = log_of(night(entry), given={"dates": "dmy"})
    assert log.entries[0].at == utc("2026-03-07 23:40")
    (asked,) = log_of(night(entry)).findings
    assert asked.fix.endswith("mean 2026-03-07 19:40 (as --dates dmy reads it)?")


@pytest.mark.parametrize(
    ("born", "at"),
    [
        ("9/30/1941", "30/09/2025 19:40"),  # they contradict each other
        ("9/30/1941", "03.07.2026 19:40"),  # another mark
        ("9/10/1941", "03/07/2026 19:40"),  # both may be either
        ("9/31/1941", "03/07/2026 19:40"),  # no date at all
        ("1941-09-30", "9/30/26 19:40"),  # two digits: the year may be first
    ],
)
def test_without_one_order_month_and_day_are_asked_about(born: str, at: str) -> None:
    entry = f'- {{patient: "10442", at: {at}, breaths: 8}}\n'
    log = log_of(night(entry, PATIENT.replace("1958-04-02", born)))
    assert log.entries == ()
    assert log.set_aside[0].reason.code == "ambiguous-date"
    assert [each.code for each in log.findings if each.field == "at"] == ["ambiguous-date"]


def test_an_order_offered_has_the_whole_time_and_the_options_name() -> None:
    log = log_of(night('- {patient: "10442", at: 07.03.26 23:10, breaths: 8}\n'))
    assert log.findings[0].fix.endswith("mean 2026-03-07 23:10 (as --dates dmy reads it)?")


def test_times_in_the_forms_of_the_bedside_are_read_and_said_once_a_column() -> None:
    entries = "".join(
        f'- {{patient: "10442", at: {at}, breaths: 8}}\n'
        for at in ("7-Mar-2026 19:40", "2026/03/07 20:40", "21h40", "640", "6am")
    )
    log = log_of(night(entries))
    times = ["03-07 23:40", "03-08 00:40", "03-08 01:40", "03-08 09:40", "03-08 09:00"]
    assert [each.at for each in log.entries] == [utc(f"2026-{each}") for each in times]
    assert found_in(log.findings) == [(14, "at", "read-as")]


def test_a_time_twice_is_read_as_the_first_unless_an_offset_is_written() -> None:
    shift = "shift:\n  start: 2026-10-31 19:00\n  end: 2026-11-01 07:00\n"
    first = night('- {patient: "10442", at: 01:30, breaths: 8}\n', shift=shift)
    second = first.replace("at: 01:30", "at: 2026-11-01 01:30-04:00")
    assert log_of(first).entries[0].at == utc("2026-11-01 04:30")
    assert log_of(second).entries[0].at == utc("2026-11-01 05:30")
    assert log_of(second).findings == ()
    assert log_of(first).shift.hours == 13  # the clock goes back in this night


def test_a_time_alone_in_until_is_after_at() -> None:
    entry = entry_of("at: 22:00, until: 01:30, what: asleep")
    assert entry.until == utc("2026-03-08 05:30")


# rows


def test_the_sign_in_a_row_set_aside_is_kept() -> None:
    row = set_aside_of("patient: 10442, at: soon, breaths: 8, symptoms: [faint], spo2: 84, pain: x")
    assert row.signs == Signs(frozenset({Symptom.FAINT}), spo2=84)
    assert (row.patient_id, row.at, row.reason.code) == ("10442", None, "not-a-time")
    assert row.raw["at"] == "soon"


def test_the_sign_in_a_broken_row_is_kept_and_its_cells_are_not_reported() -> None:
    log = csv_log(ROW, AGAIN + "19:50,,,x,,faint,a,b\n", AGAIN + '19:55,,,8,,faint,"open\n')
    assert [each.code for each in log.findings] == ["long-row", "unclosed-quote"]
    assert [row.signs.symptoms for row in log.set_aside] == [{Symptom.FAINT}, {Symptom.FAINT}]
    assert [row.patient_id for row in log.set_aside] == ["10442", "10442"]


@pytest.mark.parametrize("cells", ["patient: ", "patient: , pain: 3", "pain: 3"])
def test_a_row_of_nobody_is_set_aside(cells: str) -> None:
    log = log_of(night(f"- {{at: 19:40, breaths: 8, {cells}}}\n"))
    assert found_in(log.findings) == [(14, "patient", "row-of-nobody")]
    assert log.counts == Counts(1, 0, 1)


@pytest.mark.parametrize(
    "cells",
    [
        "at: 19:40, what: exercize, breaths: 8",
        "at: 19:40, until: later, breaths: 8",
        "at: 19:40, until: 2026-03-08 02:30, what: asleep",
        "at: 19:40, at: 19:50, breaths: 8",
        "at: 19:40, what: away, what: asleep, until: 20:00",
        "at: 19:40, breaths: 8O",
    ],
)
def test_a_row_whose_kind_or_time_is_in_doubt_is_set_aside(cells: str) -> None:
    log = log_of(night(f'- {{patient: "10442", {cells}}}\n'))
    assert log.entries == ()
    assert log.set_aside[0].reason in log.findings


@pytest.mark.parametrize(
    ("breaths", "volume", "codes"),
    [
        ("1200", "8", ["breaths-for-volume"]),
        ("1200", "10", ["breaths-for-volume"]),  # 10 mL would be a volume
        ("150", "8", ["breaths-for-volume"]),  # 150 breaths would be breaths
        ("1250.5", "0", ["breaths-for-volume"]),
        ("99", "8", ["looks-like-litres"]),
        ("10", "2", ["looks-like-litres"]),
        ("1200", "100", ["out-of-range"]),
        ("1200", "900", ["out-of-range"]),
        ("1200", "1.1", ["looks-like-litres", "out-of-range", "empty-exercise"]),
        ("6001", "8", ["looks-like-litres", "out-of-range", "empty-exercise"]),
        ("1200", "", ["empty-exercise", "out-of-range"]),
        ("", "8", ["empty-exercise", "looks-like-litres"]),
        ("1O", "1200", ["not-a-number"]),
    ],
)
def test_breaths_and_volume_exchanged_take_the_row_and_are_not_exchanged_back(
    breaths: str, volume: str, codes: list[str]
) -> None:
    entry = (
        f'- {{patient: "10442", at: 19:40, breaths: {breaths}, volume_ml: {volume}, spo2: 90}}\n'
    )
    log = log_of(night(entry))
    assert sorted(each.code for each in log.findings) == sorted(codes)
    if codes == ["breaths-for-volume"]:
        assert f"Did you mean breaths {volume} and volume_ml {breaths}?" in log.findings[0].fix
        (row,) = log.set_aside
        assert (row.signs.spo2, row.raw["breaths"]) == (90, breaths)


def test_in_a_row_that_is_no_exercise_nothing_is_exchanged() -> None:
    entry = '- {patient: "10442", at: 19:40, what: note, breaths: 1200, volume_ml: 8}\n'
    log = log_of(night(entry))
    assert sorted(each.code for each in log.findings) == ["looks-like-litres", "out-of-range"]
    assert log.counts == Counts(1, 1, 0)


def test_a_flow_that_cannot_be_known_is_off_form() -> None:
    for flow in ("flow: steddy", "flow: fast, flow: steady", "flow: [steady]"):
        entry = entry_of(f"at: 19:40, volume_ml: 1100, {flow}")
        assert (entry.flow, entry.good_form, entry.is_reading) == (Flow.UNREADABLE, False, True)


@pytest.mark.parametrize(("until", "codes"), [("07:40", []), ("07:41", ["long-span"])])
def test_a_span_of_half_a_day_is_not_long(until: str, codes: list[str]) -> None:
    shift = SHIFT.replace("03-07", "05-07").replace("03-08", "05-08")
    entry = f'- {{patient: "10442", at: 19:40, until: {until}, what: asleep}}\n'
    assert [each.code for each in log_of(night(entry, shift=shift)).findings] == codes


def test_kinds_of_rows_that_need_no_breaths() -> None:
    rows = [
        "at: 19:40, what: declined",
        "at: 19:41, what: away, until: 20:00",
        "at: 20:01, what: asleep, until: 21:00",
        "at: 21:01, what: told, note: Dr T. Quill told of the fall",
        "at: 21:02, what: note, symptoms: [faint]",
        "at: 21:03, what: hold, note: Dr T. Quill until the scan",
        "at: 21:04, what: resume",
        "at: 21:05, what: settled, about: faint, note: Dr T. Quill has seen the patient",
        "at: 21:06, symptoms: [none]",
        "at: 21:07, what: left, note: to intensive care 2",
    ]
    log = log_of(night("".join(f'- {{patient: "10442", {row}}}\n' for row in rows)))
    assert log.findings == ()
    assert {entry.what for entry in log.entries} == set(What) - {What.EXERCISE}


@pytest.mark.parametrize(
    ("cells", "what"),
    [
        ("symptoms: [none]", What.SEEN),
        ("pain: 4, note: sat up", What.SEEN),
        ("spo2: 94, position: sitting, seen_by: nurse", What.SEEN),
        ("resp_rate: 8, until: 20:00", What.SEEN),
        ("temp_c: 38.2", What.SEEN),
        ("pulse: 80", What.SEEN),
        ("on_oxygen: yes", What.SEEN),
        ("oxygen: 2 L nasal", What.SEEN),
        ("spo2: 9O", What.SEEN),  # what cannot be read was seen all the same
        ("symptoms: feint", What.SEEN),
        ("pain: [3, 4]", What.SEEN),
        ("note: sat up", What.NOTE),
        ("note: sat up, position: sitting, seen_by: aide", What.NOTE),
        ("breaths: 8, spo2: 94", What.EXERCISE),
        ("volume_ml: 1100, note: sat up", What.EXERCISE),
    ],
)
def test_a_row_without_what_is_what_it_holds(cells: str, what: What) -> None:
    assert entry_of(f"at: 19:40, {cells}").what is what


@pytest.mark.parametrize(
    "cells",
    [
        "what: exercise, spo2: 84",
        "what: exercise, note: sat up",
        "hold_s: 4, spo2: 84",
        "flow: steady, note: sat up",
        "breaths: ten, spo2: 84",
        "volume_ml: 9999, note: sat up",
        "position: sitting",
        "seen_by: nurse, until: 20:00",
        "note: off to theatre, until: 20:40",  # an absence, as likely as a note
        "about: oxygen",
    ],
)
def test_a_row_that_may_be_an_exercise_is_one_without_breaths(cells: str) -> None:
    row = set_aside_of(f'patient: "10442", at: 19:40, {cells}')
    assert row.reason.code == "empty-exercise"
    assert row.signs.spo2 == (84 if "spo2" in cells else None)


def test_seen_is_no_word_of_a_log() -> None:
    assert set_aside_of('patient: "10442", at: 19:40, what: seen').reason.code == "not-a-choice"
    assert "seen" not in BY_NAME[Section.ENTRY, "what"].choices


@pytest.mark.parametrize(
    ("about", "expected", "errors"),
    [
        ("oxygen", ("oxygen",), 0),
        ("[pulse, oxygen]", ("oxygen", "pulse"), 0),
        (
            "'Pulse; Chest Pain/all dizzy,oxygen'",
            ("oxygen", "pulse", "chest_pain", "dizzy", "all"),
            0,
        ),
        ("[oxygen, oxygen]", ("oxygen",), 0),
        ("[oxigen, pulse]", ("pulse",), 1),
        ("spo2", (), 1),
        ("", (), 0),
    ],
)
def test_what_a_row_is_about_is_read_word_by_word(
    about: str, expected: tuple[str, ...], errors: int
) -> None:
    rows = f'- {{patient: "10442", at: 19:40, what: told, note: Dr Quill, about: {about}}}\n'
    log = log_of(night(rows))
    assert log.entries[0].about == expected
    assert log.entries[0].unread == ()
    assert [each.code for each in log.findings] == ["not-a-choice"] * errors


@pytest.mark.parametrize(
    ("cell", "likely"),
    [
        ("about: SpO2", "oxygen"),
        ("about: sat", "oxygen"),
        ("about: o2", "oxygen"),
        ("about: RR", "breathing"),
        ("about: resp", "breathing"),
        ("about: HR", "pulse"),
        ("about: heart_rate", "pulse"),
        ("about: temp", "temperature"),
        ("about: fever", "temperature"),
        ("about: SOB", "breathless"),
        ("what: stop", "hold"),
        ("what: withhold", "hold"),
        ("what: restart", "resume"),
        ("what: resolved", "settled"),
        ("what: discharged", "left"),
        ("what: transferred", "left"),
        ("what: died", "left"),
        ("what: gone", "left"),
    ],
)
def test_a_word_of_the_bedside_names_the_one_that_is_meant(cell: str, likely: str) -> None:
    log = log_of(night(f'- {{patient: "10442", at: 19:40, note: Dr Quill, {cell}}}\n'))
    (found,) = (each for each in log.findings if each.code == "not-a-choice")
    assert found.fix.endswith(f"Did you mean {likely}?")


@pytest.mark.parametrize("header", ["O2", "o2 ", "Supplemental O2"])
def test_the_column_of_oxygen_is_that_of_yes_and_no(header: str) -> None:
    assert nearest(header, sorted(CSV_NAMES)) == "on_oxygen"


# oxygen


@pytest.mark.parametrize("amount", ["2 L nasal", "28 %", "0.5 L", "1 L/min", "40 L 60 %", "mask"])
def test_who_is_given_oxygen_is_on_it(amount: str) -> None:
    for beside in ("", ", on_oxygen: yes"):
        entry = entry_of(f"at: 19:40, spo2: 93, oxygen: {amount}{beside}")
        assert (entry.signs.on_oxygen, entry.signs.oxygen) == (True, amount)
        assert entry.unread == ()


@pytest.mark.parametrize(
    "air",
    [
        *(
            "room air",
            "Room-Air",
            "RA",
            "ra",
            "R.A.",
            "air",
            "On air",
            "on room air",
            "'No'",
            "off",
        ),
        *("breathing room air", "None", "nil", "0", "0 L", "0L", "0 L/min", "21 %", "21%"),
    ],
)
def test_what_says_air_and_nothing_else_is_read_as_no_oxygen(air: str) -> None:
    for beside in ("", ", on_oxygen: no"):
        cells = f"at: 19:40, spo2: 93, oxygen: {air}{beside}"
        entry = entry_of(cells)
        assert (entry.signs.on_oxygen, entry.signs.oxygen) == (False, None)
        assert entry.unread == ()
        (found,) = log_of(night(f'- {{patient: "10442", {cells}}}\n')).findings
        assert (found.code, found.severity, found.field) == ("read-as", Severity.WARNING, "oxygen")
        assert "It is read as no under on_oxygen" in found.message


def test_air_is_told_of_once_a_column_and_read_each_time() -> None:
    rows = "".join(
        f'- {{patient: "10442", at: {at}, spo2: 93, oxygen: {air}}}\n'
        for at, air in (("19:40", "RA"), ("20:40", "room air"), ("21:40", "21 %"))
    )
    log = log_of(night(rows))
    assert [each.signs.on_oxygen for each in log.entries] == [False] * 3
    assert [each.code for each in log.findings] == ["read-as"]


def test_air_beside_yes_leaves_both_unknown() -> None:
    cells = "at: 19:40, spo2: 93, on_oxygen: yes, oxygen: RA"
    entry = entry_of(cells)
    assert (entry.signs.on_oxygen, entry.signs.oxygen) == (None, None)
    assert entry.unread == ("on_oxygen", "oxygen")
    found = log_of(night(f'- {{patient: "10442", {cells}}}\n')).findings
    assert [each.code for each in found] == ["read-as", "oxygen-disagrees"]


@pytest.mark.parametrize(
    "unsure",
    [
        *("no change", "not given", "off mask", "off oxygen", "no oxygen", "without", "none today"),
        *("0 L nasal", "0.0 L/min", "96 % RA", "2 L off to room air"),
    ],
)
def test_what_does_not_say_for_sure_that_it_is_air_is_not_read(unsure: str) -> None:
    for beside, known in (("", None), (", on_oxygen: yes", True), (", on_oxygen: no", False)):
        cells = f"at: 19:40, spo2: 93, oxygen: {unsure}{beside}"
        entry = entry_of(cells)
        assert (entry.signs.on_oxygen, entry.signs.oxygen) == (known, None)
        assert entry.unread == ("oxygen",)
        (found,) = log_of(night(f'- {{patient: "10442", {cells}}}\n')).findings
        assert (found.code, found.severity) == ("oxygen-is-none", Severity.ERROR)
        assert "Type no under on_oxygen and leave oxygen blank" in found.fix


@pytest.mark.parametrize(
    ("phone", "is_whole"),
    [
        *(("902-555-0144", True), ("+1 (902) 555 0144", True), ("902-555-0144 ext. 4410", True)),
        *(("ext. 4410, or 902-555-0144", True), ("555019", True), ("902 555 HOME", True)),
        *(("ext. 4410", False), ("Extension 441012", False), ("x4410", False), ("4410", False)),
        *(('"#441012"', False), ("4410 or 4411", False), ("ask the ward", False), ("911", False)),
    ],
)
def test_a_number_to_call_from_home_is_a_whole_one_and_no_extension_alone(
    phone: str, is_whole: bool
) -> None:
    log = log_of(night(unit=f"{UNIT}  home_phone: {phone}\n"))
    assert log.unit.home_phone == (phone if is_whole else None)
    assert [each.code for each in log.findings] == ([] if is_whole else ["inner-number"])
    assert all("for example 902-555-0144" in each.fix for each in log.findings)


@pytest.mark.parametrize("unknown", ["n/a", "unknown", "Not recorded", "'?'", "x" * 101])
def test_what_is_no_amount_at_all_puts_nobody_on_oxygen(unknown: str) -> None:
    entry = entry_of(f"at: 19:40, spo2: 93, oxygen: {unknown}")
    assert (entry.signs.on_oxygen, entry.signs.oxygen, entry.unread) == (None, None, ("oxygen",))


def test_an_amount_beside_no_leaves_both_unknown() -> None:
    cells = "at: 19:40, spo2: 93, on_oxygen: no, oxygen: 2 L"
    entry = entry_of(cells)
    assert (entry.signs.on_oxygen, entry.signs.oxygen) == (None, None)
    assert entry.unread == ("on_oxygen", "oxygen")
    assert entry.signs.spo2 == 93


def test_an_amount_beside_what_cannot_be_read_decides_nothing() -> None:
    entry = entry_of("at: 19:40, spo2: 93, on_oxygen: perhaps, oxygen: 2 L")
    assert (entry.signs.on_oxygen, entry.signs.oxygen) == (None, "2 L")
    assert entry.unread == ("on_oxygen",)
    on_air = entry_of("at: 19:40, spo2: 93, on_oxygen: perhaps, oxygen: RA")
    assert (on_air.signs.on_oxygen, on_air.signs.oxygen) == (None, None)
    assert on_air.unread == ("on_oxygen",)


def test_oxygen_in_a_row_set_aside_is_settled_too() -> None:
    of_row = "patient: 10442, at: soon, spo2: 84"
    assert set_aside_of(f"{of_row}, oxygen: 2 L").signs == Signs(
        spo2=84, on_oxygen=True, oxygen="2 L"
    )
    assert set_aside_of(f"{of_row}, oxygen: 2 L, on_oxygen: no").signs == Signs(spo2=84)
    assert set_aside_of(f"{of_row}, oxygen: RA").signs == Signs(spo2=84, on_oxygen=False)
    assert set_aside_of(f"{of_row}, oxygen: RA, on_oxygen: yes").signs == Signs(spo2=84)
    header = HEADER.replace("symptoms,", "symptoms,on_oxygen,oxygen,")
    log = csv_log(AGAIN + "19:50,,,x,,faint,no,2 L,a,b\n", WHO + ",,,,,,,\n", header=header)
    assert log.set_aside[0].signs == Signs(frozenset({Symptom.FAINT}))


@pytest.mark.parametrize(
    ("cell", "expected", "what"),
    [
        ("2 L", True, "an amount of oxygen"),
        ("2 L nasal", True, "an amount of oxygen"),
        ("28 %", True, "an amount of oxygen"),
        ("RA", False, "air"),
        ("room air", False, "air"),
        ("21 %", False, "air"),
        ("0 L", False, "air"),
        ("x", True, "a mark"),
        ("\u2713", True, "a mark"),
        ("yes.", True, "a full stop at its end"),
        ("1", None, None),
        ("96 % RA", None, None),
        ("no change", None, None),
        ("2", None, None),
    ],
)
def test_on_oxygen_may_hold_an_amount_or_air(
    cell: str, expected: bool | None, what: str | None
) -> None:
    log = log_of(night(f'- {{patient: "10442", at: 19:40, spo2: 93, on_oxygen: {cell}}}\n'))
    assert log.entries[0].signs.on_oxygen is expected
    (found,) = log.findings
    assert found.code == ("read-as" if what else "not-yes-or-no")
    assert what is None or f"written with {what}." in found.message


# none among the symptoms


@pytest.mark.parametrize(
    ("symptoms", "expected", "codes"),
    [
        ("none", {"none"}, []),
        ("[None, NONE]", {"none"}, []),
        ("[none, dizzy]", {"dizzy"}, ["none-and-more"]),
        ("none/faint chest pain", {"faint", "chest_pain"}, ["none-and-more"]),
        ("[feint, none]", set(), ["none-and-more", "not-a-choice"]),  # feint may be a symptom
    ],
)
def test_none_never_stands_beside_a_symptom(
    symptoms: str, expected: set[str], codes: list[str]
) -> None:
    log = log_of(night(f'- {{patient: "10442", at: 19:40, symptoms: {symptoms}}}\n'))
    (entry,) = log.entries
    assert entry.signs.symptoms == expected
    assert entry.unread == (("symptoms",) if codes else ())
    assert sorted(each.code for each in log.findings) == codes


# holds

HOLD = "what: hold, note: Dr Quill until the scan"


@pytest.mark.parametrize(
    ("until", "read"),
    [
        ("", None),
        ("until: 08:00, ", "2026-03-08 11:00"),  # the first such time, an hour after the shift
        ("until: 2026-03-08 19:30, ", "2026-03-08 22:30"),
        ("until: 2026-03-21 20:40, ", "2026-03-21 23:40"),  # 14 days, of which one has 23 hours
    ],
)
def test_a_hold_may_last_over_the_shift(until: str, read: str | None) -> None:
    log = log_of(night(f'- {{patient: "10442", at: 19:40, {until}{HOLD}}}\n'))
    assert log.findings == ()
    assert [each.until for each in log.entries] == [utc(read) if read else None]


@pytest.mark.parametrize(
    ("until", "codes", "hint"),
    [
        ("2026-03-07 19:40", ["hold-until-lost"], "2026-03-08 19:40"),
        ("2026-03-07 10:00", ["hold-until-lost"], "2026-03-08 10:00"),
        ("2026-03-21 20:41", ["hold-until-lost"], "2026-03-07 20:41"),
        ("2027-03-07 20:00", ["hold-until-lost"], "2026-03-07 20:00"),
        ("the scan", ["hold-until-lost"], None),
        ("02:30", ["hold-until-lost"], None),
        ("08:01", ["hold-until-lost"], None),
        ("[10:00]", ["hold-until-lost", "wrong-shape"], None),
    ],
)
def test_a_hold_is_in_force_whatever_its_end(
    until: str, codes: list[str], hint: str | None
) -> None:
    log = log_of(night(f'- {{patient: "10442", at: 19:40, until: {until}, {HOLD}}}\n'))
    (entry,) = log.entries
    assert (entry.what, entry.until, entry.at) == (What.HOLD, None, utc("2026-03-07 23:40"))
    assert sorted(each.code for each in log.findings) == codes
    (lost,) = (each for each in log.findings if each.code == "hold-until-lost")
    assert lost.severity is Severity.ERROR
    assert (f"Did you mean {hint}?" in lost.fix) if hint else ("mean" not in lost.fix)


def test_the_one_finding_on_the_end_of_a_hold_says_why() -> None:
    log = log_of(night(f'- {{patient: "10442", at: 19:40, until: 10:00, {HOLD}}}\n'))
    (found,) = log.findings
    assert found.message == (
        "the next such time after the start is more than an hour after the shift, so it may be a "
        "slip. The hold is used without an end."
    )


@pytest.mark.parametrize("what", ["away", "asleep", "resume, note: x", "note, note: x"])
def test_other_rows_with_such_an_end_are_set_aside(what: str) -> None:
    row = set_aside_of(f'patient: "10442", at: 19:40, until: 2026-03-07 10:00, what: {what}')
    assert row.reason.code == "until-not-after-at"


# notes, and what they are about


@pytest.mark.parametrize(
    ("cells", "codes"),
    [
        ("what: told, note: Dr Quill", []),
        ("what: told, note: Dr Quill, about: all", []),
        ("what: told, about: oxygen", ["told-without-note"]),
        ("what: settled", ["settled-without-note"]),
        ("what: settled, note: Dr Quill", ["settled-without-about"]),
        ("what: settled, note: Dr Quill, about: [pulse, oxigen]", ["not-a-choice"]),
        ("what: settled, note: Dr Quill, about: oxigen", ["not-a-choice"]),
        ("what: hold", ["hold-without-note"]),
        ("what: resume", []),
        ("what: left", ["left-without-note"]),
        ("what: hold, note: Dr Quill, about: oxygen", ["about-not-used"]),
        ("breaths: 8, about: oxygen", ["about-not-used"]),
        ("note: told Dr Quill, about: oxygen", ["about-not-used"]),
        ("spo2: 94, about: oxygen", ["about-not-used"]),
    ],
)
def test_what_a_note_must_say(cells: str, codes: list[str]) -> None:
    log = log_of(night(f'- {{patient: "10442", at: 19:40, {cells}}}\n'))
    assert [each.code for each in log.findings] == codes
    assert len(log.entries) == 1


def test_precautions_are_a_fact_of_the_patient() -> None:
    said = "flat, spine not cleared"
    of_yaml = log_of(night(patients=PATIENT + f'  precautions: "{said}"\n'))
    header = HEADER.replace("order_start,", "precautions,order_start,")
    row = WHO.replace("12A,", f'12A,"{said}",') + "19:40,,,8,,,\n"
    for log in (of_yaml, csv_log(row, header=header)):
        assert [each.precautions for each in log.patients] == [said]
        assert log.findings == ()
    long = log_of(night(patients=PATIENT + f"  precautions: {'x' * 501}\n"))
    assert [each.code for each in long.findings] == ["too-long"]
    assert (long.patients[0].precautions, long.patients[0].unread) == (None, ("precautions",))


def test_patient_rows_and_blank_rows_are_used() -> None:
    log = csv_log(WHO + ",,,,,,\n", ",,,,,,,,,,,\n", "\n", AGAIN + "19:40,,,8,,,\n", "\n")
    assert found_in(log.findings) == [
        (2, None, "patient-only-row"),
        (3, None, "blank-row"),
        (6, None, "blank-row"),
    ]
    assert "these 2 rows" in log.findings[1].message
    assert log.counts == Counts(5, 5, 0, without_entry=4)


def test_a_row_with_an_entry_but_no_time_is_not_a_patient_row() -> None:
    log = csv_log(ROW, WHO + ",,,8,,,\n", AGAIN + ",,,,,,\n")
    assert found_in(log.findings) == [(3, "at", "missing-cell"), (4, "at", "missing-cell")]


# entries against each other


def test_a_repeat_is_one_whose_every_cell_says_the_same() -> None:
    same = '- {patient: "10442", at: 2026-03-07 19:40, breaths: 8.0}\n'
    other = '- {patient: "10442", at: 19:40, breaths: 8, note: again}\n'
    log = log_of(night(ENTRY + same + other))
    assert found_in(log.findings) == [(15, None, "repeated-entry"), (16, None, "same-minute")]
    assert log.findings[0].related[0].line == 14
    assert [entry.place.line for entry in log.entries] == [14, 16]


def test_a_minute_has_sixty_seconds() -> None:
    at = [f"2026-03-07 {time}" for time in ("19:40:59", "19:40:00", "19:41:00")]
    rows = [f'- {{patient: "10442", at: {each}, breaths: 8}}\n' for each in at]
    log = log_of(night("".join(rows)))
    assert found_in(log.findings) == [(15, None, "same-minute")]


def test_who_tells_of_a_danger_in_its_minute_is_not_doubted_but_two_tellings_are() -> None:
    told = '- {patient: "10442", at: 19:40, what: told, about: [oxygen], note: Dr Quill}\n'
    log = log_of(night(ENTRY + told + told.replace("Quill", "Vane")))
    assert found_in(log.findings) == [(16, None, "same-minute")]
    assert log.findings[0].related[0].line == 15


def test_entries_of_two_patients_at_one_minute_are_no_matter() -> None:
    log = log_of(
        night(
            ENTRY + ENTRY.replace("10442", "10557"),
            patients=PATIENT + OTHER.replace("12A", "5"),
        )
    )
    assert log.findings == ()


@pytest.mark.parametrize(
    ("at", "codes"),
    [
        ("2026-03-07 18:59", ["outside-shift"]),
        ("2026-03-07 19:00", []),
        ("2026-03-08 06:59", []),
        ("2026-03-08 07:00", ["outside-shift"]),
        ("2026-03-09 07:00", ["outside-shift"]),
        ("2026-03-09 07:01", ["far-from-shift"]),
        ("2026-02-04 19:00", ["outside-shift"]),
        ("2026-02-04 18:59", ["far-from-shift"]),
    ],
)
def test_the_bounds_of_the_shift(at: str, codes: list[str]) -> None:
    log = log_of(night(f'- {{patient: "10442", at: {at}, breaths: 8}}\n'))
    assert [each.code for each in log.findings] == codes
    assert log.counts.set_aside == ("far-from-shift" in codes)


# patients


def test_one_id_for_two_people_takes_all_its_rows_and_its_sheet() -> None:
    rows = [
        ROW,
        AGAIN + "20:00,,,8,,,\n",
        ROW.replace("Odile", "Ottilie").replace("19:40", "21:00"),
    ]
    log = csv_log(*rows, WHO.replace("10442", "7").replace("12A", "3") + "19:40,,,8,,,\n")
    assert [patient.id for patient in log.patients] == ["7"]
    assert {row.reason.code for row in log.set_aside} == {"identity-in-doubt"}
    assert log.counts == Counts(4, 1, 3)
    found = next(each for each in log.findings if each.code == "one-id-two-people")
    assert (found.raw, found.related[0].line) == ("Larkspur, Ottilie", 2)


@pytest.mark.parametrize(
    "again",
    ['"larkspur,  odile"', "Odile Larkspur", '"LARKSPUR, ODILE"', '"Lárkspur, Odile"', ""],
)
def test_one_person_written_in_two_ways_is_one_person(again: str) -> None:
    log = csv_log(ROW, f"10442,{again},,,,20:00,,,8,,,\n")
    assert [patient.name for patient in log.patients] == ["Larkspur, Odile"]
    assert log.findings == ()


def test_a_fact_that_rows_dispute_is_not_known_even_if_said_again() -> None:
    log = csv_log(
        *(
            ROW.replace("12A", bed).replace("19:40", f"19:{minute}")
            for bed, minute in (("12A", 40), ("14", 41), ("12a", 42), ("", 43))
        )
    )
    assert log.patients[0].bed == ""
    assert [each.code for each in log.findings] == ["patient-disagrees"]
    assert "12A / 14" in log.findings[0].message


def test_a_fact_said_once_holds_for_all_rows() -> None:
    log = csv_log("10442,,,,,19:40,,,8,,,\n", ROW.replace("19:40", "19:50"))
    assert log.patients[0].name == "Larkspur, Odile"
    assert log.counts == Counts(2, 2, 0)


@pytest.mark.parametrize(
    ("patient", "codes", "kept"),
    [
        ('- {id: "10442", born: 1958-04-02, bed: 5}', ["missing-cell"], True),
        ('- {id: "10442", name: Ida Quince, bed: 5}', ["missing-cell"], True),
        ('- {id: "10442", name: Ida Quince, born: 1958, bed: 5}', ["not-a-date"], True),
        ('- {id: "10442", name: Ida Quince, born: 1958-04-02}', ["missing-cell"], True),
        ('- {id: "10442", bed: 5}', ["too-few-identifiers", "patient-not-identified"], False),
        (
            '- {id: "10442", born: 1958, bed: 5}',
            ["not-a-date", "too-few-identifiers", "patient-not-identified"],
            False,
        ),
        (
            "- {name: Ida Quince, born: 1958-04-02, bed: 5}",
            ["missing-cell", "unknown-patient"],
            False,
        ),
    ],
)
def test_two_identifiers_are_needed(patient: str, codes: list[str], kept: bool) -> None:
    log = log_of(night(patients=patient + "\n"))
    assert sorted(each.code for each in log.findings) == sorted(codes)
    assert len(log.patients) == len(log.entries) == kept


def test_a_patient_without_an_order_is_kept() -> None:
    log = log_of(
        night(patients=PATIENT.replace("  order: {breaths: 10, start: 2026-03-06 10:00}\n", ""))
    )
    assert log.patients[0].order is None
    assert log.findings == ()


@pytest.mark.parametrize(
    ("order", "codes"),
    [
        ("{breaths: 10}", ["order-without-start"]),
        ("{breaths: 10, start: 2026-03-06}", ["date-without-time", "order-without-start"]),
        ("{breaths: 10, start: 10:00}", ["time-without-date", "order-without-start"]),
        ("{spo2_min: x}", ["not-a-number", "order-without-start"]),
        ("at once", ["wrong-shape", "order-without-start"]),
        ("{}", []),
        ("", []),
    ],
)
def test_an_order_whose_start_is_not_known_is_none_and_says_so(
    order: str, codes: list[str]
) -> None:
    log = log_of(night(patients=PATIENT.replace("{breaths: 10, start: 2026-03-06 10:00}", order)))
    assert sorted(each.code for each in log.findings) == sorted(codes)
    assert log.patients[0].order is None


def test_a_time_within_the_shift_may_stand_alone_in_an_order() -> None:
    log = log_of(night(patients=PATIENT.replace("2026-03-06 10:00", "20:00")))
    order = log.patients[0].order
    assert order is not None
    assert order.start == utc("2026-03-08 00:00")


def test_a_bad_number_in_an_order_is_not_known_and_the_usual_one_does_not_stand_in() -> None:
    bad = "{start: 2026-03-06 10:00, every_h: 0, hold_s: five, goal_ml: 1.5}"
    log = log_of(night(patients=PATIENT.replace("{breaths: 10, start: 2026-03-06 10:00}", bad)))
    order = log.patients[0].order
    assert order is not None
    assert order.not_known == ("every_h", "goal_ml", "hold_s")
    assert order.amount is None
    assert Counter((each.code, each.field) for each in log.findings) == Counter(
        [
            ("out-of-range", "order_every_h"),
            ("order-not-readable", "order_every_h"),
            ("not-a-number", "order_hold_s"),
            ("looks-like-litres", "goal_ml"),
        ]
    )


# the unit and the shift


def test_an_option_fills_in_only_what_the_log_leaves_open() -> None:
    silent = night(unit="unit: {time_zone: America/Halifax}\n", shift="shift: {name: night}\n")
    log = log_of(silent, given=IN_OPTIONS)
    assert (log.unit.name, log.shift.name) == ("Harbour 3 East", "night")
    assert log.shift.end == utc("2026-03-08 10:00")
    assert log.findings == ()
    other = log_of(night(), given={"unit": "Harbour 9", "time_zone": "America/Halifax"})
    assert other.unit.name == "Harbour 3 East"
    assert [each.code for each in other.findings] == ["option-not-used"]


@pytest.mark.parametrize(
    ("option", "value", "code"),
    [
        ("time_zone", "Atlantic", "bad-time-zone"),
        ("shift", "2026-03-07 19:00", "bad-shift-option"),
        ("shift", "2026-03-07 19:00/", "bad-shift-option"),
        ("shift", "19:00/07:00", "time-without-date"),
        ("shift", "2026-03-07T19:00/2026-03-07T07:00", "shift-ends-too-soon"),
        ("unit", "  ", "missing-unit"),
    ],
)
def test_a_bad_option_is_named(option: str, value: str, code: str) -> None:
    log, findings = check_text(table(ROW), "night.csv", {**IN_OPTIONS, option: value})
    assert log is None
    assert code in {each.code for each in findings}


def test_an_interval_may_end_with_a_time_alone() -> None:
    log = log_of(table(ROW), "night.csv", {**IN_OPTIONS, "shift": "2026-03-07T19:00/07:00"})
    assert log.shift.end == utc("2026-03-08 10:00")


def test_a_shift_of_24_real_hours_is_the_longest() -> None:
    shift = "shift:\n  start: 2026-03-07 19:00\n  end: 2026-03-08 20:00\n"
    assert log_of(night(shift=shift)).shift.hours == 24  # 25 h on the clock, which goes forward


@pytest.mark.parametrize(
    ("unit", "shift"),
    [
        ("unit:\n", SHIFT),
        (UNIT.replace("America/Halifax", "Mars/Olympus"), SHIFT),
        (UNIT, "shift:\n"),
        (UNIT, SHIFT.replace("2026-03-07 19:00", "19:00")),
        (UNIT, SHIFT.replace("2026-03-07 19:00", "2026-03-08 02:30")),
        ("", SHIFT),
        (UNIT, ""),
    ],
)
def test_without_unit_zone_or_shift_there_is_no_log(unit: str, shift: str) -> None:
    log, findings = check_text(night(unit=unit, shift=shift))
    assert log is None
    assert Severity.ERROR in {each.severity for each in findings}


def test_rows_of_another_shift_are_set_aside_and_the_same_shift_in_other_words_is_not() -> None:
    header = "unit,time_zone,shift_start,shift_end,patient_id,name,at,breaths\n"
    same = "harbour 3 east,America/Halifax,2026-03-07T19:00,07:00,1,,19:50,8\n"
    rows = [
        "Harbour 3 East,America/Halifax,2026-03-07 19:00,2026-03-08 07:00,1,Ida Q,19:40,8\n",
        same,
        same.replace("east", "west").replace("19:50", "20:00"),
        same.replace("Halifax", "Toronto").replace("19:50", "20:10"),
        same.replace("T19:00", "T07:00").replace("19:50", "20:20"),
        ",,,,1,,20:30,8\n",
    ]
    log = log_of(table(*rows, header=header), "week.csv")
    assert [row.place.line for row in log.set_aside] == [4, 5, 6]
    assert {row.reason.code for row in log.set_aside} == {"other-shift"}
    assert log.counts == Counts(6, 3, 3)


def test_a_row_of_another_shift_puts_nobody_on_the_list() -> None:
    header = "unit,time_zone,shift_start,shift_end,patient_id,name,bed,at,breaths\n"
    of_night = "East,America/Halifax,2026-03-07 19:00,07:00,"
    of_day = of_night.replace("07 19:00", "08 07:00").replace(",07:00", ",19:00")
    rows = [
        of_night + "1,Ida Quince,3,19:40,8\n",
        of_day + "1,Ida Quince,9,08:40,8\n",
        of_day + "2,Bryn Moss,4,08:40,8\n",
        of_day + "3,Odile Larkspur,5,08:40,8\n",
        of_night + "3,Odile Larkspur,5,20:40,8\n",
    ]
    log = log_of(table(*rows, header=header), "week.csv")
    assert [(patient.id, patient.bed) for patient in log.patients] == [("1", "3"), ("3", "5")]
    assert [row.place.line for row in log.set_aside] == [3, 4, 5]
    assert {each.code for each in log.findings} == {"other-shift", "missing-cell"}


def test_findings_are_in_the_order_of_the_lines() -> None:
    text_of_log = night(ENTRY * 3, unit=UNIT + "  quiet: no\n", patients=PATIENT + OTHER)
    lines = [each.place.line or 0 for each in log_of(text_of_log).findings]
    assert lines == sorted(lines)
    assert len(lines) >= 3


def test_a_file_that_cannot_be_read_gives_its_findings(tmp_path: Path) -> None:
    log, findings = check(read(str(tmp_path / "none.csv")), options())
    assert log is None
    assert [each.code for each in findings] == ["no-such-file"]


@pytest.mark.parametrize(
    ("written", "likely"),
    [
        ("10443", "10442"),
        ("1442", "10442"),
        ("104442", "10442"),
        ("14042", "10442"),
        ("010442", "10442"),
        ("10 442", "10442"),
        ("ab77", "AB-77"),
        ("10471", None),
        ("10557", None),
        ("7719", None),  # 7718 or 7729
    ],
)
def test_an_unknown_id_names_the_one_that_it_is_a_slip_of(written: str, likely: str | None) -> None:
    others = "".join(
        f'- {{id: "{each}", name: P{each}, born: 1958-04-02, bed: B{each}}}\n'
        for each in ("AB-77", "7718", "7729")
    )
    log = log_of(night(ENTRY.replace("10442", written), patients=PATIENT + others))
    (found,) = log.findings
    assert found.code == "unknown-patient"
    assert (found.fix.endswith(f"mean {likely}?")) if likely else ("mean" not in found.fix)


# one row with a slip, and one person under two ids

ROWS = [ROW, ROW.replace("19:40", "20:40"), AGAIN + "21:40,,,8,,,\n"]


@pytest.mark.parametrize(
    ("slip", "code", "likely"),
    [
        (("Larkspur", "Larkspurr"), "other-person", "Larkspur, Odile"),
        (("1958-04-02", "1985-04-02"), "other-person", "1958-04-02"),
        (("Larkspur, Odile", "Quince, Ida"), "other-person", None),
        (("10442", "10443"), "id-of-one-row", "10442"),
        (("10442", "010442"), "id-of-one-row", "10442"),
    ],
)
@pytest.mark.parametrize("place", [0, 1, 3])
def test_only_the_row_with_a_slip_in_who_it_is_is_set_aside(
    slip: tuple[str, str], code: str, likely: str | None, place: int
) -> None:
    wrong = ROW.replace(*slip).replace("19:40", "22:40")
    rows = [*ROWS]
    rows.insert(place, wrong)
    log = csv_log(*rows)
    assert [(each.id, each.name) for each in log.patients] == [("10442", "Larkspur, Odile")]
    assert log.counts == Counts(4, 3, 1)
    assert [row.reason.code for row in log.set_aside] == [code]
    assert log.set_aside[0].place.line == place + 2
    assert found_in(log.findings) == [(place + 2, log.findings[0].field, code)]
    fix = log.findings[0].fix
    assert (fix.endswith(f"mean {likely}?")) if likely else ("mean" not in fix)


@pytest.mark.parametrize(
    "rows",
    [
        [ROW, ROW.replace("Odile", "Ida")],  # which of the two is right?
        [ROW, ROW.replace("Odile", "Ida"), AGAIN + "21:40,,,8,,,\n"],
        [ROW, ROW, ROW.replace("Odile", "Ida"), ROW.replace("1958", "1985")],
        [ROW, ROW, *[ROW.replace("Odile", "Ida")] * 2],
    ],
)
def test_where_the_rest_does_not_agree_all_rows_of_the_id_are_set_aside(rows: list[str]) -> None:
    log = csv_log(*rows)
    assert (log.patients, log.counts.used) == ((), 0)
    assert {row.reason.code for row in log.set_aside} == {"identity-in-doubt"}


@pytest.mark.parametrize(
    ("other", "likely"),
    [("010442", "10442"), ("10443", "10442"), ("99", None)],
)
def test_one_person_under_two_ids_is_said_and_not_merged(other: str, likely: str | None) -> None:
    again = ROW.replace("10442", other).replace("12A", "14")
    log = csv_log(*ROWS, again, again.replace("19:40", "20:40"))
    assert [each.id for each in log.patients] == ["10442", other]
    (found,) = log.findings
    assert (found.code, found.place.line, found.related[0].line) == ("two-ids", 5, 2)
    assert (found.fix.endswith(f"mean {likely}?")) if likely else ("mean" not in found.fix)


def test_two_people_are_not_one_person_under_two_ids() -> None:
    twin = ROW.replace("10442", "10443").replace("Odile", "Ottilie").replace("12A", "14")
    other = ROW.replace("10442", "0010442").replace("Larkspur, Odile", "Moss, Bryn")
    log = csv_log(*ROWS, twin, other.replace("12A", "15").replace("1958", "1961"))
    assert len(log.patients) == 3
    assert "two-ids" not in {each.code for each in log.findings}


@pytest.mark.parametrize(
    ("volume", "scale", "read"),
    [
        (">2500", "2500", 2500),
        ("\u22652500 mL", "2500", 2500),
        (">= 2500", "2500", 2500),
        (">2500", "3000", None),
        (">2500", "", None),
        (">much", "2500", None),
        ("<2500", "2500", None),
    ],
)
def test_more_than_the_device_can_show_is_a_reading_at_its_scale(
    volume: str, scale: str, read: int | None
) -> None:
    device = PATIENT + f"  device: {{scale_ml: {scale}}}\n"
    entry = ENTRY.replace("}", f", volume_ml: '{volume}'}}")
    log = log_of(night(entry + entry.replace("19:40", "20:40"), device))
    assert [each.volume_ml for each in log.entries] == [read] * 2
    codes = ["read-as"] if read else ["not-a-number"] * 2
    assert [each.code for each in log.findings] == codes

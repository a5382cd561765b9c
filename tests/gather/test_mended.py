"""Rows set aside, mended and given back: the result of a log that was right from the start."""

import csv
import io
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

import pytest
from msgspec.structs import replace

from handoff.cli import main as cli
from handoff.compose.export import measures_csv, set_aside_csv
from handoff.measure import measure
from handoff.model.findings import Finding, Place
from handoff.model.ward import Handover
from handoff.model.wording import Wording
from tests.support.bad_logs import (
    AGAIN,
    BAD_HANDOVERS,
    BAD_LOGS,
    ENTRY,
    EVENING,
    EVENING_ENTRY,
    HEADER,
    IN_OPTIONS,
    OTHER,
    PATIENT,
    ROW,
    UNIT_CELLS,
    UNIT_HEADER,
    WHO,
    night,
    table,
)
from tests.support.logs import options, read_handovers

Row = dict[str, str]
Mender = Callable[[Row], Mapping[str, str]]


@pytest.fixture(autouse=True)
def _in_a_folder_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def gathered(
    logs: Mapping[str, str] | Mapping[str, str | bytes], **given: str
) -> tuple[Handover, list[Finding]]:
    """The one hand-over of logs by file name."""
    for name, log in logs.items():
        Path(name).write_bytes(log if isinstance(log, bytes) else log.encode())
    (handover,), findings = read_handovers(list(logs), options(**given), None)
    return handover, findings


def rows_of(content: bytes) -> list[Row]:
    return list(csv.DictReader(io.StringIO(content.decode("utf-8-sig"), newline="")))


def mended(handover: Handover, mend: Mender) -> bytes:
    """The file of rows set aside, each with the cells that `mend` gives for it."""
    content = set_aside_csv(handover.logs)
    rows = rows_of(content)
    out = io.StringIO()
    writer = csv.DictWriter(out, list(rows[0]))
    writer.writeheader()
    writer.writerows({**row, **mend(row)} for row in rows)
    return out.getvalue().encode()


def result(handover: Handover) -> tuple[object, ...]:
    """What is handed over, wherever it stands in files."""
    nowhere = Place("")
    return (
        handover.counts,
        [replace(each, place=nowhere) for each in handover.patients],
        {
            patient_id: sorted((each.content for each in entries), key=repr)
            for patient_id, entries in handover.entries.items()
        },
        handover.stay_start,
        handover.name_alerts,
        measures_csv(handover, measure(handover), {}),
        [replace(row, place=nowhere, raw={}) for row in handover.set_aside],
    )


def assert_mended(
    wrong: Mapping[str, str], right: Mapping[str, str], mend: Mender, **given: str
) -> None:
    before, _ = gathered(wrong, **given)
    assert before.set_aside
    after, findings = gathered({**wrong, "mended.csv": mended(before, mend)}, **given)
    meant, _ = gathered(right, **given)
    assert result(after) == result(meant)
    assert {each.place.file for each in findings if each.code == "mended-row"} == {"mended.csv"}
    assert not [each for each in findings if each.code == "unknown-field"]


# every kind of row


@dataclass(frozen=True)
class Kind:
    """A row that is set aside, and its cells when they are right."""

    wrong: str
    right: dict[str, str]


RIGHT = {"patient_id": "10442", "at": "19:50", "breaths": "8"}
AWAY = {"patient_id": "10442", "at": "19:50", "until": "20:10", "what": "away"}


def _item(cells: str, **right: str) -> Kind:
    return Kind(f'- {{patient: "10442", {cells}}}\n', {**RIGHT, **right})


YAML_ROWS: dict[str, Kind] = {
    "missing-cell": _item("breaths: 8"),
    "row-of-nobody": Kind("- {at: 19:50, breaths: 8}\n", RIGHT),
    "too-long": Kind(f"- {{patient: {'1' * 201}, at: 19:50, breaths: 8}}\n", RIGHT),
    "bad-character": Kind('- {patient: "10442\\u202e", at: 19:50, breaths: 8}\n', RIGHT),
    "unknown-patient": Kind('- {patient: "10443", at: 19:50, breaths: 8}\n', RIGHT),
    "not-a-time": _item("at: ten to eight, breaths: 8"),
    "date-without-time": _item("at: 2026-03-07, breaths: 8"),
    "ambiguous-date": _item("at: 03/07/2026 19:50, breaths: 8"),
    "spreadsheet-serial": _item("at: 46088.826388, breaths: 8"),
    "time-does-not-exist": _item("at: 2026-03-08 02:30, breaths: 8", at="2026-03-08 03:30"),
    "duplicate-key": _item("at: 19:50, at: 20:50, breaths: 8"),
    "duplicate-key of a later line": Kind(
        '- patient: "10442"\n  at: 19:50\n  breaths: 8\n  at: 20:50\n', RIGHT
    ),
    "wrong-shape": _item("at: [19:50], breaths: 8"),
    "not-a-choice": _item("at: 19:50, what: exercize, breaths: 8", what="exercise"),
    "missing-until": Kind('- {patient: "10442", at: 19:50, what: away}\n', AWAY),
    "not-a-time of until": Kind(
        '- {patient: "10442", at: 19:50, until: ten past, what: away}\n', AWAY
    ),
    "until-not-after-at": Kind(
        '- {patient: "10442", at: 19:50, until: 2026-03-07 19:00, what: away}\n', AWAY
    ),
    "end-without-date": Kind('- {patient: "10442", at: 19:50, until: 19:20, what: away}\n', AWAY),
    "missing-dash": Kind(
        '- patient: "10442"\n  at: 19:50\n  patient: "10442"\n  breaths: 8\n', RIGHT
    ),
    "span-too-long": Kind(
        '- {patient: "10442", at: 19:50, until: 2026-03-09 20:10, what: away}\n', AWAY
    ),
    "breaths-for-volume": _item("at: 19:50, breaths: 1200, volume_ml: 8", volume_ml="1200"),
    "empty-exercise": _item("at: 19:50, hold_s: 4", hold_s="4"),
    "far-from-shift": _item("at: 2027-03-07 19:50, breaths: 8"),
    "repeated-entry": Kind(ENTRY, RIGHT),
    "no-colon": _item("at:19:50, breaths: 8"),
    "comma-in-number": _item("at: 19,50, breaths: 8"),
    "not-a-record": Kind("- 19:50 eight breaths\n", RIGHT),
}


def in_yaml(cells: Mapping[str, str]) -> str:
    named = {name.removesuffix("_id"): cell for name, cell in cells.items()}
    return f"- {json.dumps(named)}\n"


@pytest.mark.parametrize("kind", YAML_ROWS)
def test_every_kind_of_row_in_yaml(kind: str) -> None:
    row = YAML_ROWS[kind]
    wrong = {"night.yaml": night(ENTRY + row.wrong)}
    right = {"night.yaml": night(ENTRY + in_yaml(row.right))}
    before, _ = gathered(wrong)
    (aside,) = before.set_aside
    assert aside.reason.code == kind.partition(" ")[0]
    assert_mended(wrong, right, typed_anew(row.right))


def typed_anew(cells: Mapping[str, str]) -> Mender:
    """Every cell of a row cleared but the two it is known by, then `cells` typed."""
    known_by = ("set_aside_from", "set_aside_because", "set_aside_code")
    return lambda was: {name: "" for name in was if name not in known_by} | dict(cells)


CSV_ROWS: dict[str, Kind] = {
    "missing-cell": Kind(AGAIN + ",,,8,,,\n", RIGHT),
    "spoiled-by-spreadsheet": Kind("10442.0,,,,,19:50,,,8,,,\n", RIGHT),
    "error-value": Kind("#REF!,,,,,19:50,,,8,,,\n", RIGHT),
    "row-of-nobody": Kind(",,,,,19:50,,,8,,,\n", RIGHT),
    "says-nothing": Kind('"""",,,,,19:50,,,8,,,\n', RIGHT),
    "unknown-patient": Kind("10443,,,,,19:50,,,8,,,\n", RIGHT),
    "not-a-time": Kind(AGAIN + "ten to eight,,,8,,,\n", RIGHT),
    "not-a-choice": Kind(AGAIN + "19:50,,exercize,8,,,\n", {**RIGHT, "what": "exercise"}),
    "missing-until": Kind(AGAIN + "19:50,,away,,,,\n", AWAY),
    "until-not-after-at": Kind(AGAIN + "19:50,2026-03-07 19:00,away,,,,\n", AWAY),
    "empty-exercise": Kind(AGAIN + "19:50,,,,,,\n", RIGHT),
    "far-from-shift": Kind(AGAIN + "2027-03-07 19:50,,,8,,,\n", RIGHT),
    "repeated-entry": Kind(AGAIN + "19:40,,,8,,,\n", RIGHT),
    "short-row": Kind(AGAIN + "19:50,,,8\n", {**RIGHT, "note": "whole now"}),
    "row-in-one-cell": Kind('"10442,,,,,19:50,,,8,,,"\n', RIGHT),
    "long-row": Kind(AGAIN + "19:50,,,8,,,in bed, awake\n", {**RIGHT, "note": "in bed, awake"}),
    "unclosed-quote": Kind(AGAIN + '19:50,,,8,,,"sat up\n', {**RIGHT, "note": "sat up, then"}),
    "long-cell": Kind(AGAIN + f"19:50,,,8,,,{'x' * 140_000}\n", RIGHT),
    "formulas": Kind(AGAIN + "@19:50,,,8,,,=1+1\n", {**RIGHT, "note": "=1+1"}),
}


def in_csv(cells: Mapping[str, str]) -> str:
    out = io.StringIO()
    csv.DictWriter(out, HEADER.strip().split(","), lineterminator="\n").writerow(dict(cells))
    return out.getvalue()


@pytest.mark.parametrize("kind", CSV_ROWS)
def test_every_kind_of_row_in_csv(kind: str) -> None:
    row = CSV_ROWS[kind]
    wrong = {"night.csv": table(ROW, row.wrong)}
    right = {"night.csv": table(ROW, in_csv(row.right))}
    before, _ = gathered(wrong, **IN_OPTIONS)
    (aside,) = before.set_aside
    assert kind in {aside.reason.code, "formulas"}
    assert_mended(wrong, right, typed_anew(row.right), **IN_OPTIONS)


def test_a_row_of_another_shift() -> None:
    header = UNIT_HEADER + HEADER
    other = UNIT_CELLS.replace("03-07 19:00", "03-07 09:00")
    wrong = {"night.csv": table(UNIT_CELLS + ROW, other + AGAIN + "19:50,,,8,,,\n", header=header)}
    right = {"night.csv": wrong["night.csv"].replace("03-07 09:00", "03-07 19:00")}
    assert_mended(wrong, right, lambda _: {"shift_start": "2026-03-07 19:00"})


def test_columns_of_one_name_that_disagree() -> None:
    header = HEADER.replace("\n", ",Breaths\n")
    wrong = {"night.csv": table(ROW.replace("\n", ",9\n"), header=header)}
    right = {"night.csv": table(ROW.replace("\n", ",8\n"), header=header)}
    assert_mended(wrong, right, lambda _: {"breaths": "8"}, **IN_OPTIONS)


def test_an_id_that_stood_for_two_people() -> None:
    other = ROW.replace("Larkspur, Odile", "Quince, Ida").replace("19:40", "19:50")
    wrong = {"night.csv": table(ROW, other)}
    right = {"night.csv": table(ROW, other.replace("10442", "10557"))}
    ids = {"Quince, Ida": "10557", "Larkspur, Odile": "10442"}
    assert_mended(wrong, right, lambda row: {"patient_id": ids[row["name"]]}, **IN_OPTIONS)


@pytest.mark.parametrize(
    "slip", [("Larkspur", "Larkspurr"), ("1958-04-02", "1985-04-02"), ("10442", "10443")]
)
def test_the_one_row_with_a_slip_in_who_it_is(slip: tuple[str, str]) -> None:
    rows = [ROW, ROW.replace("19:40", "20:40")]
    last = ROW.replace("19:40", "21:40")
    wrong = {"night.csv": table(*rows, last.replace(*slip))}
    mend = {"patient_id": "10442", **NAMED}
    assert_mended(wrong, {"night.csv": table(*rows, last)}, lambda _: mend, **IN_OPTIONS)


NAMED = {"name": "Larkspur, Odile", "born": "1958-04-02", "bed": "12A"}


def test_a_patient_without_a_name() -> None:
    wrong = {"night.csv": table("10442,,,,2026-03-06 10:00,19:40,,,8,,,\n")}
    assert_mended(wrong, {"night.csv": table(ROW)}, lambda _: NAMED, **IN_OPTIONS)
    nameless = '- {id: "10442", bed: 12A, order: {breaths: 10, start: 2026-03-06 10:00}}\n'
    assert_mended(
        {"night.yaml": night(patients=nameless)}, {"night.yaml": night()}, lambda _: NAMED
    )


def test_a_patient_whom_the_log_did_not_list() -> None:
    entry = ENTRY.replace("10442", "10557")
    listed = OTHER.replace("12A", "5").replace("2026-03-06 10:00", "2026-03-06 11:00")
    facts = {
        "name": "Quince, Ida",
        "born": "1958-04-02",
        "bed": "5",
        "order_start": "2026-03-06 11:00",
    }
    assert_mended(
        {"night.yaml": night(ENTRY + entry)},
        {"night.yaml": night(ENTRY + entry, PATIENT + listed)},
        lambda _: facts,
    )


def test_another_person_in_an_earlier_log() -> None:
    bad = BAD_HANDOVERS["identity-disagrees"].logs
    right = {
        "evening.yaml": night(
            EVENING_ENTRY.replace("10442", "10557"), OTHER.replace("1958", "1985"), shift=EVENING
        ),
        "night.yaml": night(),
    }
    facts = {
        "patient_id": "10557",
        "name": "Quince, Ida",
        "born": "1985-04-02",
        "order_start": "2026-03-06 10:00",
    }
    before, _ = gathered(bad)
    after, _ = gathered({**bad, "mended.csv": mended(before, lambda _: facts)})
    meant, _ = gathered(right)
    assert result(after) == result(meant)


IN_THE_LOG_ITSELF = {
    "entry-of-other-time-zone": "the log's time zone is wrong, and none of its rows",
}
ELSEWHERE_HERE = {
    *("other-shift", "columns-disagree", "identity-in-doubt", "patient-not-identified"),
    *("identity-disagrees", "other-person", "id-of-one-row"),
}


def test_every_reason_for_setting_a_row_aside_is_mended_here() -> None:
    reasons = set()
    for bad in BAD_LOGS.values():
        if bad.content is not None:
            content = bad.content if isinstance(bad.content, bytes) else bad.content.encode()
            Path(bad.name).write_bytes(content)
            handovers, _ = read_handovers([bad.name], options(**bad.options), None)
            reasons |= {row.reason.code for each in handovers for row in each.set_aside}
    for several in BAD_HANDOVERS.values():
        for name, text in several.logs.items():
            Path(name).write_text(text, encoding="utf-8")
        handovers, _ = read_handovers(list(several.logs), options(), several.as_of)
        reasons |= {row.reason.code for each in handovers for row in each.set_aside}
    kinds = {kind.partition(" ")[0] for kind in (*YAML_ROWS, *CSV_ROWS)}
    assert reasons <= kinds | ELSEWHERE_HERE | set(IN_THE_LOG_ITSELF)


# several logs, other spreadsheets, another round


def test_rows_of_several_shifts_go_to_their_own_logs() -> None:
    late = '- {patient: "10442", at: 09:5O, breaths: 9, spo2: 90}\n'
    evening = night(EVENING_ENTRY + late, shift=EVENING)
    wrong = {
        "evening.yaml": evening,
        "night.csv": table(ROW, AGAIN + "19:5O,,,8,1200,,\n"),
        "other.csv": table(WHO + "21:5O,,,8,1250,,\n"),
    }
    right = {name: log.replace("5O", "50") for name, log in wrong.items()}
    assert_mended(wrong, right, lambda row: {"at": row["at"].replace("O", "0")}, **IN_OPTIONS)
    before, _ = gathered(wrong, **IN_OPTIONS)
    rows = rows_of(set_aside_csv(before.logs))
    assert [(row["set_aside_from"], row["shift_start"]) for row in rows] == [
        ("evening.yaml:15", "2026-03-07 07:00"),
        ("night.csv:3", "2026-03-07 19:00"),
        ("other.csv:2", "2026-03-07 19:00"),
    ]


def test_a_cell_is_read_by_the_decimal_sign_of_its_own_log() -> None:
    header = HEADER.replace(",", ";").replace("note", "temp_c")
    who = "10442;Larkspur, Odile;1958-04-02;12A;2026-03-06 10:00;"
    log = header + who + "19:40;;;8;;;37,1\n" + "10442;;;;;19:5O;;;8;;;37,2\n"
    right = {"night.csv": log.replace("5O", "50")}
    assert_mended({"night.csv": log}, right, lambda _: {"at": "19:50"}, **IN_OPTIONS)


def test_a_row_mended_halfway_can_be_mended_again() -> None:
    log = {"night.yaml": night('- {patient: "10443", at: 19:5O, breaths: 8}\n')}
    first, _ = gathered(log)
    again: dict[str, str | bytes] = {
        **log,
        "first.csv": mended(first, lambda _: {"patient_id": "10442"}),
    }
    second, _ = gathered(again)
    (row,) = second.set_aside
    assert (str(row.place), row.reason.code) == ("first.csv:2", "not-a-time")
    last = {"second.csv": mended(second, lambda _: {"at": "19:50"})}
    after, _ = gathered({**last, **again})
    meant, _ = gathered({"night.yaml": night(ENTRY.replace("19:40", "19:50"))})
    assert result(after) == result(meant)


def test_of_two_mended_rows_that_differ_one_counts_and_the_other_is_named() -> None:
    log = {"night.yaml": night(ENTRY.replace("19:40", "19:5O"))}
    before, _ = gathered(log)
    one = {"one.csv": mended(before, lambda _: {"at": "19:50"})}
    other = {"other.csv": mended(before, lambda _: {"at": "20:50"})}
    after, findings = gathered({**log, **one, **other})
    meant, _ = gathered({"night.yaml": night(ENTRY.replace("19:40", "19:50"))})
    assert [each.content for each in after.entries["10442"]] == [
        each.content for each in meant.entries["10442"]
    ]
    assert (after.counts.read, after.counts.used, after.counts.set_aside) == (2, 1, 1)
    (twice,) = (each for each in findings if each.code == "mended-row-twice")
    assert (str(twice.place), [str(place) for place in twice.related]) == (
        "other.csv:2",
        ["one.csv:2"],
    )


def test_rows_left_as_they_were_stay_set_aside() -> None:
    log = {"night.csv": table(ROW, AGAIN + "19:50,,,8\n", AGAIN + "20:5O,,,8,,,\n")}
    before, findings = gathered(log, **IN_OPTIONS)
    after, again = gathered({**log, "mended.csv": mended(before, lambda _: {})}, **IN_OPTIONS)
    assert (after.counts, after.set_aside) == (before.counts, before.set_aside)
    assert again == findings


def test_a_row_that_was_mended_in_its_log_is_not_replaced() -> None:
    """Line 15 was deleted, so that another row stands there now."""
    wrong = night(ENTRY + ENTRY.replace("19:40", "19:5O") + ENTRY.replace("19:40", "20:30"))
    before, _ = gathered({"night.yaml": wrong})
    file = mended(before, lambda _: {"at": "19:50"})
    edited = night(ENTRY + ENTRY.replace("19:40", "20:30"))
    after, _ = gathered({"night.yaml": edited, "mended.csv": file})
    three = [ENTRY.replace("19:40", at) for at in ("19:40", "19:50", "20:30")]
    meant, _ = gathered({"night.yaml": night("".join(three))})
    assert result(after) == result(meant)


def test_without_its_log_the_file_is_a_log_of_its_own() -> None:
    before, _ = gathered({"night.yaml": night(ENTRY.replace("19:40", "19:4O"))})
    file = mended(before, lambda _: {"at": "19:40"})
    after, _ = gathered({"mended.csv": file})
    meant, _ = gathered({"night.yaml": night()})
    assert after.findings == ()
    assert result(after) == result(meant)


def test_a_file_of_two_shifts_without_their_logs_gives_the_first_and_names_the_other() -> None:
    late = EVENING_ENTRY.replace("09:40", "09:4O")
    wrong = {
        "evening.yaml": night(late, shift=EVENING),
        "night.yaml": night(ENTRY.replace("19:40", "19:4O")),
    }
    before, _ = gathered(wrong)
    after, findings = gathered(
        {"mended.csv": mended(before, lambda row: {"at": row["at"].replace("O", "0")})}
    )
    assert (after.counts.used, after.counts.set_aside) == (1, 1)
    assert {each.code for each in findings} == {"other-shift"}


def test_a_file_that_nothing_was_set_aside_in_changes_nothing() -> None:
    plain, _ = gathered({"night.yaml": night()})
    after, findings = gathered({"night.yaml": night(), "none.csv": set_aside_csv(plain.logs)})
    assert result(after) == result(plain)
    assert findings == []


def test_what_a_row_does_not_tell_itself_is_the_logs() -> None:
    """A spreadsheet may write the dates of shift and patient its own way."""
    wrong = {"night.yaml": night(ENTRY.replace("19:40", "19:4O"))}
    usual = {
        "at": "19:40",
        "born": "4/2/1958",
        "shift_start": "3/7/2026 19:00",
        "order_start": "3/6/2026 10:00",
    }
    assert_mended(wrong, {"night.yaml": night()}, lambda _: usual)


WRONG = {
    "night.csv": table(
        ROW,
        AGAIN + "half past 7 王,,,8,1100,dizzy,sat up\n",
        AGAIN + "19:5O,,,9,1150,,\n",
    )
}
RIGHT_NIGHT = {
    "night.csv": WRONG["night.csv"].replace("half past 7 王", "19:30").replace("5O", "50")
}


def in_time(row: Row) -> dict[str, str]:
    return {"at": row["at"].replace("half past 7 王", "19:30").replace("O", "0")}


def saved_again(
    content: bytes, encoding: str = "utf-8", delimiter: str = ",", **columns: str
) -> bytes:
    """The file as a spreadsheet saves it that has no other letters, or another list separator."""
    rows = rows_of(content)
    out = io.StringIO()
    names = {name: columns.get(name, name) for name in rows[0]}
    writer = csv.writer(out, delimiter=delimiter)
    writer.writerow(names.values())
    writer.writerows(row.values() for row in rows)
    return out.getvalue().encode(encoding, "replace")


@pytest.mark.parametrize(
    "how",
    [
        {"encoding": "windows-1252"},
        {"encoding": "ascii"},
        {"encoding": "utf-16"},
        {"delimiter": ";"},
        {"delimiter": "\t"},
        {"set_aside_because": "Set aside because", "set_aside_from": "SET-ASIDE FROM"},
    ],
    ids=str,
)
def test_a_file_that_a_spreadsheet_saved_in_its_own_way_is_known(how: dict[str, str]) -> None:
    before, _ = gathered(WRONG, **IN_OPTIONS)
    file = saved_again(mended(before, in_time), **how)
    after, findings = gathered({**WRONG, "mended.csv": file}, **IN_OPTIONS)
    meant, _ = gathered(RIGHT_NIGHT, **IN_OPTIONS)
    assert result(after) == result(meant)
    assert after.counts.set_aside == 0
    assert {each.code for each in findings} == {"mended-row", "order-not-stated"}


@pytest.mark.parametrize("encoding", ["windows-1252", "ascii"])
def test_rows_left_as_they_were_are_known_after_letters_were_lost(encoding: str) -> None:
    before, findings = gathered(WRONG, **IN_OPTIONS)
    file = saved_again(mended(before, lambda _: {}), encoding=encoding)
    after, again = gathered({**WRONG, "mended.csv": file}, **IN_OPTIONS)
    assert after.counts == before.counts
    at = [row.at for row in after.set_aside]
    assert (at, len(again)) == ([None, None], len(findings) + 1)  # one row lost its letter


def test_dates_that_a_spreadsheet_wrote_its_own_way_are_refused_by_name() -> None:
    before, _ = gathered(WRONG, **IN_OPTIONS)
    usual = {"at": "3/7/2026 19:30", "shift_start": "3/7/2026 19:00", "born": "4/2/1958"}
    file = mended(before, lambda _: usual)
    after, findings = gathered({**WRONG, "mended.csv": file}, **IN_OPTIONS)
    assert after.counts == before.counts
    assert [each.code for each in findings].count("ambiguous-date") == 2
    told, _ = gathered({**WRONG, "mended.csv": file}, **IN_OPTIONS, dates="mdy")
    assert told.counts.set_aside == 0


def test_a_row_whose_reason_is_no_longer_that_of_its_log_is_set_aside() -> None:
    before, _ = gathered(WRONG, **IN_OPTIONS)
    file = mended(before, lambda row: {**in_time(row), "set_aside_code": "missing-cell at"})
    after, findings = gathered({**WRONG, "mended.csv": file}, **IN_OPTIONS)
    assert after.entries == before.entries
    assert (after.counts.used, after.counts.set_aside) == (1, 4)
    doubts = [each for each in findings if each.code == "mended-row-in-doubt"]
    assert [(each.place.file, each.place.line) for each in doubts] == [
        ("mended.csv", 2),
        ("mended.csv", 3),
    ]
    assert "night.csv:3" in doubts[0].message


@pytest.fixture
def other_words(monkeypatch: pytest.MonkeyPatch) -> Callable[[], None]:
    """Gives every finding other words, as a later version may."""
    return lambda: monkeypatch.setattr(Wording, "say", lambda *_, **__: "Other words.")


def test_a_row_is_known_whatever_the_words_of_its_finding(other_words: Callable[[], None]) -> None:
    log = {"night.csv": table(ROW, AGAIN + "19:5O,,,8,,,\n", AGAIN + "20:50,,,8\n")}
    before, _ = gathered(log, **IN_OPTIONS)
    right = {"at": "19:50", "breaths": "8", "patient_id": "10442"}
    file = mended(before, typed_anew(right))
    other_words()
    after, findings = gathered({**log, "mended.csv": file}, **IN_OPTIONS)
    assert [each.code for each in findings].count("mended-row") == 2
    assert (after.counts.used, after.counts.set_aside) == (2, 1)


def without_codes(content: bytes) -> bytes:
    """The file as it was before it had codes."""
    rows = [{k: v for k, v in row.items() if k != "set_aside_code"} for row in rows_of(content)]
    out = io.StringIO()
    writer = csv.DictWriter(out, list(rows[0]))
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue().encode()


def test_a_row_of_an_older_file_is_known_by_its_words() -> None:
    log = {"night.csv": table(ROW, AGAIN + "19:5O,,,8,,,\n", AGAIN + "20:50,,,8\n")}
    before, _ = gathered(log, **IN_OPTIONS)
    times = {"night.csv:2": "19:40", "night.csv:3": "19:50", "night.csv:4": "20:50"}
    right = {"patient_id": "10442", "breaths": "8", "note": "whole now"}
    file = mended(before, lambda row: {**right, "at": times[row["set_aside_from"]]})
    after, findings = gathered({**log, "mended.csv": without_codes(file)}, **IN_OPTIONS)
    assert [each.code for each in findings].count("mended-row") == 2
    assert (after.counts.used, after.counts.set_aside) == (3, 0)


def test_a_row_of_an_older_file_is_known_by_its_text_where_the_words_are_others(
    other_words: Callable[[], None],
) -> None:
    before, _ = gathered(WRONG, **IN_OPTIONS)
    file = without_codes(mended(before, in_time))
    other_words()
    after, findings = gathered({**WRONG, "mended.csv": file}, **IN_OPTIONS)
    assert {each.code for each in findings} == {"mended-row", "order-not-stated"}
    assert after.counts.set_aside == 0


def test_of_an_older_and_a_newer_row_that_differ_one_counts_and_the_other_is_named() -> None:
    before, _ = gathered(WRONG, **IN_OPTIONS)
    newer = mended(before, in_time)
    older = without_codes(newer).replace(b"1150", b"1250")
    for first, second in ((newer, older), (older, newer)):
        both = {"one.csv": first, "other.csv": second}
        after, findings = gathered({**WRONG, **both}, **IN_OPTIONS)
        assert [each.code for each in findings].count("mended-row-twice") == 1
        assert after.counts.set_aside == 2  # the repeat, and the one that says something else


def test_a_row_with_the_same_fault_in_another_text_is_not_replaced() -> None:
    """A row was added above in the log, so that each row stands where another one stood."""
    first, second = AGAIN + "19:5O,,,8,,,\n", AGAIN + "20:5O,,,9,,,\n"
    before, _ = gathered({"night.csv": table(ROW, first, second)}, **IN_OPTIONS)
    file = mended(before, lambda row: {"at": row["at"].replace("O", "0")})
    moved = table(ROW, AGAIN + "19:45,,,7,,,\n", first, second)
    after, findings = gathered({"night.csv": moved, "mended.csv": file}, **IN_OPTIONS)
    assert "mended-row" not in {each.code for each in findings}
    assert "mended-row-in-doubt" in {each.code for each in findings}
    assert {(row.place.file, row.place.line) for row in after.set_aside} >= {
        ("night.csv", 4),
        ("night.csv", 5),
    }


@pytest.mark.parametrize("gone", ["set_aside_from", "set_aside_because"])
def test_without_one_of_its_two_first_columns_the_file_is_refused(gone: str) -> None:
    before, _ = gathered(WRONG, **IN_OPTIONS)
    Path("mended.csv").write_bytes(saved_again(mended(before, in_time), **{gone: "because"}))
    handovers, findings = read_handovers(["night.csv", "mended.csv"], options(**IN_OPTIONS), None)
    assert handovers == ()
    errors = [each for each in findings if each.place.file == "mended.csv"]
    assert ("missing-column", gone) in [(each.code, each.field) for each in errors]


LONG_ENTRY = '- patient: "10442"\n  breaths: 8\n  at: half past 7\n'


@pytest.mark.parametrize(
    ("wrong", "right"),
    [
        (WRONG, RIGHT_NIGHT),
        ({"night.yaml": night(LONG_ENTRY)}, {"night.yaml": night(ENTRY.replace("40", "30"))}),
    ],
    ids=["csv", "the reason is on a later line of the entry"],
)
def test_a_log_that_is_named_from_another_folder_is_the_same(
    wrong: dict[str, str], right: dict[str, str]
) -> None:
    given = IN_OPTIONS if "night.csv" in wrong else {}
    before, _ = gathered(wrong, **given)
    file = mended(before, lambda row: {"at": in_time(row)["at"].replace("half past 7", "19:30")})
    Path("logs").mkdir()
    moved = {f"logs/{name}": log for name, log in wrong.items()}
    after, findings = gathered({**moved, "mended.csv": file}, **given)
    meant, _ = gathered(right, **given)
    assert result(after) == result(meant)
    assert {each.code for each in findings} - {"order-not-stated"} == {"mended-row"}


def test_of_two_logs_of_one_name_each_has_its_own_rows() -> None:
    for folder in ("a", "b"):
        Path(folder).mkdir()
    evening = night(EVENING_ENTRY.replace("09:40", "09:4O"), shift=EVENING)
    late = night(ENTRY.replace("19:40", "2026-03-07 19:4O"))
    logs = {"a/log.yaml": evening, "b/log.yaml": late}
    before, _ = gathered(logs)
    file = mended(before, lambda row: {"at": row["at"].replace("O", "0")})
    after, _ = gathered({**logs, "mended.csv": file})
    assert (after.counts.used, after.counts.set_aside) == (2, 0)
    elsewhere = file.replace(b"a/log.yaml", b"c/log.yaml").replace(b"b/log.yaml", b"d/log.yaml")
    not_known, _ = gathered({**logs, "mended.csv": elsewhere})
    assert not_known.counts.set_aside == 4


def test_the_folder_that_a_log_stands_in_is_not_replaced(
    capsys: pytest.CaptureFixture[str],
) -> None:
    Path("night.yaml").write_text(night(ENTRY.replace("19:40", "19:4O")), encoding="utf-8")
    assert cli.main(["sheets", "night.yaml", "--out", "tonight"]) == cli.DONE_WITH_ERRORS
    before = Path("tonight/set-aside.csv").read_bytes()
    arguments = ["sheets", "night.yaml", "tonight/set-aside.csv", "--out", "tonight"]
    assert cli.main(arguments) == cli.NOTHING_PRODUCED
    assert "would be replaced" in capsys.readouterr().err
    assert Path("tonight/set-aside.csv").read_bytes() == before
    assert cli.main([*arguments[:-1], "again"]) == cli.DONE_WITH_ERRORS

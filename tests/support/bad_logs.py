"""One small invented log for each thing that can be wrong with a log, and where it is found.

`BAD_LOGS` has for each code of a finding that reading or checking gives a log that triggers it and
all (line, column, code) found in it. All are of one night, 19:00 to 07:00 in Halifax, in which the
clock goes forward, and of one patient unless the log is about another.
"""

import csv
from collections.abc import Mapping
from dataclasses import dataclass, field

from tests.support.workbooks import cell, rows, sheet_of, workbook

Found = tuple[int | None, str | None, str]

UNIT = "unit:\n  name: Harbour 3 East\n  time_zone: America/Halifax\n"
SHIFT = "shift:\n  start: 2026-03-07 19:00\n  end: 2026-03-08 07:00\n"
PATIENT = """\
- id: "10442"
  name: Larkspur, Odile
  born: 1958-04-02
  bed: 12A
  order: {breaths: 10, start: 2026-03-06 10:00}
"""
ENTRY = '- {patient: "10442", at: 19:40, breaths: 8}\n'


def night(
    entries: str = ENTRY, patients: str = PATIENT, unit: str = UNIT, shift: str = SHIFT
) -> str:
    """A YAML log; unless replaced the patient stands on line 8 and the entry on line 14."""
    return f"{unit}{shift}patients:\n{patients}entries:\n{entries}"


HEADER = "patient_id,name,born,bed,order_start,at,until,what,breaths,volume_ml,symptoms,note\n"
WHO = '10442,"Larkspur, Odile",1958-04-02,12A,2026-03-06 10:00,'
ROW = WHO + "19:40,,,8,,,\n"
AGAIN = "10442,,,,,"
OF_ROW = next(csv.reader([ROW]))[:-1]


def table(*rows: str, header: str = HEADER) -> str:
    """A CSV log; its rows start on line 2. Unit and shift are given as options."""
    return header + "".join(rows)


UNIT_HEADER = "unit,time_zone,shift_start,shift_end,outgoing,"
UNIT_CELLS = "Harbour 3 East,America/Halifax,2026-03-07 19:00,2026-03-08 07:00,,"

IN_OPTIONS = {
    "unit": "Harbour 3 East",
    "time_zone": "America/Halifax",
    "shift": "2026-03-07T19:00/2026-03-08T07:00",
}


@dataclass(frozen=True)
class BadLog:
    """A log, the options it is checked with, and all that is found in it."""

    content: str | bytes | None
    found: list[Found]
    name: str = "night.yaml"
    options: Mapping[str, str] = field(default_factory=dict)


def _yaml(content: str | bytes, *found: Found, **options: str) -> BadLog:
    return BadLog(content, list(found), options=options)


def _csv(content: str | bytes, *found: Found, **options: str) -> BadLog:
    return BadLog(content, list(found), "night.csv", options or IN_OPTIONS)


def _sheet(data: str, *found: Found, **others: str) -> BadLog:
    content = workbook({"Log": data, **others})
    return BadLog(content, list(found), "night.xlsx", IN_OPTIONS)


def _cell(code: str, cell: str) -> BadLog:
    """A log whose one entry has a bad cell that is lost alone."""
    column = cell.partition(":")[0]
    log = night(f'- {{patient: "10442", at: 19:40, breaths: 8, {cell}}}\n')
    return _yaml(log, (14, column, code))


def _entry(code: str, cells: str, column: str | None = "at") -> BadLog:
    return _yaml(night(f'- {{patient: "10442", {cells}}}\n'), (14, column, code))


OTHER = PATIENT.replace("10442", "10557").replace("Larkspur, Odile", "Quince, Ida")
BACK_AND_FORTH = (("12A", "19:40"), ("14", "20:40"), ("12A", "21:40"))
ALIKE = OTHER.replace("Quince", "Larkspurr").replace("12A", "5")

BAD_LOGS: dict[str, BadLog] = {
    # the file
    "no-such-file": BadLog(None, [(None, None, "no-such-file")]),
    "is-a-folder": BadLog(None, [(None, None, "is-a-folder")], "."),
    "cannot-read": BadLog(None, [(None, None, "cannot-read")], f"{'n' * 300}.yaml"),
    "unknown-format": BadLog(night(), [(None, None, "unknown-format")], "night.log"),
    "empty-file": _yaml(" \n\n", (None, None, "empty-file")),
    "binary-file": _csv(b"PK\x03\x04\x14\x00\x06\x00", (None, None, "binary-file")),
    "other-spreadsheet": BadLog(b"x", [(None, None, "other-spreadsheet")], "night.xls"),
    "not-a-workbook": BadLog(b"x", [(None, None, "not-a-workbook")], "night.xlsx"),
    "too-many-cells": BadLog(
        b"PK\x01\x02" * 10_001, [(None, None, "too-many-cells")], "night.xlsx"
    ),
    "sheet-not-read": _sheet(
        sheet_of(table(ROW)), (None, None, "sheet-not-read"), Words=rows(["dizzy"])
    ),
    "second-log": _sheet(
        sheet_of(table(ROW)), (None, None, "second-log"), Evening=rows(["patient_id", "at"])
    ),
    "formula-without-value": _sheet(
        rows(*csv.reader([HEADER]), [*OF_ROW, cell(None, formula="A1")]),
        (2, "note", "formula-without-value"),
    ),
    "nul-bytes": _csv(table(ROW, AGAIN + "19:50,,,8\0,,,\n"), (3, None, "nul-bytes")),
    "encoding-assumed": _csv(
        table(ROW.replace("Odile", "Odéle")).encode("windows-1252"),
        (None, None, "encoding-assumed"),
    ),
    # YAML
    "yaml-syntax": _yaml(night("- {patient: ]\n"), (14, None, "yaml-syntax")),
    "yaml-alias": _yaml(night("- &first {patient: 1}\n- *first\n"), (14, None, "yaml-alias")),
    "yaml-tag": _yaml(night("- {patient: !!str 10442}\n"), (14, None, "yaml-tag")),
    "yaml-merge-key": _yaml(night("- <<: {patient: 1}\n"), (14, None, "yaml-merge-key")),
    "yaml-nesting": _yaml(f"unit: {'[' * 25}{']' * 25}", (1, None, "yaml-nesting")),
    "yaml-documents": _yaml(night() + "---\n" + night(), (15, None, "yaml-documents")),
    "yaml-key": _yaml(night("- ? [patient]\n  : 1\n"), (14, None, "yaml-key")),
    "duplicate-key": _entry("duplicate-key", "at: 19:40, breaths: 8, pain: 3, pain: 4", "pain"),
    "wrong-group": _yaml(
        night(
            patients=PATIENT.replace(
                "order: {", "order: {by: Dr Quill}\n  goal_ml: 1500\n  {"
            ).replace("{breaths: 10, start: 2026-03-06 10:00}", "start: 2026-03-06 10:00")
        ),
        (8, "order.start", "order-without-start"),
        (13, "goal_ml", "wrong-group"),
        (14, "start", "wrong-group"),
    ),
    "comma-in-number": _cell("comma-in-number", "volume_ml: 1,200"),
    "wrong-shape": _entry("wrong-shape", "at: 19:40, breaths: 8, pain: [3, 4]", "pain"),
    "missing-section": _yaml(night().partition("entries")[0], (None, "entries", "missing-section")),
    "no-colon": _entry("no-colon", "at: 19:40, volume_ml: 1100, breaths:8", "breaths"),
    "comma-in-text": _entry("comma-in-text", "at: 19:40, breaths: 8, note: sat up, slept", "note"),
    "not-a-record": _yaml(night("- 19:40 eight breaths\n"), (14, "entries", "not-a-record")),
    "missing-dash": _yaml(
        night(
            '- patient: "10442"\n  at: 19:40\n  breaths: 8\n'
            '  patient: "10442"\n  at: 20:40\n  breaths: 9\n'
        ),
        (17, "patient", "missing-dash"),
    ),
    "list-twice": _yaml(
        night() + "entries:\n" + ENTRY.replace("19:40", "20:40"), (15, "entries", "list-twice")
    ),
    "cut-by-comment": _yaml(
        night('- patient: "10442"\n  at: 19:40\n  what: told\n  note: told #2 doctor, SpO2 84\n'),
        (17, "note", "cut-by-comment"),
    ),
    "indented-section": _yaml(
        night().replace(f"entries:\n{ENTRY}", f"  entries:\n  {ENTRY}"),
        (13, "entries", "indented-section"),
    ),
    "unknown-section": _yaml(night() + "notes: []\n", (15, "notes", "unknown-section")),
    "unknown-field": _entry("unknown-field", "at: 19:40, breaths: 8, breath: 8", "breath"),
    # CSV
    "no-header": _csv("10442,19:40,8\n", (1, None, "no-header")),
    "columns-not-parted": _csv(
        "Sent: Sunday\n\n| patient_id | at | breaths |\n|---|---|---|\n| 10442 | 19:40 | 8 |\n",
        (3, None, "columns-not-parted"),
    ),
    "missing-column": _csv("name,at\nIda Quince,19:40\n", (1, "patient_id", "missing-column")),
    "duplicate-column": _csv(
        table(ROW.replace("\n", ",8\n"), header=HEADER.replace("\n", ",Breaths\n")),
        (1, "Breaths", "duplicate-column"),
    ),
    "columns-disagree": _csv(
        table(ROW.replace("\n", ",9\n"), header=HEADER.replace("\n", ",Breaths\n")),
        (1, "Breaths", "duplicate-column"),
        (2, "breaths", "columns-disagree"),
        (2, "breaths", "empty-exercise"),
    ),
    "column-without-name": _csv(
        table(ROW.replace("\n", ",fainted at the sink\n"), header=HEADER.replace("\n", ",\n")),
        (2, "column 13", "column-without-name"),
    ),
    "read-above": _csv(
        "Unit,Harbour 3 East\n" + table(ROW),
        (1, None, "read-above"),
        time_zone="America/Halifax",
        shift=IN_OPTIONS["shift"],
    ),
    "entry-above": _csv(ROW + HEADER + ROW.replace("19:40", "20:40"), (1, None, "entry-above")),
    "other-header": _csv(
        table(
            "10442,Larkspur,1958-04-02,12A,19:40,80,16\n",
            "patient_id,name,born,bed,at,resp_rate,pulse\n",
            "10442,,,,20:40,17,82\n",
            header="patient_id,name,born,bed,at,pulse,resp_rate\n",
        ),
        (3, None, "other-header"),
    ),
    "title-row": _csv(table(ROW, header="Breathing log\n\n" + HEADER), (1, None, "title-row")),
    "repeated-header": _csv(table(ROW, HEADER), (3, None, "repeated-header")),
    "blank-row": _csv(table(ROW, ",,,,,,,,,,,\n", "\n"), (3, None, "blank-row")),
    "patient-only-row": _csv(table(WHO + ",,,,,,\n"), (2, None, "patient-only-row")),
    "unit-only-row": _csv(
        table(UNIT_CELLS + ",,,,,,,,,,,\n", ",,,,," + ROW, header=UNIT_HEADER + HEADER),
        (2, None, "unit-only-row"),
    ),
    "short-row": _csv(table(ROW, AGAIN + "19:50,,,8\n"), (3, None, "short-row")),
    "row-in-one-cell": _csv(table(ROW, '"10442,,,,,19:50,,,8,,,"\n'), (3, None, "row-in-one-cell")),
    "long-row": _csv(table(ROW, AGAIN + "19:50,,,8,,,in bed, asleep\n"), (3, None, "long-row")),
    "unclosed-quote": _csv(
        table(ROW, AGAIN + '19:50,,,8,,,"sat up\n', AGAIN + "19:55,,,8,,,\n"),
        (3, None, "unclosed-quote"),
    ),
    "long-cell": _csv(table(ROW, AGAIN + f"19:50,,,8,,,{'x' * 140_000}\n"), (3, None, "long-cell")),
    # the unit and the shift
    "missing-unit": _yaml(
        night(unit="unit:\n  time_zone: America/Halifax\n"), (1, "unit.name", "missing-unit")
    ),
    "missing-time-zone": _csv(
        table(ROW),
        (1, "time_zone", "missing-time-zone"),
        unit="Harbour 3 East",
        shift=IN_OPTIONS["shift"],
    ),
    "missing-shift": _csv(
        table(ROW),
        (1, "shift_start", "missing-shift"),
        (1, "shift_end", "missing-shift"),
        unit="Harbour 3 East",
        time_zone="America/Halifax",
    ),
    "example-left": _yaml(
        night(unit=UNIT.replace("Harbour 3 East", "EXAMPLE UNIT")), (2, "unit.name", "example-left")
    ),
    "bad-shift-option": _csv(
        table(ROW),
        (None, "--shift", "bad-shift-option"),
        (1, "shift_start", "missing-shift"),
        (1, "shift_end", "missing-shift"),
        **{**IN_OPTIONS, "shift": "2026-03-07 19:00"},
    ),
    "shift-ends-too-soon": _yaml(
        night(shift="shift:\n  start: 2026-03-07 19:00\n  end: 2026-03-07 07:00\n"),
        (6, "shift.end", "shift-ends-too-soon"),
    ),
    "shift-too-long": _yaml(
        night(shift="shift:\n  start: 2026-03-07 19:00\n  end: 2026-03-09 07:00\n"),
        (6, "shift.end", "shift-too-long"),
    ),
    "shift-to-come": _yaml(
        night(
            "",
            PATIENT.replace("2026", "2027"),
            shift=SHIFT.replace("2026-03-07", "2027-03-07").replace("2026-03-08", "2027-03-08"),
        ),
        (5, "shift.start", "shift-to-come"),
    ),
    "bad-time-zone": _yaml(
        night(unit=UNIT.replace("America/Halifax", "Halifax")),
        (3, "unit.time_zone", "bad-time-zone"),
    ),
    "bad-quiet-hours": _yaml(
        night(unit=UNIT + "  quiet_hours: at night\n"),
        (4, "unit.quiet_hours", "bad-quiet-hours"),
        (4, "unit.quiet_hours", "default-used"),
    ),
    "inner-number": _yaml(
        night(unit=UNIT + "  home_phone: ext. 4410\n"),
        (4, "unit.home_phone", "inner-number"),
    ),
    "option-not-used": _yaml(night(), (2, "unit.name", "option-not-used"), unit="Harbour 3 West"),
    "other-shift": _csv(
        table(
            UNIT_CELLS + ROW,
            UNIT_CELLS.replace("03-07 19:00", "03-08 07:00") + AGAIN + "19:50,,,8,,,\n",
            header=UNIT_HEADER + HEADER,
        ),
        (3, "shift_start", "other-shift"),
    ),
    "unit-disagrees": _csv(
        table(
            UNIT_CELLS.replace(",,", ",M. Adeyemi,") + ROW,
            UNIT_CELLS.replace(",,", ",R. Osei,") + AGAIN + "19:50,,,8,,,\n",
            header=UNIT_HEADER + HEADER,
        ),
        (3, "outgoing", "unit-disagrees"),
    ),
    "default-used": _yaml(
        night(unit=UNIT + "  quiet_hours: at night\n"),
        (4, "unit.quiet_hours", "bad-quiet-hours"),
        (4, "unit.quiet_hours", "default-used"),
    ),
    # cells
    "missing-cell": _entry("missing-cell", "breaths: 8"),
    "read-as": _cell("read-as", "spo2: 94%"),
    "not-a-number": _cell("not-a-number", "volume_ml: 25O0"),
    "not-whole": _cell("not-whole", "pain: 4.5"),
    "out-of-range": _cell("out-of-range", "spo2: 940"),
    "looks-like-litres": _cell("looks-like-litres", "volume_ml: 1.2"),
    "not-a-choice": _cell("not-a-choice", "flow: steddy"),
    "not-a-language": _yaml(
        night(patients=PATIENT + "  language: Spanish\n"), (13, "language", "not-a-language")
    ),
    "no-words-in-language": _yaml(
        night(patients=PATIENT + "  language: tlh\n"), (13, "language", "no-words-in-language")
    ),
    "not-yes-or-no": _cell("not-yes-or-no", "on_oxygen: perhaps"),
    "not-done": _yaml(
        night(patients=PATIENT + "  teaching: {taught: maybe}\n"),
        (13, "teaching.taught", "not-done"),
    ),
    "denied": _cell("denied", "symptoms: denies chest pain"),
    "error-value": _cell("error-value", "volume_ml: '#N/A'"),
    "spoiled-by-spreadsheet": _csv(
        table(ROW.replace("10442", "10442.0"), ROW.replace("19:40", "19:50")),
        (2, "patient_id", "spoiled-by-spreadsheet"),
    ),
    "bed-like-a-date": _csv(table(ROW.replace("12A", "2-Jan")), (2, "bed", "bed-like-a-date")),
    "none-and-more": _cell("none-and-more", "symptoms: [none, dizzy]"),
    "oxygen-is-none": _cell("oxygen-is-none", "oxygen: no change"),
    "says-nothing": _csv(
        table(ROW, '"""",ditto,1958-04-02,12A,,20:40,,,8,,,""""\n'),
        (3, "name", "says-nothing"),
        (3, "patient_id", "says-nothing"),
    ),
    "too-long": _cell("too-long", f"note: {('slept and ' * 201)[:2001]}"),
    "bad-character": _cell("bad-character", "note: \u202esat up"),
    "born-out-of-range": _yaml(
        night(patients=PATIENT.replace("1958", "2058")), (10, "born", "born-out-of-range")
    ),
    "not-a-time": _entry("not-a-time", "at: half past seven, breaths: 8"),
    "not-a-date": _yaml(
        night(patients=PATIENT.replace("1958-04-02", "1958")), (10, "born", "not-a-date")
    ),
    "date-without-time": _entry("date-without-time", "at: 2026-03-07, breaths: 8"),
    "time-without-date": _yaml(
        night(patients=PATIENT.replace("2026-03-06 10:00", "10:00")),
        (12, "order.start", "time-without-date"),
        (12, "order.start", "order-without-start"),
    ),
    "end-without-date": _entry("end-without-date", "at: 19:55, until: 19:25, what: away", "until"),
    "ambiguous-date": _entry("ambiguous-date", "at: 03/07/2026 19:40, breaths: 8"),
    "date-order": _yaml(
        night(patients=PATIENT.replace("1958-04-02", "30/9/1941")), (10, "born", "date-order")
    ),
    "spreadsheet-serial": _entry("spreadsheet-serial", "at: 46088.8194, breaths: 8"),
    "time-does-not-exist": _entry("time-does-not-exist", "at: 2026-03-08 02:30, breaths: 8"),
    "time-twice": _yaml(
        night(
            '- {patient: "10442", at: 01:30, breaths: 8}\n',
            shift="shift:\n  start: 2026-10-31 19:00\n  end: 2026-11-01 07:00\n",
        ),
        (14, "at", "time-twice"),
    ),
    # rows
    "unknown-patient": _yaml(
        night('- {patient: "10443", at: 19:40, breaths: 8}\n'), (14, "patient", "unknown-patient")
    ),
    "row-of-nobody": _csv(
        table(ROW, ",,,,,Total,,,8,,,\n"),
        (3, "at", "not-a-time"),
        (3, "patient_id", "row-of-nobody"),
    ),
    "other-person": _csv(
        table(
            ROW,
            ROW.replace("19:40", "20:40"),
            ROW.replace("Larkspur", "Larkspurr").replace("19:40", "21:40"),
        ),
        (4, "name", "other-person"),
    ),
    "id-of-one-row": _csv(
        table(
            ROW,
            ROW.replace("19:40", "20:40"),
            ROW.replace("10442", "10443").replace("19:40", "21:40"),
        ),
        (4, "patient_id", "id-of-one-row"),
    ),
    "two-ids": _yaml(
        night(patients=PATIENT + PATIENT.replace("10442", "010442").replace("12A", "14")),
        (13, None, "two-ids"),
    ),
    "identity-in-doubt": _csv(
        table(ROW, ROW.replace("Odile", "Ottilie").replace("19:40", "19:50")),
        (2, "patient_id", "identity-in-doubt"),
        (3, "name", "one-id-two-people"),
        (3, "patient_id", "identity-in-doubt"),
    ),
    "patient-not-identified": _csv(
        table("10442,,,12A,,19:40,,,8,,,\n"),
        (2, "patient_id", "too-few-identifiers"),
        (2, "patient_id", "patient-not-identified"),
    ),
    "missing-until": _entry("missing-until", "at: 19:40, what: away", "until"),
    "until-not-after-at": _entry(
        "until-not-after-at", "at: 19:40, until: 2026-03-07 19:40, what: away", "until"
    ),
    "span-too-long": _entry(
        "span-too-long", "at: 19:40, until: 2026-03-08 20:41, what: away", "until"
    ),
    "long-span": _entry("long-span", "at: 19:40, until: 2026-03-08 09:00, what: away", "until"),
    "breaths-for-volume": _entry(
        "breaths-for-volume", "at: 19:40, breaths: 1200, volume_ml: 8", "breaths"
    ),
    "empty-exercise": _entry("empty-exercise", "at: 19:40, what: exercise, pain: 3", "breaths"),
    "not-an-exercise": _entry(
        "not-an-exercise", "at: 19:40, what: declined, breaths: 8", "breaths"
    ),
    "hold-until-lost": _entry(
        "hold-until-lost",
        "at: 19:40, until: 2026-03-21 20:41, what: hold, note: Dr Quill holds it for the scan",
        "until",
    ),
    "oxygen-disagrees": _entry(
        "oxygen-disagrees", "at: 19:40, spo2: 93, on_oxygen: no, oxygen: 2 L nasal", "oxygen"
    ),
    "told-without-note": _entry("told-without-note", "at: 19:40, what: told", "note"),
    "settled-without-note": _entry(
        "settled-without-note", "at: 19:40, what: settled, about: oxygen", "note"
    ),
    "settled-without-about": _entry(
        "settled-without-about",
        "at: 19:40, what: settled, note: Dr Quill has seen the patient",
        "about",
    ),
    "hold-without-note": _entry("hold-without-note", "at: 19:40, what: hold", "note"),
    "self-reported": BadLog(
        night(
            '- {patient: "10442", at: 19:40, what: told, about: dizzy, note: my wife knows, '
            "seen_by: patient}\n"
        ),
        [(14, "seen_by", "self-reported")],
    ),
    "left-without-note": _entry("left-without-note", "at: 19:40, what: left", "note"),
    "about-not-used": _cell("about-not-used", "about: oxygen"),
    # patients
    "one-id-two-people": _yaml(
        night(patients=PATIENT + PATIENT.replace("1958", "1985")),
        (15, "born", "one-id-two-people"),
        (19, "patient", "identity-in-doubt"),
    ),
    "too-few-identifiers": _yaml(
        night("", patients='- {id: "10442", bed: 12A}\n'), (8, "id", "too-few-identifiers")
    ),
    "patient-disagrees": _csv(
        table(*(WHO.replace("12A", bed) + at + ",,,8,,,\n" for bed, at in BACK_AND_FORTH)),
        (3, "bed", "patient-disagrees"),
    ),
    "bed-changed": _csv(
        table(*(WHO.replace("12A", bed) + at + ",,,8,,,\n" for bed, at in BACK_AND_FORTH[:2])),
        (3, "bed", "bed-changed"),
    ),
    "year-in-doubt": _yaml(
        night(patients=PATIENT.replace("2026-03-06", "2025-03-06")),
        (12, "order.start", "year-in-doubt"),
    ),
    "order-without-start": _yaml(
        night(patients=PATIENT.replace("start: 2026-03-06 10:00", "goal_ml: 1500")),
        (8, "order.start", "order-without-start"),
    ),
    "stop-before-start": _yaml(
        night(patients=PATIENT.replace("}", ", stop: 2026-03-06 10:00}")),
        (12, "order.stop", "stop-before-start"),
        (12, "order.stop", "order-not-readable"),
    ),
    "other-order-without-start": _yaml(
        night(
            patients=PATIENT.replace("order: {", "orders:\n  - {start: soon, breaths: 10}\n  - {")
        ),
        (13, "order.start", "not-a-time"),
        (13, "order.start", "other-order-without-start"),
    ),
    "order-not-readable": _yaml(
        night(patients=PATIENT.replace("breaths: 10", "breaths: ten")),
        (12, "order.breaths", "not-a-number"),
        (12, "order.breaths", "order-not-readable"),
    ),
    "new-order": _yaml(
        night(
            patients=PATIENT.replace("order: {", "orders:\n  - {start: 2026-03-07 22:00}\n  - {")
        ),
        (13, "order.start", "new-order"),
    ),
    "limits-reversed": _yaml(
        night(patients=PATIENT.replace("}", ", spo2_min: 94, spo2_max: 88}")),
        (12, "order.spo2_min", "limits-reversed"),
    ),
    # entries
    "repeated-entry": _yaml(night(ENTRY + ENTRY), (15, None, "repeated-entry")),
    "same-minute": _yaml(night(ENTRY + ENTRY.replace("8", "9")), (15, None, "same-minute")),
    "outside-shift": _entry("outside-shift", "at: 2026-03-08 07:00, breaths: 8", None),
    "none-in-shift": _yaml(
        night("".join(ENTRY.replace("19:40", f"2026-03-06 19:{each}") for each in (40, 50, 55))),
        *((line, None, "outside-shift") for line in (14, 15, 16)),
        (None, None, "none-in-shift"),
    ),
    "far-from-shift": _entry("far-from-shift", "at: 2027-03-07 19:40, breaths: 8", None),
}


def shift(start: str, end: str) -> str:
    return f"shift:\n  start: {start}\n  end: {end}\n"


EVENING = shift("2026-03-07 07:00", "2026-03-07 19:00")
FEBRUARY = PATIENT.replace("2026-03-06 10:00", "2026-02-25 10:00")
LEFT = '- {patient: "10442", at: 19:50, what: left, note: home}\n'
EVENING_ENTRY = '- {patient: "10442", at: 2026-03-07 09:40, breaths: 8}\n'


@dataclass(frozen=True)
class BadHandover:
    """Logs by file name that are fine alone, the time they are handed over for, what is found."""

    logs: Mapping[str, str]
    found: list[tuple[str, int | None, str]]
    as_of: str | None = None


def _with_evening(code: str, line: int | None, evening: str, **more: str) -> BadHandover:
    logs = {"evening.yaml": evening, "night.yaml": night(**more)}
    return BadHandover(logs, [("evening.yaml", line, code)])


BAD_HANDOVERS: dict[str, BadHandover] = {
    "as-of-before-shift": BadHandover(
        {"night.yaml": night()},
        [("night.yaml", None, "as-of-before-shift")],
        "2026-03-07 18:59",
    ),
    "after-as-of": BadHandover(
        {"night.yaml": night()}, [("night.yaml", 14, "after-as-of")], "19:30"
    ),
    "two-holds": BadHandover(
        {
            "evening.yaml": night(
                '- {patient: "10442", at: 2026-03-07 09:40, what: hold, note: Dr Quill}\n',
                shift=EVENING,
            ),
            "night.yaml": night('- {patient: "10442", at: 19:40, what: hold, note: Dr Quill}\n'),
        },
        [("night.yaml", 14, "two-holds")],
    ),
    "resume-without-hold": BadHandover(
        {"night.yaml": night('- {patient: "10442", at: 19:40, what: resume, note: Dr Quill}\n')},
        [("night.yaml", 14, "resume-without-hold")],
    ),
    "settled-nothing-open": BadHandover(
        {
            "night.yaml": night(
                '- {patient: "10442", at: 19:40, spo2: 84}\n'
                '- {patient: "10442", at: 19:50, what: settled, about: pulse, note: Dr Quill}\n'
            )
        },
        [("night.yaml", 15, "settled-nothing-open")],
    ),
    "told-about-what": BadHandover(
        {
            "night.yaml": night(
                '- {patient: "10442", at: 19:40, spo2: 84}\n'
                '- {patient: "10442", at: 19:50, what: told, note: "Dr Quill, SpO2 84"}\n'
            )
        },
        [("night.yaml", 15, "told-about-what")],
    ),
    "two-stays": BadHandover(
        {
            "february.yaml": night(
                "", shift=shift("2026-02-27 07:00", "2026-02-27 09:59"), patients=FEBRUARY
            ),
            "night.yaml": night(),
        },
        [("night.yaml", 8, "two-stays")],
    ),
    "not-repeated": BadHandover(
        {
            "evening.yaml": night(
                EVENING_ENTRY,
                shift=EVENING,
                patients=PATIENT.replace("  order: {", "  precautions: flat\n  order: {"),
            ),
            "night.yaml": night(),
        },
        [("night.yaml", 8, "not-repeated")],
    ),
    "not-taken-over": BadHandover(
        {
            "evening.yaml": night(
                EVENING_ENTRY,
                shift=EVENING,
                patients=PATIENT.replace("{breaths", "{by: Dr Quill, comfort_care: yes, breaths"),
            ),
            "night.yaml": night(patients=PATIENT.replace("2026-03-06 10:00", "2026-03-07 19:10")),
        },
        [("night.yaml", 8, "not-taken-over")],
    ),
    "order-not-stated": BadHandover(
        {"night.yaml": night(patients=PATIENT.replace("breaths: 10, ", ""))},
        [("night.yaml", 8, "order-not-stated")],
    ),
    "order-left-out": BadHandover(
        {
            "evening.yaml": night(EVENING_ENTRY, shift=EVENING),
            "night.yaml": night("", patients=PATIENT.partition("  order")[0]),
        },
        [("night.yaml", 8, "order-left-out")],
    ),
    "order-changed": BadHandover(
        {
            "evening.yaml": night(EVENING_ENTRY, shift=EVENING),
            "night.yaml": night(patients=PATIENT.replace("breaths: 10", "breaths: 5")),
        },
        [("night.yaml", 8, "order-changed")],
    ),
    "before-order": BadHandover(
        {"night.yaml": night(patients=PATIENT.replace("2026-03-06 10:00", "20:00"))},
        [("night.yaml", 14, "before-order")],
    ),
    "shifts-overlap": _with_evening(
        "shifts-overlap",
        None,
        night(
            EVENING_ENTRY, shift=EVENING.replace("end: 2026-03-07 19:00", "end: 2026-03-07 19:30")
        ),
    ),
    "other-time-zone": BadHandover(
        {
            "evening.yaml": night(
                EVENING_ENTRY, unit=UNIT.replace("Halifax", "Toronto"), shift=EVENING
            ),
            "night.yaml": night(),
        },
        [
            ("evening.yaml", None, "other-time-zone"),
            ("evening.yaml", 14, "entry-of-other-time-zone"),
            ("evening.yaml", None, "shifts-overlap"),
        ],
    ),
    "identity-disagrees": _with_evening(
        "identity-disagrees",
        14,
        night(EVENING_ENTRY, patients=PATIENT.replace("1958", "1985"), shift=EVENING),
    ),
    "on-two-units": BadHandover(
        {"east.yaml": night(), "west.yaml": night(unit=UNIT.replace("East", "West"))},
        [("east.yaml", 8, "on-two-units"), ("west.yaml", 8, "on-two-units")],
    ),
    "transfer-overlaps": BadHandover(
        {
            "east.yaml": night(
                "", shift=EVENING.replace("end: 2026-03-07 19:00", "end: 2026-03-07 19:30")
            ),
            "west.yaml": night(unit=UNIT.replace("East", "West")),
        },
        [("west.yaml", 8, "transfer-overlaps")],
    ),
    "no-longer-listed": _with_evening(
        "no-longer-listed",
        8,
        night(EVENING_ENTRY, shift=EVENING),
        patients=OTHER,
        entries=ENTRY.replace("10442", "10557"),
    ),
    "long-gone": BadHandover(
        {
            "february.yaml": night(
                "", shift=shift("2026-02-27 07:00", "2026-02-27 09:59"), patients=FEBRUARY
            ),
            "night.yaml": night(patients=OTHER, entries=ENTRY.replace("10442", "10557")),
        },
        [("night.yaml", None, "long-gone")],
    ),
    "left-in-shift": BadHandover(
        {"night.yaml": night(LEFT)}, [("night.yaml", 14, "left-in-shift")]
    ),
    "back-after-left": BadHandover(
        {
            "evening.yaml": night("", shift=EVENING),
            "night.yaml": night(
                LEFT + ENTRY.replace("19:40", "21:40"),
                PATIENT.replace("2026-03-06 10:00", "2026-03-07 21:00"),
            ),
        },
        [("night.yaml", 14, "back-after-left")],
    ),
    "charted-after-left": BadHandover(
        {"night.yaml": night(LEFT + ENTRY.replace("19:40", "20:40"))},
        [("night.yaml", 14, "charted-after-left")],
    ),
    "was-elsewhere": BadHandover(
        {
            "east.yaml": night(LEFT + ENTRY.replace("19:40", "22:40")),
            "west.yaml": night(
                ENTRY.replace("19:40", "20:40") + LEFT.replace("19:50", "22:10"),
                unit=UNIT.replace("East", "West"),
            ),
        },
        [("east.yaml", 14, "was-elsewhere"), ("west.yaml", 15, "left-in-shift")],
    ),
    "bed-shared": BadHandover(
        {"night.yaml": night(patients=PATIENT + OTHER)}, [("night.yaml", 13, "bed-shared")]
    ),
    "no-home-phone": BadHandover(
        {"night.yaml": night(patients=PATIENT + "  home_on: 2026-03-08\n")},
        [("night.yaml", None, "no-home-phone")],
    ),
    "similar-names": BadHandover(
        {"night.yaml": night(patients=PATIENT + ALIKE)},
        [("night.yaml", 8, "similar-names"), ("night.yaml", 13, "similar-names")],
    ),
    "logs-disagree": BadHandover(
        {"a.yaml": night(), "b.yaml": night("", patients=PATIENT.replace("12A", "5"))},
        [("b.yaml", 8, "logs-disagree")],
    ),
}
BAD_HANDOVERS["entry-of-other-time-zone"] = BAD_HANDOVERS["other-time-zone"]

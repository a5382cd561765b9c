"""The mending of every finding, typed as it says: the finding is gone, nothing new is wrong, and
the log says what was meant.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

import pytest

from handoff.check import check
from handoff.gather import gather
from handoff.model.findings import Severity
from handoff.model.ward import Flow, Log, What
from handoff.model.wording import FINDINGS
from handoff.read import parse
from tests.support.bad_logs import (
    BAD_HANDOVERS,
    BAD_LOGS,
    ENTRY,
    HEADER,
    IN_OPTIONS,
    LEFT,
    PATIENT,
    ROW,
    SHIFT,
    UNIT_CELLS,
    UNIT_HEADER,
    night,
    table,
)
from tests.support.logs import NOW, log_of, options, utc

EVERY_TWO_HOURS = ("q2h", "q 2 h", "Q2H", "every 2 h", "2h", "2 hourly", "every 2 hours")
ORDER = "".join(PATIENT.partition("  order")[1:])
STOPPED = "stop: 2026-03-07 12:00"

FIRST = utc("2026-03-07 23:40")  # 19:40 in Halifax


@dataclass(frozen=True)
class Mended:
    """What is typed instead of what, and what the log then says at `where`.

    `log` is the whole log anew, where it had to be saved or laid out again.
    """

    where: str
    value: object
    typed: Mapping[str, str] = field(default_factory=dict)
    log: str | None = None
    name: str | None = None
    options: Mapping[str, str] | None = None


def _typed(where: str, value: object, *typed: str) -> Mended:
    """`old -> new` for each change."""
    return Mended(where, value, dict(each.split(" -> ") for each in typed))


E_0, E_1, P_0 = "entries.0", "entries.1", "patients.0"

AS_CSV = Mended(f"{E_0}.breaths", 8, log=table(ROW), name="night.csv", options=IN_OPTIONS)

MENDED: dict[str, Mended] = {
    # the file
    "unknown-format": Mended(f"{E_0}.breaths", 8, name="night.yaml"),
    "empty-file": Mended(f"{E_0}.breaths", 8, log=night()),
    "other-spreadsheet": AS_CSV,
    "not-a-workbook": AS_CSV,
    "too-many-cells": AS_CSV,
    "second-log": AS_CSV,
    "formula-without-value": AS_CSV,
    "binary-file": Mended(f"{E_0}.breaths", 8, log=table(ROW)),
    "nul-bytes": _typed(f"{E_1}.breaths", 8, "\0 -> "),
    "encoding-assumed": Mended(
        f"{P_0}.name", "Larkspur, Odéle", log=table(ROW.replace("Odile", "Odéle"))
    ),
    # YAML
    "yaml-syntax": _typed(
        f"{E_0}.breaths", 8, '{patient: ] -> {patient: "10442", at: 19:40, breaths: 8}'
    ),
    "yaml-alias": Mended(E_0 + ".breaths", 8, {"- &first {patient: 1}\n- *first\n": ENTRY}),
    "yaml-tag": _typed(f"{E_0}.breaths", 8, "!!str 10442} -> 10442, at: 19:40, breaths: 8}"),
    "yaml-merge-key": _typed(
        f"{E_0}.breaths", 8, "<<: {patient: 1} -> {patient: 10442, at: 19:40, breaths: 8}"
    ),
    "yaml-nesting": Mended(E_0 + ".breaths", 8, log=night()),
    "yaml-documents": Mended(E_0 + ".breaths", 8, log=night()),
    "yaml-key": _typed(
        f"{E_0}.patient_id",
        "10442",
        "? [patient]\n  : 1 -> {patient: 10442, at: 19:40, breaths: 8}",
    ),
    "duplicate-key": _typed(f"{E_0}.signs.pain", 4, "pain: 3,  -> "),
    "missing-dash": _typed(f"{E_1}.breaths", 9, "8\n  patient -> 8\n- patient"),
    "list-twice": Mended(f"{E_1}.at", utc("2026-03-08 00:40"), {"8}\nentries:\n": "8}\n"}),
    "cut-by-comment": _typed(
        f"{E_0}.note",
        "told #2 doctor, SpO2 84",
        'told #2 doctor, SpO2 84 -> "told #2 doctor, SpO2 84"',
    ),
    "indented-section": Mended(E_0 + ".breaths", 8, {"  entries:\n  - ": "entries:\n- "}),
    "wrong-group": Mended(
        f"{P_0}.order.goal_ml",
        1500,
        {
            "  goal_ml: 1500\n  start": "    goal_ml: 1500\n    start",
            "{by: Dr Quill}": "\n    by: Dr Quill",
        },
    ),
    "comma-in-number": _typed(f"{E_0}.volume_ml", 1200, "1,200 -> 1200"),
    "wrong-shape": _typed(f"{E_0}.signs.pain", 4, "[3, 4] -> 4"),
    "missing-section": Mended("counts.read", 0, log=night().partition("entries")[0] + "entries:\n"),
    "no-colon": _typed(f"{E_0}.breaths", 8, "breaths:8 -> breaths: 8"),
    "comma-in-text": _typed(f"{E_0}.note", "sat up, slept", 'sat up, slept -> "sat up, slept"'),
    "not-a-record": _typed(
        f"{E_0}.breaths", 8, '- 19:40 eight breaths -> - {patient: "10442", at: 19:40, breaths: 8}'
    ),
    "unknown-section": _typed(f"{E_0}.breaths", 8, "notes: []\n -> "),
    "unknown-field": _typed(f"{E_0}.breaths", 8, ", breath: 8 -> "),
    # CSV
    "no-header": Mended(
        f"{E_0}.breaths",
        8,
        log='patient_id,name,born,bed,at,breaths\n10442,"Larkspur, Odile",1958-04-02,12A,19:40,8\n',
    ),
    "columns-not-parted": Mended(
        f"{E_0}.breaths",
        8,
        log="patient_id,at,breaths,name,bed,born\n10442,19:40,8,Larkspur,12A,1958-04-02\n",
    ),
    "missing-column": Mended(
        f"{P_0}.name",
        "Ida Quince",
        log="patient_id,name,born,bed,at,breaths\n1,Ida Quince,1958-04-02,5,19:40,8\n",
    ),
    "duplicate-column": Mended(f"{E_0}.breaths", 8, log=table(ROW)),
    "columns-disagree": Mended(f"{E_0}.breaths", 9, {",,,8,,,,9": ",,,,,,,9"}),
    "column-without-name": _typed(
        f"{E_0}.note", "fainted at the sink", ",,fainted at the sink -> ,fainted at the sink,"
    ),
    "entry-above": Mended("counts.used", 2, log=HEADER + ROW + ROW.replace("19:40", "20:40")),
    "other-header": Mended(f"{E_1}.signs.pulse", 82),
    "short-row": _typed(f"{E_1}.breaths", 8, "19:50,,,8\n -> 19:50,,,8,,,\n"),
    "row-in-one-cell": _typed(
        f"{E_1}.breaths", 8, '"10442,,,,,19:50,,,8,,,"\n -> 10442,,,,,19:50,,,8,,,\n'
    ),
    "long-row": _typed(f"{E_1}.note", "in bed, asleep", 'in bed, asleep -> "in bed, asleep"'),
    "unclosed-quote": _typed(f"{E_1}.note", "sat up", '"sat up\n -> "sat up"\n'),
    "long-cell": Mended(f"{E_1}.note", "xx", {"x" * 140_000: "xx"}),
    # the unit and the shift
    "missing-unit": _typed(
        "unit.name", "Harbour 3 East", "unit:\n -> unit:\n  name: Harbour 3 East\n"
    ),
    "missing-time-zone": Mended("unit.time_zone.key", "America/Halifax", options=IN_OPTIONS),
    "missing-shift": Mended("shift.end", utc("2026-03-08 10:00"), options=IN_OPTIONS),
    "example-left": _typed("unit.name", "Harbour 3 East", "EXAMPLE UNIT -> Harbour 3 East"),
    "bad-shift-option": Mended("shift.end", utc("2026-03-08 10:00"), options=IN_OPTIONS),
    "shift-ends-too-soon": _typed(
        "shift.end", utc("2026-03-08 10:00"), "end: 2026-03-07 -> end: 2026-03-08"
    ),
    "shift-too-long": _typed(
        "shift.end", utc("2026-03-08 10:00"), "end: 2026-03-09 -> end: 2026-03-08"
    ),
    "shift-to-come": Mended("shift.end", utc("2026-03-08 10:00"), {"2027": "2026"}),
    "bad-time-zone": _typed("unit.time_zone.key", "America/Halifax", "Halifax -> America/Halifax"),
    "bad-quiet-hours": _typed("unit.quiet_hours", None, "at night -> none"),
    "option-not-used": _typed("unit.name", "Harbour 3 West", "3 East -> 3 West"),
    "other-shift": Mended(
        "counts.used", 1, log=table(UNIT_CELLS + ROW, header=UNIT_HEADER + HEADER)
    ),
    "unit-disagrees": _typed("shift.outgoing", "M. Adeyemi", "R. Osei -> M. Adeyemi"),
    "default-used": _typed("unit.quiet_hours", None, "at night -> none"),
    # cells
    "missing-cell": _typed(f"{E_0}.at", FIRST, "breaths: 8 -> at: 19:40, breaths: 8"),
    "not-a-number": _typed(f"{E_0}.volume_ml", 2500, "25O0 -> 2500"),
    "not-whole": _typed(f"{E_0}.signs.pain", 4, "4.5 -> 4"),
    "out-of-range": _typed(f"{E_0}.signs.spo2", 94, "940 -> 94"),
    "looks-like-litres": _typed(f"{E_0}.volume_ml", 1200, "1.2 -> 1200"),
    "not-a-choice": _typed(f"{E_0}.flow", Flow.STEADY, "steddy -> steady"),
    "not-a-language": _typed(f"{P_0}.language", "es", "Spanish -> es"),
    "no-words-in-language": _typed(f"{P_0}.language", "vi", "tlh -> vi"),
    "not-yes-or-no": Mended(f"{E_0}.signs.on_oxygen", value=True, typed={"perhaps": "yes"}),
    "not-done": Mended(f"{P_0}.taught", value=False, typed={"maybe": "no"}),
    "none-and-more": _typed(f"{E_0}.signs.symptoms", {"dizzy"}, "[none, dizzy] -> [dizzy]"),
    "denied": _typed(f"{E_0}.signs.symptoms", {"none"}, "denies chest pain -> none"),
    "error-value": _typed(f"{E_0}.volume_ml", None, "'#N/A' -> "),
    "spoiled-by-spreadsheet": _typed(f"{E_0}.patient_id", "10442", "10442.0 -> 10442"),
    "bed-like-a-date": _typed(f"{P_0}.bed", "2-1", "2-Jan -> 2-1"),
    "oxygen-is-none": Mended(
        f"{E_0}.signs.on_oxygen", value=False, typed={"oxygen: no change": "on_oxygen: no"}
    ),
    "says-nothing": _typed(f"{E_1}.patient_id", "10442", '"""",ditto -> 10442,', ',""""\n -> ,\n'),
    "too-long": Mended(f"{E_0}.note", "slept", {("slept and " * 201)[:2001]: "slept"}),
    "bad-character": _typed(f"{E_0}.note", "sat up", "\u202e -> "),
    "born-out-of-range": _typed(f"{P_0}.born", date(1958, 4, 2), "2058 -> 1958"),
    "not-a-time": _typed(f"{E_0}.at", FIRST, "half past seven -> 2026-03-07 19:40"),
    "not-a-date": _typed(f"{P_0}.born", date(1958, 4, 2), "1958 -> 1958-04-02"),
    "date-without-time": _typed(f"{E_0}.at", FIRST, "at: 2026-03-07 -> at: 2026-03-07 19:40"),
    "time-without-date": _typed(
        f"{P_0}.order.start", utc("2026-03-06 14:00"), "start: 10:00 -> start: 2026-03-06 10:00"
    ),
    "end-without-date": _typed(f"{E_0}.until", utc("2026-03-08 00:25"), "19:25 -> 20:25"),
    "ambiguous-date": _typed(f"{E_0}.at", FIRST, "03/07/2026 19:40 -> 2026-03-07 19:40"),
    "spreadsheet-serial": _typed(f"{E_0}.at", FIRST, "46088.8194 -> 2026-03-07 19:40"),
    "time-does-not-exist": _typed(
        f"{E_0}.at", utc("2026-03-08 06:15"), "2026-03-08 02:30 -> 2026-03-08 03:15-03:00"
    ),
    "time-twice": _typed(f"{E_0}.at", utc("2026-11-01 05:30"), "01:30 -> 2026-11-01 01:30-04:00"),
    "inner-number": _typed("unit.home_phone", "902-555-0144", "ext. 4410 -> 902-555-0144"),
    # rows
    "unknown-patient": _typed(f"{E_0}.patient_id", "10442", "10443 -> 10442"),
    "row-of-nobody": Mended("counts.used", 1, log=table(ROW)),
    "other-person": _typed("counts.used", 3, "Larkspurr -> Larkspur"),
    "id-of-one-row": _typed("counts.used", 3, "10443 -> 10442"),
    "identity-in-doubt": _typed("counts.used", 2, "Ottilie -> Odile"),
    "patient-not-identified": _typed(
        f"{P_0}.name", "Larkspur", "10442,,,12A -> 10442,Larkspur,1958-04-02,12A"
    ),
    "missing-until": _typed(
        f"{E_0}.until", utc("2026-03-08 00:10"), "what: away -> what: away, until: 20:10"
    ),
    "until-not-after-at": _typed(
        f"{E_0}.until", utc("2026-03-08 00:40"), "until: 2026-03-07 19:40 -> until: 20:40"
    ),
    "span-too-long": _typed(
        f"{E_0}.until", utc("2026-03-08 00:41"), "2026-03-08 20:41 -> 2026-03-07 20:41"
    ),
    "long-span": _typed(f"{E_0}.until", utc("2026-03-08 01:00"), "2026-03-08 09:00 -> 21:00"),
    "breaths-for-volume": _typed(
        f"{E_0}.breaths", 8, "breaths: 1200, volume_ml: 8 -> breaths: 8, volume_ml: 1200"
    ),
    "empty-exercise": _typed(f"{E_0}.what", What.NOTE, "what: exercise -> what: note"),
    "not-an-exercise": _typed(f"{E_0}.breaths", 8, "what: declined -> what: exercise"),
    "hold-until-lost": _typed(f"{E_0}.until", None, "until: 2026-03-21 20:41,  -> "),
    "oxygen-disagrees": _typed(f"{E_0}.signs.oxygen", "2 L nasal", "on_oxygen: no,  -> "),
    "told-without-note": _typed(
        f"{E_0}.note", "Dr Quill, of the faint", "told -> told, note: 'Dr Quill, of the faint'"
    ),
    "settled-without-note": _typed(
        f"{E_0}.note", "Dr Quill saw it", "oxygen -> oxygen, note: Dr Quill saw it"
    ),
    "settled-without-about": _typed(
        f"{E_0}.about", ("oxygen",), "settled -> settled, about: oxygen"
    ),
    "hold-without-note": _typed(f"{E_0}.note", "Dr Quill", "hold -> hold, note: Dr Quill"),
    "self-reported": _typed(f"{E_0}.seen_by", "nurse", "seen_by: patient -> seen_by: nurse"),
    "left-without-note": _typed(f"{E_0}.note", "home", "left -> left, note: home"),
    "about-not-used": _typed(f"{E_0}.about", (), ", about: oxygen -> "),
    # patients
    "one-id-two-people": _typed("counts.used", 1, "1985 -> 1958"),
    "two-ids": _typed("counts.used", 1, "010442 -> 10442", "14\n -> 12A\n"),
    "too-few-identifiers": _typed(f"{P_0}.name", "Ida", "bed -> name: Ida, born: 1958-04-02, bed"),
    "patient-disagrees": Mended(f"{P_0}.bed", "12A", {",14,": ",12A,"}),
    "year-in-doubt": _typed(f"{P_0}.order.start", utc("2026-03-06 14:00"), "2025 -> 2026"),
    "order-without-start": _typed(
        f"{P_0}.order.goal_ml", 1500, "goal_ml -> start: 2026-03-06 10:00, goal_ml"
    ),
    "other-order-without-start": _typed(f"{P_0}.earlier_orders", (), "soon -> 2026-03-06 10:00"),
    "stop-before-start": _typed(
        f"{P_0}.order.stop", utc("2026-03-09 13:00"), "stop: 2026-03-06 -> stop: 2026-03-09"
    ),
    "order-not-readable": _typed(f"{P_0}.order.breaths", 12, "breaths: ten -> breaths: 12"),
    "new-order": _typed(f"{P_0}.earlier_orders", (), "2026-03-07 22:00 -> 2026-03-06 10:00"),
    "limits-reversed": Mended(
        f"{P_0}.order.spo2_max", 94, {"spo2_min: 94, spo2_max: 88": "spo2_min: 88, spo2_max: 94"}
    ),
    # entries
    "repeated-entry": Mended("counts.read", 1, log=night()),
    "same-minute": Mended(f"{E_1}.breaths", 9, {"19:40, breaths: 9": "19:50, breaths: 9"}),
    "outside-shift": _typed(
        f"{E_0}.at", utc("2026-03-08 09:00"), "at: 2026-03-08 07:00 -> at: 2026-03-08 06:00"
    ),
    "none-in-shift": Mended(f"{E_0}.at", FIRST, {"2026-03-06 19:": "2026-03-07 19:"}),
    "far-from-shift": _typed(f"{E_0}.at", FIRST, "2027 -> 2026"),
}

# Mended outside of the log's text.
NOT_IN_THE_LOG = {"no-such-file", "is-a-folder", "cannot-read"}


def _is_done() -> set[str]:
    """The codes whose mending is to do nothing, where what was read is right."""
    return {
        key.removesuffix(".fix")
        for key, words in FINDINGS.sentences.items()
        if key.endswith(".fix") and words.startswith("Nothing needs to be done")
    }


def _at(log: Log, path: str) -> object:
    value: Any = log
    for part in path.split("."):
        value = value[int(part)] if part.isdecimal() else getattr(value, part)
    return value


def test_every_code_of_a_log_has_its_mending_here() -> None:
    assert set(MENDED) == set(BAD_LOGS) - NOT_IN_THE_LOG - _is_done() - {"bed-changed"}


@pytest.mark.parametrize("code", MENDED)
def test_the_mending_typed_as_it_says_mends(code: str) -> None:
    bad, mended = BAD_LOGS[code], MENDED[code]
    original = bad.content if isinstance(bad.content, str) else ""
    content = original
    for old, new in mended.typed.items():
        assert old in content
        content = content.replace(old, new)
    text = content if mended.log is None else mended.log
    name = mended.name or bad.name
    given = bad.options if mended.options is None else mended.options
    log, after = check(parse(text, name), options(**given))
    before = check(parse(original, bad.name), options(**bad.options))[1] if original else ()
    assert log is not None, after
    codes = {each.code for each in after}
    if code != "other-header":  # there only a look is asked for
        assert code not in codes
    assert codes <= {each.code for each in before}
    assert all(each.severity is not Severity.ERROR for each in after)
    assert _at(log, mended.where) == mended.value


@pytest.mark.parametrize(
    ("cell", "advice", "typed"),
    [
        ("every_h: ten", "Type digits only, for example 2, as it is ordered", "every_h: 2"),
        *((f"every_h: {cell}", "Did you mean 2?", "every_h: 2") for cell in EVERY_TWO_HOURS),
        ("breaths: ten", "Type digits only, for example 10, as it is ordered", "breaths: 10"),
        ("breaths: 8-10", "ask which is ordered, 8 or 10", "breaths: 8"),
        ("goal_ml: ask", "as it is ordered", "goal_ml: 1500"),
        ("temp_max: 38 or 39", "ask which is ordered, 38 or 39", "temp_max: 38"),
        *(
            (
                f"{name}: {cell}",
                "write 88 under spo2_min and 92 under spo2_max",
                "spo2_min: 88, spo2_max: 92",
            )
            for name in ("spo2_min", "spo2_max")
            for cell in ("88-92", "88 \N{EN DASH} 92 %", "88 to 92")
        ),
        ("spo2_min: 92-88", "ask which is ordered, 92 or 88", "spo2_min: 88"),
        ("comfort_care: maybe", "Type yes or no, as it is ordered", "comfort_care: no"),
        ("goal_ml: '#N/A'", "Type what belongs here, as it is ordered", "goal_ml: 1500"),
    ],
)
def test_a_cell_of_an_order_is_never_to_be_left_blank(cell: str, advice: str, typed: str) -> None:
    def of(cells: str) -> Log:
        return log_of(night(patients=PATIENT.replace("breaths: 10", cells)))

    found, *_ = of(cell).findings
    assert advice in found.fix
    assert "leave it blank" not in found.fix
    assert of(typed).findings == ()


MENDED_LOGS: dict[str, list[tuple[str, str, str]]] = {
    "order-left-out": [
        ("night.yaml", "bed: 12A\n", f"bed: 12A\n{ORDER}"),
        ("night.yaml", "bed: 12A\n", f"bed: 12A\n{ORDER}".replace("}", f", {STOPPED}}}")),
        ("evening.yaml", "10:00}", f"10:00, {STOPPED}}}"),
    ],
    "back-after-left": [("night.yaml", LEFT, "")],
    "not-taken-over": [("night.yaml", "{breaths", "{by: Dr Quill, comfort_care: yes, breaths")],
}


@pytest.mark.parametrize(
    ("code", "file", "old", "new"),
    [(code, *typed) for code, mendings in MENDED_LOGS.items() for typed in mendings],
)
def test_the_mending_typed_into_one_of_several_logs_mends(
    code: str, file: str, old: str, new: str
) -> None:
    logs = dict(BAD_HANDOVERS[code].logs)
    assert old in logs[file]
    logs[file] = logs[file].replace(old, new)
    read = [log_of(text, name) for name, text in logs.items()]
    assert not [each for log in read for each in log.findings]
    assert code not in {each.code for each in gather(read, None, NOW)[1]}


@pytest.mark.parametrize(
    ("cell", "value"),
    [
        ("volume_ml: 120 cl", 1200),
        ("volume_ml: 12 dL", 1200),
        ("volume_ml: 1.2 L", 1200),
        ("volume_ml: 1 200", 1200),
        ("volume_ml: 25O0", 2500),
        ("volume_ml: 0.75", 750),
        ("spo2: 0.94", 94),
        ("temp_c: 98.6", 37),
        ("temp_c: 98.6 F", 37),
        ("symptoms: dizzy/fiant", {"dizzy", "faint"}),
        ("symptoms: [sob, dizzy]", {"dizzy", "breathless"}),
        ("flow: steddy", Flow.STEADY),
        ("what: excercise", What.EXERCISE),
        ("at: 06.03.26 23:10", utc("2026-03-07 03:10")),
        ("at: 18:50", utc("2026-03-07 22:50")),
        ("at: 19.40", FIRST),
        ("at: 2026-03-07 19:40 ADT", FIRST),
        ("until: 2026-03-06 20:10", utc("2026-03-08 00:10")),
    ],
)
def test_an_offered_value_typed_as_it_stands_is_what_was_meant(cell: str, value: object) -> None:
    name, _, written = cell.partition(": ")
    cells = {"patient": '"10442"', "at": "19:40", "breaths": "8", name: written}
    shift = SHIFT.replace("2026-03-07", "2026-03-06").replace("2026-03-08", "2026-03-07")
    for attempt in range(2):
        entry = ", ".join(f"{each}: {text}" for each, text in cells.items())
        log = log_of(night(f"- {{{entry}}}\n", shift=shift if "06.03" in cell else SHIFT))
        if attempt == 0:
            (found,) = (each for each in log.findings if each.field == name)
            offered = found.fix.partition("Did you mean ")[2].rstrip("?").partition(" (")[0]
            cells[name] = f"[{offered.replace(';', ',')}]" if name == "symptoms" else offered
    (entry_read,) = log.entries
    assert {each.code for each in log.findings} <= {"outside-shift"}
    of_entry = hasattr(entry_read, name)
    assert getattr(entry_read if of_entry else entry_read.signs, name) == value

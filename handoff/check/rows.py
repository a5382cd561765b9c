"""The entries of a log: each record is used, or set aside with the finding that says why.

Input: the entry records of a raw log, and its people. Output: `Rows`. A record set aside keeps its
cells and its readable signs: a danger sign in it is not lost.
"""

import re
from collections.abc import Iterable, Iterator, Mapping
from datetime import timedelta
from functools import partial
from typing import Any

from msgspec import Struct, field
from msgspec.structs import replace

from handoff.check.cells import CellReader, Cells, Reading
from handoff.check.first_row import OTHER_SHIFT, FirstRow
from handoff.check.numbers import are_exchanged, number
from handoff.check.parse import AIR
from handoff.check.patients import People
from handoff.check.slips import ONE_DAY, likely_end
from handoff.log.cell import READ_AS, outcome_of
from handoff.log.entries import filled
from handoff.log.fields import BY_NAME, Section, fields_of
from handoff.log.names import Ids
from handoff.model.codes import finding
from handoff.model.findings import Finding
from handoff.model.ward import NO_SIGNS, Entry, Flow, SeenBy, SetAside, Signs, Symptom, What
from handoff.model.wording import FINDINGS
from handoff.read import RawLog, Record

LONGEST_SPAN = timedelta(hours=24)
LONGEST_HOLD = timedelta(days=14)
LONG_SPAN = timedelta(hours=12)

_FIELDS = fields_of(Section.ENTRY)
_ENTRY_NAMES = frozenset(each.name for each in _FIELDS if each.name != "patient_id")
_FACT_NAMES = [each.name for each in fields_of(Section.PATIENT) if each.name != "patient_id"]
_UNIT_NAMES = [each.name for each in fields_of(Section.UNIT) + fields_of(Section.SHIFT)]
_SIGN_NAMES = frozenset(Signs.__struct_fields__)
# The cells of an exercise. A row without `what` and without any of these need not be one.
_OF_EXERCISE = ("breaths", "volume_ml", "hold_s", "flow")
_VITAL_SIGNS = ("spo2", "resp_rate", "pulse", "temp_c")
_NUMBER = re.compile(r"\d+(?:\.\d+)?", re.ASCII)
_OXYGEN = frozenset({"on_oxygen", "oxygen"})
_MORE_THAN = ">\u2265"
_BREATHS_AND_VOLUME = ("breaths", "volume_ml")
_EXCHANGED = "breaths-for-volume"  # the code of a row with breaths and volume exchanged
# Kinds of row that mean nothing without a note: who decided, or what was said.
NEEDS_NOTE = {
    What.TOLD: "told-without-note",
    What.SETTLED: "settled-without-note",
    What.HOLD: "hold-without-note",
    What.LEFT: "left-without-note",
}

Values = Mapping[str, Any]


class Rows(Struct):
    """The records of a raw log, used and set aside, and the findings on them.

    `without_entry` counts the records used without an entry.
    """

    entries: list[Entry] = field(default_factory=list)
    set_aside: list[SetAside] = field(default_factory=list)
    without_entry: int = 0
    findings: list[Finding] = field(default_factory=list)


def read_rows(reading: Reading, people: People, first_row: FirstRow) -> Rows:
    """Every entry record of the raw log."""
    reader = _RowReader(reading, people, first_row)
    rows = Rows()
    blank: list[Record] = []
    for record in reading.raw_log.entries:
        read, found = reader.read(record)
        rows.findings += found
        if isinstance(read, Entry):
            rows.entries.append(read)
        elif read is not None:
            rows.set_aside.append(read)
        else:
            rows.without_entry += 1
            if not found:
                blank.append(record)
    rows.findings += _blank_rows(reading.raw_log, blank)
    return rows


def _blank_rows(raw_log: RawLog, blank: Iterable[Record]) -> Iterator[Finding]:
    """One note for each run of blank rows."""
    runs: list[list[Record]] = []
    for record in blank:
        if runs and record.line == runs[-1][-1].line + 1:
            runs[-1].append(record)
        else:
            runs.append([record])
    for run in runs:
        rows = FINDINGS.say("blank-row.row" if len(run) == 1 else "blank-row.rows", count=len(run))
        yield finding("blank-row", raw_log.row_place(run[0]), rows=rows)


class _RowReader:
    def __init__(self, reading: Reading, people: People, first_row: FirstRow) -> None:
        self.raw_log = reading.raw_log
        self.zone = reading.clock.zone
        self.people = people
        self.first_row = first_row
        self.reader = CellReader(reading, _FIELDS)
        self.quiet_reader = CellReader(reading, _FIELDS)
        self.ids = Ids(people.ids)
        self.scales_said: set[float] = set()

    def read(self, record: Record) -> tuple[Entry | SetAside | None, list[Finding]]:
        """The entry of a record, or the record set aside; None where it is used without
        an entry.
        """
        findings = [] if record.broken else self.first_row.findings_of(record)
        others = (each for each in findings if each.code == OTHER_SHIFT)
        distrust = record.broken or next(others, None)
        if distrust:
            # Its cells may be in the wrong columns: findings on them would mean nothing.
            cells = self.quiet_reader.read(record)
            _settle_oxygen(cells.values, cells.lost)
            return self._set_aside(record, cells, distrust), findings
        cells = self.reader.read(record)
        cells = self._at_scale(record, cells)
        findings += cells.findings
        if _settle_oxygen(cells.values, cells.lost):
            findings.append(self._finding("oxygen-disagrees", record, "oxygen"))
            cells = replace(cells, unread=cells.unread | _OXYGEN)
        if _ENTRY_NAMES.isdisjoint(cells.values) and _ENTRY_NAMES.isdisjoint(cells.lost):
            notes = self._notes_without_entry(record)
            if notes is not None:
                return None, [*findings, *notes]
        _name_kind(record, cells)
        reason = self._reason(record, cells)
        if reason is None:
            entry, doubts = self._use(record, cells)
            if entry.what is What.HOLD:  # the finding on its end says it, with what follows
                findings = [each for each in findings if each is not cells.lost.get("until")]
            return entry, [*findings, *doubts]
        if reason.code == _EXCHANGED:  # it replaces the findings on either cell alone
            single = [cells.lost[name] for name in _BREATHS_AND_VOLUME if name in cells.lost]
            findings = [each for each in findings if each not in single]
        return self._set_aside(record, cells, reason), [*findings, reason]

    def _at_scale(self, record: Record, cells: Cells) -> Cells:
        """The cells, with a volume such as `>2500` read as 2500 where that is the device's scale: a
        reading at scale. Any other is lost.
        """
        if "volume_ml" not in cells.lost:
            return cells
        raw = record.cells.get("volume_ml", "").strip()
        patient = self.people.patients.get(cells.values.get("patient_id", ""))
        if patient is None or not raw.startswith(tuple(_MORE_THAN)):
            return cells
        digits = partial(number, decimal_comma=self.raw_log.decimal_comma)
        field = BY_NAME[Section.ENTRY, "volume_ml"]
        volume, _ = outcome_of(partial(digits, field=field), raw.lstrip(_MORE_THAN + "= "))
        if volume is None or volume != patient.device_scale_ml:
            return cells
        lost = {name: why for name, why in cells.lost.items() if name != "volume_ml"}
        findings = [each for each in cells.findings if each is not cells.lost["volume_ml"]]
        if volume not in self.scales_said:
            self.scales_said.add(volume)
            what = FINDINGS.say("read-as.what.over-scale")
            findings.append(
                self._finding(READ_AS, record, "volume_ml", what=what, read=f"{volume:g}")
            )
        values = {**cells.values, "volume_ml": volume}
        unread = cells.unread - {"volume_ml"}
        return replace(cells, values=values, lost=lost, unread=unread, findings=findings)

    def _notes_without_entry(self, record: Record) -> list[Finding] | None:
        """The notes on a record without any cell of an entry: none on a blank one; None where it
        needs an entry.
        """
        if _holds(record, _FACT_NAMES):
            known = record.cells.get("patient_id", "").strip() in self.people.patients
            return [self._finding("patient-only-row", record)] if known else None
        if _holds(record, ["patient_id"]):
            return None
        of_unit = _holds(record, _UNIT_NAMES)
        return [self._finding("unit-only-row", record)] if of_unit else []

    def _reason(self, record: Record, cells: Cells) -> Finding | None:
        """The first reason why a record cannot be used; None when it can."""
        values, lost = cells.values, cells.lost
        if "patient_id" not in values:
            return lost.get("patient_id") or self._finding("row-of-nobody", record, "patient_id")
        odd = self.people.odd and self.people.odd.get(self.raw_log.row_place(record))
        if odd or values["patient_id"] not in self.people.patients:
            return odd or self._stranger(record, values["patient_id"])
        if "at" not in values:
            return lost.get("at") or self._finding("missing-cell", record, "at")
        if "until" in lost and values.get("what") is not What.HOLD:
            return lost["until"]
        if "what" in lost:
            return lost["what"]
        return self._exchanged(record, cells) or self._contradiction(record, values)

    def _exchanged(self, record: Record, cells: Cells) -> Finding | None:
        """The finding on an exercise whose breaths can only be a volume, and whose volume only
        breaths.
        """
        if cells.lost.keys().isdisjoint(_BREATHS_AND_VOLUME):
            return None
        if cells.values.get("what", What.EXERCISE) is not What.EXERCISE:
            return None
        breaths, volume = (record.cells.get(name, "").strip() for name in _BREATHS_AND_VOLUME)
        if not are_exchanged(breaths, volume, decimal_comma=self.raw_log.decimal_comma):
            return None
        hint = FINDINGS.say("breaths-for-volume.likely", breaths=volume, volume_ml=breaths)
        return self._finding(_EXCHANGED, record, "breaths", hint=hint)

    def _contradiction(self, record: Record, values: Values) -> Finding | None:
        """The finding on the first contradiction between cells of a record."""
        code, name = next(_contradictions(values), (None, ""))
        if code is None:
            return None
        spans = name == "until" and name in values
        hint = likely_end(values["at"], values["until"], self.zone) if spans else None
        return self._finding(code, record, name, hint=hint)

    def _stranger(self, record: Record, patient_id: str) -> Finding:
        if patient_id in self.people.in_doubt:
            return self._finding("identity-in-doubt", record, "patient_id")
        likely = self.ids.likely(patient_id)
        if patient_id in self.people.nameless:
            return self._finding("patient-not-identified", record, "patient_id", hint=likely)
        return self._finding("unknown-patient", record, "patient_id", hint=likely)

    def _use(self, record: Record, cells: Cells) -> tuple[Entry, list[Finding]]:
        """The entry of a usable row, and the findings on it. An impossible end of a hold is
        removed: the hold then stays in force.
        """
        values = cells.values
        findings = []
        if values.get("what") is What.HOLD and ("until" in values or "until" in cells.lost):
            at, until = values["at"], values.pop("until", None)
            if until and at < until <= at + LONGEST_HOLD:
                values["until"] = until
            else:
                likely = until and likely_end(at, until, self.zone, ONE_DAY)
                lost = cells.lost.get("until")
                why = lost.message if lost else FINDINGS.say("hold-until-lost.why")
                words = {"why": why, "hint": likely}
                findings.append(self._finding("hold-until-lost", record, "until", **words))
        findings += (
            self._finding(code, record, name, **words) for code, name, words in _doubts(values)
        )
        values, signs = _parted(values)
        if "flow" in cells.lost:
            values["flow"] = Flow.UNREADABLE
        unread = tuple(sorted(cells.unread & _SIGN_NAMES))
        place = self.raw_log.row_place(record)
        entry = Entry(
            place=place,
            signs=signs,
            unread=unread,
            likely=_likely(cells) if unread else NO_SIGNS,
            raw=record.cells,
            **values,
        )
        return entry, findings

    def _set_aside(self, record: Record, cells: Cells, reason: Finding) -> SetAside:
        values = cells.values
        return SetAside(
            place=self.raw_log.row_place(record),
            reason=reason,
            raw=filled(record.cells),
            patient_id=values.get("patient_id"),
            at=values.get("at"),
            signs=_parted(values)[1],
            unread=tuple(sorted(cells.unread & _SIGN_NAMES)),
            likely=_likely(cells),
        )

    def _finding(
        self, code: str, record: Record, name: str | None = None, **words: object
    ) -> Finding:
        if name is None:
            return finding(code, self.raw_log.row_place(record), None, None, **words)
        place = self.raw_log.place(record, BY_NAME[Section.ENTRY, name])
        raw = record.cells.get(name, "").strip() or None
        return finding(code, place, name, raw, **words)


def _holds(record: Record, names: Iterable[str]) -> bool:
    cells = record.cells
    return any(
        (name in cells and cells[name] and not cells[name].isspace()) or name in record.lost
        for name in names
    )


def _parted(values: dict[str, Any]) -> tuple[dict[str, Any], Signs]:
    """The values of an entry, and its signs, which are taken out of `values`."""
    if _SIGN_NAMES.isdisjoint(values):
        return values, NO_SIGNS
    signs = {name: values.pop(name) for name in _SIGN_NAMES if name in values}
    if "symptoms" in signs:
        signs["symptoms"] = frozenset(signs["symptoms"])
    return values, Signs(**signs)


def _likely(cells: Cells) -> Signs:
    """What was probably meant by vital signs and symptoms that could not be read."""
    meant: dict[str, Any] = {}
    for name, words in cells.likely.items():
        number = _NUMBER.match(words[0]) if words and name in _VITAL_SIGNS else None
        if number:
            meant[name] = float(number[0])
        elif name == "symptoms":
            each = "; ".join(words).split("; ")
            meant[name] = frozenset(Symptom(word) for word in each if word in set(Symptom))
    return Signs(**meant) if meant else NO_SIGNS


def _settle_oxygen(values: dict[str, Any], lost: Mapping[str, Finding]) -> bool:
    """A patient with an amount of oxygen is on oxygen; one on air is not. True where the row
    contradicts that: then neither is known, and both are taken out of `values`.
    """
    if "oxygen" not in values:
        return False
    is_on = values["oxygen"] != AIR
    if not is_on:
        del values["oxygen"]  # air is no amount of oxygen
    if "on_oxygen" in lost:
        return False
    if values.setdefault("on_oxygen", is_on) is is_on:
        return False
    values.pop("oxygen", None)
    del values["on_oxygen"]
    return True


def _name_kind(record: Record, cells: Cells) -> None:
    """Gives a row without `what` and without an exercise its kind: signs seen, or a note.

    An unreadable sign counts as a sign: the row is used, and names it as unread.
    """
    values = cells.values
    if "what" in values or "what" in cells.lost or _holds(record, _OF_EXERCISE):
        return
    if _holds(record, _SIGN_NAMES):
        values["what"] = What.SEEN
    elif "note" in values and not _holds(record, ("until",)):
        values["what"] = What.NOTE


def _contradictions(values: Values) -> Iterator[tuple[str, str]]:
    """The code and the field of each contradiction that makes a row unusable."""
    what, at, until = values.get("what", What.EXERCISE), values["at"], values.get("until")
    if until and what is not What.HOLD:  # a hold is in force without its end
        if until <= at:
            yield "until-not-after-at", "until"
        elif until - at > LONGEST_SPAN:
            yield "span-too-long", "until"
    if what is What.EXERCISE:
        if "breaths" not in values and "volume_ml" not in values:
            yield "empty-exercise", "breaths"
    elif not until and what in {What.AWAY, What.ASLEEP}:  # minutes to take out of what is due
        yield "missing-until", "until"


def _doubts(values: Values) -> Iterator[tuple[str, str, dict[str, object]]]:
    """The code, the field and the words of each doubt about a row that is used."""
    what = values.get("what", What.EXERCISE)
    is_other = what is not What.EXERCISE
    for name in _BREATHS_AND_VOLUME if is_other else ():
        if values.get(name):
            yield "not-an-exercise", name, {"what": str(what)}
    if is_other and what in NEEDS_NOTE and not any(map(str.isalnum, values.get("note", ""))):
        yield NEEDS_NOTE[what], "note", {}
    if what is What.SETTLED and "note" in values and "about" not in values:
        choices = ", ".join(BY_NAME[Section.ENTRY, "about"].choices)
        yield "settled-without-about", "about", {"choices": choices}
    if "about" in values and what not in {What.TOLD, What.SETTLED}:
        yield "about-not-used", "about", {}
    of_staff = is_other and what in {What.TOLD, What.SETTLED, What.RESUME}
    if of_staff and values.get("seen_by") is SeenBy.PATIENT:
        yield "self-reported", "seen_by", {"what": str(what)}
    if "until" in values and what is not What.HOLD:
        span = values["until"] - values["at"]
        if span > LONG_SPAN:  # an end typed too early, without its date, is of the next day
            yield "long-span", "until", {"hours": span.total_seconds() / 3600}

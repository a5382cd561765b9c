"""The entries of a log: each record is used, or set aside with the finding that says why.

Input: the entry records of a raw log, and its people. Output: `Rows`. A record set aside keeps its
cells and the signs that can be read, so that a danger sign in it is not lost.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, fields, replace
from datetime import timedelta
from typing import Any

from handoff.check.cells import CellReader, Cells, Reading
from handoff.check.first_row import FirstRow
from handoff.check.parse import AIR, are_exchanged
from handoff.check.patients import People
from handoff.check.slips import ONE_DAY, likely_end
from handoff.log.entries import filled
from handoff.log.fields import BY_NAME, Section, fields_of, nearest
from handoff.model.codes import finding
from handoff.model.findings import Finding
from handoff.model.ward import NO_SIGNS, Entry, Flow, SeenBy, SetAside, Signs, What
from handoff.read import Record

LONGEST_SPAN = timedelta(hours=24)
LONGEST_HOLD = timedelta(days=14)
LONG_SPAN = timedelta(hours=12)
MOST_LIKES = 50

_FIELDS = fields_of(Section.ENTRY)
_ENTRY_NAMES = frozenset(each.name for each in _FIELDS if each.name != "patient_id")
_FACT_NAMES = [each.name for each in fields_of(Section.PATIENT) if each.name != "patient_id"]
_UNIT_NAMES = [each.name for each in fields_of(Section.UNIT) + fields_of(Section.SHIFT)]
_SIGN_NAMES = frozenset(each.name for each in fields(Signs))
# What a row says of an exercise; a row without `what` that says none of it need not be one.
_OF_EXERCISE = ("breaths", "volume_ml", "hold_s", "flow")
_OXYGEN = frozenset({"on_oxygen", "oxygen"})

Values = Mapping[str, Any]


@dataclass(slots=True)
class Rows:
    """The records of a raw log, sorted out. `without_entry` counts those used without an entry."""

    entries: list[Entry] = field(default_factory=list)
    set_aside: list[SetAside] = field(default_factory=list)
    without_entry: int = 0


def read_rows(reading: Reading, people: People, first_row: FirstRow) -> Rows:
    """Every entry record of the raw log; what is wrong goes to the reading's findings."""
    sorter = _Sorter(reading, people, first_row)
    for record in reading.raw_log.entries:
        sorter.sort(record)
    sorter.report_blank_rows()
    return sorter.rows


class _Sorter:
    def __init__(self, reading: Reading, people: People, first_row: FirstRow) -> None:
        self.reading = reading
        self.raw_log = reading.raw_log
        self.people = people
        self.first_row = first_row
        self.reader = CellReader(reading, _FIELDS)
        self.quiet_reader = CellReader(replace(reading, findings=[]), _FIELDS)
        self.rows = Rows()
        self.blank: list[Record] = []
        self.likes: dict[str, str | None] = {}

    def sort(self, record: Record) -> None:
        """Uses the record or sets it aside."""
        distrust = record.broken or self.first_row.contradicted_by(record)
        if distrust:
            # Its cells may stand in the wrong columns, so what is wrong with them says nothing.
            cells = self.quiet_reader.read(record)
            _settle_oxygen(cells.values, cells.lost)
            self._set_aside(record, cells.values, distrust)
            return
        cells = self._read(record)
        if _has_no_entry(cells) and self._is_without_entry(record):
            self.rows.without_entry += 1
            return
        _name_kind(record, cells)
        reason = self._reason(record, cells)
        if reason:
            self._set_aside(record, cells.values, reason)
        else:
            self._use(record, cells)

    def _read(self, record: Record) -> Cells:
        """The cells of a record, with what follows from several of them together."""
        cells = self.reader.read(record)
        if _settle_oxygen(cells.values, cells.lost):
            self._report("oxygen-disagrees", record, "oxygen")
            cells = replace(cells, unread=cells.unread | _OXYGEN)
        return cells

    def _is_without_entry(self, record: Record) -> bool:
        """Whether a record with no cell of an entry is one that needs none; then it is noted."""
        named = _holds(record, ["patient_id"])
        if _holds(record, _FACT_NAMES):
            known = record.cells.get("patient_id", "").strip() in self.people.patients
            if known:
                self._report("patient-only-row", record)
            return known
        if named:
            return False
        if _holds(record, _UNIT_NAMES):
            self._report("unit-only-row", record)
        else:
            self.blank.append(record)
        return True

    def report_blank_rows(self) -> None:
        """One note for each run of blank rows."""
        runs: list[list[Record]] = []
        for record in self.blank:
            if runs and record.line == runs[-1][-1].line + 1:
                runs[-1].append(record)
            else:
                runs.append([record])
        for run in runs:
            rows = "this row" if len(run) == 1 else f"these {len(run)} rows"
            self._report("blank-row", run[0], rows=rows)

    def _reason(self, record: Record, cells: Cells) -> Finding | None:
        """Why a record cannot be used, the first of the reasons; None when it can."""
        values, lost = cells.values, cells.lost
        if "patient_id" not in values:
            return lost.get("patient_id") or self._report("missing-cell", record, "patient_id")
        if values["patient_id"] not in self.people.patients:
            return self._stranger(record, values["patient_id"])
        if "at" not in values:
            return lost.get("at") or self._report("missing-cell", record, "at")
        if "until" in lost and values.get("what") is not What.HOLD:
            return lost["until"]
        if "what" in lost:
            return lost["what"]
        return self._exchanged(record, cells) or self._contradiction(record, values)

    def _contradiction(self, record: Record, values: Values) -> Finding | None:
        """The first of the row checks that a record does not pass."""
        for of, check in ROW_CHECKS:
            wrong = check(values) if of in values else None
            if wrong:
                code, name = wrong
                hint = self._likely(values) if name == "until" and name in values else None
                return self._report(code, record, name, hint=hint)
        return None

    def _exchanged(self, record: Record, cells: Cells) -> Finding | None:
        """The finding of an exercise whose breaths can only be a volume, and its volume breaths.

        It stands for those of the cells that are lost, which would name something else.
        """
        lost = cells.lost.keys() & {"breaths", "volume_ml"}
        if not lost or cells.values.get("what", What.EXERCISE) is not What.EXERCISE:
            return None
        breaths, volume = (record.cells.get(name, "").strip() for name in ("breaths", "volume_ml"))
        if not are_exchanged(breaths, volume, decimal_comma=self.raw_log.decimal_comma):
            return None
        for name in lost:
            self.reading.withdraw(cells.lost[name])
        hint = f"breaths {volume} and volume_ml {breaths}"
        return self._report("breaths-for-volume", record, "breaths", hint=hint)

    def _likely(self, values: Values) -> str | None:
        return likely_end(values["at"], values["until"], self.reading.clock.zone)

    def _stranger(self, record: Record, patient_id: str) -> Finding:
        if patient_id in self.people.in_doubt:
            return self._report("identity-in-doubt", record, "patient_id")
        if patient_id in self.people.nameless:
            return self._report("patient-not-identified", record, "patient_id")
        return self._report("unknown-patient", record, "patient_id", hint=self._like(patient_id))

    def _like(self, patient_id: str) -> str | None:
        """The id that was probably meant; none for more unknown ids than are quickly compared."""
        if patient_id not in self.likes and len(self.likes) < MOST_LIKES:
            self.likes[patient_id] = nearest(patient_id, sorted(self.people.ids))
        return self.likes.get(patient_id)

    def _end_hold(self, record: Record, cells: Cells) -> None:
        """Takes away an end that a hold cannot have: without it the hold is in force."""
        values = cells.values
        at, until = values["at"], values.get("until")
        if until is None and "until" not in cells.lost:
            return
        if until is None or not at < until <= at + LONGEST_HOLD:
            likely = until and likely_end(at, until, self.reading.clock.zone, ONE_DAY)
            self._report("hold-until-lost", record, "until", hint=likely)
            values.pop("until", None)

    def _use(self, record: Record, cells: Cells) -> None:
        values = cells.values
        if values.get("what") is What.HOLD:
            self._end_hold(record, cells)
        for of, check in ROW_DOUBTS:
            if of in values:
                for code, name, words in check(values):
                    self._report(code, record, name, **words)
        told, signs = _parted(values)
        if "flow" in cells.lost:
            told["flow"] = Flow.UNREADABLE
        place = self.raw_log.row_place(record)
        unread = tuple(sorted(cells.unread & _SIGN_NAMES))
        self.rows.entries.append(
            Entry(place=place, signs=signs, unread=unread, raw=record.cells, **told)
        )

    def _set_aside(self, record: Record, values: dict[str, Any], reason: Finding) -> None:
        self.rows.set_aside.append(
            SetAside(
                place=self.raw_log.row_place(record),
                reason=reason,
                raw=filled(record.cells),
                patient_id=values.get("patient_id"),
                at=values.get("at"),
                signs=_parted(values)[1],
            )
        )

    def _report(
        self, code: str, record: Record, name: str | None = None, **words: object
    ) -> Finding:
        if name is None:
            found = finding(code, self.raw_log.row_place(record), None, None, **words)
        else:
            place = self.raw_log.place(record, BY_NAME[Section.ENTRY, name])
            raw = record.cells.get(name, "").strip() or None
            found = finding(code, place, name, raw, **words)
        return self.reading.report(found)


def _has_no_entry(cells: Cells) -> bool:
    return _ENTRY_NAMES.isdisjoint(cells.values) and _ENTRY_NAMES.isdisjoint(cells.lost)


def _holds(record: Record, names: Iterable[str]) -> bool:
    cells = record.cells
    return any(
        (name in cells and cells[name] and not cells[name].isspace()) or name in record.lost
        for name in names
    )


def _parted(values: dict[str, Any]) -> tuple[dict[str, Any], Signs]:
    """What an entry tells besides signs, and the signs, which are taken out of `values`."""
    if _SIGN_NAMES.isdisjoint(values):
        return values, NO_SIGNS
    signs = {name: values.pop(name) for name in _SIGN_NAMES if name in values}
    if "symptoms" in signs:
        signs["symptoms"] = frozenset(signs["symptoms"])
    return values, Signs(**signs)


def _settle_oxygen(values: dict[str, Any], lost: Mapping[str, Finding]) -> bool:
    """Who is given so much oxygen is on it, who is given none is not. True where the row denies
    that: then neither is known, and both are taken out of `values`.
    """
    if "oxygen" not in values:
        return False
    is_on = values["oxygen"] != AIR
    if not is_on:
        del values["oxygen"]  # air is no amount, whatever stands beside it
    if "on_oxygen" in lost:
        return False
    if values.setdefault("on_oxygen", is_on) is is_on:
        return False
    values.pop("oxygen", None)
    del values["on_oxygen"]
    return True


def _name_kind(record: Record, cells: Cells) -> None:
    """Gives a row without `what` that tells of no exercise its kind: signs seen, or a note.

    A sign that cannot be read is one too: the row is used, and names it.
    """
    values = cells.values
    if "what" in values or "what" in cells.lost or _holds(record, _OF_EXERCISE):
        return
    if _holds(record, _SIGN_NAMES):
        values["what"] = What.SEEN
    elif "note" in values and not _holds(record, ("until",)):
        values["what"] = What.NOTE


# A row check takes what could be read of a row whose patient and time are known, and gives the code
# and the field of what makes it unusable, or None.


def _until_is_later(values: Values) -> tuple[str, str] | None:
    """A span ends after it starts; a hold is in force without its end."""
    wrong = values["until"] <= values["at"] and values.get("what") is not What.HOLD
    return ("until-not-after-at", "until") if wrong else None


def _span_is_a_day_at_most(values: Values) -> tuple[str, str] | None:
    if values.get("what") is What.HOLD:
        return None
    too_long = values["until"] - values["at"] > LONGEST_SPAN
    return ("span-too-long", "until") if too_long else None


def _absence_has_an_end(values: Values) -> tuple[str, str] | None:
    """Away and asleep take minutes out of what is due, so their end must be known."""
    needed = values["what"] in {What.AWAY, What.ASLEEP}
    return ("missing-until", "until") if needed and "until" not in values else None


def _exercise_is_charted(values: Values) -> tuple[str, str] | None:
    exercise = values.get("what", What.EXERCISE) is What.EXERCISE
    empty = "breaths" not in values and "volume_ml" not in values
    return ("empty-exercise", "breaths") if exercise and empty else None


# Each with the field that must be filled in for it to be asked.
ROW_CHECKS: tuple[tuple[str, Callable[[Values], tuple[str, str] | None]], ...] = (
    ("until", _until_is_later),
    ("until", _span_is_a_day_at_most),
    ("what", _absence_has_an_end),
    ("at", _exercise_is_charted),
)

# A row doubt does the same for a row that is used all the same, and gives words besides.
Doubts = Iterator[tuple[str, str, dict[str, object]]]


NEEDS_NOTE = {
    What.TOLD: "told-without-note",
    What.SETTLED: "settled-without-note",
    What.HOLD: "hold-without-note",
    What.LEFT: "left-without-note",
}


def _only_an_exercise_has_breaths(values: Values) -> Doubts:
    what = values["what"]
    if what is not What.EXERCISE:
        for name in ("breaths", "volume_ml"):
            if values.get(name):
                yield "not-an-exercise", name, {"what": str(what)}


def _note_says_who(values: Values) -> Doubts:
    code = NEEDS_NOTE.get(values["what"])
    if code and not any(map(str.isalnum, values.get("note", ""))):
        yield code, "note", {}


def _about_is_used(values: Values) -> Doubts:
    if values.get("what") not in {What.TOLD, What.SETTLED}:
        yield "about-not-used", "about", {}


def _staff_say_so(values: Values) -> Doubts:
    """That a provider was told, that something is over or goes on is for staff to say."""
    what = values.get("what")
    if values["seen_by"] is SeenBy.PATIENT and what in {What.TOLD, What.SETTLED, What.RESUME}:
        yield "self-reported", "seen_by", {"what": str(what)}


def _settled_says_what(values: Values) -> Doubts:
    if values["what"] is What.SETTLED and "note" in values and "about" not in values:
        words = BY_NAME[Section.ENTRY, "about"].choices
        yield "settled-without-about", "about", {"choices": ", ".join(words)}


def _span_is_not_long(values: Values) -> Doubts:
    """An end typed too early, and without its date, is read as that time of the next day."""
    span = values["until"] - values["at"]
    if span > LONG_SPAN and values.get("what") is not What.HOLD:
        yield "long-span", "until", {"hours": span.total_seconds() / 3600}


ROW_DOUBTS: tuple[tuple[str, Callable[[Values], Doubts]], ...] = (
    ("what", _only_an_exercise_has_breaths),
    ("what", _note_says_who),
    ("what", _settled_says_what),
    ("about", _about_is_used),
    ("seen_by", _staff_say_so),
    ("until", _span_is_not_long),
)

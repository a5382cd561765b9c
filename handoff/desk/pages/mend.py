"""Corrections: each finding beside its row, with cells to correct in place.

Input: corrections as typed. Output: the log, or a copy of it, with the cells corrected. Writes only
through `edits`.
"""

from functools import partial
from typing import Any
from zoneinfo import ZoneInfo

from flask import Blueprint, abort, render_template, request
from werkzeug.wrappers import Response

from handoff.desk import current, forms
from handoff.desk.edits.change import Row
from handoff.desk.edits.failures import EditError
from handoff.desk.edits.found import FoundRow, entries_of, facts_of, found_places, found_rows
from handoff.desk.edits.mending import (
    Correction,
    SeenLine,
    Written,
    correct,
    correct_line,
    fingerprint,
    move,
    take_out,
)
from handoff.desk.ward import Ward
from handoff.explain.subject import in_words
from handoff.explain.text import local_time
from handoff.log.fields import Section
from handoff.model.findings import Finding, Severity
from handoff.model.frozen import Frozen
from handoff.model.ward import Counts, Entry
from handoff.model.wording import DESK

BLUEPRINT = Blueprint("mend", __name__)
CELL = "cell-"
MOST_ROWS, MOST_DIGITS = 36, 8


@BLUEPRINT.get("/put-right")
def rows() -> str:
    """All findings in the open logs."""
    return _page() if current.desk().paths else render_template("nothing_open.html")


@BLUEPRINT.post("/put-right/row")
def row() -> Response | tuple[str, int]:
    """Correct the cells of a row."""
    path, at = current.log_of(current.form("log")), _row()
    cells = {
        name.removeprefix(CELL): text
        for name, text in request.form.items()
        if name.startswith(CELL)
    }
    correction = Correction(path, at, current.form("seen"), cells)
    before = current.desk().ward()
    try:
        written = correct(current.desk(), correction, in_copy=_in_copy())
    except EditError as error:
        return _page(correction, problem=str(error)), 409
    if not isinstance(written, Written):
        return _page(correction, written), 422
    return _written(written, before)


@BLUEPRINT.post("/put-right/remove")
def remove() -> Response | tuple[str, int]:
    """Take an entry out."""
    path, before = current.log_of(current.form("log")), current.desk().ward()
    try:
        written = take_out(current.desk(), path, _row(), current.form("seen"))
    except EditError as error:
        return _page(problem=str(error)), 409
    return _written(written, before, DESK.say("done.taken-out"))


@BLUEPRINT.post("/put-right/move")
def to_another() -> Response | tuple[str, int]:
    """Make an entry that of the chosen patient."""
    path = current.log_of(current.form("log"))
    seen = current.desk().ward()
    found = current.find_patient(seen, current.form("to"))
    if found is None:
        return _page(problem=DESK.say("done.choose-whose")), 422
    patient = found[1]
    try:
        written = move(current.desk(), path, _row(), current.form("seen"), patient.id)
    except EditError as error:
        return _page(problem=str(error)), 409
    return _written(written, seen, DESK.say("done.moved", bed=patient.bed, name=patient.name))


@BLUEPRINT.post("/put-right/line")
def line() -> Response | tuple[str, int]:
    """Correct a line whose cells cannot be told apart."""
    path, before = current.log_of(current.form("log")), current.desk().ward()
    new = request.form.get("line", "").rstrip("\r\n")
    try:
        seen = SeenLine(path, _number("number"), current.form("seen"))
        written = correct_line(current.desk(), seen, new, in_copy=_in_copy())
    except EditError as error:
        return _page(problem=str(error)), 409
    return _written(written, before)


@BLUEPRINT.get("/patients/<key>/facts")
def facts(key: str) -> str:
    """A patient's facts in the log, to be changed or corrected."""
    return _facts(key)


def _page(
    tried: Correction | None = None, against: tuple[Finding, ...] = (), problem: str = ""
) -> str:
    if current.form("patient"):
        return _facts(current.form("patient"), tried, against, problem)
    seen = current.desk().ward()
    places = seen.kept("found", partial(found_places, seen))
    part = Part.asked_for(len(places))
    found = found_rows(seen, places[part.first - 1 : part.last])
    numbered = list(enumerate(found, part.first))
    return render_template(
        "put_right.html",
        part=part,
        rows=[each for each in numbered if each[1].severity is not Severity.NOTE],
        notes=[each for each in numbered if each[1].severity is Severity.NOTE],
        counts=sum((each.counts for each in seen.handovers), Counts(0, 0, 0)),
        usable=bool(seen.handovers),
        problem=problem,
        says_options=any("--" in each.fix for each in seen.findings),
        **_rows_page(seen, tried, against),
    )


class Part(Frozen):
    """The rows of one page, by number from 1: no browser can bear thousands of forms at once."""

    first: int
    last: int
    of: int

    @classmethod
    def asked_for(cls, rows: int) -> "Part":
        """The part with the row of the form of this request, or of its address."""
        asked = current.form("card") or request.args.get("first", "")
        number = min(int(asked), rows) if asked.isdecimal() and len(asked) < MOST_DIGITS else 1
        before = (max(number, 1) - 1) // MOST_ROWS * MOST_ROWS
        return cls(before + 1, min(before + MOST_ROWS, rows), rows)

    @property
    def before(self) -> int | None:
        """The first row of the part before."""
        return self.first - MOST_ROWS if self.first > 1 else None

    @property
    def after(self) -> int | None:
        """The first row of the next part."""
        return self.last + 1 if self.last < self.of else None


def _facts(
    key: str, tried: Correction | None = None, against: tuple[Finding, ...] = (), problem: str = ""
) -> str:
    """The facts of a patient by key, with the typed corrections."""
    seen = current.desk().ward()
    number, patient = current.patient_of(seen, key)
    handover = seen.handovers[number]
    zone = handover.unit.time_zone
    entries = entries_of(seen, handover, patient)
    part = Part.asked_for(len(entries))
    return render_template(
        "facts.html",
        part=part,
        patient=patient,
        key=key,
        rows=facts_of(seen, patient) or abort(404),
        entries=[
            (_in_short(entry, zone), row) for entry, row in entries[part.first - 1 : part.last]
        ],
        problem=problem,
        alerts=current.who(seen, number, patient).alerts,
        **_rows_page(seen, tried, against),
    )


def _in_short(entry: Entry, zone: ZoneInfo) -> str:
    """An entry in a line."""
    note = f": {entry.note}" if entry.note else ""
    return f"{local_time(entry.at, zone)[11:]} {in_words(entry)}{note}"


def _rows_page(
    seen: Ward, tried: Correction | None = None, against: tuple[Finding, ...] = ()
) -> dict[str, Any]:
    """The values for the template of a row."""
    desk = current.desk()
    return {
        "log_keys": {path: desk.key("log", path) for path in desk.paths},
        "backed_up": {path: not desk.offers_copy(path) for path in desk.paths},
        "seen": lambda row: _seen(seen, row),
        "who": lambda row: _who(seen, row),
        "others": lambda row: _others(seen, row),
        "labels": forms.labels(seen),
        "long_fields": LONG,
        "tried": tried,
        "against": against,
    }


LONG = frozenset({"note", "reason", "precautions"})


def _seen(ward: Ward, row: FoundRow) -> str:
    """The fingerprint of a row or a line as this page shows it."""
    desk = current.desk()
    if row.line_text is not None:
        return desk.key("line", row.line_text)
    raw_log = ward.raw_logs[row.file]
    return fingerprint(desk, row.row.record(raw_log)) if row.row else ""


def _who(ward: Ward, row: FoundRow) -> str:
    """Bed and name of a row's patient, where the logs know one."""
    known = (each for _, each in ward.patients() if each.id == row.patient_id)
    patient = next(known, None)
    return f"bed {patient.bed}, {patient.name}" if patient else ""


def _others(ward: Ward, row: FoundRow) -> list[tuple[str, str]]:
    """(key, name) of the patients in the log of an entry whose it may be instead."""
    return [
        (
            current.patient_key(ward.handovers[number].unit.name, each.id),
            f"{each.bed} · {each.name} · id {each.id}",
        )
        for number, each in ward.patients()
        if each.place.file == row.file and each.id != row.patient_id
    ]


def _row() -> Row:
    section = current.form("section")
    if section not in set(Section):
        abort(404)
    return Row(Section(section), _number("index"))


def _number(name: str) -> int:
    number = current.form(name)
    if not number.isdecimal():
        abort(404)
    return int(number)


def _in_copy() -> bool:
    return current.form("save") == "copy"


def _written(written: Written, before: Ward, text: str = "") -> Response:
    """Redirect to the corrected row's position: the next row is there now."""
    text = text or DESK.say("done.written", log=written.path)
    notice = current.undoable(text, written.path, written.change.key, before=before)
    patient, number = current.form("patient"), current.form("card")
    if patient:
        return current.go_to("ward.patient", notice, key=patient)
    row = int(number) if number.isdecimal() else None
    return current.go_to("mend.rows", notice, row=row)

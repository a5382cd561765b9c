"""Put right: each finding beside its row, its cells to be corrected in place.

Input: corrections as they are typed. Output: the log, or a copy of it, with the cells corrected.
"""

from typing import Any
from zoneinfo import ZoneInfo

from flask import Blueprint, abort, render_template, request
from werkzeug.wrappers import Response

from handoff.desk import forms
from handoff.desk import request as here
from handoff.desk.edits.change import Row
from handoff.desk.edits.failures import EditError
from handoff.desk.edits.mending import (
    Correction,
    FoundRow,
    correct,
    correct_line,
    entries_of,
    facts_of,
    fingerprint,
    found_rows,
    remove,
)
from handoff.desk.ward import Ward
from handoff.explain.subject import in_words
from handoff.explain.text import local_time
from handoff.log.fields import Section
from handoff.model.findings import Finding, Severity
from handoff.model.ward import Counts, Entry

BLUEPRINT = Blueprint("mend", __name__)
CELL = "cell-"


@BLUEPRINT.get("/put-right")
def rows() -> str:
    """Everything that was found in the open logs."""
    return _page() if here.desk().paths else render_template("nothing_open.html")


@BLUEPRINT.post("/put-right/row")
def row() -> Response | tuple[str, int]:
    """Correct the cells of a row."""
    path, at = here.log_of(here.form("log")), _row()
    cells = {
        name.removeprefix(CELL): text
        for name, text in request.form.items()
        if name.startswith(CELL)
    }
    correction = Correction(path, at, here.form("seen"), cells)
    try:
        written, against = correct(here.desk(), correction, in_copy=_in_copy())
    except EditError as error:
        return _page(correction, problem=str(error)), 409
    if against:
        return _page(correction, against), 422
    return _written(written)


@BLUEPRINT.post("/put-right/remove")
def take_out() -> Response | tuple[str, int]:
    """Take a repeated row out."""
    path = here.log_of(here.form("log"))
    try:
        written = remove(here.desk(), path, _row(), here.form("seen"), in_copy=_in_copy())
    except EditError as error:
        return _page(problem=str(error)), 409
    return _written(written)


@BLUEPRINT.post("/put-right/line")
def line() -> Response | tuple[str, int]:
    """Correct a line whose cells cannot be told apart."""
    path = here.log_of(here.form("log"))
    new = request.form.get("line", "").rstrip("\r\n")
    try:
        written = correct_line(
            here.desk(), path, _number("number"), here.form("seen"), new, in_copy=_in_copy()
        )
    except EditError as error:
        return _page(problem=str(error)), 409
    return _written(written)


@BLUEPRINT.get("/patients/<key>/facts")
def facts(key: str) -> str:
    """What the log says of a patient, to be corrected when it changes or was a slip."""
    return _facts(key)


def _page(
    tried: Correction | None = None, against: tuple[Finding, ...] = (), problem: str = ""
) -> str:
    if here.form("patient"):
        return _facts(here.form("patient"), tried, against, problem)
    seen = here.desk().ward()
    found = found_rows(seen)
    return render_template(
        "put_right.html",
        rows=[each for each in found if each.severity is not Severity.NOTE],
        notes=[each for each in found if each.severity is Severity.NOTE],
        counts=sum((each.counts for each in seen.handovers), Counts(0, 0, 0)),
        usable=bool(seen.handovers),
        problem=problem,
        says_options=any("--" in each.fix for each in seen.findings),
        **_rows_page(seen, tried, against),
    )


def _facts(
    key: str, tried: Correction | None = None, against: tuple[Finding, ...] = (), problem: str = ""
) -> str:
    """What the log says of the patient whom a key stands for, with what was typed."""
    seen = here.desk().ward()
    number, patient = here.patient_of(seen, key)
    handover = seen.handovers[number]
    zone = handover.unit.time_zone
    return render_template(
        "facts.html",
        patient=patient,
        key=key,
        row=facts_of(seen, patient) or abort(404),
        entries=[
            (_in_short(entry, zone), row) for entry, row in entries_of(seen, handover, patient)
        ],
        problem=problem,
        alerts=here.who(seen, number, patient).alerts,
        **_rows_page(seen, tried, against),
    )


def _in_short(entry: Entry, zone: ZoneInfo) -> str:
    """An entry in a line."""
    note = f": {entry.note}" if entry.note else ""
    return f"{local_time(entry.at, zone)[11:]} {in_words(entry)}{note}"


def _rows_page(
    seen: Ward, tried: Correction | None = None, against: tuple[Finding, ...] = ()
) -> dict[str, Any]:
    """What the template of a row asks for."""
    desk = here.desk()
    return {
        "log_keys": {path: desk.key("log", path) for path in desk.paths},
        "backed_up": {path: desk.is_backed_up(path) for path in desk.paths},
        "seen": lambda row: _seen(seen, row),
        "who": lambda row: _who(seen, row),
        "labels": forms.labels(seen),
        "long_fields": LONG,
        "tried": tried,
        "against": against,
    }


LONG = frozenset({"note", "reason", "precautions"})


def _seen(ward: Ward, row: FoundRow) -> str:
    """The fingerprint of a row or a line as this page shows it."""
    desk = here.desk()
    if row.line_text is not None:
        return desk.key("line", row.line_text)
    raw_log = ward.raw_logs[row.file]
    return fingerprint(desk, row.row.record(raw_log)) if row.row else ""


def _who(ward: Ward, row: FoundRow) -> str:
    """Bed and name of the patient whom a row is of, where the logs know one."""
    known = (each for _, each in ward.patients() if each.id == row.patient_id)
    patient = next(known, None)
    return f"bed {patient.bed}, {patient.name}" if patient else ""


def _row() -> Row:
    section = here.form("section")
    if section not in set(Section):
        abort(404)
    return Row(Section(section), _number("index"))


def _number(name: str) -> int:
    number = here.form(name)
    if not number.isdecimal():
        abort(404)
    return int(number)


def _in_copy() -> bool:
    return here.form("save") == "copy"


def _anchor() -> str:
    """Where the row stood that was corrected: the next one stands there now."""
    number = here.form("card")
    return f"row-{number}" if number.isdecimal() else "found"


def _written(path: str) -> Response:
    said = f"Written to {path}, and checked again."
    patient = here.form("patient")
    if patient:
        return here.go_to("ward.patient", said, key=patient)
    return here.go_to("mend.rows", said, anchor=_anchor())

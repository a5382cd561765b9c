"""The state of the current request: the desk, the form, and the patients and logs behind keys.

Input: nothing; the state of this run is kept by the application. Output: the desk; patients, logs
and notices by opaque key: no address says what was done.
"""

import secrets
import time
from collections import Counter
from typing import NamedTuple, cast

from flask import Flask, abort, current_app, redirect, request, url_for
from msgspec import Struct, field
from werkzeug.wrappers import Response

from handoff.compose.patient import mix_ups
from handoff.desk.edits.failures import EditError
from handoff.desk.ward import Desk, Ward
from handoff.model.findings import Finding, Severity
from handoff.model.ward import Handover, Patient

STATE = "handoff"
MOST_NOTICES = 200


class Who(NamedTuple):
    """A patient's name and identifiers for all staff pages; `alerts` are in heavy type."""

    bed: str
    name: str
    id: str
    alerts: tuple[str, ...]


class Notice(NamedTuple):
    """A text on what was done, the patient's key, and the keys of the log and of its change, which
    can be undone; '' without a patient or a change. `doubts` are what is in doubt since then.
    """

    text: str
    about: str = ""
    log: str = ""
    change: str = ""
    doubts: tuple[Finding, ...] = ()


class State(Struct):
    """The state of a desk's run between requests, without its gate."""

    desk: Desk
    last_asked: float = field(default_factory=time.monotonic)  # in seconds of that clock
    closed: float | None = None  # when somebody closed the desk, by the same clock
    notices: dict[str, Notice] = field(default_factory=dict)
    printed: dict[str, bytes] = field(default_factory=dict)  # the last sheets made, by key
    refused: dict[str, tuple[bytes, int]] = field(default_factory=dict)  # the last forms, by key


def state(app: Flask | None = None) -> State:
    """The state of an application, by default of the one that answers this request."""
    return cast("State", (app or current_app).extensions[STATE])


def desk() -> Desk:
    """The desk of this run."""
    return state().desk


def note_time() -> None:
    """Note that somebody is using the desk: an open page that asks for news does not count."""
    if request.endpoint != "ward.live":
        state().last_asked = time.monotonic()


def form(name: str) -> str:
    """The text of a form field without spaces at its ends; '' where the form has no such field."""
    return request.form.get(name, "").strip()


def undoable(
    text: str, path: str, change: str, about: str = "", before: Ward | None = None
) -> Notice:
    """A text on a change of a log, which can be undone by its key; with the ward as it was before,
    also what is in doubt only since then.
    """
    doubts = _new_doubts(before, desk().ward()) if before else ()
    return Notice(text, about, desk().key("log", path), change, doubts)


def _new_doubts(before: Ward, after: Ward) -> tuple[Finding, ...]:
    known = Counter((each.code, each.field, each.raw) for each in before.findings)
    known.subtract((each.code, each.field, each.raw) for each in after.findings)
    return tuple(
        each
        for each in after.findings
        if each.severity is Severity.WARNING and known[each.code, each.field, each.raw] < 0
    )


def go_to(
    endpoint: str,
    text: str | Notice = "",
    *,
    row: int | None = None,
    key: str | None = None,
    about: str = "",
) -> Response:
    """Redirect to another page, which shows the text; `about` is the patient's key, and `row` the
    number of the row to show among many.
    """
    notices = state().notices
    notice_key = secrets.token_urlsafe(8) if text else None
    if notice_key:
        notices[notice_key] = text if isinstance(text, Notice) else Notice(text, about)
        while len(notices) > MOST_NOTICES:
            del notices[next(iter(notices))]
    anchor = None if row is None else f"row-{row}"
    there = url_for(endpoint, _anchor=anchor, key=key, first=row, notice=notice_key)
    return redirect(there, 303)


def notice() -> Notice | None:
    """The notice on what was done before, for this page."""
    return state().notices.get(request.args.get("notice", ""))


def patient_key(unit: str, patient_id: str) -> str:
    """The key of a patient in addresses."""
    return desk().key("patient", unit, patient_id)


def find_patient(ward: Ward, key: str) -> tuple[int, Patient] | None:
    """The number of the unit, and the patient, by key."""
    for number, patient in ward.patients():
        if patient_key(ward.handovers[number].unit.name, patient.id) == key:
            return number, patient
    return None


def patient_of(ward: Ward, key: str) -> tuple[int, Patient]:
    """The same; an unknown key is a page not found."""
    return find_patient(ward, key) or abort(404)


def who(ward: Ward, number: int, patient: Patient) -> Who:
    """The patient's identifiers, precautions, and an alert where another name is similar."""
    words, handover = ward.words[number], ward.handovers[number]
    alerts = [words.say("precautions", patient=patient)] if patient.precautions else []
    alerts += mix_ups(handover, patient, words)
    return Who(patient.bed, patient.name, patient.id, tuple(alerts))


def unit_key(unit: str) -> str:
    """The key of a unit in addresses."""
    return desk().key("unit", unit)


def handover_of(ward: Ward, key: str) -> Handover | None:
    """The hand-over of a unit by its key; without a key, of the first unit."""
    named = {unit_key(each.unit.name): each for each in ward.handovers}
    return named.get(key) if key else next(iter(named.values()), None)


def log_of(key: str) -> str:
    """The open log by its key; an unknown key is a page not found."""
    path = desk().path_of(key)
    if path is None or path not in desk().paths:
        abort(404)
    return path


def lost_logs() -> list[tuple[str, str, Finding]]:
    """The key, the path and the error of each open log that cannot be used."""
    found = desk().ward().lost.items()
    return [(desk().key("log", path), path, each) for path, each in found]


def ward_to_print() -> Ward:
    """The ward, if every open log is in it: paper could not say what it lacks."""
    ward = desk().ward()
    if ward.lost:
        raise EditError("print-without", logs=", ".join(ward.lost))
    return ward


def rows_to_mend() -> int:
    """The number of findings that cost a cell or a row."""
    return sum(each.severity is Severity.ERROR for each in desk().ward().findings)

"""What belongs to the request at hand: its desk, its form, and what is said after a redirection.

Input: nothing. Output: the desk; notices by opaque key, so that no address says what was done.
"""

import secrets
import time
from typing import NamedTuple, cast

from flask import Flask, abort, current_app, redirect, request, url_for
from werkzeug.wrappers import Response

from handoff.desk.ward import Desk, Ward
from handoff.model.findings import Severity
from handoff.model.ward import Handover, Patient

DESK, LAST_ASKED, NOTICES = "handoff-desk", "handoff-last-asked", "handoff-notices"
MOST_NOTICES = 200


class Who(NamedTuple):
    """A patient as every page for staff names one; `alerts` stand in heavy type."""

    bed: str
    name: str
    id: str
    alerts: tuple[str, ...]


class Notice(NamedTuple):
    """What was done, and the key of the patient for whom; '' where it is nobody's."""

    said: str
    about: str = ""


def desk() -> Desk:
    """The desk of this run."""
    return cast("Desk", current_app.extensions[DESK])


def note_time() -> None:
    """Somebody is at the desk."""
    current_app.extensions[LAST_ASKED][0] = time.monotonic()


def idle_s(app: Flask) -> float:
    """Seconds since anybody asked for a page."""
    return time.monotonic() - cast("list[float]", app.extensions[LAST_ASKED])[0]


def form(name: str) -> str:
    """What was typed into a field of the form, on ends trimmed; '' where it has no such field."""
    return request.form.get(name, "").strip()


def go_to(
    endpoint: str,
    said: str = "",
    *,
    anchor: str | None = None,
    key: str | None = None,
    about: str = "",
) -> Response:
    """To another page, which says what was done; `about` is the key of the patient concerned."""
    notices = current_app.extensions[NOTICES]
    notice_key = secrets.token_urlsafe(8) if said else None
    if notice_key:
        notices[notice_key] = Notice(said, about)
        while len(notices) > MOST_NOTICES:
            del notices[next(iter(notices))]
    return redirect(url_for(endpoint, _anchor=anchor, key=key, said=notice_key), 303)


def notice() -> Notice | None:
    """What this page has to say about what was done before."""
    notices = cast("dict[str, Notice]", current_app.extensions[NOTICES])
    return notices.get(request.args.get("said", ""))


def patient_key(unit: str, patient_id: str) -> str:
    """What stands for a patient in an address."""
    return desk().key("patient", unit, patient_id)


def find_patient(ward: Ward, key: str) -> tuple[int, Patient] | None:
    """The number of the unit, and the patient whom a key stands for."""
    for number, patient in ward.patients():
        if patient_key(ward.handovers[number].unit.name, patient.id) == key:
            return number, patient
    return None


def patient_of(ward: Ward, key: str) -> tuple[int, Patient]:
    """The same; without such a patient there is no such page."""
    return find_patient(ward, key) or abort(404)


def who(ward: Ward, number: int, patient: Patient) -> Who:
    """Who it is, what to be careful of, and whether another name is alike."""
    words, beds = ward.words[number], ward.handovers[number].name_alerts.get(patient.id)
    alerts = [words.say("precautions", patient=patient)] if patient.precautions else []
    if beds:
        alerts.append(words.say("name_alert", beds=beds))
    return Who(patient.bed, patient.name, patient.id, tuple(alerts))


def unit_key(unit: str) -> str:
    """What stands for a unit in an address."""
    return desk().key("unit", unit)


def handover_of(ward: Ward, key: str) -> Handover | None:
    """The hand-over of the unit that a key stands for; without a key of the first unit."""
    named = {unit_key(each.unit.name): each for each in ward.handovers}
    return named.get(key) if key else next(iter(named.values()), None)


def log_of(key: str) -> str:
    """The open log that a key stands for; else there is no such page."""
    path = desk().path_of(key)
    if path is None or path not in desk().paths:
        abort(404)
    return path


def rows_to_mend() -> int:
    """How many findings cost a cell or a row."""
    return sum(each.severity is Severity.ERROR for each in desk().ward().findings)

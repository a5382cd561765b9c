"""A new patient on the list, and a new order beside the one before.

Input: a form. Output: a patient or an order added to the log. Writes only through `edits`.
"""

from zoneinfo import ZoneInfo

from flask import Blueprint, abort, render_template, request
from msgspec.structs import replace
from werkzeug.wrappers import Response

from handoff.desk import current, forms
from handoff.desk.edits.entering import (
    NOTHING_YET,
    Outcome,
    Sent,
    add_patient,
    fields_for,
    with_the_time,
)
from handoff.desk.ward import Ward
from handoff.log.fields import BY_NAME, ORDER_PARTS, Section
from handoff.log.written import order_cells, patient_cells
from handoff.model.ward import Handover, Patient
from handoff.model.wording import DESK

BLUEPRINT = Blueprint("patient", __name__)

NEEDED = ("patient_id", "name", "born", "bed")
GROUPS = {
    "who": (
        *("patient_id", "name", "born", "bed", "sex", "height_cm", "weight_kg"),
        *("language", "reason", "surgery_on", "precautions", "home_on"),
    ),
    "order": (
        *("order_start", "order_stop", "order_breaths", "order_every_h", "goal_ml"),
        *("order_hold_s", "order_by", "spo2_min", "spo2_max"),
        *("resp_rate_min", "resp_rate_max", "pulse_min", "pulse_max", "temp_max"),
        *("usual_symptoms", "comfort_care", "baseline_ml"),
    ),
    "device": (*("device_given", "device_labelled", "device_scale_ml", "taught", "shown_back"),),
}


NAMES = [name for names in GROUPS.values() for name in names]
WHOSE = ("patient_id", "name", "born")  # an order is never known by a bed
ORDER = [name for name in GROUPS["order"] if name in ORDER_PARTS]
NEEDED_OF_ORDER = ("order_start", "order_breaths", "order_every_h")


@BLUEPRINT.get("/patients/new")
def new() -> str:
    """An empty form."""
    seen = current.desk().ward()
    handover = current.handover_of(seen, request.args.get("unit", ""))
    if handover is None:
        return render_template("nothing_open.html")
    return _form(seen, handover, Sent("", {}))


@BLUEPRINT.post("/patients/new")
def add() -> Response | tuple[str, int]:
    """Add the patient, or show the form again with what is wrong with it."""
    desk = current.desk()
    seen = desk.ward()
    handover = current.handover_of(seen, current.form("unit_key")) or abort(404)
    unit = current.unit_key(handover.unit.name)
    sent = forms.sent(unit, {name: current.form(name) for name in NAMES})
    outcome = add_patient(desk, _log(handover), sent)
    if outcome.place is None:
        return _form(seen, handover, sent, outcome), 422
    who = current.patient_key(handover.unit.name, sent.cells["patient_id"])
    text = DESK.say("done.added-patient", bed=sent.cells["bed"], name=sent.cells["name"])
    place, change = outcome.place, outcome.change
    return current.go_to("ward.ward", current.undoable(text, place.file, change, about=who))


@BLUEPRINT.get("/patients/<key>/order")
def new_order(key: str) -> str:
    """A form with what is ordered now, to be changed; who ordered it and from when are blank."""
    seen = current.desk().ward()
    number, patient = current.patient_of(seen, key)
    known = patient_cells(patient, seen.handovers[number].unit.time_zone)
    anew = {"order_start", "order_stop", "order_by"}
    cells = {name: known[name] for name in ORDER if name in known and name not in anew}
    return _order_form(seen, key, Sent("", cells))


@BLUEPRINT.post("/patients/<key>/order")
def add_order(key: str) -> Response | tuple[str, int]:
    """Add the order to the log, which keeps the one before as it is."""
    desk = current.desk()
    seen = desk.ward()
    number, patient = current.patient_of(seen, key)
    zone = seen.handovers[number].unit.time_zone
    typed = {name: current.form(name) for name in ORDER}
    # What is read over in the form is what is sent next, so the time stands there, and not `now`.
    cells = with_the_time(desk, zone, Section.PATIENT, typed)
    sent = replace(forms.sent(key, typed), cells=cells)
    missing = [name for name in NEEDED_OF_ORDER if not cells[name]]
    begun = _begun(patient, zone)
    if problem := forms.of_another(key, patient):
        outcome = Outcome(problem=problem)
    elif missing:
        outcome = Outcome(problem=DESK.say("new-order.not-whole"))
    elif cells["order_start"] in begun:
        outcome = Outcome(problem=DESK.say("new-order.same-start"))
    else:
        known = patient_cells(patient, zone)
        whose = {name: known[name] for name in WHOSE if name in known}
        row = replace(sent, cells={**whose, **cells})
        outcome = add_patient(desk, patient.place.file, row)
    if outcome.place is None:
        return _order_form(seen, key, sent, outcome), 422
    of_now = _begun(current.patient_of(desk.ward(), key)[1], zone)
    start = next((each for each in of_now if each not in begun), cells["order_start"])
    words = {"start": start, "bed": patient.bed, "name": patient.name}
    text = DESK.say("done.added-order", **words)
    notice = current.undoable(text, outcome.place.file, outcome.change, about=key)
    return current.go_to("ward.patient", notice, key=key)


def _order_form(seen: Ward, key: str, sent: Sent, outcome: Outcome = NOTHING_YET) -> str:
    number, patient = current.patient_of(seen, key)
    places = fields_for(seen, patient.place.file, Section.PATIENT)
    fields = [BY_NAME[Section.PATIENT, name] for name in ORDER if name in places]
    return render_template(
        "new_order.html",
        key=key,
        who=current.who(seen, number, patient),
        log=patient.place.file,
        lacking=[name for name in NEEDED_OF_ORDER if name not in places],
        begun=_begun(patient, seen.handovers[number].unit.time_zone),
        fields=fields,
        needed=NEEDED_OF_ORDER,
        **forms.shown(seen, fields, key, sent, outcome),
    )


def _begun(patient: Patient, zone: ZoneInfo) -> list[str]:
    """The start of each order, as it is read from the log."""
    return [order_cells(each, zone)["order_start"] for each in patient.orders]


def _log(handover: Handover) -> str:
    """The log of the shift that is handed over."""
    return handover.logs[-1].file


def _form(seen: Ward, handover: Handover, sent: Sent, outcome: Outcome = NOTHING_YET) -> str:
    places = fields_for(seen, _log(handover), Section.PATIENT)
    fields = {name: BY_NAME[Section.PATIENT, name] for name in places}
    unit = current.unit_key(handover.unit.name)
    return render_template(
        "new_patient.html",
        log=_log(handover),
        unit_key=unit,
        groups=[
            (title, [fields[name] for name in names if name in fields])
            for title, names in GROUPS.items()
        ],
        needed=NEEDED,
        **forms.shown(seen, fields.values(), unit, sent, outcome),
    )

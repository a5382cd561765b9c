"""A new patient on the list.

Input: a form. Output: a patient added to the log. Writes only through `edits`.
"""

from flask import Blueprint, abort, render_template, request
from werkzeug.wrappers import Response

from handoff.desk import current, forms
from handoff.desk.edits.entering import NOTHING_YET, Outcome, Sent, add_patient, fields_for
from handoff.desk.ward import Ward
from handoff.log.fields import BY_NAME, Section
from handoff.model.ward import Handover

BLUEPRINT = Blueprint("patient", __name__)

NEEDED = ("patient_id", "name", "born", "bed")
GROUPS = {
    "Who": (
        *("patient_id", "name", "born", "bed", "sex", "height_cm", "weight_kg"),
        *("reason", "surgery_on", "precautions", "home_on"),
    ),
    "Order": (
        *("order_start", "order_stop", "order_breaths", "order_every_h", "goal_ml"),
        *("order_hold_s", "order_by", "spo2_min", "spo2_max"),
        *("resp_rate_min", "resp_rate_max", "pulse_min", "pulse_max", "temp_max"),
        *("usual_symptoms", "comfort_care", "baseline_ml"),
    ),
    "Device and teaching": (
        *("device_given", "device_labelled", "device_scale_ml", "taught", "shown_back"),
    ),
}


NAMES = [name for names in GROUPS.values() for name in names]


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
    text = f"Added bed {sent.cells['bed']}, {sent.cells['name']} to the list."
    place, change = outcome.place, outcome.change
    return current.go_to("ward.ward", current.undoable(text, place.file, change, about=who))


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

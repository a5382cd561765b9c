"""A patient on the list: somebody new, and what the log says of somebody.

Enters: what is typed. Leaves: a patient of the log, or facts of one corrected.
"""

from collections.abc import Mapping

from flask import Blueprint, abort, render_template, request
from werkzeug.wrappers import Response

from handoff.desk import here
from handoff.desk.entering import NOTHING_YET, Outcome, add_patient, fields_for
from handoff.desk.failures import EditError
from handoff.desk.ward import Ward
from handoff.fields import BY_NAME, Section
from handoff.model import Handover

BLUEPRINT = Blueprint("patient", __name__)

GROUPS = {
    "Who": (
        *("patient_id", "name", "born", "bed", "sex", "height_cm", "weight_kg"),
        *("reason", "surgery_on", "home_on"),
    ),
    "Order": (
        *("order_start", "order_stop", "order_breaths", "order_every_h", "goal_ml"),
        *("order_hold_s", "order_by", "spo2_min", "baseline_ml"),
    ),
    "Device and teaching": (
        *("device_given", "device_labelled", "device_scale_ml", "taught", "shown_back"),
    ),
}


@BLUEPRINT.get("/patients/new")
def new() -> str:
    """An empty form."""
    seen = here.desk().ward()
    return _form(seen, _unit(seen, request.args.get("unit", "")), {})


@BLUEPRINT.post("/patients/new")
def add() -> Response | tuple[str, int]:
    """Add the patient, or show the form again with what speaks against it."""
    desk = here.desk()
    seen = desk.ward()
    handover = _unit(seen, here.form("unit_key"))
    cells = {name: here.form(name) for names in GROUPS.values() for name in names}
    accepted = request.form.getlist("accepted")
    try:
        outcome = add_patient(desk, _log(handover), cells, here.form("form"), accepted)
    except EditError as error:
        return _form(seen, handover, cells, problem=str(error)), 422
    if outcome.place is None:
        return _form(seen, handover, cells, outcome), 422
    return here.go_to("ward.ward", f"Added bed {cells['bed']}, {cells['name']} to the list.")


def _unit(seen: Ward, key: str) -> Handover:
    """The hand-over of the unit that a key stands for, without one of the first."""
    desk = here.desk()
    named = {desk.key("unit", each.unit.name): each for each in seen.handovers}
    return named.get(key) or next(iter(seen.handovers), None) or abort(404)


def _log(handover: Handover) -> str:
    """The log of the shift that is handed over."""
    return handover.logs[-1].file


def _form(
    seen: Ward,
    handover: Handover,
    cells: Mapping[str, str],
    outcome: Outcome = NOTHING_YET,
    problem: str = "",
) -> str:
    words = seen.words[seen.handovers.index(handover)]
    places = fields_for(seen, _log(handover), Section.PATIENT)
    fields = {name: BY_NAME[Section.PATIENT, name] for name in places}
    return render_template(
        "new_patient.html",
        log=_log(handover),
        unit_key=here.desk().key("unit", handover.unit.name),
        groups=[
            (title, [fields[name] for name in names if name in fields])
            for title, names in GROUPS.items()
        ],
        cells=cells,
        labels={name: words.say(f"blank.label.{name}") for name in fields},
        hints={
            name: words.say(f"blank.allowed.{field.kind.name.lower()}", field=field)
            for name, field in fields.items()
        },
        findings=outcome.findings,
        may_accept=outcome.may_accept,
        problem=problem,
        form=here.form("form") or here.new_form(),
    )

"""The change of shift, step by step: what is still open, what to print, the next log.

Input: the open logs. Output: a page that leads to the forms, and the list of a log made early,
made anew. Writes only through `edits`.
"""

from pathlib import PurePath

from flask import Blueprint, abort, render_template, request
from werkzeug.wrappers import Response

from handoff.desk import current, forms
from handoff.desk.coming import differences, made_early, to_clear
from handoff.desk.edits.starting import renew_log
from handoff.model.wording import DESK

BLUEPRINT = Blueprint("changing", __name__)


@BLUEPRINT.get("/change-of-shift")
def change_of_shift() -> str:
    """The steps for one unit; `unit` in the address is its key, by default the first unit's."""
    seen = current.desk().ward()
    handover = current.handover_of(seen, request.args.get("unit", ""))
    if handover is None:
        return render_template("nothing_open.html")
    key = current.unit_key(handover.unit.name)
    log, labels = made_early(seen, handover), forms.labels(seen)
    return render_template(
        "change_of_shift.html",
        unit=handover.unit.name,
        unit_key=key,
        others=[
            (current.unit_key(each.unit.name), each.unit.name)
            for each in seen.handovers
            if each is not handover
        ],
        to_clear=list(to_clear(seen, seen.handovers.index(handover))),
        waiting=PurePath(log.file).name if log else "",
        behind=[
            (patient, [labels.get(name, name) for name in names])
            for patient, names in (differences(handover, log) if log else ())
        ],
    )


@BLUEPRINT.post("/change-of-shift/list")
def renew() -> Response:
    """Make the list of the log that waits anew."""
    seen = current.desk().ward()
    handover = current.handover_of(seen, current.form("unit_key")) or abort(404)
    log = made_early(seen, handover)
    if log is None:
        return current.go_to("ward.ward", DESK.say("done.none-waits"))
    made = renew_log(current.desk(), handover, log)
    text = DESK.say("done.list-renewed", log=PurePath(log.file).name)
    notice = current.undoable(text, log.file, made.key)
    return current.go_to("changing.change_of_shift", notice)

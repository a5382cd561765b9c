"""The change of shift, step by step: what is still open, what to print, the next log.

Input: the open logs. Output: a page that leads to the forms. Writes nothing.
"""

from flask import Blueprint, render_template, request

from handoff.desk import current
from handoff.desk.coming import coming, to_clear

BLUEPRINT = Blueprint("changing", __name__)


@BLUEPRINT.get("/change-of-shift")
def change_of_shift() -> str:
    """The steps for one unit; `unit` in the address is its key, by default the first unit's."""
    seen = current.desk().ward()
    handover = current.handover_of(seen, request.args.get("unit", ""))
    if handover is None:
        return render_template("nothing_open.html")
    key = current.unit_key(handover.unit.name)
    waits = (each.waiting for each in coming(seen) if each.unit_key == key)
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
        waiting=next(waits, ""),
    )

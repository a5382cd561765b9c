"""What a log says of its unit: whom to call, and the quiet hours.

Input: a form. Output: the log with these cells changed, as a correction. Writes only through
`edits`.
"""

from flask import Blueprint, abort, render_template, request
from werkzeug.wrappers import Response

from handoff.desk import current
from handoff.desk.edits import change
from handoff.desk.edits.change import Row
from handoff.desk.edits.failures import EditError
from handoff.desk.edits.mending import Correction, Written, correct, fingerprint
from handoff.desk.ward import Ward
from handoff.log.fields import Section
from handoff.model.findings import Finding
from handoff.model.ward import Handover
from handoff.model.wording import DESK
from handoff.read import RawLog

BLUEPRINT = Blueprint("unit", __name__)
NAMES = ("phone", "home_phone", "quiet_hours")
NONE = "none"


@BLUEPRINT.get("/unit")
def unit() -> str:
    """The form, as the log of the latest shift has it."""
    seen = current.desk().ward()
    handover = current.handover_of(seen, request.args.get("unit", ""))
    return _page(seen, handover) if handover else render_template("nothing_open.html")


@BLUEPRINT.post("/unit")
def save() -> Response | tuple[str, int]:
    """Write what was changed into the log."""
    desk = current.desk()
    seen = desk.ward()
    handover = current.handover_of(seen, current.form("unit_key")) or abort(404)
    raw_log = seen.raw_logs[_log(handover)]
    starts, ends, none = map(current.form, ("quiet_start", "quiet_end", "quiet_none"))
    hours = NONE if none else f"{starts}-{ends}" if starts and ends else ""
    typed = {**{name: current.form(name) for name in NAMES}, "quiet_hours": hours}
    cells = {name: typed[name] for name in _places(raw_log)}
    if bool(starts) != bool(ends) and not none:
        problem = DESK.say("unit.both-times")
        return _page(seen, handover, typed, problem=problem), 422
    correction = Correction(raw_log.file, _row(raw_log), current.form("seen"), cells)
    try:
        done = correct(desk, correction, in_copy=False)
    except EditError as error:
        return _page(seen, handover, typed, problem=str(error)), 409
    if not isinstance(done, Written):
        return _page(seen, handover, typed, done), 422
    text = DESK.say("done.unit", log=done.path)
    notice = current.undoable(text, done.path, done.change.key, before=seen)
    return current.go_to("ward.ward", notice)


def _page(
    seen: Ward,
    handover: Handover,
    typed: dict[str, str] | None = None,
    findings: tuple[Finding, ...] = (),
    problem: str = "",
) -> str:
    raw_log = seen.raw_logs[_log(handover)]
    record = _row(raw_log).record(raw_log)
    cells = typed or {name: record.cells.get(name, "").strip() for name in NAMES}
    hours = "" if cells["quiet_hours"].casefold() == NONE else cells["quiet_hours"]
    starts, _, ends = (each.strip() for each in hours.partition("-"))
    return render_template(
        "unit.html",
        unit=handover.unit,
        unit_key=current.unit_key(handover.unit.name),
        log=raw_log.file,
        places=_places(raw_log),
        lacking=[name for name in NAMES if name not in _places(raw_log)],
        cells=cells,
        quiet=(starts, ends, hours != cells["quiet_hours"]),
        in_force=handover.unit.quiet_hours,
        seen=fingerprint(current.desk(), record),
        findings=findings,
        problem=problem,
    )


def _log(handover: Handover) -> str:
    """The log of the shift that is handed over."""
    return handover.logs[-1].file


def _row(raw_log: RawLog) -> Row:
    """The row that says what the unit is; in a table it is one of the entries' rows."""
    if raw_log.columns is None:
        return Row(Section.UNIT)
    lines = [each.line for each in raw_log.entries]
    return Row(Section.ENTRY, lines.index(raw_log.unit.line) if raw_log.unit.line in lines else 0)


def _places(raw_log: RawLog) -> list[str]:
    """The fields that the log has a place for."""
    places = change.fields_written(Section.UNIT, raw_log)
    return [name for name in NAMES if name in places]

"""What was changed at the desk, and the undoing of a change.

Input: the histories of the open logs. Output: a page with what was, what is now, when and by whom;
a log without a change. Writes only through `edits`.
"""

from collections.abc import Iterator
from datetime import datetime
from pathlib import PurePath

from flask import Blueprint, render_template
from msgspec.structs import replace
from werkzeug.wrappers import Response

from handoff.desk import current, forms
from handoff.desk.edits.history import Change, Kind, is_undone
from handoff.desk.edits.mending import undo as undo_change
from handoff.desk.ward import Ward
from handoff.explain.text import local_time
from handoff.model.frozen import Frozen
from handoff.model.ward import Patient
from handoff.model.wording import DESK

BLUEPRINT = Blueprint("history", __name__)
MOST_SHOWN = 100


class ShownChange(Frozen):
    """One change in words; `cells` are (label, was, now) of each cell that differs."""

    key: str
    log_key: str
    log: str
    at: datetime
    when: str
    by: str
    kind: Kind
    who: str
    cells: tuple[tuple[str, str, str], ...]
    undone: bool


@BLUEPRINT.get("/history")
def changes() -> str:
    """The changes of the open logs, newest first."""
    desk = current.desk()
    seen = desk.ward()
    shown = list(_shown(seen))[::-1]
    shown.sort(key=lambda each: each.at, reverse=True)
    return render_template(
        "history.html",
        changes=shown[:MOST_SHOWN],
        more=len(shown[MOST_SHOWN:]),
        not_kept=[PurePath(path).name for path in desk.paths if not desk.is_kept(path)],
        by=desk.setting.by or "",
    )


@BLUEPRINT.post("/history/undo")
def undo() -> Response:
    """Undo a change."""
    path, before = current.log_of(current.form("log")), current.desk().ward()
    written = undo_change(current.desk(), path, current.form("change"))
    text = DESK.say("done.undone", log=PurePath(path).name)
    about = current.form("about")
    known = about and current.find_patient(current.desk().ward(), about)
    return current.go_to(
        "ward.patient" if known else "history.changes",
        current.undoable(text, path, written.change.key, before=before),
        key=about if known else None,
    )


@BLUEPRINT.post("/history/by")
def set_by() -> Response:
    """Say who charts at this desk from now on."""
    desk = current.desk()
    desk.setting = replace(desk.setting, by=current.form("by") or None)
    return current.go_to("history.changes", DESK.say("done.by"))


def _shown(seen: Ward) -> Iterator[ShownChange]:
    desk, labels = current.desk(), forms.labels(seen)
    known = {patient.id: patient for _, patient in seen.patients()}
    zones = {log.file: each.unit.time_zone for each in seen.handovers for log in each.logs}
    for path in desk.paths:
        of_log = desk.history(path)
        for each in of_log:
            at = each.at.astimezone(zones.get(path))
            yield ShownChange(
                each.key,
                desk.key("log", path),
                PurePath(path).name,
                each.at,
                local_time(each.at, zones[path]) if path in zones else f"{at:%Y-%m-%d %H:%M}",
                each.by,
                each.noted.kind,
                _whose(each, known),
                () if each.noted.kind is Kind.LIST_ANEW else tuple(_cells(each, labels)),
                is_undone(each, of_log),
            )


def _whose(change: Change, known: dict[str, Patient]) -> str:
    """Bed and name of the patients of a change, first of whom the row was, then of whom it is."""
    rows = (*change.noted.was, *change.noted.now)
    ids = dict.fromkeys(each.get("patient_id", "").strip() for each in rows)
    named = [
        f"bed {known[each].bed}, {known[each].name}" if each in known else f"id {each}"
        for each in ids
        if each
    ]
    return " → ".join(named)


def _cells(change: Change, labels: dict[str, str]) -> Iterator[tuple[str, str, str]]:
    """(label, was, now) of each cell that differs: where there are two rows, that of the last."""
    was = {name: cell for each in change.noted.was for name, cell in each.items()}
    now = {name: cell for each in change.noted.now for name, cell in each.items()}
    for name in dict.fromkeys((*was, *now)):
        before, after = was.get(name, "").strip(), now.get(name, "").strip()
        if before != after and name != "patient_id":
            yield labels.get(name, name), before, after

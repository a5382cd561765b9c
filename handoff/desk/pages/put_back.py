"""Entries that were written here and that another program's save took away: put back, or left out.

Input: a choice. Output: the log with the entries, or nothing more to say about them. Writes only
through `edits`.
"""

from functools import partial

from flask import Blueprint
from werkzeug.wrappers import Response

from handoff.desk import current, forms
from handoff.desk.edits.entering import put_back
from handoff.desk.edits.failures import EditError
from handoff.desk.edits.history import rows_of
from handoff.desk.edits.written_here import Row
from handoff.desk.ward import Ward
from handoff.model.frozen import Frozen
from handoff.model.wording import DESK

BLUEPRINT = Blueprint("put_back", __name__)


class Gone(Frozen):
    """The entries that are gone from a log, in words; `seen` is a key of just these."""

    file: str
    log: str
    seen: str
    words: tuple[str, ...]


def gone_entries() -> list[Gone]:
    """What is gone from each open log."""
    desk = current.desk()
    ward = desk.ward()
    gone = {path: _gone(ward, path) for path in ward.raw_logs}
    return [
        Gone(path, desk.key("log", path), _seen(rows), tuple(_words(ward, row) for row in rows))
        for path, rows in gone.items()
        if rows
    ]


@BLUEPRINT.post("/put-back")
def choose() -> Response:
    """Put the entries back into their log, or leave them out."""
    desk = current.desk()
    path = current.log_of(current.form("log"))
    rows = _gone(desk.ward(), path)
    if not rows or _seen(rows) != current.form("seen"):
        raise EditError("changed-meanwhile")
    if current.form("choice") == "put back":
        put_back(desk, path, [dict(row) for row in rows])
        return current.go_to("ward.ward", DESK.say("done.put-back", log=path, entries=_count(rows)))
    desk.written_here.leave_out(path, rows)
    return current.go_to("ward.ward", DESK.say("done.left-out", log=path, entries=_count(rows)))


def _gone(ward: Ward, path: str) -> tuple[Row, ...]:
    raw_log = ward.raw_logs[path]
    if not raw_log.usable:
        return ()  # the log itself is lost: that is told instead
    rows = partial(ward.kept, f"rows of {path}", partial(rows_of, raw_log))
    desk = current.desk()
    return desk.written_here.gone(path, rows, partial(desk.history, path))


def _seen(rows: tuple[Row, ...]) -> str:
    return current.desk().key("gone", *(f"{name}={cell}" for row in rows for name, cell in row))


def _count(rows: tuple[Row, ...]) -> str:
    key = "gone.one" if len(rows) == 1 else "gone.several"
    return DESK.say(key, count=len(rows))


def _words(ward: Ward, row: Row) -> str:
    """An entry in a line, with the bed and the name of its patient."""
    cells = dict(row)
    patient = next((each for _, each in ward.patients() if each.id == cells["patient_id"]), None)
    who = DESK.say("any.id", id=cells["patient_id"])
    if patient:
        who = DESK.say("gone.whose", bed=patient.bed, name=patient.name)
    labels = forms.labels(ward)
    rest = {name: cell for name, cell in cells.items() if name not in {"patient_id", "at"}}
    said = "; ".join(f"{labels.get(name, name)} {cell}" for name, cell in rest.items())
    return f"{who}, {cells['at']}: {said}"

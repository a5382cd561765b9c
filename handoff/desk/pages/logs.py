"""The logs: which are open, files dropped into the folder, and a new log for the next shift.

Input: a choice, files, or the times of a shift. Output: open logs.
"""

import time
from collections.abc import Collection
from pathlib import Path, PurePath
from zoneinfo import available_timezones

from flask import Blueprint, render_template, request
from msgspec.structs import replace
from werkzeug.datastructures import FileStorage
from werkzeug.wrappers import Response

from handoff.desk import current
from handoff.desk.edits import logbook
from handoff.desk.edits.failures import EditError
from handoff.desk.edits.starting import NewLog, next_times, start_log
from handoff.desk.still_open import StillOpen, still_open
from handoff.desk.ward import Ward
from handoff.model.bounds import USUAL
from handoff.model.findings import Finding, Severity, text
from handoff.model.ward import Handover
from handoff.model.wording import DESK
from handoff.read import ANY_TEXT, SUFFIXES, raw_log_of, text_of
from handoff.store.file_names import distinct_names

BLUEPRINT = Blueprint("logs", __name__)
MOST_SHOWN = 20  # logs, without asking for older ones
REGIONS = (
    *("Africa", "America", "Antarctica", "Arctic", "Asia"),
    *("Atlantic", "Australia", "Europe", "Indian", "Pacific"),
)


@BLUEPRINT.get("/logs")
def logs() -> str:
    """The logs of the folder, with the open ones ticked."""
    desk = current.desk()
    known = [*desk.in_folder(), *desk.paths]  # a log that is open by the name it was opened by
    distinct = {Path(path).resolve(): path for path in known}.values()
    newest_first = sorted(distinct, key=lambda path: PurePath(path).name, reverse=True)
    return render_template(
        "logs.html",
        logs=[(desk.key("log", path), path, path in desk.paths) for path in newest_first],
        most_shown=MOST_SHOWN,
        folder=str(desk.setting.folder.resolve()),
        suffixes=sorted(SUFFIXES),
        setting=desk.setting,
        shift=(desk.setting.shift or "/").partition("/"),
    )


@BLUEPRINT.post("/logs/open")
def choose() -> Response:
    """Open the ticked logs, and no others."""
    desk = current.desk()
    found = [desk.path_of(key) for key in request.form.getlist("log")]
    desk.open(path for path in found if path)
    if not desk.paths:
        return current.go_to("logs.logs", DESK.say("done.none-open"))
    return current.go_to("ward.ward")


@BLUEPRINT.post("/logs/close")
def close() -> Response:
    """Close a log, and leave the others open."""
    desk = current.desk()
    closed = current.log_of(current.form("log"))
    desk.open(each for each in desk.paths if each != closed)
    return current.go_to("ward.ward", DESK.say("done.closed", log=closed))


@BLUEPRINT.post("/logs/close-desk")
def close_desk() -> str:
    """End the run of the desk, for a person who has no terminal to end it in. Where forms are not
    saved, first say how many, and ask.
    """
    desk = current.desk()
    unsaved = len(desk.drafts.all())
    if unsaved and current.form("unsaved") != str(unsaved):
        return render_template("closing.html", unsaved=unsaved)
    current.state().closed = time.monotonic()
    folder = desk.setting.folder.resolve()
    return render_template("closed.html", folder=folder, unsaved=unsaved)


@BLUEPRINT.post("/logs/files")
def take_in() -> Response:
    """Keep the dropped files as new logs of the folder, and open them too."""
    desk = current.desk()
    given = [each for each in request.files.getlist("files") if each.filename]
    if not given:
        raise EditError("no-file")
    # All are looked at first: either all are kept and opened, or none.
    contents = [_readable(each) for each in given]
    paths = [_kept(desk.setting.folder, *each) for each in contents]
    desk.open([*desk.paths, *paths])
    opened = ", ".join(PurePath(path).name for path in paths)
    return current.go_to("ward.ward", DESK.say("done.opened", logs=opened))


@BLUEPRINT.post("/logs/setting")
def change_setting() -> Response:
    """Set options for what logs do not say, until the desk is closed."""
    desk = current.desk()
    start, end = current.form("shift_start"), current.form("shift_end")
    desk.setting = replace(
        desk.setting,
        unit=current.form("unit") or None,
        time_zone=current.form("time_zone") or None,
        shift=f"{start}/{end}" if start or end else None,
        dates=current.form("dates") or None,
    )
    return current.go_to("mend.rows", DESK.say("done.setting"))


@BLUEPRINT.get("/logs/new")
def new() -> str:
    """The form of a new log."""
    return _new_page(current.handover_of(current.desk().ward(), request.args.get("unit", "")))


@BLUEPRINT.post("/logs/new")
def start() -> Response | tuple[str, int]:
    """Make the new log."""
    desk = current.desk()
    ward = desk.ward()
    before = current.handover_of(ward, current.form("unit_key"))
    fields = _typed(before)
    unseen = _left_out(ward, before, fields) - set(request.form.getlist("without"))
    if unseen:
        return _new_page(before, fields, left_out=_left_out(ward, before, fields)), 422
    try:
        path, findings = start_log(desk, fields, before)
    except EditError as error:
        return _new_page(before, fields, problem=str(error)), 409
    if not path:
        return _new_page(before, fields, findings), 422
    name = PurePath(path).name
    if path in desk.ward().to_come:
        text = DESK.say("done.made-early", log=name)
        return current.go_to("changing.change_of_shift" if before else "ward.ward", text)
    if path in desk.paths:
        return current.go_to("ward.ward", DESK.say("done.started", log=name))
    return current.go_to("logs.logs", DESK.say("done.made-far", log=name))


def _still_open(ward: Ward, before: Handover) -> dict[str, StillOpen]:
    """The open matters by the patient's key, for patients on the list with any."""
    number, unit = ward.handovers.index(before), before.unit.name
    found = {
        current.patient_key(unit, each.id): still_open(ward, number, each)
        for each in before.patients
    }
    return {key: each for key, each in found.items() if each.matters or each.holds_back}


def _left_out(ward: Ward, before: Handover | None, fields: NewLog) -> set[str]:
    """The keys of patients with something open who are left off the new list."""
    if before is None:
        return set()
    kept = {current.patient_key(before.unit.name, each) for each in fields.keep}
    return _still_open(ward, before).keys() - kept


def _typed(before: Handover | None) -> NewLog:
    kept = request.form.getlist("keep")
    unit = before.unit.name if before else current.form("unit")
    patients = before.patients if before else ()
    return NewLog(
        unit=unit,
        time_zone=before.unit.time_zone.key if before else current.form("time_zone"),
        start=current.form("start"),
        end=current.form("end"),
        name=current.form("name"),
        outgoing=current.form("outgoing"),
        incoming=current.form("incoming"),
        keep=frozenset(each.id for each in patients if current.patient_key(unit, each.id) in kept),
    )


def _new_page(
    before: Handover | None,
    fields: NewLog | None = None,
    findings: tuple[Finding, ...] = (),
    problem: str = "",
    left_out: Collection[str] = (),
) -> str:
    desk = current.desk()
    if fields is None:
        fields = NewLog("", "", "", "")
        if before:
            outgoing = before.shift.incoming or ""
            everybody = frozenset(each.id for each in before.patients)
            times = next_times(before)
            fields = replace(fields, **times, outgoing=outgoing, keep=everybody)
    patients = before.patients if before else ()
    unit = before.unit.name if before else ""
    others = [
        (current.unit_key(each.unit.name), each.unit.name)
        for each in desk.ward().handovers
        if each is not before
    ]
    return render_template(
        "new_log.html",
        before=before,
        unit_key=current.unit_key(unit) if before else "",
        others=others,
        patients=[(current.patient_key(unit, each.id), each) for each in patients],
        opened=_still_open(desk.ward(), before) if before else {},
        left_out=left_out,
        fields=fields,
        zones=[] if before else _zones(),
        findings=findings,
        problem=problem,
    )


def _zones() -> list[tuple[str, list[str]]]:
    """(region, its time zones) to choose from; all that are named after a place."""
    regions: dict[str, list[str]] = {}
    for zone in sorted(available_timezones()):
        region, _, place = zone.partition("/")
        if place and region in REGIONS:
            regions.setdefault(region, []).append(zone)
    return list(regions.items())


def _readable(given: FileStorage) -> tuple[str, bytes]:
    """A safe name and the content of a dropped file that can be read as a log."""
    name = PurePath((given.filename or "").replace("\\", "/"))
    if name.suffix.lower() not in SUFFIXES:
        raise EditError("no-log", name=name.name, suffixes=", ".join(sorted(SUFFIXES)))
    content = given.stream.read(logbook.MOST_BYTES + 1)
    if len(content) > logbook.MOST_BYTES:
        raise EditError("file-too-large", name=name.name)
    (stem,) = distinct_names("", [name.stem])
    suffix = name.suffix.lower()
    # A text with tabs is read like any table, and is known again as a log by this name.
    safe = f"{stem}{'.csv' if suffix == ANY_TEXT else suffix}"
    log_text, findings = text_of(content, safe)
    raw_log = raw_log_of(log_text, safe, findings, USUAL)
    if not raw_log.usable:
        why = next(each for each in raw_log.findings if each.severity is Severity.ERROR)
        raise EditError("not-taken-in", finding=text(why))
    return safe, content


def _kept(folder: Path, name: str, content: bytes) -> str:
    """The path of a new file in the folder; of an existing one with the same content, if there is
    one.
    """
    existing = folder / name
    if existing.is_file() and existing.read_bytes() == content:
        return str(existing)
    return str(logbook.new_file(folder, name, content))

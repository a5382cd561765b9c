"""The sheets: the same PDFs as `handoff sheets`, in the browser's own viewer.

Input: the open logs. Output: PDFs. All sheets take a while: their page is sent piece by piece as
they are made, and shows the progress even without script.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import partial
from pathlib import PurePosixPath

from flask import Blueprint, Response, abort, render_template, stream_template

from handoff.desk import current
from handoff.desk.safety import PDF_POLICY
from handoff.desk.ward import Desk, Ward
from handoff.draw.paper import letters_lacking
from handoff.run.sheets import named_patients, produce, produce_unit

BLUEPRINT = Blueprint("sheets", __name__)
PDF = "application/pdf"


@dataclass(frozen=True, slots=True)
class Step:
    """The progress of printing."""

    done: int
    of: int


@BLUEPRINT.get("/sheets")
def sheets() -> Response:
    """Make all sheets, show the progress, and link to them."""
    desk = current.desk()
    ward = current.ward_to_print()
    if not ward.handovers:
        return Response(render_template("nothing_open.html"))
    made: list[tuple[str, str]] = []
    steps = _steps(desk, ward, made)
    lacking = letters_lacking(
        (patient for _, patient in ward.patients()), ward.setting.printing.typesetter
    )
    return Response(stream_template("sheets.html", steps=steps, made=made, lacking=lacking))


@BLUEPRINT.get("/sheets/<key>.pdf")
def made(key: str) -> Response:
    """One of the last PDFs made."""
    content = current.state().printed.get(key)
    if content is None:
        abort(404)
    return _shown(content)


@BLUEPRINT.get("/patients/<key>/sheet.pdf")
def sheet(key: str) -> Response:
    """One patient's sheet."""
    return _shown(_of_patient(key, "patients"))


@BLUEPRINT.get("/patients/<key>/take-home.pdf")
def take_home(key: str) -> Response:
    """The page that one patient takes home."""
    return _shown(_of_patient(key, "discharge"))


def _of_patient(key: str, folder: str) -> bytes:
    ward = current.ward_to_print()
    number, patient = current.patient_of(ward, key)
    bed = frozenset([patient.bed])
    printing = replace(ward.setting.printing, beds=bed, discharge_beds=bed)
    named = named_patients(ward.results[number].measures)
    wanted = next((f"{folder}/{name}.pdf" for name, each in named if each.id == patient.id), None)
    files = produce_unit(ward.handovers[number], ward.setting.limits, printing)
    content = next((content for name, content in files if name == wanted), None)
    return content if content is not None else abort(404)


def _steps(desk: Desk, ward: Ward, made: list[tuple[str, str]]) -> Iterator[Step]:
    """A step for each sheet as it is made; then `made` has the name and the key of each file."""
    of = sum(len(each.measures) for each in ward.results)  # who has an order, or something open
    files: dict[str, bytes] = {}
    names: list[tuple[str, str]] = []
    done = 0
    # Nothing is gathered again: copies of what is there.
    handovers = {each.unit.name: partial(replace, each) for each in ward.handovers}
    for name, content in produce(handovers, ward.setting.limits, ward.setting.printing):
        if not name.endswith(".pdf"):
            continue
        if PurePosixPath(name).parent.name == "patients":
            done += 1
            yield Step(done, of)
            continue
        key = desk.key("printed", name, str(id(ward)))
        files[key] = content
        names.append((key, _title(name)))
    current.state().printed = files
    made += sorted(names, key=lambda each: ORDER.index(each[1].split(" of ")[0]))


ORDER = ("All patient sheets", "Unit summary", "Page to take home")


def _title(name: str) -> str:
    path = PurePosixPath(name)
    if path.parent.name == "discharge":
        return f"Page to take home of {path.stem.replace('-', ' ', 1)}"
    title = {"patient-sheets": "All patient sheets", "unit-summary": "Unit summary"}[path.stem]
    return f"{title} of {path.parent.name}" if path.parent.name else title


def _shown(content: bytes) -> Response:
    """A PDF for the browser's viewer; its file name says nothing about a patient."""
    response = Response(content, mimetype=PDF)
    response.headers["Content-Disposition"] = 'inline; filename="sheet.pdf"'
    response.headers["Content-Security-Policy"] = PDF_POLICY
    return response

"""The sheets: the same PDFs as `handoff sheets`, in the browser's own viewer.

Input: the open logs. Output: PDFs. All sheets take a while: their page is sent piece by piece as
they are made, and shows the progress even without script.
"""

from collections.abc import Iterable, Iterator
from functools import partial
from pathlib import PurePosixPath

from flask import Blueprint, Response, abort, render_template, request, stream_template
from msgspec.structs import replace
from werkzeug.wrappers import Response as Answer

from handoff.desk import current
from handoff.desk.safety import PDF_POLICY
from handoff.desk.ward import Desk, Ward
from handoff.draw.paper import letters_lacking
from handoff.model.frozen import Frozen
from handoff.model.wording import DESK
from handoff.run.card import cards_of, produce_cards
from handoff.run.sheets import File, named_patients, produce, produce_unit

BLUEPRINT = Blueprint("sheets", __name__)
PDF = "application/pdf"


class Step(Frozen):
    """The progress of printing."""

    done: int
    of: int


@BLUEPRINT.get("/print")
def choose() -> str:
    """Choose what to print."""
    seen = current.desk().ward()
    if not seen.handovers:
        return render_template("nothing_open.html")
    patients = [
        (current.patient_key(results.handover.unit.name, each.patient.id), each.patient)
        for results in seen.results
        for each in results.measures.values()
    ]
    initials = seen.setting.printing.initials
    return render_template("print.html", patients=patients, initials=initials)


@BLUEPRINT.get("/sheets")
def sheets() -> Answer:
    """Make all sheets, or those chosen, show the progress, and link to them."""
    desk = current.desk()
    ward = current.ward_to_print()
    if not ward.handovers:
        return Response(render_template("nothing_open.html"))
    chosen = _chosen(ward)
    if chosen is None:
        return current.go_to("sheets.choose", DESK.say("done.tick-a-bed"))
    ward = chosen
    made: list[tuple[str, str]] = []
    steps = _steps(desk, ward, made, cards=request.args.get("what") == "cards")
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


@BLUEPRINT.get("/patients/<key>/card.pdf")
def card(key: str) -> Response:
    """The card for one patient's table."""
    ward = current.ward_to_print()
    number, patient = current.patient_of(ward, key)
    printing = replace(ward.setting.printing, beds=frozenset([patient.bed]))
    cards = cards_of(ward.results[number], printing)
    content = next((content for each, content in cards if each.id == patient.id), None)
    return _shown(content) if content is not None else abort(404)


@BLUEPRINT.get("/patients/<key>/take-home.pdf")
def take_home(key: str) -> Response:
    """The page that one patient takes home."""
    return _shown(_of_patient(key, "discharge"))


def _chosen(ward: Ward) -> Ward | None:
    """The ward with just what is to be printed of it; None where beds are to be chosen and none is.
    A unit without a chosen bed is left out.
    """
    what, printing = request.args.get("what", "all"), ward.setting.printing
    printing = replace(
        printing,
        initials=printing.initials or "initials" in request.args,
        summary_only=what == "summary",
    )
    handovers = ward.handovers
    ticked = request.args.getlist("who")
    if what == "beds" or (what == "cards" and ticked):
        found = [current.find_patient(ward, key) for key in ticked]
        known = [each for each in found if each]
        if not known:
            return None
        printing = replace(printing, beds=frozenset(patient.bed for _, patient in known))
        handovers = tuple(handovers[number] for number in sorted({number for number, _ in known}))
    return replace(ward, setting=replace(ward.setting, printing=printing), handovers=handovers)


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


def _steps(desk: Desk, ward: Ward, made: list[tuple[str, str]], *, cards: bool) -> Iterator[Step]:
    """A step for each sheet as it is made; then `made` has the name and the key of each file.
    `cards`: the cards in the place of the sheets.
    """
    prints = ward.setting.printing.prints
    of = sum(prints(each.patient) for of_unit in ward.results for each in of_unit.measures.values())
    files: dict[str, bytes] = {}
    names: list[tuple[str, str]] = []
    done = 0
    # Nothing is gathered again: copies of what is there.
    handovers = {each.unit.name: partial(replace, each) for each in ward.handovers}
    made_now: Iterable[File] = produce(handovers, ward.setting.limits, ward.setting.printing)
    if cards:
        made_now = produce_cards(ward.results, ward.setting.printing)
    for name, content in made_now:
        if not name.endswith(".pdf"):
            continue
        if PurePosixPath(name).parent.name == "patients":
            done += 1
            yield Step(done, of)
            continue
        key = desk.key("printed", name, str(id(ward)))
        files[key] = content
        names.append((key, name))
    current.state().printed = files
    names.sort(key=lambda each: ORDER.index(_kind(each[1])))
    made += [(key, _title(name)) for key, name in names]


ORDER = (
    *("patient-sheets", "unit-summary", "round-list", "trends", "bedside-cards"),
    "discharge",
)


def _kind(name: str) -> str:
    path = PurePosixPath(name)
    return "discharge" if path.parent.name == "discharge" else path.stem


def _title(name: str) -> str:
    path, kind = PurePosixPath(name), _kind(name)
    of = path.stem.replace("-", " ", 1) if kind == "discharge" else path.parent.name
    title = DESK.say(f"print.file.{kind}")
    return DESK.say("print.file-of", title=title, of=of) if of else title


def _shown(content: bytes) -> Response:
    """A PDF for the browser's viewer; its file name says nothing about a patient."""
    response = Response(content, mimetype=PDF)
    response.headers["Content-Disposition"] = 'inline; filename="sheet.pdf"'
    response.headers["Content-Security-Policy"] = PDF_POLICY
    return response

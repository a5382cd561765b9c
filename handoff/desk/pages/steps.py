"""Steps about a danger, each a small form: told, hold, resume, settled, left.

Input: what a person did, and the open matters that it is about. Output: a row of the log. Never
ticks a box by itself: the log records only what a person entered.
"""

from collections.abc import Mapping
from dataclasses import replace

from flask import Blueprint, render_template, request
from werkzeug.wrappers import Response

from handoff.desk import current, forms
from handoff.desk.edits.entering import NOTHING_YET, Outcome, Sent, add_entry, fields_for
from handoff.desk.pages import entry as pages_entry
from handoff.desk.still_open import Box, StillOpen, boxes, still_open, words_in
from handoff.desk.ward import Ward
from handoff.log.fields import ABOUT, BY_NAME, Section

BLUEPRINT = Blueprint("steps", __name__)

# The cells of each step besides `what`; those of `NEEDED` must be there.
STEPS: Mapping[str, tuple[str, ...]] = {
    "told": ("at", "note", "about"),
    "hold": ("at", "until", "note"),
    "resume": ("at", "note"),
    "settled": ("at", "note", "about"),
    "left": ("at", "note"),
}
NEEDED = {
    "note": "Write down who it was, and what was said or decided.",
    "about": "Tick what it is about: a row that does not say so closes nothing.",
}
ADDRESS = f"/patients/<key>/<any({', '.join(STEPS)}):what>"


@BLUEPRINT.get(ADDRESS)
def step(key: str, what: str) -> str | Response:
    """An empty form; `of` in the address is the key of the matter it was opened from."""
    seen = current.desk().ward()
    opened = still_open(seen, *current.patient_of(seen, key))
    if what == "resume" and not opened.hold:
        return current.go_to("ward.patient", "The exercise is not on hold.", key=key)
    if what == "settled" and not opened.unsettled:
        return current.go_to("ward.patient", "Nothing is open that could be over.", key=key)
    return _form(seen, key, Sent("", {"what": what}), opened)


@BLUEPRINT.post(ADDRESS)
def add(key: str, what: str) -> Response | tuple[str, int]:
    """Add the row, or show the form again with what is wrong with it."""
    desk = current.desk()
    seen = desk.ward()
    typed = {name: current.form(name).replace("\r\n", "\n") for name in STEPS[what]}
    if "about" in typed:
        typed["about"] = words_in(request.form.getlist("about"))
    sent = forms.sent(key, {"what": what, **typed})
    found = current.find_patient(seen, key)
    if found is None:
        return pages_entry.entry_form(seen, key, sent, pages_entry.GONE), 422
    number, patient = found
    missing = [words for name, words in NEEDED.items() if name in typed and not typed[name]]
    outcome = Outcome(problem=" ".join(missing)) if missing else pages_entry.out_of_date(sent)
    outcome = outcome or add_entry(desk, patient, sent)
    if outcome.place is None:
        return _form(seen, key, sent, still_open(seen, number, patient), outcome), 422
    text = pages_entry.read_back(seen.handovers[number].unit.name, patient.id, outcome.place)
    if current.find_patient(desk.ward(), key) is None:  # has left
        return current.go_to("ward.ward", text)
    return current.go_to("ward.patient", text, key=key)


def _form(
    seen: Ward, key: str, sent: Sent, opened: StillOpen, outcome: Outcome = NOTHING_YET
) -> str:
    number, patient = current.patient_of(seen, key)
    what = sent.cells["what"]
    places = fields_for(seen, patient.place.file, Section.ENTRY)
    fields = {name: BY_NAME[Section.ENTRY, name] for name in STEPS[what]}
    now = pages_entry.now_in(seen.handovers[number])
    offered = _boxes(what, opened)
    known = {word for each in offered for word in each.about.split(";")}
    named = opened.find(request.args.get("of", ""))
    first = next((each.about for each in offered if named in each.matters), "")
    return render_template(
        "step.html",
        key=key,
        what=what,
        who=current.who(seen, number, patient),
        log=patient.place.file,
        lacking=[name for name in ("what", *fields) if name not in (*places, "until")],
        fields=fields,
        opened=opened,
        boxes=offered,
        ticked=[word for word in sent.cells.get("about", "").split(";") if word],
        first=first or (offered[0].about if offered else ""),
        more_words=[word for word in ABOUT if word not in {*known, "all", "other"}],
        filled_in=current.form("filled_in") or pages_entry.filled_in_now(now),
        **forms.shown(
            seen,
            fields.values(),
            key,
            replace(sent, cells={"at": now, **sent.cells}),
            outcome,
        ),
    )


def _boxes(what: str, opened: StillOpen) -> tuple[Box, ...]:
    """The boxes for the row: everything open may be told, also matters told before."""
    if what == "told":
        return tuple(boxes(opened.matters))
    return tuple(boxes(opened.unsettled)) if what == "settled" else ()

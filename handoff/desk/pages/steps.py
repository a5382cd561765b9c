"""Steps, each a small form: told, hold, resume, settled, left, declined, asleep, away.

Input: what a person did, and the open matters that it is about. Output: a row of the log. Never
ticks a box by itself: the log records only what a person entered.
"""

from collections.abc import Mapping
from datetime import timedelta

from flask import Blueprint, render_template, request
from msgspec.structs import replace
from werkzeug.wrappers import Response

from handoff.desk import current, forms
from handoff.desk.edits.entering import NOTHING_YET, Outcome, Sent, add_entry, fields_for
from handoff.desk.pages import entry as pages_entry
from handoff.desk.still_open import Box, StillOpen, boxes, still_open, words_in
from handoff.desk.ward import Ward
from handoff.explain.text import local_time
from handoff.log.fields import ABOUT, BY_NAME, Section
from handoff.model.ward import Handover
from handoff.model.wording import DESK

BLUEPRINT = Blueprint("steps", __name__)

# The cells of each step besides `what`, in the order of typing; those of `NEEDED` must be there.
STEPS: Mapping[str, tuple[str, ...]] = {
    "told": ("note", "at", "about"),
    "hold": ("note", "at", "until"),
    "resume": ("note", "at"),
    "settled": ("note", "at", "about"),
    "left": ("note", "at"),
    "declined": ("note", "at"),
    "asleep": ("until", "at", "note"),
    "away": ("until", "at", "note"),
}
SIMPLE = frozenset({"declined", "asleep", "away"})  # they say all without a note
MOST_ENDS = 5
NEEDED = ("note", "about")
TIMES_OFF = frozenset({"asleep", "away"})  # they say nothing without an end
ADDRESS = f"/patients/<key>/<any({', '.join(STEPS)}):what>"


@BLUEPRINT.get(ADDRESS)
def step(key: str, what: str) -> str | Response:
    """An empty form; `of` in the address is the key of the matter it was opened from."""
    seen = current.desk().ward()
    opened = still_open(seen, *current.patient_of(seen, key))
    if what == "resume" and not opened.hold:
        return current.go_to("ward.patient", DESK.say("done.not-on-hold"), key=key)
    if what == "settled" and not opened.unsettled:
        return current.go_to("ward.patient", DESK.say("done.nothing-open"), key=key)
    return _form(seen, key, Sent("", {"what": what}), opened)


@BLUEPRINT.post(ADDRESS)
def add(key: str, what: str) -> Response | tuple[str, int]:
    """Add the row, or show the form again with what is wrong with it."""
    desk = current.desk()
    seen = desk.ward()
    typed = {name: current.form(name).replace("\r\n", "\n") for name in STEPS[what]}
    if what in SIMPLE and "until" in typed:
        typed["until"] = typed["until"] or current.form("until_chosen")
    if "about" in typed:
        typed["about"] = words_in(request.form.getlist("about"))
    sent = forms.sent(key, {"what": what, **typed})
    found = current.find_patient(seen, key)
    if found is None:
        return pages_entry.entry_form(seen, key, sent, pages_entry.nobody(key)), 422
    number, patient = found
    needed = () if what in SIMPLE else NEEDED
    missing = [name for name in needed if typed.get(name) == ""]
    missing += ["until"] if what in TIMES_OFF and not typed["until"] else []
    problem = " ".join(DESK.say(f"step.needed.{name}") for name in missing)
    outcome = Outcome(problem=problem) if missing else pages_entry.out_of_date(sent, key, patient)
    outcome = outcome or add_entry(desk, patient, sent)
    if outcome.place is None:
        return _form(seen, key, sent, still_open(seen, number, patient), outcome), 422
    text = pages_entry.read_back(seen.handovers[number].unit.name, patient.id, outcome.place)
    undoable = current.undoable(text, outcome.place.file, outcome.change, about=key)
    if forms.in_place():
        return render_template("notice.html", notice=undoable), 201
    if current.find_patient(desk.ward(), key) is None:  # has left
        return current.go_to("ward.ward", undoable)
    return current.go_to("ward.patient", undoable, key=key)


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
        simple=what in SIMPLE,
        ends=_ends(seen.handovers[number]) if what in SIMPLE and "until" in fields else [],
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


def _ends(handover: Handover) -> list[tuple[str, str]]:
    """(as typed, clock time) of the next full hours and the shift's end, to be chosen as the end of
    a time away or asleep.
    """
    zone, shift, now = handover.unit.time_zone, handover.shift, current.desk().now()
    first = now.replace(minute=0, second=0, microsecond=0) + timedelta(hours=1)
    ends = [first + timedelta(hours=hour) for hour in range(MOST_ENDS)]
    if now < shift.end:
        ends = sorted({*ends, shift.end})
    return [(local_time(each, zone), local_time(each, zone)[11:]) for each in ends]


def _boxes(what: str, opened: StillOpen) -> tuple[Box, ...]:
    """The boxes for the row: everything open may be told, also matters told before."""
    if what == "told":
        return tuple(boxes(opened.matters))
    return tuple(boxes(opened.unsettled)) if what == "settled" else ()

"""A new entry, by keyboard alone: the form, its findings, and the added entry.

Input: an entry as typed. Output: a row of the log. Writes only through `edits`.
"""

from collections.abc import Sequence

from flask import Blueprint, render_template, request
from msgspec.structs import replace
from werkzeug.wrappers import Response

from handoff.compose.call_if import call_if_words
from handoff.desk import current, forms
from handoff.desk.edits.entering import NOTHING_YET, Outcome, Sent, add_entry, fields_for
from handoff.desk.round import last_volume
from handoff.desk.still_open import OpenMatter, StillOpen, still_open
from handoff.desk.ward import Ward
from handoff.explain.subject import in_words
from handoff.explain.text import local_time
from handoff.judge.volume import usual_over
from handoff.log.fields import BY_NAME, Field, Kind, Section, fields_of
from handoff.model.codes import finding
from handoff.model.findings import Place
from handoff.model.pages import Fact
from handoff.model.rounding import volume
from handoff.model.usual import find_recent
from handoff.model.ward import Entry, Handover, Patient
from handoff.model.wording import DESK

BLUEPRINT = Blueprint("entry", __name__)

OLD_MIN = 5

# In the order of an entry spoken at the bedside; other fields are below the button.
FIRST = (
    *("at", "breaths", "volume_ml", "spo2", "resp_rate", "pulse", "temp_c"),
    *("symptoms", "on_oxygen", "oxygen", "note", "what", "about"),
)
MORE = ("pain", "hold_s", "flow", "position", "seen_by", "until")
TICKED = [field.name for field in fields_of(Section.ENTRY) if field.kind is Kind.CHOICES]
WHAT = BY_NAME[Section.ENTRY, "what"].choices
SAID_IN_A_NOTE = ("told", "hold", "resume", "settled", "left", "note")


def nobody(key: str) -> Outcome:
    """The outcome of a form whose patient is not there: not chosen, or in a log that is closed."""
    return Outcome(problem=DESK.say("entry.log-closed" if key else "entry.no-bed"))


@BLUEPRINT.get("/entry")
def entry() -> str | Response:
    """An empty form. In the address, `bed` or `key` is the patient's key, and `again` the key of
    the matter that is looked at again.
    """
    key = request.args.get("bed") or request.args.get("key", "")
    what = request.args.get("what", "")
    seen = current.desk().ward()
    if not seen.handovers:
        return render_template("nothing_open.html")
    if not any(seen.patients()):
        return current.go_to("patient.new", DESK.say("done.add-patient-first"))
    if key:
        current.patient_of(seen, key)
    return entry_form(seen, key, Sent("", {"what": what} if what in WHAT else {}))


@BLUEPRINT.post("/entry")
def add() -> Response | str | tuple[str, int]:
    """Add the entry, or show the form again with what is wrong with it.

    In the list of the ward the answer is what was added, or for a low reading the form again.
    """
    desk = current.desk()
    seen = desk.ward()
    key = current.form("bed")
    # Line ends as in a log.
    cells = {name: current.form(name).replace("\r\n", "\n") for name in (*FIRST, *MORE)}
    cells |= {name: ";".join(request.form.getlist(name)) for name in TICKED}
    sent = forms.sent(key, cells)
    found = current.find_patient(seen, key)
    if found is None:
        return entry_form(seen, key, sent, nobody(key)), 422
    number, patient = found
    outcome = out_of_date(sent, key, patient) or add_entry(desk, patient, sent)
    if outcome.place is None:
        return entry_form(seen, key, sent, outcome), 422
    text = read_back(seen.handovers[number].unit.name, patient.id, outcome.place)
    low = low_against_usual(seen.handovers[number].unit.name, patient.id, outcome.place)
    words = f"{text} {low}".rstrip()
    notice = current.undoable(words, outcome.place.file, outcome.change, about=key)
    if forms.in_place() and low:
        return entry_form(desk.ward(), key, Sent("", {}), added=words)
    if forms.in_place():
        return render_template("notice.html", notice=notice), 201
    if current.form("again") and not low:
        return current.go_to("ward.patient", notice, key=key)
    return current.go_to("entry.entry", notice, key=key if low else None)


def out_of_date(sent: Sent, key: str, patient: Patient) -> Outcome | None:
    """A doubt about a time that was filled in long ago and not corrected, or whose it is."""
    if problem := forms.of_another(key, patient):
        return Outcome(problem=problem)
    at = sent.cells["at"]
    filled_in, _, moment = current.form("filled_in").rpartition("@")
    if at != filled_in or not moment.isdecimal():
        return None
    minutes = int(current.desk().now().timestamp() - int(moment)) // 60
    doubt = finding("time-of-the-page", Place(""), "at", at, minutes=minutes)
    is_new = minutes <= OLD_MIN or doubt.code in sent.accepted
    return None if is_new else Outcome(findings=(doubt,))


def entry_form(
    seen: Ward, key: str, sent: Sent, outcome: Outcome = NOTHING_YET, added: str = ""
) -> str:
    """The form of a patient; where none is chosen yet, of the first patient's log."""
    found = current.find_patient(seen, key)
    number, chosen = found or next(seen.patients(), (0, None))
    places = fields_for(seen, chosen.place.file, Section.ENTRY) if chosen else (*FIRST, *MORE)
    matter = _looked_at_again(seen, key, places)
    names: Sequence[str] = ("at", *matter.again, "note") if matter else FIRST
    if forms.in_place():  # what is no exercise has a button of its own there
        names = [each for each in names if each not in ("what", "about")]
    first = _fields(names, places)
    more = [each for each in _fields((*FIRST, *MORE), places) if each not in first]
    one_clock = len({each.unit.time_zone for each in seen.handovers}) == 1
    now = now_in(seen.handovers[number]) if found or (chosen and one_clock) else ""
    typed = replace(sent, cells={"at": now, **sent.cells})
    return render_template(
        "entry.html",
        patients=[
            (
                current.patient_key(seen.handovers[number].unit.name, each.id),
                _who(seen, number, each),
            )
            for number, each in seen.patients()
        ],
        chosen=key,
        who=current.who(seen, *found) if found else None,
        call_if=_call_if(seen, *found) if found else None,
        at_hand=_at_hand(seen, *found) if found else (),
        opened=still_open(seen, *found) if found else StillOpen(),
        matter=matter,
        start=_start(sent, matter) if key else "",
        first=first,
        more=more,
        more_is_open=any(sent.cells.get(each.name) for each in more),
        filled_in=current.form("filled_in") or filled_in_now(now),
        added=added,
        **forms.shown(seen, [*first, *more], key, typed, outcome),
    )


def _call_if(seen: Ward, number: int, patient: Patient) -> Fact | None:
    """When to call for the patient; None for one who is not judged."""
    verdicts = seen.results[number].verdicts.get(patient.id)
    return call_if_words(verdicts.call_if, seen.words[number]) if verdicts else None


def _at_hand(seen: Ward, number: int, patient: Patient) -> tuple[str, ...]:
    """Goal, scale of the device and last volume, in words; nothing of one who is not measured."""
    measures = seen.results[number].measures.get(patient.id)
    if measures is None:
        return ()
    words, goal, scale_ml = seen.words[number], measures.goal, patient.device_scale_ml
    return (
        words.say("chart.goal", goal=goal) if goal.goal_ml else words.say("desk.no_goal"),
        words.say("chart.scale", scale_ml=scale_ml) if scale_ml else words.say("desk.no_scale"),
        last_volume(measures, words) or words.say("desk.no_volume"),
    )


def _looked_at_again(seen: Ward, key: str, places: Sequence[str]) -> OpenMatter | None:
    """The matter that this entry is for; None without one, where it is closed by now, or where the
    log has no place for the fields it needs.
    """
    found = current.find_patient(seen, key)
    wanted = request.args.get("again", "") or current.form("again")
    matter = still_open(seen, *found).find(wanted) if found and wanted else None
    return matter if matter and any(name in places for name in matter.again) else None


def _start(sent: Sent, matter: OpenMatter | None) -> str:
    """The field with the keyboard focus."""
    if matter:
        return matter.again[0]
    return "note" if sent.cells.get("what") in SAID_IN_A_NOTE else "breaths"


def _who(seen: Ward, number: int, patient: Patient) -> str:
    """Bed, name and id, with a warning where another name is similar. A bed alone identifies
    nobody.
    """
    handover = seen.handovers[number]
    parts = [patient.bed, patient.name, f"id {patient.id}"]
    beds = handover.name_alerts.get(patient.id)
    if beds:
        parts.append(f"{seen.words[number].say('blank.alert')} {', '.join(beds)}")
    if len(seen.handovers) > 1:
        parts.append(handover.unit.name)
    return " · ".join(parts)


def _fields(names: Sequence[str], places: Sequence[str]) -> list[Field]:
    return [BY_NAME[Section.ENTRY, name] for name in names if name in places]


def filled_in_now(at: str) -> str:
    """The time that a form is filled in with, and when that was."""
    return f"{at}@{int(current.desk().now().timestamp())}"


def now_in(handover: Handover) -> str:
    """The time now; with its date where the clock time alone would be read as another day's, or
    occurs twice and needs its offset, which stands only with a date.
    """
    zone, shift = handover.unit.time_zone, handover.shift
    now = current.desk().now()
    shown = local_time(now.replace(second=0, microsecond=0), zone)
    is_enough = shift.start <= now < shift.end and len(shown) == len("2026-03-07 19:40")
    return shown[11:] if is_enough else shown


def read_back(unit: str, patient_id: str, place: Place) -> str:
    """The entry as it was read back from its log."""
    added = _added(unit, patient_id, place)
    if added is None:
        return DESK.say("done.added-unread", place=place)
    handover, entry = added
    # Not from the hand-over's list: the entry may say that the patient left.
    patients = (each for log in reversed(handover.logs) for each in log.patients)
    who = next(each for each in patients if each.id == patient_id)
    at = local_time(entry.at, handover.unit.time_zone)
    told = {"bed": who.bed, "name": who.name, "entry": in_words(entry)}
    return DESK.say("done.added", at=at, place=place, **told)


def low_against_usual(unit: str, patient_id: str, place: Place) -> str:
    """What is said at once of a reading that is low against the usual volume; '' of any other.

    To repeat a low reading at once shows a fall sooner than any rule on later ones.
    """
    handover, entry = _added(unit, patient_id, place) or (None, None)
    if handover is None or entry is None or not entry.is_good_reading:
        return ""
    shift, begins = handover.shift, handover.stay_start.get(patient_id)
    if begins is None or not shift.start <= entry.at < shift.end:
        return ""
    known = handover.entries[patient_id]
    readings = [each for each in known if each.is_good_reading and begins <= each.at]
    limits = current.desk().setting.limits
    usual_ml = usual_over(entry, find_recent(readings, shift, shift.end), limits)
    if usual_ml is None:
        return ""
    return DESK.say("done.low", usual=volume(usual_ml))


def _added(unit: str, patient_id: str, place: Place) -> tuple[Handover, Entry] | None:
    """The entry that was written at a place, and its hand-over; None where it cannot be used."""
    for handover in current.desk().ward().handovers:
        for entry in handover.entries.get(patient_id, ()):
            if entry.place == place and handover.unit.name == unit:
                return handover, entry
    return None

"""A new entry, by keyboard alone: the form, what speaks against it, and what was added.

Enters: what is typed at the bedside. Leaves: a row of the log.
"""

import time
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime

from flask import Blueprint, render_template, request
from werkzeug.wrappers import Response

from handoff.desk import here
from handoff.desk.entering import NOTHING_YET, Outcome, add_entry, fields_for
from handoff.desk.failures import EditError
from handoff.desk.ward import Ward
from handoff.explain.subject import in_words
from handoff.explain.text import local_time
from handoff.fields import BY_NAME, Field, Section
from handoff.model import Handover, Patient, What

BLUEPRINT = Blueprint("entry", __name__)

STALE, STALE_MIN = "time-of-the-page", 5
OPEN_FOR = (
    "The time is still the one of {minutes} minutes ago, when this page was opened. Correct it, or "
    "add the entry as it is."
)

# In the order in which an entry is said at the bedside; the rest stands below the button.
FIRST = ("at", "breaths", "volume_ml", "symptoms", "note", "what")
MORE = (
    *("until", "hold_s", "flow", "seen_by", "position", "pain"),
    *("spo2", "resp_rate", "pulse", "temp_c", "on_oxygen"),
)


@BLUEPRINT.get("/entry")
def entry() -> str:
    """An empty form; `bed` in the address is the key of the patient whom it is for."""
    seen = here.desk().ward()
    what = request.args.get("what", "")
    return _form(seen, request.args.get("bed", ""), {"what": what} if what in set(What) else {})


@BLUEPRINT.post("/entry")
def add() -> Response | tuple[str, int]:
    """Add the entry, or show the form again with what speaks against it."""
    desk = here.desk()
    seen = desk.ward()
    key, cells = here.form("bed"), _cells()
    if not key:
        return _form(seen, key, cells, problem="Choose a bed."), 422
    number, patient = here.patient_of(seen, key)
    accepted = _accepted(cells)
    minutes = _minutes_open()
    if minutes > STALE_MIN and STALE not in accepted:
        return _form(seen, key, cells, problem=OPEN_FOR.format(minutes=minutes), stale=True), 422
    try:
        outcome = add_entry(desk, patient, cells, here.form("form"), accepted)
    except EditError as error:
        return _form(seen, key, cells, problem=str(error)), 422
    if outcome.place is None:
        return _form(seen, key, cells, outcome), 422
    unit = seen.handovers[number].unit.name
    return here.go_to("entry.entry", _said(unit, patient.id, outcome))


def _cells() -> dict[str, str]:
    """What was typed, by field; line ends are those of a log."""
    typed = {name: here.form(name).replace("\r\n", "\n") for name in (*FIRST, *MORE)}
    return {**typed, "symptoms": ";".join(request.form.getlist("symptoms"))}


def _accepted(cells: Mapping[str, str]) -> list[str]:
    """The doubts that the person has seen and put aside, of an entry that says just this."""
    return request.form.getlist("accepted") if here.form("meant") == _meant(cells) else []


def _meant(cells: Mapping[str, str]) -> str:
    said = (f"{name}={cell}" for name, cell in sorted(cells.items()))
    return here.desk().key("meant", here.form("bed"), *said)


def _minutes_open() -> int:
    """How long ago the time was filled in that nobody has corrected; 0 where somebody has."""
    filled_in, _, moment = here.form("filled_in").rpartition("@")
    if here.form("at") != filled_in or not moment.isdecimal():
        return 0
    return int(time.time() - int(moment)) // 60


def _form(
    seen: Ward,
    key: str,
    cells: Mapping[str, str],
    outcome: Outcome = NOTHING_YET,
    problem: str = "",
    *,
    stale: bool = False,
) -> str:
    """The form; `stale` asks whether the time is right that was filled in long ago."""
    patients = [
        (
            here.patient_key(seen.handovers[number].unit.name, patient.id),
            _who(seen, number, patient),
        )
        for number, patient in seen.patients()
    ]
    handover, chosen = _chosen(seen, key)
    now = _now(handover) if handover else ""
    places = fields_for(seen, chosen.place.file, Section.ENTRY) if chosen else ()
    return render_template(
        "entry.html",
        patients=patients,
        chosen=key,
        first=_fields(FIRST, places),
        more=_fields(MORE, places),
        more_is_open=any(cells.get(name) for name in MORE),
        cells={"at": now, **cells},
        filled_in=here.form("filled_in") or f"{now}@{int(time.time())}",
        labels=_labels(seen),
        findings=outcome.findings,
        may_accept=stale or outcome.may_accept,
        accepted=[*_accepted(cells), *([STALE] if stale else [])],
        meant=_meant(cells),
        problem=problem,
        form=here.form("form") or here.new_form(),
    )


def _who(seen: Ward, number: int, patient: Patient) -> str:
    """Bed, name and id, with a warning where another name is similar; a bed alone tells nobody."""
    handover = seen.handovers[number]
    said = [patient.bed, patient.name, f"id {patient.id}"]
    beds = handover.name_alerts.get(patient.id)
    if beds:
        said.append(f"{seen.words[number].say('blank.alert')} {', '.join(beds)}")
    if len(seen.handovers) > 1:
        said.append(handover.unit.name)
    return " · ".join(said)


def _chosen(seen: Ward, key: str) -> tuple[Handover | None, Patient | None]:
    """Whose form it is: of the first patient's log where nobody is chosen yet."""
    if key:
        number, patient = here.patient_of(seen, key)
        return seen.handovers[number], patient
    first = next(iter(seen.patients()), None)
    return (seen.handovers[first[0]], first[1]) if first else (None, None)


def _fields(names: Sequence[str], places: Sequence[str]) -> list[Field]:
    return [BY_NAME[Section.ENTRY, name] for name in names if name in places]


def _labels(seen: Ward) -> dict[str, str]:
    """The names of the fields, as the pages to write on by hand have them."""
    words = seen.words[0] if seen.words else None
    names = (*FIRST, *MORE)
    return {name: words.say(f"blank.column.{name}") for name in names} if words else {}


def _now(handover: Handover) -> str:
    """The time now, with its date where the clock alone would be read as another day's."""
    zone, shift = handover.unit.time_zone, handover.shift
    now = datetime.now(UTC)
    shown = local_time(now.replace(second=0, microsecond=0), zone)
    return shown[11:] if shift.start <= now < shift.end else shown


def _said(unit: str, patient_id: str, outcome: Outcome) -> str:
    """The entry as it was read back from its log."""
    seen = here.desk().ward()
    for handover in seen.handovers:
        for entry in handover.entries.get(patient_id, ()):
            if entry.place == outcome.place and handover.unit.name == unit:
                who = next(each for each in handover.patients if each.id == patient_id)
                at = local_time(entry.at, handover.unit.time_zone)
                return f"Added. Bed {who.bed}, {who.name}: {at}, {in_words(entry)} ({entry.place})."
    return f"Added at {outcome.place}. It takes part in no number yet: see Put right."

"""The round list of the next shift in finished words: the whole hand-over -> `RoundPage`.

Input: results, the next shift's hours, the limits of the unit, words. Output: a `RoundPage` with
everybody on the list, in bed order. Who left is not on it. Where the exercise is held back, no box
asks for it.
"""

from collections.abc import Iterator, Sequence
from itertools import groupby

from msgspec.structs import replace

from handoff.compose.asked import own_lines
from handoff.compose.call_if import call_if_words
from handoff.compose.patient import standing
from handoff.compose.results import Results
from handoff.compose.still_open import warning
from handoff.compose.ward import Ward, row_alerts
from handoff.compose.words import Words, closed
from handoff.model.call_if import CallIf
from handoff.model.lists import RoundBox, RoundPage, RoundRow
from handoff.model.measures import NextShift
from handoff.model.ward import Patient

COLUMNS = ("bed", "who", "order", "watch")


def compose_round_list(
    results: Results,
    following: NextShift,
    of_unit: CallIf,
    words: Words,
    *,
    initials: bool = False,
) -> RoundPage:
    """The round list for the shift that follows. `of_unit` are the limits of a patient without own
    ones: they stand at the foot, and a row names only what is other.
    """
    ward = Ward(results, words, initials=initials)
    handover, say = results.handover, words.say
    rows = (
        _row(ward, patient, following, of_unit)
        if patient.id in ward.facts
        else _without_order(ward, patient, following)
        for patient in handover.patients
    )
    call = call_if_words(of_unit, words)
    return RoundPage(
        title=say("round.title", unit=handover.unit),
        shift=say("round.shift", shift=following.shift),
        as_of=say("as_of", as_of=handover.as_of),
        columns=tuple(say(f"round.column.{name}") for name in COLUMNS),
        hours=tuple(words.clock(hour.start) for hour in following.hours),
        rows=tuple(rows),
        empty="" if handover.patients else say("round.empty"),
        key=say("round.key"),
        fetch=replace(
            call, label=say("round.fetch"), value=f"{call.value} {say('round.row_counts')}"
        ),
        standing=standing(handover, results.limits, words),
        page_words=say("page"),
    )


def _row(ward: Ward, patient: Patient, following: NextShift, of_unit: CallIf) -> RoundRow:
    verdicts, measures = ward.verdicts[patient.id], ward.measures[patient.id]
    facts = ward.facts[patient.id]
    held = warning(verdicts.open_matters, measures.hold, ward.words, holds_back=verdicts.holds_back)
    hours = following.of_patient.get(patient.id, ())
    asks = verdicts.holds_back or facts.comfort_care  # a hold has its own hours
    plain = [RoundBox(each.is_due and not asks, each.begins) for each in hours]
    watch = own_lines(verdicts, facts, ward.words)
    if facts.comfort_care:
        watch = (ward.say("usual.comfort", patient), *watch)
    elif facts.uncounted:
        watch = (*watch, ward.say("round.uncounted", patient))
    return RoundRow(
        bed=ward.bed(patient),
        name=ward.name(patient),
        id=ward.identifiers(patient),
        heavy=_together(held, *row_alerts(ward, patient)),
        order=tuple(filter(None, _order(ward, patient, following, of_unit))),
        watch=watch,
        boxes=_boxes(ward, plain, following, ask_first=facts.kept_back),
    )


def _without_order(ward: Ward, patient: Patient, following: NextShift) -> RoundRow:
    """Somebody without an order stands on the list too: a bed left out would be looked for."""
    name = "without_start" if patient.order_lacks_start else "no_order"
    return RoundRow(
        bed=ward.bed(patient),
        name=ward.name(patient),
        id=ward.identifiers(patient),
        heavy=_together(*row_alerts(ward, patient)),
        order=(ward.words.say(f"round.{name}"),),
        watch=(),
        boxes=_boxes(ward, (), following, ask_first=patient.order_lacks_start),
    )


def _boxes(
    ward: Ward, plain: Sequence[RoundBox], following: NextShift, *, ask_first: bool
) -> tuple[RoundBox, ...]:
    """The boxes, all hatched without an order; with the words for those that are hatched."""
    boxes = plain or [RoundBox(open=False, begins=True)] * len(following.hours)
    runs = groupby(zip(boxes, following.hours, strict=True), key=lambda both: both[0].open)
    found: list[RoundBox] = []
    for is_open, run in runs:
        (first, begins), *others = run
        until = (others[-1] if others else (first, begins))[1].end
        own = {"since": begins.start, "until": until, "ask_first": ask_first}
        words = "" if is_open else ward.words.say("round.hatched", **own)
        found += [replace(first, hatched=words), *(box for box, _ in others)]
    return tuple(found)


def _together(*parts: str) -> str:
    return " ".join(closed(each) for each in parts if each)


def _order(ward: Ward, patient: Patient, following: NextShift, of_unit: CallIf) -> Iterator[str]:
    """How much is ordered, and until when the patient is away; goal and last volume; oxygen, and
    when to fetch the nurse.
    """
    measures = ward.measures[patient.id]
    readings = [each for each in measures.stay_entries if each.is_good_reading]
    last = readings[-1] if readings else None
    on_or_off = [
        each
        for each in measures.drawn_entries
        if each.signs.on_oxygen is not None and each.by_staff
    ]
    stop = ward.facts[patient.id].periods[-1].stop
    ends_at = stop if stop and ward.handover.as_of < stop < following.shift.end else None
    yield ward.say("round.order", patient, ends_at=ends_at)
    yield ward.words.say(
        "round.away", away=following.away.get(patient.id, ()), begins=following.shift.start
    )
    yield ward.say(
        "round.goal",
        patient,
        last=last,
        off_form=ward.say("said.off_form", patient),
        last_is_at_scale=last is not None and patient.is_at_scale(last.volume_ml),
    )
    yield ward.say("round.oxygen", patient, seen=on_or_off[-1] if on_or_off else None)
    yield _fetch_if(ward, patient, of_unit)


def _fetch_if(ward: Ward, patient: Patient, of_unit: CallIf) -> str:
    """The limits that are other than those at the foot, sign by sign, and the volume; '' where
    there is nothing to add.
    """
    call = ward.verdicts[patient.id].call_if
    usual_of = {each.sign: _of_sign(of_unit, each.sign) for each in of_unit.values}
    other = tuple(
        each for each in call.values if _of_sign(call, each.sign) != usual_of.get(each.sign, ())
    )
    own = ""
    if other or call.comfort_care:
        signs = replace(call, values=other, symptoms=(), volume=None)
        own = call_if_words(signs, ward.words).value.removesuffix(".")
    usual = [each for each in of_unit.symptoms if each not in call.symptoms]
    usual = [] if call.comfort_care else usual
    return ward.words.say("round.fetch_if", own=own, of=call.volume, usual=usual)


def _of_sign(call: CallIf, sign: str) -> tuple[object, ...]:
    return tuple(each for each in call.values if each.sign == sign)

"""One patient's sheet in finished words: `Measures` and `Verdicts` -> `PatientPage`.

Input: hand-over, one patient's measures and verdicts, limits, words. Output: a `PatientPage`.
Chooses words by the recorded facts; draws nothing.
"""

from collections import Counter
from collections.abc import Iterable, Iterator
from datetime import timedelta

from handoff.compose.asked import caution_words, closing, next_shift, titles, to_check
from handoff.compose.call_if import call_if_words
from handoff.compose.cautions import sheet_cautions
from handoff.compose.facts import Facts
from handoff.compose.limits import limits_in_force
from handoff.compose.matters import TOLD_LENGTH, Moment, hold_words
from handoff.compose.results import Results
from handoff.compose.series import chart_words, volume_chart
from handoff.compose.words import Words
from handoff.limits.reading import Limits
from handoff.model.changes import Changes, Since
from handoff.model.matters import Verdicts
from handoff.model.measures import Measures, Slot, SlotState
from handoff.model.pages import (
    Fact,
    Headings,
    Identity,
    Note,
    Paragraph,
    PatientPage,
    Rank,
    Sentence,
    Signature,
    StripCell,
)
from handoff.model.rounding import breaths_of_due
from handoff.model.verdicts import Level, State
from handoff.model.ward import Done, Gap, Handover, Patient, What

A_LATE_START = timedelta(hours=2)  # of a stay whose earlier logs are missed: common practice
# The sentences of each paragraph. A full sheet leaves out the last of the least important first.
PARAGRAPHS = {
    "situation": {
        "open": Rank.ALWAYS,
        "now": Rank.USUAL,
        "compared": Rank.MINOR,
        "off_form": Rank.MINOR,
        "since": Rank.MINOR,
    },
    "background": {
        "why": Rank.USUAL,
        "ordered": Rank.USUAL,
        "usual": Rank.USUAL,
        "until": Rank.MINOR,
        "carried": Rank.ALWAYS,
    },
    "assessment": {"trend": Rank.USUAL, "breaths": Rank.USUAL, "goal": Rank.MINOR},
    "recommendation": {
        "hold": Rank.ALWAYS,
        "first": Rank.USUAL,
        "second": Rank.USUAL,
        "third": Rank.USUAL,
        "decided": Rank.MINOR,
    },
}
NUMBERS = {
    "best": Rank.ALWAYS,
    "previous": Rank.USUAL,
    "usual": Rank.USUAL,
    "stay": Rank.USUAL,
    "goal": Rank.ALWAYS,
    "trend": Rank.USUAL,
    "breaths": Rank.ALWAYS,
    "adherence": Rank.ALWAYS,
    "not_due": Rank.USUAL,
    "hold": Rank.USUAL,
    "pain": Rank.SIGNS,
    "spo2": Rank.SIGNS,
    "also": Rank.ALWAYS,
    "readings": Rank.MINOR,
    "reference": Rank.MINOR,
}
CHANGES = (
    "hold",
    "opened",
    "happened",
    "closed",
    "precautions",
    "listed",
    "moved",
    "ordered",
    "stopped",
    "changed",
    "first_reading",
    "goal_reached",
)


def compose_patient(
    results: Results, patient: Patient, words: Words, sheet: tuple[int, int]
) -> PatientPage:
    """The sheet of one patient with an order; `sheet` is its number and how many there are."""
    handover, limits = results.handover, results.limits
    measures, verdicts = results.measures[patient.id], results.verdicts[patient.id]
    facts = results.facts[patient.id]
    shift, moment = handover.shift, moment_of(handover)
    # Matters settled long ago and never recorded as told.
    counted = sum(each.is_counted for each in verdicts.matters)
    aside = [str(row.place) for row in handover.set_aside if row.patient_id == patient.id]
    chart = volume_chart(handover, measures, words, fell=facts.fell)
    headings = {name: words.say(f"headings.{name}") for name in Headings.__struct_fields__}
    return PatientPage(
        label=words.say("bookmark", bed=words.bed(patient)),
        identity=_identity(results, words, facts, patient),
        bed_word=words.say("bed"),
        unit=words.say("unit", facts),
        shift=words.say("shift", facts),
        as_of=words.say("as_of", facts),
        sheet=words.say("sheet", number=sheet[0], of=sheet[1]),
        priority=verdicts.priority,
        priority_words=words.say(f"priority.{verdicts.priority}"),
        priority_mark=priority_mark(verdicts, words),
        paragraphs=_paragraphs(results, patient, facts, words),
        cautions=tuple(sheet_cautions(verdicts, moment, facts, words)),
        counted=words.say("matter.counted", count=counted) if counted else "",
        to_check=to_check(verdicts, measures, words),
        not_judged=_not_judged(verdicts, facts, words),
        chart_title=words.say("chart.title"),
        chart_key=words.say("chart.key"),
        chart_words=chart_words(chart, words),
        chart=chart,
        strip_title=words.say("strip.title", facts),
        strip_key=words.say("strip.key"),
        strip_words=words.say("strip.said", count=_states(measures)),
        strip=tuple(_cell(slot, words) for slot in measures.adherence.slots),
        numbers=_numbers(facts, words),
        call_if=call_if_words(verdicts.call_if, words),
        set_up=_set_up(patient, words),
        next_shift=next_shift(verdicts, facts, words),
        closing=len(closing(verdicts, facts, words)),
        notes=_notes(measures, verdicts, words),
        set_aside=words.say("set_aside", places=aside) if aside else "",
        standing=standing(handover, limits, words),
        signature=Signature(shift.outgoing, shift.incoming),
        headings=Headings(**headings),
    )


def moment_of(handover: Handover) -> Moment:
    """The unit and time of a page of this hand-over."""
    return Moment(handover.unit.name, handover.as_of, handover.shift.start)


def priority_mark(verdicts: Verdicts, words: Words) -> str:
    """'TOLD' where the provider was told of all escalations; '' where not, or without one."""
    grave = verdicts.escalations
    return words.say("matter.mark") if grave and all(each.is_told for each in grave) else ""


def change_words(changes: Changes, facts: Facts | None, words: Words) -> tuple[str, ...]:
    """Each change since the hand-over before, in a few words, the most important first."""
    own = {
        "changes": changes,
        "opened": titles([each for each in changes.opened if not each.closed_now], facts, words),
        "happened": titles([each for each in changes.opened if each.closed_now], facts, words),
        "closed": titles(changes.closed, facts, words),
        "changed": [words.say(f"since.order.{name}") for name in changes.order.changed],
    }
    return tuple(filter(None, (words.say(f"since.{name}", **own) for name in CHANGES)))


def standing(handover: Handover, limits: Limits, words: Words) -> tuple[str, ...]:
    """The foot's fixed words: the standing caution, the limits in force, what a sheet is not."""
    return (words.say("standing.caution", unit=handover.unit), limits_in_force(limits, words))


def _identity(results: Results, words: Words, facts: Facts, patient: Patient) -> Identity:
    handover, verdicts = results.handover, results.verdicts[patient.id]
    not_followed = [each for each in verdicts.matters if each.holds_back and not each.is_open]
    dropped = titles(not_followed, facts, words)
    return Identity(
        bed=words.bed(patient),
        name=patient.name or words.say("no_name"),
        id=words.say("identity", facts),
        alert=" ".join(mix_ups(handover, patient, words)) or None,
        moved=words.say("moved", facts),
        precautions=words.say("precautions", facts) if patient.precautions else "",
        judged_as=words.say("judged_as", facts, dropped=dropped),
        unknown=" ".join(gap_words(handover.gaps.get(patient.id, ()), words)),
    )


def mix_ups(handover: Handover, patient: Patient, words: Words) -> Iterator[str]:
    """Alerts where the patient could be mixed up: perhaps under two ids, a similar name."""
    beds = handover.name_alerts.get(patient.id)
    yield from two_ids_alert(handover, patient, words)
    if beds:
        yield words.say("name_alert", beds=beds)


def two_ids_alert(
    handover: Handover, patient: Patient, words: Words, name: str = "two_ids"
) -> Iterator[str]:
    """The alert where the same person seems to be in the logs under another id, in the words of
    this name.
    """
    others = [
        words.say(
            "other_id",
            elsewhere=each.unit if each.unit != handover.unit.name else "",
            bed=each.patient.bed,
            until=each.shift.end,
        )
        for each in handover.other_ids.get(patient.id, ())
    ]
    if others:
        yield words.say(name, others=others)


def gap_words(gaps: Iterable[Gap], words: Words) -> list[str]:
    """Each time that no given log covers."""
    return [words.say("matter.gap", start=gap.start, end=gap.end) for gap in gaps]


def _paragraphs(
    results: Results, patient: Patient, facts: Facts, words: Words
) -> tuple[Paragraph, ...]:
    handover, verdicts = results.handover, results.verdicts[patient.id]
    hold, steps = results.measures[patient.id].hold, next_shift(verdicts, facts, words)
    followed = [each for each in verdicts.open_matters if each.level is Level.FOLLOW_UP]
    own = {
        "escalated": titles(verdicts.escalations, facts, words),
        "followed": titles(followed, facts, words),
        "hold_words": hold_words(hold, words, moment_of(handover)) if hold else "",
        "next_steps": steps[1:] if hold else steps,  # the hold's own words say the first
        "since": _since(results.since, patient, facts, words),
        "off_form": words.say("said.off_form", facts),
        "carried": " ".join(_carried(results, patient, facts, words)),
    }
    return tuple(
        Paragraph(
            words.say(f"{name}.label"),
            tuple(
                Sentence(text, rank)
                for sentence, rank in ranks.items()
                if (text := words.say(f"{name}.{sentence}", facts, **own))
            ),
        )
        for name, ranks in PARAGRAPHS.items()
    )


def _carried(results: Results, patient: Patient, facts: Facts, words: Words) -> Iterator[str]:
    """Where the patient came from, and which times before are not known."""
    handover = results.handover
    listings = handover.listings_of(patient)
    elsewhere = [each for each in listings if each.unit != handover.unit.name]
    if elsewhere and elsewhere[-1] is not listings[-1]:
        last = elsewhere[-1]
        left = [
            each.at
            for each in handover.entries_of(patient)
            if each.what is What.LEFT and last.shift.start <= each.at < last.shift.end
        ]
        yield words.say("matter.came", unit=last.unit, until=max(left, default=last.shift.end))
    earlier = handover.stay_before.get(patient.id)
    if earlier:
        left_open = titles(results.left_open.get(patient.id, ()), facts, words)
        yield words.say("matter.earlier_stay", until=earlier[-1].shift.end, left_open=left_open)
    since = listings[0].shift.start
    begun = results.measures[patient.id].stay_start < since - A_LATE_START
    if begun and patient.id not in handover.from_elsewhere:
        yield words.say("matter.alone", since=since)


def _since(since: Since | None, patient: Patient, facts: Facts, words: Words) -> str:
    """What changed since the hand-over before, in a sentence; '' where there was none."""
    if since is None:
        return ""
    changes = change_words(since.patients[patient.id], facts, words)
    return words.say("since.sentence", facts, changes=changes, at=since.at)


def _not_judged(verdicts: Verdicts, facts: Facts, words: Words) -> str | None:
    """The danger signs that are not judged, or by limits of other patients; each reason once."""
    undecided = [
        each
        for each in verdicts.all
        if each.state is State.UNDECIDED and each.level is Level.ESCALATE
    ]
    reasons = dict.fromkeys(caution_words(each, "undecided", facts, words) for each in undecided)
    return words.say("not_judged", facts, reasons=reasons) or None


def _states(measures: Measures) -> dict[str, int]:
    """How many of the shift's slots are in each state."""
    states = Counter(slot.state for slot in measures.adherence.slots)
    return {state.value: states[state] for state in SlotState}


def _cell(slot: Slot, words: Words) -> StripCell:
    charted = slot.state not in (SlotState.UNCHARTED, SlotState.NOT_DUE)
    done, due = breaths_of_due(slot.done, slot.due)
    return StripCell(
        start=words.clock(slot.start),
        done=done if charted or slot.done else "",
        due=due,
        state=slot.state,
    )


def _numbers(facts: Facts, words: Words) -> tuple[Fact, ...]:
    """The numbers of the sheet, in words; some may be empty."""
    facts_in_words = [
        Fact(words.say(f"numbers.{name}.label"), words.say(f"numbers.{name}.text", facts), rank)
        for name, rank in NUMBERS.items()
    ]
    return tuple(fact for fact in facts_in_words if fact.value)


def _set_up(patient: Patient, words: Words) -> tuple[Fact, ...]:
    states: tuple[tuple[str, Done], ...] = (
        ("device", patient.device_given),
        ("label", patient.device_labelled),
        ("taught", patient.taught),
        ("shown_back", patient.shown_back),
    )
    scale_ml = patient.device_scale_ml
    return tuple(
        Fact(
            words.say(f"set_up.{name}"),
            words.say(
                "set_up.state",
                state=done,
                is_device=name == "device",
                scale_ml=scale_ml if name == "device" else None,
            ),
        )
        for name, done in states
    )


def _notes(measures: Measures, verdicts: Verdicts, words: Words) -> tuple[Note, ...]:
    """The shift's notes, newest first, without those that stand whole beside a caution, or with an
    open matter in the summary.
    """
    shown = [each for each in verdicts.matters if each.level is not Level.NOTE]
    said = [told for each in shown for told in (*each.told[-1:], each.settled_by) if told]
    said += [told for each in verdicts.cautions for told in each.told]
    whole = {told.place for told in said if len(told.note or "") <= TOLD_LENGTH}
    whole |= {told.place for each in verdicts.open_matters for told in each.told}
    noted = [each for each in measures.caution_entries if each.note and each.place not in whole]
    return tuple(Note(words.clock(entry.at), entry.note or "") for entry in reversed(noted))

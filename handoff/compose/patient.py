"""One patient's sheet in finished words: `Measures` and `Verdicts` -> `PatientPage`.

Enters: hand-over, one patient's measures and verdicts, limits, words. Leaves: a `PatientPage`.
Chooses which words are said by what is recorded; draws nothing.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence

from handoff.changes import Changes, Since
from handoff.compose.asked import caution_words, next_shift, to_check, to_do
from handoff.compose.facts import facts_of
from handoff.compose.results import Results
from handoff.compose.series import volume_chart
from handoff.compose.words import Words, closed
from handoff.findings import Place
from handoff.limits import Limits
from handoff.matters import Verdicts
from handoff.measures import Measures, Slot, SlotState
from handoff.model import Done, Handover, Patient
from handoff.page import (
    Caution,
    Fact,
    Headings,
    Identity,
    Note,
    PatientPage,
    Rank,
    Signature,
    StripCell,
)
from handoff.rounding import breaths_of_due
from handoff.verdicts import Level, State, Verdict

PARAGRAPHS = ("situation", "background", "assessment", "recommendation")
NUMBERS = {
    "best": Rank.ALWAYS,
    "previous": Rank.USUAL,
    "stay": Rank.USUAL,
    "goal": Rank.ALWAYS,
    "trend": Rank.USUAL,
    "breaths": Rank.ALWAYS,
    "adherence": Rank.ALWAYS,
    "hold": Rank.USUAL,
    "pain": Rank.USUAL,
    "spo2": Rank.USUAL,
    "readings": Rank.MINOR,
    "reference": Rank.MINOR,
}
CHANGES = (
    "begun",
    "unjudged",
    "ended",
    "untold",
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
    facts = facts_of(handover, measures, verdicts, limits)
    shift = handover.shift
    return PatientPage(
        label=words.say("bookmark", bed=patient.bed or words.say("no_bed")),
        identity=_identity(handover, words, facts, patient),
        bed_word=words.say("bed"),
        unit=words.say("unit", **facts),
        shift=words.say("shift", **facts),
        as_of=words.say("as_of", **facts),
        sheet=words.say("sheet", number=sheet[0], of=sheet[1]),
        priority=verdicts.priority,
        priority_words=words.say(f"priority.{verdicts.priority}"),
        paragraphs=_paragraphs(
            verdicts.cautions, _since(results.since, patient, facts, words), facts, words
        ),
        cautions=tuple(_cautions(verdicts, facts, words)),
        to_check=to_check(verdicts, measures, words),
        not_judged=_not_judged(verdicts, limits, facts, words),
        chart_title=words.say("chart.title"),
        chart_key=words.say("chart.key"),
        chart=volume_chart(handover, measures, words),
        strip_title=words.say("strip.title", **facts),
        strip_key=words.say("strip.key"),
        strip=tuple(_cell(slot, words) for slot in measures.adherence.slots),
        numbers=_numbers(facts, words),
        set_up=_set_up(patient, words),
        next_shift=next_shift(verdicts.cautions, facts, words),
        notes=_notes(measures, verdicts, words),
        set_aside=_set_aside(handover, patient, words),
        standing=standing(handover, limits, words),
        signature=Signature(shift.outgoing, shift.incoming),
        headings=_headings(words),
    )


def change_words(changes: Changes, facts: Mapping[str, object], words: Words) -> tuple[str, ...]:
    """Each change since the hand-over before, in a few words, what matters most first."""
    own = {
        "changes": changes,
        "begun": _titles(changes.escalations.begun, facts, words),
        "ended": _titles(changes.escalations.ended, facts, words),
        "unjudged": _titles(changes.escalations.unjudged, facts, words),
        "missing": [
            caution_words(verdict, "undecided", facts, words)
            for verdict in changes.escalations.unjudged
        ],
        "untold": _titles(_untold(changes, facts), facts, words),
        "changed": [words.say(f"since.order.{name}") for name in changes.order.changed],
    }
    said = (words.say(f"since.{name}", **own) for name in CHANGES)
    return tuple(change for change in said if change)


def _untold(changes: Changes, facts: Mapping[str, object]) -> list[Verdict]:
    """What was to be escalated then, is not met now, and nobody was told of then or since."""
    over = (*changes.escalations.ended, *changes.escalations.unjudged)
    return [] if facts.get("told") else [verdict for verdict in over if not verdict.told]


def titles_off(limits: Limits, words: Words) -> list[str]:
    """The escalations that the unit switched off, as called at their gravest: nobody met them."""
    return [words.say(f"{rule}.title", signs=True) for rule in limits.escalations_off]


def standing(handover: Handover, limits: Limits, words: Words) -> tuple[str, ...]:
    """The foot's fixed words: the standing caution, the limits in force, what a sheet is not."""
    names = ("standing.caution", "standing.limits")
    return tuple(words.say(name, limits=limits, unit=handover.unit) for name in names)


def _identity(
    handover: Handover, words: Words, facts: Mapping[str, object], patient: Patient
) -> Identity:
    beds = handover.name_alerts.get(patient.id)
    return Identity(
        bed=patient.bed or words.say("no_bed"),
        name=patient.name or words.say("no_name"),
        id=words.say("identity", **facts),
        alert=words.say("name_alert", beds=beds) if beds else None,
        moved=words.say("moved", **facts),
    )


def _paragraphs(
    cautions: Sequence[Verdict], since: str, facts: Mapping[str, object], words: Words
) -> tuple[Fact, ...]:
    escalations = [verdict for verdict in cautions if verdict.level is Level.ESCALATE]
    own = {
        "escalated": _titles(escalations, facts, words),
        "next_steps": next_shift(cautions, facts, words),
        "since": since,
    }
    return tuple(
        Fact(words.say(f"{name}.label"), words.say(f"{name}.text", **facts, **own))
        for name in PARAGRAPHS
    )


def _titles(verdicts: Iterable[Verdict], facts: Mapping[str, object], words: Words) -> list[str]:
    return [caution_words(verdict, "title", facts, words) for verdict in verdicts]


def _since(since: Since | None, patient: Patient, facts: Mapping[str, object], words: Words) -> str:
    """What changed since the hand-over before, in a sentence; '' where there was none."""
    if since is None:
        return ""
    changes = change_words(since.patients[patient.id], facts, words)
    return words.say("since.sentence", changes=changes, at=since.at, **facts)


def _cautions(verdicts: Verdicts, facts: Mapping[str, object], words: Words) -> Iterator[Caution]:
    """The cautions in words; what a provider was told stands in full beside the first, the newest
    before the others: where there is no room, the oldest is cut."""
    said: set[Place] = set()
    for verdict in verdicts.cautions:
        told = None
        if verdict.level is Level.ESCALATE:
            told = tuple(
                words.say("told", told=each, again=each.place in said)
                for each in reversed(verdict.told)
            )
            said |= {each.place for each in verdict.told}
        yield Caution(
            rule=verdict.rule,
            level=verdict.level,
            level_words=words.say(f"level.{verdict.level}"),
            title=caution_words(verdict, "title", facts, words),
            seen=caution_words(verdict, "seen", facts, words),
            action=closed(to_do(verdict, "action", facts, words)),
            told=told,
        )


def _not_judged(
    verdicts: Verdicts, limits: Limits, facts: Mapping[str, object], words: Words
) -> str | None:
    """Which danger signs are not judged, or by limits that are not theirs; each reason once."""
    undecided = [
        each
        for each in verdicts.all
        if each.state is State.UNDECIDED and each.level is Level.ESCALATE
    ]
    reasons = dict.fromkeys(caution_words(each, "undecided", facts, words) for each in undecided)
    off = titles_off(limits, words)
    return words.say("not_judged", reasons=reasons, off=off, **facts) or None


def _cell(slot: Slot, words: Words) -> StripCell:
    charted = slot.state not in (SlotState.UNCHARTED, SlotState.NOT_DUE)
    done, due = breaths_of_due(slot.done, slot.due)
    return StripCell(
        start=words.clock(slot.start),
        done=done if charted or slot.done else "",
        due=due,
        state=slot.state,
    )


def _numbers(facts: Mapping[str, object], words: Words) -> tuple[Fact, ...]:
    """Each number that there is something to say about; its words may be empty."""
    said = [
        Fact(words.say(f"numbers.{name}.label"), words.say(f"numbers.{name}.text", **facts), rank)
        for name, rank in NUMBERS.items()
    ]
    return tuple(fact for fact in said if fact.value)


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
            words.say("set_up.state", state=done, scale_ml=scale_ml if name == "device" else None),
        )
        for name, done in states
    )


def _notes(measures: Measures, verdicts: Verdicts, words: Words) -> tuple[Note, ...]:
    """The shift's notes, newest first, without those that stand beside an escalation."""
    told = {each.place for verdict in verdicts.cautions for each in verdict.told}
    noted = [each for each in measures.caution_entries if each.note and each.place not in told]
    return tuple(Note(words.clock(entry.at), entry.note or "") for entry in reversed(noted))


def _set_aside(handover: Handover, patient: Patient, words: Words) -> str:
    rows = [row for row in handover.set_aside if row.patient_id == patient.id]
    return words.say("set_aside", places=[str(row.place) for row in rows]) if rows else ""


def _headings(words: Words) -> Headings:
    names = Headings.__dataclass_fields__
    return Headings(**{name: words.say(f"headings.{name}") for name in names})

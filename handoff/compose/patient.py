"""One patient's sheet in finished words: `Measures` and `Verdicts` -> `PatientPage`.

Enters: hand-over, one patient's measures and verdicts, limits, words. Leaves: a `PatientPage`.
Chooses which words are said by what is recorded; draws nothing.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence

from handoff.changes import Changes, Since
from handoff.compose.facts import facts_of
from handoff.compose.results import Results
from handoff.compose.series import volume_chart
from handoff.compose.words import Words
from handoff.findings import Place
from handoff.limits import Limits
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
from handoff.verdicts import Level, State, Verdict, Verdicts

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
    "listed",
    "moved",
    "ordered",
    "stopped",
    "changed",
    "first_reading",
    "goal_reached",
)
LEAST_TICKS, MOST_TICKS = 3, 5
USUAL: Sequence[str] = "coach", "chart", "reach"
# Where something is to be escalated.
IN_DANGER: Sequence[str] = "record", "chart"


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
        set_aside_signs=set_aside_signs(verdicts, words),
        not_judged=_not_judged(verdicts, facts, words),
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


def caution_words(verdict: Verdict, part: str, facts: Mapping[str, object], words: Words) -> str:
    """One part (title, seen, action, next_shift) of a caution's words; '' where it has none."""
    name = f"{verdict.rule}.{part}"
    if not words.has(name):
        return ""
    own = {
        "value": verdict.value,
        "limit": verdict.limit,
        "source": verdict.source,
        "at": verdict.at,
        "times": verdict.times,
        "level": str(verdict.level),
    }
    return words.say(name, **{**facts, **own, **verdict.detail})


def next_shift(
    cautions: Sequence[Verdict], facts: Mapping[str, object], words: Words
) -> tuple[str, ...]:
    """What to tick off: three to five lines, from the cautions in their order, then the usual.

    While something is to be escalated nobody is coached, and what holds the exercise back comes
    before all else.
    """
    asked, usual = _said_by(cautions, "next_shift", facts, words), USUAL
    if any(verdict.level is Level.ESCALATE for verdict in cautions):
        held = _said_by(cautions, "first", facts, words)
        asked = [*(held or [words.say("usual.resume", **facts)]), *asked]
        usual = IN_DANGER
    lines = list(dict.fromkeys(asked))[:MOST_TICKS]
    missing = max(LEAST_TICKS - len(lines), 0)
    return (*lines, *(words.say(f"usual.{name}", **facts) for name in usual[:missing]))


def _said_by(
    cautions: Sequence[Verdict], part: str, facts: Mapping[str, object], words: Words
) -> list[str]:
    """One part of the words of each caution that has it."""
    said = (caution_words(verdict, part, facts, words) for verdict in cautions)
    return [each for each in said if each]


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
        "changed": [words.say(f"since.order.{name}") for name in changes.order.changed],
    }
    said = (words.say(f"since.{name}", **own) for name in CHANGES)
    return tuple(change for change in said if change)


def set_aside_signs(verdicts: Verdicts, words: Words) -> str:
    """Danger signs in rows set aside, a row after the other; '' where there are none."""
    rows: dict[str, list[str]] = {}
    for each in verdicts.set_aside_signs:
        rows.setdefault(str(each.place), []).append(words.sign(each.rule, each.seen))
    return words.say("set_aside_signs", rows=rows) if rows else ""


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
            action=caution_words(verdict, "action", facts, words),
            told=told,
        )


def _not_judged(verdicts: Verdicts, facts: Mapping[str, object], words: Words) -> str | None:
    """Which danger signs could not be judged for want of records, each reason once."""
    undecided = [
        each
        for each in verdicts.all
        if each.state is State.UNDECIDED and each.level is Level.ESCALATE
    ]
    reasons = dict.fromkeys(caution_words(each, "undecided", facts, words) for each in undecided)
    return words.say("not_judged", reasons=reasons) if reasons else None


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

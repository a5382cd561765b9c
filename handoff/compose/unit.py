"""The unit summary in finished words: the whole hand-over -> `UnitPage`.

Input: hand-over, all measures and verdicts, limits, words. Output: a `UnitPage`, patients by
priority, then bed. With `initials` it has no full name and no full id, and no told text or note,
because these may name somebody.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence

from handoff.compose.asked import next_shift, to_check
from handoff.compose.limits import MOST_CHANGES, limit_changes
from handoff.compose.matters import WHOLE, MatterWords
from handoff.compose.patient import (
    change_words,
    gap_words,
    priority_mark,
    standing,
)
from handoff.compose.results import Results
from handoff.compose.series import spark, spark_words
from handoff.compose.ward import Ward, row_alerts
from handoff.compose.words import Words
from handoff.model.findings import Finding, Severity, text
from handoff.model.matters import Matter
from handoff.model.measures import Measures
from handoff.model.pages import Fact, Line, Note, UnitPage, UnitRow, UnitSection
from handoff.model.verdicts import Level, Priority
from handoff.model.ward import Patient

COLUMNS = ("bed", "who", "why_here", "best", "trend", "charted", "caution", "next", "write")
COUNTS = ("listed", "ordered", "started", "escalations", "follow_ups", "adherence", "uncharted")
NO_NOTES: Mapping[str, Sequence[Note]] = {}
SIGNS = ("symptoms", "spo2", "resp_rate", "pulse", "temp_c")
NOTHING = ("", "none")
WRONG_PATIENT = frozenset({"one-id-two-people", "identity-disagrees"})


def compose_unit(
    results: Results,
    words: Words,
    cut_notes: Mapping[str, Sequence[Note]] = NO_NOTES,
    *,
    initials: bool = False,
) -> UnitPage:
    """The summary of one unit's shift. `cut_notes` are, by patient id, those that are not on the
    patient's sheet word for word.
    """
    ward = Ward(results, words, initials=initials)
    handover = results.handover
    head = {"unit": handover.unit, "shift": handover.shift, "as_of": handover.as_of}
    return UnitPage(
        unit=words.say("unit", **head),
        shift=words.say("shift", **head),
        as_of=words.say("as_of", **head),
        alerts=tuple(_alerts(ward)),
        counts=_counts(ward),
        before=(
            *(_open_matters(ward), _left(ward)),
            *(_not_started(ward), _without_start(ward)),
        ),
        columns=tuple(words.say(f"columns.{name}") for name in COLUMNS),
        rows=tuple(_row(ward, patient) for patient in ward.judged),
        key=words.say("summary.key"),
        after=(
            *(
                _notes(ward, cut_notes),
                _since(ward),
                _no_order(ward),
                _going_home(ward),
                _set_aside(ward),
            ),
            *(*_lost_cells(ward), *_limits(ward)),
        ),
        standing=_standing(ward),
        page_words=words.say("page"),
    )


def _alerts(ward: Ward) -> Iterable[str]:
    """The alerts to read first: times without a log, and people who may be mixed up."""
    gaps = {gap for patient in ward.judged for gap in ward.handover.gaps.get(patient.id, ())}
    earliest_first = sorted(gaps, key=lambda gap: (gap.start, gap.end))
    yield from dict.fromkeys(gap_words(earliest_first, ward.words))
    for found in ward.handover.findings:
        if found.code in WRONG_PATIENT:
            yield ward.words.say("summary.wrong_patient", finding=found)
    yield from _signs_of_nobody(ward)


def _signs_of_nobody(ward: Ward) -> Iterable[str]:
    """Rows of this shift with signs that stand on no sheet, as they are written: somebody may be in
    danger whose id is wrong.
    """
    handover, on_sheets = ward.handover, {patient.id for patient in ward.judged}
    latest = {log.file for log in handover.logs if log.shift == handover.shift}
    for row in handover.set_aside:
        is_now = row.place.file in latest if row.at is None else row.at >= handover.shift.start
        cells = {name: row.raw.get(name, "").strip() for name in SIGNS}
        signs = [(name, cell) for name, cell in cells.items() if cell.casefold() not in NOTHING]
        if is_now and signs and row.patient_id not in on_sheets:
            at = ward.words.when(row.at) if row.at else row.raw.get("at", "")
            note = "" if ward.initials else row.raw.get("note", "")
            where = [str(row.place), *([at] if at else [])]
            own = {"where": where, "signs": signs, "note": note}
            yield ward.words.say("summary.nobodys_signs", **own)


def _counts(ward: Ward) -> tuple[Fact, ...]:
    """The counts, and the unit's adherence: all credited breaths in per cent of all due."""
    patients = ward.handover.patients
    parts = [each.adherence for each in ward.measures.values()]
    due = sum(part.breaths_due for part in parts)
    slots = sum(part.slots_due for part in parts)
    priorities = [each.priority for each in ward.verdicts.values()]
    numbers = {
        "listed": len(patients),
        "ordered": sum(each.order is not None or each.order_lacks_start for each in patients),
        "started": sum(_started(each) for each in ward.measures.values()),
        "escalations": priorities.count(Priority.ESCALATE),
        "follow_ups": priorities.count(Priority.FOLLOW_UP),
        "adherence": 100 * sum(part.credited for part in parts) / due if due else None,
        "uncharted": 100 * sum(part.slots_uncharted for part in parts) / slots if slots else None,
    }
    untold = sum(
        any(not matter.is_told for matter in each.escalations) for each in ward.verdicts.values()
    )
    return tuple(
        Fact(
            ward.words.say(f"counts.{name}.label", untold=untold),
            ward.words.say(f"counts.{name}.text", number=numbers[name]),
        )
        for name in COUNTS
    )


def _started(measures: Measures) -> bool:
    return any(entry.is_exercise for entry in measures.stay_entries)


def _open_matters(ward: Ward) -> UnitSection:
    """The unit's list of open actions: a line for each open matter with what would close it, in the
    order of the sheets; then holds, and danger signs in rows set aside.
    """
    rules, levels = list(ward.limits.rules), list(Level)
    matters = [
        (patient, each)
        for patient in ward.judged
        for each in ward.verdicts[patient.id].open_matters
    ]
    matters.sort(key=lambda both: both[1].last_at, reverse=True)
    matters.sort(
        key=lambda both: (
            levels.index(both[1].level),
            both[1].is_told,
            rules.index(both[1].rule),
        )
    )
    lines = [_open_matter(ward, patient, each) for patient, each in matters]
    for patient in ward.judged:
        verdicts, measures = ward.verdicts[patient.id], ward.measures[patient.id]
        hold = measures.hold
        counted = sum(each.is_counted for each in verdicts.matters)
        texts = (
            ward.hold_words(hold) if hold else "",
            to_check(verdicts, measures, ward.words, raw=not ward.initials),
            ward.words.say("matter.counted", count=counted) if counted else "",
        )
        lines += [Line(ward.who(patient), each) for each in texts if each]
    if any(matter.holds_back for _, matter in matters):
        lines.append(Line("", ward.words.say("summary.matters_key")))
    return UnitSection(ward.words.say("summary.matters"), tuple(lines), urgent=True)


def _open_matter(
    ward: Ward, patient: Patient, matter: Matter, who: str = "", *, left: bool = False
) -> Line:
    """One matter: told or not, what was seen, all told texts, and what would close it. For a
    patient who left, this unit cannot look again.
    """
    matter_words = MatterWords(
        matter, ward.words, ward.moment, ward.facts.get(patient.id), quotes=not ward.initials
    )
    lead = ward.words.say(
        "summary.matter_lead", who=who or ward.who(patient), matter=matter, title=matter_words.title
    )
    told = " ".join(filter(None, [*matter_words.told(WHOLE), matter_words.asked(WHOLE)]))
    closes = "" if left else matter_words.closes
    words = ward.words.say("summary.matter", seen=matter_words.seen, told=told, closes=closes)
    return Line(lead, words)


def _left(ward: Ward) -> UnitSection:
    """Patients who left with something open, or on hold: named for one hand-over."""
    lines: list[Line] = []
    for patient in ward.handover.gone:
        matters, hold = ward.gone[patient.id]
        still_open = [each for each in matters if each.is_open]
        if still_open or hold:
            left = ward.handover.left.get(patient.id)
            own = {"left": left, "now_from": ward.moment.now_from, "quotes": not ward.initials}
            held = ward.hold_words(hold) if hold else ""
            words = ward.words.say("summary.left_line", hold=held, **own)
            who = ward.words.say("summary.left_who", **ward.named(patient))
            lines.append(Line(who, words))
            lines += [_open_matter(ward, patient, each, who, left=True) for each in still_open]
    return UnitSection(ward.words.say("summary.left"), tuple(lines), urgent=True)


def _not_started(ward: Ward) -> UnitSection:
    """Patients to begin with; not those in comfort care, of whom it is asked whether at all."""
    lines = [
        Line(
            ward.who(patient),
            ward.say("summary.not_started_line", patient, missing=patient.missing_to_start),
        )
        for patient in ward.judged
        if not _started(ward.measures[patient.id])
        and not ward.measures[patient.id].comfort_care
        and not patient.order_lacks_start
    ]
    return UnitSection(ward.words.say("summary.not_started"), tuple(lines))


def _row(ward: Ward, patient: Patient) -> UnitRow:
    verdicts, facts = ward.verdicts[patient.id], ward.facts[patient.id]
    small = spark(ward.measures[patient.id], ward.handover.as_of)
    return UnitRow(
        bed=ward.bed(patient),
        name=ward.name(patient),
        id=ward.id(patient),
        alerts=tuple(filter(None, row_alerts(ward, patient))),
        priority=verdicts.priority,
        priority_words=ward.words.say(f"priority.{verdicts.priority}"),
        priority_mark=priority_mark(verdicts, ward.words),
        why_here=ward.say("summary.why_here", patient),
        best=ward.say("summary.best", patient),
        goal=ward.say("summary.goal", patient),
        spark=small,
        spark_words=spark_words(small, ward.words),
        charted=ward.say("summary.charted", patient),
        top_caution=ward.say("summary.top_caution", patient, titles=ward.titles(patient)),
        next_action=next_shift(verdicts, facts, ward.words)[0],
    )


def _notes(ward: Ward, cut: Mapping[str, Sequence[Note]]) -> UnitSection:
    """The notes that found no room on the sheets, word for word; with `initials` only counted."""
    lines: list[Line] = []
    for patient in ward.judged:
        who, notes = ward.who(patient), cut.get(patient.id, ())
        if notes and ward.initials:
            lines.append(Line(who, ward.words.say("summary.notes_counted", count=len(notes))))
        else:
            lines += [Line(who, ward.words.say("summary.note", note=each)) for each in notes]
    return UnitSection(ward.words.say("summary.notes"), tuple(lines))


def _since(ward: Ward) -> UnitSection:
    """A line for each patient with a change, and for each who left the list."""
    if ward.since is None:
        left = [_gone(ward, patient) for patient in ward.handover.gone]
        return UnitSection(ward.words.say("summary.since", at=None), tuple(left))
    lines = []
    for patient in ward.handover.patients:
        changes = change_words(
            ward.since.patients[patient.id], ward.facts.get(patient.id), ward.words
        )
        if changes:
            text_of_changes = ward.words.say("summary.since_line", changes=changes)
            lines.append(Line(ward.who(patient), text_of_changes))
    lines += [_gone(ward, patient) for patient in ward.since.gone]
    nothing = Line("", ward.words.say("summary.since_nothing"))
    title = ward.words.say("summary.since", at=ward.since.at)
    return UnitSection(title, tuple(lines) or (nothing,))


def _gone(ward: Ward, patient: Patient) -> Line:
    """A patient who left the list, without the bed in front: somebody else may be in it by now."""
    who = ward.words.say("summary.gone_who", name=ward.name(patient), id=ward.id(patient))
    return Line(who, ward.words.say("summary.gone", bed=ward.bed(patient)))


def _without_start(ward: Ward) -> UnitSection:
    patients = [each for each in ward.handover.patients if each.order_lacks_start]
    lines = [Line(ward.who(patient), "") for patient in patients]
    return UnitSection(ward.words.say("summary.without_start"), tuple(lines))


def _no_order(ward: Ward) -> UnitSection:
    patients = [each for each in ward.handover.patients if each.order is None]
    lines = [Line(ward.who(each), "") for each in patients if not each.order_lacks_start]
    return UnitSection(ward.words.say("summary.no_order"), tuple(lines))


def _going_home(ward: Ward) -> UnitSection:
    """Patients who go home within a day of the shift's end, and what is missing for it."""
    shift, zone = ward.handover.shift, ward.handover.unit.time_zone
    going = [patient for patient in ward.judged if patient.goes_home_soon(shift, zone)]
    lines = [
        Line(
            ward.who(patient),
            ward.say("summary.going_home_line", patient, missing=patient.missing_for_home),
        )
        for patient in going
    ]
    return UnitSection(ward.words.say("summary.going_home"), tuple(lines))


def _set_aside(ward: Ward) -> UnitSection:
    """Every row set aside, with its finding; with `initials` without the cell's text."""
    title = ward.words.say("summary.set_aside", counts=ward.handover.counts)
    rows = tuple(_found(ward, row.reason) for row in ward.handover.set_aside)
    return UnitSection(title, rows)


def _standing(ward: Ward) -> tuple[str, ...]:
    """The fixed words; where no row was set aside the last line begins with that, since a section
    just for it might take a page of its own.
    """
    *others, last = standing(ward.handover, ward.limits, ward.words)
    if not ward.handover.set_aside:
        counts = ward.handover.counts
        last = f"{ward.words.say('summary.nothing_set_aside', counts=counts)} {last}"
    return (*others, last)


def _lost_cells(ward: Ward) -> Iterator[UnitSection]:
    """Every lost cell of a used row or patient. A goal, an order's start or a limit that could not
    be read is not the same as one never written.
    """
    aside = {row.place for row in ward.handover.set_aside}
    lost = tuple(
        _found(ward, each)
        for each in ward.handover.findings
        if each.severity is Severity.ERROR
        and each.raw is not None
        and each.place.row not in aside
        and each.code not in WRONG_PATIENT
    )
    if lost:
        yield UnitSection(ward.words.say("summary.lost_cells", count=len(lost)), lost)


def _limits(ward: Ward) -> Iterator[UnitSection]:
    """Every change of the unit's own limits, where the foot has no room for all."""
    changes = limit_changes(ward.limits, ward.words)
    if len(changes) > MOST_CHANGES:
        line = Line("", "; ".join(changes))
        yield UnitSection(ward.words.say("summary.limits"), (line,))


def _found(ward: Ward, found: Finding) -> Line:
    """A finding; with `initials` without the cell's text."""
    where = f"{found.place} {found.field or ''}".rstrip()
    return Line("", f"{where}: {found.code}" if ward.initials else text(found))

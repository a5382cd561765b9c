"""Rules on how the exercise goes: how often, in what form, and what stands in its way.

Input: a `Case`. Output: a `Verdict` a rule. What is not charted is never taken for not done.
"""

from statistics import median

from handoff.judge.case import THE_ORDER, Against, MeasuredCase, Seen
from handoff.model.verdicts import Verdict
from handoff.model.ward import Flow, What

NO_EXERCISE = "no exercise in the shift"


def nothing_charted(case: MeasuredCase) -> Verdict:
    """Started before the shift, so many slots due in it, and nobody saw the patient. Value: slots.

    A note or `told` alone is not seeing the patient.

    Detail: `slots` (due), `last_at` (the latest exercise before the shift).
    """
    slots = case.measures.adherence.slots_due
    start = case.handover.shift.start
    before = [entry.at for entry in case.measures.stay_entries if entry.is_exercise]
    started = any(at < start for at in before)
    seen = any(entry.saw_the_patient for entry in case.entries)
    if seen or not started or slots < case.limit("slots_due_at_or_over"):
        return case.not_met()
    detail = {"slots": slots, "last_at": before[-1]}
    return case.met(Seen(slots, case.against("slots_due_at_or_over"), detail=detail))


def not_charted(case: MeasuredCase) -> Verdict:
    """A part of the slots due, and so many at least, uncharted. Value: that part (0 to 1).

    Detail: `slots` (uncharted), `slots_due`.
    """
    adherence = case.measures.adherence
    slots, due = adherence.slots_uncharted, adherence.slots_due
    if slots < case.limit("slots_at_or_over") or slots / due < case.limit(
        "part_of_slots_at_or_over"
    ):
        return case.not_met()
    detail = {"slots": slots, "slots_due": due}
    return case.met(Seen(slots / due, case.against("part_of_slots_at_or_over"), detail=detail))


def low_adherence(case: MeasuredCase) -> Verdict:
    """Breaths credited in per cent of those due in the charted slots, when enough are charted.

    Cites the shift's exercises and what was declined. Undecided with too few slots charted.

    Detail: `slots` (charted of those due), `slots_due`, `uncounted` (exercises whose breaths are
    not recorded, each counted as one).
    """
    adherence = case.measures.adherence
    charted = adherence.slots_due - adherence.slots_uncharted
    percent = adherence.percent_of_charted
    if not adherence.slots_due:
        return case.not_met()
    if percent is None or charted < case.limit("charted_slots_at_or_over"):
        return case.undecided("too few slots charted")
    if percent >= case.limit("percent_under"):
        return case.not_met()
    rows = [entry for entry in case.entries if entry.what in (What.EXERCISE, What.DECLINED)]
    uncounted = sum(entry.breaths is None for entry in case.exercises)
    detail = {"slots": charted, "slots_due": adherence.slots_due, "uncounted": uncounted}
    return case.met(Seen(percent, case.against("percent_under"), rows, detail=detail))


def declined(case: MeasuredCase) -> Verdict:
    """Declined so many times in the shift. Value: entries. Detail: `count` (the same)."""
    rows = [entry for entry in case.entries if entry.what is What.DECLINED]
    if len(rows) < case.limit("entries_at_or_over"):
        return case.not_met()
    detail = {"count": len(rows)}
    return case.met(Seen(len(rows), case.against("entries_at_or_over"), rows, detail=detail))


def pain_limits(case: MeasuredCase) -> Verdict:
    """Strong pain at one exercise, or less at several; numeric rating, 0 to 10.

    Value: the worst pain, the latest of equals. Undecided with no pain recorded at an exercise.

    Detail: `times` (exercises at or over the lower limit).
    """
    rated = [
        (entry.signs.pain, entry.at, entry)
        for entry in case.exercises
        if entry.signs.pain is not None
    ]
    if not rated:
        return case.undecided("pain not recorded at an exercise")
    worst, at, _ = max(rated, key=lambda each: each[:2])
    rows = [entry for pain, _, entry in rated if pain >= case.limit("pain_at_or_over")]
    once = worst >= case.limit("pain_once_at_or_over")
    again = len(rows) >= case.limit("exercises_at_or_over")
    if not once and not again:
        return case.not_met()
    against = case.against("pain_once_at_or_over" if once else "pain_at_or_over")
    return case.met(Seen(worst, against, rows, at, {"times": len(rows)}))


def technique(case: MeasuredCase) -> Verdict:
    """Blown into, or a part of enough exercises fast or slow. Value: blown ones, or that part.

    A blank flow counts as an exercise in good form, one that could not be read as neither.
    Undecided when the shift has exercises and no flow is recorded at any.

    Detail: `blew`, `off_form` (fast or slow), `exercises`.
    """
    exercises = case.exercises
    if not exercises:
        return case.undecided(NO_EXERCISE)
    if all(entry.flow is None for entry in exercises):
        return case.undecided("flow not recorded")
    blew = [entry for entry in exercises if entry.flow is Flow.BLEW]
    off_form = [entry for entry in exercises if entry.flow in (Flow.FAST, Flow.SLOW)]
    detail = {"blew": len(blew), "off_form": len(off_form), "exercises": len(exercises)}
    if len(blew) >= case.limit("blew_at_or_over"):
        return case.met(Seen(len(blew), case.against("blew_at_or_over"), blew, detail=detail))
    part = len(off_form) / len(exercises)
    enough = len(exercises) >= case.limit("exercises_at_or_over")
    if not enough or part < case.limit("part_off_form_at_or_over"):
        return case.not_met()
    against = case.against("part_off_form_at_or_over")
    return case.met(Seen(part, against, off_form, detail=detail))


def short_hold(case: MeasuredCase) -> Verdict:
    """Median breath hold, in s, under the ordered one; over enough exercises with a hold recorded.

    Cites the exercises held for less. Undecided with too few holds recorded.

    Detail: `exercises` (with a hold recorded).
    """
    holds = [(entry.hold_s, entry) for entry in case.exercises if entry.hold_s is not None]
    if len(holds) < case.limit("exercises_at_or_over"):
        return case.undecided("breath hold not recorded" if not holds else "too few breath holds")
    middle, ordered = median(hold for hold, _ in holds), case.order.hold_s
    if middle >= ordered:
        return case.not_met()
    rows = [entry for hold, entry in holds if hold < ordered]
    against = Against(ordered, "s", THE_ORDER)
    return case.met(Seen(middle, against, rows, detail={"exercises": len(holds)}))

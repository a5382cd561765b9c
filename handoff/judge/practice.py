"""Rules on the exercise itself: how often and in what form.

Input: a `Case`. Output: a `Verdict` a rule. Never takes an uncharted slot for one not done.
"""

from datetime import datetime, timedelta
from statistics import median

from handoff.judge.case import Against, MeasuredCase, Seen
from handoff.judge.pain import PAIN_LIMITS
from handoff.judge.rule import Rule, rows_text
from handoff.model.measures import SlotState
from handoff.model.rounding import exact
from handoff.model.verdicts import Found, Verdict, When
from handoff.model.ward import Flow, What
from handoff.model.wording import JUDGE

OFF_FORM = (Flow.FAST, Flow.SLOW)
BESIDE = timedelta(minutes=60)  # from a decline to pain that is named with it: common practice


class NothingCharted(Found):
    """`rows` of the shift; `saw`, those in which somebody saw the patient; `slots` due in the
    shift; the exercises `before` the shift in the stay, the latest at `last_at`.
    """

    rows: int
    saw: int
    slots: int
    before: int
    last_at: datetime | None

    def text(self, _: When, /) -> str:
        """`rows in the shift: 3; slots due: 12; exercises before: 1`."""
        return JUDGE.say(
            "found.unseen" if self.rows and not self.saw else "found.charted",
            rows=self.rows,
            slots=self.slots,
            before=self.before,
        )


class NotSeen(Found):
    """Since when staff charted nothing seen of the patient, and the hours since then. `waiting`
    says what is waited for: 'danger' (a matter that is not over), 'hold', or '' for neither.
    """

    since: datetime | None
    hours: float
    waiting: str

    def text(self, when: When, /) -> str:
        """`last seen 2026-05-12 08:00, 6.5 available hours before`."""
        if self.since is None:
            return JUDGE.say("found.not-seen")
        key = "found.looked" if self.waiting else "found.seen"
        since, hours = when(self.since), exact(self.hours)
        return JUDGE.say(key, since=since, hours=hours, waiting=self.waiting)


class NotCharted(Found):
    """How many of the `slots` due are not charted; without the slots that are available for fewer
    minutes than `least_min`, of which so many are `left_out`.
    """

    slots: int
    slots_due: int
    left_out: int
    least_min: float

    def text(self, _: When, /) -> str:
        """`9 of 12 slots due are uncharted`."""
        return JUDGE.say("found.uncharted", slots=self.slots, due=self.slots_due)


class Adherence(Found):
    """Breaths credited in per cent of those due in the charted `slots`; those slots; and
    `uncounted`, the exercises without a recorded number of breaths, each counted as one breath.
    `blew` and `off_form` count the exercises blown into, and those too fast or slow. `explained` is
    'form', 'device' or ''.
    """

    percent_of_charted: float | None
    slots: int
    uncounted: int
    blew: int
    off_form: int
    explained: str

    def text(self, _: When, /) -> str:
        """`percent_of_charted 66.666667 %; charted slots: 3`."""
        percent = exact(self.percent_of_charted)
        found = JUDGE.say("found.adherence", percent=percent, slots=self.slots)
        by = self.explained
        return JUDGE.say("found.explained", found=found, by=by) if by else found


class Declined(Found):
    """How many rows chart 'declined', and `pains`, from the lower limit of pain on, charted with
    them or near them in time.
    """

    count: int
    pains: tuple[int, ...]

    def text(self, _: When, /) -> str:
        """`2 rows with 'declined'; pain beside: 9, 8`."""
        pains = ", ".join(map(str, self.pains)) or JUDGE.say("any.none")
        return JUDGE.say("found.declined", rows=rows_text(self.count), pains=pains)


class Form(Found):
    """The shift's exercises, those of them blown, fast or slow (`off_form`), without a flow."""

    exercises: int
    blew: int
    off_form: int
    without_flow: int

    def text(self, _: When, /) -> str:
        """`exercises: 2, of these blown: 0, fast or slow: 1, without a flow: 1`."""
        return JUDGE.say(
            "found.form",
            exercises=self.exercises,
            blew=self.blew,
            off_form=self.off_form,
            without_flow=self.without_flow,
        )


class Holds(Found):
    """The median breath hold of the exercises that record one, how many these are, and the hold
    that is ordered.
    """

    median_s: float | None
    exercises: int
    ordered_s: float

    def text(self, _: When, /) -> str:
        """`median 3 s; holds: 1; ordered 5 s`."""
        median_s, ordered_s = exact(self.median_s), exact(self.ordered_s)
        return JUDGE.say("found.holds", median=median_s, holds=self.exercises, ordered=ordered_s)


def nothing_charted(case: MeasuredCase) -> Verdict:
    """The exercise started before the shift, at least so many slots were due, and nobody saw the
    patient. Value: slots.

    A note or `told` alone is not seeing the patient, nor is what the patient charted.
    """
    start = case.handover.shift.start
    exercised = [entry.at for entry in case.measures.stay_entries if entry.is_exercise]
    before = [at for at in exercised if at < start]
    in_shift = [entry for entry in case.entries if entry.at >= start]
    found = NothingCharted(
        rows=len(in_shift),
        saw=sum(entry.saw_the_patient for entry in in_shift),
        slots=case.measures.adherence.slots_due,
        before=len(before),
        last_at=before[-1] if before else None,
    )
    if found.saw or not before or found.slots < case.limit("slots_due_at_or_over"):
        return case.not_met(found)
    return case.met(found, Seen(found.slots, case.against("slots_due_at_or_over")))


def not_seen(case: MeasuredCase) -> Verdict:
    """Staff saw the patient in the shift, and not in so many available hours up to `as_of`.

    While a matter is not over, or a hold is in force: no vital sign, pain or symptom charted by
    staff in so many hours by the clock, counted from the beginning of the matter or hold at the
    earliest.
    Value: hours.
    """
    measures, hold = case.measures, case.measures.hold
    waits_since = [each.opened_at for each in case.unsettled] + ([hold.since] if hold else [])
    if waits_since:
        looked = [each.at for each in measures.drawn_entries if each.looked_for_danger]
        since, name = max([min(waits_since), *looked]), "clock_hours_at_or_over"
        hours = (case.handover.as_of - since) / timedelta(hours=1)
        found = NotSeen(since, hours, "danger" if case.unsettled else "hold")
    else:
        name, unseen_h = "available_hours_at_or_over", measures.bedside.unseen_h
        found = NotSeen(measures.bedside.seen_until, unseen_h or 0.0, "")
    if found.hours < case.limit(name):
        return case.not_met(found)
    return case.met(found, Seen(found.hours, case.against(name), at=found.since))


def not_charted(case: MeasuredCase) -> Verdict:
    """At least a part of the slots due, and at least so many slots, are uncharted. Value: the part
    (0 to 1). A slot with few available minutes is not counted.
    """
    part_name, least_min = "part_of_slots_at_or_over", case.limit("available_minutes_at_or_over")
    of_note = [
        each.state
        for each in case.measures.adherence.slots
        if each.state is not SlotState.NOT_DUE and each.available_min >= least_min
    ]
    slots, due = of_note.count(SlotState.UNCHARTED), len(of_note)
    left_out = case.measures.adherence.slots_due - due
    found = NotCharted(slots, due, left_out, least_min)
    if slots < case.limit("slots_at_or_over") or slots / due < case.limit(part_name):
        return case.not_met(found)
    return case.met(found, Seen(slots / due, case.against(part_name)))


def low_adherence(case: MeasuredCase) -> Verdict:
    """Breaths credited in per cent of those due in the charted slots, when enough are charted.

    Cites the shift's exercises and what was declined. Undecided with too few slots charted. Bad
    form explains it where so large a part of the exercises was blown, fast or slow; else a device
    that was not given does.
    """
    adherence, exercises = case.measures.adherence, case.exercises
    percent = adherence.percent_of_charted
    blew = sum(each.flow is Flow.BLEW for each in exercises)
    off_form = sum(each.flow in OFF_FORM for each in exercises)
    part_off_form = (blew + off_form) / len(exercises) if exercises else 0.0
    explained = "device" if case.patient.device_given is False else ""
    if part_off_form >= case.limit("part_off_form_at_or_over"):
        explained = "form"
    found = Adherence(
        percent_of_charted=percent,
        slots=adherence.slots_due - adherence.slots_uncharted,
        uncounted=sum(entry.breaths is None for entry in exercises),
        blew=blew,
        off_form=off_form,
        explained=explained,
    )
    if not adherence.slots_due:
        return case.not_met(found)
    if percent is None or found.slots < case.limit("charted_slots_at_or_over"):
        return case.undecided(found, JUDGE.say("why.few-slots"))
    if percent >= case.limit("percent_under"):
        return case.not_met(found)
    rows = [entry for entry in case.entries if entry.what in (What.EXERCISE, What.DECLINED)]
    return case.met(found, Seen(percent, case.against("percent_under"), rows))


def declined(case: MeasuredCase) -> Verdict:
    """Declined at least so many times in the shift. Value: entries."""
    rows = [entry for entry in case.entries if entry.what is What.DECLINED]
    least = case.of(PAIN_LIMITS.name).limit("pain_at_or_over")
    pains = [
        entry.signs.pain
        for entry in case.entries
        if any(abs(entry.at - row.at) <= BESIDE for row in rows)
        and entry.signs.pain is not None
        and entry.signs.pain >= least
    ]
    found = Declined(len(rows), tuple(pains))
    if len(rows) < case.limit("entries_at_or_over"):
        return case.not_met(found)
    return case.met(found, Seen(len(rows), case.against("entries_at_or_over"), rows))


def technique(case: MeasuredCase) -> Verdict:
    """Exercises blown into, or a part of enough exercises fast or slow. Value: the number blown, or
    the part.

    A blank flow counts as an exercise in good form, one that could not be read as neither.
    Undecided when the shift has exercises and no flow is recorded at any.
    """
    exercises = case.exercises
    blew = [entry for entry in exercises if entry.flow is Flow.BLEW]
    off_form = [entry for entry in exercises if entry.flow in OFF_FORM]
    without_flow = sum(entry.flow is None for entry in exercises)
    found = Form(len(exercises), len(blew), len(off_form), without_flow)
    if not exercises:
        return case.undecided(found, JUDGE.say("why.no-exercise"))
    if without_flow == len(exercises):
        return case.undecided(found, JUDGE.say("why.flow"))
    if len(blew) >= case.limit("blew_at_or_over"):
        return case.met(found, Seen(len(blew), case.against("blew_at_or_over"), blew))
    part = len(off_form) / len(exercises)
    enough = len(exercises) >= case.limit("exercises_at_or_over")
    if not enough or part < case.limit("part_off_form_at_or_over"):
        return case.not_met(found)
    return case.met(found, Seen(part, case.against("part_off_form_at_or_over"), off_form))


def short_hold(case: MeasuredCase) -> Verdict:
    """Median breath hold, in s, under the ordered one; over enough exercises with a hold recorded.

    Cites the exercises held for less. Undecided with too few holds recorded.
    """
    holds = [(entry.hold_s, entry) for entry in case.exercises if entry.hold_s is not None]
    middle_s = median(hold_s for hold_s, _ in holds) if holds else None
    ordered_s = case.order.hold_s
    found = Holds(middle_s, len(holds), ordered_s)
    if "hold_s" in case.order.not_known:
        return case.undecided(found, JUDGE.say("why.ordered-hold"))
    if middle_s is None or len(holds) < case.limit("exercises_at_or_over"):
        why = JUDGE.say("why.hold" if middle_s is None else "why.few-holds")
        return case.undecided(found, why)
    if middle_s >= ordered_s:
        return case.not_met(found)
    rows = [entry for hold_s, entry in holds if hold_s < ordered_s]
    against = Against(ordered_s, "s", JUDGE.say("source.order"))
    return case.met(found, Seen(middle_s, against, rows))


NOTHING_CHARTED = Rule(
    "nothing-charted",
    nothing_charted,
)
NOT_SEEN = Rule(
    "not-seen",
    not_seen,
    replaces=(NOTHING_CHARTED.name,),
)
NOT_CHARTED = Rule(
    "not-charted",
    not_charted,
)
LOW_ADHERENCE = Rule(
    "low-adherence",
    low_adherence,
)
DECLINED = Rule("declined", declined)
TECHNIQUE = Rule(
    "technique",
    technique,
)
SHORT_HOLD = Rule(
    "short-hold",
    short_hold,
)

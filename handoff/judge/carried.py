"""Rules on facts from before this shift: a hold, another unit.

Input: a `MeasuredCase`. Output: a `Verdict` a rule. Dangers from earlier shifts are in `matters`.
"""

from datetime import datetime, timedelta

from handoff.judge.case import MeasuredCase, Seen
from handoff.judge.rule import Rule, rows_text
from handoff.model.verdicts import Found, Verdict, When
from handoff.model.wording import JUDGE


class ExercisedOnHold(Found):
    """The number of exercises charted during a hold; the note of the hold of the last one; and its
    start and end (None while in force), where it is the hold of them all.
    """

    count: int
    since: datetime | None
    until: datetime | None
    note: str | None

    def text(self, _: When, /) -> str:
        """`exercises charted while held: 1 row`."""
        return JUDGE.say("found.held", rows=rows_text(self.count))


class FromElsewhere(Found):
    """Whether the patient's last unit is unknown, and when the order began."""

    unknown: bool
    ordered_at: datetime

    def text(self, when: When, /) -> str:
        """`not known where from; order began 2026-05-11 08:00`."""
        key = "found.from-elsewhere" if self.unknown else "found.listed-before"
        return JUDGE.say(key, at=when(self.ordered_at))


def exercise_on_hold(case: MeasuredCase) -> Verdict:
    """Exercises of the shift charted during a hold. Value: their number."""
    rows, hold = case.measures.exercised_on_hold, case.measures.hold_of_exercise
    one = hold if hold and hold.since <= rows[0].at else None
    found = ExercisedOnHold(
        count=len(rows),
        since=one.since if one else None,
        until=one.until if one else None,
        note=hold.entry.note if hold else None,
    )
    if not rows:
        return case.not_met(found)
    return case.met(found, Seen(len(rows), case.without_limit("{exercises}"), rows))


def came_from_elsewhere(case: MeasuredCase) -> Verdict:
    """The patient is first listed in this shift, though earlier logs of the unit are given. The
    order is at least so many hours older, and no log shows from where. Value: hours from the
    order's start to the shift's start.
    """
    start = case.order.start
    found = FromElsewhere(case.patient.id in case.handover.from_elsewhere, start)
    hours = (case.handover.shift.start - start) / timedelta(hours=1)
    if not found.unknown or hours < case.limit("hours_at_or_over"):
        return case.not_met(found)
    return case.met(found, Seen(hours, case.against("hours_at_or_over")))


EXERCISE_ON_HOLD = Rule("exercise-on-hold", exercise_on_hold)
CAME_FROM_ELSEWHERE = Rule(
    "came-from-elsewhere",
    came_from_elsewhere,
)

"""Rules on setting up and going home: start, device, label, teaching, discharge.

Input: a `Case`. Output: a `Verdict` a rule. Never takes 'not recorded' for 'not done': `missing`
says which of the two, in pairs such as ('label', 'not recorded').
"""

from collections.abc import Sequence
from datetime import date, timedelta

from handoff.judge.case import MeasuredCase, Seen
from handoff.judge.rule import Rule, done_text
from handoff.model.rounding import exact
from handoff.model.verdicts import Found, Verdict, When
from handoff.model.ward import Done, missing
from handoff.model.wording import JUDGE


class Started(Found):
    """Exercises of the stay, and the hours in which one could be done; which of 'device', 'label',
    'teaching' are `missing`; `stopped`: the order is not active.
    """

    exercises: int
    available_h: float
    missing: Sequence[tuple[str, str]]
    stopped: bool

    def text(self, _: When, /) -> str:
        """`exercises in the stay: 3; available hours: 35`."""
        hours = exact(self.available_h)
        return JUDGE.say("found.started", exercises=self.exercises, hours=hours)


class Taught(Found):
    """Whether teaching and showing back are recorded, the hours in which it could be done, and
    whether the order is active.
    """

    taught: Done
    shown_back: Done
    available_h: float
    active: bool

    def text(self, _: When, /) -> str:
        """`taught: not recorded; available hours: 35; order active`."""
        key = "found.taught" if self.active else "found.taught-stopped"
        return JUDGE.say(key, taught=done_text(self.taught), hours=exact(self.available_h))


class ShownBack(Found):
    """Exercises of the stay, and whether teaching and the return demonstration are recorded."""

    exercises: int
    taught: Done
    shown_back: Done

    def text(self, _: When, /) -> str:
        """`exercises in the stay: 3; taught: done; shown back: not recorded`."""
        return JUDGE.say(
            "found.shown-back",
            exercises=self.exercises,
            taught=done_text(self.taught),
            shown_back=done_text(self.shown_back),
        )


class Device(Found):
    """Whether the device is given, and labelled."""

    device_given: Done
    device_labelled: Done

    def text(self, _: When, /) -> str:
        """`device: done; label: not done`."""
        given, labelled = done_text(self.device_given), done_text(self.device_labelled)
        return JUDGE.say("found.device", given=given, labelled=labelled)


class GoingHome(Device):
    """The local date of the planned discharge; which of 'shown_back', 'device', 'label' are
    `missing`; how many matters are `unsettled`; whether the exercise is `on_hold`.
    """

    home_on: date | None
    shown_back: Done
    missing: Sequence[tuple[str, str]]
    unsettled: int
    on_hold: bool

    def text(self, when: When, /) -> str:
        """`going home: 2026-05-13; shown back: not recorded; device: done; label: not done`."""
        found = JUDGE.say(
            "found.home",
            home_on=self.home_on.isoformat() if self.home_on else done_text(None),
            shown_back=done_text(self.shown_back),
            device=Device.text(self, when),
            unsettled=self.unsettled,
        )
        return JUDGE.say("found.home-on-hold", found=found) if self.on_hold else found


def not_started(case: MeasuredCase) -> Verdict:
    """At least so many available hours since the order began, and no exercise in the stay. Value:
    hours.

    Hours are real ones up to `as_of` or the order's stop, without quiet hours, away and asleep.
    """
    patient, hours = case.patient, case.measures.available_h
    found = Started(
        exercises=sum(entry.is_exercise for entry in case.measures.stay_entries),
        available_h=hours,
        missing=patient.missing_to_start,
        stopped=not case.order.active_at(case.handover.as_of),
    )
    if found.exercises or hours < case.limit("hours_at_or_over"):
        return case.not_met(found)
    return case.met(found, Seen(hours, case.against("hours_at_or_over")))


def not_taught(case: MeasuredCase) -> Verdict:
    """The order is active, at least so many available hours after its start, and the teaching is
    'no' or not recorded. Value: those hours.
    """
    patient = case.patient
    active, hours = case.order.active_at(case.handover.as_of), case.measures.available_h
    found = Taught(patient.taught, patient.shown_back, hours, active)
    if patient.taught or not active or hours < case.limit("hours_at_or_over"):
        return case.not_met(found)
    return case.met(found, Seen(hours, case.against("hours_at_or_over")))


def no_return_demonstration(case: MeasuredCase) -> Verdict:
    """Taught, exercises in the stay, and no return demonstration. Value: 'no' or 'not recorded'."""
    exercises = sum(entry.is_exercise for entry in case.measures.stay_entries)
    found = ShownBack(exercises, case.patient.taught, case.patient.shown_back)
    lacks = missing(shown_back=case.patient.shown_back)
    if not exercises or not case.patient.taught or not lacks:
        return case.not_met(found)
    return case.met(found, Seen(lacks[0][1], case.without_limit()))


def not_labelled(case: MeasuredCase) -> Verdict:
    """The device is given, and its label is 'no' or 'not recorded' (the value)."""
    found = Device(case.patient.device_given, case.patient.device_labelled)
    lacks = missing(label=found.device_labelled)
    if not lacks or found.device_given is False:
        return case.not_met(found)
    if found.device_given is None:
        return case.undecided(found, JUDGE.say("why.device"))
    return case.met(found, Seen(lacks[0][1], case.without_limit()))


def going_home(case: MeasuredCase) -> Verdict:
    """Discharge is planned within so many local calendar days of the shift's end, and something is
    missing for it, a matter is not settled or the exercise is on hold.

    Value: days from the shift's end to the discharge, negative when its date has passed. Undecided
    with no planned discharge recorded.
    """
    patient = case.patient
    found = GoingHome(
        device_given=patient.device_given,
        device_labelled=patient.device_labelled,
        home_on=patient.home_on,
        shown_back=patient.shown_back,
        missing=patient.missing_for_home,
        unsettled=len(case.unsettled),
        on_hold=case.measures.hold is not None,
    )
    if patient.home_on is None:
        return case.undecided(found, JUDGE.say("why.discharge"))
    ends_on = case.handover.shift.end.astimezone(case.handover.unit.time_zone).date()
    days = (patient.home_on - ends_on) // timedelta(days=1)
    ready = not (found.missing or found.unsettled or found.on_hold)
    if ready or days > case.limit("days_at_or_under"):
        return case.not_met(found)
    return case.met(found, Seen(days, case.against("days_at_or_under")))


NOT_STARTED = Rule(
    "not-started",
    not_started,
    # It names all that is missing, and asks what was done.
    replaces=("not-charted", "not-taught", "not-labelled"),
)
NOT_TAUGHT = Rule(
    "not-taught",
    not_taught,
)
NO_RETURN_DEMONSTRATION = Rule(
    "no-return-demonstration",
    no_return_demonstration,
)
NOT_LABELLED = Rule("not-labelled", not_labelled)
GOING_HOME = Rule(
    "going-home",
    going_home,
)

"""Rules on setting up and going home: start, device, label, teaching, discharge.

Input: a `Case`. Output: a `Verdict` a rule. Never takes 'not recorded' for 'not done': `missing`
says which of the two, in pairs such as ('label', 'not recorded').
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from handoff.judge.case import MeasuredCase, Seen
from handoff.judge.rule import Rule, done_text
from handoff.model.rounding import exact
from handoff.model.verdicts import Found, Verdict, When
from handoff.model.ward import Done, missing


@dataclass(frozen=True, slots=True)
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
        return f"exercises in the stay: {self.exercises}; available hours: {hours}"


@dataclass(frozen=True, slots=True)
class ShownBack(Found):
    """Exercises of the stay, and whether the return demonstration is recorded."""

    exercises: int
    shown_back: Done

    def text(self, _: When, /) -> str:
        """`exercises in the stay: 3; shown back: not recorded`."""
        return f"exercises in the stay: {self.exercises}; shown back: {done_text(self.shown_back)}"


@dataclass(frozen=True, slots=True)
class Device(Found):
    """Whether the device is given, and labelled."""

    device_given: Done
    device_labelled: Done

    def text(self, _: When, /) -> str:
        """`device: done; label: not done`."""
        return f"device: {done_text(self.device_given)}; label: {done_text(self.device_labelled)}"


@dataclass(frozen=True, slots=True)
class GoingHome(Device):
    """The local date of the planned discharge; which of 'shown_back', 'device', 'label' are
    `missing`.
    """

    home_on: date | None
    shown_back: Done
    missing: Sequence[tuple[str, str]]

    def text(self, when: When, /) -> str:
        """`going home: 2026-05-13; shown back: not recorded; device: done; label: not done`."""
        home_on = self.home_on.isoformat() if self.home_on else "not recorded"
        shown_back = done_text(self.shown_back)
        return f"going home: {home_on}; shown back: {shown_back}; {Device.text(self, when)}"


def not_started(case: MeasuredCase) -> Verdict:
    """At least so many available hours since the order began, and no exercise in the stay. Value:
    hours.

    Hours are real ones up to `as_of` or the order's stop, without quiet hours, away and asleep.
    """
    patient, hours = case.patient, case.measures.available_h
    found = Started(
        exercises=sum(entry.is_exercise for entry in case.measures.stay_entries),
        available_h=hours,
        missing=missing(
            device=patient.device_given, label=patient.device_labelled, teaching=patient.taught
        ),
        stopped=not case.order.active_at(case.handover.as_of),
    )
    if found.exercises or hours < case.limit("hours_at_or_over"):
        return case.not_met(found)
    return case.met(found, Seen(hours, case.against("hours_at_or_over")))


def no_return_demonstration(case: MeasuredCase) -> Verdict:
    """Exercises in the stay, and no return demonstration. Value: 'no' or 'not recorded'."""
    exercises = sum(entry.is_exercise for entry in case.measures.stay_entries)
    found = ShownBack(exercises, case.patient.shown_back)
    lacks = missing(shown_back=case.patient.shown_back)
    if not exercises or not lacks:
        return case.not_met(found)
    return case.met(found, Seen(lacks[0][1], case.without_limit()))


def not_labelled(case: MeasuredCase) -> Verdict:
    """The device is given, and its label is 'no' or 'not recorded' (the value)."""
    found = Device(case.patient.device_given, case.patient.device_labelled)
    lacks = missing(label=found.device_labelled)
    if not lacks or found.device_given is False:
        return case.not_met(found)
    if found.device_given is None:
        return case.undecided(found, "device not recorded")
    return case.met(found, Seen(lacks[0][1], case.without_limit()))


def going_home(case: MeasuredCase) -> Verdict:
    """Discharge is planned within so many local calendar days of the shift's end, and something is
    missing for it.

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
    )
    if patient.home_on is None:
        return case.undecided(found, "planned discharge not recorded")
    ends_on = case.handover.shift.end.astimezone(case.handover.unit.time_zone).date()
    days = (patient.home_on - ends_on) // timedelta(days=1)
    if days > case.limit("days_at_or_under") or not found.missing:
        return case.not_met(found)
    return case.met(found, Seen(days, case.against("days_at_or_under")))


NOT_STARTED = Rule(
    "not-started",
    "no exercise in the stay, {hours_at_or_over} available hours or more after its start",
    not_started,
)
NO_RETURN_DEMONSTRATION = Rule(
    "no-return-demonstration",
    "exercises in the stay, and no showing back",
    no_return_demonstration,
)
NOT_LABELLED = Rule(
    "not-labelled", "device given, and its label 'no' or not recorded", not_labelled
)
GOING_HOME = Rule(
    "going-home",
    "planned discharge {days_at_or_under} day after the shift's end or sooner, and showing back, "
    "device or label missing",
    going_home,
)

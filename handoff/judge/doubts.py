"""Finds `told` and `settled` rows that cover or settle nothing, or may not: no row shows this
alone.

Input: a `Handover` and the `Limits`. Output: findings. Only patients with such rows are followed.
"""

from collections.abc import Iterator

from msgspec.structs import replace

from handoff.judge.matters import follow
from handoff.limits.reading import Limits
from handoff.log.entries import about
from handoff.log.fields import BY_NAME, Section
from handoff.model.findings import Finding
from handoff.model.matters import MatterState
from handoff.model.ward import Entry, Handover, Patient, What


def with_doubts(handover: Handover, limits: Limits) -> tuple[Handover, list[Finding]]:
    """The hand-over with these findings added, and these findings alone."""
    found = [
        each
        for patient in (*handover.patients, *handover.gone)
        for each in _doubts(handover, patient, limits)
    ]
    found.sort(key=lambda each: each.place.order)
    return replace(handover, findings=(*handover.findings, *found)), found


def _doubts(handover: Handover, patient: Patient, limits: Limits) -> Iterator[Finding]:
    known = [each for each in handover.entries_of(patient) if each.at <= handover.as_of]
    rows = [each for each in known if each.says and each.by_staff]
    unnamed = [each for each in rows if each.what is What.TOLD and not each.about]
    settled = [each for each in rows if each.what is What.SETTLED and each.about]
    if not unnamed and not settled:
        return
    matters = follow(handover, patient, limits)
    asked = {
        told.place
        for matter in matters
        if matter.state is not MatterState.CLOSED
        for told in matter.about_unknown
    }
    named = {place for matter in matters for place in matter.settled_rows}
    for row in unnamed:
        if row.place in asked:
            yield _about(row, "told-about-what")
    for row in settled:
        if row.place not in named:
            yield _about(row, "settled-nothing-open")


def _about(row: Entry, code: str) -> Finding:
    choices = ", ".join(BY_NAME[Section.ENTRY, "about"].choices)
    return about(row, code, "about", choices=choices)

"""`handoff explain`: where the numbers of a patient's sheet come from."""

from argparse import Namespace
from collections.abc import Sequence

from handoff.arguments import EXPLAINED, bounds_of
from handoff.bounds import within
from handoff.commands.logs import gathered
from handoff.commands.outcome import NOTHING_PRODUCED, exit_code, report, say
from handoff.explain import Subject, explain
from handoff.judge import judge
from handoff.limits import load_limits
from handoff.measure import measure
from handoff.model import Handover, Patient
from handoff.refused import Refused


def run(options: Namespace) -> int:
    """Say the rows and the arithmetic behind the numbers of the patients in a bed."""
    handovers, findings = gathered(options)
    limits, limit_findings = load_limits(options.limits)
    findings += limit_findings
    report(findings)
    if limits is None or not handovers:
        return NOTHING_PRODUCED
    with within(bounds_of(options)):
        for handover, patient in _ordered_in(options.bed, handovers):
            measures = measure(handover)[patient.id]
            subject = Subject(handover, measures, judge(measures, handover, limits), limits)
            say(explain(subject, options.measure or EXPLAINED))
    return exit_code(findings)


def _ordered_in(bed: str, handovers: Sequence[Handover]) -> list[tuple[Handover, Patient]]:
    """The patients in this bed, of any unit, who have an order."""
    in_bed = [
        (handover, patient)
        for handover in handovers
        for patient in handover.patients
        if patient.bed == bed
    ]
    ordered = [(handover, patient) for handover, patient in in_bed if patient.order]
    if not ordered:
        what = "has no order with a start: nothing is measured" if in_bed else "is not on the list"
        raise Refused(f"the patient in bed {bed} {what}")
    return ordered

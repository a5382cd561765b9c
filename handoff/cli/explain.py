"""`handoff explain`: the origin of the numbers of a sheet, and the course of a danger."""

from argparse import Namespace
from collections.abc import Iterator, Sequence

from handoff.cli.arguments import EXPLAINED, bounds_of
from handoff.cli.logs import gathered
from handoff.cli.outcome import NOTHING_PRODUCED, exit_code, report, say
from handoff.explain import ALL_MATTERS, Subject, explain, explain_matters
from handoff.judge import BY_NAME
from handoff.judge.course import FOLLOWED_BY_SYMPTOM
from handoff.judge.signs import SYMPTOMS
from handoff.limits.reading import Limits, load_limits
from handoff.log.fields import nearest
from handoff.model.refused import Refused
from handoff.model.ward import Handover
from handoff.run.bounds import within
from handoff.run.judged import Judged, judge_unit
from handoff.run.units import UnitLogs


def run(options: Namespace) -> int:
    """Print the rows and the arithmetic behind the numbers of the patients in a bed, or the rows of
    a danger of their stay.
    """
    if options.matter:
        _refuse_unknown_matter(options.matter)
    bed = options.bed

    def with_bed(_: UnitLogs, handover: Handover) -> Handover | None:
        """The hand-over where somebody is, or was, in this bed."""
        beds = {patient.bed for patient in (*handover.patients, *handover.gone)}
        return handover if bed in beds else None

    handovers, findings, _ = gathered(options, with_bed)
    limits, limit_findings = load_limits(options.limits)
    findings += limit_findings
    report(findings)
    if limits is None or not handovers:
        return NOTHING_PRODUCED
    with within(bounds_of(options)):
        judged = [(each, judge_unit(each, limits)) for each in handovers if each]
        if not judged:
            raise Refused(f"the patient in bed {bed} is not on the list")
        if options.matter:
            texts = list(_matters_in(bed, options.matter, judged, limits))
        else:
            texts = _sheets_in(bed, options.measure or EXPLAINED, judged, limits)
        for text in texts:
            say(text)
    return exit_code(findings)


def _sheets_in(
    bed: str, parts: Sequence[str], judged: Sequence[tuple[Handover, Judged]], limits: Limits
) -> list[str]:
    """The explanation of each sheet of this bed, of any unit."""
    sheets = [
        explain(Subject(handover, measures, of.verdicts[patient_id], limits), parts)
        for handover, of in judged
        for patient_id, measures in of.measures.items()
        if measures.patient.bed == bed
    ]
    if not sheets:
        is_on_list = any(each.bed == bed for handover, _ in judged for each in handover.patients)
        what = (
            "has no order with a start: nothing is measured" if is_on_list else "is not on the list"
        )
        raise Refused(f"the patient in bed {bed} {what}; --matter {ALL_MATTERS} says what is open")
    return sheets


def _matters_in(
    bed: str, wanted: str, judged: Sequence[tuple[Handover, Judged]], limits: Limits
) -> Iterator[str]:
    """The matters of each patient who is in this bed, or left it, on any unit."""
    for handover, of in judged:
        for patient in (*handover.patients, *handover.gone):
            if patient.bed == bed:
                yield explain_matters(handover, patient, of.matters[patient.id], wanted, limits)


def _refuse_unknown_matter(wanted: str) -> None:
    """Refuse a name that is no rule, or no symptom of a rule that is followed symptom
    by symptom.
    """
    with_symptom = [f"{rule}:{word}" for rule in FOLLOWED_BY_SYMPTOM for word in SYMPTOMS[rule]]
    known = [ALL_MATTERS, *BY_NAME, *with_symptom]
    if wanted not in known:
        like = nearest(wanted, known)
        hint = f"the nearest is {like}" if like else f"give a rule, such as {known[1]}, or all"
        raise Refused(f"--matter {wanted}: there is no rule of this name; {hint}")

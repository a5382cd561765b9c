"""Runs the stages that measure and judge: one unit's hand-over -> `Judged`.

Input: a `Handover`, limits. Output: `Judged`, which is both printed and explained. Prints nothing.
"""

from collections.abc import Iterable, Mapping

from handoff.judge import follow, judge
from handoff.limits.reading import Limits
from handoff.measure import measure
from handoff.model.frozen import Frozen
from handoff.model.matters import Matter, Verdicts
from handoff.model.measures import Measures
from handoff.model.verdicts import Level
from handoff.model.ward import Handover, Patient


class Judged(Frozen):
    """By patient id: measures and verdicts of patients with an order or an open matter, in bed
    order; and the matters of all patients on the list or gone from it.
    """

    measures: Mapping[str, Measures]
    verdicts: Mapping[str, Verdicts]
    matters: Mapping[str, tuple[Matter, ...]]


def judge_unit(handover: Handover, limits: Limits) -> Judged:
    """The measures and verdicts of one unit's patients."""
    matters = {
        each.id: follow(handover, each, limits) for each in (*handover.patients, *handover.gone)
    }
    still_open = {key for key in handover.lapsed if _asks_for_a_sheet(matters.get(key, ()))}
    measures = measure(handover, without_order=still_open)
    verdicts = {key: judge(each, handover, limits, matters[key]) for key, each in measures.items()}
    return Judged(measures, verdicts, matters)


def is_still_open(handover: Handover, patient: Patient, limits: Limits) -> bool:
    """Whether a patient without an order now still gets a sheet because something is open."""
    if patient.id not in handover.lapsed:
        return False
    return _asks_for_a_sheet(follow(handover, patient, limits))


def _asks_for_a_sheet(matters: Iterable[Matter]) -> bool:
    return any(each.level is not Level.NOTE for each in matters)

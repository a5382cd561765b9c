"""The ward at a glance, and each patient: the words and marks of the sheets, as pages.

Input: the open logs. Output: pages made from the same `UnitPage` and `PatientPage` as the printed
sheets.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from flask import Blueprint, redirect, render_template, url_for
from markupsafe import Markup
from werkzeug.wrappers import Response

from handoff.compose.patient import compose_patient
from handoff.compose.unit import compose_unit
from handoff.desk import current
from handoff.desk.drawing import svg
from handoff.desk.edits import logbook
from handoff.desk.still_open import StillOpen, still_open
from handoff.desk.ward import Ward
from handoff.draw.chart import draw_spark, draw_volume
from handoff.explain import PARTS, Subject
from handoff.explain.text import lines_of
from handoff.model.measures import SlotState
from handoff.model.pages import UnitPage, UnitRow
from handoff.model.ward import Patient

BLUEPRINT = Blueprint("ward", __name__)
CHART_PT = (480.0, 210.0)  # narrower than on paper: its words are then large enough to read
SPARK_PT = (90.0, 26.0)

# The part of the explanation for each number of a sheet, by the name of its label.
BEHIND: Mapping[str, str] = {
    "best": "volume",
    "previous": "volume",
    "stay": "volume",
    "goal": "goal",
    "trend": "trend",
    "breaths": "adherence",
    "adherence": "adherence",
    "hold": "bedside",
    "pain": "bedside",
    "spo2": "bedside",
    "readings": "volume",
    "reference": "reference",
}
PART_TITLES = {
    "volume": "Volume: best, day before, stay",
    "adherence": "Breaths and adherence",
    "trend": "Trend",
    "goal": "Goal",
    "reference": "Reference",
    "bedside": "Hold, pain, SpO2",
    "cautions": "Cautions: every rule, met or not",
}
SLOT_WORDS = {
    SlotState.NOT_DUE: "nothing due",
    SlotState.MET: "met",
    SlotState.PART: "in part",
    SlotState.NONE: "none done",
    SlotState.UNCHARTED: "not charted",
}


@dataclass(frozen=True, slots=True)
class ShownUnit:
    """One unit's page, with a key, a trend line and the open matters for each of its rows.

    `keys` has the patients' keys by their names in its sections.
    """

    page: UnitPage
    key: str
    keys: Mapping[str, str]
    rows: tuple[tuple[UnitRow, str, Markup, StillOpen], ...]


@BLUEPRINT.get("/")
def ward() -> str | Response:
    """The unit summary as a page."""
    desk = current.desk()
    if not desk.paths:
        return redirect(url_for("logs.logs"))
    seen = desk.ward()
    if not seen.handovers:
        return render_template("nothing_open.html")
    units = [_shown_unit(seen, number) for number in range(len(seen.results))]
    return render_template("ward.html", units=units, read_only=logbook.read_only(seen.raw_logs))


@BLUEPRINT.get("/patients/<key>")
def patient(key: str) -> str:
    """A patient's sheet as a page."""
    seen = current.desk().ward()
    number, who = current.patient_of(seen, key)
    results, words = seen.results[number], seen.words[number]
    if who.id not in results.measures:
        alerts = current.who(seen, number, who).alerts
        return render_template("no_order.html", patient=who, alerts=alerts, key=key)
    sheet = list(results.measures).index(who.id) + 1, len(results.measures)
    page = compose_patient(results, who, words, sheet)
    # The chart is read out by its title; its content is also in the numbers beside it.
    title = f"{page.chart_title}. {page.chart_key}"
    chart = svg(draw_volume(page.chart, *CHART_PT), title, name="chart")
    return render_template(
        "patient.html",
        key=key,
        page=page,
        opened=still_open(seen, number, who),
        chart=chart,
        behind={words.say(f"numbers.{name}.label"): part for name, part in BEHIND.items()},
        parts=_explained(seen, number, who),
        slot_words=SLOT_WORDS,
    )


def _shown_unit(seen: Ward, number: int) -> ShownUnit:
    results, words = seen.results[number], seen.words[number]
    patients = {each.id: each for each in results.handover.patients}
    page = compose_unit(results, words)
    unit = results.handover.unit.name
    rows = tuple(
        (
            row,
            current.patient_key(unit, row.id),
            svg(
                draw_spark(row.spark, *SPARK_PT),
                "",
                name=f"trend-{number}-{place}",
            ),
            still_open(seen, number, patients[row.id]),
        )
        for place, row in enumerate(page.rows)
    )
    keys = {
        words.say("summary.who", bed=each.bed, name=each.name, id=each.id): current.patient_key(
            unit, each.id
        )
        for each in results.handover.patients
    }
    return ShownUnit(page, current.unit_key(unit), keys, rows)


def _explained(seen: Ward, number: int, who: Patient) -> list[tuple[str, str, str]]:
    """(part, title, text) of everything that `handoff explain` says of a patient."""
    results = seen.results[number]
    measures, verdicts = results.measures[who.id], results.verdicts[who.id]
    subject = Subject(results.handover, measures, verdicts, results.limits)
    return [
        (part, PART_TITLES[part], "\n".join(lines_of(part, explained(subject))))
        for part, explained in PARTS.items()
    ]

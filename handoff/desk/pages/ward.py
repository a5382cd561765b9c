"""The ward, with who is next, and each patient: the words and marks of the sheets, as pages.

Input: the open logs. Output: pages made from the same `UnitPage` and `PatientPage` as the printed
sheets.
"""

from collections.abc import Mapping

from flask import Blueprint, redirect, render_template, request, url_for
from markupsafe import Markup
from werkzeug.wrappers import Response

from handoff.compose.patient import compose_patient
from handoff.compose.unit import compose_unit
from handoff.desk import current
from handoff.desk.chart import chart_of
from handoff.desk.drawing import svg
from handoff.desk.edits import logbook
from handoff.desk.round import SORTS, Row, Turn, rows_of
from handoff.desk.still_open import still_open
from handoff.desk.ward import Ward
from handoff.draw.chart import draw_spark
from handoff.explain import PARTS, Subject
from handoff.explain.text import lines_of
from handoff.model.frozen import Frozen
from handoff.model.measures import TREND_D
from handoff.model.pages import UnitPage
from handoff.model.ward import Patient
from handoff.model.wording import DESK

BLUEPRINT = Blueprint("ward", __name__)
SPARK_PT = (90.0, 26.0)
SMALL_PT = (160.0, 34.0)

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


class ShownUnit(Frozen):
    """One unit's page, with its key, and its rows in the order of the unit summary, each with a
    trend line. `keys` has the patients' keys by their names in its sections.
    """

    page: UnitPage
    key: str
    keys: Mapping[str, str]
    rows: tuple[tuple[Row, Markup], ...]

    def small(self) -> list[tuple[Row, Markup]]:
        """The rows by bed, each with its chart of the same days as all others."""
        by_bed = (row for row, _ in self.sorted("bed"))
        return [
            (row, svg(draw_spark(row.row.spark, *SMALL_PT, -24.0 * TREND_D), "", name=row.key))
            for row in by_bed
        ]

    def sorted(self, sort: str) -> list[tuple[Row, Markup]]:
        """The rows in another order."""
        return sorted(self.rows, key=lambda each: SORTS[sort](each[0]))

    @property
    def late(self) -> int:
        """How many patients' breaths are late."""
        return sum(row.turn is Turn.LATE for row, _ in self.rows)

    @property
    def untold(self) -> int:
        """How many patients have a matter that nobody was told of."""
        return sum(row.opened.untold for row, _ in self.rows)


@BLUEPRINT.get("/")
def ward() -> str | Response:
    """Who is next, and the unit summary."""
    desk = current.desk()
    if not desk.paths:
        return redirect(url_for("logs.logs"))
    seen = desk.ward()
    if not seen.handovers:
        return render_template("nothing_open.html", **_shown(seen))
    return render_template("ward.html", **_shown(seen))


@BLUEPRINT.get("/live")
def live() -> str | tuple[str, int]:
    """What changes of the ward page, where it is not of the edition given in the address any
    more.
    """
    seen = current.desk().ward()
    if seen.edition == request.args.get("edition"):
        return "", 204
    return render_template("ward_live.html", **_shown(seen))


def _shown(seen: Ward) -> dict[str, object]:
    """The values for the templates of the ward; the list is made once for each order of it."""
    sort = request.args.get("sort", "")
    sort = sort if sort in SORTS else next(iter(SORTS))
    units = _units(seen)

    def lists() -> list[Markup]:
        return [Markup(render_template("ward_list.html", unit=unit, sort=sort)) for unit in units]  # noqa: S704 - a template's output

    return {
        "edition": seen.edition,
        "sort": sort,
        "units": list(zip(units, seen.kept(f"lists {sort}", lists), strict=True)),
        "late": sum(unit.late for unit in units),
        "untold": sum(unit.untold for unit in units),
        "read_only": logbook.read_only(seen.raw_logs),
    }


@BLUEPRINT.get("/round")
def small_charts() -> str:
    """The charts of the whole ward, small and beside each other, for the physician's round."""
    seen = current.desk().ward()
    if not seen.handovers:
        return render_template("nothing_open.html")
    return render_template("round.html", units=_units(seen))


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
    return render_template(
        "patient.html",
        key=key,
        page=page,
        opened=still_open(seen, number, who),
        chart=chart_of(seen, number, who, page),
        behind={words.say(f"numbers.{name}.label"): part for name, part in BEHIND.items()},
        parts=_explained(seen, number, who),
    )


def _units(seen: Ward) -> list[ShownUnit]:
    return seen.kept("units", lambda: [_shown_unit(seen, n) for n in range(len(seen.results))])


def _shown_unit(seen: Ward, number: int) -> ShownUnit:
    results, words = seen.results[number], seen.words[number]
    page = compose_unit(results, words)
    unit = results.handover.unit.name
    rows = tuple(
        (row, svg(draw_spark(row.row.spark, *SPARK_PT), "", name=f"trend-{number}-{place}"))
        for place, row in enumerate(rows_of(seen, number, page.rows))
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
        (part, DESK.say(f"patient.part.{part}"), "\n".join(lines_of(part, explained(subject))))
        for part, explained in PARTS.items()
    ]

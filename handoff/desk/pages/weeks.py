"""How the unit did over weeks: the review of the logs of the folder, and its PDF.

Input: the logs of the desk's folder, and the days chosen. Output: a page with the figures of the
PDF. Reads every log of the folder, so that it is made only when it is asked for. Computes nothing.
"""

from collections.abc import Iterator
from datetime import date

from flask import Blueprint, render_template, request
from markupsafe import Markup

from handoff.compose.review import compose_review
from handoff.desk import current
from handoff.desk.drawing import svg
from handoff.desk.ward import Desk
from handoff.draw.chart import draw_review_chart
from handoff.model.findings import Finding, Severity
from handoff.model.frozen import Frozen
from handoff.model.pages import ReviewFigure, ReviewPage
from handoff.run.handovers import read_weeks
from handoff.run.review import Weeks, print_review, review_unit, words_of

BLUEPRINT = Blueprint("weeks", __name__)
NARROW_PT, WIDE_PT = (270.0, 112.0), (560.0, 140.0)


class UnitWeeks(Frozen):
    """The review of one unit, the drawing of each figure by its title, and the key of its PDF."""

    page: ReviewPage
    drawings: dict[str, Markup]
    pdf: str


@BLUEPRINT.get("/weeks")
def weeks() -> str | tuple[str, int]:
    """The days to choose; with `show`, the review of each unit of the folder."""
    first, last = (request.args.get(name, "").strip() for name in ("first", "last"))
    desk = current.desk()
    asked: dict[str, object] = {"first": first, "last": last, "logs": len(desk.in_folder())}
    asked |= {"units": [], "findings": [], "problem": False, "made": False}
    if "show" not in request.args or not asked["logs"]:
        return render_template("weeks.html", **asked)
    try:
        since, until = map(_day, (first, last))
    except ValueError:
        return render_template("weeks.html", **{**asked, "problem": True}), 422
    if since and until and since > until:
        return render_template("weeks.html", **{**asked, "problem": True}), 422
    asked["units"], findings = _reviewed(desk, since, until)
    asked["findings"] = [each for each in findings if each.severity is Severity.ERROR]
    return render_template("weeks.html", **{**asked, "made": True})


def _day(text: str) -> date | None:
    """A day; None where the text is blank. Raises ValueError where it is no day."""
    return date.fromisoformat(text) if text else None


def _reviewed(
    desk: Desk, first: date | None, last: date | None
) -> tuple[list[UnitWeeks], list[Finding]]:
    """The review of each unit that has a shift in these days, and what is wrong with the logs."""
    setting = desk.setting
    logs, findings, lost = read_weeks(desk.in_folder(), setting.options(desk.now()))
    found: list[UnitWeeks] = []
    files: dict[str, bytes] = {}
    for number, unit in enumerate(logs):
        reviewed = review_unit(unit, setting.limits, Weeks(first, last, lost))
        findings += reviewed.findings
        if reviewed.review is None:
            continue
        words = words_of(reviewed.review, setting.printing)
        page = compose_review(reviewed.review, words)
        key = desk.key("printed", "review", reviewed.name)
        files[key] = print_review(page, words, setting.printing)
        found.append(UnitWeeks(page, dict(_drawings(page, number)), key))
    current.state().printed = files
    return found, findings


def _drawings(page: ReviewPage, unit: int) -> Iterator[tuple[str, Markup]]:
    cells = [cell for section in page.sections for cell in section.cells]
    for number, cell in enumerate(cells):
        if isinstance(cell, ReviewFigure) and cell.chart:
            size = WIDE_PT if cell.is_wide else NARROW_PT
            drawing = draw_review_chart(cell.chart, *size)
            yield cell.title, svg(drawing, cell.alt, f"figure-{unit}-{number}")

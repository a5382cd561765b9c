"""The weeks: the review of the logs of the folder, with the figures of the PDF."""

import re
from datetime import date
from html import unescape
from pathlib import Path

import pytest

from handoff.cli.main import main
from handoff.model.wording import shipped_templates
from tests.support.desks import Opened, open_desk, said
from tests.support.sheets import read_pdf
from tests.support.tags import Tagged
from tests.support.unit_weeks import Unit, write_logs

WEEKS = Unit(beds=8, days=10, changes_on=date(2026, 1, 10))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("weeks")
    write_logs(folder, WEEKS, seed=3)
    return folder


@pytest.fixture
def weeks(folder: Path) -> Opened:
    return open_desk(folder)


def test_nothing_is_reviewed_before_it_is_asked_for(weeks: Opened, tmp_path: Path) -> None:
    page = said(weeks.get("/weeks"))
    assert "all logs in the folder (20)" in page
    assert "In short" not in page
    assert "There is no log in the folder yet." in said(open_desk(tmp_path).get("/weeks?show=yes"))


def test_the_page_says_what_the_pdf_says_and_leads_to_it(
    weeks: Opened, folder: Path, tmp_path: Path
) -> None:
    answer = weeks.get("/weeks?show=yes&first=2026-01-06&last=2026-01-13")
    page = answer.get_data(as_text=True)
    logs = sorted(str(path) for path in folder.iterdir())
    period = ("--from", "2026-01-06", "--to", "2026-01-13")
    assert main(["review", *logs, *period, "--out", str(tmp_path / "out")]) == 0
    printed = (tmp_path / "out" / "review.pdf").read_bytes()
    key = page.partition("/sheets/")[2].partition(".pdf")[0]
    assert weeks.get(f"/sheets/{key}.pdf").data == printed
    text, shown = " ".join(read_pdf(printed).pages), said(answer)
    for words in ("6 Jan 2026 to 13 Jan 2026, 8 days", "Had a device", "How to read the charts"):
        assert words in text
        assert words in shown
    figures = [each.alt for each in Tagged(printed).root.all() if each.role == "Figure"]
    assert len(figures) > 4
    assert [unescape(each) for each in re.findall(r'aria-label="([^"]*)"><g', page)] == figures


@pytest.mark.parametrize("days", ["first=2026-01-09&last=2026-01-08", "first=yesterday"])
def test_days_that_make_no_period_are_refused(weeks: Opened, days: str) -> None:
    answer = weeks.get(f"/weeks?show=yes&{days}")
    assert answer.status_code == 422
    assert "the first no later than the last" in said(answer)


def test_days_without_a_shift_are_said_to_be(weeks: Opened) -> None:
    assert "starts in these days" in said(weeks.get("/weeks?show=yes&first=2030-01-01"))


def test_a_log_that_cannot_be_read_is_named_and_the_others_are_used(tmp_path: Path) -> None:
    write_logs(tmp_path, Unit(beds=4, days=2), seed=1)
    (tmp_path / "2026-01-07-day.yaml").write_text("unit: [")
    page = said(open_desk(tmp_path).get("/weeks?show=yes"))
    assert "What is wrong with the logs (1)" in page
    assert "2026-01-07-day.yaml" in page
    assert "from 4 of 4 logs" in page


def test_a_heat_map_is_not_turned_around_in_the_dark(weeks: Opened) -> None:
    """Its words say that dark is little."""
    styles = (shipped_templates() / "desk" / "static" / "desk.css").read_text(encoding="utf-8")
    assert ".wide-figure .drawing { filter: none; }" in styles.partition("scheme: dark) { .draw")[2]
    page = weeks.get("/weeks?show=yes").get_data(as_text=True)
    heat = page.partition('<figure class="wide-figure">')[2].partition("</figure>")[0]
    assert "<svg" in heat
    assert "Dark is little done" in heat

"""Orders at the desk: a new one beside the old, each corrected where it stands, carried on."""

import re
from datetime import UTC, datetime
from pathlib import Path

import pytest

from handoff.read import read
from tests.support.desks import (
    EVENING_CSV,
    NIGHT,
    Opened,
    fields_of_form,
    night,
    open_desk,
    said,
)

FIRST = "order: {start: 2026-03-06 10:00, breaths: 10, goal_ml: 1500}"
LISTED = NIGHT.replace(
    f"  {FIRST}\n",
    "  orders:\n  - {start: 2026-03-06 10:00, breaths: 10, goal_ml: 1500}\n"
    "  - {start: 2026-03-06 22:00, breaths: 5}\n",
)
ROW = "/put-right/row"


def patient_pages(opened: Opened) -> list[str]:
    ward = opened.get("/").get_data(as_text=True)
    return [f"/patients/{key}" for key in re.findall(r'data-key="(\w{24})"', ward)]


def add_order(opened: Opened, page: str, **typed: str) -> tuple[int, str]:
    """Fill in the form of a new order and send it; the status, and the words that follow."""
    form = fields_of_form(opened.get(f"{page}/order").get_data(as_text=True), f"{page}/order")
    answer = opened.post(f"{page}/order", {**form, **typed})
    follows = opened.get(answer.headers["Location"]) if answer.status_code == 303 else answer
    return answer.status_code, said(follows)


def orders(opened: Opened) -> list[tuple[int, int, float | None]]:
    """Hour of the start in UTC, breaths and goal of each order of the first patient."""
    (handover,) = opened.desk.ward().handovers
    found = {each.id: each.orders for each in handover.patients}["10442"]
    return [(each.start.hour, each.breaths, each.goal_ml) for each in found]


def test_a_new_order_stands_beside_the_old_with_its_own_start_and_is_undone(
    tmp_path: Path,
) -> None:
    text = NIGHT.replace(FIRST, FIRST[:-1] + ", usual_symptoms: [dizzy, cough], spo2_min: 88}")
    opened = night(tmp_path, text)
    page = next(each for each in patient_pages(opened) if "Larkspur" in said(opened.get(each)))
    assert f'href="{page}/order"' in opened.get(page).get_data(as_text=True)
    status, words = add_order(opened, page, order_breaths="5")
    assert (status, "An order needs its start" in words) == (422, True)
    status, words = add_order(opened, page, order_start="2026-03-06 10:00", order_every_h="2")
    assert (status, "An order from that time is in the log already" in words) == (422, True)
    assert (tmp_path / "night.yaml").read_text() == text
    status, words = add_order(
        opened, page, order_start="2026-03-06 22:00", order_breaths="5", order_every_h="2"
    )
    assert status == 303
    assert "until 22:00 10 breaths every hour, then 5 breaths every 2 hours" in words
    written = (tmp_path / "night.yaml").read_text()
    added = (
        '- id: "10442"\n  name: "Larkspur, Odile"\n  born: 1958-04-02\n'
        "  order: {start: 2026-03-06 22:00, breaths: 5, every_h: 2, goal_ml: 1500, hold_s: 5, "
        "spo2_min: 88, usual_symptoms: dizzy; cough}\n"
    ).replace("hold_s: 5, ", "")
    assert written == text.replace("entries:\n", added + "entries:\n", 1)
    assert orders(opened) == [(14, 10, 1500), (2, 5, 1500)]
    (handover,) = opened.desk.ward().handovers
    before, now = handover.patients[0].orders
    assert (now.usual_symptoms, now.spo2_min) == (before.usual_symptoms, 88)
    undo = fields_of_form(opened.get("/history").get_data(as_text=True), "/history/undo")
    assert opened.post("/history/undo", undo).status_code == 303
    assert (tmp_path / "night.yaml").read_text() == text


def test_a_new_order_in_a_table_is_a_row_of_its_own(tmp_path: Path) -> None:
    head, rows = EVENING_CSV.split("order_start;", 1)
    text = f"{head}order_start;order_breaths;order_every_h;{rows}".replace(
        "2026-03-06 10:00;", "2026-03-06 10:00;10;1;"
    )
    opened = night(tmp_path, text, "evening.csv")
    page = next(each for each in patient_pages(opened) if "Larkspur" in said(opened.get(each)))
    status, _ = add_order(
        opened, page, order_start="2026-03-06 22:00", order_breaths="5", order_every_h="2"
    )
    assert status == 303
    assert orders(opened) == [(14, 10, None), (2, 5, None)]
    assert len(read(str(tmp_path / "evening.csv")).entries) == 3
    assert opened.get(f"{page}/facts").get_data(as_text=True).count("2026-03-06 22:00") == 1


def test_each_order_is_corrected_where_it_stands_and_whoever_is_below_too(tmp_path: Path) -> None:
    opened = night(tmp_path, LISTED)
    one, other = sorted(patient_pages(opened), key=lambda each: "Quist" in said(opened.get(each)))
    page = opened.get(f"{one}/facts").get_data(as_text=True)
    assert "Other orders" in page
    second = fields_of_form(page, ROW, 2)
    assert second["cell-order_start"] == "2026-03-06 22:00"
    changed = {"cell-order_breaths": "6", "cell-goal_ml": "1200", "save": "place"}
    assert opened.post(ROW, {**second, **changed}).status_code == 303
    below = fields_of_form(opened.get(f"{other}/facts").get_data(as_text=True), ROW)
    assert opened.post(ROW, {**below, "cell-bed": "12C", "save": "place"}).status_code == 303
    assert (tmp_path / "night.yaml").read_text() == LISTED.replace(
        "{start: 2026-03-06 22:00, breaths: 5}",
        "{goal_ml: 1200, start: 2026-03-06 22:00, breaths: 6}",
    ).replace("bed: 12B", 'bed: "12C"')


@pytest.mark.parametrize("save", ["place", "copy"])
def test_a_bed_that_is_taken_is_told_on_the_page_that_follows_with_how_to_mend_it(
    tmp_path: Path, save: str
) -> None:
    opened = night(tmp_path, NIGHT.replace("25O0", "2500"))
    page = next(each for each in patient_pages(opened) if "Larkspur" in said(opened.get(each)))
    told = ("Two patients are in one bed", "correct the one that is wrong", "Undo this")
    for bed, is_told in (("12B", True), ("12C", False)):
        form = fields_of_form(opened.get(f"{page}/facts").get_data(as_text=True), ROW)
        answer = opened.post(ROW, {**form, "cell-bed": bed, "save": save})
        words = said(opened.get(answer.headers["Location"]))
        assert [each in words for each in told] == [is_told, is_told, True]


def test_an_order_from_now_has_the_time_and_every_start_is_told_as_it_was_read(
    tmp_path: Path,
) -> None:
    (tmp_path / "night.yaml").write_text(NIGHT)
    at = datetime(2026, 3, 7, 2, 5, 30, tzinfo=UTC)  # 22:05 at the unit
    opened = open_desk(tmp_path, "night.yaml", clock=lambda: at)
    page = next(each for each in patient_pages(opened) if "Larkspur" in said(opened.get(each)))
    assert "now, or as" in said(opened.get(f"{page}/order"))
    status, words = add_order(opened, page, order_start="Now", order_every_h="25")
    assert (status, "Not written yet" in words) == (422, True)
    for start, is_read in (("Now", "2026-03-06 22:05"), ("21:30", "2026-03-06 21:30")):
        status, words = add_order(opened, page, order_start=start, order_every_h="2")
        assert status == 303
        assert f"Added an order from {is_read}" in words
    status, words = add_order(opened, page, order_start="now", order_every_h="2")
    assert (status, "An order from that time is in the log already" in words) == (422, True)
    assert 'value="2026-03-06 22:05"' in opened.post(
        f"{page}/order", {"order_start": "now"}
    ).get_data(as_text=True)


def test_where_no_log_can_be_used_the_page_asks_until_one_can(tmp_path: Path) -> None:
    opened = night(tmp_path)
    log = tmp_path / "night.yaml"
    text = log.read_text()
    log.write_text("unit: [")
    page = opened.get("/").get_data(as_text=True)
    assert "No open log can be used" in page
    assert "/static/ward.js" in page
    (edition, logs) = re.findall(r'data-edition="([^"]+)".*data-logs="([^"]*)"', page)[0]
    assert opened.get(f"/live?edition={edition}").status_code == 204
    log.write_text(text)
    news = opened.get(f"/live?edition={edition}").get_data(as_text=True)
    assert f'data-logs="{logs}"' not in news  # so that the page is opened anew

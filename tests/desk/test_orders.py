"""Orders at the desk: a new one beside the old, each corrected where it stands, carried on."""

import re
from pathlib import Path

from handoff.read import read
from tests.support.desks import (
    EVENING_CSV,
    NIGHT,
    Opened,
    fields_of_form,
    night,
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

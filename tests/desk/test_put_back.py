"""An entry written here that another program's stale save took away is missed, and put back."""

import re
from pathlib import Path

import pytest

from tests.support.desks import NIGHT, Opened, fields_of_form, night, open_desk, said

GONE = "written here is no longer in"


@pytest.fixture
def opened(tmp_path: Path) -> Opened:
    """A desk with one entry written here."""
    opened = night(tmp_path)
    page = opened.get("/entry").get_data(as_text=True)
    key = re.findall(r'<option value="(\w{24})"', page)[0]
    row = {"bed": key, "form": "one", "at": "21:00", "breaths": "5", "note": "<i>sat up</i>"}
    assert opened.post("/entry", row).status_code == 303
    assert GONE not in said(opened.get("/"))
    return opened


def log(opened: Opened) -> Path:
    return Path(opened.desk.paths[0])


def answer(opened: Opened, choice: str) -> str:
    form = fields_of_form(opened.get("/logs").get_data(as_text=True), "/put-back")
    done = opened.post("/put-back", {**form, "choice": choice})
    assert done.status_code == 303
    return said(opened.get(done.headers["Location"]))


def test_an_entry_that_a_stale_save_took_away_is_named_on_every_page_and_put_back(
    opened: Opened,
) -> None:
    written = log(opened).read_text()
    log(opened).write_text(NIGHT + '- {patient: "00718", at: 21:30, breaths: 7}\n')
    for path in ("/", "/entry", "/put-right", "/logs"):
        page = said(opened.get(path))
        assert f"One entry {GONE} {log(opened)}" in page
        assert "bed 12A, Larkspur, Odile, 21:00: Breaths 5; Note <i>sat up</i>" in page
    assert "one entry." in answer(opened, "put back")
    assert log(opened).read_text() == NIGHT + (
        '- {patient: "00718", at: 21:30, breaths: 7}\n' + written.removeprefix(NIGHT)
    )
    assert GONE not in said(opened.get("/"))
    log(opened).write_text(NIGHT)
    assert GONE in said(opened.get("/"))  # it is missed again


def test_an_entry_that_was_taken_out_on_purpose_can_be_left_out(opened: Opened) -> None:
    log(opened).write_text(NIGHT)
    assert "Left out of" in answer(opened, "leave out")
    assert GONE not in said(opened.get("/"))
    assert log(opened).read_text() == NIGHT


def test_an_entry_changed_elsewhere_is_not_missed(opened: Opened) -> None:
    log(opened).write_text(log(opened).read_text().replace("breaths: 5", "breaths: 6"))
    assert GONE not in said(opened.get("/"))


def test_an_entry_corrected_here_is_missed_as_it_is_now(opened: Opened) -> None:
    key = opened.desk.key("patient", "Harbour 3 East", "10442")
    html = opened.get(f"/patients/{key}/facts").get_data(as_text=True)
    form = fields_of_form(html, "/put-right/row", 1)
    assert form["cell-breaths"] == "5"
    done = opened.post("/put-right/row", {**form, "cell-breaths": "9", "save": "place"})
    assert done.status_code == 303
    assert GONE not in said(opened.get("/"))
    log(opened).write_text(NIGHT)
    assert "21:00: Breaths 9" in said(opened.get("/"))


def test_what_has_changed_since_the_page_is_not_put_back(opened: Opened) -> None:
    now = log(opened).read_text()
    log(opened).write_text(NIGHT)
    form = fields_of_form(opened.get("/logs").get_data(as_text=True), "/put-back")
    log(opened).write_text(now)
    assert opened.post("/put-back", {**form, "choice": "put back"}).status_code == 409
    assert log(opened).read_text() == now


def test_what_another_desk_took_out_moved_or_corrected_is_not_offered_to_be_put_back(
    opened: Opened,
) -> None:
    """It would be an entry of the wrong patient, or of the wrong hour, once more."""
    other = open_desk(log(opened).parent, log(opened).name)
    written = log(opened).read_text()
    keys = [other.desk.key("patient", "Harbour 3 East", each) for each in ("10442", "00718")]
    for action, more in {
        "/put-right/remove": {},
        "/put-right/move": {"to": keys[1]},
        "/put-right/row": {"cell-at": "22:00", "save": "place"},
    }.items():
        html = other.get(f"/patients/{keys[0]}/facts").get_data(as_text=True)
        number = 1 if action == "/put-right/row" else 0
        form = fields_of_form(html, action, number)
        done = other.post(action, {**form, **more})
        assert done.status_code == 303, action
        assert GONE not in said(opened.get("/")), action
        undo = fields_of_form(
            other.get(done.headers["Location"]).get_data(as_text=True), "/history/undo"
        )
        assert other.post("/history/undo", undo).status_code == 303
        assert log(opened).read_text() == written
    log(opened).write_text(NIGHT)
    assert GONE in said(opened.get("/"))  # no desk took it out: an editor did

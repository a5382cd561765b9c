"""What was typed and is not saved: kept for its owner, once, and given to no other program."""

import json
import os
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from handoff.desk.current import STATE
from handoff.desk.drafts import LONGEST_DRAFT, MOST_DRAFTS, NAME
from handoff.desk.safety import FORM_KEY
from tests.support.desks import NIGHT, Opened, fields_of_form, night, open_desk, said
from tests.support.runs import is_its_owners

DRAFT = {"name": "/entry bed=1", "address": "/entry?bed=1", "words": "<b>Entry</b>", "typed": "[]"}


@pytest.fixture
def opened(tmp_path: Path) -> Opened:
    return night(tmp_path)


def kept(folder: Path) -> list[Path]:
    return list(folder.glob(f"{NAME}*"))


def test_a_draft_is_a_file_of_its_owner_that_is_no_log_until_it_is_thrown_away(
    opened: Opened, tmp_path: Path
) -> None:
    assert opened.post("/drafts", DRAFT).status_code == 204
    (file,) = kept(tmp_path)
    assert is_its_owners(file)
    assert opened.desk.in_folder() == [str(tmp_path / "night.yaml")]
    page = opened.get("/logs").get_data(as_text=True)
    assert "&lt;b&gt;Entry&lt;/b&gt;, typed 2" in page
    (draft,) = opened.desk.drafts.all().values()
    by_the_wards_clock = opened.desk.now().astimezone(ZoneInfo("America/Halifax"))
    assert draft.at == f"{by_the_wards_clock:%Y-%m-%d %H:%M}"
    changed = {**DRAFT, "name": "/entry bed=2", "was": DRAFT["name"], "typed": '[["at","1"]]'}
    assert opened.post("/drafts", changed).status_code == 204
    (draft,) = json.loads(opened.get("/drafts").data)
    assert (draft["name"], draft["typed"]) == ("/entry bed=2", '[["at","1"]]')
    gone = opened.post("/drafts/throw-away", {"name": "/entry bed=2"})
    assert "thrown away" in said(opened.get(gone.headers["Location"]))
    assert kept(tmp_path) == []
    assert (tmp_path / "night.yaml").read_text() == NIGHT


def test_closing_the_desk_says_how_many_forms_are_not_saved_and_asks(
    opened: Opened, tmp_path: Path
) -> None:
    state = opened.client.application.extensions[STATE]
    opened.post("/drafts", DRAFT)
    asked = opened.post("/logs/close-desk")
    assert "Close the desk? 1 form is typed and not saved" in said(asked)
    assert "is kept in the folder" in said(asked)
    assert state.closed is None
    opened.post("/drafts", {**DRAFT, "name": "/entry bed=2"})  # typed meanwhile, in another tab
    again = opened.post("/logs/close-desk", fields_of_form(asked.text, "/logs/close-desk"))
    assert "2 forms are typed and not saved" in said(again)
    assert state.closed is None
    closed = opened.post("/logs/close-desk", fields_of_form(again.text, "/logs/close-desk"))
    assert "The desk is closed" in said(closed)
    assert "2 forms are typed and not saved" in said(closed)
    assert state.closed is not None
    assert len(open_desk(tmp_path).desk.drafts.all()) == 2


def test_the_next_run_knows_the_draft_and_whose_it_is_and_a_run_without_one_knows_no_key(
    opened: Opened, tmp_path: Path
) -> None:
    key = opened.desk.key("patient", "Harbour 3 East", "10442")
    assert open_desk(tmp_path).desk.key("patient", "Harbour 3 East", "10442") != key
    opened.post("/drafts", DRAFT)
    again = open_desk(tmp_path, "night.yaml")
    assert again.desk.key("patient", "Harbour 3 East", "10442") == key
    assert list(again.desk.drafts.all()) == [DRAFT["name"]]


@pytest.mark.parametrize(
    "address", ["", "http://evil.example/", "//evil.example", "/\\evil.example"]
)
def test_a_draft_leads_to_no_other_site(opened: Opened, address: str) -> None:
    opened.post("/drafts", {**DRAFT, "address": address})
    assert opened.desk.drafts.all() == {}


def test_too_much_to_keep_is_refused_and_the_rest_stays(opened: Opened) -> None:
    for number in range(MOST_DRAFTS):
        opened.post("/drafts", {**DRAFT, "name": str(number)})
    assert opened.post("/drafts", DRAFT).status_code == 409
    assert opened.post("/drafts", {**DRAFT, "name": "0", "was": "0"}).status_code == 204
    long = {**DRAFT, "was": "0", "typed": "x" * (LONGEST_DRAFT + 1)}
    assert opened.post("/drafts", long).status_code == 409
    assert len(opened.desk.drafts.all()) == MOST_DRAFTS


def test_a_full_disk_is_told_and_leaves_the_draft_before(
    opened: Opened, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened.post("/drafts", DRAFT)

    def fail(_descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", fail)
    answer = opened.post("/drafts", {**DRAFT, "typed": "[1]"})
    assert answer.status_code == 409
    assert "No space left on device" in said(answer)
    assert opened.desk.drafts.all()[DRAFT["name"]].typed == "[]"


@pytest.mark.parametrize("content", [b"", b"{}", b'{"secret": "x", "drafts": [{}]}', b"\xff"])
def test_a_mangled_file_of_drafts_stops_nothing(tmp_path: Path, content: bytes) -> None:
    (tmp_path / f"{NAME}-0").write_bytes(content)
    opened = night(tmp_path)
    assert opened.get("/").status_code == 200
    assert opened.post("/drafts", DRAFT).status_code == 204
    assert (tmp_path / f"{NAME}-0").read_bytes() == content


def test_only_the_desks_own_pages_keep_and_read_drafts(opened: Opened) -> None:
    assert opened.post("/drafts", {**DRAFT, FORM_KEY: "guessed"}).status_code == 403
    opened.post("/drafts", DRAFT)
    assert opened.get("/drafts", headers={"Sec-Fetch-Site": "same-site"}).status_code == 403
    assert opened.get("/alive").text == opened.gate.form_key
    opened.leave()
    for path in ("/drafts", "/alive"):
        assert opened.get(path).status_code == 401

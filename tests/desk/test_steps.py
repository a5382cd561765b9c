"""Danger is handed over: it stands there from the first minute of the next log, and each step that
closes it is one small form, which records nothing that nobody said.
"""

import re
from html import unescape
from pathlib import Path

import pytest
from werkzeug.test import TestResponse

from handoff.desk.still_open import MEASURED_BY
from handoff.judge.matters import DANGERS
from handoff.judge.unreadable import SIGN_UNREADABLE
from handoff.judge.vitals import VITALS
from handoff.model.matters import Matter, MatterState
from handoff.read import read
from tests.support.desks import EVENING_CSV, STORY, Opened, fields_of_form, night, open_desk, said

NAMES = {"low-oxygen", "faint-or-chest-pain:faint", "faint-or-chest-pain:chest_pain"}


@pytest.fixture
def opened(tmp_path: Path) -> Opened:
    """The shift after the story: its log was started on the desk, and nothing is charted in it."""
    opened = night(tmp_path, STORY)
    assert start_next(opened).status_code == 303
    return opened


def start_next(opened: Opened, **more: str | list[str]) -> TestResponse:
    page = opened.get("/logs/new").get_data(as_text=True)
    form = fields_of_form(page, "/logs/new")
    kept = re.findall(r'name="keep" value="(\w+)" checked', page)
    return opened.post("/logs/new", {**form, "name": "day", "keep": kept, **more})


def address(opened: Opened, name: str = "Larkspur") -> str:
    page = opened.get("/").get_data(as_text=True)
    return str(re.findall(rf'href="(/patients/\w{{24}})">{name}', page)[0])


def matters(opened: Opened, patient: str = "10442") -> dict[str, Matter]:
    verdicts = opened.desk.ward().results[0].verdicts[patient]
    return {each.name: each for each in verdicts.matters}


def links(opened: Opened, path: str, pattern: str) -> dict[str, str]:
    """The addresses of a page's links of a kind, by their words."""
    page = opened.get(path).get_data(as_text=True)
    found = re.findall(rf'<a [^>]*href="({pattern})"[^>]*>(.*?)</a>', page)
    return {re.sub("<.*?>", "", words): unescape(link) for link, words in found}


def boxes(page: str) -> list[tuple[str, bool]]:
    """The words of each box of a step's form, and whether it is ticked."""
    found = re.findall(r'<input type="checkbox" name="about" value="([^"]*)"([^>]*)>', page)
    return [(value, "checked" in rest) for value, rest in found]


def added(opened: Opened) -> list[dict[str, str]]:
    return [dict(each.cells) for each in read(opened.desk.paths[-1]).entries if each.cells]


def row(cells: dict[str, str], *names: str) -> dict[str, str]:
    return {name: cells.get(name, "") for name in names}


def test_what_nobody_was_told_stands_there_from_the_first_minute_of_the_next_log(
    opened: Opened, tmp_path: Path
) -> None:
    assert opened.desk.paths == (
        str(tmp_path / "night.yaml"),
        str(tmp_path / "2026-03-07-day.yaml"),
    )
    assert "day shift" in said(opened.get("/"))
    assert added(opened) == []
    results = opened.desk.ward().results[0]
    assert str(results.verdicts["10442"].priority) == "escalate"
    assert {name: each.state for name, each in matters(opened).items()} == dict.fromkeys(
        NAMES, MatterState.OPEN
    )
    for page in (said(opened.get("/")), said(opened.get(address(opened)))):
        for words in ("SpO2 84 % at 03:50", "Faint charted at 03:50", "Chest pain charted"):
            assert words in page
        assert "ESCALATE" in page
        assert "From night, 7 Mar 03:50" in page
    page = opened.get("/").get_data(as_text=True)
    rows = re.findall(r'<tr class="line escalate">.*?</tr>', page, re.DOTALL)
    assert len(rows) == 1
    words = re.sub("<[^>]+>", " ", rows[0])
    assert "Larkspur" in words
    assert "No exercise until the provider has answered" in " ".join(words.split())
    assert "oach" not in words
    assert 'class="level aside">TOLD' not in rows[0]


def test_precautions_stand_in_heavy_type_on_every_page_of_the_patient(opened: Opened) -> None:
    patient = address(opened)
    bed = patient.split("/")[-1]
    heavy = r'<(p|strong) class="(precautions|careful)">PRECAUTIONS: flat, spine not cleared<'
    steps = [f"{patient}/{step}" for step in ("told", "hold", "settled", "left", "facts")]
    for path in ("/", patient, f"/entry?bed={bed}", *steps):
        assert re.search(heavy, opened.get(path).get_data(as_text=True)), path
    assert "PRECAUTIONS" not in said(opened.get(address(opened, "Quist")))


def test_a_shift_that_no_log_tells_of_is_named_on_the_patients_page(tmp_path: Path) -> None:
    later = STORY.replace(
        "night, start: 2026-03-06 20:00, end: 2026-03-07 04:00",
        "day, start: 2026-03-07 12:00, end: 2026-03-07 20:00",
    ).split("entries:")[0]
    (tmp_path / "later.yaml").write_text(later + "entries:\n")
    opened = night(tmp_path, STORY)
    opened.desk.open([*opened.desk.paths, str(tmp_path / "later.yaml")])
    gap = "No log of 7 Mar 04:00 to 7 Mar 12:00: what happened then is not known here."
    assert f'<p class="alert">{gap}' in opened.get(address(opened)).get_data(as_text=True)


def test_a_told_form_ticks_nothing_by_itself_and_closes_only_what_is_ticked(
    opened: Opened,
) -> None:
    patient = address(opened)
    page = opened.get(f"{patient}/told").get_data(as_text=True)
    ticked = boxes(page)
    assert [value for value, _ in ticked[:5]] == ["oxygen", "faint", "chest_pain", "all", "other"]
    assert not any(is_ticked for _, is_ticked in ticked)
    assert said(opened.get(f"{patient}/told")).count("NOT TOLD") == 3
    form = fields_of_form(page, f"{patient}/told")
    answer = opened.post(
        f"{patient}/told",
        {**form, "at": "04:10", "note": "Dr Quill: comes", "about": ["faint", "oxygen"]},
    )
    assert answer.status_code == 303
    (told,) = added(opened)
    assert row(told, "what", "about", "note", "at") == {
        "what": "told",
        "about": "oxygen;faint",
        "note": "Dr Quill: comes",
        "at": "04:10",
    }
    assert {name: str(each.state) for name, each in matters(opened).items()} == {
        "low-oxygen": "told",
        "faint-or-chest-pain:faint": "told",
        "faint-or-chest-pain:chest_pain": "open",
    }
    after = said(opened.get(answer.headers["Location"]))
    assert "Added. Bed 12A, Larkspur, Odile" in after
    assert after.count("ESCALATE TOLD") == 2  # and not beside the priority: one is not told yet
    assert 'Told 04:10: "Dr Quill: comes"' in after
    form_now = said(opened.get(f"{patient}/told"))
    assert form_now.index("Chest pain NOT TOLD") < form_now.index("Low oxygen TOLD")
    assert "Told of 12A" in said(opened.get("/"))


def test_when_all_is_told_the_priority_says_so_on_both_pages(opened: Opened) -> None:
    patient = address(opened)
    data = {"at": "04:10", "note": "Dr Quill: comes", "about": "all", "form": "f"}
    assert opened.post(f"{patient}/told", data).status_code == 303
    assert added(opened)[0]["about"] == "all"
    assert {str(each.state) for each in matters(opened).values()} == {"told"}
    assert "ESCALATE TOLD" in said(opened.get("/"))
    head = opened.get(patient).get_data(as_text=True).split("</header>")[1]
    assert 'ESCALATE</strong> <strong class="level aside">TOLD' in head
    assert "Told of 12A" not in said(opened.get("/"))


@pytest.mark.parametrize(
    ("step", "cells", "words"),
    [
        ("told", {"note": "Dr Quill"}, "Tick what it is about"),
        ("told", {"about": "oxygen"}, "Write down who it was"),
        ("settled", {"note": "Dr Quill"}, "Tick what it is about"),
        ("settled", {"note": "", "about": "oxygen"}, "Write down who it was"),
        ("hold", {}, "Write down who it was"),
        ("hold", {"note": "Dr Quill", "until": "2026-03-30 07:00"}, "14 days after"),
        ("asleep", {"note": "dozes"}, "Choose until when no breaths are due"),
        ("away", {"until_chosen": ""}, "Choose until when no breaths are due"),
        ("told", {"note": "Dr Quill", "about": "oxigen"}, "oxigen"),
        ("told", {"note": "Dr Quill", "about": "oxygen", "at": "25:00"}, "Not a date and time"),
    ],
)
def test_a_step_that_would_close_nothing_is_not_written_and_nothing_typed_is_lost(
    opened: Opened, step: str, cells: dict[str, str], words: str
) -> None:
    patient = address(opened)
    answer = opened.post(f"{patient}/{step}", {"at": "04:10", "form": "f", **cells})
    assert answer.status_code == 422
    assert words.lower() in said(answer).lower()
    assert added(opened) == []
    page = answer.get_data(as_text=True)
    if cells.get("note"):
        assert f'value="{cells["note"]}"' in page
    if cells.get("about") == "oxygen":
        assert ("oxygen", True) in boxes(page)
        assert ("faint", False) in boxes(page)


def test_told_of_what_is_no_escalation_takes_the_logs_other_words(opened: Opened) -> None:
    patient = address(opened, "Quist")
    page = opened.get(f"{patient}/told").get_data(as_text=True)
    offered = [value for value, _ in boxes(page)]
    assert offered[:2] == ["all", "other"]
    assert {"pain", "dizzy", "volume"} <= set(offered)
    data = {"at": "04:10", "note": "Dr Quill", "about": ["pain", "other"], "form": "f"}
    assert opened.post(f"{patient}/told", data).status_code == 303
    assert added(opened)[0]["about"] == "pain;other"


def test_each_matter_leads_to_its_own_box_without_ticking_it(opened: Opened) -> None:
    found = links(opened, address(opened), r"/patients/\w+/told\?of=\w+")
    assert set(found) == {
        f"Write down whom you told ({title})" for title in ("Low oxygen", "Faint", "Chest pain")
    }
    page = opened.get(found["Write down whom you told (Chest pain)"]).get_data(as_text=True)
    assert re.findall(r'value="(\w+)"[^>]* autofocus', page) == ["chest_pain"]
    assert not any(is_ticked for _, is_ticked in boxes(page))
    for link in found.values():
        assert "oxygen" not in link


def test_a_hold_and_its_end_are_one_form_each(opened: Opened) -> None:
    patient = address(opened, "Quist")
    assert "/hold" in opened.get(patient).get_data(as_text=True)
    assert opened.get(f"{patient}/resume").status_code == 303  # no hold, nothing to end
    data = {"at": "04:30", "note": "Dr Quill: imaging first", "form": "f"}
    answer = opened.post(f"{patient}/hold", data)
    assert answer.status_code == 303
    page = said(opened.get(answer.headers["Location"]))
    assert 'No exercise: held since 04:30. "Dr Quill: imaging first".' in page
    assert "The exercise may go on" in page
    assert "Hold the exercise" not in page
    html = opened.get("/").get_data(as_text=True)
    (shown,) = [each for each in re.findall(r"<tr.*?</tr>", html, re.DOTALL) if "Quist" in each]
    assert "No exercise while it is held" in shown
    assert "oach" not in shown
    again = opened.post(f"{patient}/resume", {"at": "06:00", "note": "", "form": "g"})
    assert again.status_code == 422
    ended = {"at": "06:00", "note": "Dr Quill: may go on", "form": "g"}
    assert opened.post(f"{patient}/resume", ended).status_code == 303
    assert opened.desk.ward().results[0].measures["00718"].hold is None
    assert [each["what"] for each in added(opened)] == ["hold", "resume"]
    assert "Hold the exercise" in said(opened.get(patient))


def test_a_hold_until_a_time_is_written_with_it(opened: Opened) -> None:
    patient = address(opened, "Quist")
    data = {"at": "04:30", "until": "2026-03-08 07:00", "note": "Dr Quill", "form": "f"}
    assert opened.post(f"{patient}/hold", data).status_code == 303
    assert added(opened)[0]["until"] == "2026-03-08 07:00"
    hold = opened.desk.ward().results[0].measures["00718"].hold
    assert hold is not None
    assert hold.until is not None


def test_settled_is_said_by_somebody_licensed_of_what_is_ticked(opened: Opened) -> None:
    patient = address(opened)
    page = said(opened.get(f"{patient}/settled"))
    assert "Only somebody licensed decides that it is over" in page
    html = opened.get(f"{patient}/settled").get_data(as_text=True)
    assert boxes(html) == [("oxygen", False), ("faint", False), ("chest_pain", False)]
    data = {"at": "04:40", "note": "Dr Quill saw her: over", "about": ["faint"], "form": "f"}
    assert opened.post(f"{patient}/settled", data).status_code == 303
    states = {name: str(each.state) for name, each in matters(opened).items()}
    assert states["faint-or-chest-pain:faint"] == "settled"
    assert states["low-oxygen"] == states["faint-or-chest-pain:chest_pain"] == "open"
    left = boxes(opened.get(f"{patient}/settled").get_data(as_text=True))
    assert [value for value, _ in left] == ["oxygen", "chest_pain"]  # faint is only to be told yet
    told = boxes(opened.get(f"{patient}/told").get_data(as_text=True))
    assert "faint" in [value for value, _ in told]
    nobody = address(opened, "Quist")
    assert opened.get(f"{nobody}/settled").status_code == 303


def test_measured_again_is_one_step_with_the_wanted_fields_open(opened: Opened) -> None:
    patient = address(opened)
    found = links(opened, patient, r"/entry\?[^\"]*again=\w+")
    assert set(found) == {
        "Measured again (Low oxygen)",
        "Asked again (Faint)",
        "Asked again (Chest pain)",
    }
    page = opened.get(found["Measured again (Low oxygen)"]).get_data(as_text=True)
    before_button = page.split('class="actions"')[0]
    for name in ("spo2", "on_oxygen", "oxygen"):
        assert f'name="{name}"' in before_button
    assert 'name="breaths"' not in before_button
    assert 'name="breaths"' in page
    assert re.search(r'name="spo2"[^>]* autofocus', page)
    assert "measure SpO2 again" in said(opened.get(found["Measured again (Low oxygen)"]))
    form = {"again": fields_of_form(page, "/entry")["again"], "form": "one"}
    data = {**form, "bed": patient[-24:], "at": "04:55", "spo2": "97", "on_oxygen": "no"}
    answer = opened.post("/entry", data)
    assert answer.headers["Location"].startswith(patient)  # back to what is open
    assert row(added(opened)[0], "what", "spo2", "on_oxygen") == {
        "what": "",
        "spo2": "97",
        "on_oxygen": "no",
    }
    assert str(matters(opened)["low-oxygen"].state) == "settled"
    asked = opened.get(found["Asked again (Faint)"]).get_data(as_text=True)
    shown = asked.split('class="actions"')[0]
    words = re.findall(r'name="symptoms" value="(\w+)"([^>]*)>', shown)
    assert words[0][0] == "none"
    assert "autofocus" in words[0][1]
    assert not any("checked" in rest for _, rest in words)
    data = {"form": "two", "bed": patient[-24:], "at": "04:56", "symptoms": "none"}
    assert opened.post("/entry", data).status_code == 303
    states = {name: str(each.state) for name, each in matters(opened).items()}
    assert set(states.values()) == {"settled"}
    assert not links(opened, patient, r"/entry\?[^\"]*again=\w+")


def test_what_was_typed_while_measuring_again_is_kept_when_it_is_wrong(opened: Opened) -> None:
    patient = address(opened)
    link = links(opened, patient, r"/entry\?[^\"]*again=\w+")["Measured again (Low oxygen)"]
    form = fields_of_form(opened.get(link).get_data(as_text=True), "/entry")
    answer = opened.post("/entry", {**form, "bed": patient[-24:], "at": "04:55", "spo2": "9,7"})
    assert answer.status_code == 422
    page = answer.get_data(as_text=True)
    assert f'name="again" value="{form["again"]}"' in page
    assert 'name="spo2" value="9,7"' in page.split('class="actions"')[0]


def test_the_first_symptom_to_tick_is_none(opened: Opened) -> None:
    words = re.findall(r'name="symptoms" value="(\w+)"', opened.get("/entry").text)
    assert words[0] == "none"
    assert len(words) == len(set(words)) == 11


def test_told_and_settled_is_closed_and_no_step_is_offered_any_more(opened: Opened) -> None:
    patient = address(opened)
    told = {"at": "04:10", "note": "Dr Quill: comes", "about": "all", "form": "f"}
    over = {
        "at": "05:00",
        "note": "Dr Quill: over",
        "about": ["oxygen", "faint", "chest_pain"],
        "form": "g",
    }
    for step, data in (("told", told), ("settled", over)):
        assert opened.post(f"{patient}/{step}", data).status_code == 303
    assert {str(each.state) for each in matters(opened).values()} == {"closed"}
    page = opened.get(patient).get_data(as_text=True)
    assert "/settled" not in page
    assert "home-held" not in page
    assert start_next(opened, name="evening").status_code == 303
    assert "ESCALATE" not in said(opened.get("/"))


def test_what_is_over_and_was_never_told_is_counted_two_hand_overs_later(opened: Opened) -> None:
    over = {"at": "05:00", "note": "Dr Quill: over", "form": "g"}
    about = ["oxygen", "faint", "chest_pain"]
    opened.post(f"{address(opened)}/settled", {**over, "about": about})
    counted = "Never recorded as told, long settled: 3."
    assert counted not in said(opened.get(address(opened)))
    for name in ("evening", "night"):
        assert start_next(opened, name=name).status_code == 303
    assert counted in said(opened.get(address(opened)))
    assert counted in said(opened.get("/"))


def test_the_page_to_take_home_says_why_it_was_held_back(opened: Opened) -> None:
    patient = address(opened)
    words = said(opened.get(patient))
    assert "it is not printed with the others: low oxygen is not closed, faint is not" in words
    button = re.findall(
        r'<a class="button[^>]*>Print the page to take home', opened.get(patient).text
    )
    assert len(button) == 1
    assert "main" not in button[0]
    assert 'aria-describedby="home-held"' in button[0]
    assert opened.get(f"{patient}/take-home.pdf").mimetype == "application/pdf"
    other = address(opened, "Quist")
    assert "not printed with the others" not in said(opened.get(other))
    hold = {"at": "04:30", "note": "Dr Quill", "form": "f"}
    opened.post(f"{other}/hold", hold)
    assert "not printed with the others: the exercise is on hold" in said(opened.get(other))


def test_the_next_log_names_what_is_open_and_asks_about_whom_it_leaves_out(
    tmp_path: Path,
) -> None:
    opened = night(tmp_path, STORY)
    page = said(opened.get("/logs/new"))
    assert "12A · Larkspur, Odile Low oxygen NOT TOLD Faint NOT TOLD Chest pain NOT TOLD" in page
    assert page.count("Chart that the patient left") == 1
    html = opened.get("/logs/new").get_data(as_text=True)
    larkspur, quist = re.findall(r'name="keep" value="(\w+)"', html)
    assert start_next(opened, keep=[larkspur]).status_code == 303  # with nothing open: no question
    opened.desk.open([str(tmp_path / "night.yaml")])
    answer = start_next(opened, name="other", keep=[quist])
    assert answer.status_code == 422
    assert "something is open" in said(answer)
    assert f"/patients/{larkspur}/left" in answer.text
    assert not (tmp_path / "2026-03-07-other.yaml").exists()
    form = fields_of_form(answer.text, "/logs/new")
    assert form["without"] == larkspur
    assert (form["start"], form["name"]) == ("2026-03-07T04:00", "other")
    anyway = opened.post("/logs/new", {**form, "keep": [quist]})
    assert anyway.status_code == 303
    page = said(opened.get("/"))
    assert "Left with something open" in page
    assert "SpO2 84 %" in page


def test_who_left_is_charted_with_where_to_before_the_next_log(tmp_path: Path) -> None:
    opened = night(tmp_path, STORY)
    patient = address(opened)
    form = said(opened.get(f"{patient}/left"))
    assert "Still open: Low oxygen NOT TOLD" in form
    data = {"at": "03:58", "note": "intensive care; Dr Quill told of all", "form": "f"}
    answer = opened.post(f"{patient}/left", data)
    assert answer.status_code == 303
    page = said(opened.get(answer.headers["Location"]))
    assert "Added. Bed 12A, Larkspur, Odile" in page
    assert start_next(opened).status_code == 303
    page = said(opened.get("/"))
    assert 'Left 7 Mar 03:58: "intensive care; Dr Quill told of all"' in page
    assert "12A Larkspur" not in page


def test_a_spreadsheet_without_the_columns_says_which_are_missing(tmp_path: Path) -> None:
    opened = night(tmp_path, EVENING_CSV, "evening.csv")
    page = opened.get(f"{address(opened)}/told")
    assert "has no column for this: what, about" in said(page)
    assert "<form" not in page.text
    header, *rows = EVENING_CSV.removesuffix("\r\n").split("\r\n")
    with_them = "\r\n".join([f"{header};what;about", *(f"{each};;" for each in rows), ""])
    (tmp_path / "whole").mkdir()
    opened = night(tmp_path / "whole", with_them, "evening.csv")
    data = {"at": "21:00", "note": "Dr Quill", "about": ["dizzy"], "form": "f"}
    assert opened.post(f"{address(opened)}/told", data).status_code == 303
    assert read(opened.desk.paths[0]).entries[-1].cells["about"] == "dizzy"


def test_a_step_for_a_log_that_is_gone_leaves_what_was_typed(opened: Opened) -> None:
    patient = address(opened)
    opened.desk.open([])
    data = {"at": "04:10", "note": "Dr Quill: comes", "about": "oxygen", "form": "f"}
    answer = opened.post(f"{patient}/told", data)
    assert answer.status_code == 422
    assert 'value="Dr Quill: comes"' in answer.text
    assert re.search(r'value="oxygen" checked', answer.text)


def test_a_step_sent_twice_is_written_once(opened: Opened) -> None:
    patient = address(opened)
    data = {"at": "04:10", "note": "Dr Quill: comes", "about": "oxygen", "form": "f"}
    for _ in range(2):
        assert opened.post(f"{patient}/told", data).status_code == 303
    assert len(added(opened)) == 1


def test_a_time_of_the_page_that_is_old_is_asked_about(opened: Opened) -> None:
    patient = address(opened)
    data = {"at": "04:10", "filled_in": "04:10@1", "note": "Dr Quill", "about": "all", "form": "f"}
    answer = opened.post(f"{patient}/told", data)
    assert answer.status_code == 422
    assert "still the time of" in said(answer)


def test_the_new_log_alone_says_that_nothing_of_before_is_known(tmp_path: Path) -> None:
    assert start_next(night(tmp_path, STORY)).status_code == 303
    alone = open_desk(tmp_path, "2026-03-07-day.yaml")
    page = said(alone.get(address(alone)))
    assert "is given: what was open then is not known here." in page
    assert "ESCALATE" not in page


def test_every_danger_has_a_word_and_every_vital_sign_a_field() -> None:
    """Else it would have no box of its own, or nothing to measure it by."""
    without = [name for name, rule in DANGERS.items() if not rule.about]
    assert without == [SIGN_UNREADABLE.name]  # its matter has the word of the sign
    assert {vital.name for vital in VITALS.values()} == set(MEASURED_BY)

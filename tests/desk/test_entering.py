"""A new entry: a right one is written once, a wrong one never, a doubtful one when it is meant."""

import re
import time
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path

import pytest
from werkzeug.test import TestResponse

from handoff.desk.safety import COOKIE
from handoff.read import read
from handoff.run.sheets import Printing
from tests.support.desks import EVENING_CSV, NIGHT, Opened, fields_of_form, night, open_desk, said


@pytest.fixture
def opened(tmp_path: Path) -> Opened:
    return night(tmp_path)


def keys(opened: Opened) -> list[str]:
    return re.findall(r'<option value="(\w{24})"', opened.get("/entry").get_data(as_text=True))


def entry(opened: Opened, form: str = "one", **more: str | list[str]) -> dict[str, str | list[str]]:
    return {"bed": keys(opened)[0], "form": form, "at": "21:00", "breaths": "5", **more}


def log(opened: Opened) -> str:
    return Path(opened.desk.paths[0]).read_text()


def test_an_entry_is_written_and_read_back(opened: Opened) -> None:
    data = entry(opened, volume_ml="1250", symptoms=["dizzy", "chest_pain"], note="two\r\nlines")
    answer = opened.post("/entry", data)
    assert answer.status_code == 303
    assert log(opened) == NIGHT + (
        '- {patient: "10442", at: 21:00, breaths: 5, volume_ml: 1250, '
        'symptoms: [dizzy, chest_pain], note: "two\\nlines"}\n'
    )
    page = said(opened.get(answer.headers["Location"]))
    assert "Added. Bed 12A, Larkspur, Odile: 2026-03-06 21:00, exercise, 5 breaths, 1250 mL" in page
    assert "chest pain, dizzy" in page
    assert "1,250 mL" in said(opened.get("/"))


def test_who_left_is_read_back_though_not_on_the_list_any_more(opened: Opened) -> None:
    data = entry(opened, what="left", breaths="", note="home")
    answer = opened.post("/entry", data)
    assert answer.status_code == 303
    answer = opened.get(answer.headers["Location"])
    assert answer.status_code == 200
    assert "Added. Bed 12A, Larkspur, Odile: 2026-03-06 21:00, left" in said(answer)


USUAL = "".join(
    f'- {{patient: "10442", at: 2026-03-06 {clock}, breaths: 8, volume_ml: 1200}}\n'
    for clock in ("16:00", "17:00", "18:00")
)


@pytest.mark.parametrize(
    ("volume_ml", "more", "is_low"),
    [
        ("960", {}, True),
        ("961", {}, False),
        ("700", {"flow": "fast"}, False),
        ("700", {"flow": "blew"}, False),
    ],
)
def test_a_reading_low_against_the_usual_is_answered_at_once_with_the_form_for_a_repeat(
    tmp_path: Path, volume_ml: str, more: dict[str, str], *, is_low: bool
) -> None:
    """80 % of the usual 1,200 mL, and 200 mL under it: the limits of the line `alone`."""
    opened = night(tmp_path, NIGHT + USUAL)
    answer = opened.post("/entry", entry(opened, volume_ml=volume_ml, **more))
    assert answer.status_code == 303
    page = opened.get(answer.headers["Location"])
    low = "Low against the usual 1,200 mL: repeat now, sitting if allowed, in good form."
    assert (low in said(page)) == is_low
    chosen = f'<option value="{keys(opened)[0]}" selected>'
    assert (chosen in page.get_data(as_text=True)) == is_low
    again = opened.post("/entry", entry(opened, form="two", at="21:05", volume_ml="1150"))
    assert "Low against" not in said(opened.get(again.headers["Location"]))


def test_without_three_readings_before_the_shift_nothing_is_low(opened: Opened) -> None:
    answer = opened.post("/entry", entry(opened, volume_ml="300"))
    assert "Low against" not in said(opened.get(answer.headers["Location"]))


@pytest.mark.parametrize(
    ("volume_ml", "doubts"),
    [
        ("2500", []),
        ("2501", ["more than the device can show: its scale of 2,500 mL ends below this."]),
        ("3299", ["more than the device can show"]),
        ("4000", ["more than the device can show", "3 times the 1,100 mL"]),
    ],
)
def test_a_volume_that_no_device_shows_or_far_over_the_best_is_asked_about_once(
    tmp_path: Path, volume_ml: str, doubts: list[str]
) -> None:
    """The device's scale is 2,500 mL, and the best of late 1,100 mL."""
    device = "  device: {scale_ml: 2500}\n  order"
    opened = night(tmp_path, NIGHT.replace("  order", device, 1))
    data = entry(opened, volume_ml=volume_ml)
    answer = opened.post("/entry", data)
    assert answer.status_code == (422 if doubts else 303)
    if doubts:
        page = said(answer).replace("More than", "more than")
        assert all(each in page for each in doubts)
        assert ("3 times the 1,100 mL" in page) == (len(doubts) > 1)
        assert "at: 21:00" not in log(opened)
        html = answer.get_data(as_text=True)
        accepted = re.findall(r'name="accepted" value="([^"]+)"', html)
        assert accepted[0] == "volume-over-scale"
        meant = fields_of_form(html, "/entry")["meant"]
        sure = {**data, "meant": meant, "accepted": accepted}
        assert opened.post("/entry", sure).status_code == 303
    assert log(opened).count(f"volume_ml: {volume_ml}") == 1


def test_three_times_the_best_is_asked_about_without_a_known_scale_too(opened: Opened) -> None:
    answer = opened.post("/entry", entry(opened, volume_ml="3300"))
    assert "3 times the 1,100 mL that are the best of the last 72 hours" in said(answer)
    assert opened.post("/entry", entry(opened, volume_ml="3299")).status_code == 303


def test_when_to_call_stands_beside_the_form_of_a_chosen_patient(tmp_path: Path) -> None:
    opened = night(tmp_path, NIGHT + USUAL)
    assert "Call if" not in said(opened.get("/entry"))
    page = said(opened.get(f"/entry?bed={keys(opened)[0]}"))
    assert "Call if SpO2 91 % or less, breathing 8 or less or 25 or more" in page
    assert "2 good readings of 960 mL or less (usual now 1,200 mL)." in page


def test_a_csv_gets_a_row_of_its_own_kind(tmp_path: Path) -> None:
    opened = night(tmp_path, EVENING_CSV, "evening.csv")
    page = said(opened.get("/entry"))
    assert "Pain 0 to 10" not in page  # the log has no such column
    assert opened.post("/entry", entry(opened, note="=1+1")).status_code == 303
    added = Path(opened.desk.paths[0]).read_bytes().decode().removeprefix(EVENING_CSV)
    assert added == ";;;;10442;;;;;21:00;5;;;'=1+1\r\n"
    assert read(opened.desk.paths[0]).entries[-1].cells["note"] == "=1+1"


def test_what_somebody_was_told_about_is_ticked(opened: Opened) -> None:
    data = entry(opened, breaths="", what="told", about=["oxygen", "chest_pain"], note="Dr Quill")
    assert opened.post("/entry", data).status_code == 303
    (added,) = log(opened).removeprefix(NIGHT).splitlines()
    assert "what: told, about: [oxygen, chest_pain]" in added
    page = opened.post("/entry", {**data, "at": "25:00"}).text
    for word in ("oxygen", "chest_pain"):
        assert f'name="about" value="{word}" checked' in page
    assert 'name="about" value="pulse">' in page


def test_an_amount_of_oxygen_is_added_and_said_back(opened: Opened) -> None:
    data = entry(opened, breaths="", spo2="93", oxygen="2 L nasal", symptoms=["none"])
    answer = opened.post("/entry", data)
    assert answer.status_code == 303
    page = said(opened.get(answer.headers["Location"]))
    assert "seen, no symptoms, SpO2 93 %, on oxygen 2 L nasal" in page


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"breaths": "5O"}, "Not a number"),
        ({"breaths": "", "hold_s": "5", "note": "x"}, "neither breaths nor a volume"),
        ({"at": "25:00"}, "Not a date and time"),
        ({"volume_ml": "1.2"}, "looks like litres"),
        ({"what": "asleep", "breaths": ""}, "needs the time it ended"),
        ({"bed": ""}, "Choose a bed"),
    ],
)
def test_what_is_wrong_is_not_written_and_nothing_typed_is_lost(
    opened: Opened, wrong: dict[str, str], words: str
) -> None:
    answer = opened.post("/entry", {**entry(opened, note="kept & safe"), **wrong})
    assert answer.status_code == 422
    assert log(opened) == NIGHT
    page = answer.get_data(as_text=True)
    assert words in said(answer) or words.lower() in said(answer)
    if "note" not in wrong:
        assert 'value="kept &amp; safe"' in page
    assert "add it as it is" not in page


def test_what_is_doubtful_is_written_when_somebody_says_so(opened: Opened) -> None:
    data = entry(opened, at="2026-03-06 18:30")
    answer = opened.post("/entry", data)
    assert answer.status_code == 422
    assert log(opened) == NIGHT
    assert "It is right: add it as it is" in said(answer)
    codes = re.findall(r'name="accepted" value="([^"]+)"', answer.get_data(as_text=True))
    assert codes == ["outside-shift"]
    meant = as_it_is(answer)
    other = opened.post("/entry", {**data, **meant, "at": "2026-03-06 18:20"})
    assert other.status_code == 422  # what was accepted was another time
    assert opened.post("/entry", {**data, **meant}).status_code == 303
    assert log(opened).endswith("at: 2026-03-06 18:30, breaths: 5}\n")


def test_the_same_entry_again_is_doubted(opened: Opened) -> None:
    assert opened.post("/entry", entry(opened)).status_code == 303
    again = opened.post("/entry", entry(opened, form="two"))
    assert "the same entry is already there" in said(again).lower()
    assert "Correct the time, or add it for the patient whose it is, or leave it." in said(again)
    assert "Delete" not in said(again)
    sure = {**entry(opened, form="two"), **as_it_is(again)}
    assert opened.post("/entry", sure).status_code == 303
    assert log(opened).count("at: 21:00") == 2


def test_what_is_wrong_names_its_field_and_stands_at_it(opened: Opened) -> None:
    answer = opened.post("/entry", entry(opened, breaths="many", volume_ml="900", spo2="970"))
    page = said(answer)
    assert "Error. Breaths : many Not a number. Type digits only" in page
    assert "Error. SpO2 % : 970 Only 50 to 100 %" in page
    html = answer.get_data(as_text=True)
    (described,) = re.findall(r'name="breaths"[^>]*aria-describedby="([^"]*)"', html)
    first, *others = described.split()
    assert first == "breaths-wrong"
    (why,) = re.findall(r'id="breaths-wrong">([^<]*)<', html)
    assert why.startswith("Not a number.")
    assert all(f'id="{each}"' in html for each in others)
    (fine,) = re.findall(r'<input id="volume_ml"[^>]*>', html)
    assert "wrong" not in fine
    assert "aria-invalid" not in fine


@pytest.mark.parametrize("typed", ["now", "Now"])
def test_now_is_the_time_now(tmp_path: Path, typed: str) -> None:
    (tmp_path / "night.yaml").write_text(NIGHT)
    half_past_nine = datetime(2026, 3, 7, 1, 30, 40, tzinfo=UTC)  # in Halifax
    opened = open_desk(tmp_path, "night.yaml", clock=lambda: half_past_nine)
    assert opened.post("/entry", entry(opened, at=typed)).status_code == 303
    assert opened.desk.ward().handovers[0].entries["10442"][-1].at == datetime(
        2026, 3, 7, 1, 30, tzinfo=UTC
    )
    assert log(opened) == NIGHT + ('- {patient: "10442", at: 2026-03-06 21:30, breaths: 5}\n')


def test_a_doubt_once_accepted_is_not_asked_again(opened: Opened) -> None:
    assert opened.post("/entry", entry(opened)).status_code == 303
    again = opened.post("/entry", entry(opened, form="three"))
    codes = re.findall(r'name="accepted" value="([^"]+)"', again.get_data(as_text=True))
    assert codes == ["entry-again"]
    assert log(opened).count("at: 21:00") == 1


def test_a_form_sent_twice_at_once_is_written_once(opened: Opened) -> None:
    data = entry(opened)
    clients = [opened.client.application.test_client() for _ in range(6)]
    for client in clients:
        client.set_cookie(COOKIE, opened.gate.session, domain=opened.gate.name)

    def send(number: int) -> int:
        own = Opened(opened.desk, opened.gate, clients[number])
        return own.post("/entry", data).status_code

    with ThreadPoolExecutor(6) as pool:
        assert list(pool.map(send, range(6))) == [303] * 6
    assert log(opened).count("at: 21:00") == 1


def test_two_tabs_mix_nothing(opened: Opened) -> None:
    beds = keys(opened)
    client = opened.client.application.test_client()
    client.set_cookie(COOKIE, opened.gate.session, domain=opened.gate.name)
    tabs = [opened, Opened(opened.desk, opened.gate, client)]

    def chart(tab: int) -> None:
        for minute in range(8):
            data = {
                "bed": beds[tab],
                "form": f"{tab}-{minute}",
                "at": f"21:{minute:02}",
                "breaths": str(tab + 1),
                "note": f"tab {tab}",
            }
            assert tabs[tab].post("/entry", data).status_code == 303

    with ThreadPoolExecutor(2) as pool:
        list(pool.map(chart, range(2)))
    assert log(opened).startswith(NIGHT)
    cells = [each.cells for each in read(opened.desk.paths[0]).entries[2:]]
    ids = ("10442", "00718")
    wanted = {
        (ids[tab], f"21:{m:02}", str(tab + 1), f"tab {tab}") for tab in (0, 1) for m in range(8)
    }
    assert {(c["patient_id"], c["at"], c["breaths"], c["note"]) for c in cells} == wanted
    assert len(cells) == 16


def test_a_log_that_cannot_be_added_to_says_what_to_do(tmp_path: Path) -> None:
    text = NIGHT.replace("unit:", "entries:\n- {}\nunit:", 1)
    text = text[: text.rindex("entries:")]
    opened = night(tmp_path, text)
    answer = opened.post("/entry", entry(opened))
    assert answer.status_code == 422
    assert "Move that part to the end" in said(answer)
    assert log(opened) == text


PATIENT = {
    "patient_id": "10500",
    "name": "Ådal, Siv",
    "born": "1960-01-02",
    "bed": "13",
    "order_start": "2026-03-06 20:00",
    "goal_ml": "1400",
    "device_labelled": "yes",
}


@pytest.mark.parametrize("name", ["night.yaml", "evening.csv"])
def test_a_patient_joins_the_list(tmp_path: Path, name: str) -> None:
    text = NIGHT if name == "night.yaml" else EVENING_CSV
    opened = night(tmp_path, text, name)
    data = PATIENT
    if name == "evening.csv":
        data = {key: PATIENT[key] for key in ("patient_id", "name", "born", "bed", "order_start")}
    asked = opened.post("/patients/new", {**data, "form": "one"})
    assert "the usual is used, 10 breaths every hour while awake" in said(asked)
    sure = {**data, "form": "one", **as_it_is(asked, "/patients/new")}
    assert opened.post("/patients/new", sure).status_code == 303
    assert "13" in said(opened.get("/entry"))
    assert opened.post("/patients/new", {**data, "form": "one"}).status_code == 303
    written = log(opened)
    if name == "night.yaml":
        added = (
            '- id: "10500"\n  name: "Ådal, Siv"\n  born: 1960-01-02\n  bed: "13"\n'
            "  order: {start: 2026-03-06 20:00, goal_ml: 1400}\n  device: {labelled: yes}\n"
        )
        assert written == NIGHT.replace("entries:\n", added + "entries:\n", 1)
    else:
        assert written.count("10500") == 1


def test_a_doubt_about_a_patient_is_put_aside_for_what_was_seen_alone(opened: Opened) -> None:
    data = {**PATIENT, "bed": "12A", "form": "one"}
    first = opened.post("/patients/new", data)
    assert "Two patients are in one bed (12A)" in said(first)
    aside = as_it_is(first, "/patients/new")
    second = opened.post("/patients/new", {**data, **aside, "bed": "12B"})
    assert "Two patients are in one bed (12B)" in said(second)
    assert log(opened) == NIGHT
    assert opened.post("/patients/new", {**data, **aside}).status_code == 303


def test_a_patient_of_a_known_id_is_not_added(opened: Opened) -> None:
    answer = opened.post("/patients/new", {**PATIENT, "patient_id": "10442", "form": "one"})
    assert answer.status_code == 422
    assert "two people" in said(answer)
    assert log(opened) == NIGHT


def test_a_form_that_is_changed_and_sent_again_is_another_entry(opened: Opened) -> None:
    assert opened.post("/entry", entry(opened)).status_code == 303
    assert opened.post("/entry", entry(opened, breaths="6", at="21:30")).status_code == 303
    assert opened.post("/entry", entry(opened)).status_code == 303
    assert log(opened).count("breaths: 5,") + log(opened).count("breaths: 5}") == 1
    assert log(opened).count("at: 21:30, breaths: 6") == 1


def test_a_time_filled_in_long_ago_is_asked_about(opened: Opened) -> None:
    old = int(time.time()) - 30 * 60
    data = entry(opened, filled_in=f"21:00@{old}")
    answer = opened.post("/entry", data)
    assert answer.status_code == 422
    assert "still the time of 30 minutes ago" in said(answer)
    assert log(opened) == NIGHT
    corrected = {**data, "at": "21:30"}
    assert opened.post("/entry", corrected).status_code == 303
    assert opened.post("/entry", {**data, **as_it_is(answer)}).status_code == 303
    assert log(opened).count("breaths: 5") == 2


def test_the_desk_asks_no_clock_but_its_own(tmp_path: Path) -> None:
    (tmp_path / "night.yaml").write_text(NIGHT)
    now = datetime(2026, 3, 7, 1, 30, tzinfo=UTC)  # 21:30 in Halifax, within the shift
    opened = open_desk(tmp_path, "night.yaml", clock=lambda: now)
    page = opened.get("/entry").get_data(as_text=True)
    assert f'value="21:30@{int(now.timestamp())}"' in page
    assert "data as of 6 Mar 21:30" in said(opened.get("/"))


@pytest.mark.parametrize(("hour", "offset"), [(4, "-03:00"), (5, "-04:00")])
def test_in_the_hour_that_occurs_twice_the_time_that_is_filled_in_is_the_one_meant(
    tmp_path: Path, hour: int, offset: str
) -> None:
    """The clock of Halifax is put back on 2026-11-01 at 02:00 (the time zone database)."""
    text = NIGHT.replace("2026-03-06", "2026-10-31").replace("2026-03-07", "2026-11-01")
    (tmp_path / "night.yaml").write_text(text)
    now = datetime(2026, 11, 1, hour, 30, tzinfo=UTC)
    opened = open_desk(tmp_path, "night.yaml", clock=lambda: now)
    page = opened.get("/entry").get_data(as_text=True)
    (at,) = re.findall(r'name="at" value="([^"]+)"', page)
    answer = opened.post("/entry", entry(opened, at=at, filled_in=""))
    assert answer.status_code == 303
    assert f"2026-11-01 01:30{offset}, exercise" in said(opened.get(answer.headers["Location"]))


def test_no_time_is_filled_in_by_the_clock_of_another_unit(tmp_path: Path) -> None:
    (tmp_path / "night.yaml").write_text(NIGHT)
    away = NIGHT.replace("Harbour 3 East, time_zone: America/Halifax", "Oak, time_zone: Etc/UTC")
    (tmp_path / "oak.yaml").write_text(away.replace("10442", "20442").replace("00718", "20718"))
    now = datetime(2026, 3, 7, 1, 30, tzinfo=UTC)  # 21:30 in Halifax
    opened = open_desk(tmp_path, "night.yaml", "oak.yaml", clock=lambda: now)
    filled = [
        re.findall(r'name="at" value="([^"]*)"', opened.get(path).get_data(as_text=True))
        for path in ("/entry", *(f"/entry?bed={key}" for key in keys(opened)))
    ]
    assert filled == [[""], ["21:30"], ["21:30"], ["01:30"], ["01:30"]]


def test_what_is_ticked_is_called_as_the_unit_calls_it_and_written_as_a_log_does(
    tmp_path: Path,
) -> None:
    words = tmp_path / "words"
    words.mkdir()
    (words / "sheet.yaml").write_text("terms: {chest_pain: Brustschmerz}\n")
    (tmp_path / "night.yaml").write_text(NIGHT)
    printing = Printing(templates=str(words))
    opened = open_desk(tmp_path, "night.yaml", printing=printing)
    key = keys(opened)[0]
    for path, name in ((f"/entry?bed={key}", "symptoms"), (f"/patients/{key}/told", "about")):
        page = opened.get(path).get_data(as_text=True)
        assert re.search(rf'name="{name}" value="chest_pain"> Brustschmerz</label>', page)
        assert re.search(rf'name="{name}" value="dizzy"> dizzy</label>', page)
    assert opened.post("/entry", entry(opened, symptoms="chest_pain")).status_code == 303
    assert "symptoms: [chest_pain]" in log(opened)


def test_a_log_that_is_gone_meanwhile_leaves_what_was_typed(opened: Opened) -> None:
    data = entry(opened, note="sat up", symptoms=["dizzy"])
    path = Path(opened.desk.paths[0])
    path.rename(path.with_suffix(".away"))
    answer = opened.post("/entry", data)
    page = answer.get_data(as_text=True)
    assert answer.status_code == 422
    assert "What you typed is still here" in said(answer)
    assert 'value="sat up"' in page
    assert 'value="dizzy" checked' in page
    assert f'<option value="{data["bed"]}" selected>' in page
    path.with_suffix(".away").rename(path)
    assert opened.post("/entry", data).status_code == 303


@pytest.mark.parametrize("place", ["entry", "told", "order"])
@pytest.mark.parametrize(
    ("before", "after"),
    [("Larkspur, Odile", "Quillfeather, Ida"), ("bed: 12A", "bed: 14")],
)
def test_a_form_whose_patient_the_log_names_otherwise_now_is_looked_at_again(
    opened: Opened, place: str, before: str, after: str
) -> None:
    """Values of somebody else may be in it: whoever lies in the bed, or has the name, by now."""
    key = keys(opened)[0]
    address = f"/patients/{key}/{place}" if place != "entry" else f"/entry?bed={key}"
    action = address.partition("?")[0]
    typed = {
        "entry": {"bed": key, "at": "21:00", "breaths": "5"},
        "told": {"at": "21:00", "note": "Dr Quill", "about": "other"},
        "order": {"order_start": "2026-03-06 22:00", "order_every_h": "1", "order_breaths": "5"},
    }[place]
    text = NIGHT.replace(before, after)
    answer = opened.get(address)
    for status in (422, 303):
        page = answer.get_data(as_text=True)
        named = re.findall(r'name="named" value="([^"]+)"', page)
        if status == 422:  # another program saves the log meanwhile
            Path(opened.desk.paths[0]).write_text(text)
        answer = opened.post(action, {"named": named, **typed})
        assert answer.status_code == status
        if status == 422:
            words = "This form was opened for bed 12A, Larkspur, Odile. The log says bed"
            assert words in said(answer)
            assert log(opened) == text


def test_a_form_of_somebody_who_is_on_no_list_any_more_shows_nobody_else(opened: Opened) -> None:
    _, second = keys(opened)
    Path(opened.desk.paths[0]).write_text(NIGHT.replace('"00718"', '"718"'))
    for more in ({}, {"in_place": "yes"}):
        answer = opened.post("/entry", entry(opened, bed=second, **more))
        assert answer.status_code == 422
        assert "This patient is on no open list any more" in said(answer)
        assert "Bed 12A" not in said(answer)
        assert "goal" not in said(answer)


def test_with_nobody_on_the_list_a_patient_is_added_first(tmp_path: Path) -> None:
    opened = night(tmp_path, NIGHT.partition("patients:")[0] + "patients:\nentries:\n")
    answer = opened.get("/entry", follow_redirects=True)
    assert "Nobody is on the list yet" in said(answer)
    assert "Add a patient" in said(answer)


def as_it_is(answer: TestResponse, action: str = "/entry") -> dict[str, str | list[str]]:
    """What the button sends that adds an entry as it is."""
    page = answer.get_data(as_text=True)
    codes = re.findall(r'name="accepted" value="([^"]+)"', page)
    return {"accepted": codes, "meant": fields_of_form(page, action)["meant"]}


def test_one_doubt_after_the_other_is_put_aside(opened: Opened) -> None:
    old = int(time.time()) - 30 * 60
    data = entry(opened, at="2026-03-06 18:30", filled_in=f"2026-03-06 18:30@{old}")
    first = opened.post("/entry", data)
    assert "minutes ago" in said(first)
    second = opened.post("/entry", {**data, **as_it_is(first)})
    assert "outside this log's shift" in said(second)
    assert opened.post("/entry", {**data, **as_it_is(second)}).status_code == 303


def test_a_cell_that_cannot_be_read_says_what_to_type_and_nothing_that_follows_from_it(
    opened: Opened,
) -> None:
    answer = said(opened.post("/entry", entry(opened, breaths="8,5")))
    assert "8,5 Not a whole number. Type a whole number, for example 10." in answer
    assert "neither breaths nor a volume" not in answer
    assert "Did you mean" not in answer
    assert "neither breaths nor a volume" in said(opened.post("/entry", entry(opened, breaths="")))

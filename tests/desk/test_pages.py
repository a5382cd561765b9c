"""The pages say what the stages say, and print what `handoff sheets` prints."""

import errno
import json
import re
from datetime import UTC, datetime, timedelta
from html import unescape
from io import BytesIO
from pathlib import Path

import pytest

from handoff.cli.main import main
from handoff.compose.unit import compose_unit
from handoff.desk.app import MOST_REFUSED
from handoff.desk.drawing import svg
from handoff.explain import PARTS
from handoff.log.languages import PATIENT_PAGE, languages_with
from handoff.model.figure import Drawing, Text
from handoff.model.figure import Path as Line
from handoff.read import ANY_TEXT, SUFFIXES
from tests.support.bundles import exercise
from tests.support.bundles import night as bundle_of_night
from tests.support.desks import (
    EVENING_CSV,
    NIGHT,
    STORY,
    Opened,
    fields_of_form,
    night,
    open_desk,
    said,
)
from tests.support.logs import ROOT
from tests.support.runs import WARD, is_its_owners
from tests.support.sheets import read_pdf
from tests.support.workbooks import sheet_of, workbook


@pytest.fixture
def ward(tmp_path: Path) -> Opened:
    opened = open_desk(tmp_path)
    opened.desk.open(WARD)
    return opened


def patients(opened: Opened) -> dict[str, str]:
    """The address of each patient's page, by name."""
    page = opened.get("/").get_data(as_text=True)
    found = re.findall(r'<a href="(/patients/\w{24})">(?:Bed \w+, )?([^<]+)</a>', page)
    return {unescape(name): path for path, name in found}


def test_cards_are_printed_for_all_or_for_the_beds_that_are_ticked(ward: Opened) -> None:
    key = next(iter(patients(ward).values())).rpartition("/")[2]
    # Two patients have theirs in another language too.
    for chosen, count in (("", 22), (f"&who={key}", 1)):
        made = ward.get(f"/sheets?what=cards&initials=yes{chosen}").get_data(as_text=True)
        ((path, title),) = re.findall(r'href="(/sheets/\w+\.pdf)"[^>]*>([^<]+)</a>', made)
        assert title == "Cards for the tables"
        pages = read_pdf(ward.get(path).data).pages
        assert len(pages) == count
        assert not any("Harrowell" in page for page in pages)


def test_the_pdfs_are_those_of_handoff_sheets(
    ward: Opened, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    assert main(["sheets", *WARD, "--out", str(out), "--discharge", "3A"]) == 0
    capsys.readouterr()
    made = ward.get("/sheets").get_data(as_text=True)
    steps = re.findall(r"sheet (\d+) of (\d+)", made)
    assert steps == [(str(number), "20") for number in range(1, 21)]
    links = {
        unescape(title): path
        for path, title in re.findall(r'href="(/sheets/\w+\.pdf)"[^>]*>([^<]+)</a>', made)
    }
    joined, summary = links["All patient sheets"], links["Unit summary"]
    assert ward.get(joined).data == (out / "patient-sheets.pdf").read_bytes()
    assert ward.get(summary).data == (out / "unit-summary.pdf").read_bytes()
    assert ward.get(links["Round list"]).data == (out / "round-list.pdf").read_bytes()
    assert ward.get(links["Courses of all patients"]).data == (out / "trends.pdf").read_bytes()
    home = {name.rpartition(" ")[2] for name in links if name.startswith("Page to take home")}
    assert home == {path.stem.removeprefix("bed-") for path in (out / "discharge").iterdir()} - {
        "3A"
    }
    assert main(["card", *WARD, "--bed", "3A", "--out", str(tmp_path / "card")]) == 0
    page = next(path for name, path in patients(ward).items() if name.startswith("Adé"))
    card = read_pdf(ward.get(f"{page}/card.pdf").data).pages
    assert card == read_pdf((tmp_path / "card" / "bedside-cards.pdf").read_bytes()).pages
    for address, file in [("sheet", "patients"), ("take-home", "discharge")]:
        answer = ward.get(f"{page}/{address}.pdf")
        assert answer.data == (out / file / "bed-3A.pdf").read_bytes()
        assert answer.mimetype == "application/pdf"
        assert answer.headers["Content-Disposition"] == 'inline; filename="sheet.pdf"'
        assert answer.headers["Cache-Control"] == "no-store"


def test_the_ward_page_is_the_unit_summary(ward: Opened) -> None:
    page = said(ward.get("/"))
    unit = ward.desk.ward()
    for words in (
        "Harbour 3 East",
        "data as of 7 Mar 19:00",
        "Open matters, until told and settled",
        "NOT TOLD: low oxygen",
        "of due breaths credited",
        "Ordered, not started",
        "Since the last hand-over",
        "715 read, 715 used, nothing set aside",
    ):
        assert words in page
    html = ward.get("/?sort=urgency").get_data(as_text=True)
    page = said(ward.get("/?sort=urgency"))
    shown = re.findall(r"<small>id (\w+)</small>", html)
    printed = compose_unit(unit.results[0], unit.words[0])
    assert shown == [row.id for row in printed.rows]
    assert len(shown) == 20
    assert html.count('<svg class="drawing"') == 20  # a trend line a row
    assert page.index("ESCALATE") < page.index("FOLLOW UP") < page.index("CONTINUE")


def test_a_patients_page_has_the_sheet_and_what_is_behind_it(
    ward: Opened, capsys: pytest.CaptureFixture[str]
) -> None:
    path = next(path for name, path in patients(ward).items() if name.startswith("Adé"))
    page = ward.get(path).get_data(as_text=True)
    words = said(ward.get(path))
    for each in (
        "Situation",
        "Low oxygen",
        "Told 17:25",
        "1,000 mL at 14:14",
        "For the next shift",
    ):
        assert each in words
    assert 'role="img" aria-label="' in page  # the chart
    strip = re.findall(r"(\d\d:00): (?:met|in part|none done|not charted|nothing due)", words)
    assert strip == [f"{hour % 24:02}:00" for hour in range(7, 19)]
    assert main(["explain", *WARD, "--bed", "3A"]) == 0
    explained = capsys.readouterr().out
    shown = [unescape(each) for each in re.findall(r"<pre[^>]*>(.*?)</pre>", page, re.DOTALL)]
    assert len(shown) == len(PARTS)
    for part in shown:
        assert part.strip() in explained
    behind = set(re.findall(r'href="#(why-\w+)"', page))
    assert behind <= set(re.findall(r'<details id="([\w-]+)"', page))
    assert len(behind) == len(PARTS)


def test_no_page_shows_markup(tmp_path: Path) -> None:
    wrong_cell = '- {patient: "00718", at: 21:40, volume_ml: 25O0}\n'
    opened = night(tmp_path, STORY + wrong_cell)
    opened.post("/drafts", {"name": "a", "address": "/entry", "words": "Entry", "typed": "[]"})
    key = next(iter(patients(opened).values())).rpartition("/")[2]
    rules = opened.client.application.url_map.iter_rules()
    paths = {each.rule for each in rules if "GET" in (each.methods or ())}
    apart = {"/open", "/enter", "/favicon.ico", "/alive", "/drafts"}
    shown = {each for each in paths - apart if not re.search("pdf|ttf|static", each)}
    assert len(shown) > 15
    for path in (*shown, "/weeks?show=yes", "/nothing"):
        filled = re.sub("<any.*>", "told", path.replace("<key>", key))
        assert not re.search("&(amp;)?(lt|gt);|&amp;(amp;|#)", opened.get(filled).text), path


def test_the_chart_says_as_a_table_what_it_shows(ward: Opened) -> None:
    path = next(path for name, path in patients(ward).items() if name.startswith("Adé"))
    page = ward.get(path).get_data(as_text=True)
    for words in ("SpO2, %", "breaths a minute", "pain, 0 to 10", "symptoms (hollow: none)"):
        assert f">{words}</text>" in page
    rows = re.findall(
        r'<tr data-said="([^"]+)" data-across="([\d.]+)"( data-down="[\d.]+")?>(.*?)</tr>', page
    )
    measures = next(
        each
        for each in ward.desk.ward().results[0].measures.values()
        if each.patient.name.startswith("Adé")
    )
    drawn = [each for each in measures.drawn_entries if each.is_reading]
    assert sum(bool(down) for _, _, down, _ in rows) == len(drawn)
    across = [float(each) for _, each, _, _ in rows]
    assert across == sorted(across)
    last = next(words for words, _, _, _ in rows if words.startswith("7 Mar 17:15"))
    assert last == (
        "7 Mar 17:15: exercise, 7 breaths, 950 mL, held 4 s, flow steady, sitting, pain 2,"
        " SpO2 95 %, breathing rate 20 /min, pulse 94 /min, temperature 38.2 °C,"
        " on oxygen 2 L nasal (good form)"
    )
    cells = [cell for each in rows for cell in re.findall("<td>(.*?)</td>", each[3])]
    for cell in ("7 Mar 17:15", "950 mL", "good form", "95 %", "on oxygen 2 L nasal", "breathless"):
        assert cell in cells
    assert "" in cells  # not recorded


def test_the_whole_ward_is_seen_in_small_charts_of_the_same_days(ward: Opened) -> None:
    page = ward.get("/round").get_data(as_text=True)
    assert page.count('<svg class="drawing"') == 20
    words = said(ward.get("/round"))
    assert "No exercise: low oxygen." in words
    assert "last 950 mL of 1,500 mL" in words
    beds = [each.bed for each in ward.desk.ward().handovers[0].patients]
    shown = re.findall(r'<p class="who"><strong>(\w+)</strong>', page)
    assert shown == [bed for bed in beds if bed in shown]
    assert len(shown) == 20


def test_a_patient_without_an_order_has_a_page(ward: Opened) -> None:
    path = next(path for name, path in patients(ward).items() if "Dunmore" in name)
    assert "No exercise is ordered" in said(ward.get(path))
    assert ward.get(f"{path}/sheet.pdf").status_code == 404


def test_a_drawing_becomes_the_same_marks() -> None:
    black = (0.0, 0.0, 0.0)
    line = Line((("M", 1.0, 2.0), ("L", 3.0, 4.5), ("Z",)), black, None, 0.5, (2.0, 1.0), None)
    curve = (("M", 0.0, 0.0), ("C", 1, 1, 2, 2, 3, 3))
    places = ((0.0, 0.0), (10.0, 20.0))
    dot = Line(curve, None, (1.0, 1.0, 1.0), 0, (), (0, 0, 9, 9), places)
    drawing = Drawing(100, 50, (line, dot), (Text(10, 20, "a < b", 8, bold=True, align=0.5),))
    shown = str(svg(drawing, 'a "chart"', name="one"))
    assert 'viewBox="0 0 100 50" role="img" aria-label="a &#34;chart&#34;"' in shown
    assert 'transform="matrix(1 0 0 -1 0 50)"' in shown
    assert (
        '<path d="M1 2 L3 4.5 Z" fill="none" stroke="#000000" stroke-width="0.5" '
        'stroke-dasharray="2 1"/>' in shown
    )
    assert 'd="M0 0 C1 1 2 2 3 3 M10 20 C11 21 12 22 13 23"' in shown
    assert re.search(r'<clipPath id="(one-\d+)">.*clip-path="url\(#\1\)"', shown)
    assert (
        '<text x="10" y="30" font-size="8" text-anchor="middle" font-weight="600">a &lt; b' in shown
    )


def test_logs_are_chosen_from_the_folder(tmp_path: Path) -> None:
    opened = night(tmp_path)
    (tmp_path / "other.csv").write_text("nothing")
    (tmp_path / "notes.md").write_text("nothing")
    page = opened.get("/logs").get_data(as_text=True)
    assert page.count('name="log"') == 2
    assert "notes.md" not in page
    key = opened.desk.key("log", str(tmp_path / "night.yaml"))
    assert opened.post("/logs/open", {"log": [key, "0" * 24]}).status_code == 303
    assert opened.desk.paths == (str(tmp_path / "night.yaml"),)
    answer = opened.post("/logs/open", {})
    assert "Tick at least one" in said(opened.get(answer.headers["Location"]))
    assert opened.get("/").headers["Location"] == "/logs"


def test_dropped_files_are_new_logs_of_their_owner(tmp_path: Path) -> None:
    opened = open_desk(tmp_path)
    content = NIGHT.encode()
    for name in ("../Night of 6 März.YAML", "..\\Night of 6 März.yaml"):
        data = {"files": [(BytesIO(content), name)]}
        assert opened.post("/logs/files", data).status_code == 303
    (kept,) = tmp_path.iterdir()
    assert kept.name == "Night-of-6-Marz.yaml"
    assert kept.read_bytes() == content
    assert is_its_owners(kept)
    evening = BytesIO(EVENING_CSV.encode())
    more = {"files": [(BytesIO(content + b"# more\n"), kept.name), (evening, "b.csv")]}
    opened.post("/logs/files", more)
    names = {path.name for path in tmp_path.iterdir()}
    assert names == {"Night-of-6-Marz.yaml", "Night-of-6-Marz-2.yaml", "b.csv"}
    assert kept.read_bytes() == content


def test_a_workbook_is_taken_in_shown_and_never_written_in(tmp_path: Path) -> None:
    opened = open_desk(tmp_path)
    content = workbook({"Evening": sheet_of(EVENING_CSV, ";")})
    files = {"files": (BytesIO(content), "evening.xlsx")}
    assert opened.post("/logs/files", files).status_code == 303
    assert (tmp_path / "evening.xlsx").read_bytes() == content
    page = said(opened.get("/"))
    assert "Larkspur" in page
    sentence = "evening.xlsx is a workbook: the desk shows it, and writes nothing in it."
    assert sentence in page
    (key,) = set(re.findall(r'<option value="(\w{24})"', opened.get("/entry").text)[:1])
    answer = opened.post("/entry", {"bed": key, "form": "one", "at": "21:00", "breaths": "5"})
    assert sentence in said(answer)
    assert opened.get("/put-right").status_code == 200
    assert (tmp_path / "evening.xlsx").read_bytes() == content


def test_a_bundle_is_shown_and_never_written_in(tmp_path: Path) -> None:
    opened = open_desk(tmp_path)
    content = json.dumps(bundle_of_night(exercise(), exercise("wrong", status="final?"))).encode()
    files = {"files": (BytesIO(content), "night.json")}
    assert opened.post("/logs/files", files).status_code == 303
    page = said(opened.get("/"))
    assert "Larkspur" in page
    sentence = (
        "night.json is a copy of what the record system says: the desk shows it, and writes "
        "nothing in it. Write entries into a YAML or CSV log of the same shift."
    )
    assert sentence in page
    (key,) = set(re.findall(r'<option value="(\w{24})"', opened.get("/entry").text)[:1])
    answer = opened.post("/entry", {"bed": key, "form": "one", "at": "21:00", "breaths": "5"})
    assert sentence in said(answer)
    mending = opened.get("/put-right")
    assert mending.status_code == 200
    assert "Observation/wrong.status" in said(mending)
    for address in set(re.findall(r'href="(/put-right/[^"]+)"', mending.text)):
        assert opened.get(unescape(address)).status_code == 200
    assert (tmp_path / "night.json").read_bytes() == content


@pytest.mark.parametrize(
    ("files", "words"),
    [
        ([(BytesIO(b"x"), "night.pdf")], "save it as CSV"),
        ([(BytesIO(NIGHT.encode()), "a.yaml"), (BytesIO(b"- {"), "b.yaml")], "b.yaml:"),
        ([(BytesIO(b"no header"), "night.csv")], "Nothing was kept or opened. night.csv"),
        ([], "No file was chosen"),
    ],
)
def test_what_is_no_log_is_not_taken_in(
    tmp_path: Path, files: list[tuple[BytesIO, str]], words: str
) -> None:
    opened = open_desk(tmp_path)
    answer = opened.post("/logs/files", {"files": files, "x": "y"})
    assert answer.status_code == 409
    assert words in said(answer)
    assert list(tmp_path.iterdir()) == []


def test_a_letter_in_the_folder_is_no_log_and_a_dropped_table_as_text_is_one(
    tmp_path: Path,
) -> None:
    opened = night(tmp_path)
    (tmp_path / "note.txt").write_text("dear")
    assert opened.desk.in_folder() == [str(tmp_path / "night.yaml")]
    assert "note.txt" not in said(opened.get("/logs"))
    table = BytesIO(EVENING_CSV.replace(";", "\t").encode("utf-16"))
    assert opened.post("/logs/files", {"files": [(table, "evening.TXT")]}).status_code == 303
    assert [Path(each).name for each in opened.desk.in_folder()] == ["night.yaml", "evening.csv"]
    folder = {each.suffix for each in tmp_path.iterdir()} - {".txt"}
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    listed = readme.partition("Logs are the files of the folder that end in ")[2].split("\n")[0]
    assert set(re.findall(r"`(\.\w+)`", listed)) == SUFFIXES - {ANY_TEXT} > folder


def test_the_languages_that_have_words_are_offered_by_name(tmp_path: Path) -> None:
    opened = night(tmp_path)
    page = opened.get("/patients/new").get_data(as_text=True)
    offers = page.partition('id="language-offers">')[2].partition("</datalist>")[0]
    offered = dict(re.findall('value="([^"]+)">([^<]+)<', offers))
    assert offered["es"] == "español, Spanish"
    assert offered["en"] == "English"
    assert set(offered) == set(languages_with(PATIENT_PAGE))
    form = fields_of_form(page, "/patients/new")
    typed = {**form, "patient_id": "7", "name": "A", "born": "1950-01-01", "bed": "7"}
    for language in ("tlh", "Klingon"):
        words = said(opened.post("/patients/new", {**typed, "language": language}))
        assert "es" in words.partition("language")[2]
        assert "--" not in words


def test_a_log_is_started_from_the_shift_before(tmp_path: Path) -> None:
    opened = night(tmp_path)
    page = opened.get("/logs/new").get_data(as_text=True)
    form = fields_of_form(page, "/logs/new")
    assert (form["start"], form["end"]) == ("2026-03-07T07:00", "2026-03-07T19:00")
    kept = re.findall(r'name="keep" value="(\w+)" checked', page)
    assert len(kept) == 2
    answer = opened.post("/logs/new", {**form, "name": "day", "keep": kept[:1]})
    assert answer.status_code == 303
    started = tmp_path / "2026-03-07-day.yaml"
    text = started.read_text()
    assert "Larkspur, Odile" in text
    assert "Quist" not in text
    assert "19:40" not in text.split("entries:")[1].replace("19:40 is enough", "")
    (handover,) = opened.desk.ward().handovers
    assert handover.shift.name == "day"
    assert [each.id for each in handover.patients] == ["10442"]
    assert handover.patients[0].order is not None
    assert (tmp_path / "night.yaml").read_text() == NIGHT
    assert is_its_owners(started)


def test_a_shift_that_is_still_to_come_is_not_opened_yet(tmp_path: Path) -> None:
    opened = night(tmp_path)
    start = datetime.now(UTC) + timedelta(days=2)
    times = {"start": f"{start:%Y-%m-%d} 07:00", "end": f"{start:%Y-%m-%d} 19:00"}
    form = fields_of_form(opened.get("/logs/new").get_data(as_text=True), "/logs/new")
    answer = opened.post("/logs/new", {**form, **times})
    page = said(opened.get(answer.headers["Location"]))
    name = f"{start:%Y-%m-%d}-07-00.yaml"
    assert f"Made {name}. Its shift is more than a day away" in page
    assert opened.desk.paths == (str(tmp_path / "night.yaml"),)
    assert (tmp_path / name).is_file()


def test_a_new_log_that_cannot_be_written_leaves_what_was_typed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened = night(tmp_path)
    form = fields_of_form(opened.get("/logs/new").get_data(as_text=True), "/logs/new")

    def full(*_: object) -> int:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("handoff.desk.edits.logbook.os.write", full)
    answer = opened.post("/logs/new", {**form, "outgoing": "T. Baptiste RN"})
    assert answer.status_code == 409
    assert "cannot be written: No space left on device" in said(answer)
    assert 'value="T. Baptiste RN"' in answer.get_data(as_text=True)
    assert [each.name for each in tmp_path.iterdir()] == ["night.yaml"]


def test_a_browser_that_goes_to_what_was_refused_may_come_back_to_it(tmp_path: Path) -> None:
    """It gets an address, and so does not ask whether the form is to be sent once more."""
    opened = night(tmp_path)
    goes = {"headers": {"Sec-Fetch-Mode": "navigate"}}
    page = opened.get("/put-right").get_data(as_text=True)
    row = fields_of_form(page, "/put-right/row") | {"cell-volume_ml": "25OO"}
    sent = {"/entry": {"bed": "nobody", "breaths": "7"}, "/put-right/row": row}
    for path, address in (("/entry", "/entry"), ("/put-right/row", "/put-right")):
        moved = opened.post(path, sent[path], **goes)
        assert (moved.status_code, moved.location.partition("?")[0]) == (303, address)
        again = [opened.get(moved.location) for _ in range(2)]
        assert [each.status_code for each in again] == [422, 422]
        assert [said(each) for each in again] == [said(opened.post(path, sent[path]))] * 2
        assert all(each.headers["Cache-Control"] == "no-store" for each in (moved, *again))
    for _ in range(MOST_REFUSED):
        opened.post("/entry", sent["/entry"], **goes)
    assert opened.get(moved.location).status_code == 200  # too long ago: the page without it
    opened.leave()
    assert opened.get(moved.location).status_code == 401


def test_a_log_is_started_with_nobody_on_the_list(tmp_path: Path) -> None:
    opened = open_desk(tmp_path)
    asked = {"unit": "Oak", "time_zone": "Europe/Nowhere", "start": "2026-03-07 07:00", "end": "x"}
    answer = opened.post("/logs/new", asked)
    assert answer.status_code == 422
    assert "time zone" in said(answer)
    assert 'value="Oak"' in answer.get_data(as_text=True)
    right = {**asked, "time_zone": "Europe/Oslo", "end": "2026-03-07 19:00"}
    assert opened.post("/logs/new", right).status_code == 303
    assert "Oak" in said(opened.get("/"))
    assert opened.get("/patients/new").status_code == 200
    patient = {"patient_id": "1", "name": "A", "born": "1950-01-01", "bed": "1", "form": "f"}
    assert opened.post("/patients/new", patient).status_code == 303
    assert [each.name for each in opened.desk.ward().handovers[0].patients] == ["A"]


def test_what_a_spreadsheet_does_not_say_is_told_for_all_logs(tmp_path: Path) -> None:
    rows = EVENING_CSV.split("\r\n")
    bare = "\r\n".join(";".join(row.split(";")[4:]) for row in rows if row) + "\r\n"
    opened = night(tmp_path, bare, "evening.csv")
    assert "does not say which unit" in said(opened.get("/put-right"))
    told = {
        "unit": "Oak",
        "time_zone": "America/Halifax",
        "shift_start": "2026-03-06 19:00",
        "shift_end": "2026-03-07 07:00",
    }
    assert opened.post("/logs/setting", told).status_code == 303
    assert "Oak" in said(opened.get("/"))
    assert 'value="2026-03-06 19:00"' in opened.get("/logs").get_data(as_text=True)
    assert (tmp_path / "evening.csv").read_bytes() == bare.encode()


def test_letters_that_no_font_has_are_told_where_sheets_are_made(tmp_path: Path) -> None:
    opened = night(tmp_path, NIGHT.replace("Quist, Bram", "田, 中"))
    page = said(opened.get("/sheets"))
    assert "lack these letters" in page
    assert "The sheets are ready" in page


def test_whoever_is_chosen_for_an_entry_is_told_by_more_than_a_bed(tmp_path: Path) -> None:
    alike = NIGHT.replace("Quist, Bram", "Larkspur, Odila")
    page = said(night(tmp_path, alike).get("/entry"))
    assert "12A · Larkspur, Odile · id 10442 · NAME ALERT 12B" in page


def test_a_log_that_is_gone_leaves_the_other_pages(tmp_path: Path) -> None:
    opened = night(tmp_path)
    opened.desk.open([*opened.desk.paths, str(tmp_path / "no" / "such.yaml")])
    assert "there is no such file" in said(opened.get("/put-right")).lower()
    assert opened.get("/logs").status_code == 200
    page = said(opened.get("/"))
    assert "such.yaml cannot be used: there is no such file." in page
    assert "1,100 mL" in page


def test_one_bad_log_of_seven_is_named_and_the_rest_is_shown(tmp_path: Path) -> None:
    for day in range(1, 7):
        earlier = NIGHT.replace("2026-03-07", f"2026-02-{day + 1:02}")
        earlier = earlier.replace("2026-03-06", f"2026-02-{day:02}")
        (tmp_path / f"{day}.yaml").write_text(earlier.replace("25O0", "900"))
    opened = night(tmp_path)
    opened.desk.open([*(str(tmp_path / f"{day}.yaml") for day in range(1, 7)), *opened.desk.paths])
    oldest = tmp_path / "1.yaml"
    whole = opened.desk.ward()
    assert whole.lost == {}
    for bad in (NIGHT[:313], "", "\x00", NIGHT.replace("night, start", "x"), None):
        oldest.unlink() if bad is None else oldest.write_text(bad)
        seen = opened.desk.ward()
        assert list(seen.lost) == [str(oldest)]
        assert seen.handovers[0].patients == whole.handovers[0].patients
    for path in ("/", *patients(opened).values(), "/entry"):
        page = said(opened.get(path))
        assert f"{oldest} cannot be used: there is no such file. All that is shown" in page
        assert "Larkspur" in page or "Quist" in page
    # A row is still written, and paper, which could not say what it lacks, is not printed.
    bed = re.findall(r'<option value="(\w{24})"', opened.get("/entry").get_data(as_text=True))[0]
    row = {"bed": bed, "form": "one", "at": "21:00", "breaths": "5"}
    assert opened.post("/entry", row).status_code == 303
    for path in ("/sheets", f"/patients/{bed}/sheet.pdf", f"/patients/{bed}/take-home.pdf"):
        answer = opened.get(path)
        assert answer.status_code == 409
        assert f"Nothing is printed while {oldest} cannot be used" in said(answer)
    key = opened.desk.key("log", str(oldest))
    closed = opened.post("/logs/close", {"log": key})
    assert f"{oldest} is closed." in said(opened.get(closed.headers["Location"]))
    assert "cannot be used" not in said(opened.get("/"))
    assert opened.get(f"/patients/{bed}/sheet.pdf").status_code == 200
    assert len(opened.desk.paths) == 6


def test_two_versions_of_a_log_are_told_and_one_can_be_closed(tmp_path: Path) -> None:
    (tmp_path / "older.yaml").write_bytes(NIGHT.replace("1100", "2100").encode())
    opened = night(tmp_path)
    opened.desk.open([*opened.desk.paths, str(tmp_path / "older.yaml")])
    assert "are two versions of one shift's log" in said(opened.get("/put-right"))
    assert opened.get("/logs").status_code == 200
    assert "1,100 mL" not in said(opened.get("/"))
    opened.desk.open([str(tmp_path / "night.yaml")])
    assert "1,100 mL" in said(opened.get("/"))

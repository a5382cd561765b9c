"""Put right: every finding at its row, and corrections that touch nothing else."""

import re
import shutil
from pathlib import Path

import pytest

from handoff.cli.main import main
from handoff.desk.edits.found import found_places, found_rows
from handoff.model.findings import text
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
from tests.support.logs import SAMPLES

ROW = "/put-right/row"


@pytest.fixture
def opened(tmp_path: Path) -> Opened:
    return night(tmp_path)


def log(opened: Opened) -> str:
    return Path(opened.desk.paths[0]).read_bytes().decode()


def page(opened: Opened) -> str:
    return opened.get("/put-right").get_data(as_text=True)


def files(opened: Opened) -> set[str]:
    """The logs of the folder and the copies of them."""
    names = {path.name for path in opened.desk.setting.folder.iterdir()}
    return {name for name in names if not name.endswith(".history")}


@pytest.mark.parametrize("name", ["messy.csv", "night.yaml"])
def test_every_finding_of_check_is_on_the_page(
    tmp_path: Path, name: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    if name == "messy.csv":
        shutil.copy(SAMPLES / name, tmp_path)
    else:
        (tmp_path / name).write_text(NIGHT)
    monkeypatch.chdir(tmp_path)
    opened = open_desk(Path(), name)
    main(["check", "--every", name])
    printed = {line.partition(": ")[2] for line in capsys.readouterr().out.splitlines()[:-1]}
    rows = found_rows(opened.desk.ward(), found_places(opened.desk.ward()))
    assert {text(each) for row in rows for each in row.findings} == printed
    shown = said(opened.get("/put-right"))
    for row in rows:
        for each in row.findings:
            assert each.fix in shown
    aside = [row for row in rows if row.set_aside]
    assert len(aside) == sum(each.counts.set_aside for each in opened.desk.ward().handovers)
    assert rows[: len(aside)] == aside


def test_a_cell_is_corrected_in_the_log_after_a_backup(opened: Opened) -> None:
    form = fields_of_form(page(opened), ROW)
    assert form["cell-volume_ml"] == "25O0"
    assert form["cell-note"] == "coughed;\nrested\n"
    answer = opened.post(ROW, {**form, "cell-volume_ml": "2500", "save": "place"})
    assert answer.status_code == 303
    assert log(opened) == NIGHT.replace("25O0", "2500")
    (backup,) = files(opened) - {"night.yaml"}
    assert (opened.desk.setting.folder / backup).read_text() == NIGHT
    assert "Put right Print" in said(opened.get(answer.headers["Location"]))


def test_one_backup_is_enough_until_somebody_else_writes(opened: Opened) -> None:
    folder, path = opened.desk.setting.folder, Path(opened.desk.paths[0])
    for volume in ("2500", "2400"):
        key = re.findall(r"/patients/(\w{24})", said_links(opened))[1]
        facts = opened.get(f"/patients/{key}/facts").get_data(as_text=True)
        form = fields_of_form(facts, ROW)
        answer = opened.post(ROW, {**form, "cell-goal_ml": volume, "save": "place"})
        assert answer.headers["Location"].startswith(f"/patients/{key}?notice=")
    assert len(files(opened)) == 2
    path.write_text(path.read_text() + "# by hand\n")
    form = fields_of_form(page(opened), ROW)
    opened.post(ROW, {**form, "cell-volume_ml": "2500", "save": "place"})
    assert len(files(opened)) == 3
    assert not list(folder.glob(".*"))


def said_links(opened: Opened) -> str:
    return opened.get("/").get_data(as_text=True)


def test_a_correction_in_a_copy_leaves_the_log_as_it_is(opened: Opened) -> None:
    form = fields_of_form(page(opened), ROW)
    assert opened.post(ROW, {**form, "cell-volume_ml": "2500", "save": "copy"}).status_code == 303
    folder = opened.desk.setting.folder
    assert (folder / "night.yaml").read_text() == NIGHT
    assert (folder / "night-corrected.yaml").read_text() == NIGHT.replace("25O0", "2500")
    assert opened.desk.paths == (str(folder / "night-corrected.yaml"),)
    assert files(opened) == {"night.yaml", "night-corrected.yaml"}


def test_what_is_still_wrong_is_not_written_and_stays_as_typed(opened: Opened) -> None:
    form = fields_of_form(page(opened), ROW)
    answer = opened.post(ROW, {**form, "cell-volume_ml": "99000", "save": "place"})
    assert answer.status_code == 422
    assert log(opened) == NIGHT
    again = answer.get_data(as_text=True)
    assert "Not written yet" in again
    assert fields_of_form(again, ROW)["cell-volume_ml"] == "99000"
    assert "Check the number and type it again" in said(answer)


def test_a_correction_may_not_make_something_else_wrong(opened: Opened) -> None:
    form = fields_of_form(page(opened), ROW)
    form |= {"cell-volume_ml": "2500", "cell-what": "away", "cell-note": "", "save": "place"}
    answer = opened.post(ROW, form)
    assert answer.status_code == 422
    assert "needs the time it ended" in said(answer)
    assert log(opened) == NIGHT


def test_what_is_said_of_options_is_said_for_the_desk(tmp_path: Path) -> None:
    where = "give it on the page Logs"
    opened = night(tmp_path, NIGHT.replace("at: 2026-03-06 20:10", "at: 03/06/2026 20:10"))
    page = said(opened.get("/put-right"))
    assert "--dates mdy" in page
    assert where in page
    opened.post("/logs/setting", {"dates": "mdy"})
    assert where not in said(opened.get("/put-right"))


def test_a_slip_in_an_entry_that_nothing_speaks_against_is_corrected(opened: Opened) -> None:
    ward = opened.get("/").get_data(as_text=True)
    (patient,) = re.findall(r'href="(/patients/\w{24})">Larkspur', ward)
    page = opened.get(f"{patient}/facts").get_data(as_text=True)
    assert "19:40 exercise, 8 breaths, 1100 mL<" in page
    form = fields_of_form(page, "/put-right/row", 1)
    wrong = {**form, "cell-volume_ml": "99000", "save": "place"}
    answer = opened.post("/put-right/row", wrong)
    assert answer.status_code == 422
    assert "What the log says of bed 12A" in said(answer)
    assert 'value="99000"' in answer.get_data(as_text=True)
    right = {**form, "cell-volume_ml": "1200", "save": "place"}
    answer = opened.post("/put-right/row", right)
    assert answer.headers["Location"].startswith(patient)
    assert log(opened) == NIGHT.replace("volume_ml: 1100", "volume_ml: 1200")
    again = opened.post("/put-right/row", right)
    assert again.status_code == 409
    assert "has been changed since" in said(again)


def test_a_page_that_is_behind_writes_nothing(opened: Opened) -> None:
    form = fields_of_form(page(opened), ROW)
    path = Path(opened.desk.paths[0])
    path.write_text(NIGHT.replace("breaths: 10", "breaths: 9"))
    answer = opened.post(ROW, {**form, "cell-volume_ml": "2500", "save": "place"})
    assert answer.status_code == 409
    assert "has been changed since" in said(answer)
    # Saved as it stands, the 10 that the page still has would undo what somebody else wrote.
    assert "now in the log: 9" in said(answer)
    assert "now in the log: 25O0" in said(answer)
    assert said(answer).count("in the log:") == 2
    assert path.read_text() == NIGHT.replace("breaths: 10", "breaths: 9")


def test_rows_added_meanwhile_stay(opened: Opened) -> None:
    form = fields_of_form(page(opened), ROW)
    path = Path(opened.desk.paths[0])
    more = NIGHT + '- {patient: "10442", at: 21:00, breaths: 3}\n'
    path.write_text(more)
    opened.post(ROW, {**form, "cell-volume_ml": "2500", "save": "place"})
    assert path.read_text() == more.replace("25O0", "2500")


def test_a_row_set_aside_is_used_when_it_is_mended(tmp_path: Path) -> None:
    opened = night(tmp_path, NIGHT.replace("at: 2026-03-06 20:10", "at: 2026-03-06 20:1O"))
    assert "1 set aside" in said(opened.get("/put-right"))
    form = fields_of_form(page(opened), ROW)
    opened.post(ROW, {**form, "cell-at": "2026-03-06 20:10", "save": "place"})
    assert log(opened) == NIGHT
    assert "0 set aside" in said(opened.get("/put-right"))


def test_a_repeated_row_is_taken_out(tmp_path: Path) -> None:
    again = '- {patient: "10442", at: 19:40, breaths: 8, volume_ml: 1100}\n'
    opened = night(tmp_path, NIGHT + again)
    form = fields_of_form(page(opened), "/put-right/remove")
    assert opened.post("/put-right/remove", {**form, "save": "place"}).status_code == 303
    assert log(opened) == NIGHT


def test_a_row_that_fell_apart_is_corrected_as_a_line(tmp_path: Path) -> None:
    broken = EVENING_CSV.replace(";20:10;10;25O0;;", ";20:10;10")
    opened = night(tmp_path, broken, "evening.csv")
    form = fields_of_form(page(opened), "/put-right/line")
    assert form["line"] == broken.splitlines()[2]
    fixed = form["line"] + ";2500;;"
    assert (
        opened.post("/put-right/line", {**form, "line": fixed, "save": "place"}).status_code == 303
    )
    assert log(opened) == EVENING_CSV.replace("25O0", "2500")
    behind = opened.post("/put-right/line", {**form, "line": "x", "save": "place"})
    assert behind.status_code == 409


def test_a_log_that_is_no_yaml_is_put_right_line_by_line(tmp_path: Path) -> None:
    opened = night(tmp_path, NIGHT.replace("breaths: 8,", "breaths: [8,"))
    assert "See what is wrong" in said(opened.get("/"))
    form = fields_of_form(page(opened), "/put-right/line")
    number = int(form["number"])
    line = NIGHT.splitlines()[number - 1]
    broken = Path(opened.desk.paths[0]).read_text().splitlines()[number - 1]
    assert form["line"] == broken
    assert line != broken
    opened.post("/put-right/line", {**form, "line": line, "save": "place"})
    assert log(opened) == NIGHT
    assert read(opened.desk.paths[0]).usable


def test_ten_thousand_rows_to_put_right_come_in_parts(tmp_path: Path) -> None:
    head, row = EVENING_CSV.splitlines()[:2], ";;;;10442;;;;;{:02}:{:02};1O;1100;;"
    rows = [row.format(hour, minute) for hour in range(20, 24) for minute in range(60)]
    opened = night(tmp_path, "\r\n".join([*head, *rows, ""]), "evening.csv")
    whole = opened.get("/put-right")
    assert len(whole.data) < 300_000
    assert whole.text.count("<article") == 36
    of_all = len(found_places(opened.desk.ward()))
    assert of_all >= len(rows)
    assert f"1 to 36 of {of_all}" in said(whole)
    last = opened.get(f"/put-right?first={of_all}").text
    assert f'id="row-{of_all}"' in last
    assert "The next" not in last
    second = opened.get("/put-right?first=37").text
    form = fields_of_form(second, ROW)
    assert form["card"] == "37"
    refused = opened.post(ROW, {**form, "cell-breaths": "1l", "save": "place"})
    assert 'id="row-37"' in refused.text
    assert "Not written yet" in said(refused)
    done = opened.post(ROW, {**form, "cell-breaths": "10", "save": "place"})
    assert re.search(r"first=37.*#row-37$", done.headers["Location"])
    assert log(opened).count(";1O;") == 239
    key = opened.desk.key("patient", "Harbour 3 East", "10442")
    facts = opened.get(f"/patients/{key}/facts?first=1000")
    assert facts.status_code == 200
    for odd in ("0", "-1", "x", "9" * 5000):
        assert opened.get(f"/put-right?first={odd}").text.count("<article") == 36


@pytest.mark.parametrize(
    "forged",
    [
        {"log": "0" * 24},
        {"section": "nothing"},
        {"index": "x"},
        {"index": "99"},
        {"seen": "0"},
    ],
)
def test_a_forged_form_writes_nothing(opened: Opened, forged: dict[str, str]) -> None:
    form = fields_of_form(page(opened), ROW)
    answer = opened.post(ROW, {**form, "cell-volume_ml": "2500", "save": "place", **forged})
    assert answer.status_code in {404, 409}
    assert log(opened) == NIGHT


def test_columns_that_disagree_are_corrected_one_by_one(tmp_path: Path) -> None:
    text = EVENING_CSV.replace(";note\r\n", ";note;Breaths\r\n").replace("25O0;;", "2500;;;9")
    text = text.replace('sat up"\r\n', 'sat up";\r\n')
    opened = night(tmp_path, text, "evening.csv")
    form = fields_of_form(page(opened), ROW)
    assert (form["cell-breaths, column 11"], form["cell-breaths, column 15"]) == ("10", "9")
    answer = opened.post(ROW, {**form, "cell-breaths, column 15": "10", "save": "place"})
    assert answer.status_code == 303
    assert log(opened) == text.replace("2500;;;9", "2500;;;10")
    assert "Nothing has to be put right" not in said(opened.get("/put-right"))  # two columns stay
    assert "columns-disagree" not in {each.code for each in opened.desk.ward().findings}

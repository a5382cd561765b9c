"""Nothing written is ever lost: what was, what is now, when, by whom; and the way back."""

import os
import re
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path
from secrets import token_hex

import pytest
from werkzeug.test import TestResponse

from handoff.desk.edits import history
from handoff.desk.edits.history import Kind
from handoff.read import read
from tests.support.desks import EVENING_CSV, NIGHT, Opened, fields_of_form, open_desk, said
from tests.support.runs import is_its_owners
from tests.support.servers import serving

ROW = "/put-right/row"
NOW = datetime(2026, 3, 7, 2, 30, tzinfo=UTC)  # 22:30 on the unit
TEXTS = {"night.yaml": NIGHT, "evening.csv": EVENING_CSV}
BOTH = pytest.mark.parametrize("name", TEXTS)


def open_one(folder: Path, name: str, text: str = "", by: str | None = None) -> Opened:
    (folder / name).write_bytes((text or TEXTS[name]).encode())
    return open_desk(folder, name, clock=lambda: NOW, by=by)


def log(opened: Opened) -> str:
    return Path(opened.desk.paths[0]).read_bytes().decode()


def key(opened: Opened, name: str) -> str:
    page = opened.get("/entry").get_data(as_text=True)
    return str(re.findall(rf'<option value="(\w{{24}})"[^>]*>\w+ · {name}', page)[0])


def add(opened: Opened, name: str = "Larkspur", **cells: str) -> TestResponse:
    form = {"form": token_hex(8), "bed": key(opened, name), "at": "22:10"}
    return opened.post("/entry", {**form, **cells})


def undo(opened: Opened, number: int = 0) -> TestResponse:
    """Press the button of one change on the page of all changes, the newest first."""
    page = opened.get("/history").get_data(as_text=True)
    return opened.post("/history/undo", fields_of_form(page, "/history/undo", number))


def card(opened: Opened, name: str, action: str, number: int = 0) -> dict[str, str]:
    """The form of one of a patient's entries, the newest first."""
    page = opened.get(f"/patients/{key(opened, name)}/facts").get_data(as_text=True)
    return fields_of_form(page, f"/put-right/{action}", number)


@BOTH
def test_an_entry_is_undone_from_where_it_was_added_and_put_back(tmp_path: Path, name: str) -> None:
    opened = open_one(tmp_path, name)
    answer = add(opened, breaths="7")
    with_it = log(opened)
    assert with_it != TEXTS[name]
    page = opened.get(answer.headers["Location"]).get_data(as_text=True)
    undone = opened.post("/history/undo", fields_of_form(page, "/history/undo"))
    assert undone.status_code == 303
    assert log(opened) == TEXTS[name]  # the person's own text, byte by byte
    shown = opened.get(undone.headers["Location"])
    assert f"Undone in {name}. Both stand in the history." in said(shown)
    back = fields_of_form(shown.get_data(as_text=True), "/history/undo")
    assert opened.post("/history/undo", back).status_code == 303
    assert log(opened) == with_it
    both = said(opened.get("/history"))
    assert both.index("Undone") < both.index("Added bed 12A, Larkspur, Odile")


@BOTH
def test_what_was_and_is_stands_with_its_time_and_who_charts(tmp_path: Path, name: str) -> None:
    opened = open_one(tmp_path, name, by="T. Baptiste RN")
    form = fields_of_form(opened.get("/put-right").get_data(as_text=True), ROW)
    opened.post(ROW, {**form, "cell-volume_ml": "2500", "save": "place"})
    opened.post("/history/by", {"by": "M. Adeyemi RN"})
    add(opened, breaths="7", note="sat up <b>well</b>")
    words = said(opened.get("/history"))
    assert "bed 12B, Quist, Bram 2026-03-06 22:30, by T. Baptiste RN" in words
    assert "was 25O0 → now 2500" in words
    assert "bed 12A, Larkspur, Odile 2026-03-06 22:30, by M. Adeyemi RN" in words
    assert "now sat up <b>well</b>" in words  # as text


def test_the_history_outlives_a_killed_desk_and_half_a_line(tmp_path: Path) -> None:
    (tmp_path / "night.yaml").write_text(NIGHT)
    with serving(tmp_path, "night.yaml", "--by", "T. Baptiste RN") as served:
        assert served.add(served.beds()[0], at="21:00", breaths="5") == 303
        served.kill()
    kept = tmp_path / "night.yaml.history"
    assert is_its_owners(kept)
    with kept.open("ab") as file:
        file.write(b'{"key": "cut sho')
    opened = open_desk(tmp_path, "night.yaml")
    assert "by T. Baptiste RN" in said(opened.get("/history"))
    add(opened, "Quist", at="21:10", breaths="6")
    assert [each.noted.kind for each in history.kept(opened.desk.paths[0])] == [Kind.ADDED] * 2
    assert undo(opened).status_code == 303
    assert undo(opened, 1).status_code == 303  # the older one, written by the run before
    assert log(opened) == NIGHT


def test_a_copy_of_before_is_made_once_a_run_and_never_read_as_a_log(tmp_path: Path) -> None:
    opened = open_one(tmp_path, "night.yaml")
    add(opened, breaths="7")
    add(opened, breaths="8", at="22:20")
    undo(opened)
    before = [each for each in tmp_path.iterdir() if each.suffix == ".before"]
    assert [each.read_text() for each in before] == [NIGHT]
    assert is_its_owners(before[0])
    assert [Path(each).name for each in opened.desk.in_folder()] == ["night.yaml"]
    assert not read(str(before[0])).usable


@BOTH
def test_rows_added_and_corrected_since_stay_when_one_is_undone(tmp_path: Path, name: str) -> None:
    opened = open_one(tmp_path, name)
    add(opened, breaths="7")
    add(opened, "Quist", breaths="8")
    form = fields_of_form(opened.get("/put-right").get_data(as_text=True), ROW)
    opened.post(ROW, {**form, "cell-volume_ml": "2500", "save": "place"})
    assert undo(opened, 2).status_code == 303  # the first of the three
    cells = [each.cells for each in read(opened.desk.paths[0]).entries]
    assert [each["breaths"] for each in cells] == ["8", "10", "8"]
    assert cells[1]["volume_ml"] == "2500"
    assert undo(opened, 1).status_code == 303  # the correction brings its error back
    assert read(opened.desk.paths[0]).entries[1].cells["volume_ml"] == "25O0"


def test_two_windows_that_undo_at_once_undo_it_once(tmp_path: Path) -> None:
    opened = open_one(tmp_path, "night.yaml")
    add(opened, breaths="7")
    page = opened.get("/history").get_data(as_text=True)
    form = fields_of_form(page, "/history/undo")
    other = open_desk(tmp_path, "night.yaml")  # a second desk in the same folder
    theirs = fields_of_form(other.get("/history").get_data(as_text=True), "/history/undo")
    with ThreadPoolExecutor(2) as pool:
        sent = [
            pool.submit(each.post, "/history/undo", of)
            for each, of in ((opened, form), (other, theirs))
        ]
        answers = sorted(each.result().status_code for each in sent)
    assert answers == [303, 409]
    assert log(opened) == NIGHT
    assert "This was undone already" in said(opened.post("/history/undo", form))
    assert log(opened) == NIGHT


def test_an_undone_form_may_be_sent_again(tmp_path: Path) -> None:
    opened = open_one(tmp_path, "night.yaml")
    form = {"form": "one", "bed": key(opened, "Larkspur"), "at": "22:10", "breaths": "7"}
    for _ in range(2):
        opened.post("/entry", form)
        assert log(opened).count("at: 22:10") == 1
    undo(opened)
    assert opened.post("/entry", form).status_code == 303
    assert log(opened).count("at: 22:10") == 1


@pytest.mark.parametrize(
    "change",
    [
        lambda text: text.replace("breaths: 7}", "breaths: 9}"),  # the row itself
        lambda text: text.replace("at: 22:10, breaths: 7", "breaths: 7, at: 22:10"),
        lambda _: "",
    ],
)
def test_what_an_editor_saved_since_is_not_written_over(tmp_path: Path, change: object) -> None:
    opened = open_one(tmp_path, "night.yaml")
    add(opened, breaths="7")
    assert callable(change)
    edited = change(log(opened))
    Path(opened.desk.paths[0]).write_text(edited)
    assert undo(opened).status_code == 409
    assert log(opened) == edited


def test_an_editor_that_put_lines_above_does_not_mislead(tmp_path: Path) -> None:
    opened = open_one(tmp_path, "night.yaml")
    add(opened, breaths="7")
    Path(opened.desk.paths[0]).write_text("# checked by hand\n\n" + log(opened))
    assert undo(opened).status_code == 303
    assert log(opened) == "# checked by hand\n\n" + NIGHT


def test_a_patient_with_entries_is_not_undone(tmp_path: Path) -> None:
    opened = open_one(tmp_path, "night.yaml")
    facts = {"patient_id": "3", "name": "Sand, Ida", "born": "1950-01-01", "bed": "1", "form": "f"}
    assert opened.post("/patients/new", facts).status_code == 303
    add(opened, "Sand", what="note", note="new")
    before = log(opened)
    refused = undo(opened, 1)
    assert refused.status_code == 409
    assert "The log would be wrong then" in said(refused)
    assert log(opened) == before
    assert undo(opened).status_code == 303
    assert undo(opened, 1).status_code == 303
    assert log(opened) == NIGHT


@BOTH
def test_a_full_disk_loses_neither_log_nor_history(
    tmp_path: Path, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened = open_one(tmp_path, name)
    real, full = os.write, [True]

    def write(descriptor: int, content: bytes) -> int:
        is_log = os.path.samestat(os.fstat(descriptor), (tmp_path / name).stat())
        if full[0] and not is_log:
            raise OSError(28, "No space left on device")
        return real(descriptor, content)

    monkeypatch.setattr(os, "write", write)
    answer = add(opened, breaths="7")
    assert answer.status_code == 303  # the entry is in the log, and says so
    with_it = log(opened)
    assert with_it.startswith(TEXTS[name])
    shown = said(opened.get("/history"))
    assert "could not be written into its history on the disk" in shown
    assert "Added bed 12A" in shown
    assert undo(opened).status_code == 409  # it would need room for the new file
    assert log(opened) == with_it
    full[0] = False
    assert undo(opened).status_code == 303
    assert log(opened) == TEXTS[name]
    assert [each.noted.kind for each in history.kept(opened.desk.paths[0])] == [
        Kind.ADDED,
        Kind.UNDONE,
    ]
    assert "could not be written" not in said(opened.get("/history"))


@BOTH
def test_a_wrong_entry_is_taken_out_and_comes_back(tmp_path: Path, name: str) -> None:
    opened = open_one(tmp_path, name)
    form = card(opened, "Larkspur", "remove")
    answer = opened.post("/put-right/remove", form)
    assert answer.status_code == 303
    raw_log = read(opened.desk.paths[0])
    assert [each.cells["at"] for each in raw_log.entries if each.cells.get("at")] in (
        ["2026-03-06 20:10"],
        ["20:10"],
    )
    assert "Larkspur, Odile" in said(opened.get("/"))
    assert {each.id for each in opened.desk.ward().handovers[0].patients} == {"10442", "00718"}
    assert undo(opened).status_code == 303
    assert log(opened) == TEXTS[name]  # with its comment, where it stood


@BOTH
def test_an_entry_of_the_wrong_patient_is_moved_by_choosing(tmp_path: Path, name: str) -> None:
    opened = open_one(tmp_path, name)
    page = opened.get(f"/patients/{key(opened, 'Larkspur')}/facts").get_data(as_text=True)
    (chosen,) = re.findall(r'<option value="(\w{24})">12B · Quist, Bram · id 00718', page)
    form = {**card(opened, "Larkspur", "move"), "to": chosen}
    answer = opened.post("/put-right/move", form)
    assert answer.status_code == 303
    assert "It is now an entry of bed 12B, Quist, Bram." in said(
        opened.get(answer.headers["Location"])
    )
    (handover,) = opened.desk.ward().handovers
    assert [len(handover.entries.get(each, ())) for each in ("10442", "00718")] == [0, 2]
    moved = handover.entries["00718"][0]
    assert (moved.breaths, moved.volume_ml) == (8, 1100)
    assert "bed 12A, Larkspur, Odile → bed 12B, Quist, Bram" in said(opened.get("/history"))
    assert undo(opened).status_code == 303
    assert log(opened) == TEXTS[name]
    behind = opened.post("/put-right/move", {**form, "seen": "0"})
    assert behind.status_code == 409
    nobody = opened.post("/put-right/move", {**form, "to": ""})
    assert nobody.status_code == 422
    assert log(opened) == TEXTS[name]

"""The desk for a person without a terminal: one in the documents, closed by a button."""

import stat
from pathlib import Path
from urllib.parse import unquote, urlsplit

import pytest

from handoff.cli import main as cli
from handoff.desk.alone import NAME, only_desk
from tests.support.desks import night, open_desk, said
from tests.support.servers import started


def test_a_second_start_shows_the_desk_that_runs_and_a_button_closes_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    monkeypatch.setenv("XDG_DOCUMENTS_DIR", str(tmp_path / "Documents"))
    opened: list[str] = []
    monkeypatch.setattr("webbrowser.open", opened.append)
    folder = tmp_path / "Documents" / "handoff"
    with started(tmp_path, "--documents") as served:
        assert cli.main(["desk", "--documents"]) == cli.DONE
        assert capsys.readouterr().out == f"The desk of {folder} is open already.\n"
        page = Path(unquote(urlsplit(opened[0]).path))
        assert served.address in page.read_text(encoding="utf-8")
        assert stat.S_IMODE(page.stat().st_mode) == 0o600
        assert stat.S_IMODE(folder.stat().st_mode) == 0o700
        assert f"The folder is {folder}" in served.ask("/logs")[2]
        status, _, closed = served.ask("/logs/close-desk", served.form("/logs"))
        assert (status, "The desk is closed" in closed, str(folder) in closed) == (200, True, True)
        assert served.process.wait(30) == cli.DONE
    assert page.read_bytes() == b""


def test_what_a_killed_desk_left_is_not_taken_for_one_that_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened: list[str] = []
    monkeypatch.setattr("webbrowser.open", opened.append)
    (tmp_path / NAME).write_text("of a desk that was killed")
    with only_desk(tmp_path) as page:
        assert page == tmp_path / NAME
        assert page.read_bytes() == b""
        page.write_text("leads to it")
        with only_desk(tmp_path) as second:
            assert second is None
    assert opened == [page.as_uri()]


def test_no_other_page_closes_the_desk(tmp_path: Path) -> None:
    desk = night(tmp_path)
    answer = desk.client.post("/logs/close-desk", base_url=desk.gate.origin)
    assert answer.status_code == 403


def test_who_has_no_log_yet_is_led_to_the_first_one_and_to_nothing_that_needs_one(
    tmp_path: Path,
) -> None:
    page = open_desk(tmp_path).get("/logs")
    assert "There is no log in this folder yet. Start a new log The folder is" in said(page)
    assert "Tick tonight's log" not in said(page)
    assert page.text.count('href="/logs/new"') == 1
    there = night(tmp_path).get("/logs")
    assert "Tick tonight's log" in said(there)
    assert there.text.count('href="/logs/new"') == 1


@pytest.mark.parametrize(
    ("in_the_way", "words"),
    [
        ("Documents", "the folder {folder} cannot be made: "),
        ("Documents/handoff", "{folder} is no folder; give that file another name."),
    ],
)
def test_what_is_in_the_way_of_the_folder_is_named(
    in_the_way: str,
    words: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    documents = tmp_path / "Documents"
    monkeypatch.setattr("platformdirs.user_documents_path", lambda: documents)
    (tmp_path / in_the_way).parent.mkdir(exist_ok=True)
    (tmp_path / in_the_way).touch()
    assert cli.main(["desk", "--documents"]) == cli.NOTHING_PRODUCED
    assert words.format(folder=documents / "handoff") in capsys.readouterr().err

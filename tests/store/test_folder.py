"""All or nothing: the old set whole or the new set whole, and nothing else harmed."""

import os
import stat
from collections.abc import Sequence
from pathlib import Path

import pytest

from handoff.store.folder import CARDS, REVIEW, SHEETS, StoreError, storing
from tests.support.runs import content

OLD = {"measures.json": b"old", "patients/bed-1.pdf": b"old sheet"}
NEW = {"measures.json": b"new", "patients/bed-2.pdf": b"new sheet"}


def store(files: dict[str, bytes], folder: str, replaces: Sequence[str] = SHEETS) -> None:
    with storing(folder, replaces=replaces) as new:
        for name, each in files.items():
            new.write(name, each)


def test_creates_the_folder_and_its_parents(tmp_path: Path) -> None:
    store(NEW, str(tmp_path / "ward" / "tonight"))
    assert content(tmp_path / "ward" / "tonight") == NEW


def test_replaces_an_earlier_set_whole(tmp_path: Path) -> None:
    store(OLD, str(tmp_path / "out"))
    store(NEW, str(tmp_path / "out"))
    assert content(tmp_path) == {f"out/{name}": each for name, each in NEW.items()}


def test_a_review_never_replaces_sheets(tmp_path: Path) -> None:
    store(OLD, str(tmp_path / "out"))
    with pytest.raises(StoreError):
        store({"review.csv": b"new"}, str(tmp_path / "out"), replaces=REVIEW)
    assert content(tmp_path / "out") == OLD
    store({"review.csv": b"old"}, str(tmp_path / "weeks"), replaces=REVIEW)
    store({"review.csv": b"new"}, str(tmp_path / "weeks"), replaces=REVIEW)
    assert content(tmp_path / "weeks") == {"review.csv": b"new"}


def test_replaces_an_empty_folder(tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    store(NEW, str(tmp_path / "out"))
    assert content(tmp_path / "out") == NEW


def test_is_readable_by_the_owner_only_whatever_the_umask(tmp_path: Path) -> None:
    before = os.umask(0)
    try:
        store(NEW, str(tmp_path / "out"))
    finally:
        os.umask(before)
    for path in [tmp_path / "out", *(tmp_path / "out").rglob("*")]:
        wanted = 0o700 if path.is_dir() else 0o600
        assert stat.S_IMODE(path.stat().st_mode) == wanted


def test_refuses_a_folder_that_holds_other_files(tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("dear")
    with pytest.raises(StoreError, match="other files"):
        store(NEW, str(tmp_path))
    assert content(tmp_path) == {"letter.txt": b"dear"}


@pytest.mark.parametrize(
    ("there", "new"),
    [
        ({**OLD, "notes.txt": b"mine"}, OLD),
        ({**OLD, "patients/letter.pdf": b"mine"}, OLD),
        ({"out/measures.json": b"old", "letter.txt": b"mine"}, OLD),
        ({"out/measures.json": b"old", "letters/one.txt": b"mine"}, OLD),
        ({"patients/bed-plan.pdf": b"mine"}, OLD),
        ({f"{night}/{name}": each for night in "67" for name, each in OLD.items()}, NEW),
        ({"6/measures.json": b"old", "7/measures.json": b"old"}, {"east/measures.json": b"new"}),
    ],
    ids=["beside", "within", "above", "next to", "no set", "nights", "nights of units"],
)
def test_a_folder_with_anything_besides_one_earlier_set_is_never_replaced(
    tmp_path: Path, there: dict[str, bytes], new: dict[str, bytes]
) -> None:
    for name, each in there.items():
        (tmp_path / "out" / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / "out" / name).write_bytes(each)
    with pytest.raises(StoreError, match="holds other files"):
        store(new, str(tmp_path / "out"))
    assert content(tmp_path / "out") == there


def test_a_set_of_several_units_and_cards_are_replaced_and_what_systems_leave_is_no_file(
    tmp_path: Path,
) -> None:
    of_units = {f"{unit}/{name}": each for unit in ("east", "west") for name, each in OLD.items()}
    for new in (of_units, {f"east/{name}": each for name, each in NEW.items()}):
        store(new, str(tmp_path / "out"))
        (tmp_path / "out" / ".DS_Store").touch()
        (tmp_path / "out" / "east" / "Thumbs.db").touch()
    for bytes_of_cards in (b"old", b"new"):
        store({"bedside-cards.pdf": bytes_of_cards}, str(tmp_path / "cards"), CARDS)
    assert content(tmp_path / "cards") == {"bedside-cards.pdf": b"new"}
    store(of_units, str(tmp_path / "out"))
    assert content(tmp_path / "out") == of_units


def test_refuses_a_file_in_the_place_of_the_folder(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("dear")
    with pytest.raises(StoreError, match="is a file"):
        store(NEW, str(tmp_path / "out"))
    for below in ("sub", "sub/deeper"):
        with pytest.raises(StoreError, match=r"[/\\]out is a file\. Give a folder"):
            store(NEW, str(tmp_path / "out" / below))
    assert content(tmp_path) == {"out": b"dear"}


def test_follows_a_link_to_the_folder_that_it_names(tmp_path: Path) -> None:
    store(OLD, str(tmp_path / "real"))
    (tmp_path / "link").symlink_to(tmp_path / "real")
    store(NEW, str(tmp_path / "link"))
    assert (tmp_path / "link").is_symlink()
    assert content(tmp_path / "real") == NEW


def test_a_failed_write_leaves_the_old_set_and_no_leftovers(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store(OLD, str(tmp_path / "out"))

    def no_space(_descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("handoff.store.folder.os.fsync", no_space)
    with pytest.raises(StoreError, match="No space left on device"):
        store(NEW, str(tmp_path / "out"))
    assert content(tmp_path) == {f"out/{name}": each for name, each in OLD.items()}


def test_a_run_that_was_ended_between_the_two_renames_is_mended_by_the_next(tmp_path: Path) -> None:
    store(OLD, str(tmp_path / "out"))
    (tmp_path / "out").rename(tmp_path / ".out.old")
    (tmp_path / ".out.new-abc").mkdir()
    store(NEW, str(tmp_path / "out"))
    assert content(tmp_path) == {f"out/{name}": each for name, each in NEW.items()}
    assert not (tmp_path / ".out.new-abc").exists()

"""Whatever ends or hinders a run: the old set whole or the new set whole, and nothing left beside.

Ten runs are killed in the suite; `pytest tests/test_unbreakable.py --kills 1000` kills more.
"""

import json
import os
import resource
import signal
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from handoff.cli import main as cli
from handoff.store.folder import StoreError, storing
from tests.support.how_many import few
from tests.support.killed import NEW, OLD, beside, night, put
from tests.support.logs import ROOT
from tests.support.runs import content


def seen(how: str, folder: Path, count: int = 0) -> dict[str, Any]:
    """What `tests.support.killed` saw."""
    run = subprocess.run(
        [sys.executable, "-m", "tests.support.killed", how, str(folder / "ward"), str(count)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    read: dict[str, Any] = json.loads(run.stdout)
    return read


def test_runs_killed_at_random_moments(tmp_path: Path, request: pytest.FixtureRequest) -> None:
    """After each kill one whole set, and the next run clears what was left."""
    kills = request.config.getoption("--kills")
    found = seen("random", tmp_path, kills)
    assert found["faults"] == []
    assert found["seen"]["killed"] == kills
    assert found["seen"]["old set"] + found["seen"].get("new set", 0) >= kills
    assert found["seen"]["left something"] > 0


def test_a_run_killed_before_each_of_its_calls_to_the_file_system(tmp_path: Path) -> None:
    found = seen("events", tmp_path)
    assert found["faults"] == []
    assert found["ended"]
    assert found["seen"]["killed"] > 30
    assert found["seen"]["old set"] > 0
    assert found["seen"]["new set"] > 0
    if sys.platform == "linux":
        assert found["seen"]["no set until the next run"] == 0


def test_the_same_where_two_folders_cannot_be_exchanged_at_one_stroke(tmp_path: Path) -> None:
    """Between two renames there is no set, and the next run brings the old one back."""
    found = seen("events-without-exchange", tmp_path)
    assert found["faults"] == []
    assert found["ended"]
    assert found["seen"]["no set until the next run"] == 1


def test_runs_into_one_folder_at_the_same_time(tmp_path: Path) -> None:
    """Four at once, each of another ward: each ends well, and one of the sets is there whole."""
    found = seen("crowd", tmp_path, rounds := few(2))
    assert found["faults"] == []
    assert found["seen"] == {"exit 0": 4 * rounds}


def test_a_run_at_work_is_left_alone_by_others(tmp_path: Path) -> None:
    with storing(str(tmp_path / "out")) as first:
        first.write("measures.json", b"first")
        put(OLD, tmp_path / "out")
        assert content(tmp_path / "out") == OLD
        with pytest.raises(ZeroDivisionError), storing(str(tmp_path / "out")):
            raise ZeroDivisionError
        first.write("measures.csv", b"first")
    assert content(tmp_path) == {"out/measures.json": b"first", "out/measures.csv": b"first"}


def test_a_new_folder_that_is_taken_away_never_becomes_half_a_set(tmp_path: Path) -> None:
    put(OLD, tmp_path / "out")

    def put_and_lose() -> None:
        with storing(str(tmp_path / "out")) as new:
            new.write("measures.json", b"lost")
            new.folder.rename(tmp_path / "elsewhere")
            new.write("measures.csv", b"new")

    with pytest.raises(StoreError, match="taken away"):
        put_and_lose()
    assert content(tmp_path / "out") == OLD
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith(".")] == []


def test_other_files_that_come_into_the_folder_meanwhile_are_not_lost(tmp_path: Path) -> None:
    def put_late() -> None:
        with storing(str(tmp_path / "out")) as new:
            new.write("measures.json", b"new")
            (tmp_path / "out").mkdir()
            (tmp_path / "out" / "letter.txt").write_text("dear")

    with pytest.raises(StoreError, match="other files"):
        put_late()
    assert content(tmp_path) == {"out/letter.txt": b"dear"}


@contextmanager
def a_small_disk(folder: Path, kilobytes: int) -> Iterator[Path]:
    folder.mkdir()
    mount = ["/bin/mount", "-t", "tmpfs", "-o", f"size={kilobytes}k", "tmpfs", str(folder)]
    try:
        mounted = subprocess.run(mount, capture_output=True, text=True, check=False)
    except FileNotFoundError:
        pytest.skip("there is no command to mount a small disk with")
    if mounted.returncode:
        pytest.skip(f"a small disk may not be mounted here: {mounted.stderr.strip()}")
    try:
        yield folder
    finally:
        subprocess.run(["/bin/umount", str(folder)], check=True)


@pytest.mark.skipif(sys.platform != "linux", reason="a small disk is mounted as Linux does it")
def test_a_full_disk_leaves_the_old_set(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Ever less room, so that a run is stopped early, late and in between."""
    log = tmp_path / "night.yaml"
    log.write_text(night("Quince"))
    codes = []
    for kilobytes in (16, 32, 48, 64, 96, 128, 192, 256, 384, 2048):
        with a_small_disk(tmp_path / str(kilobytes), kilobytes) as disk:
            put(OLD, disk / "out")
            codes.append(cli.main(["sheets", str(log), "--out", str(disk / "out")]))
            assert beside(disk / "out") == []
            err = capsys.readouterr().err
            if codes[-1] == cli.NOTHING_PRODUCED:
                assert content(disk / "out") == OLD
                assert "No space left on device. Nothing was changed" in err
            else:
                assert "unit-summary.pdf" in content(disk / "out")
    assert codes == sorted(codes, reverse=True)
    assert {*codes} == {cli.NOTHING_PRODUCED, cli.DONE}


@pytest.mark.parametrize("most_bytes", [0, 1, 1_000, 20_000, 40_000])
def test_files_that_may_not_grow_leave_the_old_set(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], most_bytes: int
) -> None:
    """As a quota would have it: a write fails in the middle of a file."""
    log = tmp_path / "night.yaml"
    log.write_text(night("Quince"))
    put(OLD, tmp_path / "out")
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (most_bytes, before[1]))
    try:
        code = cli.main(["sheets", str(log), "--out", str(tmp_path / "out")])
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    assert code == cli.NOTHING_PRODUCED
    assert "File too large. Nothing was changed" in capsys.readouterr().err
    assert content(tmp_path / "out") == OLD
    assert beside(tmp_path / "out") == []


def test_folders_that_may_not_be_written_leave_the_old_set() -> None:
    """By another user where the tests run as root, who may do all."""
    with tempfile.TemporaryDirectory() as open_to_all:
        Path(open_to_all).chmod(0o755)
        said = seen("refused", Path(open_to_all))["said"]
    assert len(said) == 3
    for case, words in said.items():
        assert "Permission denied. Nothing was changed" in words, case


def loop(folder: Path) -> Path:
    (folder / "a").symlink_to(folder / "b")
    (folder / "b").symlink_to(folder / "a")
    return folder / "a"


def link_to_a_file(folder: Path) -> Path:
    (folder / "letter.txt").write_text("dear")
    (folder / "link").symlink_to(folder / "letter.txt")
    return folder / "link"


def under_a_file(folder: Path) -> Path:
    (folder / "letter.txt").write_text("dear")
    return folder / "letter.txt" / "ward" / "out"


REFUSED_PLACES: dict[str, Callable[[Path], Path]] = {
    "a link that leads nowhere but to itself": loop,
    "a link to a file": link_to_a_file,
    "a folder in a file": under_a_file,
    "a name that is too long": lambda folder: folder / ("x" * 300),
    "the root of all folders": lambda _: Path("/"),
    "a device": lambda _: Path("/dev/null"),
}


@pytest.mark.parametrize("place", REFUSED_PLACES)
def test_a_place_where_no_set_can_be_put_is_one_clear_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], place: str
) -> None:
    log = tmp_path / "night.yaml"
    log.write_text(night("Quince"))
    out = REFUSED_PLACES[place](tmp_path)
    before = content(tmp_path)
    assert cli.main(["sheets", str(log), "--out", str(out)]) == cli.NOTHING_PRODUCED
    said = capsys.readouterr().err.splitlines()
    assert [line for line in said if not line.startswith("note: ")] == [said[-1]]
    assert said[-1].startswith("handoff: ")
    assert content(tmp_path) == before


def test_links_are_followed_also_where_they_lead_to_a_folder_that_is_yet_to_be(
    tmp_path: Path,
) -> None:
    (tmp_path / "link").symlink_to(tmp_path / "ward" / "tonight")
    put(OLD, tmp_path / "link")
    put(NEW, tmp_path / "link")
    assert (tmp_path / "link").is_symlink()
    assert content(tmp_path / "ward" / "tonight") == NEW
    assert sorted(path.name for path in tmp_path.iterdir()) == ["link", "ward"]
    assert [path.name for path in (tmp_path / "ward").iterdir()] == ["tonight"]


@pytest.mark.parametrize("umask", [0o000, 0o777])
def test_folders_made_on_the_way_are_the_owners_only_whatever_the_umask(
    tmp_path: Path, umask: int
) -> None:
    before = os.umask(umask)
    try:
        put(NEW, tmp_path / "ward" / "tonight")
    finally:
        os.umask(before)
    made = [*(tmp_path).rglob("*")]
    assert {path.stat().st_mode & 0o777 for path in made if path.is_dir()} == {0o700}
    assert {path.stat().st_mode & 0o777 for path in made if path.is_file()} == {0o600}


def test_a_run_that_is_interrupted_by_hand_leaves_the_old_set(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    log = tmp_path / "night.yaml"
    log.write_text(night("Quince"))
    put(OLD, tmp_path / "out")

    def interrupt(*_given: object) -> None:
        os.kill(os.getpid(), signal.SIGINT)

    monkeypatch.setattr("handoff.portable.flush", interrupt)
    assert cli.main(["sheets", str(log), "--out", str(tmp_path / "out")]) == cli.NOTHING_PRODUCED
    assert capsys.readouterr().err.splitlines()[-1] == "handoff: stopped."
    assert content(tmp_path / "out") == OLD
    assert beside(tmp_path / "out") == []

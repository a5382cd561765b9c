"""No run knows of another: in one process, on one worker, in several threads, the bytes are those
of a process of its own."""

import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from zoneinfo import ZoneInfo

import matplotlib
import pytest
from distributed import LocalCluster

from handoff.cli import main as cli
from handoff.compose.words import Words
from handoff.draw.paper import Typesetter
from handoff.draw.paper.canvas import Canvas
from handoff.draw.paper.typeface import face_of
from tests.support.logs import ROOT
from tests.support.runs import content
from tests.support.sheets import document

FONTS = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
LACKING = "\u1d15"  # a letter that only the two fonts below have
LOG = f"""unit,time_zone,shift_start,shift_end,patient_id,name,born,bed,order_start,order_breaths,\
order_every_h,at,what,breaths,volume_ml
Harbour 3 East,America/New_York,2026-03-06 19:00,2026-03-07 07:00,10442,"Larkspur {LACKING}",\
1958-04-02,4,2026-03-05 08:00,10,1,20:00,exercise,10,1200
"""
OPTIONS: dict[str, list[str]] = {
    "without": [],
    "light": ["--font", str(FONTS / "DejaVuSerif.ttf")],
    "heavy": ["--font", str(FONTS / "DejaVuSerif-Bold.ttf")],
}
RUNS = ("without", "light", "heavy", "without")


@pytest.fixture(scope="module")
def log(tmp_path_factory: pytest.TempPathFactory) -> str:
    path = tmp_path_factory.mktemp("log") / "night.csv"
    path.write_text(LOG, encoding="utf-8")
    return str(path)


@pytest.fixture(scope="module")
def apart(log: str, tmp_path_factory: pytest.TempPathFactory) -> dict[str, dict[str, bytes]]:
    """What each run prints in a process of its own."""
    printed = {}
    for name, options in OPTIONS.items():
        out = tmp_path_factory.mktemp("apart") / "out"
        command = [sys.executable, "-m", "handoff", "sheets", log, "--out", str(out), *options]
        subprocess.run(command, check=True, cwd=ROOT, capture_output=True)
        printed[name] = content(out)
    return printed


def one_after_the_other(log: str, folder: Path, *more: str) -> Iterator[dict[str, bytes]]:
    for number, name in enumerate(RUNS):
        out = folder / str(number)
        assert cli.main(["sheets", log, "--out", str(out), *OPTIONS[name], *more]) == cli.DONE
        yield content(out)


@pytest.mark.long
def test_each_of_the_fonts_prints_the_letter_in_its_own_way(
    apart: dict[str, dict[str, bytes]],
) -> None:
    assert len({each["patient-sheets.pdf"] for each in apart.values()}) == len(OPTIONS)


def test_a_run_after_one_with_another_font_prints_the_same_as_in_a_fresh_process(
    log: str, apart: dict[str, dict[str, bytes]], tmp_path: Path
) -> None:
    printed = list(one_after_the_other(log, tmp_path))
    assert [name for name, files in zip(RUNS, printed, strict=True) if files != apart[name]] == []


def test_so_does_a_worker_that_is_used_again(
    log: str, apart: dict[str, dict[str, bytes]], tmp_path: Path
) -> None:
    with LocalCluster(
        n_workers=1, threads_per_worker=1, host="127.0.0.1", dashboard_address="127.0.0.1:0"
    ) as cluster:
        printed = list(one_after_the_other(log, tmp_path, "--dask", cluster.scheduler_address))
    assert [name for name, files in zip(RUNS, printed, strict=True) if files != apart[name]] == []


def test_two_fonts_of_one_name_are_two_fonts(tmp_path: Path) -> None:
    """ReportLab goes by the name that a font has inside."""
    whole = (FONTS / "DejaVuSerif.ttf").read_bytes()
    for name, more in (("one", b""), ("other", b"\0")):
        (tmp_path / name).write_bytes(whole + more)
    first, second = (Typesetter(str(tmp_path / name)) for name in ("one", "other"))
    faces = [face_of(each.fonts.font_of(LACKING, "Regular")[0]) for each in (first, second)]
    assert faces[0] is not faces[1]
    assert faces[0].name != faces[1].name


def test_threads_that_print_at_once_print_the_same_bytes() -> None:
    """ReportLab reads a font with one cursor for all documents: letters of more than one part, such
    as those with accents, came out wrong or not at all."""
    accented = "".join(map(chr, range(0xC0, 0x180)))

    def printed(_: int) -> bytes:
        canvas = Canvas(document(), (800, 100))
        canvas.put_text((10, 50), accented)
        canvas.showPage()
        return canvas.finished()

    alone, before = printed(0), sys.getswitchinterval()
    sys.setswitchinterval(1e-5)
    try:
        with ThreadPoolExecutor(4) as threads:
            together = list(threads.map(printed, range(60)))
    finally:
        sys.setswitchinterval(before)
    assert [number for number, content in enumerate(together) if content != alone] == []


def test_a_constant_in_a_text_is_said_in_each_units_own_words(tmp_path: Path) -> None:
    said = []
    for term in ("chest ache", "sore chest"):
        folder = tmp_path / term
        folder.mkdir()
        text = f"terms:\n  chest_pain: {term}\nbed: '{{{{ \"chest_pain\" | term }}}}'\n"
        (folder / "sheet.yaml").write_text(text, encoding="utf-8")
        said.append(Words(ZoneInfo("UTC"), own_folder=str(folder)).say("bed"))
    assert said == ["chest ache", "sore chest"]

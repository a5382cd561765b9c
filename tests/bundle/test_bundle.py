"""What needs no building: the bundle does without what is left out of it, it has the licence of
what is in it, and it starts what was asked for.
"""

import json
import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from urllib.parse import unquote, urlsplit

import pytest

from handoff.cli import main as cli
from tests.bundle import notices, start
from tests.bundle.contents import EXCLUDED, READ_ONLY_FROM, needed
from tests.bundle.notices import Part, Unlicensed
from tests.support.logs import ROOT, SAMPLES

LOG = str(SAMPLES / "2026-03-06-night.csv")
ARGUMENTS = (LOG, "--bed", "3A", "--discharge", "3A", "--language", "ar", "--jobs", "1")
# Imports every module and prints, in a Python that has nothing of what is excluded but folders of
# files that are no code; then says where each loaded module comes from.
WITHOUT = """
import json, pkgutil, sys
from importlib import import_module
from importlib.machinery import PathFinder

class Missing:
    def find_spec(self, name, path=None, target=None):
        if name in BARE:
            found = PathFinder.find_spec(name)
            found.loader = None
            return found
        if any(name == each or name.startswith(each + ".") for each in EXCLUDED):
            raise ModuleNotFoundError(name, name=name)

EXCLUDED, BARE, arguments = json.loads(sys.argv[1])
sys.meta_path.insert(0, Missing())
import handoff
for module in pkgutil.walk_packages(handoff.__path__, "handoff."):
    if module.name not in ("handoff.__main__", OTHER_SYSTEM):
        import_module(module.name)
from handoff.cli.main import main
assert main(arguments) in (0, 1)
loaded = {name: getattr(each, "__file__", None) for name, each in sys.modules.items()}
print(json.dumps({name: file for name, file in loaded.items() if file and name != "__main__"}))
"""
OTHER_SYSTEM = f"handoff.portable.{'posix' if sys.platform == 'win32' else 'windows'}"


def test_prints_without_what_is_excluded_and_every_loaded_file_has_its_licence(
    tmp_path: Path,
) -> None:
    bare = [each.split("/")[0] for each in READ_ONLY_FROM]
    given = json.dumps(
        [EXCLUDED, [*{*EXCLUDED} & {*bare}], ["sheets", *ARGUMENTS, "--out", str(tmp_path)]]
    )
    program = WITHOUT.replace("OTHER_SYSTEM", repr(OTHER_SYSTEM))
    run = subprocess.run(
        [sys.executable, "-c", program, given],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    assert len([*tmp_path.glob("patients/*.pdf")]) == 1
    loaded = {name: Path(file) for name, file in json.loads(run.stdout.splitlines()[-1]).items()}
    text = notices.notices(loaded)
    for library in ("pandas", "reportlab", "flask", "waitress", "Python", "handoff"):
        assert f"\n{library}" in text
    for word in (*notices.OWN, "OpenBLAS", "qpdf"):
        assert word.casefold() in text.casefold() or word == "Visual C++"


def test_names_a_file_of_nobody(tmp_path: Path) -> None:
    (tmp_path / "stray.so").touch()
    with pytest.raises(Unlicensed, match=r"lib/stray\.so .* of no known package"):
        notices.notices({"lib/stray.so": tmp_path / "stray.so"})


def test_names_a_package_without_a_licence_text() -> None:
    with pytest.raises(Unlicensed, match="lonely comes without a licence text"):
        notices.section(Part("lonely", "1.0"))


@pytest.mark.parametrize(
    ("file", "word"),
    [
        ("pikepdf.libs/libqpdf-781b0270.so.30.4.2", "qpdf"),
        ("pikepdf.libs/qpdf30-14efc7ee.dll", "qpdf"),
        ("numpy.libs/libscipy_openblas64_-32a4b2a6.so", "openblas"),
        ("numpy.libs/libopenblas64__v0.3.23-293-gc2f4bdbb.dll", "openblas"),
        ("pandas.libs/msvcp140-0f2ea955.dll", "Visual C++"),
    ],
)
def test_a_library_has_a_name_in_the_licence_texts(file: str, word: str) -> None:
    assert [*notices.libraries_of(Part("", files=[file, "numpy/core.so"]))] == [word]


def test_names_a_library_of_which_no_text_speaks(tmp_path: Path) -> None:
    text = tmp_path / "LICENSE"
    text.write_text("qpdf: Apache License; jpeg")
    known = Part("pikepdf", "1", [text], ["pikepdf.libs/libqpdf-781b0270.so.30.4.2"])
    assert "qpdf" in notices.section(known)
    known.files.append("pikepdf.libs/libnew2-0a.so.1")
    with pytest.raises(Unlicensed, match="no licence text of pikepdf speaks of new"):
        notices.section(known)


def test_adds_the_text_of_what_a_package_does_not_speak_of(tmp_path: Path) -> None:
    text = tmp_path / "LICENSE"
    text.write_text("PyYAML's own")
    assert "Kirill Simonov" in notices.section(Part("pyyaml", "6", [text]))
    assert {*notices.OWN.values()} == {each.stem for each in notices.OWN_TEXTS.iterdir()}


def test_takes_only_the_fonts_that_are_read_and_each_library_once() -> None:
    fonts = "matplotlib/mpl-data/fonts/ttf"
    read = {
        f"{fonts}/DejaVuSans.ttf",
        "handoff/templates/en/desk.yaml",
        "numpy.libs\\openblas64-65e2.dll",
        "pikepdf.libs/libqpdf-781b.so.30",
        "libz.so.1",
    }
    others = {
        f"{fonts}/cmr10.ttf",
        "font_source_sans_pro\\files\\SourceSansPro-Black.ttf",
        "openblas64-65e2.dll",
        "libqpdf-781b.so.30",
    }
    assert needed(read | others) == read


def test_starts_the_command_that_is_named(capsys: pytest.CaptureFixture[str]) -> None:
    assert start.start(["check", LOG]) == cli.DONE
    assert "read" in capsys.readouterr().out


def test_shows_what_keeps_the_desk_from_opening(monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(arguments: Sequence[str]) -> int:
        assert arguments == ["desk", "--documents"]
        sys.stderr.write("handoff: /home/müller/Documents: no space left.\n")
        return cli.NOTHING_PRODUCED

    opened: list[str] = []
    monkeypatch.setattr("webbrowser.open", opened.append)
    monkeypatch.setattr(start, "main", refused)
    assert start.start([]) == cli.NOTHING_PRODUCED
    page = Path(unquote(urlsplit(opened[0]).path))
    try:
        assert page.read_text("utf-8") == "handoff: /home/müller/Documents: no space left.\n"
    finally:
        page.unlink()


@pytest.mark.parametrize("before", [None, "/opt/lib"])
def test_the_browser_gets_no_library_of_the_bundle(
    before: str | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("LD_LIBRARY_PATH", "/bundle/_internal")
    monkeypatch.delenv("LD_LIBRARY_PATH_ORIG", raising=False)
    if before:
        monkeypatch.setenv("LD_LIBRARY_PATH_ORIG", before)
    start.leave_the_browser_its_libraries()
    assert os.environ.get("LD_LIBRARY_PATH") == before

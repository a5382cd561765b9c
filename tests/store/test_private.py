"""Nothing of a patient where it does not belong: names of files, metadata, what is said, leftovers.

What a run reads and writes besides its sheets is watched in `test_hostile.py`.
"""

import os
import stat
from collections.abc import Iterator, Mapping
from io import BytesIO
from pathlib import Path

import pikepdf
import pytest

from handoff.cli import main as cli
from handoff.model.ward import Patient
from tests.support.logs import options, read_handovers
from tests.support.runs import WARD, of_ward, sheets
from tests.support.sheets import read_pdf

SAMPLES = Path(WARD[0]).parent.parent
MESSY = str(SAMPLES / "messy.csv")


@pytest.fixture(scope="module")
def patients() -> tuple[Patient, ...]:
    (handover,), _ = read_handovers([*WARD], options(), None)
    return handover.patients


@pytest.fixture
def ward() -> Mapping[str, bytes]:
    return of_ward("--initials")


def names(patients: tuple[Patient, ...]) -> set[str]:
    """Each part of each name."""
    parts = {part for each in patients for part in each.name.replace(",", " ").split()}
    return {part for part in parts if len(part) > 2}


def identities(patients: tuple[Patient, ...]) -> set[str]:
    """Whatever tells who somebody is: each part of a name, and the id."""
    return names(patients) | {each.id for each in patients}


@pytest.mark.parametrize(
    "command",
    [["sheets", WARD[-1]], ["blank", WARD[-1]], ["sheets", WARD[-1], WARD[0], "--bed", "1A"]],
    ids=" ".join,
)
def test_every_file_and_folder_is_its_owners_only_whatever_the_umask(
    tmp_path: Path, command: list[str]
) -> None:
    before = os.umask(0)
    try:
        assert cli.main([*command, "--out", str(tmp_path / "out")]) == cli.DONE
    finally:
        os.umask(before)
    made = [tmp_path / "out", *(tmp_path / "out").rglob("*")]
    modes = {stat.S_IMODE(path.stat().st_mode) for path in made if path.is_file()}
    assert modes == {0o600}
    assert {stat.S_IMODE(path.stat().st_mode) for path in made if path.is_dir()} == {0o700}


def test_no_file_name_tells_who_somebody_is(
    ward: Mapping[str, bytes], patients: tuple[Patient, ...]
) -> None:
    files = " ".join(ward).casefold()
    assert [each for each in identities(patients) if each.casefold() in files] == []


def texts_of(pdf: pikepdf.Pdf) -> Iterator[str]:
    """Every text and name in a PDF that is not drawn on a page: metadata, bookmarks, labels."""
    for thing in pdf.objects:
        if isinstance(thing, pikepdf.Stream):
            yield from _texts_in(thing.stream_dict)
        else:
            yield from _texts_in(thing)
    if "/Metadata" in pdf.Root:
        yield pdf.Root.Metadata.read_bytes().decode()


def _texts_in(thing: object) -> Iterator[str]:
    if isinstance(thing, (pikepdf.String, pikepdf.Name)):
        yield str(thing)
    elif isinstance(thing, pikepdf.Dictionary):
        for key, value in thing.items():
            yield key
            if not getattr(value, "is_indirect", False):
                yield from _texts_in(value)
    elif isinstance(thing, pikepdf.Array):
        for value in thing:
            if not getattr(value, "is_indirect", False):
                yield from _texts_in(value)


def test_nothing_of_a_pdf_but_its_pages_tells_who_somebody_is(
    ward: Mapping[str, bytes], patients: tuple[Patient, ...]
) -> None:
    known = identities(patients)
    for name, content in ward.items():
        if name.endswith(".pdf"):
            with pikepdf.open(BytesIO(content)) as pdf:
                said = " ".join(texts_of(pdf))
                assert str(pdf.docinfo["/Author"]) == "handoff"
            assert str(pdf.docinfo["/Title"]) in said
            assert [each for each in known if each in said] == [], name


def plain_bytes(content: bytes) -> bytes:
    """A PDF with every stream written out."""
    stream = BytesIO()
    with pikepdf.open(BytesIO(content)) as pdf:
        pdf.save(stream, compress_streams=False, stream_decode_level=pikepdf.StreamDecodeLevel.all)
    return stream.getvalue()


@pytest.mark.parametrize("logs", [WARD, [MESSY]], ids=["ward", "messy"])
def test_initials_leave_no_full_name_and_no_full_id_anywhere_on_the_pages_of_the_unit(
    logs: list[str], tmp_path: Path
) -> None:
    """Searched in the text of the pages and, for names, in all bytes: digits stand there anyhow."""
    handovers, _ = read_handovers(logs, options(), None)
    listed = tuple(each for handover in handovers for each in handover.patients)
    if logs is WARD:
        full, short = of_ward(), of_ward("--initials")
    else:
        full = sheets(tmp_path / "full", *logs)
        short = sheets(tmp_path / "out", *logs, "--initials")
    for name in ("unit-summary.pdf", "round-list.pdf", "trends.pdf"):
        text = " ".join(read_pdf(full[name]).pages)
        assert sum(each.name in text for each in listed) > len(listed) / 2, name
        plain, text = plain_bytes(short[name]), " ".join(read_pdf(short[name]).pages)
        assert [each for each in identities(listed) if each in text] == [], name
        assert logs is not WARD or "H. J." in text, name  # of Harrowell, Joan
        for each in names(listed):
            for encoding in ("utf-8", "utf-16-be", "utf-16-le", "cp1252"):
                assert each.encode(encoding, "replace") not in plain, each


class FaultError(Exception):
    """A fault whose text tells of a patient."""


STAGES = (
    *(
        "handoff.run.handovers.read_text",
        "handoff.run.handovers.check",
        "handoff.run.units.gather_unit",
    ),
    *("handoff.run.judged.follow", "handoff.run.judged.measure", "handoff.run.judged.judge"),
    "handoff.run.sheets.find_changes",
    *(
        "handoff.run.sheets.compose_patient",
        "handoff.run.sheets.draw_patient",
        "handoff.run.sheets.UnitWords",
    ),
    *(
        "handoff.run.sheets.join_sheets",
        "handoff.run.sheets.compose_unit",
        "handoff.run.sheets.draw_unit",
    ),
    *("handoff.run.sheets.measures_json", "handoff.run.sheets.set_aside_csv"),
    *(
        "handoff.run.sheets.compose_discharge",
        "handoff.store.folder.NewSet.write",
        "handoff.store.folder._put_in_place",
    ),
)


@pytest.mark.parametrize("stage", STAGES)
def test_a_fault_of_any_stage_tells_nothing_of_a_patient_and_leaves_nothing(
    stage: str,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """One line that says where to report it, exit 3, the old set in place, nothing beside it."""
    out = tmp_path / "out"
    out.mkdir()
    (out / "measures.json").write_bytes(b"old")

    def fault(*_given: object, **_more: object) -> None:
        raise FaultError("Harrowell, Joan")

    monkeypatch.setattr(stage, fault)
    given = ["sheets", WARD[0], "--bed", "1A", "--discharge", "1A", "--out", str(out)]
    assert cli.main(given) == cli.FAULT
    said, err = capsys.readouterr()
    assert said == ""
    *findings, line = err.splitlines()
    assert all(each.startswith(("note: ", "warning: ")) for each in findings)
    assert "this is a fault of the program (FaultError); nothing was written" in line
    assert "--debug" in line
    assert "README.md" in line
    assert "Harrowell" not in line
    assert [path.name for path in tmp_path.iterdir()] == ["out"]
    assert (out / "measures.json").read_bytes() == b"old"
    if stage == STAGES[0]:  # how it is told is the same for all
        with pytest.raises(FaultError):
            cli.main(["--debug", *given])


def test_what_a_run_says_of_its_work_tells_nothing_of_a_patient(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    patients: tuple[Patient, ...],
) -> None:
    """Results and progress; a finding quotes the cell that it is about, and says so by its line."""
    monkeypatch.setattr("sys.stderr.isatty", lambda: True)
    monkeypatch.setattr("handoff.cli.progress.QUIET_S", 0)
    assert cli.main(["sheets", *WARD, "--out", str(tmp_path / "out")]) == cli.DONE
    out, err = capsys.readouterr()
    said = [out, *(line for line in err.splitlines() if not line.startswith(("note:", "warning:")))]
    assert "sheet 20 of 20" in err
    assert [each for each in identities(patients) if each in " ".join(said)] == []

"""From shift logs to the files that are handed over, end to end, on the sample ward."""

import csv
import io
import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator, Mapping
from importlib.metadata import Distribution, distribution, distributions
from io import BytesIO
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from packaging.requirements import Requirement

from handoff.limits.reading import load_limits
from tests.support.logs import ROOT
from tests.support.runs import WARD, of_ward, sheets
from tests.support.sheets import read_pdf
from tests.support.tags import Tagged, faults

SAMPLES = ROOT / "sample_inputs"
HEARD_FILES = Path(__file__).parent / "draw" / "heard"


@pytest.fixture
def ward() -> Mapping[str, bytes]:
    return of_ward()


def document(files: Mapping[str, bytes]) -> dict[str, Any]:
    read: dict[str, Any] = json.loads(files["measures.json"])
    return read


def beds_with_a_sheet(files: Mapping[str, bytes]) -> list[str]:
    return [each["bed"] for each in document(files)["patients"] if each["priority"]]


def test_the_files_of_the_design_are_there(ward: Mapping[str, bytes]) -> None:
    whole = {name for name in ward if "/" not in name}
    assert whole == {
        *("unit-summary.pdf", "patient-sheets.pdf", "measures.json", "measures.csv"),
        *("round-list.pdf", "trends.pdf", "set-aside.csv"),
    }
    ordered = [each for each in document(ward)["patients"] if each["priority"]]
    sheets = {f"patients/bed-{each['bed']}.pdf" for each in ordered}
    home = {"discharge/bed-4B.pdf"}
    assert set(ward) == whole | sheets | home


def test_every_sheet_is_one_page_with_its_patients_identity(ward: Mapping[str, bytes]) -> None:
    by_bed = {each["bed"]: each for each in document(ward)["patients"]}
    for name, content in ward.items():
        if name.startswith("patients/"):
            (text,) = read_pdf(content).pages
            bed = name.removeprefix("patients/bed-").removesuffix(".pdf")
            assert text.startswith(f"bed {bed} ")
            assert f"id {by_bed[bed]['id']} · born" in text


def test_the_joined_file_is_the_sheets_in_bed_order(ward: Mapping[str, bytes]) -> None:
    joined = read_pdf(ward["patient-sheets.pdf"]).pages
    beds = beds_with_a_sheet(ward)
    singles = [read_pdf(ward[f"patients/bed-{bed}.pdf"]).pages[0] for bed in beds]
    assert joined == singles


def test_no_pdf_has_a_fault(ward: Mapping[str, bytes], tmp_path: Path) -> None:
    """By the check of the library that joins the sheets, and by `qpdf` where there is one."""
    documents = {name: content for name, content in ward.items() if name.endswith(".pdf")}
    assert len(documents) == 25
    for name, content in documents.items():
        with pikepdf.open(BytesIO(content)) as pdf:
            assert pdf.check_pdf_syntax() == [], name
            assert not any(page.get_images() for page in pdf.pages), "vector throughout"
    tool = shutil.which("qpdf")
    checked_too = ("patient-sheets.pdf", "unit-summary.pdf", "discharge/bed-4B.pdf")
    for name in (*checked_too, "round-list.pdf", "trends.pdf") if tool else ():
        (tmp_path / "checked.pdf").write_bytes(documents[name])
        checked = subprocess.run(
            [str(tool), "--check", tmp_path / "checked.pdf"], capture_output=True, check=False
        )
        assert (checked.returncode, checked.stderr) == (0, b""), name


HEARD = ("patients/bed-3A", "discharge/bed-4B", "unit-summary")


@pytest.mark.parametrize("name", HEARD)
def test_what_is_heard_of_a_page(ward: Mapping[str, bytes], name: str) -> None:
    """The tree of the page, in the order in which it is read aloud; read it after a change."""
    expected = HEARD_FILES / f"{Path(name).name}.txt"
    assert "\n".join(Tagged(ward[f"{name}.pdf"]).lines()) + "\n" == expected.read_text("utf-8")


def test_every_pdf_is_for_everyone_and_for_the_archive(ward: Mapping[str, bytes]) -> None:
    """By PDF/UA-1 and PDF/A-2a, and no sheet of a ward is over 60 kB."""
    for name, content in ward.items():
        if name.endswith(".pdf"):
            assert (name, faults(content)) == (name, [])
        if name.startswith("patients/"):
            assert len(content) < 60_000, name


def test_a_damaged_pdf_has_one(ward: Mapping[str, bytes]) -> None:
    damaged = (
        ward["patients/bed-3A.pdf"].replace(b" Tf", b" Tx").replace(b"endstream", b"endstraem")
    )
    with pikepdf.open(BytesIO(damaged)) as pdf:
        assert pdf.check_pdf_syntax() != []


TITLES = {
    "unit-summary.pdf": "Incentive spirometry: unit summary",
    "round-list.pdf": "Incentive spirometry: round list",
    "trends.pdf": "Incentive spirometry: courses of all patients",
    "patient-sheets.pdf": "Incentive spirometry: patient sheets",
    "patients": "Incentive spirometry: patient sheet",
    "discharge": "تمرين التنفس في المنزل",  # of a patient who speaks Arabic
}


def test_every_pdf_has_title_language_and_page_labels_and_nothing_of_a_patient_in_them(
    ward: Mapping[str, bytes],
) -> None:
    for name, content in ward.items():
        if not name.endswith(".pdf"):
            continue
        with pikepdf.open(BytesIO(content)) as pdf:
            assert str(pdf.docinfo["/Title"]) == TITLES[name.split("/")[0]]
            assert str(pdf.docinfo["/Author"]) == "handoff"
            said = " ".join(str(value) for _, value in pdf.docinfo.items())
            assert not any(each["id"] in said for each in document(ward)["patients"])
            assert str(pdf.Root.Lang) == ("ar" if name.startswith("discharge/") else "en")
            bed = Path(name).stem.removeprefix("bed-")
            shown = [page.label for page in pdf.pages]
            if name.startswith("patients/"):
                assert shown == [f"Bed {bed}"]
            elif name == "patient-sheets.pdf":
                assert shown == [f"Bed {bed}" for bed in beds_with_a_sheet(ward)]
            else:
                assert shown == [str(number) for number in range(1, len(shown) + 1)]


def test_a_patient_sheet_is_under_100_kb(ward: Mapping[str, bytes]) -> None:
    sheets = [len(content) for name, content in ward.items() if name.startswith("patients/")]
    assert max(sheets) < 100_000


READING_ORDER = (
    *("id ", "Situation", "Background", "Assessment", "Recommendation", "Cautions, most urgent"),
    *("Inspired volume in mL", "Breaths, done over due", "Numbers", "Set-up", "For the next shift"),
    *("Stop and rest when dizzy", "Limits in force", "Handed over by", "Taken over by"),
)


def test_the_parts_of_every_sheet_are_read_in_their_order(ward: Mapping[str, bytes]) -> None:
    for name, content in ward.items():
        if name.startswith("patients/"):
            (text,) = read_pdf(content).pages
            places = [text.index(part) for part in READING_ORDER]
            assert places == sorted(places), name


def test_every_rule_is_met_by_somebody_and_somebody_is_simply_fine(
    ward: Mapping[str, bytes],
) -> None:
    limits, _ = load_limits()
    assert limits is not None
    patients = document(ward)["patients"]
    met = {caution["rule"] for each in patients for caution in each["cautions"] or ()}
    not_met = set(limits.rules) - met
    assert not_met == {"sign-unreadable"}  # every cell of the ward can be read
    assert sum(each["priority"] == "continue" for each in patients) >= 3


def test_sheet_json_and_table_tell_the_same(ward: Mapping[str, bytes]) -> None:
    table = csv.DictReader(io.StringIO(ward["measures.csv"].decode("utf-8-sig")))
    rows = {row["id"]: row for row in table}
    for each in document(ward)["patients"]:
        if each["priority"] is None:
            continue
        best = each["volume"]["best_ml"]
        assert rows[each["id"]]["volume.best_ml"] == ("" if best is None else str(best))
        (text,) = read_pdf(ward[f"patients/bed-{each['bed']}.pdf"]).pages
        shown = "no reading in good form this shift" if best is None else f"{best:,.0f} mL at"
        assert re.search(f"Best (at least )?{shown}", text)
        assert {"escalate": "ESCALATE", "follow_up": "FOLLOW UP", "continue": "CONTINUE"}[
            each["priority"]
        ] in text


def test_every_escalation_is_printed_with_whether_it_was_told(ward: Mapping[str, bytes]) -> None:
    for each in document(ward)["patients"]:
        escalations = [c for c in each["cautions"] or () if c["level"] == "escalate"]
        if escalations:
            (text,) = read_pdf(ward[f"patients/bed-{each['bed']}.pdf"]).pages
            untold = sum(caution["told_at"] is None for caution in escalations)
            assert text.count("Not yet recorded as told. Told whom, when:") == untold
            assert text.count("Told ") >= len(escalations) - untold


def test_the_same_logs_give_the_same_bytes_in_any_order(
    ward: Mapping[str, bytes], tmp_path: Path
) -> None:
    assert sheets(tmp_path / "again", *reversed(WARD)) == ward


def test_one_bed_and_a4(ward: Mapping[str, bytes], tmp_path: Path) -> None:
    files = sheets(tmp_path / "out", *WARD, "--bed", "3A", "--paper", "a4")
    assert [name for name in files if name.startswith("patients/")] == ["patients/bed-3A.pdf"]
    assert "sheet 4 of 20" in read_pdf(files["patients/bed-3A.pdf"]).pages[0]
    assert files["measures.json"] == ward["measures.json"]


def test_as_of_in_the_shift_leaves_later_entries_out(tmp_path: Path) -> None:
    files = sheets(tmp_path / "out", *WARD, "--as-of", "2026-03-07 08:00")
    read = document(files)
    assert read["as_of"] == "2026-03-07T08:00:00-04:00"
    assert {each["code"] for each in read["findings"]} >= {"after-as-of"}
    bests = [each["volume"]["best_at"] for each in read["patients"] if each["volume"]]
    assert all(best is None or best <= "2026-03-07T08:00:00-04:00" for best in bests)


def test_logs_of_two_units_give_a_folder_for_each(tmp_path: Path) -> None:
    other = tmp_path / "other.yaml"
    text = Path(WARD[-1]).read_text(encoding="utf-8")
    other.write_text(text.replace("Harbour 3 East", "Harbour 4/West"), encoding="utf-8")
    files = sheets(tmp_path / "out", WARD[-1], str(other))
    assert {name.split("/")[0] for name in files} == {"Harbour-3-East", "Harbour-4-West"}


def test_a_bad_row_is_set_aside_and_named_and_the_sheets_are_made(tmp_path: Path) -> None:
    files = sheets(tmp_path / "out", str(SAMPLES / "messy.csv"))
    counts = document(files)["counts"]
    assert counts["read"] == counts["used"] + counts["set_aside"]
    rows = list(csv.DictReader(io.StringIO(files["set-aside.csv"].decode("utf-8-sig"))))
    assert len(rows) == counts["set_aside"]
    summary = " ".join(read_pdf(files["unit-summary.pdf"]).pages)
    for row in rows:
        assert row["set_aside_from"].removeprefix(str(SAMPLES)) in summary
    assert f"{counts['read']} read, {counts['used']} used, {counts['set_aside']} set" in summary
    assert "WRONG-PATIENT RISK" in summary


def test_the_clock_change_night_has_11_hours(tmp_path: Path) -> None:
    files = sheets(tmp_path / "out", str(SAMPLES / "clock-change" / "2026-03-07-night.yaml"))
    assert document(files)["shift"]["hours"] == 11
    assert "(11 h)" in read_pdf(files["unit-summary.pdf"]).pages[0]


HOSTILE = """\
unit: {name: "<b>Harbour</b> & Co", time_zone: UTC, quiet_hours: none}
shift: {start: 2026-03-07 07:00, end: 2026-03-07 19:00}
patients:
- {id: "=1+1", name: "<img src='file:///etc/passwd'/>", born: 1958-04-02, bed: "../../x",
   reason: "{{ 7 * 7 }}", order: {breaths: 10, start: 2026-03-07 07:00}}
entries:
- {patient: "=1+1", at: 2026-03-07 09:00, breaths: 10, volume_ml: 1200, note: "</para><a href='x'>"}
"""


def test_hostile_text_prints_literally_and_stays_in_its_folder(tmp_path: Path) -> None:
    log = tmp_path / "log.yaml"
    log.write_text(HOSTILE)
    files = sheets(tmp_path / "out", str(log))
    assert sorted(each.name for each in tmp_path.iterdir()) == ["log.yaml", "out"]
    (text,) = read_pdf(files["patients/bed-x.pdf"]).pages
    assert "<img src='file:///etc/passwd'/>" in text
    assert "{{ 7 * 7 }}" in text
    assert "</para><a href='x'>" in text
    assert "<b>Harbour</b> & Co" in text
    assert b"'=1+1" in files["measures.csv"]


@pytest.mark.long
def test_a_wheel_in_a_bare_environment_prints_the_sheets_from_another_folder(
    tmp_path: Path,
) -> None:
    """The wheel carries templates, limits and data, and names all that it needs."""
    pip = [sys.executable, "-m", "pip", "--quiet", "--disable-pip-version-check"]
    wheels, bare = tmp_path / "wheels", tmp_path / "bare"
    subprocess.run([*pip, "wheel", "--no-deps", "--wheel-dir", wheels, ROOT], check=True)
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", bare], check=True)
    (wheel,) = wheels.iterdir()
    python = bare / "bin" / "python"
    pip_there = [*pip, "--python", str(python), "install"]
    subprocess.run([*pip_there, "--no-deps", "--no-compile", wheel], check=True)
    link_what_it_needs(next(bare.glob("lib/python*/site-packages")))
    clean = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    run = subprocess.run(
        [bare / "bin" / "handoff", "sheets", *WARD, "--out", "out"],
        cwd=tmp_path,
        env=clean,
        capture_output=True,
        text=True,
        check=True,
    )
    assert "20 patient sheets in out" in run.stdout
    assert (tmp_path / "out" / "unit-summary.pdf").exists()


def link_what_it_needs(packages: Path) -> None:
    """Put into an environment what its handoff names as needed, and what that needs in turn, from
    this environment, and nothing else.
    """
    (installed,) = distributions(name="handoff", path=[str(packages)])
    names = list(needs_of(installed))
    for name in names:  # grows meanwhile
        needed = distribution(name)
        names += [each for each in needs_of(needed) if each not in names]
        for first in {file.parts[0] for file in needed.files or ()} - {".."}:
            link, there = packages / first, Path(str(needed.locate_file(first)))
            if not link.exists():
                link.symlink_to(there)


def needs_of(package: Distribution) -> Iterator[str]:
    """The names of the packages that it needs here; also those of an extra that is asked for."""
    for line in package.requires or ():
        requirement = Requirement(line)
        if requirement.marker is None or requirement.marker.evaluate({"extra": ""}):
            yield requirement.name
            for extra in requirement.extras:
                for more in map(Requirement, distribution(requirement.name).requires or ()):
                    if more.marker and more.marker.evaluate({"extra": extra}):
                        yield more.name

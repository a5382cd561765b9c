"""A log to fill in: the starters pass the checks, invent nobody, and the pages have every field."""

import re
import stat
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from handoff import cli
from handoff.blank import Blank, starter_csv, starter_yaml
from handoff.compose import compose_patient_blanks, compose_unit_blank
from handoff.fields import EXAMPLES, FIELDS, Kind, Section, fields_of
from handoff.findings import Severity
from handoff.model import Patient, Shift, Unit, What
from handoff.page import BlankPage
from handoff.paper import PAPERS, draw_blank
from handoff.paper.blank import _edges
from handoff.paper.canvas import MARGIN_PT
from handoff.paper.typeface import BOLD, SMALL_PT
from handoff.paper.typeset import width_of
from tests.bad_logs import IN_OPTIONS
from tests.builders import patient
from tests.logs import check_text, log_of
from tests.sheets import Read, read_pdf, words
from tests.test_paper import _overlaps
from tests.test_words import FORBIDDEN
from tests.test_written import NOWHERE, PATIENTS, ZONE

WARD = sorted(str(path) for path in Path(__file__).parent.parent.glob("sample_inputs/ward/*.yaml"))
UNIT = Unit("Harbour 3 East", ZONE, None, phone="ext. 4410")
NIGHT = Shift(datetime(2026, 3, 7, 23, tzinfo=UTC), datetime(2026, 3, 8, 10, tzinfo=UTC))
GIVEN = [f"--{name.replace('_', '-')}={text}" for name, text in IN_OPTIONS.items()]


def blank(out: Path, *arguments: str) -> dict[str, bytes]:
    """Run `handoff blank` and read what it wrote, by relative name."""
    assert cli.main(["blank", *arguments, "--out", str(out)]) == cli.DONE
    return {
        str(path.relative_to(out)): path.read_bytes() for path in out.rglob("*") if path.is_file()
    }


# starters


@pytest.mark.parametrize("name", ["blank.yaml", "blank.csv"])
@pytest.mark.parametrize("arguments", [[], [*GIVEN], [*GIVEN, "--patients", "8"]])
def test_a_starter_passes_the_checks_and_tells_of_nobody(
    tmp_path: Path, name: str, arguments: list[str]
) -> None:
    files = blank(tmp_path / "out", *arguments)
    assert set(files) == {"blank.yaml", "blank.csv", "blank.pdf"}
    assert cli.main(["check", str(tmp_path / "out" / name)]) == cli.DONE
    log = log_of(files[name].decode("utf-8-sig"), name)
    assert (log.patients, log.entries, log.set_aside) == ((), (), ())
    assert {each.severity for each in log.findings} == {Severity.NOTE}
    assert log.unit.name == ("Harbour 3 East" if arguments else "EXAMPLE UNIT")


def filled_in(text: str) -> str:
    """The YAML starter with one patient and one entry typed into it."""
    for key, value in (("id", '"10442"'), ("name", "Larkspur"), ("born", "1958-04-02")):
        text = re.sub(rf"^([- ] {key}:) +(?=#.*(id|name|date))", rf"\1 {value} ", text, flags=re.M)
    text = re.sub(r"^(  bed:) ", r"\1 12A ", text, flags=re.M)
    return text.replace("{patient: , at: ,", '{patient: "10442", at: 19:40,').replace(
        "breaths: , volume", "breaths: 8, volume"
    )


def test_a_starter_that_is_filled_in_is_a_log(tmp_path: Path) -> None:
    log = log_of(filled_in(blank(tmp_path / "out", *GIVEN)["blank.yaml"].decode()))
    assert log.findings == ()
    assert [(each.id, each.name, each.bed) for each in log.patients] == [
        ("10442", "Larkspur", "12A")
    ]
    assert [each.breaths for each in log.entries] == [8]


@pytest.mark.parametrize("left", ["unit", "time_zone", "shift"])
def test_an_example_that_is_left_is_never_handed_over(tmp_path: Path, left: str) -> None:
    told = [
        f"--{name.replace('_', '-')}={text}" for name, text in IN_OPTIONS.items() if name != left
    ]
    text = filled_in(blank(tmp_path / "out", *told)["blank.yaml"].decode())
    log, findings = check_text(text)
    assert log is None
    examples = {each.raw for each in findings if each.code == "example-left"}
    assert examples == {text for name, text in EXAMPLES.items() if name.startswith(left)}


@given(st.lists(PATIENTS, max_size=4, unique_by=lambda each: each.id))
def test_patients_are_carried_as_they_are(patients: list[Patient]) -> None:
    carried = Blank(UNIT, 0, before=NIGHT, patients=tuple(patients))
    given = {"shift": IN_OPTIONS["shift"]}
    for name, content in (
        ("night.yaml", starter_yaml(carried, words(ZONE).say)),
        ("night.csv", starter_csv(carried)),
    ):
        log, findings = check_text(content.decode("utf-8-sig"), name, given)
        assert log is not None, findings
        assert [replace(each, place=NOWHERE) for each in log.patients] == patients
        assert log.entries == ()


def test_the_times_of_the_next_shift_are_left_to_fill_in(tmp_path: Path) -> None:
    files = blank(tmp_path / "out", *WARD)
    for name in ("blank.yaml", "blank.csv"):
        log, findings = check_text(files[name].decode("utf-8-sig"), name)
        assert log is None
        errors = [each for each in findings if each.severity is Severity.ERROR]
        assert [(each.code, each.field) for each in errors] == [
            ("missing-shift", "shift_start"),
            ("missing-shift", "shift_end"),
        ]
        given = {"shift": "2026-03-07T19:00/2026-03-08T07:00"}
        log = log_of(files[name].decode("utf-8-sig"), name, given)
        assert len(log.patients) == 21
        assert not [each for each in log.findings if each.severity is Severity.ERROR]


def test_every_field_has_its_hint_and_its_range(tmp_path: Path) -> None:
    text = blank(tmp_path / "out")["blank.yaml"].decode()
    for field in FIELDS:
        key = field.path.rpartition(".")[2]
        (hint,) = re.findall(rf"^(?:[- ] |#|   ) *{key}\b.*", text, flags=re.M)[:1]
        assert all(word in text for word in field.choices)
        if field.kind in {Kind.NUMBER, Kind.WHOLE}:
            assert f"{field.high:,.0f}" in text
        assert hint


# pages


def pages_of(content: bytes) -> Read:
    read = read_pdf(content)
    assert read.embedded
    return read


@pytest.mark.parametrize(("arguments", "pages"), [([], 1), (["--patients", "8"], 8)])
def test_there_is_a_page_for_each_patient(tmp_path: Path, arguments: list[str], pages: int) -> None:
    read = pages_of(blank(tmp_path / "out", *arguments)["blank.pdf"])
    assert len(read.pages) == pages
    for number, text in enumerate(read.pages, start=1):
        assert f"page {number} of {pages}" in text
        assert "EXAMPLE" not in text
        assert "2000" not in text


def test_a_page_has_a_column_for_each_field_its_words_and_the_cautions(tmp_path: Path) -> None:
    (text,) = pages_of(blank(tmp_path / "out")["blank.pdf"]).pages
    for field in fields_of(Section.ENTRY):
        if field.name != "patient_id":
            assert words(ZONE).say(f"blank.column.{field.name}") in text
        for word in field.choices:
            assert word.replace("_", " ") in text
    for field in fields_of(Section.PATIENT):
        assert words(ZONE).say(f"blank.label.{field.name}") in text
    assert "Stop and rest when dizzy" in text
    assert "A blank means not recorded, never no" in text


def test_a_page_of_a_known_patient_has_identity_order_alert_and_whence(tmp_path: Path) -> None:
    read = pages_of(blank(tmp_path / "out", *WARD)["blank.pdf"])
    (text,) = (page for page in read.pages if "Harrowell, Joanne" in page)
    for said in ("Bed 8B", "Id 00718", "NAME ALERT: another patient has a similar name (bed 5A)"):
        assert said in text
    assert "Printed from the log of 7 Mar 2026 07:00 to 7 Mar 19:00" in text
    assert "Goal (mL) 1," in text
    assert "Harrowell, Joan " not in text


def test_precautions_stand_on_the_page_whole() -> None:
    said = " ".join(f"careful{number}" for number in range(45))
    known = Blank(UNIT, 0, before=NIGHT, patients=(patient(precautions=said),))
    text = pages_of(draw_blank(compose_patient_blanks(known, words(ZONE)), PAPERS["letter"], "log"))
    assert f"Precautions {said} Sex" in " ".join(text.pages[0].split())


@pytest.mark.parametrize("paper", PAPERS)
def test_every_column_has_room_for_its_title_and_the_note_for_words(paper: str) -> None:
    known = Blank(UNIT, 1, before=NIGHT)
    width = max(PAPERS[paper]) - 2 * MARGIN_PT
    for page in pages(known):
        edges = _edges(page.columns, width)
        assert edges[-1] == pytest.approx(width)
        for column, left, right in zip(page.columns, edges, edges[1:], strict=False):
            assert right - left >= width_of_widest(column.title)
        assert page.columns[-1].name == "note"
        assert edges[-1] - edges[-2] >= 90


def width_of_widest(title: str) -> float:
    return max(width_of(word, SMALL_PT, BOLD) for word in title.split())


def test_the_page_of_the_unit_has_every_ordered_patient_once(tmp_path: Path) -> None:
    read = pages_of(blank(tmp_path / "out", *WARD, "--for", "unit")["blank.pdf"])
    everything = " ".join(read.pages)
    handed_over = log_of(Path(WARD[-1]).read_text(encoding="utf-8"))
    left = {each.patient_id for each in handed_over.entries if each.what is What.LEFT}
    for each in handed_over.patients:
        wanted = each.order is not None and each.id not in left
        assert everything.count(f"id {each.id} ") == wanted
    assert everything.index("1A") < everything.index("9A")
    assert everything.count("NAME ALERT") == 2


def test_two_runs_give_the_same_bytes(tmp_path: Path) -> None:
    assert blank(tmp_path / "one", *WARD) == blank(tmp_path / "two", *WARD)


def test_pages_have_no_error_prone_abbreviation(tmp_path: Path) -> None:
    for out, arguments in (("a", []), ("b", WARD), ("c", [*WARD, "--for", "unit"])):
        text = " ".join(pages_of(blank(tmp_path / out, *arguments)["blank.pdf"]).pages)
        for name in ("do-not-use abbreviation", "trailing zero", "no leading zero"):
            assert FORBIDDEN[name].search(text) is None, name


LONG = st.text(st.characters(exclude_categories=["Cs"]), max_size=200)
LONGEST = st.text(st.characters(exclude_categories=["Cs"]), max_size=500)
LONG_PATIENTS = st.builds(
    lambda name, bed, reason, precautions: patient(
        name=name, bed=bed, reason=reason, precautions=precautions
    ),
    *(LONG, LONG, LONG, LONGEST),
)


def pages(blank: Blank) -> tuple[BlankPage, ...]:
    said = words(ZONE)
    return (*compose_patient_blanks(blank, said), compose_unit_blank(blank, said))


@settings(max_examples=30, phases=(Phase.explicit, Phase.reuse, Phase.generate))
@given(LONG_PATIENTS, st.sampled_from(sorted(PAPERS)))
def test_whatever_the_log_holds_nothing_is_cut_or_off_the_page(of: Patient, paper: str) -> None:
    known = Blank(UNIT, 0, before=NIGHT, patients=(of,), name_alerts={of.id: ("5",)})
    read = pages_of(draw_blank(pages(known), PAPERS[paper], "log"))
    wide, high = max(PAPERS[paper]), min(PAPERS[paper])
    for page in read.pieces:
        assert min(piece.size for piece in page) >= SMALL_PT
        for piece in page:
            left, bottom, right, top = piece.box
            assert left >= MARGIN_PT - 1
            assert right <= wide - MARGIN_PT + 1
            assert bottom >= MARGIN_PT - 1
            assert top <= high - MARGIN_PT + 1
        assert list(_overlaps(page)) == []
    assert "…" in of.name + of.bed + str(of.reason) or "…" not in read.pages[0]


# files and options


def test_files_are_the_owners_alone(tmp_path: Path) -> None:
    blank(tmp_path / "out")
    for path in [tmp_path / "out", *(tmp_path / "out").iterdir()]:
        assert stat.S_IMODE(path.stat().st_mode) == (0o700 if path.is_dir() else 0o600)


def test_a_log_that_may_be_filled_in_is_never_replaced(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    before = blank(out)
    assert cli.main(["blank", "--out", str(out)]) == cli.NOTHING_PRODUCED
    assert "other files" in capsys.readouterr().err
    assert cli.main(["sheets", WARD[-1], "--out", str(out)]) == cli.NOTHING_PRODUCED
    assert {path.name: path.read_bytes() for path in out.iterdir()} == before


def test_nor_is_a_set_of_sheets(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "measures.json").write_text("{}")
    assert cli.main(["blank", "--out", str(out)]) == cli.NOTHING_PRODUCED
    assert "other files" in capsys.readouterr().err
    assert [path.name for path in out.iterdir()] == ["measures.json"]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--time-zone", "Halifax"], "not the name of a time zone"),
        (["--shift", "tonight"], "not a start and an end"),
        (["missing.yaml"], "no such file"),
        (["--templates", "{tmp}"], "blank.yaml:1"),
    ],
)
def test_what_is_wrong_is_said_and_nothing_is_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], said: str
) -> None:
    (tmp_path / "blank.yaml").write_text("blank: {unknown: words}\n")
    filled = [each.replace("{tmp}", str(tmp_path)) for each in arguments]
    assert cli.main(["blank", *filled, "--out", str(tmp_path / "out")]) == cli.NOTHING_PRODUCED
    assert said in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("number", ["-1", "201", "eight", "1.5", "²"])
def test_so_many_patients_are_a_usage_error(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], number: str
) -> None:
    with pytest.raises(SystemExit) as raised:
        cli.main(["blank", f"--patients={number}", "--out", str(tmp_path / "out")])
    assert raised.value.code == cli.NOTHING_PRODUCED
    assert "from 0 to 200" in capsys.readouterr().err


def test_a_unit_s_own_words_are_printed(tmp_path: Path) -> None:
    (tmp_path / "blank.yaml").write_text("blank: {title: {patient: Bedside log}}\n")
    files = blank(tmp_path / "out", "--templates", str(tmp_path))
    assert "Bedside log" in pages_of(files["blank.pdf"]).pages[0]


@pytest.mark.parametrize("page_for", ["patients", "unit"])
def test_without_a_patient_there_is_still_a_page_to_write_on(tmp_path: Path, page_for: str) -> None:
    files = blank(tmp_path / "out", *GIVEN, "--patients", "0", "--for", page_for)
    (page,) = read_pdf(files["blank.pdf"]).pages
    assert "Harbour 3 East" in page

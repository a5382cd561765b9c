"""The PDFs for everyone and for the archive: each conforms to PDF/UA-1 and PDF/A-2a at once."""

from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any
from zlib import compress, decompress

import outloud
import pikepdf
import pytest
from PIL import Image, ImageCms
from reportlab.lib.rl_accel import fp_str
from reportlab.pdfbase.pdfdoc import PDFDocument
from reportlab.pdfbase.pdfmetrics import getFont
from reportlab.pdfbase.ttfonts import TTFont

from handoff.draw.chart import draw_volume
from handoff.draw.paper import PAPERS, Document, Typesetter, conform, draw_patient, join_sheets
from handoff.draw.paper.blocks import Layout, again, roled, stack, tagged
from handoff.draw.paper.canvas import Canvas
from handoff.draw.paper.conform import XMP
from handoff.draw.paper.tags import Element
from handoff.draw.paper.typeface import REGULAR, TypeStyle, face_of, packed
from handoff.model.figure import Drawing, Text
from handoff.model.figure import Path as Mark
from tests.support.builders import entry, handover, patient
from tests.support.going_home import of_one
from tests.support.random_pages import DANGERS
from tests.support.sheets import (
    TYPESETTER,
    courses_page,
    courses_pdf,
    document,
    patient_page,
    patient_pdf,
    read_pdf,
    round_page,
    round_pdf,
    unit_page,
    unit_pdf,
)
from tests.support.tags import Node, Tagged, faults, heard, structure_faults
from tests.support.translated import pdf_in

WARD = tuple(patient(id=str(number), bed=str(number)) for number in range(10441, 10445))


@cache
def printed() -> dict[str, bytes]:
    """One of each PDF."""
    sheet = patient_pdf(patient_page(handover(DANGERS)))
    return {
        "sheet": sheet,
        # One row of cells under its titles is taken for broken titles: so of a ward.
        "summary": unit_pdf(unit_page(handover(DANGERS, patients=WARD))),
        "round list": round_pdf(round_page(handover(DANGERS, patients=WARD))),
        "courses": courses_pdf(courses_page(handover(DANGERS))),
        "joined": join_sheets([("Bed 1", sheet), ("Bed 2", sheet)], "sheets"),
        **{f"home {code}": pdf_in(of_one(), code, "a4") for code in ("en", "uk", "ar")},
    }


def test_every_pdf_conforms_to_both_standards_and_has_a_whole_tree(tmp_path: Path) -> None:
    """By two validators that know nothing of each other; one test, as they are slow to load."""
    for name, content in printed().items():
        assert (name, faults(content)) == (name, [])
        assert (name, structure_faults(Tagged(content))) == (name, [])
        (tmp_path / "page.pdf").write_bytes(content)
        result = outloud.check(str(tmp_path / "page.pdf"))
        errors = [found.message for found in result.findings if found.severity == "error"]
        assert (name, result.error, errors) == (name, None, [])


def test_no_packed_stream_ends_in_a_carriage_return() -> None:
    """Its line end would be taken for a part of it."""
    content = b"\f"
    assert compress(content)[-1:] == b"\r"
    short, length = packed(content)
    assert short[-1:] != b"\r"
    assert (decompress(short), length) == (content + b" ", len(content) + 1)


def canvas() -> Canvas:
    return Canvas(document(title="words"), (200, 200))


def test_the_tree_is_read_at_once_however_long_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    """pikepdf asks Python for each few bytes of an object, and for a stream of objects once."""
    asked = 0

    class Asked(BytesIO):
        def readinto(self, buffer: Any, /) -> int:
            nonlocal asked
            asked += 1
            return super().readinto(buffer)

    monkeypatch.setattr(conform, "BytesIO", Asked)
    times = []
    for count in (10, 100):
        drawn, asked = canvas(), 0
        for _ in range(count):
            drawn.put_text((10, 100), "One")
        drawn.showPage()
        assert Tagged(drawn.finished()).lines().count("  P: One") == count
        times.append(asked)
    assert times[1] < times[0] + 90


def test_letters_are_drawn_as_reportlab_draws_them() -> None:
    ours: Any = canvas().beginText()
    theirs: Any = canvas().beginText()
    for text in ("Bed 12A (3)\\", "Ż 90 %", "≥ 1,500 mL, ~ e", "Ёлка ↑ and Łódź"):
        for size in (8, 9.5, 10):
            ours.setFont(REGULAR, size)
            TYPESETTER.fonts.put_plain(ours, text, TypeStyle(size))
            theirs.setFont(REGULAR, size)
            theirs._textOut(text)
    assert ours.getCode() == theirs.getCode()


@pytest.mark.parametrize(
    "number", [0, -0.001, 0.004, 0.5, -0.5, 1, 9.999, 12.3, 100, 612.345, 0.125]
)
def test_a_number_is_written_as_reportlab_writes_it(number: float) -> None:
    """Rounded to the hundredth, with no zero that says nothing."""
    drawn: Any = canvas()
    line = Mark((("M", number, 0), ("L", 20, number)), (0, 0, 0), None, 1, (), None, ((0, 0),))
    drawn.put_drawing(Drawing(20, 20, (line,), ()), 0, 0)
    written = fp_str(round(number, 2))
    assert f"n {written} 0 m 20 {written} l" in " ".join(drawn._code)


def test_words_that_nobody_names_are_a_paragraph_and_lines_are_decoration() -> None:
    drawn = canvas()
    drawn.put_text((10, 100), "One")
    drawn.rule(10, 90, 50)
    drawn.put_tick_box(10, 80)
    drawn.put_text((10, 70), "Two")
    drawn.showPage()
    read = Tagged(drawn.finished())
    assert read.lines() == ["Document", "  P: One", "  P: Two"]
    assert (read.untagged, read.faults) == ([], [])


def test_a_block_is_what_its_roles_say_each_time_that_it_is_drawn() -> None:
    drawn, listed = canvas(), Element("L")
    word = Layout(TYPESETTER).text("word", 100)
    for top in (100, 80):
        roled(word, "H1").draw(drawn, 10, top)
        tagged(roled(word, "LI", "LBody"), listed).draw(drawn, 10, top - 10)
        again(roled(word, "H2")).draw(drawn, 10, top - 10)
        drawn.showPage()
    read = Tagged(drawn.finished())
    item = ["    LI", "      LBody: word"]
    assert read.lines() == ["Document", "  H1: word", "  L", *item, *item, "  H1: word"]
    assert read.decoration == [["word "], ["word "]]
    assert (read.untagged, read.faults) == ([], [])


def test_an_element_first_named_in_decoration_is_held_where_it_is_drawn_for_real() -> None:
    drawn, cell = canvas(), Element("P")
    word = tagged(Layout(TYPESETTER).text("word", 100), cell)
    again(word).draw(drawn, 10, 100)
    word.draw(drawn, 10, 80)
    drawn.showPage()
    assert Tagged(drawn.finished()).lines() == ["Document", "  P: word"]


def test_a_list_or_a_table_of_nothing_is_none_and_an_empty_cell_stays() -> None:
    drawn, table = canvas(), Element("Table")
    tagged(stack([]), Element("L")).draw(drawn, 10, 100)
    tagged(stack([]), table).draw(drawn, 10, 100)
    with drawn.within(table, Element("TR")):
        drawn.add(Element("TD"))
    drawn.showPage()
    assert Tagged(drawn.finished()).lines() == ["Document", "  Table", "    TR", "      TD"]


def test_a_drawing_with_words_is_one_figure_and_without_them_its_marks_are_decoration() -> None:
    line = Mark((("M", 0, 0), ("L", 20, 20)), (0, 0, 0), None, 1, (), None)
    drawing = Drawing(20, 20, (line,), (Text(0, 0, "0 mL", 8),))
    drawn = canvas()
    drawn.put_drawing(drawing, 10, 100, "Rises.")
    drawn.put_drawing(drawing, 10, 50)
    drawn.showPage()
    read = Tagged(drawn.finished())
    assert read.lines() == ["Document", "  Figure: Rises.", "  P: 0 mL"]
    assert read.root.kids[0].text == "0 mL"
    assert read.untagged == []


def test_a_colour_is_refused() -> None:
    """The profile of the sheets has only grey."""
    line = Mark((("M", 0, 0), ("L", 20, 20)), (1, 0, 0), None, 1, (), None)
    with pytest.raises(ValueError, match="printed in grey"):
        canvas().put_drawing(Drawing(20, 20, (line,), ()), 10, 100)


def test_a_space_follows_each_line_but_not_within_a_broken_word() -> None:
    drawn = canvas()
    Layout(TYPESETTER).text("Wetherington-Smythe, Ann", 60).draw(drawn, 10, 100)
    drawn.showPage()
    assert Tagged(drawn.finished()).lines()[1] == "  P: Wetherington-Smythe, Ann"


def test_a_name_from_right_to_left_is_read_in_its_own_order_with_every_mark() -> None:
    """Also where what extracts the text turns it around itself."""
    name = "شدّاد, نوال Smith שרה"
    content = patient_pdf(patient_page(handover(patients=(patient(name=name),))))
    read = Tagged(content)
    title = next(node for node in read.root.all() if node.role == "H1")
    assert title.text == f"bed 12A {name}"
    spans = [part.read for part in title.parts if isinstance(part, Node)]
    assert spans == ["شدّاد, نوال", "שרה "]
    (text,) = read_pdf(content).pages
    assert "شدّاد" in text
    assert "id 10442" in text
    assert structure_faults(read) == []


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("تاريخ: 25 يناير", "تاريخ: 25 يناير"),
        ("الجهاز (mL).", "الجهاز (mL)."),
        ("קוהן, Ann Smith", "קוהן, Ann Smith"),
    ],
)
def test_a_line_from_right_to_left_is_read_from_the_right(written: str, said: str) -> None:
    drawn = canvas()
    setter = TYPESETTER.running(from_right=True)
    Layout(setter).text(written, 180).draw(drawn, 10, 100)
    drawn.showPage()
    assert Tagged(drawn.finished()).lines()[1:] == [f"  P: {said}"]


def test_a_sheet_is_read_in_the_order_of_the_page_every_text_once() -> None:
    page = patient_page(handover(entry("09:00", spo2=90, note="slept badly")))
    who, titles = page.identity, page.headings
    expected = [f"{page.bed_word} {who.bed} {who.name}", who.id]
    expected += [f"{page.priority_words} {page.priority_mark}".strip()]
    expected += [who.alert or "", page.unit, page.shift, page.as_of, page.sheet]
    expected += [words for fact in page.paragraphs for words in (fact.label, fact.value)]
    expected += [titles.cautions]
    for caution in page.cautions:
        untold = titles.not_told_by_whom if caution.told == () else ""
        told = (*(caution.told or ()), caution.asked, untold)
        expected += [caution.level_words, caution.mark, f"{caution.title}."]
        expected += [caution.seen, caution.action, *told]
    expected += [page.counted, page.to_check, page.not_judged or ""]
    expected += [page.chart_title, page.chart_words, page.strip_title, page.strip_words]
    expected += [page.call_if.label, page.call_if.value]
    for title, facts in ((titles.numbers, page.numbers), (titles.set_up, page.set_up)):
        expected += [title, *(words for fact in facts for words in (fact.label, fact.value))]
    steps = (words for step in page.next_shift for words in (titles.tick_box, step))
    expected += [titles.next_shift, *steps]
    expected += [titles.notes, *(words for note in page.notes for words in (note.at, note.text))]
    expected += page.standing
    expected += [f"{titles.outgoing}: {page.signature.outgoing or ''}"]
    expected += [f"{titles.incoming}: {page.signature.incoming or ''}"]
    assert page.cautions
    assert page.notes
    read = Tagged(patient_pdf(page))
    assert heard(read).split() == " ".join(expected).split()
    assert structure_faults(read) == []


def test_each_sheet_is_a_part_of_the_joined_file() -> None:
    pages = [patient_page(handover(patients=(patient(bed=bed),))) for bed in ("1", "2")]
    sheets = [patient_pdf(page) for page in pages]
    whole = Tagged(join_sheets([("Bed 1", sheets[0]), ("Bed 2", sheets[1])], "sheets"))
    assert [part.title for part in whole.root.kids] == ["Bed 1", "Bed 2"]
    for part, sheet in zip(whole.root.kids, sheets, strict=True):
        assert part.role == "Part"
        alone = [line.strip() for line in Tagged(sheet).lines()]
        assert [node.line().strip() for node in part.all()][1:] == alone[1:]
    assert structure_faults(whole) == []


def test_the_summary_says_all_of_its_page_once_and_its_heads_once() -> None:
    """Thirty patients on several pages: what stands on each page is read on one."""
    ward = tuple(patient(id=f"2{n:04}", bed=str(n), name=f"Patient {n}") for n in range(30))
    page = unit_page(handover(patients=ward))
    read = Tagged(unit_pdf(page))
    words = heard(read)
    assert structure_faults(read) == []
    assert len(read.decoration) > 2
    for text in (page.unit, page.as_of, *page.standing, *(row.id for row in page.rows)):
        in_rows = sum(text in node.text for node in read.root.all() if node.role == "TD")
        assert words.count(text) - in_rows <= 1 or text not in page.standing
        assert text in words
    assert [words.count(each) for each in (page.unit, page.shift, *page.standing)] == [1] * (
        2 + len(page.standing)
    )


def test_the_same_bytes_alone_and_after_others_and_with_new_fonts() -> None:
    """What the run keeps of its fonts changes nothing."""
    pages = [
        patient_page(handover(patients=(patient(name=name),)))
        for name in ("Ann", "Żurawiecki, Świętosław", "Κορφιάτη", "Ann")
    ]
    first, *_, last = (patient_pdf(page) for page in pages)
    alone = draw_patient(pages[0], Document(Typesetter(), PAPERS["letter"], "sheet"), draw_volume)
    assert first == last == alone.content


@pytest.mark.parametrize("words", ["a (b) \\ c)", "90 % – 7 °C, é", "عربي 日本 𝔸", "line\r\nline"])
def test_words_of_a_figure_are_in_the_tree_letter_by_letter(words: str) -> None:
    drawn = canvas()
    drawn.put_drawing(Drawing(20, 20, (), ()), 10, 100, words)
    drawn.showPage()
    content = drawn.finished()
    with pikepdf.open(BytesIO(content)) as pdf:
        figures = [each for each in pdf.objects if "/Alt" in getattr(each, "keys", list)()]
        assert [str(each.Alt) for each in figures] == [words]


def test_metadata_are_what_was_written_and_are_kept_by_who_reads_them() -> None:
    """In the form in which pikepdf writes them, so that nothing changes them again."""
    with pikepdf.open(BytesIO(printed()["sheet"])) as pdf:
        before = pdf.Root.Metadata.read_bytes()
        assert before == XMP.format(title="sheet", language="en").encode()
        with pdf.open_metadata(set_pikepdf_as_editor=False, update_docinfo=False):
            pass
        assert pdf.Root.Metadata.read_bytes() == before


def test_ascii_has_the_codes_that_reportlab_gives_it() -> None:
    face_of(REGULAR)  # so that ReportLab knows it
    font: Any = getFont(REGULAR)
    one, other = object.__new__(PDFDocument), object.__new__(PDFDocument)
    for text in ("Bed 12A (3)", "Ż 90 %", "~ e", "", "a\tb", "é 7"):
        assert font.splitString(text, one) == TTFont.splitString(font, text, other)


@pytest.mark.parametrize("letter", ["𝔸", "ẹ́", "ش"])
def test_each_glyph_has_its_letter(letter: str) -> None:
    """One above U+FFFF, one with a mark of its own, and a joined one."""
    content = patient_pdf(patient_page(handover(patients=(patient(name=f"Ann {letter}"),))))
    assert faults(content) == []
    title = next(node for node in Tagged(content).root.all() if node.role == "H1")
    assert title.text == f"bed 12A Ann {letter}"


def test_the_grey_of_the_profile_is_read_by_another_library() -> None:
    """Little CMS: black and white are themselves, and the middle of the scale is the middle of the
    screen's to a step."""
    with pikepdf.open(BytesIO(printed()["sheet"])) as pdf:
        (intent,) = pdf.Root.OutputIntents
        profile = intent.DestOutputProfile.read_bytes()
    grey = ImageCms.ImageCmsProfile(BytesIO(profile))
    screen = ImageCms.createProfile("sRGB")
    change = ImageCms.buildTransform(grey, screen, "L", "RGB")
    tones = Image.new("L", (3, 1))
    tones.putdata([0, 128, 255])
    changed = ImageCms.applyTransform(tones, change)
    assert changed
    red, green, blue = (part.tobytes() for part in changed.split())
    shown = [*zip(red, green, blue, strict=True)]
    assert shown[0] == (0, 0, 0)
    assert shown[2] == (255, 255, 255)
    assert all(abs(part - 128) <= 1 for part in shown[1])

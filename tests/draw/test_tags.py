"""The PDFs for everyone and for the archive: each conforms to PDF/UA-1 and PDF/A-2a at once."""

from functools import cache
from pathlib import Path
from zlib import compress, decompress

import outloud
import pytest

from handoff.draw.paper import join_sheets
from handoff.draw.paper.blocks import Layout, again, roled, tagged
from handoff.draw.paper.canvas import Canvas
from handoff.draw.paper.tags import Element
from handoff.draw.paper.typeface import packed
from handoff.model.figure import Drawing, Text
from handoff.model.figure import Path as Mark
from tests.support.builders import handover, patient
from tests.support.random_pages import DANGERS
from tests.support.sheets import (
    TYPESETTER,
    courses_page,
    courses_pdf,
    document,
    patient_page,
    patient_pdf,
    round_page,
    round_pdf,
    unit_page,
    unit_pdf,
)
from tests.support.tags import Tagged, faults

WARD = tuple(patient(id=str(number), bed=str(number)) for number in range(10441, 10445))


@cache
def printed() -> dict[str, bytes]:
    """One of each PDF."""
    sheet = patient_pdf(patient_page(handover(DANGERS)))
    return {
        "sheet": sheet,
        "summary": unit_pdf(unit_page(handover(DANGERS))),
        "round list": round_pdf(round_page(handover(DANGERS, patients=WARD))),
        "courses": courses_pdf(courses_page(handover(DANGERS))),
        "joined": join_sheets([("Bed 1", sheet), ("Bed 2", sheet)], "sheets"),
    }


@pytest.mark.parametrize("name", ["sheet", "summary", "round list", "courses", "joined"])
def test_every_pdf_conforms_to_both_standards(name: str, tmp_path: Path) -> None:
    content = printed()[name]
    assert faults(content) == []
    (tmp_path / "page.pdf").write_bytes(content)
    result = outloud.check(str(tmp_path / "page.pdf"))
    assert (result.error, result.errors) == (None, 0)


def test_no_packed_stream_ends_in_a_carriage_return() -> None:
    """Its line end would be taken for a part of it."""
    content = b"\f"
    assert compress(content)[-1:] == b"\r"
    short, length = packed(content)
    assert short[-1:] != b"\r"
    assert (decompress(short), length) == (content + b" ", len(content) + 1)


def canvas() -> Canvas:
    return Canvas(document(title="words"), (200, 200))


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

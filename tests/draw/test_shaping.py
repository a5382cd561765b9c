"""A script that the sheets' fonts lack, in a unit's own font: its letters change their shape."""

import re
from io import BytesIO
from pathlib import Path
from shutil import copy
from unittest.mock import patch

import outloud
import page as page_validation
import pikepdf
import pytest
import uharfbuzz

from handoff.cli import main as cli
from handoff.draw.paper import Document, FontError, Typesetter, refuse_letters
from handoff.draw.paper.canvas import PAPERS, Canvas
from handoff.draw.paper.shaping import FIRST_CODE, is_shaped
from handoff.draw.paper.typeface import TypeStyle
from handoff.model.wording import shipped_templates
from tests.support.runs import WARD
from tests.support.sheets import read_pdf

FONT = Path("/usr/share/fonts/truetype/lohit-devanagari/Lohit-Devanagari.ttf")
pytestmark = pytest.mark.skipif(not FONT.exists(), reason="Debian's fonts-lohit-deva is not there")

# Conjuncts, a vowel that is drawn before its consonant, marks above and below: Unicode, chapter 12.
WORDS = ["क्षत्रिय", "हिन्दी", "श्रद्धा", "हुई", "छोड़ें"]


def glyphs(word: str) -> list[tuple[int, int]]:
    """The glyphs of a word and how far each moves the pen, by HarfBuzz alone."""
    font = uharfbuzz.Font(uharfbuzz.Face(uharfbuzz.Blob.from_file_path(str(FONT))))
    buffer = uharfbuzz.Buffer()
    buffer.add_str(word)
    buffer.guess_segment_properties()
    uharfbuzz.shape(font, buffer)
    both = zip(buffer.glyph_infos, buffer.glyph_positions, strict=True)
    return [(info.codepoint, place.x_advance) for info, place in both]


def drawn(words: str) -> bytes:
    canvas = Canvas(Document(Typesetter(str(FONT)), PAPERS["a4"], "words", "hi"), PAPERS["a4"])
    canvas.put_text((40, 700), words, TypeStyle(16))
    canvas.showPage()
    return canvas.finished()


@pytest.mark.parametrize("word", WORDS)
def test_a_word_is_as_wide_as_its_glyphs(word: str) -> None:
    em = uharfbuzz.Face(uharfbuzz.Blob.from_file_path(str(FONT))).upem
    expected = sum(advance for _, advance in glyphs(word)) / em
    assert len(glyphs(word)) != len(word) or word == "हुई"
    assert Typesetter(str(FONT)).width_of(word, TypeStyle(1.0)) == pytest.approx(expected)


@pytest.mark.parametrize("word", WORDS)
def test_its_glyphs_are_drawn_in_harfbuzzs_order(word: str) -> None:
    typesetter = Typesetter(str(FONT))
    ((_, letters),) = typesetter.line(word, TypeStyle(16)).runs
    assert is_shaped(letters)
    shaper = typesetter.fonts._shaper
    assert shaper
    found = [shaper._glyphs[each].code - FIRST_CODE for each in letters]
    assert found == [number for number, _ in glyphs(word)]


def test_what_is_drawn_is_read_as_it_was_written_and_conforms(tmp_path: Path) -> None:
    content = drawn(" ".join(WORDS) + " mL")
    assert content == drawn(" ".join(WORDS) + " mL")
    with pikepdf.open(BytesIO(content)) as pdf:
        stream = pdf.pages[0].Contents.read_bytes().decode("latin-1")
    said = [
        bytes.fromhex(each).decode("utf-16") for each in re.findall("ActualText <(.*?)>", stream)
    ]
    assert said == WORDS
    for profile in ("ua1", "2a"):
        assert page_validation.validate_pdf_bytes(content, profile=profile).failures == []
    (tmp_path / "words.pdf").write_bytes(content)
    assert outloud.check(str(tmp_path / "words.pdf")).errors == 0


@pytest.fixture
def hindi(tmp_path: Path) -> Path:
    """A folder of words in which one sentence is in Devanagari."""
    (tmp_path / "own" / "hi").mkdir(parents=True)
    path = tmp_path / "own" / "hi" / "discharge.yaml"
    copy(shipped_templates() / "en" / "discharge.yaml", path)
    text = path.read_text(encoding="utf-8").replace("Breathe out gently.", "धीरे-धीरे साँस छोड़ें।")
    path.write_text(text, encoding="utf-8")
    return path.parents[1]


def test_a_folder_of_words_and_a_font_are_enough(tmp_path: Path, hindi: Path) -> None:
    out = tmp_path / "out"
    arguments = ["--bed", "1A", "--discharge", "1A", "--language", "hi", "--templates", str(hindi)]
    arguments += ["--font", str(FONT), "--out", str(out)]
    assert cli.main(["sheets", WARD[-1], *arguments]) == cli.DONE
    read = read_pdf((out / "discharge/bed-1A.pdf").read_bytes())
    assert read.embedded
    assert "\ufffd" not in read.pages[0]
    assert "Breathe out gently." not in read.pages[0]
    assert "Breathe out gently." in read.pages[4]


def test_without_the_font_it_is_one_clear_line(
    tmp_path: Path, hindi: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    arguments = ["--bed", "1A", "--discharge", "1A", "--language", "hi", "--templates", str(hindi)]
    assert cli.main(["sheets", WARD[-1], *arguments, "--out", str(out)]) == cli.NOTHING_PRODUCED
    assert "of the language hi; name a TrueType file" in capsys.readouterr().err.splitlines()[-1]
    assert not out.exists()


def test_without_harfbuzz_such_words_are_refused_not_drawn_letter_by_letter() -> None:
    refuse_letters("hi", WORDS, Typesetter(str(FONT)))
    with patch("handoff.draw.paper.typeface.can_shape", return_value=False):
        plain = Typesetter(str(FONT))
    with pytest.raises(FontError, match="handoff\\[shaping\\]"):
        refuse_letters("hi", WORDS, plain)

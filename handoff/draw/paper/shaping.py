"""Letters that change their shape beside each other, such as those of Devanagari, Bengali or Khmer.

Input: a word, a unit's own font. Output: the glyphs that HarfBuzz sets for it, each as one private
character, which the typesetter measures and moves like a letter. For whom has `uharfbuzz`, an
optional library; without it letters are drawn one by one.
"""

from importlib.util import find_spec
from typing import Any, NamedTuple, cast

from reportlab.pdfbase.pdfmetrics import getFont
from reportlab.pdfbase.ttfonts import ShapeData, ShapedStr
from reportlab.pdfgen.textobject import PDFTextObject

FIRST = 0x100000  # of the private characters, one for each glyph at its place
FIRST_CODE = 0xF0000  # of the private codes in the PDF, one for each glyph


def can_shape() -> bool:
    """True where HarfBuzz is installed."""
    return find_spec("uharfbuzz") is not None


def is_shaped(letters: str) -> bool:
    """True where a text has glyphs as private characters."""
    return not letters.isascii() and any(ord(each) >= FIRST for each in letters)


class Glyph(NamedTuple):
    """A glyph by its code in the PDF; how far it moves the pen, and how far from the pen it is
    drawn, all in sizes.
    """

    code: int
    advance: float
    right: float
    up: float


class Shaper:
    """Shapes words in one font, by its name at ReportLab, and keeps the glyphs that it gave out."""

    def __init__(self, font: str) -> None:
        import uharfbuzz  # noqa: PLC0415 - optional, and for a unit's own font only

        self._harfbuzz: Any = uharfbuzz
        self._face: Any = cast("Any", getFont(font)).face  # partly without types
        self._shape_font = uharfbuzz.Font(uharfbuzz.Face(self._face._ttf_data))  # noqa: SLF001
        self._characters: dict[Glyph, str] = {}
        self._glyphs: dict[str, Glyph] = {}
        self._written: dict[str, str] = {}

    def shaped(self, word: str) -> str:
        """The glyphs of a word as private characters, from left to right."""
        buffer = self._harfbuzz.Buffer()
        buffer.add_str(word)
        buffer.guess_segment_properties()
        self._harfbuzz.shape(self._shape_font, buffer)
        both = zip(buffer.glyph_infos, buffer.glyph_positions, strict=True)
        glyphs = "".join(self._character(info.codepoint, place) for info, place in both)
        self._written[glyphs] = word
        return glyphs

    def advance(self, character: str) -> float:
        """How far a private character moves the pen, in sizes."""
        return self._glyphs[character].advance

    def put(self, text: PDFTextObject, letters: str) -> None:
        """Draw words, each with the text that it stands for."""
        for number, word in enumerate(letters.split(" ")):
            if number:
                text.textOut(" ")
            if word:
                self._put_word(text, word)

    def _put_word(self, text: PDFTextObject, word: str) -> None:
        code = cast("Any", text)._code  # noqa: SLF001 - ReportLab has no other way to a mark
        stands_for = self._written.get(word, "")
        if stands_for:
            actual = f"\ufeff{stands_for}".encode("utf-16-be").hex().upper()
            code.append(f"/Span <</ActualText <{actual}>>> BDC")
        letters, places = self._as_reportlab_has_it(word)
        text.textOut(ShapedStr(letters, cast("Any", places)))  # a list, which the stubs do not know
        if stands_for:
            code.append("EMC")

    def _as_reportlab_has_it(self, word: str) -> tuple[str, list[ShapeData]]:
        letters, data = "", []
        for number, each in enumerate(word):
            known = self._glyphs.get(each) or Glyph(ord(each), self._width(ord(each)), 0, 0)
            letters += chr(known.code)
            places = (known.advance, 0, known.right, known.up, self._width(known.code))
            data.append(ShapeData(number, *(1000 * place for place in places)))
        return letters, data

    def _width(self, code: int) -> float:
        return float(self._face.charWidths.get(code, self._face.defaultWidth)) / 1000

    def _character(self, number: int, place: Any) -> str:  # noqa: ANN401 - a type of HarfBuzz
        em = self._face.unitsPerEm
        glyph = Glyph(
            FIRST_CODE + number, place.x_advance / em, place.x_offset / em, place.y_offset / em
        )
        if glyph not in self._characters:
            character = self._characters[glyph] = chr(FIRST + len(self._characters))
            self._glyphs[character] = glyph
            # The same for every run: the code says which glyph it is.
            self._face.charToGlyph[glyph.code] = number
            last = len(self._face.hmetrics) - 1
            width = self._face.hmetrics[min(number, last)][0]
            self._face.charWidths[glyph.code] = self._face._pdfScale(width)  # noqa: SLF001
        return self._characters[glyph]

"""The typeface of the sheets: type styles, font files, and which font draws which letter.

Input: characters, the path of a unit's own font. Output: the font for each, and its width. A letter
that no font has is drawn as U+FFFD, and `missing_letters` names it.
"""

import unicodedata
from collections.abc import Callable, Iterable, Sequence
from functools import cache, lru_cache
from hashlib import sha256
from importlib.resources import files
from importlib.util import find_spec
from io import BytesIO
from itertools import groupby
from operator import itemgetter
from pathlib import Path
from struct import error as StructError  # noqa: N812 - a class, by its kind
from threading import Lock
from typing import Any, NamedTuple, cast
from zlib import compress

from reportlab.lib.rl_accel import escapePDF, fp_str
from reportlab.pdfbase.pdfdoc import (
    PDFArray,
    PDFDictionary,
    PDFName,
    PDFStream,
    PDFTrueTypeFont,
)
from reportlab.pdfbase.pdfmetrics import getFont, getRegisteredFontNames, registerFont
from reportlab.pdfbase.ttfonts import (
    FF_NONSYMBOLIC,
    FF_SYMBOLIC,
    SUBSETN,
    TTFError,
    TTFont,
    TTFontFace,
)
from reportlab.pdfgen.textobject import PDFTextObject

from handoff.draw.paper.direction import ISOLATES, joined
from handoff.draw.paper.shaping import Shaper, can_shape, is_shaped
from handoff.model.frozen import Frozen
from handoff.model.refused import Refused

REGULAR, BOLD = "Regular", "Bold"
FALLBACK = {REGULAR: "Fallback", BOLD: "FallbackBold"}
NO_LETTER = "\N{REPLACEMENT CHARACTER}"
SMALL_PT, BODY_PT, NAME_PT, BED_PT = 8, 9, 14, 34
_LARGEST_FONT_BYTES = 64 * 2**20
_MAP_HEAD = (
    "/CIDInit /ProcSet findresource begin",
    "12 dict begin",
    "begincmap",
    "/CIDSystemInfo << /Registry (Adobe) /Ordering (UCS) /Supplement 0 >> def",
    "/CMapName /Adobe-Identity-UCS def",
    "/CMapType 2 def",
    "1 begincodespacerange",
    "<00> <FF>",
    "endcodespacerange",
)
_MAP_FOOT = ("endcmap", "CMapName currentdict /CMap defineresource pop", "end", "end")
_KEPT_FILES = 100  # a ward's sheets need about 20
# The errors of ReportLab for a damaged file, or one that is no font.
_DAMAGED = (
    *(TTFError, OSError, StructError, LookupError, ValueError),
    *(AttributeError, TypeError, AssertionError),
)


class TypeStyle(Frozen):
    """How text is set: its size in points, and `REGULAR` or `BOLD`."""

    size: float
    font: str = REGULAR


SMALL, SMALL_BOLD = TypeStyle(SMALL_PT), TypeStyle(SMALL_PT, BOLD)
BODY, BODY_BOLD = TypeStyle(BODY_PT), TypeStyle(BODY_PT, BOLD)
NAME_BOLD, BED_BOLD = TypeStyle(NAME_PT, BOLD), TypeStyle(BED_PT, BOLD)


class FontError(Refused):
    """A font file cannot be used; the message says why."""


class Fonts:
    """The fonts of one run: those of the sheets, then a unit's own for letters that they lack.

    `own_font` is the path of a TrueType file. Raises `FontError` where it is none, or may not be
    embedded.
    """

    def __init__(self, own_font: str | None = None) -> None:
        self._own_fonts = () if own_font is None else (_register_own(own_font),)
        self._shaper = Shaper(*self._own_fonts) if self._own_fonts and can_shape() else None
        self._font_with: Callable[[str, str], str | None] = cache(self._find_font_with)
        # (font, character) as drawn: in the font, else in its fallback, else U+FFFD.
        self.font_of: Callable[[str, str], tuple[str, str]] = cache(self._find_font_of)
        # How far a character moves the pen in a font, in sizes.
        self.advance: Callable[[str, str], float] = cache(self._find_advance)
        self._sized: Callable[[float], str] = cache(_sized)
        # A font's file for the codes that a document uses, which is slow to cut and to pack.
        self.file_of: Callable[[str, tuple[int, ...]], FontFile] = lru_cache(_KEPT_FILES)(
            _file_with
        )

    def missing_letters(self, texts: Iterable[str]) -> list[str]:
        """The printable letters that no font can draw, each once, in code point order; and without
        HarfBuzz those that stand around others.
        """
        drawn = (joined(unicodedata.normalize("NFC", text)) for text in texts)
        letters = {letter for text in drawn for letter in text if letter.isprintable()}
        return sorted(
            letter
            for letter in letters
            if self._font_with(letter, REGULAR) is None
            or (self._shaper is None and unicodedata.category(letter) == "Mc")
        )

    def shaped(self, letters: Sequence[tuple[str, str]]) -> list[tuple[str, str]]:
        """The letters of a word, each with its font, those in a unit's own font as glyphs."""
        if self._shaper is None or not any(font in self._own_fonts for font, _ in letters):
            return list(letters)
        shaped: list[tuple[str, str]] = []
        for font, run in groupby(letters, key=itemgetter(0)):
            text = "".join(letter for _, letter in run)
            is_own = font in self._own_fonts and not text.isspace()
            shaped += [(font, each) for each in (self._shaper.shaped(text) if is_own else text)]
        return shaped

    def put_shaped(self, text: PDFTextObject, letters: str) -> None:
        """Draw a text that is shaped."""
        if self._shaper:
            self._shaper.put(text, letters)

    def put_plain(self, text: PDFTextObject, letters: str, style: TypeStyle) -> None:
        """Draw a text without marks or glyphs. ReportLab's own way measures it again, to move a
        cursor that nobody asks for, and writes the size anew each time.
        """
        made, font = cast("Any", text), cast("_SharedFont", getFont(style.font))
        doc, sized = made._doc, self._sized(style.size)  # noqa: SLF001 - it has no other way
        for subset, codes in font.splitString(letters, doc):
            name = font.getSubsetInternalName(subset, doc)
            made._code.append(f"{name} {sized} ({escapePDF(codes)}) Tj")  # noqa: SLF001 - the same

    def _find_advance(self, font: str, character: str) -> float:
        if self._shaper and is_shaped(character):
            return self._shaper.advance(character)
        return _advance(font, character)

    def _find_font_of(self, character: str, font: str) -> tuple[str, str]:
        name = self._font_with(character, font)
        return (name, character) if name else (FALLBACK.get(font, font), NO_LETTER)

    def _find_font_with(self, character: str, font: str) -> str | None:
        names = (font, FALLBACK.get(font, font), *self._own_fonts)
        return next((each for each in names if ord(character) in face_of(each).charToGlyph), None)


def weight_of(font: str) -> str:
    """`REGULAR` or `BOLD`, whichever the font stands in for."""
    return BOLD if font in (BOLD, FALLBACK[BOLD]) else REGULAR


def face_of(font: str) -> TTFontFace:
    """The letters of a font, which is read and made known to ReportLab when it is first needed."""
    if font not in getRegisteredFontNames():
        registerFont(_SharedFont(font, str(_file_of(font))))
    return cast("TTFont", getFont(font)).face  # none is known that is not such a font


class FontFile(NamedTuple):
    """A font with some of its letters only: the packed file and its length unpacked, the packed map
    from the codes on the page to Unicode, and the codes' widths as a PDF has them.
    """

    packed: bytes
    length: int
    letters: bytes
    widths: str


class _SharedFont(TTFont):
    """A font that several threads may use at the same time. ReportLab keeps fonts for the whole
    process, and all documents share one cursor in the font file.
    """

    def __init__(self, name: str, file: str | BytesIO) -> None:
        super().__init__(name, file)
        self._reading = Lock()
        self._has_ascii = {*range(0x20, 0x7F)} <= self.face.charToGlyph.keys()

    def splitString(  # noqa: N802 - ReportLab's name
        self,
        text: str,
        doc: Any,  # noqa: ANN401 - no type fits
        encoding: str = "utf-8",
    ) -> list[tuple[int, bytes]]:
        """The codes of a text by the subset of the font that has them. ASCII stands in the first
        one as it is, and need not be looked up letter by letter.
        """
        if self._has_ascii and text.isascii() and text.isprintable():
            return [(0, text.encode())] if text else []
        return super().splitString(text, doc, encoding)

    def file_with(self, codes: tuple[int, ...]) -> FontFile:
        """The font with only the letters that these codes stand for."""
        face = cast("Any", self.face)  # partly without types
        with self._reading:
            content = face.makeSubset(list(codes))
        file, length = packed(content)
        letters, _ = packed(_unicode_map(codes).encode())
        widths = " ".join(fp_str(face.getCharWidth(code)) for code in codes)
        return FontFile(file, length, letters, f"[{widths}]")

    def addObjects(self, doc: Any) -> None:  # noqa: ANN401, N802 - ReportLab's name; no type fits
        """As ReportLab does it, with font files that the run keeps, and a map to Unicode without
        the codes that stand for no letter. `doc.fonts` are the `Fonts` of the run.
        """
        state, face = self.state[doc], cast("Any", self.face)  # partly without types
        state.frozen = 1
        for number, codes in enumerate(state.subsets):
            internal = self.getSubsetInternalName(number, doc)[1:]
            name = f"{SUBSETN(number).decode()}+{face.name.decode()}"
            file = doc.fonts.file_of(self.fontName, tuple(codes))
            font: Any = PDFTrueTypeFont()
            font.Name, font.BaseFont = internal, name
            font.FirstChar, font.LastChar = 0, len(codes) - 1
            font.Widths = file.widths
            font.ToUnicode = doc.Reference(_stream(file.letters))
            font.FontDescriptor = doc.Reference(
                PDFDictionary(
                    {
                        "Type": "/FontDescriptor",
                        "Ascent": face.ascent,
                        "CapHeight": face.capHeight,
                        "Descent": face.descent,
                        "Flags": face.flags & ~FF_NONSYMBOLIC | FF_SYMBOLIC,
                        "FontBBox": PDFArray(face.bbox),
                        "FontName": PDFName(name),
                        "ItalicAngle": face.italicAngle,
                        "StemV": face.stemV,
                        "FontFile2": doc.Reference(_stream(file.packed, Length1=file.length)),
                        "MissingWidth": face.defaultWidth,
                    }
                )
            )
            doc.Reference(font, internal)
            doc.idToObject["BasicFonts"].dict[internal] = font
        del self.state[doc]


def _sized(size: float) -> str:
    """What follows the name of a font in a PDF (ISO 32000-1, 9.3): its size and its leading."""
    return f"{fp_str(size)} Tf {fp_str(1.2 * size)} TL"


def _stream(content: bytes, **entries: object) -> PDFStream:
    return PDFStream(PDFDictionary({"Filter": PDFName("FlateDecode"), **entries}), content)


def packed(content: bytes) -> tuple[bytes, int]:
    """The content of a stream, packed, and its length unpacked. Some readers take a packed stream
    that ends in a carriage return for a byte shorter: then a space after the content changes its
    end, which is a checksum.
    """
    short = compress(content)
    return (short, len(content)) if short[-1:] != b"\r" else packed(content + b" ")


def _unicode_map(codes: Sequence[int]) -> str:
    """Which letter each code on the page is (ISO 32000-1, 9.10.3). Codes up to 31 that stand for
    none have a zero; letters above U+FFFF are written as two halves.
    """
    pairs = [
        f"<{number:02X}> <{chr(code).encode('utf-16-be').hex().upper()}>"
        for number, code in enumerate(codes)
        if code
    ]
    parts = [pairs[start : start + 100] for start in range(0, len(pairs), 100)]  # no more in a list
    lists = [line for part in parts for line in (f"{len(part)} beginbfchar", *part, "endbfchar")]
    return "\n".join((*_MAP_HEAD, *lists, *_MAP_FOOT))


def _register_own(path: str) -> str:
    """Make a unit's own font known to ReportLab. Its name there comes from its content: two runs
    may have different fonts, and neither changes the other's.
    """
    try:
        with Path(path).open("rb") as file:
            content = file.read(_LARGEST_FONT_BYTES)
        digest = sha256(content).hexdigest()[:16]
        name = f"Own-{digest}"
        if name not in getRegisteredFontNames():
            font = _SharedFont(name, BytesIO(content))  # a name like an address would be fetched
            # ReportLab takes fonts of one PostScript name for one font.
            font.face.name += f"-{digest}".encode()
            registerFont(font)
    except _DAMAGED as error:
        raise FontError(f"{path} is not a TrueType font that can be printed: {error}") from error
    return name


def _file_with(font: str, codes: tuple[int, ...]) -> FontFile:
    return cast("_SharedFont", getFont(font)).file_with(codes)


def _file_of(font: str) -> Path:
    """Source Sans: made for small sizes and dense forms, with figures that line up. DejaVu Sans,
    which comes with matplotlib, fills in letters that it lacks."""
    text_face = Path(str(files("font_source_sans_pro") / "files"))
    found = find_spec("matplotlib")  # not imported: that takes longer than a page
    if found is None or not found.submodule_search_locations:
        raise RuntimeError("matplotlib, which carries the second font, is not installed")
    second_face = Path(found.submodule_search_locations[0], "mpl-data", "fonts", "ttf")
    return {
        REGULAR: text_face / "SourceSansPro-Regular.ttf",
        BOLD: text_face / "SourceSansPro-Semibold.ttf",
        FALLBACK[REGULAR]: second_face / "DejaVuSans.ttf",
        FALLBACK[BOLD]: second_face / "DejaVuSans-Bold.ttf",
    }[font]


def _advance(font: str, character: str) -> float:
    if character in ISOLATES:
        return 0.0
    face = face_of(font)
    return float(face.charWidths.get(ord(character), face.defaultWidth)) / 1000

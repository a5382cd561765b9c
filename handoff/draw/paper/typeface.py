"""The typeface of the sheets: type styles, font files, and which font draws which letter.

Input: characters, the path of a unit's own font. Output: the font for each, and its width. A letter
that no font has is drawn as U+FFFD, and `missing_letters` names it.
"""

import unicodedata
from collections.abc import Callable, Iterable
from functools import cache
from hashlib import sha256
from importlib.resources import files
from importlib.util import find_spec
from io import BytesIO
from pathlib import Path
from struct import error as StructError  # noqa: N812 - a class, by its kind
from threading import Lock
from typing import NamedTuple, cast

from reportlab.pdfbase.pdfdoc import PDFDocument
from reportlab.pdfbase.pdfmetrics import getFont, getRegisteredFontNames, registerFont
from reportlab.pdfbase.ttfonts import TTFError, TTFont, TTFontFace

from handoff.draw.paper.direction import joined
from handoff.model.refused import Refused

REGULAR, BOLD = "Regular", "Bold"
FALLBACK = {REGULAR: "Fallback", BOLD: "FallbackBold"}
NO_LETTER = "\N{REPLACEMENT CHARACTER}"
SMALL_PT, BODY_PT, NAME_PT, BED_PT = 8, 9, 14, 34
_LARGEST_FONT_BYTES = 64 * 2**20
# The errors of ReportLab for a damaged file, or one that is no font.
_DAMAGED = (
    *(TTFError, OSError, StructError, LookupError, ValueError),
    *(AttributeError, TypeError, AssertionError),
)


class TypeStyle(NamedTuple):
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
        self._font_with: Callable[[str, str], str | None] = cache(self._find_font_with)
        # (font, character) as drawn: in the font, else in its fallback, else U+FFFD.
        self.font_of: Callable[[str, str], tuple[str, str]] = cache(self._find_font_of)
        # How far a character moves the pen in a font, in sizes.
        self.advance: Callable[[str, str], float] = cache(_advance)

    def missing_letters(self, texts: Iterable[str]) -> list[str]:
        """The printable letters that no font can draw, each once, in code point order."""
        drawn = (joined(unicodedata.normalize("NFC", text)) for text in texts)
        letters = {letter for text in drawn for letter in text if letter.isprintable()}
        return sorted(letter for letter in letters if self._font_with(letter, REGULAR) is None)

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


class _SharedFont(TTFont):
    """A font that several threads may use at the same time. ReportLab keeps fonts for the whole
    process, and all documents share one cursor in the font file.
    """

    def __init__(self, name: str, file: str | BytesIO) -> None:
        super().__init__(name, file)
        self._reading = Lock()

    def addObjects(self, doc: PDFDocument) -> None:  # noqa: N802 - ReportLab's name
        with self._reading:
            super().addObjects(doc)


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


def _file_of(font: str) -> Path:
    """Source Sans: made for small sizes and dense forms, with figures that line up. DejaVu Sans,
    which comes with matplotlib, fills in letters that it lacks."""
    text_face = Path(str(files("font_source_sans_pro") / "files"))
    found = find_spec("matplotlib")
    if found is None or found.origin is None:
        raise RuntimeError("matplotlib, which carries the second font, is not installed")
    second_face = Path(found.origin).parent / "mpl-data" / "fonts" / "ttf"
    return {
        REGULAR: text_face / "SourceSansPro-Regular.ttf",
        BOLD: text_face / "SourceSansPro-Semibold.ttf",
        FALLBACK[REGULAR]: second_face / "DejaVuSans.ttf",
        FALLBACK[BOLD]: second_face / "DejaVuSans-Bold.ttf",
    }[font]


def _advance(font: str, character: str) -> float:
    face = face_of(font)
    return float(face.charWidths.get(ord(character), face.defaultWidth)) / 1000

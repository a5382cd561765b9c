"""The typeface of the sheets: sizes, font files, and which font draws which letter.

Input: characters. Output: the font for each, and its width. A letter that no font has is drawn as
U+FFFD, and `missing_letters` names it: never a silent box.
"""

import unicodedata
from collections.abc import Iterable
from functools import cache
from importlib.resources import files
from importlib.util import find_spec
from io import BytesIO
from pathlib import Path
from struct import error as StructError  # noqa: N812 - a class, by its kind

from reportlab.pdfbase.pdfmetrics import getFont, getRegisteredFontNames, registerFont
from reportlab.pdfbase.ttfonts import TTFError, TTFont, TTFontFace

from handoff.draw.paper.direction import joined
from handoff.model.refused import Refused

REGULAR, BOLD = "Regular", "Bold"
FALLBACK = {REGULAR: "Fallback", BOLD: "FallbackBold"}
OWN = "Own"  # a unit's own font, for scripts that the others lack
NO_LETTER = "\N{REPLACEMENT CHARACTER}"
_LARGEST_FONT_BYTES = 64 * 2**20
# What reading a file that is damaged, or no font at all, comes to in ReportLab.
_DAMAGED = (
    *(TTFError, OSError, StructError, LookupError, ValueError),
    *(AttributeError, TypeError, AssertionError),
)
SMALL_PT, BODY_PT, NAME_PT, BED_PT = 8, 9, 14, 34


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


@cache
def face_of(font: str) -> TTFontFace:
    """The letters of a font, read and made known to ReportLab when it is first needed."""
    if font not in getRegisteredFontNames():
        registerFont(TTFont(font, _file_of(font)))
    return getFont(font).face


class FontError(Refused):
    """A font file cannot be used; the message says why."""


def use_font(path: str) -> None:
    """Take letters that the sheets' own fonts lack from this TrueType file, from now on.

    Raises `FontError` where it is no TrueType font or may not be embedded.
    """
    if OWN in getRegisteredFontNames() and face_of(OWN).filename == path:
        return
    try:
        with Path(path).open("rb") as file:
            content = file.read(_LARGEST_FONT_BYTES + 1)
        # As bytes: a name that reads like an address would be fetched.
        font = TTFont(OWN, BytesIO(content[:_LARGEST_FONT_BYTES]))
    except _DAMAGED as error:
        raise FontError(f"{path} is not a TrueType font that can be printed: {error}") from error
    font.face.filename = path
    registerFont(font)
    face_of.cache_clear()
    _font_with.cache_clear()
    font_of.cache_clear()


def weight_of(font: str) -> str:
    """`REGULAR` or `BOLD`, whichever the font stands in for."""
    return BOLD if font in (BOLD, FALLBACK[BOLD]) else REGULAR


@cache
def font_of(character: str, font: str) -> tuple[str, str]:
    """(font, character) as drawn: in `font`, else in its fallback, else U+FFFD."""
    name = _font_with(character, font)
    return (name, character) if name else (FALLBACK.get(font, font), NO_LETTER)


@cache
def set_width(font: str, character: str) -> float:
    """How far the character moves the pen, in sizes."""
    face = face_of(font)
    return float(face.charWidths.get(ord(character), face.defaultWidth)) / 1000


def missing_letters(texts: Iterable[str]) -> list[str]:
    """The printable letters that no font can draw, each once, in code point order."""
    drawn = (joined(unicodedata.normalize("NFC", text)) for text in texts)
    letters = {letter for text in drawn for letter in text if letter.isprintable()}
    return sorted(letter for letter in letters if _font_with(letter, REGULAR) is None)


@cache
def _font_with(character: str, font: str) -> str | None:
    names = (font, FALLBACK.get(font, font), *({OWN} & set(getRegisteredFontNames())))
    return next((each for each in names if ord(character) in face_of(each).charToGlyph), None)

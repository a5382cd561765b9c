"""The typeface of the sheets: which font file draws which letter, and styles of text.

Enters: text as a log has it. Leaves: ReportLab markup in which every character is escaped, so that
nothing from a log is ever read as a tag, and every letter has a font that can draw it. A letter
that no font has is drawn as U+FFFD, and `missing_letters` names it: never a silent box.
"""

from collections.abc import Iterable
from functools import cache
from importlib.resources import files
from importlib.util import find_spec
from itertools import groupby
from pathlib import Path
from xml.sax.saxutils import escape

from reportlab.lib.enums import TA_LEFT, TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase.pdfmetrics import getFont, registerFont, stringWidth
from reportlab.pdfbase.ttfonts import TTFont

REGULAR, BOLD = "Regular", "Bold"
FALLBACK = {REGULAR: "Fallback", BOLD: "FallbackBold"}
NO_LETTER = "\N{REPLACEMENT CHARACTER}"
SMALL_PT, BODY_PT, NAME_PT, BED_PT = 8, 9, 14, 34


def regular_font_file() -> str:
    """Source Sans: made for small sizes and dense forms, with figures that line up."""
    return str(files("font_source_sans_pro") / "files" / "SourceSansPro-Regular.ttf")


@cache
def register_fonts() -> None:
    """Make the fonts known to ReportLab, once. DejaVu Sans fills in letters the text face lacks."""
    source = Path(regular_font_file()).parent
    found = find_spec("matplotlib")
    if found is None or found.origin is None:
        raise RuntimeError("matplotlib, which carries the second font, is not installed")
    second = Path(found.origin).parent / "mpl-data" / "fonts" / "ttf"
    registerFont(TTFont(REGULAR, source / "SourceSansPro-Regular.ttf"))
    registerFont(TTFont(BOLD, source / "SourceSansPro-Semibold.ttf"))
    registerFont(TTFont(FALLBACK[REGULAR], second / "DejaVuSans.ttf"))
    registerFont(TTFont(FALLBACK[BOLD], second / "DejaVuSans-Bold.ttf"))


def runs(text: str, font: str = REGULAR) -> list[tuple[str, str]]:
    """The text as (font, letters) runs, letters that no font has replaced, controls left out."""
    register_fonts()
    printable = "".join(" " if character in "\t\r\n" else character for character in text)
    lettered = [
        (_font_of(character, font), character) for character in printable if character.isprintable()
    ]
    return [
        (name or FALLBACK[font], "".join(character if name else NO_LETTER for _, character in run))
        for name, run in groupby(lettered, key=lambda pair: pair[0])
    ]


def markup(text: str, font: str = REGULAR) -> str:
    """Escaped ReportLab markup that draws the text literally."""
    return "".join(
        f'<font name="{name}">{escape(letters)}</font>' for name, letters in runs(text, font)
    )


def width(text: str, size: float, font: str = REGULAR) -> float:
    """Width of one line of text in points."""
    return sum(float(stringWidth(letters, name, size)) for name, letters in runs(text, font))


def cut(text: str, size: float, longest: float, font: str = REGULAR) -> str:
    """The text, or as much of it as fits `longest` points with an ellipsis that shows the cut."""
    if width(text, size, font) <= longest:
        return text
    low, high = 0, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        if width(text[:middle].rstrip() + "…", size, font) <= longest:
            low = middle
        else:
            high = middle - 1
    return text[:low].rstrip() + "…"


def missing_letters(texts: Iterable[str]) -> list[str]:
    """The printable letters that no font can draw, each once, in code point order."""
    register_fonts()
    letters = {letter for text in texts for letter in text if letter.isprintable()}
    return sorted(letter for letter in letters if _font_of(letter, REGULAR) is None)


@cache
def style(
    size: float = BODY_PT, *, right: bool = False, indent: float = 0, white: bool = False
) -> ParagraphStyle:
    """A paragraph style; leading is 1.2 times the size."""
    register_fonts()
    return ParagraphStyle(
        f"{size}-{right}-{indent}-{white}",
        fontName=REGULAR,
        fontSize=size,
        leading=round(size * 1.2, 1),
        alignment=TA_RIGHT if right else TA_LEFT,
        leftIndent=indent,
        textColor="white" if white else "black",
        splitLongWords=1,
    )


@cache
def _font_of(character: str, font: str) -> str | None:
    for name in (font, FALLBACK[font]):
        if ord(character) in getFont(name).face.charToGlyph:
            return name
    return None

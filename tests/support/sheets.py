"""Pages and PDFs of the small hand-overs of `builders`, and how tests read a PDF back."""

import ctypes
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum
from functools import cache, cached_property
from io import BytesIO
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pikepdf
import pypdfium2
from numpy.typing import NDArray
from pypdfium2 import raw

from handoff.compose.courses import compose_courses
from handoff.compose.patient import compose_patient
from handoff.compose.results import Results
from handoff.compose.round_list import compose_round_list
from handoff.compose.unit import compose_unit
from handoff.compose.words import Words
from handoff.draw.chart import draw_course, draw_spark, draw_volume
from handoff.draw.paper import (
    PAPERS,
    Document,
    Typesetter,
    draw_courses,
    draw_patient,
    draw_round_list,
    draw_unit,
)
from handoff.draw.paper.canvas import MARGIN_PT
from handoff.judge.call_if import call_if_of_unit
from handoff.limits.reading import Limits
from handoff.measure import measure_next_shift
from handoff.model.frozen import Frozen
from handoff.model.lists import CoursesPage, RoundPage
from handoff.model.pages import BlankColumn, Line, PageLanguage, PatientPage, UnitPage
from handoff.model.ward import Handover
from handoff.run.sheets import results_of
from tests.support.builders import default_limits

TYPESETTER = Typesetter()


def document(paper: str = "letter", title: str = "") -> Document:
    return Document(TYPESETTER, PAPERS[paper], title)


@dataclass(frozen=True)
class Piece:
    """One run of text on a page: its words, size in points, (left, bottom, right, top), tone from
    0 black to 1 white, and baseline."""

    text: str
    size: float
    box: tuple[float, float, float, float]
    tone: float
    baseline: float


@dataclass(frozen=True)
class Read:
    """A PDF as a reader finds it; each part is read when it is asked for."""

    content: bytes

    @cached_property
    def pages(self) -> list[str]:
        """The text of each page with single spaces."""
        with pypdfium2.PdfDocument(self.content) as shown:
            texts = [page.get_textpage().get_text_range() for page in shown]
        return [" ".join(text.split()) for text in texts]

    @cached_property
    def pieces(self) -> list[list[Piece]]:
        with pypdfium2.PdfDocument(self.content) as shown:
            return [_pieces(page) for page in shown]

    @cached_property
    def fonts(self) -> list[set[str]]:
        """The names of each page's fonts."""
        with pikepdf.open(BytesIO(self.content)) as pdf:
            return [{str(font.BaseFont) for font in _fonts(page)} for page in pdf.pages]

    @cached_property
    def embedded(self) -> bool:
        with pikepdf.open(BytesIO(self.content)) as pdf:
            return all(
                "/FontFile2" in font.FontDescriptor for page in pdf.pages for font in _fonts(page)
            )


def _fonts(page: pikepdf.Page) -> list[Any]:
    return [font for _, font in page.Resources.Font.items()]


@cache
def words(zone: ZoneInfo, own_folder: str | None = None) -> Words:
    """Filling in the templates again is quick, compiling them is not."""
    return Words(zone, own_folder=own_folder)


LAST: list[tuple[Handover, Limits, Results]] = []


def results(given: Handover, limits: Limits | None = None) -> Results:
    """What is measured and judged of a hand-over, by the default limits unless others are given.

    The last are kept, since a test asks for one page of a hand-over after the other.
    """
    limits = limits or default_limits()
    if not (LAST and LAST[0][0] is given and LAST[0][1] is limits):
        LAST[:] = [(given, limits, results_of(given, limits))]
    return LAST[0][2]


def patient_page(
    given: Handover, limits: Limits | None = None, own_folder: str | None = None
) -> PatientPage:
    """The page of the hand-over's first patient."""
    said = words(given.unit.time_zone, own_folder)
    return compose_patient(results(given, limits), given.patients[0], said, (1, 1))


def sheet_words(given: Handover, patient_id: str) -> str:
    """All texts of one patient's sheet, one after the other."""
    patient = next(each for each in given.patients if each.id == patient_id)
    page = compose_patient(results(given), patient, words(given.unit.time_zone), (1, 1))
    return " ".join(texts(page))


def unit_page(given: Handover, limits: Limits | None = None, *, initials: bool = False) -> UnitPage:
    return compose_unit(results(given, limits), words(given.unit.time_zone), initials=initials)


def round_page(
    given: Handover, limits: Limits | None = None, *, initials: bool = False
) -> RoundPage:
    return round_page_of(results(given, limits), words(given.unit.time_zone), initials=initials)


def round_page_of(found: Results, said: Words, *, initials: bool = False) -> RoundPage:
    following, of_unit = measure_next_shift(found.handover), call_if_of_unit(found.limits)
    return compose_round_list(found, following, of_unit, said, initials=initials)


def courses_page(given: Handover, *, initials: bool = False) -> CoursesPage:
    return compose_courses(results(given), words(given.unit.time_zone), initials=initials)


def round_pdf(page: RoundPage, paper: str = "letter") -> bytes:
    return draw_round_list(page, document(paper, "round list"))


def courses_pdf(page: CoursesPage, paper: str = "letter") -> bytes:
    return draw_courses(page, document(paper, "courses"), draw_course)


def patient_pdf(page: PatientPage, paper: str = "letter") -> bytes:
    return draw_patient(page, document(paper, "sheet"), draw_volume).content


def unit_pdf(page: UnitPage, paper: str = "letter") -> bytes:
    return draw_unit(page, document(paper, "summary"), draw_spark)


def read_pdf(content: bytes) -> Read:
    return Read(content)


def grey(content: bytes, dots_an_inch: int = 200) -> NDArray[np.uint8]:
    """The first page as a printer without colour sees it: rows of tones, 0 black to 255 white."""
    with pypdfium2.PdfDocument(content) as shown:
        image = shown[0].render(scale=dots_an_inch / 72, grayscale=True).to_numpy()
        return np.array(image, dtype=np.uint8).squeeze()


def _pieces(page: pypdfium2.PdfPage) -> list[Piece]:
    found = page.get_objects(filter=[raw.FPDF_PAGEOBJ_TEXT], textpage=page.get_textpage())
    return [
        Piece(each.extract(), _size(each), each.get_bounds(), _tone(each), each.get_matrix().f)
        for each in found
    ]


def _size(text: pypdfium2.PdfObject) -> float:
    size = ctypes.c_float()
    raw.FPDFTextObj_GetFontSize(text, size)
    return size.value


def _tone(text: pypdfium2.PdfObject) -> float:
    parts = [ctypes.c_uint() for _ in range(4)]
    raw.FPDFPageObj_GetFillColor(text, *parts)
    red, green, blue = (part.value for part in parts[:3])
    assert red == green == blue
    return red / 255


def texts(page: object) -> Iterator[str]:
    """Every text of a page, but for what is drawn (marks and states) and what nobody reads (the
    names of rules, matters and columns, the code of a language)."""
    if isinstance(page, str):
        if not isinstance(page, Enum):
            yield page
    elif isinstance(page, tuple):
        for each in page:
            yield from texts(each)
    elif isinstance(page, Frozen):
        kind: Any = type(page)
        for name in _read_by_somebody(kind):
            yield from texts(getattr(page, name))


@cache
def _read_by_somebody(kind: type[Any]) -> list[str]:
    unread = {"rule", "matter"} | ({"name"} if issubclass(kind, BlankColumn) else set())
    unread |= {"code"} if issubclass(kind, PageLanguage) else set()
    return [name for name in kind.__struct_fields__ if name not in unread]


def paragraph(page: PatientPage, label: str) -> str:
    """The text of one of the sheet's paragraphs."""
    return next(fact.value for fact in page.paragraphs if fact.label == label)


def section(page: UnitPage, title: str) -> tuple[Line, ...]:
    """The lines of the summary's part of this title."""
    parts = [each.lines for each in (*page.before, *page.after) if each.title == title]
    (lines,) = parts
    return lines


HAIR_PT = 1.0
MARK_PT = 3.0  # a mark laid over a letter reaches over its neighbours by so much


def is_inside(piece: Piece, paper: tuple[float, float]) -> bool:
    """Within the margins, but for the hair by which a letter may stand out of its own width.

    A mark stands over the middle of its letter and may be wider than a narrow one.
    """
    left, bottom, right, top = piece.box
    out = 0.15 if unicodedata.combining(piece.text[:1] or " ") else 0.06
    hair, margin = HAIR_PT + out * piece.size, MARGIN_PT
    return bool(
        left >= margin - hair
        and right <= paper[0] - margin + hair
        and bottom >= margin - hair
        and top <= paper[1] - margin + hair
    )


def overlaps(pieces: list[Piece]) -> Iterator[tuple[Piece, Piece]]:
    """Pieces of text whose letters' boxes share more than a hair.

    Marks lie upon letters; of a second one in the same place the reader gives no text.
    """
    letters = [each for each in pieces if each.text and not unicodedata.combining(each.text[0])]
    by_top = sorted(letters, key=lambda piece: piece.box[3], reverse=True)
    for index, upper in enumerate(by_top):
        for lower in by_top[index + 1 :]:
            if lower.box[3] < upper.box[1]:
                break
            across = min(upper.box[2], lower.box[2]) - max(upper.box[0], lower.box[0])
            down = min(upper.box[3], lower.box[3]) - max(upper.box[1], lower.box[1])
            if across > MARK_PT and down > HAIR_PT:
                yield upper, lower

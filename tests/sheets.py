"""Pages and PDFs of the small hand-overs of `builders`, and how tests read a PDF back."""

from dataclasses import dataclass
from functools import cache
from io import BytesIO
from zoneinfo import ZoneInfo

import pikepdf
from pypdf import PdfReader

from handoff.chart import draw_spark, draw_volume
from handoff.compose import Words, compose_patient, compose_unit
from handoff.judge import judge
from handoff.limits import Limits
from handoff.measure import measure
from handoff.model import Handover
from handoff.page import PatientPage, UnitPage
from handoff.paper import PAPERS, draw_patient, draw_unit
from tests.builders import default_limits


@dataclass(frozen=True)
class Read:
    """A PDF as a reader finds it: page texts with single spaces, and the fonts of each page."""

    pages: list[str]
    fonts: list[set[str]]
    embedded: bool


@cache
def words(zone: ZoneInfo, own_folder: str | None = None) -> Words:
    """Filling in the templates again is quick, compiling them is not."""
    return Words(zone, own_folder=own_folder)


def patient_page(
    given: Handover, limits: Limits | None = None, own_folder: str | None = None
) -> PatientPage:
    """The page of the hand-over's first patient."""
    limits = limits or default_limits()
    measures = measure(given)[given.patients[0].id]
    said = words(given.unit.time_zone, own_folder)
    return compose_patient(given, measures, judge(measures, given, limits), limits, said, (1, 1))


def unit_page(given: Handover, limits: Limits | None = None, *, initials: bool = False) -> UnitPage:
    limits = limits or default_limits()
    measures = measure(given)
    verdicts = {each: judge(measures[each], given, limits) for each in measures}
    said = words(given.unit.time_zone)
    return compose_unit(given, measures, verdicts, limits, said, initials=initials)


def patient_pdf(page: PatientPage, paper: str = "letter") -> bytes:
    return draw_patient(page, PAPERS[paper], draw_volume, "sheet")


def unit_pdf(page: UnitPage, paper: str = "letter") -> bytes:
    return draw_unit(page, PAPERS[paper], draw_spark, "summary")


def read_pdf(content: bytes) -> Read:
    with pikepdf.open(BytesIO(content)) as pdf:
        fonts = [dict(page.Resources.Font.items()) for page in pdf.pages]
        names = [{str(font.BaseFont) for font in each.values()} for each in fonts]
        embedded = all(
            "/FontFile2" in font.FontDescriptor for each in fonts for font in each.values()
        )
    texts = [page.extract_text() for page in PdfReader(BytesIO(content)).pages]
    return Read([" ".join(text.split()) for text in texts], names, embedded)


def paragraph(page: PatientPage, label: str) -> str:
    """The text of one of the sheet's paragraphs."""
    return next(fact.value for fact in page.paragraphs if fact.label == label)

"""The page to take home in the languages of patients, in every variant."""

from dataclasses import replace
from functools import cache

from handoff.compose.discharge import compose_discharge
from handoff.compose.words import Words
from handoff.model.pages import DischargePage, PageLanguage
from handoff.model.ward import Handover
from handoff.model.wording import shipped_templates
from tests.support.builders import ZONE, order
from tests.support.going_home import GIVEN, of_one, sentences
from tests.support.sheets import results, texts

CODES = tuple(sorted(path.parent.name for path in shipped_templates().glob("*/discharge.yaml")))
TRANSLATED = tuple(code for code in CODES if code != "en")
# Each form of a plural, of breaths, hours and seconds.
COUNTED = tuple(
    of_one(order=order(start, stop, breaths=breaths, every_h=every_h, hold_s=hold_s))
    for start, stop, breaths, every_h, hold_s in (
        ("07:00", None, 1, 1, 1),
        ("07:00", None, 2, 2, 2),
        ("07:00", "18:00", 5, 5, 5),
        ("07:00", "20:00", 11, 11, 11),
        ("07:00", None, 22, 22, 22),
        ("07:00", None, 100, 21, 2.5),
        ("07:00", "18:00", 103, 12, 21),
    )
)
EVERY = (*GIVEN, *COUNTED)


@cache
def words_in(code: str) -> Words:
    """The words of a language for patients, beside those of an English staff."""
    return Words(ZONE, code, staff=None if code == "en" else words_in("en"))


def page_in(given: Handover, code: str) -> DischargePage:
    """The page of the hand-over's one patient in a language."""
    (measures,) = results(given).measures.values()
    return compose_discharge(given, measures, words_in(code))


def running_text(code: str, given: Handover = GIVEN[0]) -> str:
    """All running text of the page in a language, without headings."""
    return " ".join(sentences(page_in(given, code)))


def printed(given: Handover, code: str) -> list[str]:
    """Every text of the page in a language, empty ones too."""
    return list(texts(replace(page_in(given, code), language=PageLanguage(""))))

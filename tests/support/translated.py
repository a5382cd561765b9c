"""The pages for patients in their languages, in every variant: the page to take home, the card."""

from functools import cache

from msgspec.structs import replace

from handoff.compose.discharge import compose_discharge
from handoff.compose.saying import in_both_languages
from handoff.compose.words import Words
from handoff.draw.paper import draw_discharge
from handoff.model.measures import Measures
from handoff.model.pages import CardPage, DischargePage, PageLanguage
from handoff.model.ward import Handover
from handoff.model.wording import shipped_templates
from tests.support.builders import ZONE, order
from tests.support.cards import GIVEN as CARDS
from tests.support.cards import card
from tests.support.going_home import GIVEN, of_one, sentences
from tests.support.sheets import document, results, texts

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


def _measures(given: Handover) -> Measures:
    (measures,) = results(given).measures.values()
    return measures


@cache
def pages_in(code: str) -> tuple[DischargePage, ...]:
    """The page of each of EVERY in a language."""
    words = words_in(code)
    return tuple(compose_discharge(given, _measures(given), words) for given in EVERY)


@cache
def cards_in(code: str) -> tuple[CardPage, ...]:
    """The card of each of the tests' patients in a language."""
    return tuple(card(given, words_in(code)) for given in CARDS)


def both_in(code: str) -> tuple[DischargePage | CardPage, ...]:
    """Every page and every card in a language."""
    return (*pages_in(code), *cards_in(code))


def running_text(page: DischargePage | CardPage) -> str:
    """All running text of the page, without headings."""
    if isinstance(page, DischargePage):
        return " ".join(sentences(page))
    # 'From 13 on 13 May: do ...' begins with 'do'.
    amounts = [each.words.rpartition(": ")[2] for each in page.turns]
    begun = (each[:1].upper() + each[1:] for each in amounts)
    said = (page.wait, *page.steps, page.progress, *begun, page.stop.label, page.stop.value)
    return " ".join(filter(None, (*said, page.foot)))


def printed(page: DischargePage | CardPage) -> list[str]:
    """Every text of the page, empty ones too."""
    return list(texts(replace(page, language=PageLanguage(""))))


def pdf_in(given: Handover, code: str, paper: str) -> bytes:
    """What is printed for the hand-over's one patient: the page, and the staff's beside it."""
    measures = _measures(given)

    def compose(words: Words, other: Words | None) -> DischargePage:
        return compose_discharge(given, measures, words, other)

    page, *beside = in_both_languages(words_in(code), compose)
    return draw_discharge(page, document(paper, "to take home"), *beside)

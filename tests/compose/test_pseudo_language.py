"""No word that is printed stands in the code: a folder of templates holds every one.

What findings say of rows set aside is English everywhere, like the program's messages; and a page
to write on names the words that a log allows.
"""

import re
from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any

import pytest
from msgspec.structs import asdict, replace

from handoff.compose.blank import compose_patient_blanks, compose_unit_blank
from handoff.compose.card import compose_card
from handoff.compose.courses import compose_courses
from handoff.compose.discharge import compose_discharge
from handoff.compose.patient import compose_patient
from handoff.compose.results import Results
from handoff.compose.still_open import open_comments
from handoff.compose.unit import compose_unit
from handoff.compose.words import Words
from handoff.draw.paper import draw_blank, draw_discharge
from handoff.log.fields import Section, fields_of
from handoff.measure import find_coming
from handoff.model.frozen import Frozen
from handoff.model.pages import UnitPage
from handoff.model.ward import Disputed
from handoff.run.blank import blank_after
from tests.support.builders import ZONE, default_limits
from tests.support.cases import CASES
from tests.support.pseudo_language import EXCHANGED, write_templates
from tests.support.sheets import (
    courses_pdf,
    document,
    patient_pdf,
    read_pdf,
    results,
    round_page_of,
    round_pdf,
    texts,
    unit_pdf,
)

FREE_TEXT = frozenset(("name", "bed", "reason", "by", "note", "phone", "file"))
FREE_TEXT |= {"outgoing", "incoming", "oxygen", "precautions", "unit", "message", "fix"}
CHOICES = {
    word
    for section in (Section.PATIENT, Section.ENTRY)
    for field in fields_of(section)
    for word in field.choices
}
OF_A_LOG = {part for word in CHOICES for part in word.split("_")} | {"yes", "no"}
# Of every language: the unit of volume. Put in on the page: what stands in square brackets.
WORD = re.compile(r"(?<![\[A-Za-z])(?!mL\b)[A-Za-z]+")
DRAWN = "in danger, told twice"  # drawing adds no words, which one case shows


@pytest.fixture(scope="module")
def foreign(tmp_path_factory: pytest.TempPathFactory) -> Words:
    return Words(ZONE, own_folder=str(write_templates(tmp_path_factory.mktemp("foreign"))))


def unread(given: Any) -> Any:
    """A hand-over without a Latin letter in what nurses write."""
    if isinstance(given, Mapping):
        return {
            key: value.translate(EXCHANGED) if isinstance(value, str) else unread(value)
            for key, value in given.items()
        }
    if isinstance(given, Disputed):
        texts = (
            each.translate(EXCHANGED) if isinstance(each, str) else each for each in given.values
        )
        return replace(given, values=tuple(texts))
    if isinstance(given, tuple):
        return tuple(map(unread, given))
    if not isinstance(given, Frozen):
        return given
    changed: dict[str, Any] = {
        name: value.translate(EXCHANGED)
        if name in FREE_TEXT and isinstance(value, str)
        else unread(value)
        for name, value in asdict(given).items()
    }
    return replace(given, **changed)


def without_findings(page: UnitPage) -> UnitPage:
    """Without the lines on rows set aside and cells lost, which name codes and fields."""
    since, no_order, going_home, *found = page.after
    found = [replace(each, lines=()) for each in found]
    return replace(page, after=(since, no_order, going_home, *found))


@cache
def judged(name: str) -> Results:
    return results(unread(CASES[name]), default_limits())


def pages(name: str, words: Words) -> Iterator[object]:
    """The pages of the ward by full names, or by initials in every second case."""
    found = judged(name)
    for initials in [bool(list(CASES).index(name) % 2)]:
        yield without_findings(compose_unit(found, words, initials=initials))
        yield round_page_of(found, words, initials=initials)
        yield compose_courses(found, words, initials=initials)
    for of_one in found.measures.values():
        yield compose_patient(found, of_one.patient, words, (1, 1))
        yield compose_discharge(found.handover, of_one, words)
        yield compose_card(found, find_coming(found.handover, of_one), words)


def any_page(page: object) -> Any:
    return page


def test_the_exchange_leaves_nothing_to_be_printed_and_all_that_is_asked(foreign: Words) -> None:
    assert foreign.say("page") == "разд [number] пж [all]"
    assert foreign.say("done.no") == "опф гпод"


@pytest.mark.parametrize("name", CASES)
def test_no_page_has_a_word_that_is_not_in_the_templates(name: str, foreign: Words) -> None:
    said = [text for page in pages(name, foreign) for text in texts(page)]
    assert [text for text in said if WORD.search(text)] == []


def test_no_drawn_page_has_one_either(foreign: Words) -> None:
    summary, rounds, courses, *_, sheet, discharge, _card = map(any_page, pages(DRAWN, foreign))
    pdfs = [unit_pdf(summary), round_pdf(rounds), courses_pdf(courses), patient_pdf(sheet)]
    pdfs.append(draw_discharge(discharge, document("a4")))
    for pdf in pdfs:
        for text in read_pdf(pdf).pages:
            assert WORD.findall(text) == []


@pytest.mark.parametrize("name", CASES)
def test_nor_has_a_page_to_write_on_but_for_the_words_that_a_log_allows(
    name: str, foreign: Words
) -> None:
    blank = blank_after(judged(name), more=1)
    for comments in open_comments(blank, foreign).values():
        assert WORD.findall(" ".join(comments)) == []
    sheets = (*compose_patient_blanks(blank, foreign), compose_unit_blank(blank, foreign))
    assert set(WORD.findall(" ".join(texts(sheets)))) <= OF_A_LOG
    if name == DRAWN:
        text = " ".join(read_pdf(draw_blank(sheets, document())).pages)
        assert set(WORD.findall(text)) <= OF_A_LOG

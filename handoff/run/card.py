"""Runs the stages for the cards on the patients' tables: results -> `bedside-cards.pdf`.

Input: the results of each unit's shift, and how to print. Output: relative file names and bytes.
Touches no file.
"""

from collections.abc import Iterator, Sequence
from functools import partial

from handoff.compose.card import compose_card
from handoff.compose.languages import UnitWords
from handoff.compose.results import Results
from handoff.compose.saying import in_both_languages
from handoff.draw.paper import draw_card, join_sheets, refuse_letters
from handoff.measure import find_coming
from handoff.model.ward import Patient
from handoff.run.sheets import File, Printing
from handoff.store.file_names import distinct_names


def produce_cards(units: Sequence[Results], printing: Printing) -> Iterator[File]:
    """The cards of each unit with any, in one file; with several units in a folder of each."""
    folders = distinct_names("", (each.handover.unit.name for each in units))
    for results, folder in zip(units, folders, strict=True):
        cards = cards_of(results, printing)
        if cards:
            words = _words(results, printing).staff
            pages = [(words.say("bookmark", bed=patient.bed), card) for patient, card in cards]
            content = join_sheets(pages, words.say("title.cards"), words.language)
            prefix = f"{folder}/" if len(units) > 1 else ""
            yield f"{prefix}bedside-cards.pdf", content


def cards_of(results: Results, printing: Printing) -> list[tuple[Patient, bytes]]:
    """The card of each patient with an order, or with one that has ended and something open; in bed
    order. One in another language than the staff's comes with the same card in theirs.
    """
    of_unit, cards = _words(results, printing), []
    for measures in results.measures.values():
        patient = measures.patient
        if not printing.prints(patient):
            continue
        words = of_unit.of(patient)
        if not words.has("card.title"):  # a language that has the other pages only
            words = of_unit.staff
        if words.staff:
            refuse_letters(words.language, words.texts(), printing.typesetter)
        coming = find_coming(results.handover, measures)
        compose = partial(compose_card, results, coming, initials=printing.initials)
        page, *beside = in_both_languages(words, compose)
        document = printing.document(words.say("card.title"), words.language)
        cards.append((patient, draw_card(page, document, *beside)))
    return cards


def _words(results: Results, printing: Printing) -> UnitWords:
    return UnitWords(results.handover.unit.time_zone, printing.language, printing.templates)

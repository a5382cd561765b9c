"""Runs the stages for the cards on the patients' tables: results -> `bedside-cards.pdf`.

Input: the results of each unit's shift, and how to print. Output: relative file names and bytes.
Touches no file.
"""

from collections.abc import Iterator, Sequence

from handoff.compose.card import compose_card
from handoff.compose.results import Results
from handoff.compose.words import Words
from handoff.draw.paper import draw_card, join_sheets
from handoff.measure import find_turns
from handoff.model.ward import Patient
from handoff.run.sheets import File, Printing
from handoff.store.file_names import distinct_names


def produce_cards(units: Sequence[Results], printing: Printing) -> Iterator[File]:
    """The cards of each unit with any, in one file; with several units in a folder of each."""
    folders = distinct_names("", (each.handover.unit.name for each in units))
    for results, folder in zip(units, folders, strict=True):
        cards = cards_of(results, printing)
        if cards:
            zone = results.handover.unit.time_zone
            words = Words(zone, printing.language, printing.templates)
            pages = [(words.say("card.bookmark", bed=patient.bed), card) for patient, card in cards]
            content = join_sheets(pages, words.say("card.file_title"), words.language)
            prefix = f"{folder}/" if len(units) > 1 else ""
            yield f"{prefix}bedside-cards.pdf", content


def cards_of(results: Results, printing: Printing) -> list[tuple[Patient, bytes]]:
    """The card of each patient with an order, or with one that has ended and something open; in bed
    order.
    """
    handover = results.handover
    words = Words(handover.unit.time_zone, printing.language, printing.templates)
    document = printing.document(words.say("card.file_title"), words.language)
    cards = []
    for measures in results.measures.values():
        if printing.prints(measures.patient):
            turns = find_turns(handover, measures)
            page = compose_card(results, measures, turns, words, initials=printing.initials)
            cards.append((measures.patient, draw_card(page, document)))
    return cards

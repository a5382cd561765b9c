"""Finished pages -> PDF bytes: patient sheet, unit summary, joined sheets, page to take home, log,
round list, courses of all patients, card, review.

Input: `PatientPage`, `UnitPage`, `DischargePage`, `BlankPage`, `RoundPage`, `CoursesPage`,
`CardPage`, `ReviewPage`; the `Typesetter` of the run. Output: PDF bytes. Has the layout, and no
words, numbers or rules of its own. The only package that knows ReportLab.
"""

from handoff.draw.paper.blank import draw_blank
from handoff.draw.paper.canvas import PAPERS, Document
from handoff.draw.paper.card import draw_card
from handoff.draw.paper.courses import draw_courses
from handoff.draw.paper.discharge import draw_discharge
from handoff.draw.paper.join import join_sheets
from handoff.draw.paper.letters import letters_lacking, refuse_letters
from handoff.draw.paper.patient import Sheet, draw_patient
from handoff.draw.paper.review import draw_review
from handoff.draw.paper.round_list import draw_round_list
from handoff.draw.paper.typeface import FontError
from handoff.draw.paper.typeset import Typesetter
from handoff.draw.paper.unit import draw_unit

__all__ = [
    "PAPERS",
    "Document",
    "FontError",
    "Sheet",
    "Typesetter",
    "draw_blank",
    "draw_card",
    "draw_courses",
    "draw_discharge",
    "draw_patient",
    "draw_review",
    "draw_round_list",
    "draw_unit",
    "join_sheets",
    "letters_lacking",
    "refuse_letters",
]

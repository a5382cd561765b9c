"""Finished pages -> PDF bytes: patient sheet, unit summary, joined sheets, page to take home, log.

Enters: `PatientPage`, `UnitPage`, `DischargePage`, `BlankPage`. Leaves: PDF bytes. Holds the layout
and no wording, no number and no rule. The only package that knows ReportLab.
"""

from handoff.paper.blank import draw_blank
from handoff.paper.canvas import PAPERS
from handoff.paper.discharge import draw_discharge
from handoff.paper.join import join_sheets
from handoff.paper.letters import letters_lacking
from handoff.paper.patient import draw_patient
from handoff.paper.typeface import FontError, missing_letters, use_font
from handoff.paper.unit import draw_unit

__all__ = [
    "PAPERS",
    "FontError",
    "draw_blank",
    "draw_discharge",
    "draw_patient",
    "draw_unit",
    "join_sheets",
    "letters_lacking",
    "missing_letters",
    "use_font",
]

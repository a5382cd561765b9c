"""Everything that is printed, in finished words: hand-over, measures, verdicts -> pages.

Enters: the results of the stages before. Leaves: `PatientPage`, `UnitPage`, `DischargePage`,
`BlankPage`. The only package that knows Jinja2 and the templates.
"""

from handoff.compose.blank import compose_patient_blanks, compose_unit_blank
from handoff.compose.discharge import compose_discharge, goes_home_soon
from handoff.compose.facts import is_kept_back
from handoff.compose.patient import compose_patient
from handoff.compose.results import Results
from handoff.compose.still_open import open_comments
from handoff.compose.unit import compose_unit
from handoff.compose.words import WordingError, Words

__all__ = [
    "Results",
    "WordingError",
    "Words",
    "compose_discharge",
    "compose_patient",
    "compose_patient_blanks",
    "compose_unit",
    "compose_unit_blank",
    "goes_home_soon",
    "is_kept_back",
    "open_comments",
]

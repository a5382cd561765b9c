"""Review: how one unit did over weeks.

Input: every stay of the unit, followed to its end (`FollowedStay`), and the period. Output: tidy
pandas tables of entries, spans, stays and escalations (`tables`), and the `Review` that is counted
from them. Never measures or judges again, and names nobody: a stay has a number of its own. The
only home of pandas.
"""

from handoff.review.counts import review
from handoff.review.files import has_parquet, table_files
from handoff.review.tables import ShiftDays, Tables, joined, named, tables_of_stays

__all__ = [
    "ShiftDays",
    "Tables",
    "has_parquet",
    "joined",
    "named",
    "review",
    "table_files",
    "tables_of_stays",
]

"""The volume chart, the small trend line of the unit summary, and the figures of a review, as
vector marks.

Input: series in hours and mL, finished labels. Output: a `Drawing` of paths and words in points.
Decides nothing about the patient: the series are chosen before. The page draws the marks as vectors
and sets the words in its own typeface.
"""

from handoff.draw.chart.review import draw_review_chart
from handoff.draw.chart.spark import draw_spark
from handoff.draw.chart.strips import draw_strips
from handoff.draw.chart.volume import Box, draw_course, draw_volume, spread

__all__ = [
    "Box",
    "draw_course",
    "draw_review_chart",
    "draw_spark",
    "draw_strips",
    "draw_volume",
    "spread",
]

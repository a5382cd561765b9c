"""Finished pages of the whole ward: the round list, and the courses of all patients.

Input: nothing. Output: frozen records of finished words, boxes and series. Nothing after this is
computed, chosen or rounded.
"""

from handoff.model.figure import VolumeChart
from handoff.model.frozen import Frozen
from handoff.model.pages import Fact
from handoff.model.verdicts import Priority


class RoundBox(Frozen):
    """The box of one hour: `open` to be written in, else hatched. `begins`: a span of the order
    begins with it; if not, it is one box with the hour before. `hatched` says from when to when
    hatched boxes next to each other are, and why; only the first of them has it.
    """

    open: bool
    begins: bool
    hatched: str = ""


class RoundRow(Frozen):
    """One patient's row of the round list. `heavy` is what must be read before anything is done: a
    hold, what is open, precautions, what could cause a mix-up. `order` has an order's lines: how
    much, goal and last volume, oxygen, when to fetch the nurse. `watch` is what to see to.
    """

    bed: str
    name: str
    id: str
    heavy: str
    order: tuple[str, ...]
    watch: tuple[str, ...]
    boxes: tuple[RoundBox, ...]


class RoundPage(Frozen):
    """The round list of the next shift, on as many pages as it takes. `hours` are the starts of its
    hours; `fetch` says when to fetch the nurse.
    """

    title: str
    shift: str
    as_of: str
    columns: tuple[str, ...]
    hours: tuple[str, ...]
    rows: tuple[RoundRow, ...]
    empty: str
    key: str
    fetch: Fact
    standing: tuple[str, ...]
    page_words: str


class Course(Frozen):
    """One patient's course: who, the reason for the urgency where nothing is open, the verdict in a
    few words and whether it is in heavy type, the chart and its words for who does
    not see it, a last reading off form, the lowest SpO2, and what is open.
    """

    bed: str
    name: str
    id: str
    alerts: tuple[str, ...]
    priority: Priority
    priority_words: str
    priority_mark: str
    reason: str
    verdict: str
    is_heavy: bool
    chart: VolumeChart
    chart_words: str
    off_form: str
    spo2: str
    open: str


class CoursesPage(Frozen):
    """The courses of all patients, the most urgent first, on as many pages as it takes."""

    title: str
    shift: str
    as_of: str
    courses: tuple[Course, ...]
    empty: str
    key: str
    standing: str
    page_words: str

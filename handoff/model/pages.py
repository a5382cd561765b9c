"""Finished pages: the output of `compose`, the input of `draw.paper`.

Input: nothing. Output: frozen records of finished words, and of what a chart shows. Nothing after
this is computed, chosen or rounded.
"""

from collections.abc import Mapping
from enum import IntEnum
from typing import NamedTuple

from msgspec import field

from handoff.model.figure import HeatMap, ReviewChart, Spark, VolumeChart
from handoff.model.frozen import Frozen
from handoff.model.measures import SlotState
from handoff.model.verdicts import Level, Priority


class StripCell(Frozen):
    """One slot of the hours strip: its start, breaths done and due in words, and its state.

    `done` is empty where nothing is charted."""

    start: str
    done: str
    due: str
    state: SlotState


class Rank(IntEnum):
    """Which facts give way on a full sheet: the minor ones first, some never. Those of signs give
    way with the usual ones, and are the first to come back where there is room.
    """

    ALWAYS = 1
    SIGNS = 2
    USUAL = 3
    MINOR = 4


class Fact(Frozen):
    """A label and the text beside it."""

    label: str
    value: str
    rank: Rank = Rank.USUAL


class Sentence(NamedTuple):
    """A sentence of a paragraph, and when it gives way."""

    text: str
    rank: Rank = Rank.USUAL


class Paragraph(Frozen):
    """A label and the sentences beside it, in the order in which they are read."""

    label: str
    sentences: tuple[Sentence, ...]

    @property
    def value(self) -> str:
        """All of its sentences."""
        return " ".join(each.text for each in self.sentences)


class Caution(Frozen):
    """One caution in words. `told` has one text for each time the provider was told. It is empty
    where telling is not yet recorded, and None where nobody needs telling (no escalation). `mark`
    is the word beside the level that says so, empty where nobody was told. `asked` are told texts
    that may be about it. `matter` names the matter that stays open from shift to shift, None
    without one. `brief` is the caution in a few words, for a full sheet.
    """

    rule: str
    level: Level
    level_words: str
    title: str
    seen: str
    action: str
    told: tuple[str, ...] | None
    mark: str = ""
    asked: str = ""
    matter: str | None = None
    brief: str = ""

    @property
    def stays(self) -> bool:
        """True for an escalation and for all that is open: never on the counted line."""
        return self.level is Level.ESCALATE or self.matter is not None


class Note(Frozen):
    """A note of the shift, word for word, with its time."""

    at: str
    text: str


class Identity(Frozen):
    """Who the patient is: two identifiers and more, as printed at the top of every sheet."""

    bed: str
    name: str
    id: str  # id, birth date and age on one line
    alert: str | None
    moved: str  # from which bed, in this shift; empty for most
    precautions: str = ""  # in heavy type on every page for staff
    judged_as: str = ""  # a child, or comfort care: said before all else
    unknown: str = ""  # times of the stay that no given log covers


class Signature(Frozen):
    """Who hands over and who takes over; None leaves room to write the name."""

    outgoing: str | None
    incoming: str | None


class PatientPage(Frozen):
    """One patient sheet, from the top to the foot; `label` is how a reader of files names it.

    The first `closing` lines of `next_shift` close what is open, and never give way. `chart_words`
    and `strip_words` say what is drawn to who cannot see it.
    """

    label: str
    identity: Identity
    bed_word: str
    unit: str
    shift: str
    as_of: str
    sheet: str
    priority: Priority
    priority_words: str
    priority_mark: str
    paragraphs: tuple[Paragraph, ...]
    cautions: tuple[Caution, ...]
    counted: str
    to_check: str
    not_judged: str | None
    chart_title: str
    chart_key: str
    chart_words: str
    chart: VolumeChart
    strip_title: str
    strip_key: str
    strip_words: str
    strip: tuple[StripCell, ...]
    numbers: tuple[Fact, ...]
    call_if: Fact
    set_up: tuple[Fact, ...]
    next_shift: tuple[str, ...]
    closing: int
    notes: tuple[Note, ...]
    set_aside: str
    standing: tuple[str, ...]
    signature: Signature
    headings: "Headings"


class Headings(Frozen):
    """The fixed words of the sheets; `[number]` and `[titles]` are put in on the page. `tick_box`
    is what a box to tick is called aloud.
    """

    cautions: str
    no_cautions: str
    not_told: str
    untold: str
    told_whom: str
    not_told_by_whom: str
    more_cautions: str
    numbers: str
    set_up: str
    next_shift: str
    notes: str
    more_notes: str
    only_counted_notes: str
    outgoing: str
    incoming: str
    set_aside: str
    tick_box: str


class DayBar(Frozen):
    """The best of one day as a bar; `share` is its length, 1 for the longest."""

    day: str
    value: str
    share: float


class Advice(Frozen):
    """A titled list of sentences."""

    title: str
    lines: tuple[str, ...]


class HomeLog(Frozen):
    """The log to fill in by hand: a row for each of `days`, a column for each of `columns`.

    `answers` are printed in the last column, to draw a circle around one of them.
    """

    title: str
    amount: Fact
    how: str
    columns: tuple[str, ...]
    days: tuple[str, ...]
    answers: tuple[str, ...]
    bring: Fact
    questions: str


class Twin(NamedTuple):
    """What a sentence is in the other language: its number in the margin of both pages, 0 without
    one, and its words there.
    """

    number: int
    words: str


class PageLanguage(Frozen):
    """In which language a page for a patient is. `twins` has, by each sentence of the page, the one
    at the same place of the same page in the other language; none where there is no such page. At
    its foot stand a `warning` to the patient and words `for_staff`.
    """

    code: str = "en"
    right_to_left: bool = False
    twins: Mapping[str, Twin] = field(default_factory=dict)
    warning: str = ""
    for_staff: tuple[str, ...] = ()


class DischargePage(Frozen):
    """What a patient takes home: how to go on with the exercise, and a log to fill in. No log where
    the exercise does not go on.

    It speaks to the patient: nothing in it was written by or for the staff. A fact of `identity`,
    and the `unit` to call, leave a line to write on where they have no value. `no_bests` is printed
    where there is no bar.
    """

    identity: tuple[Fact, ...]
    title: str
    purpose: Fact
    steps: Advice
    amount: Advice
    bests_title: str
    bests: tuple[DayBar, ...]
    no_bests: str
    feelings: tuple[Fact, ...]
    unit: Fact
    nobody_answers: Fact
    call: Advice
    emergency: Advice
    device: Fact
    standing: str
    log: HomeLog | None
    language: PageLanguage = PageLanguage()


class ColumnMark(Frozen):
    """A mark beside the drawn column: its height from 0 to 1, and its words. `over`: the true
    height is above the column's top.
    """

    share: float
    label: str
    value: str
    over: bool = False


class ScaleColumn(Frozen):
    """The device's column with its scale: a number at each height from 0 to 1. Without a number its
    scale is not recorded, and its top stays open. `alt` says what it shows.
    """

    numbers: tuple[tuple[float, str], ...]
    goal: ColumnMark | None
    best: ColumnMark | None
    alt: str


class TickBoxes(Frozen):
    """What is to be done, and its boxes to tick: under each day a label for each box, which may be
    empty. `alt` says how many there are.
    """

    words: str
    days: tuple[tuple[str, tuple[str, ...]], ...]
    alt: str


class CardPage(Frozen):
    """The card on the patient's table. It speaks to the patient, and nothing in it is only for the
    staff.

    `steps` are empty where `wait` says that the patient is not to begin: then there is nothing to
    tick either. Where `position_shown`, nobody sits in the drawings: the nurse showed the patient
    how to lie or sit. A day of `days` without a value leaves room to write.
    """

    name: str
    bed: str
    title: str
    wait: str
    steps: tuple[str, ...]
    column: ScaleColumn | None
    progress: str
    turns: tuple[TickBoxes, ...]
    stop: Fact
    days_title: str
    days: tuple[Fact, ...]
    foot: str
    language: PageLanguage = PageLanguage()
    position_shown: bool = False


class ReviewList(Frozen):
    """Facts of a unit's weeks, under a title that may be empty."""

    title: str
    facts: tuple[Fact, ...]


class ReviewFigure(Frozen):
    """A figure of a unit's weeks, what it bears in a sentence or two, and what it shows, for who
    cannot see it. A chart of None shows nothing, and `says` why.
    """

    title: str
    chart: ReviewChart | None
    says: str
    alt: str

    @property
    def is_wide(self) -> bool:
        """Whether it takes the whole width of the page."""
        return isinstance(self.chart, HeatMap)


class ReviewSection(Frozen):
    """A titled part of the review; its cells stand two beside each other."""

    title: str
    cells: tuple[ReviewList | ReviewFigure, ...]


class ReviewPage(Frozen):
    """How one unit did over weeks: first in short, then part by part."""

    title: str
    unit: str
    period: str
    behind: tuple[str, ...]
    in_short: ReviewList
    sections: tuple[ReviewSection, ...]
    standing: str
    page_words: str


class UnitRow(Frozen):
    """One patient's row of the unit summary. `spark_words` say what the small trend line shows, to
    who cannot see it; empty where nothing is drawn.
    """

    bed: str
    name: str
    id: str
    alerts: tuple[str, ...]  # precautions, a name that is alike, a move within the shift
    priority: Priority
    priority_words: str
    priority_mark: str
    why_here: str
    best: str
    goal: str
    spark: Spark
    spark_words: str
    charted: str
    top_caution: str
    next_action: str


class Line(Frozen):
    """One line of a section: the patient in bold, and the text."""

    who: str
    text: str


class UnitSection(Frozen):
    """A titled list of lines, such as the escalations or the patients who go home soon."""

    title: str
    lines: tuple[Line, ...]
    urgent: bool = False


class UnitPage(Frozen):
    """The unit summary, on as many pages as it takes."""

    unit: str
    shift: str
    as_of: str
    alerts: tuple[str, ...]
    counts: tuple[Fact, ...]
    before: tuple[UnitSection, ...]
    columns: tuple[str, ...]
    rows: tuple[UnitRow, ...]
    key: str
    after: tuple[UnitSection, ...]
    standing: tuple[str, ...]
    page_words: str


class BlankColumn(Frozen):
    """A column to write in: its field, its title, and the word beside a tick box in each cell
    (empty for most columns).
    """

    name: str
    title: str
    box: str = ""


class BlankRow(Frozen):
    """One patient's row on a page of the unit. `warning` names what is open, the precautions
    and later orders, in a few words. `call_if` is None where the patient's limits are not known.
    """

    bed: str
    name: str
    id: str
    alert: str
    warning: str = ""
    call_if: Fact | None = None


class OpenLine(Frozen):
    """One thing that is open: a mark, white on black or `outlined`, and its text.

    `who` names the patient, on a page of the unit. `told` and `closes` may be empty.
    """

    mark: str
    outlined: bool
    title: str
    seen: str
    told: str = ""
    closes: str = ""
    who: str = ""


class TellBoxes(Frozen):
    """A line on which to write that the provider was told: a box to tick beside each word, which
    is called `tick_box` aloud.
    """

    label: str
    words: tuple[str, ...]
    whom: str
    tick_box: str


class StillOpenBox(Frozen):
    """What is open of a patient, or of all patients of the unit. `in_short` names all of it where
    the full text is on the sheet before.
    """

    title: str
    lines: tuple[OpenLine, ...]
    in_short: str
    tell: TellBoxes | None = None


class BlankPage(Frozen):
    """A page to write a shift's entries on by hand, of one patient or of the unit.

    A fact without a value leaves a line to write on. `carried` says where the printed facts come
    from, `later` which orders are still to begin, `unknown` what the given logs do not tell. On the
    page of the unit `identity` and `precautions` are empty, and `rows` begin the first rows.
    `still_open` is None where nothing is open, `call_if` where the patient's limits are not known.
    `key` says what may be written in the columns. `bookmark` leads to the page of a patient, and a
    box to tick is called `tick_box` aloud.
    """

    title: str
    carried: str
    head: tuple[Fact, ...]
    key: tuple[str, ...]
    standing: str
    page_words: str
    tick_box: str
    columns: tuple[BlankColumn, ...]
    bookmark: str = ""
    alert: str = ""
    identity: tuple[Fact, ...] = ()
    precautions: tuple[Fact, ...] = ()
    facts: tuple[Fact, ...] = ()
    rows: tuple[BlankRow, ...] = ()
    later: str = ""
    unknown: str = ""
    still_open: StillOpenBox | None = None
    call_if: Fact | None = None

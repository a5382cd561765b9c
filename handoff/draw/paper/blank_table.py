"""The table of a page to write on: a column for each field, a row for each entry.

Input: columns, and rows that are filled in as far as they are known. Output: `Row`s that know their
height, and the table as a `Block`.
"""

from collections.abc import Sequence
from functools import cached_property
from itertools import accumulate, pairwise

from msgspec import field
from msgspec.structs import replace

from handoff.draw.paper.blocks import Block, Layout, once, roled, space, stack, tagged
from handoff.draw.paper.canvas import Canvas
from handoff.draw.paper.tags import ARTIFACT, COLUMN_HEAD, ROW_HEAD, Element
from handoff.draw.paper.typeface import BODY_BOLD, BODY_PT, SMALL, SMALL_BOLD, SMALL_PT
from handoff.draw.paper.typeset import BASELINE
from handoff.model.frozen import Frozen
from handoff.model.pages import BlankColumn, BlankRow

# Widths of the columns; the note gets the rest of the page. Where that is too little, the other
# columns get narrower, except those already filled in.
WIDTHS_PT = {
    "bed": 32,
    "patient_id": 70,
    "at": 36,
    "until": 36,
    "what": 44,
    "about": 48,
    "breaths": 34,
    "volume_ml": 34,
    "hold_s": 26,
    "flow": 34,
    "seen_by": 34,
    "pain": 24,
    "symptoms": 56,
    "spo2": 26,
    "resp_rate": 28,
    "pulse": 28,
    "temp_c": 28,
    "on_oxygen": 32,
    "oxygen": 46,
    "position": 38,
}
FILLED_IN = ("bed", "patient_id")
LEAST_NOTE_PT = 90.0
PATIENT_ROW_PT, UNIT_ROW_PT = 19.0, 24.0
HEAD_ROW_PT, PAD_PT = 31.0, 3.0
BOX_PT, BOX_DROP_PT = 10.0, 9.5  # a box to tick in a cell: its width, and where it stands
HAIR_PT = 2.0  # at least, between a column's title and the line after it
BED_LINES, WHO_LINES = 3, 16  # at most, so that a row is never longer than a page
NOTHING = space(0)


class Row(Frozen):
    """A row to write in: the words in its first cells, and the lines under all cells."""

    height: float
    cells: Sequence[Block] = ()
    warning: Block = NOTHING


class BlankTable(Layout, dict=True):
    """The table of one page, of a given width."""

    columns: Sequence[BlankColumn]
    width: float
    tick_box: str  # what one is called aloud
    element: Element = field(default_factory=lambda: Element("Table"))

    def row(self, row: BlankRow) -> Row:
        """The start of a row: bed, name and id; under them the warning, and when to call."""
        clip = self.typesetter.clip
        width, patient = (WIDTHS_PT[name] - PAD_PT for name in FILLED_IN)
        bed = self.text(clip(row.bed, BODY_BOLD, width, BED_LINES), width, BODY_BOLD)
        both = [clip(each, SMALL, patient, WHO_LINES) for each in (row.name, row.id)]
        lines = [self.text(each, patient, SMALL) for each in both]
        alert = [self.text(row.alert, patient, SMALL_BOLD)] if row.alert else []
        level = space(BASELINE * (BODY_PT - SMALL_PT))  # the first lines stand on one line
        cells = bed, stack([level, *alert, *lines])
        whole = self._edges[-1] - self._edges[1] - 2 * PAD_PT
        below = [self.text(row.warning, whole, SMALL_BOLD)] if row.warning else []
        if row.call_if:
            below.append(self.text(row.call_if.value, whole, SMALL, lead=row.call_if.label))
        warning = stack([*below, space(PAD_PT)]) if below else NOTHING
        height = max([UNIT_ROW_PT, *(cell.height + PAD_PT for cell in cells)])
        return Row(height + warning.height, cells, warning)

    def block(self, rows: Sequence[Row]) -> Block:
        """The titles of the columns, and the rows between lines. Of the rows without any word the
        first is read aloud, for all.
        """
        words = [bool(row.cells) for row in rows]
        spoken = words.index(False) + 1 if False in words else len(rows)  # they are the last

        def draw(canvas: Canvas, x: float, top: float) -> None:
            self._head.draw(canvas, x, top)
            canvas.rule(x, top, self.width, 0.8)
            self._put_edges(canvas, x, top, Row(HEAD_ROW_PT))
            top -= HEAD_ROW_PT
            canvas.rule(x, top, self.width, 0.8)
            for number, row in enumerate(rows):
                with canvas.within(Element("TR") if number < spoken else ARTIFACT):
                    self._put_row(canvas, x, top, row)
                self._put_edges(canvas, x, top, row)
                top -= row.height
                canvas.rule(x, top, self.width, 0.4)

        return tagged(Block(HEAD_ROW_PT + sum(row.height for row in rows), draw), self.element)

    @cached_property
    def _head(self) -> Block:
        titles = [
            roled(self.text(column.title, right - left - PAD_PT - HAIR_PT, SMALL_BOLD), COLUMN_HEAD)
            for column, (left, right) in zip(self.columns, pairwise(self._edges), strict=True)
        ]

        def draw(canvas: Canvas, x: float, top: float) -> None:
            for title, left in zip(titles, self._edges, strict=False):
                title.draw(canvas, x + left + PAD_PT, top - 1)

        return once(roled(Block(HEAD_ROW_PT, draw), "TR"))

    def _put_row(self, canvas: Canvas, x: float, top: float, row: Row) -> None:
        for index, (column, left) in enumerate(zip(self.columns, self._edges, strict=False)):
            with canvas.within(Element("TD" if index or not row.cells else ROW_HEAD)):
                if index < len(row.cells):
                    row.cells[index].draw(canvas, x + left + PAD_PT, top - 1)
                if index == 1:
                    below = top - row.height + row.warning.height
                    row.warning.draw(canvas, x + left + PAD_PT, below)
                if column.box:
                    at = x + left + PAD_PT, top - BOX_DROP_PT
                    canvas.put_tick_box(*at, self.tick_box)
                    canvas.put_text((at[0] + BOX_PT, at[1]), column.box, SMALL)

    def _put_edges(self, canvas: Canvas, x: float, top: float, row: Row) -> None:
        """The lines between the cells of one row, the inner ones down to its warning."""
        canvas.setLineWidth(0.4)
        for edge in self._edges:
            inner = edge not in (self._edges[0], self._edges[1], self._edges[-1])
            foot = top - row.height + (row.warning.height if inner else 0)
            canvas.line(x + edge, top, x + edge, foot)

    @cached_property
    def _edges(self) -> list[float]:
        """The left edge of each column, and the right edge of the last. Space that the note lacks
        comes from the other columns, in proportion to what each has beyond its title.
        """
        widths = [float(WIDTHS_PT.get(column.name, 0)) for column in self.columns]
        widest_word = self.typesetter.widest_word
        least = [
            width
            if column.name in FILLED_IN
            else min(width, widest_word(column.title, SMALL_BOLD) + PAD_PT + HAIR_PT)
            for column, width in zip(self.columns, widths, strict=True)
        ]
        lacking = max(LEAST_NOTE_PT - (self.width - sum(widths)), 0)
        share = min(lacking / (sum(widths) - sum(least)), 1)
        widths = [each - share * (each - few) for each, few in zip(widths, least, strict=True)]
        rest = self.width - sum(widths)
        return [0.0, *accumulate(each or rest for each in widths)]


def fitting(rows: Sequence[Row], room: float) -> int:
    """How many of the rows fit, one at least."""
    ends = accumulate(row.height for row in rows)
    return max(sum(end <= room for end in ends), 1)


def filled(rows: Sequence[Row], room: float, least: float) -> list[Row]:
    """The rows, and empty ones to the foot of the page; all are made higher to fill it."""
    left = room - sum(row.height for row in rows)
    empty = max(int(left // least), 0 if rows else 1)
    share = max(left - empty * least, 0) / (len(rows) + empty)
    together = [*rows, *(Row(least) for _ in range(empty))]
    return [replace(row, height=row.height + share) for row in together]

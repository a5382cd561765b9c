"""The hours strip: a cell for each slot of the shift, breaths done over breaths due.

Input: `StripCell`s. Output: a `Block`. Hatched: nothing due. Hollow dot: not charted. Filled: met.
"""

from handoff.draw.paper.blocks import Block, headed_figure
from handoff.draw.paper.canvas import Canvas
from handoff.draw.paper.typeface import BODY_BOLD, SMALL
from handoff.model.measures import SlotState
from handoff.model.pages import PatientPage, StripCell

CELL_PT = 25.0


def strip_block(page: PatientPage, width: float) -> Block:
    """Title with its one-line key, cells, and each cell's start below it."""
    cell_width = width / max(len(page.strip), 1)

    def draw(canvas: Canvas, x: float, top: float) -> None:
        bottom = top - CELL_PT
        for index, cell in enumerate(page.strip):
            left = x + index * cell_width
            _draw_cell(canvas, cell, left, bottom, cell_width)
            canvas.put_text((left, bottom - 8.5), cell.start, SMALL, longest=cell_width)

    cells = Block(CELL_PT + 10, draw)
    return headed_figure(page.strip_title, page.strip_key, cells, page.strip_words, width)


def _draw_cell(canvas: Canvas, cell: StripCell, left: float, bottom: float, width: float) -> None:
    middle = left + width / 2
    canvas.saveState()
    canvas.setLineWidth(0.6)
    filled = cell.state is SlotState.MET
    canvas.setFillGray(0.2)
    canvas.rect(left, bottom, width, CELL_PT, fill=int(filled))
    canvas.setFillGray(1 if filled else 0)
    if cell.state is SlotState.NOT_DUE:
        canvas.hatch((left, bottom, width, CELL_PT))
    elif cell.state is SlotState.UNCHARTED:
        canvas.circle(middle, bottom + 18, 3)
    else:
        canvas.put_text((middle, bottom + 14.5), cell.done, BODY_BOLD, align=0.5)
    if cell.state is not SlotState.NOT_DUE:
        canvas.setStrokeGray(1 if filled else 0)
        canvas.rule(left + 4, bottom + 11.5, width - 8)
        canvas.put_text((middle, bottom + 3), cell.due, SMALL, align=0.5)
    elif cell.done:
        canvas.setFillGray(1)
        shown = canvas.typesetter.width_of(cell.done, BODY_BOLD)
        canvas.rect(middle - shown / 2 - 2, bottom + 11, shown + 4, 12, stroke=0, fill=1)
        canvas.setFillGray(0)
        canvas.put_text((middle, bottom + 14.5), cell.done, BODY_BOLD, align=0.5)
    canvas.restoreState()

"""Every distinction survives a printer without colour, a threshold to one bit, and a copy.

Contrast: WCAG 2.2, (L1 + 0.05) / (L2 + 0.05), with L = 0.2126 R + 0.7152 G + 0.0722 B of linear
sRGB; 4.5 for text, 3 for graphics. Check pair: #767676 on white 4.54, #777777 4.48.
"""

import re
from collections.abc import Callable
from io import BytesIO
from itertools import combinations

import numpy as np
import pikepdf
import pytest
from numpy.typing import NDArray
from reportlab.pdfgen.canvas import Canvas

from handoff.chart import draw_volume, volume
from handoff.measures import SlotState
from handoff.page import Drawing, Mark, Reading, StripCell
from handoff.paper.canvas import open_canvas, put_drawing, put_level
from handoff.paper.strip import CELL_PT, _draw_cell
from handoff.paper.typeface import BODY_PT
from handoff.verdicts import Priority
from tests.builders import entry, handover
from tests.sheets import grey, patient_page, patient_pdf
from tests.test_chart import chart

SIDE_PT = 40.0
DOTS_AN_INCH = 200
DOT = DOTS_AN_INCH / 72


def contrast(one: tuple[float, float, float], other: tuple[float, float, float]) -> float:
    lighter, darker = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def _luminance(colour: tuple[float, float, float]) -> float:
    linear = [
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in colour
    ]
    return float(np.dot((0.2126, 0.7152, 0.0722), linear))


def hexadecimal(colour: str) -> tuple[float, float, float]:
    red, green, blue = (int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5))
    return red, green, blue


WHITE = (1.0, 1.0, 1.0)


def test_the_formula_gives_the_published_check_pair() -> None:
    assert round(contrast(hexadecimal("#767676"), WHITE), 2) == 4.54
    assert round(contrast(hexadecimal("#777777"), WHITE), 2) == 4.48


def test_text_is_black_or_white_and_marks_stand_out() -> None:
    """Text is drawn in the canvas's black, or in white on the black of `ESCALATE` and met slots."""
    assert contrast((0, 0, 0), WHITE) >= 4.5
    assert contrast((0.2, 0.2, 0.2), WHITE) >= 4.5  # white figures on a met slot
    marks = [hexadecimal(colour) for colour in (volume.BLACK, volume.DARK)]
    night = hexadecimal(volume.NIGHT)
    assert all(contrast(mark, ground) >= 3 for mark in marks for ground in (WHITE, night))


def test_a_page_holds_no_tone_that_was_not_looked_at() -> None:
    """The grey tones set on a page are those of this test: black, strip fill, night, hairlines."""
    content = patient_pdf(patient_page(handover(entry("08:00", volume_ml=1200))))
    with pikepdf.open(BytesIO(content)) as pdf:
        stream = pdf.pages[0].Contents.read_bytes().decode("latin-1")
    tones = set(re.findall(r"([\d.]+) ([\d.]+) ([\d.]+) (?:rg|RG)\b", stream))
    known = {(0.0,) * 3, WHITE, *map(hexadecimal, (volume.DARK, volume.PALE, volume.NIGHT))}
    for tone in tones:
        assert (
            min(np.abs(np.subtract(tuple(map(float, tone)), each)).max() for each in known) < 0.01
        )


def printed(draw: Callable[[Canvas], None], size: tuple[float, float]) -> NDArray[np.bool_]:
    """True where the ink is: a page of `size` points, one bit, at 200 dots an inch."""
    canvas, stream = open_canvas(size, "marks")
    draw(canvas)
    canvas.showPage()
    canvas.save()
    return np.asarray(grey(stream.getvalue(), DOTS_AN_INCH) < 128)


def ink(page: NDArray[np.bool_]) -> float:
    return float(page.mean())


PRIORITIES = list(Priority)


def priority_box(priority: Priority) -> NDArray[np.bool_]:
    box = (2.0, 2.0, 96.0, 20.0)
    return printed(lambda canvas: put_level(canvas, priority, "WORD", box, BODY_PT), (100, 24))


@pytest.mark.parametrize(("one", "other"), list(combinations(PRIORITIES, 2)))
def test_the_three_priorities_differ_in_shape_alone(one: Priority, other: Priority) -> None:
    """The same word in each: what differs is the shape, by more than a tenth of its outline."""
    assert abs(ink(priority_box(one)) - ink(priority_box(other))) > 0.03


def slot(state: SlotState) -> NDArray[np.bool_]:
    cell = StripCell("07:00", "" if state is SlotState.UNCHARTED else "8", "8", state)
    size = (SIDE_PT, CELL_PT + 4)
    return printed(lambda canvas: _draw_cell(canvas, cell, 1, 2, SIDE_PT - 2), size)


def test_slots_differ_filled_hatched_hollow_and_open() -> None:
    tones = {state: ink(slot(state)) for state in SlotState}
    assert tones[SlotState.MET] > 0.7
    assert 0.1 < tones[SlotState.NOT_DUE] < 0.45
    assert tones[SlotState.PART] < 0.25
    hollow, figure = slot(SlotState.UNCHARTED), slot(SlotState.PART)
    assert (hollow != figure).mean() > 0.01


def marked(mark: Mark) -> NDArray[np.bool_]:
    """The middle of a chart with one reading of this mark and nothing else near it."""
    drawing = only_readings(mark)
    page = printed(lambda canvas: put_drawing(canvas, drawing, 0, 0), (540, 160))
    box = volume._Box(chart(), 540, 160)
    row, column = round((160 - box.y(720)) * DOT), round(box.x(-20) * DOT)
    return page[row - 9 : row + 10, column - 9 : column + 10]


def only_readings(mark: Mark) -> Drawing:
    one = (Reading(-20, 720, mark),)
    bare = chart(readings=one, block_bests=(), best_label=None, levels=(), trend=None, dizzy=())
    return draw_volume(bare, 540, 160)


def test_a_filled_dot_a_hollow_one_and_a_triangle_differ_in_one_bit() -> None:
    filled, hollow, triangle = (marked(mark) for mark in Mark)
    assert filled[9, 9]
    assert not hollow[9, 9]
    assert ink(hollow) > 0.05
    wider_above = filled[:9].sum() / max(filled[10:].sum(), 1)
    assert wider_above > 0.8  # a dot is as wide above its middle as below
    assert triangle[:9].sum() / triangle[10:].sum() < 0.8  # a triangle is not


def test_quiet_hours_thicken_the_axis_where_their_shade_is_lost() -> None:
    drawing = only_readings(Mark.GOOD)
    page = printed(lambda canvas: put_drawing(canvas, drawing, 0, 0), (540, 160))
    box = volume._Box(chart(), 540, 160)

    def thickness(hours: float) -> int:
        column = round(box.x(hours) * DOT)
        axis = round((160 - volume.BOTTOM_PT) * DOT)
        return int(page[axis - 8 : axis + 9, column].sum())

    assert thickness(-29) >= 2 * thickness(-20)

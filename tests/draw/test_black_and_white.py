"""Every distinction survives a printer without colour, a threshold to one bit, and a copy.

Contrast: WCAG 2.2, (L1 + 0.05) / (L2 + 0.05), with L = 0.2126 R + 0.7152 G + 0.0722 B of linear
sRGB; 4.5 for text, 3 for graphics. Check pair: #767676 on white 4.54, #777777 4.48.
"""

from collections.abc import Callable
from datetime import time
from functools import cache
from io import BytesIO
from itertools import combinations
from typing import Any

import numpy as np
import pikepdf
import pytest
from msgspec.structs import replace
from numpy.typing import NDArray

from handoff.compose.blank import compose_patient_blanks, compose_unit_blank
from handoff.compose.discharge import compose_discharge
from handoff.draw.chart import draw_spark, draw_volume, volume
from handoff.draw.paper import draw_blank, draw_discharge
from handoff.draw.paper.canvas import Canvas
from handoff.draw.paper.discharge import BAR_GRAY
from handoff.draw.paper.strip import CELL_PT, _draw_cell
from handoff.draw.paper.typeface import BODY_PT
from handoff.model.figure import Dot, Drawing, LevelLine, Mark, Spark, Style, TrendLine, UsualLine
from handoff.model.measures import SlotState
from handoff.model.pages import StripCell
from handoff.model.verdicts import Priority
from handoff.run.blank import blank_after
from tests.support.builders import UNIT, entry, handover, measured, order, patient
from tests.support.charts import chart
from tests.support.sheets import (
    courses_page,
    courses_pdf,
    document,
    grey,
    patient_page,
    patient_pdf,
    read_pdf,
    results,
    round_page,
    round_pdf,
    unit_page,
    unit_pdf,
    words,
)

SIDE_PT = 40.0
DOTS_AN_INCH = 200
DOT = DOTS_AN_INCH / 72
RIM = 4  # dots, within the box of a word that is white on black


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


STAY = handover(
    *(entry(f"-{day} 09:00", volume_ml=900 + 100 * day) for day in (3, 2, 1)),
    *(entry(f"-{day} 20:00", volume_ml=900 + 100 * day) for day in (3, 2, 1)),
    entry("08:00", "dizzy", volume_ml=2500, spo2=80),
    entry("09:00", volume_ml=900, flow="blew", breaths=3),
    entry("12:00", what="asleep", until="15:00"),
    patients=(patient(order=order("-4 07:00"), device_scale_ml=2500, baseline_ml=2000),),
    unit=replace(UNIT, quiet_hours=(time(22), time(6))),
)


KINDS = ("sheet", "summary", "discharge", "blank", "round list", "courses")


@cache
def documents() -> dict[str, bytes]:
    """A document of each kind, with every mark that there is."""
    said = words(STAY.unit.time_zone)
    discharge = compose_discharge(STAY, measured(STAY), said)
    blank = blank_after(results(STAY), more=1)
    to_write_on = (*compose_patient_blanks(blank, said), compose_unit_blank(blank, said))
    return {
        "sheet": patient_pdf(patient_page(STAY)),
        "summary": unit_pdf(unit_page(STAY)),
        "discharge": draw_discharge(discharge, document()),
        "blank": draw_blank(to_write_on, document()),
        "round list": round_pdf(round_page(STAY)),
        "courses": courses_pdf(courses_page(STAY)),
    }


@pytest.mark.parametrize("kind", KINDS)
def test_every_text_stands_out_from_the_ground_that_it_is_printed_on(kind: str) -> None:
    """The ground is the tone that most of the text's box and of a rim around it has."""
    content = documents()[kind]
    page, (pieces, *_) = grey(content), read_pdf(content).pieces
    assert len(pieces) > 20
    for piece in pieces:
        left, bottom, right, top = (round(edge * DOT) for edge in piece.box)
        rows = slice(len(page) - top - RIM, len(page) - bottom + RIM)
        box = page[rows, left - RIM : right + RIM]
        ground = np.bincount(box.ravel(), minlength=256)[[0, 51, 236, 255]].argmax()
        tone = (0.0, 51 / 255, 236 / 255, 1.0)[ground]
        assert contrast((piece.tone,) * 3, (tone,) * 3) >= 4.5, piece


MARKS = {volume.BLACK, volume.DARK, (0.2,) * 3, (BAR_GRAY,) * 3}
# They carry no meaning alone: the axis is thick in quiet hours, the volumes stand beside the lines.
GROUNDS = {WHITE, volume.PALE, volume.NIGHT}


def test_marks_stand_out_from_paper_and_from_night() -> None:
    grounds = (WHITE, volume.NIGHT)
    assert all(contrast(mark, ground) >= 3 for mark in MARKS for ground in grounds)


@pytest.mark.parametrize("kind", KINDS)
def test_no_page_has_a_tone_that_was_not_looked_at(kind: str) -> None:
    found = set()
    with pikepdf.open(BytesIO(documents()[kind])) as pdf:
        for page in pdf.pages:
            for step in pikepdf.parse_content_stream(page):
                if str(step.operator) in ("g", "G", "rg", "RG"):
                    tone = tuple(round(float(str(each)), 2) for each in step.operands)
                    found.add(tone * 3 if len(tone) == 1 else tone)
    known = {tuple(round(part, 2) for part in tone) for tone in MARKS | GROUNDS}
    assert found <= known


def printed(draw: Callable[[Canvas], None], size: tuple[float, float]) -> NDArray[np.bool_]:
    """True where the ink is: a page of `size` points, one bit, at 200 dots an inch."""
    canvas = Canvas(document(), size)
    draw(canvas)
    canvas.showPage()
    return np.asarray(grey(canvas.finished(), DOTS_AN_INCH) < 128)


def ink(page: NDArray[np.bool_]) -> float:
    return float(page.mean())


PRIORITIES = list(Priority)


def priority_box(priority: Priority) -> NDArray[np.bool_]:
    box = (2.0, 2.0, 96.0, 20.0)
    return printed(lambda canvas: canvas.put_level(priority, "WORD", box, BODY_PT), (100, 24))


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
    page = printed(lambda canvas: canvas.put_drawing(drawing, 0, 0), (540, 160))
    box = volume.Box(chart(), 540, 160)
    row, column = round((160 - box.y(720)) * DOT), round(box.x(-20) * DOT)
    return page[row - 9 : row + 10, column - 9 : column + 10]


NOTHING_ELSE: dict[str, Any] = {
    "middles": (),
    "usual": None,
    "last": (),
    "last_label": "",
    "levels": (),
    "trend": None,
}


def only_readings(mark: Mark) -> Drawing:
    one = (Dot(-20, 720, mark),)
    bare = chart(readings=one, **NOTHING_ELSE, dizzy=())
    return draw_volume(bare, 540, 160)


def test_a_filled_dot_a_hollow_one_and_a_triangle_differ_in_one_bit() -> None:
    filled, hollow, triangle = (marked(mark) for mark in Mark)
    assert filled[9, 9]
    assert not hollow[9, 9]
    assert ink(hollow) > 0.05
    wider_above = filled[:9].sum() / max(filled[10:].sum(), 1)
    assert wider_above > 0.8  # a dot is as wide above its middle as below
    assert triangle[:9].sum() / triangle[10:].sum() < 0.8  # a triangle is not


LINES = ("goal", "baseline", "scale", "trend", "interval", "middle", "usual", "fall")


def line_alone(name: str) -> NDArray[np.bool_]:
    """The rows of a chart around one line of it, where it is level and alone."""
    level, nothing = (700.0, 700.0), (-9000.0, -9000.0)
    trend = TrendLine(-48, 0, nothing, nothing, nothing, "")
    bare = chart(readings=(), **NOTHING_ELSE, dizzy=())
    if name in ("goal", "baseline", "scale"):
        bare = replace(bare, levels=(LevelLine(700, "", Style(name)),))
    elif name == "middle":
        bare = replace(bare, middles=((-48.0, 700.0), (0.0, 700.0)))
    elif name in ("usual", "fall"):
        bare = replace(bare, usual=UsualLine(-48, 700, ""), fell=name == "fall")
    else:
        shown = replace(trend, middle_ml=level) if name == "trend" else replace(trend, low_ml=level)
        bare = replace(bare, trend=shown)
    drawing = draw_volume(replace(bare, nights=()), 540, 160)
    page = printed(lambda canvas: canvas.put_drawing(drawing, 0, 0), (540, 160))
    box = volume.Box(bare, 540, 160)
    row = round((160 - box.y(700)) * DOT)
    left, right = (round(box.x(hours) * DOT) for hours in (-47, -1))
    return page[row - 5 : row + 6, left:right]


def look_of(line: NDArray[np.bool_]) -> tuple[int, int, int]:
    """A line as an eye tells it: its longest and its shortest dash, and its thickness, in dots."""
    inked = np.flatnonzero(np.diff(np.concatenate(([0], line.any(axis=0), [0]))))
    dashes = (inked[1::2] - inked[::2])[1:-1]
    whole = line.shape[1]
    longest, shortest = (dashes.max(), dashes.min()) if len(dashes) else (whole, whole)
    return int(longest), int(shortest), int(line.sum(axis=0).max())


@pytest.mark.parametrize(("one", "other"), list(combinations(LINES, 2)))
def test_the_lines_of_the_chart_differ_in_dash_or_weight(one: str, other: str) -> None:
    """Dashes half as long again, or a line twice as thick, in one bit."""
    looks = zip(look_of(line_alone(one)), look_of(line_alone(other)), strict=True)
    assert any(max(pair) >= 1.5 * min(pair) for pair in looks)


def test_a_cross_for_dizziness_is_no_dot() -> None:
    """Where a dot has ink a cross has none, at its sides, and the other way round."""
    bare = chart(readings=(), **NOTHING_ELSE)
    page = printed(lambda canvas: canvas.put_drawing(draw_volume(bare, 540, 160), 0, 0), (540, 160))
    box = volume.Box(bare, 540, 160)
    row = round((160 - box.y(bare.top_ml * volume.DIZZY_HEIGHT)) * DOT)
    column = round(box.x(-20) * DOT)
    cross = page[row - 6 : row + 7, column - 6 : column + 7]
    assert cross[6, 6]
    assert cross[2:4, 2:4].any()
    assert cross[2:4, 9:11].any()
    assert not cross[1:4, 6].any()
    assert not cross[6, 1:4].any()


def test_the_goal_of_a_small_trend_line_is_dashed_as_on_the_chart() -> None:
    spark = Spark(((-40.0, 300.0), (-2.0, 300.0)), goal_ml=1000)
    page = printed(lambda canvas: canvas.put_drawing(draw_spark(spark, 100, 24), 0, 0), (100, 24))
    goal, best = page[round(2 * DOT) - 4 : round(2 * DOT) + 5], page[round(15.9 * DOT) :][:10]
    assert look_of(goal)[0] >= 3 * look_of(goal)[1]
    assert look_of(best)[0] > 200


def test_quiet_hours_thicken_the_axis_where_their_shade_is_lost() -> None:
    drawing = only_readings(Mark.GOOD)
    page = printed(lambda canvas: canvas.put_drawing(drawing, 0, 0), (540, 160))
    box = volume.Box(chart(), 540, 160)

    def thickness(hours: float) -> int:
        column = round(box.x(hours) * DOT)
        axis = round((160 - volume.BOTTOM_PT) * DOT)
        return int(page[axis - 8 : axis + 9, column].sum())

    assert thickness(-29) >= 2 * thickness(-20)

"""The volume chart as vector marks."""

from itertools import pairwise
from math import hypot

import pytest
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.markers import MarkerStyle
from matplotlib.transforms import Affine2D
from msgspec.structs import replace

from handoff.draw.chart import draw_spark, draw_volume
from handoff.draw.chart.paths import CIRCLE, CROSS, SQUARE, TRIANGLE, Shape, marks
from handoff.draw.chart.volume import LABEL_LEADING_PT, RIGHT_PT, WHITE, spread
from handoff.draw.paper.blocks import HEADING_PT
from handoff.draw.paper.detail_levels import LEAST_CHART_PT
from handoff.draw.paper.patient import MOST_CHART_PT
from handoff.model.figure import (
    Dot,
    Drawing,
    LevelLine,
    Mark,
    Spark,
    Style,
    Text,
    Tick,
    TrendLine,
    UsualLine,
    VolumeChart,
)
from tests.support.charts import box, chart, fallen_together

WIDTH, HEIGHT = 540.0, 160.0


def drawn(**fields: object) -> Drawing:
    return draw_volume(chart(**fields), WIDTH, HEIGHT)


def words(drawing: Drawing) -> list[str]:
    return [text.text for text in drawing.texts]


def test_every_line_is_named_at_its_end() -> None:
    named = {
        "goal 1,500 mL",
        "trend +200 mL a day",
        "last 2,000 mL",
        "usual 1,000 mL",
        "× dizzy",
        "6 Mar",
        "7 Mar",
    }
    assert named <= set(words(drawn()))


def test_the_axis_starts_at_zero_in_round_steps() -> None:
    assert {"0", "500", "1,000", "1,500", "2,000"} <= set(words(drawn()))


def test_the_three_marks_differ_without_colour() -> None:
    base = set(drawn(readings=()).paths)
    shapes = set()
    for mark in Mark:
        (added,) = set(drawn(readings=(Dot(-10, 700, mark),)).paths) - base
        shapes.add((len(added.commands), added.fill))
    assert len(shapes) == len(Mark)


def test_all_dots_of_a_series_are_one_path() -> None:
    many = tuple(Dot(-40 + n / 20, 700, Mark.GOOD) for n in range(600))
    assert len(drawn(readings=many).paths) == len(drawn(readings=many[:1]).paths)


def test_a_mark_is_told_once_for_all_its_places() -> None:
    many = tuple(Dot(-40 + n, 700 + n, Mark.GOOD) for n in range(20))
    (dots,) = (path for path in drawn(readings=many).paths if len(path.places) == len(many))
    assert dots.commands == next(
        path.commands for path in drawn(readings=many[:1]).paths if path.fill == dots.fill
    )


def test_where_the_volume_fell_the_last_readings_are_ringed_and_the_usual_is_heavy() -> None:
    last = ((-2.0, 700.0), (-5.0, 720.0))
    calm, fell = (set(drawn(last=last, trend=None, fell=fell).paths) for fell in (False, True))
    added = sorted(fell - calm, key=lambda path: path.width)
    rings, usual = added
    assert (rings.fill, len([each for each in rings.steps if each[0] == "M"])) == ((1, 1, 1), 2)
    (thin,) = calm - fell
    assert thin.commands == usual.commands
    assert usual.width > 2 * thin.width
    bold = {
        text.text
        for text in drawn(last=last, last_label="last 700 mL", fell=True).texts
        if text.bold
    }
    assert bold == {"last 700 mL", "usual 1,000 mL"}


def test_a_chart_without_a_reading_says_so() -> None:
    empty = drawn(
        readings=(), middles=(), usual=None, last=(), trend=None, empty_words="No volume."
    )
    assert "No volume." in words(empty)


def test_everything_stays_inside_its_box() -> None:
    for path in drawn().paths:
        if path.clip is None:
            points = [number for _, *numbers in path.steps for number in numbers]
            assert all(-1 <= x <= WIDTH + 1 for x in points[::2])
            assert all(-1 <= y <= HEIGHT + 1 for y in points[1::2])
    for text in drawn().texts:
        assert 0 <= text.x <= WIDTH
        assert 0 <= text.y <= HEIGHT


VOLUMES = st.sampled_from([1000.0, 1001.0, 1500.0, 2000.0]) | st.floats(0, 2400)


@st.composite
def any_chart(draw: st.DrawFn) -> VolumeChart:
    """Lines anywhere, often together, at the top or at zero; some of them not there."""
    named = [(Style.GOAL, "goal"), (Style.BASELINE, "baseline"), (Style.SCALE, "device scale")]
    levels = [LevelLine(draw(VOLUMES), f"{name} 2,000 mL", style) for style, name in named]
    ends = st.tuples(VOLUMES, VOLUMES)
    trend = TrendLine(-40, 0, draw(ends), draw(ends), draw(ends), "trend −1,200 mL a day")
    return chart(
        top_ml=2592.0,
        levels=tuple(levels[: draw(st.integers(0, 3))]),
        trend=draw(st.sampled_from([None, trend])),
        middles=((-40.0, 1000.0), (-2.0, draw(VOLUMES))),
        usual=draw(st.sampled_from([None, UsualLine(-40, draw(VOLUMES), "usual 2,000 mL")])),
        last=draw(st.sampled_from([(), ((-2.0, draw(VOLUMES)), (-5.0, draw(VOLUMES)))])),
        last_label="last 1,250 mL, 1,200 mL, 1,150 mL",
        fell=draw(st.booleans()),
        dizzy=draw(st.sampled_from([(), (-20.0,)])),
        ticks=tuple(Tick(-7 - 24 * day, "28 Sep") for day in range(draw(st.integers(0, 7)))),
        x_low_h=-168.0,
    )


@given(any_chart(), st.floats(LEAST_CHART_PT, MOST_CHART_PT), st.sampled_from([544.0, 527.0]))
def test_no_two_words_ever_stand_in_the_same_place(
    drawn_chart: VolumeChart, height: float, width: float
) -> None:
    drawing = draw_volume(drawn_chart, width, height - HEADING_PT)
    assert fallen_together(drawing) == []
    assert all(box(text)[2] <= width for text in drawing.texts)
    names = [text for text in drawing.texts if text.x > width - RIGHT_PT]
    heights = sorted(text.y for text in names)
    assert all(b - a >= LABEL_LEADING_PT - 0.01 for a, b in pairwise(heights))


def test_words_in_the_same_place_are_found() -> None:
    label = Text(10, 10, "goal 1,500 mL", 8)
    drawing = Drawing(540, 160, (), (label, replace(label, y=15), replace(label, y=20)))
    assert len(fallen_together(drawing)) == 2


@given(st.lists(st.floats(0, 100), max_size=8))
def test_spread_keeps_distance_order_and_bounds(wanted: list[float]) -> None:
    placed = spread(wanted, 10, 0, 100)
    heights = sorted(placed)
    assert all(b - a >= 10 - 1e-6 for a, b in pairwise(heights))
    assert all(-1e-6 <= place <= 100 + 1e-6 for place in placed)
    by_wish = [place for _, place in sorted(zip(wanted, placed, strict=True))]
    assert by_wish == sorted(placed) or len(set(wanted)) < len(wanted)


def test_spread_leaves_alone_what_is_apart_already() -> None:
    assert spread([80, 10, 50], 10, 0, 100) == [80, 10, 50]


def test_a_spark_shows_its_points_and_goal_within_its_box() -> None:
    spark = draw_spark(Spark(((-40.0, 1000.0), (-2.0, 1500.0)), goal_ml=2000), 60, 20)
    points = [number for path in spark.paths for _, *numbers in path.steps for number in numbers]
    assert all(0 <= number <= 60 for number in points[::2])
    assert all(0 <= number <= 20 for number in points[1::2])


def test_a_spark_of_nothing_but_zeros_lies_at_its_foot() -> None:
    spark = draw_spark(Spark(((-40.0, 0.0), (-2.0, 0.0)), goal_ml=None), 60, 20)
    assert [numbers[1] for _, *numbers in spark.paths[0].commands] == [2, 2]


def test_a_spark_without_readings_is_empty() -> None:
    assert draw_spark(Spark((), goal_ml=1500), 60, 20).paths == ()


@pytest.mark.parametrize(
    ("shape", "mark"), [(TRIANGLE, "^"), (SQUARE, "s"), (CROSS, "x"), (CIRCLE, "o")]
)
def test_marks_are_those_of_a_library_for_charts(shape: Shape, mark: str) -> None:
    """As matplotlib draws the marker of this letter, at 4 points; our circle has fewer curves."""
    theirs = MarkerStyle(mark)
    outline = theirs.get_path().transformed(theirs.get_transform() + Affine2D().scale(4))
    ours = marks([(0, 0)], shape, 4, WHITE, 1).commands
    if shape is CIRCLE:
        ends = [hypot(*numbers[-2:]) for _, *numbers in ours if numbers]
        assert ends == pytest.approx([outline.get_extents().width / 2] * len(ends))
    else:
        letters = {outline.MOVETO: "M", outline.LINETO: "L", outline.CLOSEPOLY: "Z"}
        steps = [(letters[code], *points) for points, code in outline.iter_segments(simplify=False)]
        assert [step if step[0] != "Z" else ("Z",) for step in steps] == [*ours]

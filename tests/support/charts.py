"""A chart of the volumes to draw, and which of its words fall together."""

from itertools import combinations

from handoff.draw.paper.typeface import BOLD, REGULAR, TypeStyle
from handoff.model.figure import (
    Dot,
    Drawing,
    LevelLine,
    Mark,
    Style,
    Text,
    Tick,
    TrendLine,
    UsualLine,
    VolumeChart,
)
from tests.support.sheets import TYPESETTER

TREND = TrendLine(-48, 0, (1000, 1400), (1100, 1300), (900, 1500), "trend +200 mL a day")


def chart(**fields: object) -> VolumeChart:
    usual: dict[str, object] = {
        "x_low_h": -48.0,
        "x_high_h": 0.0,
        "top_ml": 2000.0,
        "step_ml": 500.0,
        "nights": ((-33.0, -25.0), (-9.0, -1.0)),
        "ticks": (Tick(-31, "6 Mar"), Tick(-7, "7 Mar"), Tick(-36, None)),
        "readings": (
            Dot(-40, 1000, Mark.GOOD),
            Dot(-20, 900, Mark.OFF_FORM),
            Dot(-2, 2000, Mark.AT_SCALE),
        ),
        "middles": ((-40.0, 1000.0), (-2.0, 2000.0)),
        "usual": UsualLine(-40.0, 1000.0, "usual 1,000 mL"),
        "last": ((-2.0, 2000.0),),
        "last_label": "last 2,000 mL",
        "fell": False,
        "levels": (LevelLine(1500, "goal 1,500 mL", Style.GOAL),),
        "trend": TREND,
        "dizzy": (-20.0,),
        "dizzy_label": "× dizzy",
        "empty_words": None,
    }
    return VolumeChart(**{**usual, **fields})  # type: ignore[arg-type]


def box(text: Text) -> tuple[float, float, float, float]:
    """Left, bottom, right and top of the letters, from the tails of g to the tops of capitals."""
    width = TYPESETTER.width_of(text.text, TypeStyle(text.size, BOLD if text.bold else REGULAR))
    left = text.x - text.align * width
    return left, text.y - 0.22 * text.size, left + width, text.y + 0.72 * text.size


def fallen_together(drawing: Drawing) -> list[tuple[str, str]]:
    """The words of a chart whose letters share a place."""
    boxes = [(text.text, box(text)) for text in drawing.texts]
    return [
        (one, other)
        for (one, (left, low, right, high)), (other, (start, foot, end, top)) in combinations(
            boxes, 2
        )
        if min(right, end) > max(left, start) and min(high, top) > max(low, foot)
    ]

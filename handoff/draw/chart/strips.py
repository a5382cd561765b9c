"""Signs over the time of the volume chart: strips to stand under it.

Input: `Strip`s, and the chart that they stand under. Output: a `Drawing` as wide as the chart, with
the same hours under each other.
"""

from collections.abc import Iterator, Sequence

from handoff.draw.chart.paths import SQUARE, area, line, marks, segments
from handoff.draw.chart.volume import (
    BLACK,
    DARK,
    LABEL_GAP_PT,
    LEFT_PT,
    MIDLINE_PT,
    NIGHT,
    PALE,
    SMALL_PT,
    WHITE,
    Box,
)
from handoff.model.figure import Drawing, Path, Strip, Text, VolumeChart

STRIP_PT, PAD_PT = 30.0, 5.0  # of one strip: its height, and the room above and below its values


def draw_strips(chart: VolumeChart, strips: Sequence[Strip], width: float) -> Drawing:
    """The strips, the first on top, in a box of `width` points."""
    height = STRIP_PT * len(strips)
    box = Box(chart, width, height)
    feet = [height - STRIP_PT * (number + 1) for number in range(len(strips))]
    paths = [path for foot in feet for path in _frame(box, foot)]
    texts: list[Text] = []
    for strip, foot in zip(strips, feet, strict=True):
        paths += _values(box, strip, foot)
        texts += _words(box, strip, foot)
    return Drawing(width, height, tuple(path for path in paths if path.commands), tuple(texts))


def _frame(box: Box, foot: float) -> Iterator[Path]:
    whole = (LEFT_PT, foot, box.right - LEFT_PT, STRIP_PT)
    for start, end in box.chart.nights:
        left, right = box.x(start), box.x(end)
        yield area((left, foot, right - left, STRIP_PT), NIGHT, whole)
    yield segments([((LEFT_PT, foot), (box.right, foot))], PALE, 0.6)


def _values(box: Box, strip: Strip, foot: float) -> Iterator[Path]:
    room = STRIP_PT - 2 * PAD_PT
    at = [(box.x(hours), foot + PAD_PT + share * room) for hours, share, _ in strip.values]
    if strip.high:  # a measured value; what was asked is not joined
        yield line(at, DARK, 0.6)
    for is_filled in (True, False):
        places = [
            place
            for place, (_, _, filled) in zip(at, strip.values, strict=True)
            if filled is is_filled
        ]
        # Squares: no reading of a volume, and a third of the size of dots.
        yield marks(places, SQUARE, 3.0, BLACK if is_filled else WHITE, 0.7)


def _words(box: Box, strip: Strip, foot: float) -> Iterator[Text]:
    middle = foot + STRIP_PT / 2 - MIDLINE_PT
    yield Text(box.right + LABEL_GAP_PT, middle, strip.label, SMALL_PT)
    if strip.low == strip.high:
        yield Text(LEFT_PT - 4, middle, strip.high, SMALL_PT, align=1)
        return
    yield Text(LEFT_PT - 4, foot + 2.5, strip.low, SMALL_PT, align=1)
    yield Text(LEFT_PT - 4, foot + STRIP_PT - SMALL_PT, strip.high, SMALL_PT, align=1)

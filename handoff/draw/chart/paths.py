"""Lines and marks as `Path`s of a drawing.

Input: points, shapes, greys and widths. Output: `Path`s in points. `dash` and `width` are in
points, `clip` is (x, y, width, height).
"""

from collections.abc import Sequence
from math import cos, pi, sin

from handoff.model.figure import Command, Path

Point = tuple[float, float]
Segment = tuple[Point, Point]
Rectangle = tuple[float, float, float, float]
Grey = tuple[float, float, float]  # as RGB
Shape = tuple[Command, ...]  # of diameter 1, around (0, 0)

# A circle of four curves, within 0.03 % of a true one.
BEND = 0.2761  # from the end of a quarter to its control point, in diameters
CIRCLE: Shape = (
    ("M", 0.5, 0),
    ("C", 0.5, BEND, BEND, 0.5, 0, 0.5),
    ("C", -BEND, 0.5, -0.5, BEND, -0.5, 0),
    ("C", -0.5, -BEND, -BEND, -0.5, 0, -0.5),
    ("C", BEND, -0.5, 0.5, -BEND, 0.5, 0),
    ("Z",),
)
TRIANGLE: Shape = (("M", 0, 0.5), ("L", -0.5, -0.5), ("L", 0.5, -0.5), ("Z",))
SQUARE: Shape = (("M", -0.5, -0.5), ("L", 0.5, -0.5), ("L", 0.5, 0.5), ("L", -0.5, 0.5), ("Z",))
CROSS: Shape = (("M", -0.5, -0.5), ("L", 0.5, 0.5), ("M", -0.5, 0.5), ("L", 0.5, -0.5))

# So small a circle is drawn as what nobody can tell from one, in half as many numbers.
SEEN_ROUND_PT = 2.5
HEXAGON: Shape = (
    ("M", 0.5, 0),
    *(("L", cos(turn * pi / 3) / 2, sin(turn * pi / 3) / 2) for turn in range(1, 6)),
    ("Z",),
)


def grey(tone: float) -> Grey:
    """From black, 0, to white, 1."""
    return tone, tone, tone


def line(
    points: Sequence[Point],
    color: Grey,
    width: float,
    dash: tuple[float, ...] = (),
    clip: Rectangle | None = None,
) -> Path:
    """A line through all points."""
    commands = [("M" if index == 0 else "L", *point) for index, point in enumerate(points)]
    return Path(tuple(commands), color, None, width, dash, clip)


def segments(ends: Sequence[Segment], color: Grey, width: float) -> Path:
    """Straight lines that do not touch, as one path."""
    commands = [command for start, end in ends for command in (("M", *start), ("L", *end))]
    return Path(tuple(commands), color, None, width, (), None)


def marks(places: Sequence[Point], shape: Shape, size: float, face: Grey, outline: float) -> Path:
    """One mark of diameter `size` at each place, all in one path; not clipped at the edge of the
    axes. `outline` is the width of its black outline.
    """
    if not places:
        return Path((), None, None, 0, (), None)
    if shape is CIRCLE and size < SEEN_ROUND_PT:
        shape = HEXAGON
    sized: list[Command] = [(name, *(size * each for each in numbers)) for name, *numbers in shape]
    edge = grey(0) if outline else None
    return Path(tuple(sized), edge, face, outline, (), None, tuple(places))


def area(box: Rectangle, color: Grey, clip: Rectangle) -> Path:
    """A filled rectangle without an outline."""
    left, bottom, width, height = box
    right, top = left + width, bottom + height
    corners = (("M", left, bottom), ("L", right, bottom), ("L", right, top), ("L", left, top))
    return Path((*corners, ("Z",)), None, color, 0, (), clip)

"""Lines and marks as `Path`s of a drawing.

Input: points, shapes of matplotlib, colours and widths. Output: `Path`s in points. `dash` and
`width` are in points, colours as matplotlib names them, `clip` is (x, y, width, height).
"""

from collections.abc import Sequence
from math import cos, pi, sin

from matplotlib.colors import to_rgb
from matplotlib.markers import MarkerStyle
from matplotlib.path import Path as Shape
from matplotlib.transforms import Affine2D, Transform

from handoff.model.figure import Command, Path

Point = tuple[float, float]
Segment = tuple[Point, Point]
Rectangle = tuple[float, float, float, float]

# A circle of four curves, within 0.03 % of a true one; matplotlib's own takes eight.
BEND = 0.2761  # from the end of a quarter to its control point, in diameters
CIRCLE = Shape(
    [
        *((0.5, 0), (0.5, BEND), (BEND, 0.5), (0, 0.5), (-BEND, 0.5), (-0.5, BEND), (-0.5, 0)),
        *((-0.5, -BEND), (-BEND, -0.5), (0, -0.5), (BEND, -0.5), (0.5, -BEND), (0.5, 0), (0.5, 0)),
    ],
    [Shape.MOVETO, *(Shape.CURVE4,) * 12, Shape.CLOSEPOLY],
)

# So small a circle is drawn as what nobody can tell from one, in half as many numbers.
SEEN_ROUND_PT = 2.5
HEXAGON = Shape(
    [(cos(turn * pi / 3) / 2, sin(turn * pi / 3) / 2) for turn in (*range(6), 0)],
    [Shape.MOVETO, *(Shape.LINETO,) * 5, Shape.CLOSEPOLY],
)


def line(
    points: Sequence[Point],
    color: str,
    width: float,
    dash: tuple[float, ...] = (),
    clip: Rectangle | None = None,
) -> Path:
    """A line through all points."""
    commands = [("M" if index == 0 else "L", *point) for index, point in enumerate(points)]
    return Path(tuple(commands), to_rgb(color), None, width, dash, clip)


def segments(ends: Sequence[Segment], color: str, width: float) -> Path:
    """Straight lines that do not touch, as one path."""
    commands = [command for start, end in ends for command in (("M", *start), ("L", *end))]
    return Path(tuple(commands), to_rgb(color), None, width, (), None)


def marks(
    places: Sequence[Point], mark: str | Shape, size: float, face: str, outline: float
) -> Path:
    """One mark at each place, all in one path; not clipped at the edge of the axes.

    `mark` is a letter of matplotlib's markers or a shape of diameter 1; `outline` is the width of
    its black outline.
    """
    if not places:
        return Path((), None, None, 0, (), None)
    if mark is CIRCLE and size < SEEN_ROUND_PT:
        mark = HEXAGON
    if isinstance(mark, Shape):
        shape = commands_of(mark, Affine2D().scale(size))
    else:
        style = MarkerStyle(mark)
        shape = commands_of(style.get_path(), style.get_transform() + Affine2D().scale(size))
    edge = to_rgb("black") if outline else None
    return Path(tuple(shape), edge, to_rgb(face), outline, (), None, tuple(places))


def area(box: Rectangle, color: str, clip: Rectangle) -> Path:
    """A filled rectangle without an outline."""
    left, bottom, width, height = box
    outline = Shape.unit_rectangle()
    commands = commands_of(outline, Affine2D().scale(width, height).translate(left, bottom))
    return Path(tuple(commands), None, to_rgb(color), 0, (), clip)


def commands_of(shape: Shape, transform: Transform) -> list[Command]:
    """The shape's straight lines and cubic curves under the transform, in points."""
    letters = {Shape.MOVETO: "M", Shape.LINETO: "L", Shape.CURVE4: "C"}
    commands: list[Command] = []
    for points, code in shape.iter_segments(transform, simplify=False):
        if code == Shape.CLOSEPOLY:
            commands.append(("Z",))
        else:
            commands.append((letters[code], *(float(number) for number in points)))
    return commands

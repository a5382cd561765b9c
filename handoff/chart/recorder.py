"""What matplotlib would paint, written down as paths in points.

Enters: matplotlib's drawing calls. Leaves: `Path`s, in drawing order.
"""

from collections.abc import Sequence
from typing import cast

from matplotlib.backend_bases import GraphicsContextBase, RendererBase
from matplotlib.colors import to_rgb
from matplotlib.path import Path as MarkPath
from matplotlib.transforms import Transform
from matplotlib.typing import ColorType

from handoff.page import Command, Path


class Recorder(RendererBase):
    """Writes down what matplotlib would paint, in points from the lower left."""

    def __init__(self, width: float, height: float) -> None:
        super().__init__()
        self.paths: list[Path] = []
        self._size = (width, height)

    def get_canvas_width_height(self) -> tuple[float, float]:
        return self._size

    def flipy(self) -> bool:
        return False

    def points_to_pixels(self, points: float) -> float:  # type: ignore[override]
        return points

    def draw_path(
        self,
        gc: GraphicsContextBase,
        path: MarkPath,
        transform: Transform,
        rgbFace: ColorType | None = None,  # noqa: N803 - matplotlib's own name
    ) -> None:
        self._record(gc, commands_of(path, transform), rgbFace)

    def draw_markers(
        self,
        gc: GraphicsContextBase,
        marker_path: MarkPath,
        marker_trans: Transform,
        path: MarkPath,
        trans: Transform,
        rgbFace: ColorType | None = None,  # noqa: N803 - matplotlib's own name
    ) -> None:
        """All markers of a series as one path."""
        shape = commands_of(marker_path, marker_trans)
        places = [points[-2:] for points, _ in path.iter_segments(trans, simplify=False)]
        commands = [moved(command, float(x), float(y)) for x, y in places for command in shape]
        self._record(gc, commands, rgbFace)

    def _record(
        self, gc: GraphicsContextBase, commands: list[Command], face: ColorType | None
    ) -> None:
        rectangle = gc.get_clip_rectangle()
        stroke = gc.get_rgb()
        visible = gc.get_linewidth() > 0 and stroke[3] > 0
        if commands:
            self.paths.append(
                Path(
                    tuple(commands),
                    stroke=_rgb(stroke) if visible else None,
                    fill=None if face is None else _rgb(to_rgb(face)),
                    width=gc.get_linewidth(),
                    dash=_dash(gc),
                    clip=tuple(rectangle.bounds) if rectangle else None,
                )
            )


def moved(command: Command, x: float, y: float) -> Command:
    """The command with its coordinates x1, y1, x2, y2, ... moved by (x, y)."""
    name, *numbers = command
    return name, *(number + (y if index % 2 else x) for index, number in enumerate(numbers))


def commands_of(path: MarkPath, transform: Transform) -> list[Command]:
    """The path under the transform, in points, with quadratic curves as cubic ones."""
    commands: list[Command] = []
    at = (0.0, 0.0)
    for points, code in path.iter_segments(transform, simplify=False):
        numbers = tuple(float(number) for number in points)
        if code == MarkPath.MOVETO:
            commands.append(("M", *numbers))
        elif code == MarkPath.LINETO:
            commands.append(("L", *numbers))
        elif code == MarkPath.CURVE3:
            commands.append(("C", *_cubic(at, numbers)))
        elif code == MarkPath.CURVE4:
            commands.append(("C", *numbers))
        elif code == MarkPath.CLOSEPOLY:
            commands.append(("Z",))
            continue
        at = (numbers[-2], numbers[-1])
    return commands


def _cubic(start: tuple[float, float], quadratic: tuple[float, ...]) -> tuple[float, ...]:
    """A quadratic curve's control point and end as a cubic's two control points and end."""
    control_x, control_y, end_x, end_y = quadratic
    return (
        start[0] + 2 / 3 * (control_x - start[0]),
        start[1] + 2 / 3 * (control_y - start[1]),
        end_x + 2 / 3 * (control_x - end_x),
        end_y + 2 / 3 * (control_y - end_y),
        end_x,
        end_y,
    )


def _dash(context: GraphicsContextBase) -> tuple[float, ...]:
    lengths = cast("Sequence[float] | None", context.get_dashes()[1])
    return tuple(float(length) for length in lengths or ())


def _rgb(colour: Sequence[float]) -> tuple[float, float, float]:
    return float(colour[0]), float(colour[1]), float(colour[2])

"""Small line drawings of how the exercise is done, one for each step of the card.

Input: a step's name. Output: a `Drawing`. They repeat what the words beside them say, and are
decoration to a reader who hears the page.
"""

from collections.abc import Callable, Mapping, Sequence

from handoff.model.figure import Command, Drawing, Path

SIZE = (100.0, 80.0)  # of the paper that they are sketched on
STROKE_PT, THIN_PT = 2.0, 1.2
BLACK, WHITE = (0.0, 0.0, 0.0), (1.0, 1.0, 1.0)
ROUND = 0.5523  # of the radius: the control points of a quarter of a circle

# A face from the side, from the nape over the crown down to the throat; the lips are closed.
FACE: tuple[Command, ...] = (
    ("M", 14, 0),
    ("C", 16, 12, 4, 22, 4, 42),
    ("C", 4, 64, 18, 78, 34, 78),
    ("C", 48, 78, 55, 68, 55, 58),
    ("C", 55, 53, 62, 46, 62, 43),
    ("C", 62, 41, 57, 41, 56, 40),
    ("C", 59, 38, 59, 35, 57, 34),
    ("C", 60, 32, 59, 29, 56, 27),
    ("C", 57, 22, 57, 14, 50, 13),
    ("C", 44, 12, 40, 14, 38, 10),
    ("L", 38, 0),
)
EYE: tuple[Command, ...] = (("M", 44, 54), ("C", 46, 51, 49, 51, 51, 54))


def draw_step(name: str, width: float) -> Drawing:
    """The drawing of a step, as wide as `width`."""
    scale = width / SIZE[0]
    paths = tuple(
        Path(
            tuple((step, *(number * scale for number in numbers)) for step, *numbers in commands),
            BLACK,
            BLACK if filled else None,
            weight,
            (),
            None,
        )
        for commands, weight, filled in FIGURES[name]()
    )
    return Drawing(width, SIZE[1] * scale, paths, ())


Stroke = tuple[Sequence[Command], float, bool]  # commands, weight in points, whether it is filled


def _line(*points: tuple[float, float], weight: float = STROKE_PT) -> Stroke:
    return [("M" if not number else "L", *at) for number, at in enumerate(points)], weight, False


def _circle(x: float, y: float, radius: float, weight: float = STROKE_PT) -> Stroke:
    bend = ROUND * radius
    return (
        [
            ("M", x + radius, y),
            ("C", x + radius, y + bend, x + bend, y + radius, x, y + radius),
            ("C", x - bend, y + radius, x - radius, y + bend, x - radius, y),
            ("C", x - radius, y - bend, x - bend, y - radius, x, y - radius),
            ("C", x + bend, y - radius, x + radius, y - bend, x + radius, y),
            ("Z",),
        ],
        weight,
        False,
    )


def _arrow(x: float, y: float, to_x: float, to_y: float) -> list[Stroke]:
    """An arrow along one of the axes."""
    across, up = (to_x > x) - (to_x < x), (to_y > y) - (to_y < y)
    back = to_x - 9 * across, to_y - 9 * up
    head: list[Command] = [
        ("M", to_x, to_y),
        ("L", back[0] + 5 * up, back[1] + 5 * across),
        ("L", back[0] - 5 * up, back[1] - 5 * across),
        ("Z",),
    ]
    return [_line((x, y), back), (head, THIN_PT, True)]


def _face() -> list[Stroke]:
    return [(FACE, STROKE_PT, False), (EYE, THIN_PT, False)]


def _device(piston: float) -> list[Stroke]:
    """The mouthpiece at the lips, its tube, and the column with its piston at a height."""
    tube = _line((57, 34), (70, 34), (74, 30), (74, 10), (80, 6))
    column = _line((80, 2), (80, 76), (96, 76), (96, 2), (80, 2))
    top = piston + 8
    body = _line((82, piston), (94, piston), (94, top), (82, top), (82, piston), weight=THIN_PT)
    return [tube, column, (body[0], THIN_PT, True)]


def _sit() -> list[Stroke]:
    chair = [_line((20, 2), (20, 56)), _line((20, 24), (54, 24)), _line((52, 24), (52, 2))]
    body = [_line((30, 52), (28, 30), (58, 30), (60, 4), (69, 4)), _circle(32, 65, 11)]
    arm = _line((30, 48), (44, 40), (60, 46))
    device = _line((60, 38), (60, 68), (70, 68), (70, 38), (60, 38))
    return [*chair, *body, arm, device, _line((60, 46), (70, 46), weight=THIN_PT)]


def _hold() -> list[Stroke]:
    hands = _line((84, 68), (84, 58), (91, 54), weight=THIN_PT)
    tube = _line((57, 34), (72, 34), (76, 30), (76, 4))
    return [*_face(), tube, _circle(84, 58, 15), hands]


def _rest() -> list[Stroke]:
    puffs: list[list[Command]] = [
        [("M", 66, y), ("C", 72, y + 6, 76, y - 6, 82, y), ("C", 86, y + 4, 90, y - 4, 94, y)]
        for y in (43, 33, 23)
    ]
    return [*_face(), *((puff, STROKE_PT, False) for puff in puffs)]


FIGURES: Mapping[str, Callable[[], list[Stroke]]] = {
    "sit": _sit,
    "upright": lambda: _device(44),
    "lips": lambda: [*_face(), *_device(4)],
    "in": lambda: [*_face(), *_device(44), *_arrow(88, 12, 88, 38)],
    "hold": _hold,
    "rest": _rest,
}

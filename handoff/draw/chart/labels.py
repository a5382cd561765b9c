"""Places labels in a column without overlap.

Input: the wanted heights of labels. Output: their heights.
"""

from collections.abc import Sequence


def spread(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Heights as near as possible to those wanted, at least `gap` apart, within `low` to `high`.

    Keeps the order of the wanted heights (equals in the order given). In too short a column the
    labels keep their distance and run over its lower end.
    """
    order = sorted(range(len(wanted)), key=lambda index: wanted[index], reverse=True)
    placed = [0.0] * len(wanted)
    ceiling = high
    for index in order:
        placed[index] = min(wanted[index], ceiling)
        ceiling = placed[index] - gap
    floor = low
    for index in reversed(order):
        if placed[index] >= floor:
            break
        placed[index] = floor
        floor += gap
    return placed

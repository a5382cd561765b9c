"""The most that a run may use: size, rows and nesting of a log, seconds and memory.

Input: nothing. Output: `Bounds`. All are common practice. They are far above any log of one shift.
They are low enough to stop at a file that is no log, or that is made to do harm, with one clear
line. Each is an option of the command line.
"""

from handoff.model.frozen import Frozen


class Bounds(Frozen):
    """`size_mb` and `rows` are of one log, `nesting` of a YAML log. `seconds` is for reading all
    logs, and again for making the output. `memory_mb` is the most that this process may use at
    once.
    """

    size_mb: float = 64
    rows: int = 1_000_000
    nesting: int = 20
    seconds: int = 600
    memory_mb: int = 2_048


USUAL = Bounds()

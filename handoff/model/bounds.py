"""What a run may take at most: size, rows and nesting of a log, seconds and memory.

Input: nothing. Output: `Bounds`. All are common practice: far above any log of one shift, and low
enough that a file which is no log, or is made to do harm, ends with one clear line. Each is an
option of the command line.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Bounds:
    """`size_mb` and `rows` of one log, `nesting` of a YAML; `seconds` for reading all logs, and
    again for making what is asked for; `memory_mb` that this process may have had at once.
    """

    size_mb: float = 64
    rows: int = 1_000_000
    nesting: int = 20
    seconds: int = 600
    memory_mb: int = 2_048


USUAL = Bounds()

"""Shows the progress of long work: one line on a terminal, nothing elsewhere.

Input: things as they are done. Output: a line such as `sheet 12 of 30, about 2 s left`, each
replacing the one before. Never names a patient. Shows nothing in the first second.
"""

import time
from collections.abc import Callable
from typing import TextIO

from msgspec import Struct

QUIET_S = 1.0


class Progress(Struct):
    """Counts `of` things of one kind; `now` gives seconds of a clock that only goes forward."""

    of: int
    stream: TextIO
    now: Callable[[], float] = time.monotonic
    what: str = "sheet"
    done: int = 0
    started: float = 0.0
    _shown: bool = False

    def __post_init__(self) -> None:
        self.started = self.now()

    def step(self) -> None:
        """One more is done."""
        self.done += 1
        spent_s = self.now() - self.started
        if self.stream.isatty() and (self._shown or spent_s > QUIET_S):
            left_s = round(spent_s / self.done * (self.of - self.done))
            self._write(f"{self.what} {self.done:,} of {self.of:,}, about {left_s:,} s left")

    def close(self) -> None:
        """Erase the line before other output."""
        if self._shown:
            self._write("")

    def _write(self, line: str) -> None:
        # Back to the start, and erase to the end of the line (ECMA-48).
        self.stream.write(f"\r\x1b[K{line}")
        self.stream.flush()
        self._shown = bool(line)

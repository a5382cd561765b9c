"""The layout of an explanation: numbers, times, results and tables, as lines of plain text.

Input: numbers, instants, texts. Output: lines. Rounds little enough to check the arithmetic with a
pencil. Never prints a number that is not known.
"""

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from handoff.model.frozen import Frozen
from handoff.model.rounding import exact
from handoff.model.wording import EXPLAIN

NONE = "-"
GAP = "  "
# UCUM codes that are not written so elsewhere; 1 stands for a part of the whole.
SHOWN_UNITS = {"1": "", "Cel": "°C"}


def with_unit(value: float | str | None, unit: str | None) -> str:
    """A value or limit with its unit; a count with the name of the things counted: `2 (times)`."""
    if value is None:
        return EXPLAIN.say("any.none")
    if isinstance(value, str):
        return value
    if unit == "mL/d":
        return EXPLAIN.say("any.a-day", value=f"{exact(value)} mL")
    counted = (unit or "").replace("{", "(").replace("}", ")")
    return f"{exact(value)} {SHOWN_UNITS.get(counted, counted)}".rstrip()


def local_time(instant: datetime | None, zone: ZoneInfo) -> str:
    """Local date and time as a log has it; with its offset where that hour occurs twice."""
    if instant is None:
        return NONE
    local = instant.astimezone(zone)
    twice = local.utcoffset() != local.replace(fold=1 - local.fold).utcoffset()
    shown = local if twice else local.replace(tzinfo=None)
    return shown.isoformat(sep=" ", timespec="seconds" if local.second else "minutes")


class Result(Frozen):
    """One number of a sheet: its name in the measures, its meaning and its origin.

    `working` is the arithmetic or the rows that lead to `value`. `absent` says why a `value` of
    None is not available, '' that it is not recorded. `sheet` is the value as the patient's sheet
    prints it.
    """

    name: str
    meaning: str
    value: float | str | None
    working: str
    absent: str = ""
    sheet: str | None = None

    def lines(self, part: str) -> Iterator[str]:
        """Name and meaning; then the working, the value, and the printed form."""
        yield f"{part}.{self.name}: {self.meaning}"
        if self.value is None:
            why = self.absent or EXPLAIN.say("any.not-recorded")
            yield f"    {EXPLAIN.say('result.absent', why=why)}"
            return
        value = self.value if isinstance(self.value, str) else exact(self.value)
        yield f"    {self.working} = {value}"
        if self.sheet is not None:
            yield f"    {EXPLAIN.say('result.sheet', value=self.sheet)}"


class Table(Frozen):
    """Rows under column names; columns stand two spaces apart, and no cell is empty."""

    columns: Sequence[str]
    rows: Sequence[Sequence[str]]

    def lines(self) -> Iterator[str]:
        """The column names and the rows, each column as wide as its widest cell."""
        cells = [self.columns, *([cell or NONE for cell in row] for row in self.rows)]
        widths = [max(map(len, column)) for column in zip(*cells, strict=True)]
        for row in cells:
            yield f"    {GAP.join(map(str.ljust, row, widths))}".rstrip()


Block = str | Result | Table


def columns(*names: str) -> list[str]:
    """The heads of columns by their names."""
    return [EXPLAIN.say(f"column.{name}") for name in names]


def lines_of(part: str, blocks: Iterable[Block]) -> Iterator[str]:
    """The blocks of one part one after the other, a blank line after each table."""
    for block in blocks:
        match block:
            case Result():
                yield from block.lines(part)
            case Table():
                yield from block.lines()
                yield ""
            case _:
                yield from block.split("\n")

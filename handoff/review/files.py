"""The tables of a review as files for other programs.

Input: `Tables`. Output: names and bytes: CSV, and Parquet where a library for it is installed.
"""

from collections.abc import Iterator
from importlib.util import find_spec
from io import BytesIO
from typing import Any

import pandas as pd

from handoff.review.tables import TYPES, instants_of

ROWS_AT_ONCE = 10_000


def has_parquet() -> bool:
    """Whether the library that writes Parquet is installed."""
    return find_spec("pyarrow") is not None


def table_files(named: tuple[str, pd.DataFrame]) -> list[tuple[str, bytes]]:
    """A table's files, such as `tables/entries.csv`. Instants have their offset; a blank is not
    recorded.
    """
    name, table = named
    written = table.assign(**{each: _with_offset(table[each]) for each in instants_of(table)})
    files = [(f"tables/{name}.csv", b"".join(_csv(written)))]
    if has_parquet():
        stream = BytesIO()
        words = {each: "string" for each in table if each not in TYPES}  # also where all is blank
        table.astype(words).to_parquet(stream, engine="pyarrow", index=False)
        files.append((f"tables/{name}.parquet", stream.getvalue()))
    return files


def _csv(table: pd.DataFrame) -> Iterator[bytes]:
    """The rows some at a time: a year's at once, as text, take as much memory as its logs."""
    for first in range(0, max(len(table), 1), ROWS_AT_ONCE):
        rows = table.iloc[first : first + ROWS_AT_ONCE]
        yield rows.to_csv(index=False, header=first == 0, lineterminator="\r\n").encode()


def _with_offset(instants: "pd.Series[Any]") -> "pd.Series[str]":
    """Local times with their offset, as pandas would write them, in a fortieth of its time."""
    local = instants.dt.tz_localize(None)
    offset_s = (local - instants.dt.tz_convert("UTC").dt.tz_localize(None)).dt.total_seconds()
    offsets = {each: _offset(round(each)) for each in offset_s.dropna().unique()}
    times = local.astype(str)
    # Where all times are midnight, pandas leaves them out.
    times = times.where(times.str.len() > len("2026-03-02"), times + " 00:00:00")
    signed = times + offset_s.map(offsets).astype(times.dtype)  # also where all are blank
    written: pd.Series[str] = signed.where(instants.notna(), "")
    return written


def _offset(seconds: int) -> str:
    hours, minutes = divmod(abs(seconds) // 60, 60)
    return f"{'-' if seconds < 0 else '+'}{hours:02}:{minutes:02}"

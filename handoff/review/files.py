"""The tables of a review as files for other programs.

Input: `Tables`. Output: names and bytes: CSV, and Parquet where a library for it is installed.
"""

from collections.abc import Iterator
from dataclasses import fields
from importlib.util import find_spec
from io import BytesIO

from handoff.review.tables import Tables


def has_parquet() -> bool:
    """Whether the library that writes Parquet is installed."""
    return find_spec("pyarrow") is not None


def table_files(tables: Tables) -> Iterator[tuple[str, bytes]]:
    """`tables/entries.csv` and its like. Instants have their offset; a blank is not recorded."""
    for each in fields(Tables):
        table = getattr(tables, each.name)
        yield f"tables/{each.name}.csv", table.to_csv(index=False, lineterminator="\r\n").encode()
        if has_parquet():
            stream = BytesIO()
            table.to_parquet(stream, engine="pyarrow", index=False)
            yield f"tables/{each.name}.parquet", stream.getvalue()

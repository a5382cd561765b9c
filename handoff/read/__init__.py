"""Reads a log file: path -> `RawLog`, located raw text with no meaning yet.

Input: the path of a YAML, CSV, .xlsx or JSON file. Output: the same `RawLog` from all, with
findings on text that is no record or has no clear cells. Never interprets a cell, never raises for
a bad file, and reads nothing but the file it was given.
"""

from collections.abc import Iterable, Sequence
from pathlib import PurePath

from msgspec.structs import replace

from handoff.log.fields import Section, fields_of
from handoff.model.bounds import USUAL, Bounds
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place
from handoff.read.content import WORKBOOK, decode, read_text, text_of
from handoff.read.csv_header import find_header
from handoff.read.exchange import NO_EXCHANGE, Exchange
from handoff.read.from_csv import read_csv, with_rows
from handoff.read.from_xlsx import read_xlsx
from handoff.read.from_yaml import read_yaml
from handoff.read.raw_log import RawLog, Record, silent, unusable

__all__ = [
    "ANY_TEXT",
    "JSON",
    "NO_EXCHANGE",
    "SUFFIXES",
    "WORKBOOK",
    "Exchange",
    "RawLog",
    "Record",
    "decode",
    "find_header",
    "parse",
    "raw_log_of",
    "read",
    "read_text",
    "sheet_of",
    "silent",
    "text_of",
    "with_records",
]

JSON = ".json"  # how the name of a log of resources ends
ANY_TEXT = ".txt"  # a log where it is given as one; most such files are none
_FORMATS = {
    ".yaml": read_yaml,
    ".yml": read_yaml,
    WORKBOOK: read_xlsx,
    ".csv": read_csv,
    ".tsv": read_csv,
    ANY_TEXT: read_csv,
}
SUFFIXES = frozenset({*_FORMATS, JSON})  # how the name of a log ends, in small letters


def read(path: str, bounds: Bounds = USUAL, exchange: Exchange = NO_EXCHANGE) -> RawLog:
    """The log at `path`. A file that cannot be read gives a raw log that is not `usable`."""
    text, findings = read_text(path, bounds.size_mb)
    return raw_log_of(text, path, findings, bounds, exchange)


def raw_log_of(
    text: str | None,
    path: str,
    findings: Sequence[Finding],
    bounds: Bounds,
    exchange: Exchange = NO_EXCHANGE,
) -> RawLog:
    """The log in the text of `path`; a `text` of None gives a raw log that is not `usable`."""
    if text is None:
        return unusable(path, findings)
    return parse(text, path, findings, bounds, exchange)


def parse(
    text: str,
    path: str,
    findings: Iterable[Finding] = (),
    bounds: Bounds = USUAL,
    exchange: Exchange = NO_EXCHANGE,
) -> RawLog:
    """The log in `text`, as if it stood at `path`; `findings` are those of the file so far.

    `exchange` is for a log of resources alone.
    """
    suffix = PurePath(path).suffix.lower()
    if suffix == JSON:
        from handoff.read.from_fhir import read_fhir  # noqa: PLC0415 - few logs need all of it

        return read_fhir(text, path, list(findings), bounds, exchange)
    read_format = _FORMATS.get(suffix)
    if read_format is None:
        return unusable(path, [*findings, finding("unknown-format", Place(path))])
    return read_format(text, path, list(findings), bounds)


def with_records(
    raw_log: RawLog, records: Iterable[Record], telling: Iterable[Record] = ()
) -> RawLog:
    """The raw log with these records instead of its own. In YAML, patients in `telling` with any
    facts are added.
    """
    if raw_log.columns is not None:
        return with_rows(raw_log, tuple(records))
    names = [each.name for each in fields_of(Section.PATIENT) if each.name != "patient_id"]
    patients = [
        record for record in telling if any(record.cells.get(name, "").strip() for name in names)
    ]
    return replace(raw_log, entries=tuple(records), patients=(*raw_log.patients, *patients))

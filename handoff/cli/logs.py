"""Reads the logs that the options name, and gathers them a unit at a time.

Input: options, and a function that keeps a part of each hand-over. Output: its results, and all
findings.
"""

from argparse import Namespace
from collections.abc import Callable
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Optional, TypeVar

from handoff.check import Options
from handoff.cli.arguments import bounds_of
from handoff.limits.reading import Limits
from handoff.log.languages import PATIENT_PAGE, languages_with
from handoff.model.findings import Finding
from handoff.model.ward import Handover
from handoff.read import Exchange
from handoff.run.bounds import within
from handoff.run.handovers import read_units
from handoff.run.units import UnitLogs, gather_units

if TYPE_CHECKING:
    from concurrent.futures import Executor

Kept = TypeVar("Kept")


def gathered(
    options: Namespace,
    keep: Callable[[UnitLogs, Handover], Kept],
    limits: Limits | None = None,
    executor: Optional["Executor"] = None,
) -> tuple[list[Kept], list[Finding], list[Finding]]:
    """The results of `keep` for each unit's hand-over, none where a log cannot be used at all; all
    findings; and the findings on rows about a danger, by these limits.
    """
    check_options, findings = check_options_of(options)
    if check_options is None:
        return [], findings, []
    bounds = bounds_of(options)
    with within(bounds):
        units, of_logs = read_units(options.logs, check_options, options.as_of, bounds, executor)
        kept, found, doubts = gather_units(units, keep, limits)
    return kept, [*findings, *of_logs, *found], doubts


def check_options_of(options: Namespace) -> tuple[Options | None, list[Finding]]:
    """How the logs are to be read; None where the unit's own codes have an error."""
    exchange, findings = exchange_of(options)
    if exchange is None:
        return None, findings
    check_options = Options(
        options.unit,
        options.time_zone,
        options.shift,
        options.dates,
        datetime.now(UTC),
        options.newest,
        exchange,
        languages_with(PATIENT_PAGE, getattr(options, "templates", None)),
    )
    return check_options, findings


def exchange_of(options: Namespace) -> tuple[Exchange | None, list[Finding]]:
    """What the options say of the record system; None where the unit's codes have an error."""
    if not options.fhir_codes:
        return Exchange(options.patient_system, None, options.time_zone), []
    from handoff.fhir.codes import load_codes  # noqa: PLC0415 - few logs need it

    codes, findings = load_codes(options.fhir_codes)
    if codes is None:
        return None, findings
    return Exchange(options.patient_system, codes, options.time_zone), findings

"""Checks a log: `RawLog` -> `Log` and findings.

Input: located raw text. Output: the domain's records, and a finding for each fault. Every record is
used or set aside, and a finding names each bad one. Never guesses a value, never measures.
"""

from msgspec.structs import replace

from handoff.check.cells import ANY_CLOCK, Reading
from handoff.check.dates import DateOrders
from handoff.check.first_row import FirstRow
from handoff.check.header import Options, read_shift, read_unit
from handoff.check.patients import read_patients
from handoff.check.rows import read_rows
from handoff.check.whole import CHECKS, SIEVES
from handoff.log.clock import Clock
from handoff.log.entries import put_aside
from handoff.model.findings import Finding
from handoff.model.ward import Counts, Log, Shift, Unit
from handoff.read import RawLog

__all__ = ["Options", "check"]


def check(raw_log: RawLog, options: Options) -> tuple[Log | None, tuple[Finding, ...]]:
    """The log, or None where the file, the unit, its time zone or the shift cannot be read."""
    if not raw_log.usable:
        return None, tuple(raw_log.findings)
    unit, of_unit = read_unit(raw_log, options)
    orders = DateOrders(raw_log)
    clock = Clock(unit.time_zone, options.dates, orders.order_of) if unit else ANY_CLOCK
    shift, of_shift = read_shift(raw_log, options, clock)
    findings = [*raw_log.findings, *of_unit, *of_shift]
    if unit is None or shift is None:
        return None, _in_line_order([*findings, *orders.findings()])
    log = _read_log(Reading(raw_log, clock, shift, options.languages), unit, shift)
    for sieve in SIEVES:
        log = put_aside(log, sieve(log))
    of_log = [each for look in CHECKS for each in look(log)]
    log = replace(
        log,
        set_aside=tuple(sorted(log.set_aside, key=lambda row: row.place.line or 0)),
        findings=_in_line_order([*findings, *log.findings, *of_log, *orders.findings()]),
    )
    return log, log.findings


def _read_log(reading: Reading, unit: Unit, shift: Shift) -> Log:
    """The log with every record checked by itself."""
    first_row = FirstRow(reading)
    people, of_people = read_patients(reading, shift, first_row)
    rows = read_rows(reading, people, first_row)
    used = len(rows.entries) + rows.without_entry
    return Log(
        file=reading.raw_log.file,
        unit=unit,
        shift=shift,
        patients=tuple(people.patients.values()),
        entries=tuple(rows.entries),
        set_aside=tuple(rows.set_aside),
        counts=Counts(len(reading.raw_log.entries), used, len(rows.set_aside), rows.without_entry),
        findings=(*of_people, *rows.findings),
    )


def _in_line_order(findings: list[Finding]) -> tuple[Finding, ...]:
    """Each finding once: an id in a CSV row is read twice, for the patient and for the entry."""
    return tuple(sorted(dict.fromkeys(findings), key=lambda each: each.place.line or 0))

"""The unit and the shift of a log: from the log, and from the options where it does not say.

Input: a raw log and the options. Output: `Unit` and `Shift`, or None and findings. Never guesses
either: a finding names each missing value, with the column and the option for it.
"""

from collections.abc import Mapping
from datetime import datetime, time, timedelta
from functools import partial
from zoneinfo import ZoneInfo

from msgspec import field
from msgspec.structs import replace

from handoff.check.cells import ANY_CLOCK, CellReader, Cells, Reading
from handoff.check.slips import likely_end
from handoff.log.clock import Clock
from handoff.log.fields import BY_NAME, EXAMPLES, Section, fields_of
from handoff.log.languages import PATIENT_PAGE, languages_with
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place
from handoff.model.frozen import Frozen
from handoff.model.ward import Shift, Unit
from handoff.model.wording import FINDINGS
from handoff.read import NO_EXCHANGE, Exchange, RawLog, Record

QUIET_HOURS = (time(22), time(6))
SOON = timedelta(hours=24)  # a log may be begun so long before its shift
LONGEST_SHIFT = timedelta(hours=24)


class Options(Frozen):
    """The user's options for reading logs. Texts are as given; None without one.

    `shift` is START/END, an ISO 8601 interval of local times; `dates` is 'mdy' or 'dmy'; `now` is
    the present instant in UTC; `newest` uses the newest of several versions of a log; `exchange` is
    for reading logs of resources; `languages` are those of patients that there are words in.
    """

    unit: str | None
    time_zone: str | None
    shift: str | None
    dates: str | None
    now: datetime
    newest: bool = False
    exchange: Exchange = NO_EXCHANGE
    languages: tuple[str, ...] = field(default_factory=partial(languages_with, PATIENT_PAGE))


def read_unit(raw_log: RawLog, options: Options) -> tuple[Unit | None, list[Finding]]:
    """The unit, or None when its name or time zone is not known; and the findings on it."""
    both = {"unit": options.unit, "time_zone": options.time_zone}
    given = {name: option for name, option in both.items() if option and option.strip()}
    cells = _read(raw_log, Section.UNIT, given, ANY_CLOCK)
    findings = [*cells.findings]
    for name, code in (("unit", "missing-unit"), ("time_zone", "missing-time-zone")):
        if name not in cells.values and name not in cells.lost:
            field = BY_NAME[Section.UNIT, name]
            findings.append(finding(code, raw_log.place(raw_log.unit, field), name))
    if "quiet_hours" in cells.lost:
        place = raw_log.place(raw_log.unit, BY_NAME[Section.UNIT, "quiet_hours"])
        findings.append(finding("default-used", place, "quiet_hours", default="22:00-06:00"))
    values = cells.values
    if "unit" not in values or "time_zone" not in values:
        return None, findings
    unit = Unit(
        name=values["unit"],
        time_zone=values["time_zone"],
        quiet_hours=values.get("quiet_hours", QUIET_HOURS) or None,
        phone=values.get("phone"),
        home_phone=values.get("home_phone"),
    )
    return unit, findings


def read_shift(
    raw_log: RawLog, options: Options, clock: Clock
) -> tuple[Shift | None, list[Finding]]:
    """The shift, and the findings on it. None when its start or end is not known, or they
    contradict each other.
    """
    findings = []
    start, slash, end = (options.shift or "").partition("/")
    given = {"shift_start": start, "shift_end": end}
    if options.shift is not None and not (slash and start.strip() and end.strip()):
        place = Place(raw_log.file, column="--shift")
        findings.append(finding("bad-shift-option", place, raw=options.shift))
        given = {}
    cells = _read(raw_log, Section.SHIFT, given if options.shift else {}, clock)
    findings += cells.findings
    values = cells.values
    for name in ("shift_start", "shift_end"):
        if name not in values and name not in cells.lost:
            place = raw_log.place(raw_log.shift, BY_NAME[Section.SHIFT, name])
            findings.append(
                finding("missing-shift", place, name, end=FINDINGS.say(f"missing-shift.{name}"))
            )
    if "shift_start" not in values or "shift_end" not in values:
        return None, findings
    shift = Shift(
        start=values["shift_start"],
        end=values["shift_end"],
        name=values.get("shift_name"),
        outgoing=values.get("outgoing"),
        incoming=values.get("incoming"),
    )
    if shift.start > options.now + SOON:
        place = raw_log.place(raw_log.shift, BY_NAME[Section.SHIFT, "shift_start"])
        raw = raw_log.shift.cells.get("shift_start", "").strip() or None
        findings.append(finding("shift-to-come", place, "shift_start", raw))
    contradiction = _contradiction(raw_log, shift, clock.zone)
    return (None, [*findings, contradiction]) if contradiction else (shift, findings)


def _contradiction(raw_log: RawLog, shift: Shift, zone: ZoneInfo) -> Finding | None:
    """The finding of a shift that ends too soon or too late."""
    if shift.start < shift.end <= shift.start + LONGEST_SHIFT:
        return None
    code = "shift-ends-too-soon" if shift.end <= shift.start else "shift-too-long"
    place = raw_log.place(raw_log.shift, BY_NAME[Section.SHIFT, "shift_end"])
    likely = likely_end(shift.start, shift.end, zone)
    start, end = (
        each.astimezone(zone).isoformat(" ", "minutes") for each in (shift.start, shift.end)
    )
    return finding(code, place, "shift_end", end, start=start, hint=likely)


_OPTIONS = {
    "unit": "--unit",
    "time_zone": "--time-zone",
    "shift_start": "--shift",
    "shift_end": "--shift",
}


def _read(raw_log: RawLog, section: Section, given: Mapping[str, str], clock: Clock) -> Cells:
    """The section's cells; values missing in the log come from the options. Example values of a log
    to fill in are not read.
    """
    record: Record = getattr(raw_log, section)
    examples = {
        name: finding("example-left", raw_log.place(record, BY_NAME[section, name]), name, example)
        for name, example in EXAMPLES.items()
        if record.cells.get(name, "").strip() == example
    }
    filled_in = {name: cell for name, cell in record.cells.items() if name not in examples}
    reading = Reading(raw_log, clock)
    cells = CellReader(reading, fields_of(section)).read(
        replace(record, cells=filled_in, lost={**record.lost, **examples})
    )
    options = CellReader(reading, fields_of(section)).read(Record(record.line, given))
    taken = [name for name in given if name not in cells.values and name not in cells.lost]
    findings = [*cells.findings, *examples.values()]
    for name in given:
        if name in cells.values and cells.values[name] != options.values.get(name):
            place = raw_log.place(record, BY_NAME[section, name])
            words = {"option": _OPTIONS[name], "given": given[name]}
            raw = record.cells[name].strip()
            findings.append(finding("option-not-used", place, name, raw, **words))
    findings += (
        replace(each, place=Place(raw_log.file, column=_OPTIONS[each.field]))
        for each in options.findings
        if each.field in taken
    )
    of_options = {name: options.values[name] for name in taken if name in options.values}
    lost = {name: options.lost[name] for name in taken if name in options.lost}
    return Cells({**cells.values, **of_options}, {**cells.lost, **lost}, findings=findings)

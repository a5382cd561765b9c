"""Finds whether the dates of a log leave one order of month and day, as `9/30/1941` does.

Input: a raw log. Output: the order of dates that are written with one mark, and the finding that
says so once. Only dates that no other order gives are evidence, never what is likely. Where two
contradict each other there is no order.
"""

from collections import defaultdict
from collections.abc import Iterator

from handoff.log.fields import FIELDS, Field, Kind, Section
from handoff.log.times import orders_of
from handoff.model.codes import finding
from handoff.model.findings import Finding
from handoff.read import RawLog, Record

_WITH_DATES = {Kind.DAY, Kind.MOMENT, Kind.FACT_TIME, Kind.DONE}
_FIRST = {"mdy": "month", "dmy": "day"}


class DateOrders:
    """The orders of a log's dates by mark (`/`, `.` or `-`). They are looked for when the first
    such date is read: most logs have none.
    """

    def __init__(self, raw_log: RawLog) -> None:
        self.raw_log = raw_log
        self.evidence: dict[str, dict[str, tuple[Record, Field]]] | None = None
        self.used: set[str] = set()

    def order_of(self, mark: str) -> str | None:
        """`mdy`, `dmy`, or None where the log leaves both or neither."""
        if self.evidence is None:
            self.evidence = self._evidence()
        orders = self.evidence.get(mark, {})
        if len(orders) != 1:
            return None
        self.used.add(mark)
        return next(iter(orders))

    def findings(self) -> Iterator[Finding]:
        """What was read by the order of other dates, at the first date that shows it."""
        for mark in sorted(self.used):
            ((order, (record, field)),) = (self.evidence or {})[mark].items()
            place, raw = self.raw_log.place(record, field), record.cells[field.name].strip()
            words = {"mark": mark, "first": _FIRST[order], "order": order}
            yield finding("date-order", place, field.name, raw, **words)

    def _evidence(self) -> dict[str, dict[str, tuple[Record, Field]]]:
        """By mark and order the first cell that can be read in that order alone."""
        raw_log = self.raw_log
        found: defaultdict[str, dict[str, tuple[Record, Field]]] = defaultdict(dict)
        records = {
            Section.UNIT: (raw_log.unit,),
            Section.SHIFT: (raw_log.shift,),
            Section.PATIENT: raw_log.patients,
            Section.ENTRY: raw_log.entries,
        }
        for field in FIELDS:
            for record in records[field.section] if field.kind in _WITH_DATES else ():
                raw = record.cells.get(field.name, "").strip()
                mark, orders = orders_of(raw) if raw and not record.broken else ("", ())
                if len(orders) == 1:
                    found[mark].setdefault(orders[0], (record, field))
        return found

"""The patient of an explanation, and that patient's rows in the form in which it cites them.

Input: the results of the stages for one patient. Output: `Subject`, and rows with the reason why
some are left out. Computes no measure.
"""

from collections.abc import Iterator, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from handoff.explain.text import NONE, local_time
from handoff.limits.reading import Limits
from handoff.model.frozen import Frozen
from handoff.model.matters import Verdicts
from handoff.model.measures import Measures
from handoff.model.ward import Entry, Flow, Handover, Order, Patient, Signs, Symptom
from handoff.model.wording import EXPLAIN

EXERCISE = ("volume_ml", "hold_s", "flow", "position")
SIGNS = ("pain", "spo2", "resp_rate", "pulse", "temp_c")


class Subject(Frozen):
    """One patient with an order or an open danger, and the results of the stages."""

    handover: Handover
    measures: Measures
    verdicts: Verdicts
    limits: Limits

    @property
    def patient(self) -> Patient:
        """The patient whose sheet is explained."""
        return self.measures.patient

    @property
    def order(self) -> Order:
        """The order, or the last one of the stay where there is none now."""
        return self.measures.order

    @property
    def trend_is_given(self) -> bool:
        """Whether the sheet gives the trend, and what follows from it."""
        return self.measures.trend.is_given(fell=self.verdicts.fell)

    @property
    def zone(self) -> ZoneInfo:
        """The unit's time zone: every time of an explanation is local."""
        return self.handover.unit.time_zone

    @property
    def rows(self) -> tuple[Entry, ...]:
        """Every row of the patient in all logs that was not set aside, in time order."""
        return self.handover.entries_of(self.patient)

    def when(self, instant: datetime | None) -> str:
        """A local time as the log has it, `-` for none."""
        return local_time(instant, self.zone)

    def cited(self, row: Entry | None) -> str:
        """Where a row stands, and its time: `night.yaml:14, 2026-03-06 19:40`; `-` for none."""
        return NONE if row is None else f"{row.place}, {self.when(row.at)}"

    def outside_stay(self, row: Entry) -> str | None:
        """Why a row counts in no number; None where it may count."""
        if row.at > self.handover.as_of:
            return EXPLAIN.say("not-used.later")
        is_before = row.at < self.measures.stay_start
        return EXPLAIN.say("not-used.before-stay") if is_before else None

    def volume_rows(self) -> Iterator[tuple[Entry, str | None]]:
        """The rows that chart a volume, each with the reason why it does not count for best, trend
        and goal, or None.
        """
        for row in self.rows:
            if row.volume_ml is not None:
                yield row, self.outside_stay(row) or _no_good_reading(row)
            elif is_lost(row, "volume_ml"):
                yield row, EXPLAIN.say("not-used.lost-volume")


def is_lost(row: Entry, name: str) -> bool:
    """Whether a cell of a used row is written but could not be read."""
    return getattr(row, name) is None and bool(row.raw.get(name, "").strip())


def in_breaths(row: Entry) -> str:
    """The kind of a row, and its breaths: `exercise, 8 breaths`."""
    if row.breaths is None:
        return str(row.what)
    key = "row.breath" if row.breaths == 1 else "row.breaths"
    return EXPLAIN.say(key, what=row.what, count=row.breaths)


def in_words(row: Entry) -> str:
    """What a row records, without its note: `exercise, 8 breaths, 1100 mL, dizzy, SpO2 94 %`."""
    words = [in_breaths(row), *_charted(row, EXERCISE)]
    words += sorted(
        EXPLAIN.say("row.no-symptoms") if each is Symptom.NONE else each.replace("_", " ")
        for each in row.signs.charted
    )
    words += _charted(row.signs, SIGNS)
    if row.signs.on_oxygen is not None:
        oxygen = "row.on-oxygen" if row.signs.on_oxygen else "row.on-air"
        words.append(EXPLAIN.say(oxygen, amount=row.signs.oxygen or ""))
    if row.about:
        about = EXPLAIN.say("row.and").join(row.about).replace("_", " ")
        words.append(EXPLAIN.say("row.about", words=about))
    return ", ".join(map(str.strip, words))


def _charted(of: Entry | Signs, names: Sequence[str]) -> list[str]:
    """What is recorded under these names."""
    named = ((name, getattr(of, name)) for name in names)
    return [
        EXPLAIN.say(f"charted.{name}", value=value) for name, value in named if value is not None
    ]


def _no_good_reading(row: Entry) -> str | None:
    if not row.is_exercise:
        return EXPLAIN.say("not-used.no-exercise", what=row.what)
    if row.flow is Flow.BLEW:
        return EXPLAIN.say("not-used.blown")
    return None if row.good_form else EXPLAIN.say("not-used.off-form", flow=row.flow)

"""The list of a unit's patients in the order in which to go round: who is next, and why not.

Input: a `Ward` and the number of a unit. Output: a `Row` for each patient who is judged. What is
due and late is measured by `measure_due`; the words are those of the unit summary. Decides only the
order of the list. Asks for no exercise where a hold or an open matter says not to.
"""

from collections.abc import Callable, Mapping
from datetime import datetime
from enum import StrEnum

from handoff.compose.words import Words
from handoff.desk import current
from handoff.desk.still_open import StillOpen, still_open
from handoff.desk.ward import Ward
from handoff.measure import measure_due
from handoff.model.frozen import Frozen
from handoff.model.measures import Due, Measures
from handoff.model.pages import UnitRow
from handoff.model.rounding import breaths_of_due, volume
from handoff.model.ward import Patient, What


class Turn(StrEnum):
    """What a patient's row asks for now. `HELD`: no exercise may be asked for."""

    HELD = "held"
    LATE = "late"
    DUE = "due"
    LATER = "later"
    NOTHING = "nothing"


class Row(Frozen):
    """One patient of the list. `row` are the words of the unit summary, `key` that of the patient.

    Times are in words: `by` and `next_from` are the end and start of the slot that is next, `until`
    the end of the time in which nothing is due, `last_at` that of the last exercise or decline.
    `done` and `of` are the breaths of a slot done in part. `last` is the last volume in good form.
    """

    row: UnitRow
    key: str
    opened: StillOpen
    due: Due
    turn: Turn
    by: str
    next_from: str
    late_from: str
    until: str
    done: str
    of: str
    last_at: str
    last: str
    trend: str
    bed_order: int
    urgency: int

    @property
    def why(self) -> str:
        """Why nothing is due now; '' where something is."""
        return self.due.why.why if self.due.why else ""

    @property
    def is_next(self) -> bool:
        """Whether breaths are due now, and nothing says not to ask for them."""
        return self.turn in (Turn.LATE, Turn.DUE)

    @property
    def to_find(self) -> str:
        """The text in which a patient is found."""
        return f"{self.row.bed} {self.row.name} {self.row.id}".casefold()


def _by_turn(row: Row) -> tuple[object, ...]:
    """Open matters first, of which nobody was told before others, and these as the unit summary has
    them; then the latest; then by bed.
    """
    slot = row.due.slot
    return (
        0 if row.opened.untold else 1 if row.opened.matters else 2,
        row.urgency if row.opened.matters else 0,
        list(Turn).index(row.turn) if row.turn is not Turn.HELD else len(Turn),
        -row.due.late_min,
        slot.end.timestamp() if slot else 0,
        row.bed_order,
    )


SORTS: Mapping[str, Callable[[Row], tuple[object, ...]]] = {
    "next": _by_turn,
    "bed": lambda row: (row.bed_order,),
    "urgency": lambda row: (row.urgency,),
}


def rows_of(seen: Ward, number: int, shown: tuple[UnitRow, ...]) -> tuple[Row, ...]:
    """The rows of a unit, in the order of the unit summary."""
    patients = {each.id: each for each in seen.handovers[number].patients}
    in_bed_order = list(patients)
    return tuple(
        _row(seen, number, row, patients[row.id], (in_bed_order.index(row.id), place))
        for place, row in enumerate(shown)
    )


def _row(seen: Ward, number: int, row: UnitRow, patient: Patient, places: tuple[int, int]) -> Row:
    results, words = seen.results[number], seen.words[number]
    handover, measures = results.handover, results.measures[row.id]
    as_of, shift = handover.as_of, handover.shift
    due, opened = measure_due(measures, as_of), still_open(seen, number, patient)
    slot, why = due.slot, due.why
    begun = slot is not None and slot.start <= as_of
    done, of = breaths_of_due(slot.done, slot.due) if slot and begun and slot.done else ("", "")
    until = why.entry.until if why and why.entry else why.span.end if why else None

    def moment(instant: datetime | None) -> str:
        return words.moment(instant, shift.start) if instant else ""

    return Row(
        row=row,
        key=current.patient_key(handover.unit.name, row.id),
        opened=opened,
        due=due,
        turn=Turn.HELD if opened.asks_nobody else _turn(due, begun=begun, over=as_of >= shift.end),
        by=moment(slot.end if slot else None),
        next_from=moment(slot.start if slot else None),
        late_from=moment(due.late_from),
        until=moment(until if until and until > as_of else None),
        done=done,
        of=of,
        last_at=moment(_last_charted(measures)),
        last=last_volume(measures, words),
        trend=_trend(row),
        bed_order=places[0],
        urgency=places[1],
    )


def _turn(due: Due, *, begun: bool, over: bool) -> Turn:
    if due.late_min and not over:
        return Turn.LATE
    if due.why is not None or due.slot is None:
        return Turn.NOTHING
    return Turn.DUE if begun else Turn.LATER


def _last_charted(measures: Measures) -> datetime | None:
    """The time of the last exercise or decline of the stay."""
    charted = (What.EXERCISE, What.DECLINED)
    times = (each.at for each in reversed(measures.stay_entries) if each.what in charted)
    return next(times, None)


def last_volume(measures: Measures, words: Words) -> str:
    """The last volume in good form of the stay, `last 900 mL`; '' without one."""
    readings = (each.volume_ml for each in reversed(measures.stay_entries) if each.is_good_reading)
    last_ml = next(readings, None)
    if last_ml is None:
        return ""
    return words.say("chart.last", last=[(last_ml, measures.patient.is_at_scale(last_ml))])


def _trend(row: UnitRow) -> str:
    """The first and the last number of the trend line."""
    points = row.spark.points
    if len(points) < 2:  # noqa: PLR2004 - a line has two ends
        return ""
    return f"{volume(points[0][1])} → {volume(points[-1][1])}"

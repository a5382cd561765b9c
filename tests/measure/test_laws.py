"""Laws that hold of every hand-over."""

from collections.abc import Iterable
from datetime import timedelta
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from handoff.measure import measure
from handoff.model.measures import Adherence, Measures
from handoff.model.ward import Entry, Handover, What
from tests.support.how_many import few
from tests.support.random_handovers import entries, handovers, moved, with_entries

SOME = settings(max_examples=few(15))


def numbers(measures: Measures) -> Iterable[float | str | None]:
    """Every number and word of the measures that is no date and no entry."""
    adherence, volume, trend, goal = (
        measures.adherence,
        measures.volume,
        measures.trend,
        measures.goal,
    )
    yield measures.available_h
    yield from (adherence.percent, adherence.percent_of_charted, adherence.breaths_done)
    yield from (adherence.slots_due, adherence.slots_met, adherence.slots_uncharted)
    for slot in adherence.slots:
        yield from (slot.due, slot.done, slot.state)
    yield from (volume.best_ml, volume.previous_best_ml, volume.change_percent)
    yield from (volume.stay_best_ml, volume.first_ml, volume.readings, volume.off_form)
    yield volume.at_scale
    yield from (best.best_ml for best in volume.by_day)
    yield from (point.volume_ml for point in trend.points)
    yield from (trend.n, trend.span_h, trend.slope_ml_per_day, trend.low, trend.high)
    yield from (trend.middle_ml, trend.direction)
    yield from (volume.usual_ml, volume.usual_readings, volume.recent.compared_ml)
    yield from (reading.volume_ml for reading in volume.recent.last)
    yield from (goal.percent, *(goal.days_to_goal or ()))


def same(one: Measures, other: Measures) -> bool:
    """Equal words, and numbers equal but for the last digits."""
    pairs = zip(numbers(one), numbers(other), strict=True)
    return all(
        found == (pytest.approx(value, rel=1e-9, abs=1e-9) if isinstance(value, float) else value)
        for found, value in pairs
    )


@SOME
@given(handovers(), st.data())
def test_charting_more_never_lowers_what_is_done(handover: Handover, data: st.DataObject) -> None:
    patient_id = handover.patients[0].id
    more = data.draw(entries(patient_id, handover.shift).filter(is_charted))
    before = measure(handover)[patient_id].adherence
    rows = [*handover.entries[patient_id], more]
    after = measure(with_entries(handover, patient_id, rows))[patient_id].adherence
    assert after.breaths_done >= before.breaths_done
    assert after.credited >= before.credited
    assert after.slots_uncharted <= before.slots_uncharted
    for new, old in zip(after.slots, before.slots, strict=True):
        assert new.done >= old.done
        assert new.due == old.due


def is_charted(entry: Entry) -> bool:
    return entry.what in (What.EXERCISE, What.DECLINED)


@SOME
@given(handovers(["UTC", "Asia/Kathmandu"]), st.integers(-400, 400))
def test_moving_every_time_by_days_changes_nothing_but_dates(handover: Handover, days: int) -> None:
    """In zones whose clock does not change."""
    by = timedelta(days=days)
    before, after = measure(handover), measure(moved(handover, by))
    for patient_id, found in after.items():
        assert same(found, before[patient_id])
        best_at, old_best_at = found.volume.best_at, before[patient_id].volume.best_at
        assert best_at == (old_best_at and old_best_at + by)
        old_days = [best.day for best in before[patient_id].volume.by_day]
        assert [best.day for best in found.volume.by_day] == [day + by for day in old_days]


@SOME
@given(handovers())
def test_doubling_volumes_doubles_bests_and_slopes(handover: Handover) -> None:
    doubled = {
        patient_id: tuple(
            replace(entry, volume_ml=None if entry.volume_ml is None else 2 * entry.volume_ml)
            for entry in known
        )
        for patient_id, known in handover.entries.items()
    }
    before, after = measure(handover), measure(replace(handover, entries=doubled))
    for patient_id, found in after.items():
        old = before[patient_id]
        pairs = [
            (found.volume.best_ml, old.volume.best_ml),
            (found.volume.change_ml, old.volume.change_ml),
            (found.volume.usual_ml, old.volume.usual_ml),
            (found.volume.recent.compared_ml, old.volume.recent.compared_ml),
            (found.trend.slope_ml_per_day, old.trend.slope_ml_per_day),
            (found.trend.low, old.trend.low),
            (found.trend.high, old.trend.high),
            (found.trend.middle_ml, old.trend.middle_ml),
        ]
        assert all(new == (value if value is None else 2 * value) for new, value in pairs)
        assert found.volume.change_percent == old.volume.change_percent
        assert without_rows(found.adherence) == without_rows(old.adherence)


def without_rows(adherence: Adherence) -> tuple[Adherence, list[list[float]]]:
    """The numbers alone, and the breaths of each row of a slot."""
    slots = tuple(replace(slot, parts=()) for slot in adherence.slots)
    breaths = [[part.breaths for part in slot.parts] for slot in adherence.slots]
    return replace(adherence, slots=slots), breaths


@SOME
@given(handovers(), st.randoms(use_true_random=False))
def test_the_order_of_rows_does_not_matter(handover: Handover, random: Random) -> None:
    """Rows of one minute may come in any order; the numbers stay."""
    before = measure(handover)
    for patient_id, known in handover.entries.items():
        rows = list(known)
        random.shuffle(rows)
        after = measure(with_entries(handover, patient_id, rows))
        assert same(after[patient_id], before[patient_id])


@SOME
@given(handovers())
def test_patients_do_not_touch_each_other(handover: Handover) -> None:
    together = measure(handover)
    for patient in handover.patients:
        alone = measure(replace(handover, patients=(patient,)))
        assert alone == {patient.id: together[patient.id]}


@SOME
@given(handovers())
def test_what_is_credited_is_never_more_than_due_nor_than_done(handover: Handover) -> None:
    for found in measure(handover).values():
        adherence = found.adherence
        assert adherence.credited <= adherence.breaths_due
        assert adherence.credited <= adherence.breaths_done
        assert 0 <= (adherence.percent or 0) <= 100
        assert is_lower_bound(adherence)
        assert 0 <= adherence.slots_met + adherence.slots_uncharted <= adherence.slots_due
        assert found.available_h >= 0


def is_lower_bound(adherence: Adherence) -> bool:
    """The percentage of all that was due is at most that of what was charted."""
    if adherence.percent is None or adherence.percent_of_charted is None:
        return not adherence.percent
    return adherence.percent <= adherence.percent_of_charted <= 100

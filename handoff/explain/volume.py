"""Explains the volumes: best of the shift, of the 24 h before it and of the stay, and the counts.

Input: a `Subject`. Output: blocks of text. The numbers are those of `Measures`.
"""

from collections.abc import Iterator, Sequence
from datetime import timedelta

from handoff.explain.subject import Subject
from handoff.explain.text import Block, Result, Table
from handoff.model.measures import FEWEST_FOR_USUAL, PREVIOUS_H, USUAL_H, USUAL_READINGS
from handoff.model.rounding import exact, signed_volume, volume
from handoff.model.ward import Entry

NO_READING = "no reading in good form"


def explain_volume(subject: Subject) -> Iterator[Block]:
    """Every row with a volume and where it counts, then each number from these rows."""
    yield "A reading is an exercise with a volume that was breathed in. It is in good form when its"
    yield "flow is steady or blank; only such readings take part in best, trend and goal."
    rows = [_table_row(subject, row, left_out) for row, left_out in subject.volume_rows()]
    if rows:
        yield Table(("row", "time", "mL", "flow", "counts"), rows)
    else:
        yield "    No row charts a volume."
    yield from _bests(subject)
    yield from _changes(subject)
    yield from _stay(subject)
    yield from _usual(subject)
    yield from _counts(subject)


def _table_row(subject: Subject, row: Entry, left_out: str | None) -> tuple[str, ...]:
    counts = f"left out: {left_out}" if left_out else _counts_as(subject, row)
    flow = str(row.flow or "")
    return str(row.place), subject.when(row.at), exact(row.volume_ml), flow, counts


def _counts_as(subject: Subject, row: Entry) -> str:
    """Where a good-form reading counts, and whether it is the best there."""
    bests, shift = subject.measures.volume, subject.handover.shift
    if row.at >= shift.end:
        where = "after the shift"
    elif row.at >= shift.start:
        where = "in the shift"
    elif row.at >= shift.start - timedelta(hours=PREVIOUS_H):
        where = f"in the {PREVIOUS_H} h before the shift"
    else:
        where = "earlier in the stay"
    is_best = row is bests.best or row is bests.previous_best
    return f"{where}, the best of it" if is_best else where


def _bests(subject: Subject) -> Iterator[Block]:
    bests = subject.measures.volume
    yield Result(
        "best_ml",
        "highest good-form reading of the shift, the earliest of equals, in mL",
        bests.best_ml,
        subject.cited(bests.best),
        f"{NO_READING} in the shift",
        _printed(bests.best_ml, subject),
    )
    since = subject.when(subject.handover.shift.start - timedelta(hours=PREVIOUS_H))
    yield Result(
        "previous_best_ml",
        f"the same of the {PREVIOUS_H} real hours before the shift, from {since} on",
        bests.previous_best_ml,
        subject.cited(bests.previous_best),
        f"{NO_READING} in these {PREVIOUS_H} h",
        _printed(bests.previous_best_ml, subject),
    )


def _changes(subject: Subject) -> Iterator[Block]:
    bests = subject.measures.volume
    change_ml, before = bests.change_ml, exact(bests.previous_best_ml)
    at_scale = any(map(subject.patient.is_at_scale, (bests.best_ml, bests.previous_best_ml)))
    yield Result(
        "change_ml",
        "best - previous best, in mL",
        change_ml,
        f"{exact(bests.best_ml)} - {before}",
        "one of the two is missing",
        None if change_ml is None or at_scale else signed_volume(change_ml),
    )
    yield Result(
        "change_percent",
        "the change in per cent of the previous best",
        bests.change_percent,
        f"100 x {exact(change_ml)} / {before}",
        "one of the two is missing, or the previous best is 0",
    )


def _stay(subject: Subject) -> Iterator[Block]:
    bests = subject.measures.volume
    yield Result(
        "stay_best_ml",
        "highest good-form reading of the stay, the earliest of equals, in mL",
        bests.stay_best_ml,
        subject.cited(bests.stay_best),
        f"{NO_READING} in the stay",
        _printed(bests.stay_best_ml, subject),
    )
    yield Result(
        "first_ml",
        "earliest good-form reading of the stay, of one time the highest, in mL",
        bests.first_ml,
        subject.cited(bests.first),
        f"{NO_READING} in the stay",
    )
    if bests.by_day:
        yield "by_day, best good-form reading of each local calendar day of the stay:"
        days = [(day.day.isoformat(), exact(day.best_ml)) for day in bests.by_day]
        yield Table(("day", "mL"), days)


def _usual(subject: Subject) -> Iterator[Block]:
    volumes = subject.measures.volume
    usual = volumes.recent.usual
    middle = ", ".join(exact(each) for each in sorted(row.volume_ml or 0 for row in usual))
    yield Result(
        "usual_readings",
        f"the latest good-form readings of the {USUAL_H} real hours before the shift, "
        f"{USUAL_READINGS} at most",
        volumes.usual_readings,
        _places(usual),
    )
    yield Result(
        "usual_ml",
        "the middle one of them by volume, of two in the middle their mean, in mL",
        volumes.usual_ml,
        f"middle of {middle}",
        f"fewer than {FEWEST_FOR_USUAL} of them",
        _printed(volumes.usual_ml, subject),
    )


def _counts(subject: Subject) -> Iterator[Block]:
    counts, entries = subject.measures.volume, subject.measures.shift_entries
    readings = [row for row in entries if row.is_reading]
    scale = subject.patient.device_scale_ml
    shown = f"{counts.readings}, {counts.off_form} off form, {counts.at_scale} at scale"
    yield Result(
        "readings",
        "readings of the shift, in good form or not",
        counts.readings,
        _places(readings),
        sheet=shown if readings else None,
    )
    yield Result(
        "off_form",
        "those of them with a flow that is fast, slow or could not be read",
        counts.off_form,
        _places([row for row in readings if not row.good_form]),
    )
    yield Result(
        "at_scale",
        "those of them at or above the device's scale "
        + ("(not recorded)" if scale is None else f"of {exact(scale)} mL"),
        counts.at_scale,
        _places([row for row in readings if subject.patient.is_at_scale(row.volume_ml)]),
    )


def _places(rows: Sequence[Entry]) -> str:
    return f"count of {', '.join(str(row.place) for row in rows) or 'no row'}"


def _printed(volume_ml: float | None, subject: Subject) -> str | None:
    """The volume as the sheet prints it: at the device's scale it may be higher."""
    if volume_ml is None:
        return None
    return f"{'at least ' * subject.patient.is_at_scale(volume_ml)}{volume(volume_ml)}"

"""Explains the volumes: best of the shift, of the 24 h before it and of the stay, and the counts.

Input: a `Subject`. Output: blocks of text. The numbers are those of `Measures`.
"""

from collections.abc import Iterator, Sequence
from datetime import timedelta

from handoff.explain.subject import Subject
from handoff.explain.text import Block, Result, Table, columns
from handoff.model.measures import FEWEST_FOR_USUAL, PREVIOUS_H, USUAL_H, USUAL_READINGS
from handoff.model.rounding import exact, signed_volume, volume
from handoff.model.ward import Entry
from handoff.model.wording import EXPLAIN


def explain_volume(subject: Subject) -> Iterator[Block]:
    """Every row with a volume and where it counts, then each number from these rows."""
    yield EXPLAIN.say("volume.how")
    rows = [_table_row(subject, row, left_out) for row, left_out in subject.volume_rows()]
    if rows:
        yield Table(columns("row", "time", "ml", "flow", "counts"), rows)
    else:
        yield f"    {EXPLAIN.say('any.no-volume')}"
    yield from _bests(subject)
    yield from _changes(subject)
    yield from _stay(subject)
    yield from _usual(subject)
    yield from _counts(subject)


def _table_row(subject: Subject, row: Entry, left_out: str | None) -> tuple[str, ...]:
    counts = EXPLAIN.say("any.left-out", why=left_out) if left_out else _counts_as(subject, row)
    flow = str(row.flow or "")
    return str(row.place), subject.when(row.at), exact(row.volume_ml), flow, counts


def _counts_as(subject: Subject, row: Entry) -> str:
    """Where a good-form reading counts, and whether it is the best there."""
    bests, shift = subject.measures.volume, subject.handover.shift
    if row.at >= shift.end:
        where = "after"
    elif row.at >= shift.start:
        where = "in"
    elif row.at >= shift.start - timedelta(hours=PREVIOUS_H):
        where = "before"
    else:
        where = "earlier"
    counts = EXPLAIN.say(f"volume.where.{where}", hours=PREVIOUS_H)
    is_best = row is bests.best or row is bests.previous_best
    return EXPLAIN.say("volume.best-of-it", where=counts) if is_best else counts


def _bests(subject: Subject) -> Iterator[Block]:
    bests = subject.measures.volume
    yield Result(
        "best_ml",
        EXPLAIN.say("volume.best"),
        bests.best_ml,
        subject.cited(bests.best),
        EXPLAIN.say("any.no-reading-in-shift"),
        _printed(bests.best_ml, subject),
    )
    since = subject.when(subject.handover.shift.start - timedelta(hours=PREVIOUS_H))
    yield Result(
        "previous_best_ml",
        EXPLAIN.say("volume.previous", hours=PREVIOUS_H, since=since),
        bests.previous_best_ml,
        subject.cited(bests.previous_best),
        EXPLAIN.say("volume.no-previous", hours=PREVIOUS_H),
        _printed(bests.previous_best_ml, subject),
    )


def _changes(subject: Subject) -> Iterator[Block]:
    bests = subject.measures.volume
    change_ml, before = bests.change_ml, exact(bests.previous_best_ml)
    at_scale = any(map(subject.patient.is_at_scale, (bests.best_ml, bests.previous_best_ml)))
    yield Result(
        "change_ml",
        EXPLAIN.say("volume.change"),
        change_ml,
        f"{exact(bests.best_ml)} - {before}",
        EXPLAIN.say("volume.no-change"),
        None if change_ml is None or at_scale else signed_volume(change_ml),
    )
    yield Result(
        "change_percent",
        EXPLAIN.say("volume.change-percent"),
        bests.change_percent,
        f"100 x {exact(change_ml)} / {before}",
        EXPLAIN.say("volume.no-change-percent"),
    )


def _stay(subject: Subject) -> Iterator[Block]:
    bests = subject.measures.volume
    yield Result(
        "stay_best_ml",
        EXPLAIN.say("volume.stay-best"),
        bests.stay_best_ml,
        subject.cited(bests.stay_best),
        EXPLAIN.say("any.no-reading-in-stay"),
        _printed(bests.stay_best_ml, subject),
    )
    yield Result(
        "first_ml",
        EXPLAIN.say("volume.first"),
        bests.first_ml,
        subject.cited(bests.first),
        EXPLAIN.say("any.no-reading-in-stay"),
    )
    if bests.by_day:
        yield EXPLAIN.say("volume.by-day")
        days = [(day.day.isoformat(), exact(day.best_ml)) for day in bests.by_day]
        yield Table(columns("day", "ml"), days)


def _usual(subject: Subject) -> Iterator[Block]:
    volumes = subject.measures.volume
    usual = volumes.recent.usual
    middle = ", ".join(exact(each) for each in sorted(row.volume_ml or 0 for row in usual))
    yield Result(
        "usual_readings",
        EXPLAIN.say("volume.usual-readings", hours=USUAL_H, most=USUAL_READINGS),
        volumes.usual_readings,
        _places(usual),
    )
    yield Result(
        "usual_ml",
        EXPLAIN.say("volume.usual"),
        volumes.usual_ml,
        EXPLAIN.say("volume.middle-of", values=middle),
        EXPLAIN.say("volume.no-usual", fewest=FEWEST_FOR_USUAL),
        _printed(volumes.usual_ml, subject),
    )


def _counts(subject: Subject) -> Iterator[Block]:
    counts, entries = subject.measures.volume, subject.measures.shift_entries
    readings = [row for row in entries if row.is_reading]
    scale = subject.patient.device_scale_ml
    shown = EXPLAIN.say(
        "volume.readings-on-sheet",
        readings=counts.readings,
        off_form=counts.off_form,
        at_scale=counts.at_scale,
    )
    yield Result(
        "readings",
        EXPLAIN.say("volume.readings"),
        counts.readings,
        _places(readings),
        sheet=shown if readings else None,
    )
    yield Result(
        "off_form",
        EXPLAIN.say("volume.off-form"),
        counts.off_form,
        _places([row for row in readings if not row.good_form]),
    )
    yield Result(
        "at_scale",
        EXPLAIN.say(
            "volume.at-scale-unknown" if scale is None else "volume.at-scale", scale=exact(scale)
        ),
        counts.at_scale,
        _places([row for row in readings if subject.patient.is_at_scale(row.volume_ml)]),
    )


def _places(rows: Sequence[Entry]) -> str:
    named = ", ".join(str(row.place) for row in rows)
    return EXPLAIN.say("volume.count-of", rows=named or EXPLAIN.say("volume.no-row"))


def _printed(volume_ml: float | None, subject: Subject) -> str | None:
    """The volume as the sheet prints it: at the device's scale it may be higher."""
    if volume_ml is None:
        return None
    shown = volume(volume_ml)
    is_at_scale = subject.patient.is_at_scale(volume_ml)
    return EXPLAIN.say("any.at-least", value=shown) if is_at_scale else shown

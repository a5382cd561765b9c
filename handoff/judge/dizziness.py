"""Rules on dizziness and tingling beyond their first mention.

Input: a `Case`. Output: a `Verdict` a rule. Says what was seen together, never that one is the
cause of the other.
"""

from dataclasses import replace
from datetime import timedelta

from handoff.judge.case import NO_ENTRY, Case, Seen, listed
from handoff.judge.signs import Sign, not_recorded, signs_seen, symptom_detail, symptom_rows
from handoff.model.verdicts import Verdict
from handoff.model.ward import Entry

DIZZINESS = "dizziness"
GRAVE_SIGNS = (
    "low-oxygen",
    "breathing-rate",
    "pulse",
    "faint-or-chest-pain",
    "drowsy-or-confused",
)


def dizziness_again(case: Case) -> Verdict:
    """Dizzy or tingling at several different times. Value: how many, at the latest.

    Detail: `symptoms`, `count` (entries), `breaths`, `seen_before`, as in `symptom`.
    """
    if not case.entries:
        return case.undecided(NO_ENTRY)
    rows = symptom_rows(case.of(DIZZINESS))
    times = len({row.at for row in rows})
    if times < case.limit("times_at_or_over"):
        return case.not_met()
    detail = symptom_detail(case.of(DIZZINESS), rows)
    return case.met(Seen(times, case.against("times_at_or_over"), rows, detail=detail))


def dizziness_with_signs(case: Case) -> Verdict:
    """Dizzy or tingling within so many real minutes of a grave sign, before it or after it.

    Value: minutes between the closest two, at the last row that met it. A span counts by its start.
    Rows of that time before the shift take part. Undecided when no grave sign is seen, and some
    dizziness has a vital sign that is not recorded within those minutes.

    Detail: `symptoms`, `count` (dizzy entries), `breaths`, `seen_before`, as in `symptom`;
    `signs`: (rule, what was seen, at) of each sign in time order, such as ('pulse', 140.0, at).
    When undecided for want of them, `missing` (the vital signs) and `minutes` (the limit).
    """
    if not case.entries:
        return case.undecided(NO_ENTRY)
    within = timedelta(minutes=case.limit("minutes_at_or_under"))
    near = _with_rows_just_before(case, within)
    rows = symptom_rows(near.of(DIZZINESS))
    start = case.entries[0].at
    pairs = [
        (row, sign)
        for sign in (signs_seen(near, GRAVE_SIGNS) if rows else ())
        for row in rows
        if _gap(row, sign.entry) <= within and max(row.at, sign.entry.at) >= start
    ]
    if not pairs:
        return _without_signs(case, symptom_rows(case.of(DIZZINESS)), within)
    dizzy = [row for row in rows if any(row == paired for paired, _ in pairs)]
    return case.met(
        Seen(
            min(_gap(row, sign.entry) for row, sign in pairs) / timedelta(minutes=1),
            case.against("minutes_at_or_under"),
            rows=_in_time_order(near, dizzy, pairs),
            detail={
                **symptom_detail(case.of(DIZZINESS), dizzy),
                "signs": list(dict.fromkeys(sign.detail for _, sign in pairs)),
            },
        )
    )


def too_many_at_once(case: Case) -> Verdict:
    """More breaths than the limit at one time, with dizzy or tingling on that entry.

    A span is spread over its minutes and takes no part. Value: breaths of the largest such
    exercise, the latest of equals. Undecided when a dizzy exercise does not record its breaths.

    Detail: `breaths`.
    """
    dizzy = [
        row for row in symptom_rows(case.of(DIZZINESS)) if row.is_exercise and row.until is None
    ]
    counted = [(row.breaths, row.at, row) for row in dizzy if row.breaths is not None]
    over = [each for each in counted if each[0] > case.limit("breaths_over")]
    if over:
        breaths, at, _ = max(over, key=lambda each: each[:2])
        rows = [row for _, _, row in over]
        return case.met(
            Seen(breaths, case.against("breaths_over"), rows, at, detail={"breaths": breaths})
        )
    if len(counted) < len(dizzy):
        return case.undecided("breaths not recorded at the dizzy exercise")
    return case.not_met()


def _with_rows_just_before(case: Case, within: timedelta) -> Case:
    """The case with the rows of so many minutes before its first one among its entries."""
    since = case.entries[0].at - within
    before = tuple(entry for entry in case.rows.before if entry.at >= since)
    return replace(case, rows=replace(case.rows, entries=(*before, *case.entries)))


def _gap(one: Entry, other: Entry) -> timedelta:
    return abs(one.at - other.at)


def _in_time_order(case: Case, dizzy: list[Entry], pairs: list[tuple[Entry, Sign]]) -> list[Entry]:
    cited = [*dizzy, *(sign.entry for _, sign in pairs)]
    return [entry for entry in case.entries if entry in cited]


def _without_signs(case: Case, rows: list[Entry], within: timedelta) -> Verdict:
    absent = (
        name
        for row in rows
        for name in not_recorded(
            [entry for entry in case.entries if _gap(entry, row) <= within], GRAVE_SIGNS
        )
    )
    missing = list(dict.fromkeys(absent))
    if not missing:
        return case.not_met()
    minutes = within / timedelta(minutes=1)
    why = f"{listed(missing)} not recorded within {minutes:g} min"
    return case.undecided(why, missing=missing, minutes=minutes)

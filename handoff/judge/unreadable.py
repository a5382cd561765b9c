"""Signs that cannot be read, or stand in a row set aside: what they may be, and how soon to look.

Input: a `Case` with the rows set aside. Output: a `Verdict`. What was probably meant is never used
as a value: it only decides how soon somebody should look.
"""

from collections.abc import Iterator
from datetime import timedelta
from itertools import chain

from msgspec.structs import asdict, replace

from handoff.judge.case import Case, Seen
from handoff.judge.oxygen import HIGH_OXYGEN
from handoff.judge.rule import Rule
from handoff.judge.signs import (
    BREATHING_RATE,
    DROWSY_OR_CONFUSED,
    FAINT_OR_CHEST_PAIN,
    FEVER,
    LOW_OXYGEN,
    LOW_TEMPERATURE,
    PULSE,
    escalates,
    reads,
    sign_of,
)
from handoff.judge.vitals import VITALS
from handoff.model.verdicts import Found, Level, SeenSign, UnsureSign, Verdict, When
from handoff.model.ward import (
    BEFORE_THE_STAY,
    Entry,
    Handover,
    Patient,
    SetAside,
    Shift,
    Signs,
    What,
)
from handoff.model.wording import JUDGE

# Rules that escalate on one sign of one row, without its time or other rows.
READ_ALONE = tuple(
    rule.name
    for rule in (
        *(LOW_OXYGEN, HIGH_OXYGEN, BREATHING_RATE, PULSE, LOW_TEMPERATURE, FEVER),
        *(FAINT_OR_CHEST_PAIN, DROWSY_OR_CONFUSED),
    )
)


class Unreadable(Found):
    """The signs that are not known for sure: those that may escalate where there are any; `others`
    are then the rest. `names` are the fields of the former.
    """

    unsure: tuple[UnsureSign, ...]
    others: tuple[UnsureSign, ...] = ()
    names: tuple[str, ...] = ()

    def text(self, _: When, /) -> str:
        """`signs that cannot be read: spo2 '8l' (SpO2 81 %?) in day.yaml:4`."""
        signs = ", ".join(map(_text, (*self.unsure, *self.others)))
        return JUDGE.say("found.unreadable", signs=signs or JUDGE.say("any.none"))


def _text(sign: UnsureSign) -> str:
    raw = f"{sign.name} '{sign.raw}'" if sign.raw else sign.name
    likely = "" if sign.seen is None else f" ({reads(sign.rule, sign.seen)}?)"
    return JUDGE.say("found.unread-sign", sign=f"{raw}{likely}", row=sign.place)


def sign_unreadable(case: Case) -> Verdict:
    """A sign that cannot be read, in a row of the shift or one set aside. At the graver level where
    what can be read, or was probably meant, would meet a rule that escalates. Value: how many.
    """
    signs = [
        *chain.from_iterable(_unsure(row, case, aside=False) for row in case.entries if row.unread),
        *chain.from_iterable(_unsure(row, case, aside=True) for row in case.rows.aside),
    ]
    grave = tuple(sign for sign in signs if sign.rule)
    shown = grave or tuple(signs)
    found = Unreadable(
        shown,
        others=tuple(sign for sign in signs if sign not in shown),
        names=tuple(dict.fromkeys(sign.name for sign in shown)),
    )
    if not shown:
        return case.not_met(found)
    places = {sign.place for sign in shown}
    rows = [row for row in (*case.rows.aside, *case.entries) if row.place in places]
    rows.sort(key=lambda row: row.at)
    seen = Seen(len(shown), case.without_limit("{signs}"), rows)
    return case.met(found, seen, Level.ESCALATE if grave else Level.FOLLOW_UP)


def _unsure(row: Entry, case: Case, *, aside: bool) -> Iterator[UnsureSign]:
    """The signs of one row that are not known for sure, those that may escalate first."""
    likely = row.likely
    if likely.on_oxygen is None:
        likely = replace(likely, on_oxygen=row.signs.on_oxygen)
    grave: list[tuple[str, str, SeenSign]] = []
    case = case.at(row)
    for rule in READ_ALONE:
        seen = sign_of(case.of(rule), likely)
        if isinstance(seen, tuple):
            grave += [("symptoms", rule, (word,)) for word in seen]
        elif seen is not None and escalates(case.of(rule), likely):
            grave.append((VITALS[rule].field, rule, seen))
    if {seen for _, _, seen in grave} <= {(str(each),) for each in case.order.usual_symptoms}:
        grave = []
    for name, rule, seen in grave:
        raw = row.raw.get(name, "") if name in row.unread else None
        yield UnsureSign(row.place, name, raw, aside, rule, seen)
    named = {name for name, *_ in grave}
    for name in row.unread:
        if name not in named:
            yield UnsureSign(row.place, name, row.raw.get(name, ""), aside)


def rows_aside(handover: Handover, patient: Patient) -> list[Entry]:
    """The rows set aside that may be of the patient's stay, as entries whose signs are only likely.

    A row whose time cannot be read, or is in no shift (a mistyped date), has the last minute of its
    own log's shift: only what is seen after that shift can show that it is over.
    """
    listings = handover.listings_of(patient)
    order_start = handover.stay_start.get(patient.id, listings[0].shift.start)
    first = min(order_start, listings[0].shift.start) - BEFORE_THE_STAY
    rows = []
    for row in handover.set_aside:
        if row.patient_id != patient.id or row.reason.code == "repeated-entry":
            continue
        at = row.at
        if at is None or not any(shift.start <= at < shift.end for shift in handover.shifts):
            at = min(_shift_of(row, handover).end, handover.as_of) - timedelta(minutes=1)
        elif not first <= at <= handover.as_of:
            continue
        rows.append(
            Entry(
                patient_id=patient.id,
                at=at,
                place=row.place,
                what=What.SEEN,
                likely=_as_read_or_meant(row.signs, row.likely),
                unread=row.unread,
                raw=row.raw,
            )
        )
    return rows


def _as_read_or_meant(signs: Signs, likely: Signs) -> Signs:
    """Signs as they were read, and where they could not be, as they were probably meant."""
    known = {name: value for name, value in asdict(signs).items() if value is not None}
    return replace(likely, **{**known, "symptoms": signs.symptoms | likely.symptoms})


def _shift_of(row: SetAside, handover: Handover) -> Shift:
    """The shift of the log that sets a row aside."""
    shifts = (log.shift for log in handover.logs if row in log.set_aside)
    return next(shifts, handover.shift)


SIGN_UNREADABLE = Rule(
    "sign-unreadable",
    sign_unreadable,
)

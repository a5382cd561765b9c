"""Rules on breathlessness and wheeze.

Input: a `Case`. Output: a `Verdict` a rule. Says what was seen, and whether it has settled since.
"""

from datetime import datetime

from msgspec.structs import replace

from handoff.judge.about import minute, names
from handoff.judge.beside import beside, without_a_pair
from handoff.judge.case import Case, Seen
from handoff.judge.rule import Rule
from handoff.judge.settling import NONE, Danger, why_not_settled
from handoff.judge.signs import (
    BREATHING_RATE,
    LOW_OXYGEN,
    PULSE,
    Charted,
    symptom,
    symptom_rows,
)
from handoff.judge.vitals import PAIN
from handoff.model.verdicts import Level, Verdict
from handoff.model.ward import What

SIGNS_WITH_BREATHLESS = (LOW_OXYGEN.name, BREATHING_RATE.name, PULSE.name, PAIN)
ABOUT = ("breathless", "wheeze")


class Breathless(Charted):
    """The rows that chart breathlessness or wheeze, and when it was seen or said to be over
    (`over_at`); None while it was not.
    """

    over_at: datetime | None = None


def breathless(case: Case) -> Verdict:
    """Breathless or wheeze in the shift, or just before it and not over since. No page asks for the
    exercise until it is over: a row by staff, late enough, charts `none`, or somebody says so.
    Value: the entries that chart it.
    """
    of_shift = symptom(case)
    near = case if of_shift.met else case.looking_back()
    verdict = symptom(near)
    if not verdict.met:
        return of_shift
    over_at = _over_at(near, max(verdict.times))
    if over_at and not of_shift.met:
        return of_shift
    own = {name: getattr(verdict.found, name) for name in Charted.__struct_fields__}
    holds_back = over_at is None and verdict.level is Level.FOLLOW_UP
    return replace(verdict, found=Breathless(**own, over_at=over_at), holds_back=holds_back)


def _over_at(case: Case, last_at: datetime) -> datetime | None:
    """When it was seen or said to be over; None while it was not."""
    danger = Danger(last_at, (), (), 0)
    for row in case.entries:
        if row.at < last_at:
            continue
        said = row.what is What.SETTLED and names(row, ABOUT)
        if said or why_not_settled(NONE, row, case, danger) is None:
            return row.at
    return None


def breathless_again(case: Case) -> Verdict:
    """Breathless or wheeze at several different times, those just before the shift too, and in the
    shift; or within so many minutes of a grave sign or strong pain.

    Value: minutes between the closest two where there is such a sign, else the different times.
    Undecided when neither is met, and a sign is not recorded within those minutes of some
    breathlessness.
    """
    near = beside(case, BREATHLESS.name, SIGNS_WITH_BREATHLESS)
    most = int(case.limit("times_at_or_over"))
    rows = symptom_rows(case.looking_back().of(BREATHLESS.name))
    times = sorted({minute(row.at) for row in rows})
    again = len(times) >= most and rows[-1].at >= case.entries[0].at
    if not again and not near.pairs:
        return without_a_pair(case, near.found)
    met = [row for row in near.rows if (again and row in rows) or row in near.paired]
    led_up = [row for row in met if row not in near.paired and minute(row.at) < times[most - 1]]
    cited = near.cited(met)
    seen = Seen(len(times), case.against("times_at_or_over"), cited, led_up=led_up)
    if near.pairs:
        against = case.against("minutes_at_or_under")
        seen = Seen(near.value_min, against, cited, led_up=led_up)
    return case.met(near.met_by(met), seen)


BREATHLESS = Rule("breathless", breathless, about=ABOUT)
BREATHLESS_AGAIN = Rule(
    "breathless-again",
    breathless_again,
    replaces=(BREATHLESS.name,),
    about=ABOUT,
)

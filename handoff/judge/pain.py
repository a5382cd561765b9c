"""Rules on pain, by the numeric rating of 0 to 10.

Input: a `Case`. Output: a `Verdict` a rule. Pain is read in every entry: at an exercise, beside a
decline, in a note.
"""

from datetime import datetime, timedelta

from msgspec.structs import replace

from handoff.judge.case import Case, Seen
from handoff.judge.rule import Rule
from handoff.judge.vitals import PAIN
from handoff.model.verdicts import Found, Verdict, When
from handoff.model.wording import JUDGE


class Pain(Found):
    """The pain in each entry that records it, and when it was at the rule's limit or over it
    (`charted_at`): of `pain-limits` the lower one. `reached` counts the entries at the limit that
    is printed, or over it.
    """

    pains: tuple[int, ...]
    charted_at: tuple[datetime, ...]
    reached: int = 0

    def text(self, _: When, /) -> str:
        """`pain: 5, 3`."""
        pains = ", ".join(map(str, self.pains))
        return JUDGE.say("found.pain" if pains else "found.no-pain", pains=pains)


def pain_limits(case: Case) -> Verdict:
    """Strong pain in one entry, or less in several.

    Value: the worst pain, the latest of equals. Undecided with no pain recorded.
    """
    rated = [(entry.signs.pain, entry) for entry in case.entries if entry.signs.pain is not None]
    rows = [entry for pain, entry in rated if pain >= case.limit("pain_at_or_over")]
    found = Pain(tuple(pain for pain, _ in rated), tuple(row.at for row in rows))
    if not rated:
        return case.undecided(found, JUDGE.say("why.pain"))
    worst, row = max(reversed(rated), key=lambda each: each[0])
    strong = [entry for pain, entry in rated if pain >= case.limit("pain_once_at_or_over")]
    if not strong and len(rows) < case.limit("entries_at_or_over"):
        return case.not_met(found)
    against = case.against("pain_once_at_or_over" if strong else "pain_at_or_over")
    found = replace(found, reached=len(strong or rows))
    return case.met(found, Seen(worst, against, rows, row.at))


def pain_again(case: Case) -> Verdict:
    """Strong pain in two entries at least so many minutes apart; the first may be just before the
    shift.

    Value: the worst pain, the latest of equals. Undecided with no pain recorded.
    """
    near = case.looking_back()
    rated = [(entry.signs.pain, entry) for entry in near.entries if entry.signs.pain is not None]
    strong = [(pain, entry) for pain, entry in rated if pain >= case.limit("pain_at_or_over")]
    rows = [entry for _, entry in strong]
    found = Pain(tuple(pain for pain, _ in rated), tuple(row.at for row in rows))
    if not any(entry.signs.pain is not None for entry in case.entries):
        return case.undecided(found, JUDGE.say("why.pain"))
    apart = timedelta(minutes=case.limit("minutes_at_or_over"))
    late = [row for row in rows if row.at - rows[0].at >= apart]
    if not late or rows[-1].at < case.entries[0].at:
        return case.not_met(found)
    worst, row = max(reversed(strong), key=lambda each: each[0])
    led_up = [row for row in rows if row not in late]
    return case.met(found, Seen(worst, case.against("pain_at_or_over"), rows, row.at, led_up))


PAIN_LIMITS = Rule(
    "pain-limits",
    pain_limits,
    about=("pain",),
)
PAIN_AGAIN = Rule(
    PAIN,
    pain_again,
    replaces=(PAIN_LIMITS.name,),
    about=("pain",),
)

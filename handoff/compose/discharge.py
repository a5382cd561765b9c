"""The page that a patient takes home, in finished words: `Measures` -> `DischargePage`.

Input: hand-over, one patient's measures, words. Output: a `DischargePage`. Takes no verdicts,
notes, adherence or projection: text for the staff cannot get on it.
"""

from datetime import date
from itertools import pairwise
from zoneinfo import ZoneInfo

from msgspec.structs import replace

from handoff.compose.saying import Saying
from handoff.compose.words import Words
from handoff.model.measures import DayBest, Measures
from handoff.model.pages import Advice, DayBar, DischargePage, Fact, HomeLog
from handoff.model.ward import Handover, Order, Patient

DAYS_SHOWN = 7
DAYS_TO_FILL_IN = 7
STEPS = ("oxygen", "sit", "out", "lips", "in", "hold", "rest", "cough")
AMOUNT = ("do", "spread", "goal", "then", "until")
FEELINGS = ("dizzy", "sore", "coughing")
CALL_IF = ("breathless", "dizzy", "pain", "fever", "mucus", "drop")
EMERGENCY_IF = ("breathing", "chest", "blood", "faint", "lips", "confused")
LOG_COLUMNS = ("day", "morning", "afternoon", "evening", "best", "dizzy")
ANSWERS = ("yes", "no")


def compose_discharge(
    handover: Handover, measures: Measures, words: Words, other: Words | None = None
) -> DischargePage:
    """The page of one patient; and the log to fill in, where the exercise goes on at home. `other`
    are the words of the same page in another language, for what is printed side by side.
    """
    say, bests = _Say(handover, measures, words, other), _bests(measures, words)
    page = DischargePage(
        identity=_identity(measures.patient, words),
        title=say("title"),
        purpose=say.fact("purpose"),
        steps=say.advice("steps", STEPS),
        amount=say.advice("amount", AMOUNT),
        bests_title=say("bests.title"),
        bests=bests,
        no_bests="" if bests else say("bests.none"),
        feelings=tuple(say.fact(name) for name in FEELINGS),
        call=say.advice("call", CALL_IF),
        emergency=say.advice("emergency", EMERGENCY_IF),
        unit=say.fact("unit"),
        nobody_answers=say.fact("nobody"),
        device=say.fact("device"),
        standing=say("standing"),
        log=None,
    )
    log = _log(say, page.amount) if say.days_to_fill_in else None
    return replace(page, log=log, language=say.language())


class _Say(Saying):
    """The words of this page, with the facts that they may use."""

    def __init__(
        self, handover: Handover, measures: Measures, words: Words, other: Words | None
    ) -> None:
        patient, zone = measures.patient, handover.unit.time_zone
        today = handover.as_of.astimezone(zone).date()
        leaves_on = max(patient.home_on or today, today)
        order, *later = map(_as_stated, _from_leaving(measures, leaves_on, zone))
        last_stop = (later or [order])[-1].stop
        stops_on = last_stop.astimezone(zone).date() if last_stop else None
        stopped = not order.active_at(handover.as_of) and order.start <= handover.as_of
        held = measures.hold is not None
        ended = stopped or patient.order is None or _days_left(stops_on, leaves_on) == 0
        self.days_to_fill_in = 0 if held or ended else _days_left(stops_on, leaves_on)
        facts = {
            "unit": handover.unit,
            "order": order,
            "later": [
                (each.start.astimezone(zone).date(), each)
                for before, each in pairwise([order, *later])
                if (before.amount, before.goal_ml) != (each.amount, each.goal_ml)
            ],
            "unread": patient.not_known,
            "reached": (measures.volume.stay_best_ml or 0) >= (order.goal_ml or 0),
            "stops_on": stops_on,
            "stopped": stopped,
            "ended": ended,
            "held": held,
            "goes_on": self.days_to_fill_in > 0,
            "position_shown": patient.has_precautions,
            "shown": bool(patient.taught or patient.shown_back),
        }
        super().__init__("discharge", words, other, **facts)

    def advice(self, name: str, lines: tuple[str, ...]) -> Advice:
        sentences = (self(f"{name}.{line}") for line in lines)
        return Advice(self(f"{name}.title"), tuple(filter(None, sentences)))


def _from_leaving(measures: Measures, leaves_on: date, zone: ZoneInfo) -> list[Order]:
    """The order in force when the patient leaves, and those that follow it without a gap: the last
    that begins by the end of a planned day of going home, else by `as_of`.
    """
    periods = measures.periods
    first = periods.index(measures.order)
    if measures.patient.home_on:
        starts_on = [each.start.astimezone(zone).date() for each in periods]
        first = max(first, sum(day <= leaves_on for day in starts_on) - 1)
    followed = [periods[first]]
    for each in periods[first + 1 :]:
        if each.start != followed[-1].stop:
            break
        followed.append(each)
    return followed


def _as_stated(order: Order) -> Order:
    """The order, where a usual value that nobody wrote is not known: the patient is told no number
    that was not ordered.
    """
    return replace(order, not_known=(*order.not_known, *order.unstated))


def _days_left(stops_on: date | None, leaves_on: date) -> int:
    """How many days the log has: seven, fewer where the order stops before; none where it stops by
    the day of going home.
    """
    if stops_on is None:
        return DAYS_TO_FILL_IN
    after = (stops_on - leaves_on).days
    return min(after + 1, DAYS_TO_FILL_IN) if after > 0 else 0


def _identity(patient: Patient, words: Words) -> tuple[Fact, ...]:
    """Name and birth date, the two identifiers; a birth date not recorded is left to fill in."""
    born = "" if patient.born is None else words.long_full_day(patient.born)
    return (
        Fact(words.say("discharge.name"), words.isolated(patient.name)),
        Fact(words.say("discharge.born"), born),
    )


def _bests(measures: Measures, words: Words) -> tuple[DayBar, ...]:
    """The last seven days that have a number, oldest first."""
    days = measures.volume.by_day[-DAYS_SHOWN:]
    longest_ml = max((day.best_ml for day in days), default=0) or 1

    def bar(day: DayBest) -> DayBar:
        at_scale = measures.patient.is_at_scale(day.best_ml)
        value = words.say("discharge.bests.value", best_ml=day.best_ml, at_scale=at_scale)
        return DayBar(words.long_day(day.day), value, day.best_ml / longest_ml)

    return tuple(bar(day) for day in days)


def _log(say: _Say, amount: Advice) -> HomeLog:
    return HomeLog(
        title=say("log.title"),
        amount=say.again(amount.title, amount.lines),
        how=say("log.how"),
        columns=tuple(say.by_its_place(f"log.columns.{name}") for name in LOG_COLUMNS),
        days=tuple(
            say.by_its_place("log.day", number=number)
            for number in range(1, say.days_to_fill_in + 1)
        ),
        answers=tuple(say.by_its_place(f"log.answers.{name}") for name in ANSWERS),
        bring=say.fact("log.bring"),
        questions=say("log.questions"),
    )

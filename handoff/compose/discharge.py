"""The page that a patient takes home, in finished words: `Measures` -> `DischargePage`.

Input: hand-over, one patient's measures, words. Output: a `DischargePage`. Takes no verdicts,
notes, adherence or projection: text for the staff cannot get on it.
"""

from datetime import timedelta

from handoff.compose.words import Words
from handoff.model.measures import DayBest, Measures
from handoff.model.pages import Advice, DayBar, DischargePage, Fact, HomeLog
from handoff.model.ward import Handover, Patient

GOES_HOME_SOON = timedelta(days=1)
DAYS_SHOWN = 7
DAYS_TO_FILL_IN = 7
STEPS = ("sit", "out", "lips", "in", "hold", "rest", "cough")
AMOUNT = ("do", "spread", "goal", "until")
FEELINGS = ("dizzy", "sore", "coughing")
CALL_IF = ("dizzy", "pain", "fever", "mucus", "drop")
EMERGENCY_IF = ("breathing", "chest", "faint", "lips", "confused")
LOG_COLUMNS = ("day", "morning", "afternoon", "evening", "best", "dizzy")
ANSWERS = ("yes", "no")


def goes_home_soon(handover: Handover, patient: Patient) -> bool:
    """Planned to go home no later than the local day after the shift's end."""
    if patient.home_on is None:
        return False
    ends_on = handover.shift.end.astimezone(handover.unit.time_zone).date()
    return patient.home_on <= ends_on + GOES_HOME_SOON


def compose_discharge(handover: Handover, measures: Measures, words: Words) -> DischargePage:
    """The page of one patient, and the log to fill in."""
    say = _Say(handover, measures, words)
    amount = say.advice("amount", AMOUNT)
    return DischargePage(
        identity=_identity(measures.patient, words),
        title=say("title"),
        purpose=say.fact("purpose"),
        steps=say.advice("steps", STEPS),
        amount=amount,
        bests_title=say("bests.title"),
        bests=_bests(measures, words),
        no_bests=say("bests.none"),
        feelings=tuple(say.fact(name) for name in FEELINGS),
        unit=say.fact("unit"),
        call=say.advice("call", CALL_IF),
        emergency=say.advice("emergency", EMERGENCY_IF),
        device=say.fact("device"),
        standing=say("standing"),
        log=_log(say, amount),
    )


class _Say:
    """The words of this page, with the facts that they may use."""

    def __init__(self, handover: Handover, measures: Measures, words: Words) -> None:
        order, zone = measures.order, handover.unit.time_zone
        stop = order.stop
        self._words = words
        self._facts = {
            "unit": handover.unit,
            "order": order,
            "reached": measures.goal.reached_at is not None,
            "stops_on": stop.astimezone(zone).date() if stop else None,
            "stopped": stop is not None and stop <= handover.as_of,
            "shown": bool(measures.patient.taught or measures.patient.shown_back),
        }

    def __call__(self, name: str, /, **more: object) -> str:
        return self._words.say(f"discharge.{name}", **self._facts, **more)

    def fact(self, name: str) -> Fact:
        return Fact(self(f"{name}.label"), self(f"{name}.text"))

    def advice(self, name: str, lines: tuple[str, ...]) -> Advice:
        sentences = (self(f"{name}.{line}") for line in lines)
        return Advice(self(f"{name}.title"), tuple(filter(None, sentences)))


def _identity(patient: Patient, words: Words) -> tuple[Fact, ...]:
    """Name and birth date, the two identifiers; a birth date not recorded is left to fill in."""
    born = "" if patient.born is None else words.long_full_day(patient.born)
    return (
        Fact(words.say("discharge.name"), patient.name),
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
        amount=Fact(f"{amount.title}:", " ".join(amount.lines)),
        how=say("log.how"),
        columns=tuple(say(f"log.columns.{name}") for name in LOG_COLUMNS),
        days=tuple(say("log.day", number=number) for number in range(1, DAYS_TO_FILL_IN + 1)),
        answers=tuple(say(f"log.answers.{name}") for name in ANSWERS),
        bring=say.fact("log.bring"),
        questions=say("log.questions"),
    )

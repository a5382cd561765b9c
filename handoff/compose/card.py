"""The card on the patient's table, in finished words: `Coming` -> `CardPage`.

Input: results, one patient's measures and coming day, words. Output: a `CardPage`.
Whoever comes to the bed can read it: it takes no reason, sign, note or caution, of precautions only
whether there are any, and of the verdicts only whether the exercise waits. It is known by name (or
initials) and bed: nobody acts on it, so that it needs no second identifier and shows no id or birth
date. Never a number that is not recorded: what no cell states is left to the nurse.
"""

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from itertools import chain, groupby
from typing import Any

from handoff.compose.results import Results
from handoff.compose.saying import Saying
from handoff.compose.series import MOST_STEPS, STEPS_ML
from handoff.compose.words import Words, initials_of
from handoff.model.measures import Coming
from handoff.model.pages import CardPage, ColumnMark, Fact, ScaleColumn, TickBoxes
from handoff.model.ward import Order

STEPS = ("sit", "lips", "in", "hold", "rest")
DAYS = 6  # columns of the best of each day
DAYS_BEFORE = 3  # of these, at most, are of days that are over
AMOUNT = frozenset({"breaths", "every_h"})
ONCE_A_DAY_H = 24
OPEN_TOP = 1.2  # of the highest mark: where a column without a known scale is drawn to


def compose_card(
    results: Results,
    coming: Coming,
    words: Words,
    other: Words | None = None,
    *,
    initials: bool = False,
) -> CardPage:
    """The card of one patient. Where something is open for which no page asks for the exercise, or
    comfort care is ordered, the card says to ask the nurse, and not why. `other` are the words of
    the same card in another language, for what is printed with it.
    """
    patient, say = coming.measures.patient, _Say(results, coming, words, other)
    return CardPage(
        name=words.isolated(initials_of(patient.name) if initials else patient.name),
        bed=say("bed", bed=patient.bed),
        title=say("title"),
        wait=say.wait,
        steps=() if say.wait else tuple(say(f"steps.{name}") for name in STEPS),
        position_shown=patient.has_precautions,
        column=say.column(),
        progress=say.progress(),
        turns=() if say.wait else tuple(say.boxes()),
        stop=say.fact("stop"),
        days_title="" if say.wait else say("days.title"),
        days=() if say.wait else tuple(say.days()),
        foot=say("foot"),
        language=say.language(),
    )


class _Say(Saying):
    """The words of one card, with the facts that they may use."""

    def __init__(self, results: Results, coming: Coming, words: Words, other: Words | None) -> None:
        handover, measures, turns = results.handover, coming.measures, coming.turns
        patient, volume = measures.patient, measures.volume
        self._coming, self._zone = coming, handover.unit.time_zone
        order = turns[0].order if turns else measures.order
        goal_not_known = "goal_ml" in (*patient.not_known, *order.not_known)
        goal_ml = self._goal_ml(order)
        best_ml, scale_ml = volume.stay_best_ml, patient.device_scale_ml
        is_stated = "hold_s" not in (*order.not_known, *order.unstated)
        waits = results.verdicts[patient.id].holds_back
        why = _why_waiting(coming, handover.as_of, waits=waits)
        over_scale = goal_ml is not None and scale_ml is not None and goal_ml > scale_ml
        reached = goal_ml is not None and best_ml is not None and best_ml >= goal_ml
        self._first_day = self._day(next(chain(*(each.starts for each in turns)), handover.as_of))
        best_on = volume.stay_best_at and self._day(volume.stay_best_at)
        if best_on and not why and best_on >= self._first_day:
            best_on = None  # its cell is blank, to be written when the day is over
        self._known: dict[str, Any] = {
            "position_shown": patient.has_precautions,
            "hold_s": order.hold_s if is_stated else None,
            "goal_not_known": goal_not_known,
            "goal_ml": None if why else goal_ml,  # nobody who waits is given an aim
            "goal_over_scale": over_scale,
            "best_ml": best_ml,
            "best_on": best_on,
            "best_at_scale": patient.is_at_scale(best_ml),
            "scale_ml": scale_ml,
            "reached": reached,
            "shown": bool(patient.taught or patient.shown_back),
            "starts_on": self._day(order.start),
            "waits": bool(why),
            "as_of": handover.as_of,
            "as_of_day": self._day(handover.as_of),
        }
        super().__init__("card", words, other, **self._known)
        self.wait = self(f"wait.{why}") if why else ""

    def _goal_ml(self, order: Order) -> float | None:
        not_known = self._coming.measures.patient.not_known, order.not_known
        return None if "goal_ml" in chain(*not_known) else order.goal_ml

    def _day(self, instant: datetime) -> date:
        return instant.astimezone(self._zone).date()

    def progress(self) -> str:
        """Goal and best in sentences; no goal for a patient who waits."""
        goal = "" if self.wait else self("goal")
        return " ".join(filter(None, (goal, self("best"))))

    def column(self) -> ScaleColumn | None:
        """The drawn column; None where neither its scale nor a mark on it is known."""
        facts = self._known
        goal_ml, best_ml, scale_ml = (facts[name] for name in ("goal_ml", "best_ml", "scale_ml"))
        top_ml = scale_ml or OPEN_TOP * max(goal_ml or 0, best_ml or 0)
        if not top_ml:
            return None

        def mark(name: str, volume_ml: float | None, *, at_scale: bool) -> ColumnMark | None:
            if volume_ml is None:
                return None
            value = self.by_its_place("column.value", volume_ml=volume_ml, at_scale=at_scale)
            over = volume_ml > top_ml
            return ColumnMark(
                min(volume_ml / top_ml, 1), self.by_its_place(f"column.{name}"), value, over
            )

        return ScaleColumn(
            numbers=tuple(self._numbers(scale_ml)) if scale_ml else (),
            goal=mark("goal", goal_ml, at_scale=False),
            best=mark("best", best_ml, at_scale=bool(facts["best_at_scale"])),
            alt=self.by_its_place("column.alt"),
        )

    def _numbers(self, scale_ml: float) -> Iterable[tuple[float, str]]:
        """The numbers of the scale at round steps, and the one at its top."""
        step_ml = next((step for step in STEPS_ML if scale_ml <= step * MOST_STEPS), STEPS_ML[-1])
        steps = range(0, int(scale_ml) + 1, step_ml)
        for volume_ml in (*(each for each in steps if scale_ml - each > step_ml / 2), scale_ml):
            yield volume_ml / scale_ml, self.by_its_place("column.number", volume_ml=volume_ml)

    def boxes(self) -> Iterable[TickBoxes]:
        """The boxes of each order of the coming day."""
        goal_ml = self._known["goal_ml"]
        for number, each in enumerate(self._coming.turns):
            order, starts = each.order, each.starts
            before_ml, goal_ml = goal_ml, self._goal_ml(order)
            is_stated = order.is_readable and AMOUNT.isdisjoint(order.unstated)
            shown = starts if is_stated else ()
            begins = order.start if number else None
            days = [
                (day, tuple(self._label(order, at) for at in of_day))
                for day, of_day in groupby(shown, key=self._day)
            ]
            heard = [(day, ", ".join(filter(None, of_day))) for day, of_day in days]
            shown_days = ((self.by_its_place("turns.day", day=day), each) for day, each in days)
            yield TickBoxes(
                words=self(
                    "turns.amount",
                    stated=is_stated,
                    breaths=order.breaths,
                    every_h=order.every_h,
                    from_day=begins and self._day(begins),
                    from_hour=begins and self._hour(begins),
                    next_goal_ml=None if goal_ml == before_ml else goal_ml,
                ),
                days=tuple(shown_days),
                alt=self.by_its_place("turns.alt", count=len(shown), days=heard),
            )

    def _label(self, order: Order, at: datetime) -> str:
        """The hour of a box; once a day has none."""
        return "" if order.every_h == ONCE_A_DAY_H else self._hour(at)

    def _hour(self, instant: datetime) -> str:
        local = instant.astimezone(self._zone)
        return self.by_its_place("turns.hour", hour=local.hour, minute=local.minute)

    def days(self) -> Iterable[Fact]:
        """The best of the days before the first day of the card, and room for those from it on."""
        measures, first = self._coming.measures, self._first_day
        before = [each for each in measures.volume.by_day if each.day < first]
        shown = before[-DAYS_BEFORE:]
        for each in shown:
            at_scale = measures.patient.is_at_scale(each.best_ml)
            value = self.by_its_place("days.value", volume_ml=each.best_ml, at_scale=at_scale)
            yield Fact(self.by_its_place("days.day", day=each.day), value)
        for number in range(DAYS - len(shown)):
            day = first + timedelta(days=number)
            yield Fact(self.by_its_place("days.day", day=day), "")


def _why_waiting(coming: Coming, as_of: datetime, *, waits: bool) -> str:
    """Which words say that the patient is not to begin; '' where breaths are due."""
    if coming.measures.hold is not None:
        return "held"
    if waits or coming.measures.comfort_care:
        return "ask"
    if coming.turns:
        return ""
    order = coming.measures.order
    if order.start > as_of:
        return "later"
    return "ask" if order.active_at(as_of) else "ended"  # it ends before a box comes

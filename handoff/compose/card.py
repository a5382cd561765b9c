"""The card on the patient's table, in finished words: `Measures` -> `CardPage`.

Input: results, one patient's measures and turns of the coming day, words. Output: a `CardPage`.
Whoever comes to the bed can read it: it takes no reason, precaution, sign, note or caution, and of
the verdicts only whether the exercise waits. It is known by name (or initials) and bed: nobody acts
on it, so that it needs no second identifier and shows no id or birth date. Never a number that is
not recorded: what no cell states is left to the nurse.
"""

from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta
from itertools import groupby
from typing import Any

from handoff.compose.results import Results
from handoff.compose.series import MOST_STEPS, STEPS_ML
from handoff.compose.words import Words, initials_of
from handoff.model.measures import Measures, Turns
from handoff.model.pages import CardPage, ColumnMark, Fact, ScaleColumn, TickBoxes
from handoff.model.ward import Handover, Order

STEPS = ("sit", "lips", "in", "hold", "rest")
DAYS = 6  # columns of the best of each day
DAYS_BEFORE = 3  # of these, at most, are of days that are over
AMOUNT = frozenset({"breaths", "every_h"})
ONCE_A_DAY_H = 24
OPEN_TOP = 1.2  # of the highest mark: where a column without a known scale is drawn to


def compose_card(
    results: Results,
    measures: Measures,
    turns: Sequence[Turns],
    words: Words,
    *,
    initials: bool = False,
) -> CardPage:
    """The card of one patient. Where something is open for which no page asks for the exercise, the
    card says to ask the nurse, and not why.
    """
    patient, handover = measures.patient, results.handover
    zone = handover.unit.time_zone
    waits = results.verdicts[patient.id].holds_back
    say = _Say(handover, measures, turns, words, waits=waits)
    first_day = (turns[0].starts[:1] or (handover.as_of,))[0] if turns else handover.as_of
    return CardPage(
        name=initials_of(patient.name) if initials else patient.name,
        bed=words.say("card.bed", bed=patient.bed),
        title=words.say("card.title"),
        wait=say.wait,
        steps=() if say.wait else tuple(say(f"steps.{name}") for name in STEPS),
        column=say.column(),
        progress=say.progress(),
        turns=() if say.wait else tuple(say.boxes(turns)),
        stop=Fact(say("stop.label"), say("stop.text")),
        days_title="" if say.wait else say("days.title"),
        days=() if say.wait else tuple(say.days(first_day.astimezone(zone).date())),
        foot=words.say("card.foot", as_of=handover.as_of),
    )


class _Say:
    """The words of one card, with the facts that they may use."""

    def __init__(
        self,
        handover: Handover,
        measures: Measures,
        turns: Sequence[Turns],
        words: Words,
        *,
        waits: bool,
    ) -> None:
        patient, volume = measures.patient, measures.volume
        self._words, self._measures, self._zone = words, measures, handover.unit.time_zone
        order = turns[0].order if turns else measures.order
        goal_not_known = "goal_ml" in (*patient.not_known, *order.not_known)
        goal_ml = None if goal_not_known else order.goal_ml
        best_ml, scale_ml = volume.stay_best_ml, patient.device_scale_ml
        is_stated = "hold_s" not in (*order.not_known, *order.unstated)
        over_scale = goal_ml is not None and scale_ml is not None and goal_ml > scale_ml
        reached = goal_ml is not None and best_ml is not None and best_ml >= goal_ml
        self._facts: dict[str, Any] = {
            "hold_s": order.hold_s if is_stated else None,
            "goal_not_known": goal_not_known,
            "goal_ml": goal_ml,
            "goal_over_scale": over_scale,
            "best_ml": best_ml,
            "best_on": volume.stay_best_at and self._day(volume.stay_best_at),
            "best_at_scale": patient.is_at_scale(best_ml),
            "scale_ml": scale_ml,
            "reached": reached,
            "shown": bool(patient.taught or patient.shown_back),
            "starts_on": self._day(order.start),
        }
        self.wait = self._wait(handover, turns, waits=waits)
        self._facts["waits"] = bool(self.wait)
        if self.wait:  # nobody who waits is given an aim
            self._facts["goal_ml"] = None

    def __call__(self, name: str, /, **more: object) -> str:
        return self._words.say(f"card.{name}", **{**self._facts, **more})

    def _wait(self, handover: Handover, turns: Sequence[Turns], *, waits: bool) -> str:
        if self._measures.hold is not None:
            return self("wait.held")
        if waits:
            return self("wait.ask")
        if turns:
            return ""
        return self("wait.later" if self._measures.order.start > handover.as_of else "wait.ended")

    def _day(self, instant: datetime) -> date:
        return instant.astimezone(self._zone).date()

    def progress(self) -> str:
        """Goal and best in sentences; no goal for a patient who waits."""
        return " ".join([*([] if self.wait else [self("goal")]), self("best")])

    def column(self) -> ScaleColumn | None:
        """The drawn column; None where neither its scale nor a mark on it is known."""
        facts = self._facts
        goal_ml, best_ml, scale_ml = (facts[name] for name in ("goal_ml", "best_ml", "scale_ml"))
        top_ml = scale_ml or OPEN_TOP * max(goal_ml or 0, best_ml or 0)
        if not top_ml:
            return None

        def mark(name: str, volume_ml: float | None, *, at_scale: bool) -> ColumnMark | None:
            if volume_ml is None:
                return None
            value = self("column.value", volume_ml=volume_ml, at_scale=at_scale)
            over = volume_ml > top_ml
            return ColumnMark(min(volume_ml / top_ml, 1), self(f"column.{name}"), value, over)

        return ScaleColumn(
            numbers=tuple(_numbers(scale_ml)) if scale_ml else (),
            goal=mark("goal", goal_ml, at_scale=False),
            best=mark("best", best_ml, at_scale=bool(facts["best_at_scale"])),
            alt=self("column.alt"),
        )

    def boxes(self, turns: Iterable[Turns]) -> Iterable[TickBoxes]:
        """The boxes of each order of the coming day."""
        for number, each in enumerate(turns):
            order, starts = each.order, each.starts
            is_stated = order.is_readable and AMOUNT.isdisjoint(order.unstated)
            shown = starts if is_stated else ()
            begins = order.start if number else None
            days = [
                (day, tuple(self._label(order, at) for at in of_day))
                for day, of_day in groupby(shown, key=self._day)
            ]
            heard = [(day, ", ".join(filter(None, of_day))) for day, of_day in days]
            yield TickBoxes(
                words=self(
                    "turns.amount",
                    stated=is_stated,
                    breaths=order.breaths,
                    every_h=order.every_h,
                    from_day=begins and self._day(begins),
                    from_hour=begins and self._hour(begins),
                ),
                days=tuple((self("turns.day", day=day), of_day) for day, of_day in days),
                alt=self("turns.alt", count=len(shown), days=heard),
            )

    def _label(self, order: Order, at: datetime) -> str:
        """The hour of a box; once a day has none."""
        return "" if order.every_h == ONCE_A_DAY_H else self._hour(at)

    def _hour(self, instant: datetime) -> str:
        local = instant.astimezone(self._zone)
        return self("turns.hour", hour=local.hour, minute=local.minute)

    def days(self, first: date) -> Iterable[Fact]:
        """The best of the days before the first day of the card, and room for those from it on."""
        before = [each for each in self._measures.volume.by_day if each.day < first]
        shown = before[-DAYS_BEFORE:]
        for each in shown:
            at_scale = self._measures.patient.is_at_scale(each.best_ml)
            value = self("days.value", best_ml=each.best_ml, at_scale=at_scale)
            yield Fact(self._words.long_day(each.day), value)
        for number in range(DAYS - len(shown)):
            yield Fact(self._words.long_day(first + timedelta(days=number)), "")


def _numbers(scale_ml: float) -> Iterable[tuple[float, str]]:
    """The numbers of the scale at round steps, and the one at its top."""
    step_ml = next((step for step in STEPS_ML if scale_ml <= step * MOST_STEPS), STEPS_ML[-1])
    for volume_ml in range(0, int(scale_ml) + 1, step_ml):
        if volume_ml == 0 or scale_ml - volume_ml > step_ml / 2:
            yield volume_ml / scale_ml, f"{volume_ml:,}"
    yield 1, f"{scale_ml:,g}"

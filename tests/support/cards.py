"""Patients with a card on their table: with every kind of order, held, open or not yet begun."""

from datetime import time
from typing import Any

from msgspec.structs import replace

from handoff.compose.card import compose_card
from handoff.compose.words import Words
from handoff.measure import find_coming
from handoff.model.pages import CardPage
from handoff.model.ward import Entry, Handover, Order, Unit
from tests.support.builders import UNIT, entry, handover, order, patient
from tests.support.sheets import results, words

QUIET = replace(UNIT, quiet_hours=(time(22), time(6)))
STAY = order("-3 07:00", goal_ml=2000)
GOOD = entry("-1 09:00", volume_ml=1500), entry("12:00", volume_ml=1250)
HELD = entry("10:00", what="hold", note="Dr Quill: nose bleed")
FAINT = entry("18:00", "faint", volume_ml=1500, spo2=81)


def card(
    given: Handover,
    said: Words | None = None,
    own: str | None = None,
    *,
    other: Words | None = None,
    initials: bool = False,
) -> CardPage:
    """The card of the hand-over's one patient, who is judged."""
    found = results(given)
    (measures,) = found.measures.values()
    said = said or words(given.unit.time_zone, own)
    return compose_card(found, find_coming(given, measures), said, other, initials=initials)


def of_one(*entries: Entry, unit: Unit = QUIET, **fields: Any) -> Handover:
    fields = {"order": STAY, **fields}
    start = fields["order"].start
    one = patient(**fields)
    return replace(handover(*entries, patients=(one,), unit=unit), stay_start={one.id: start})


def of_orders(*orders: Order) -> Handover:
    *earlier, last = orders
    return of_one(order=last, earlier_orders=tuple(earlier))


GIVEN = [
    of_one(*GOOD),
    of_one(*GOOD, unit=UNIT, device_scale_ml=None, precautions="flat"),
    of_one(),
    of_one(order=order("07:00", breaths=1, every_h=24, hold_s=0), taught=None, shown_back=None),
    of_one(entry("09:00", volume_ml=4000), order=order("07:00", every_h=3, hold_s=1, goal_ml=4500)),
    of_one(entry("-1 09:00", volume_ml=4000), entry("09:00", volume_ml=900)),
    of_one(order=order("07:00", breaths=3, not_known=("hold_s", "breaths")), unread=("goal_ml",)),
    of_orders(order("07:00"), order("+1 13:30", breaths=1, every_h=24, goal_ml=1500)),
    of_orders(order("07:00"), order("+1 13:00", not_known=("breaths",))),
    of_one(*GOOD, HELD),
    of_one(HELD, taught=None, shown_back=None),
    of_one(*GOOD, FAINT),
    of_one(order=order("07:00", "18:00")),
    of_one(order=order("+2 07:00")),
    of_one(entry("09:00", volume_ml=1200)),
]

"""Patients who go home: with every kind of order, without one, held, stopped or not readable."""

from collections.abc import Iterator
from typing import Any

from msgspec.structs import replace

from handoff.model.pages import DischargePage
from handoff.model.ward import Entry, Handover, Order, Unit
from tests.support.builders import UNIT, entry, handover, order, patient
from tests.support.cases import DANGER_BEFORE, without_order_now

WITH_PHONE = replace(UNIT, home_phone="902-555-0144")
STAY = order("-30 07:00", goal_ml=2000)


def of_one(*entries: Entry, unit: Unit = UNIT, **fields: Any) -> Handover:
    return handover(*entries, patients=(patient(**fields),), unit=unit)


def days(count: int, volume_ml: int = 1000, gain_ml: int = 10) -> list[Entry]:
    """A reading on each of so many days, a little better each day, the last on the shift's."""
    return [
        entry(f"-{count - 1 - day} 09:00", volume_ml=volume_ml + gain_ml * day)
        for day in range(count)
    ]


FIRST = order("-1 08:00", "+2 08:00", goal_ml=1500)  # its end is the start of the next
NEXT = order("+1 08:00", breaths=5, every_h=2, goal_ml=900)


def of_orders(*orders: Order, **fields: Any) -> Handover:
    """The hand-over of a patient with these orders, whose best is 1,000 mL."""
    *earlier, last = orders
    one = patient(order=last, earlier_orders=tuple(earlier), **fields)
    return handover(entry("09:00", volume_ml=1000), patients=(one,), stay_start="-1 08:00")


NOT_SHOWN: dict[str, Any] = {"taught": False, "shown_back": False}
NOT_KNOWN = ("breaths", "every_h", "goal_ml", "hold_s")
GONE_FROM_THE_LIST = without_order_now(DANGER_BEFORE)
GIVEN = [
    of_one(*days(7), order=STAY, unit=WITH_PHONE),
    of_one(order=order("07:00", breaths=200, every_h=24, hold_s=0)),
    of_one(order=order("07:00", "18:00", breaths=1, every_h=3, hold_s=2.5, goal_ml=2250)),
    of_one(entry("09:00", volume_ml=2250), order=order("07:00", "+1 18:00", hold_s=1, goal_ml=50)),
    of_one(entry("09:00", volume_ml=4000), order=order("07:00", "20:00", every_h=2), **NOT_SHOWN),
    of_one(order=order("07:00"), precautions="flat", **NOT_SHOWN),
    of_one(entry("10:00", what="hold", note="Dr Quill"), order=order("07:00")),
    of_one(order=order("07:00", breaths=3, not_known=NOT_KNOWN), unread=("goal_ml",)),
    of_one(order=order("07:00", "18:00", not_known=NOT_KNOWN), unread=("goal_ml",)),
    of_orders(FIRST, NEXT, order("+2 08:00", breaths=1, every_h=24, goal_ml=900)),
    of_orders(FIRST, order("+1 08:00", not_known=NOT_KNOWN), order("+2 08:00", goal_ml=1500)),
    GONE_FROM_THE_LIST,
    replace(
        GONE_FROM_THE_LIST,
        lapsed={key: replace(each, stop=None) for key, each in GONE_FROM_THE_LIST.lapsed.items()},
    ),
]


def sentences(page: DischargePage) -> Iterator[str]:
    """All running text of all pages; no headings, and not what the log puts in (name, phone)."""
    yield from (page.purpose.value, page.device.value, page.standing, page.nobody_answers.value)
    if page.log:
        yield from (page.log.how, page.log.bring.value)
    yield from (*page.steps.lines, *page.amount.lines, *page.call.lines, *page.emergency.lines)
    yield from (fact.value for fact in page.feelings)
    if not page.bests:
        yield page.no_bests

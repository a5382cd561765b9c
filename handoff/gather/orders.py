"""The orders of a stay: what holds on where a log leaves it blank, and the periods they make.

Input: the shifts of a stay that list a patient, in time order. Output: the same shifts with these
blanks filled, the periods, and findings for the latest. A blank says nothing against a value: all
of an order holds on until another start, its goal and own limits also then unless the patient left
between, and precautions until a word that ends them.
"""

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from itertools import pairwise
from zoneinfo import ZoneInfo

from msgspec.structs import replace

from handoff.gather.presence import Listed
from handoff.gather.stays import Return
from handoff.log.disputes import LIMITS
from handoff.log.entries import local
from handoff.log.fields import ORDER_PARTS
from handoff.model.codes import finding
from handoff.model.findings import Finding
from handoff.model.ward import Order, Patient, periods_of

# A start makes an order, and a stop may have been taken back.
HOLDS_ON = {name: part for name, part in ORDER_PARTS.items() if part not in {"start", "stop"}}
INTO_THE_NEXT = LIMITS | {"goal_ml"}  # hold on in an order with another start too


def carry_on(listed: Sequence[Listed], returns: Sequence[Return]) -> tuple[Listed, ...]:
    """The shifts of one stay, each with what the one before it said and it leaves blank."""
    known: list[Listed] = []
    for each in listed:
        patient = _filled(each.patient, known[-1].patient if known else None, returns)
        known.append(replace(each, patient=patient))
    return tuple(known)


def not_repeated(
    listed: Sequence[Listed], known: Sequence[Listed], returns: Sequence[Return]
) -> Iterator[Finding]:
    """A finding where the last log of a stay leaves blank what still holds."""
    if not listed:
        return
    written, patient = _filled(listed[-1].patient, None, returns), known[-1].patient
    differing = {
        name
        for one, other in zip(written.orders, patient.orders, strict=True)
        for name, part in HOLDS_ON.items()
        if getattr(one, part) != getattr(other, part)
    }
    names = ["precautions"] if written.precautions != patient.precautions else []
    names += [name for name in HOLDS_ON if name in differing]
    if names:
        yield finding("not-repeated", patient.place, names[0], patient.id, names=", ".join(names))


def not_taken_over(known: Sequence[Listed], zone: ZoneInfo) -> Iterator[Finding]:
    """A finding where an order of the last log, in none before, is silent on comfort care or usual
    symptoms, which the order before it had. A blank is no 'no', and whether they still hold is not
    known.
    """
    if not known:
        return
    *before, last = known
    earlier = {order.start: order for each in before for order in each.patient.orders}
    every = earlier | {order.start: order for order in last.patient.orders}
    for one, other in pairwise(every[start] for start in sorted(every)):
        names = ["usual_symptoms"] if one.usual_symptoms and not other.usual_symptoms else []
        names += ["comfort_care"] if one.comfort_care and other.comfort_care is None else []
        names = [name for name in names if name not in other.not_known]
        if names and other.start not in earlier:
            words = {"start": local(other.start, zone), "names": ", ".join(names)}
            words |= {"patient": last.patient.id}
            yield finding("not-taken-over", last.patient.place, names[0], **words)


def left_out(known: Sequence[Listed], zone: ZoneInfo) -> Iterator[Finding]:
    """A finding where the last log of a stay has no order, and one of an earlier log still ran."""
    *before, last = known
    ordered = [order for each in before[::-1] for order in each.patient.orders[-1:]]
    if last.patient.orders or last.patient.order_lacks_start or not ordered:
        return
    order, shift_start = ordered[0], last.shift.start
    if order.stop is None or order.stop > shift_start:
        words = {"patient": last.patient.id, "start": local(order.start, zone)}
        yield finding("order-left-out", last.patient.place, "order_start", **words)


def periods_of_stay(known: Sequence[Listed], returns: Sequence[Return]) -> tuple[Order, ...]:
    """The periods of a patient's order in one stay, the latest log's word first. An order that an
    earlier log has with other values has changed at the later log's shift start. A log that lists
    the patient without an order ends it there, and a patient who left and came back with another
    order ended it on leaving.
    """
    periods: list[tuple[datetime, Order]] = []  # each with its start as written
    for each in known:
        if not each.patient.orders:
            periods = [(start, _ended(period, each.shift.start)) for start, period in periods]
        for order in each.patient.orders:
            same = next((both for both in reversed(periods) if both[0] == order.start), None)
            begins = order.start
            if same:
                changed = _changes(same[1], order)
                begins = max(begins, each.shift.start) if changed else same[1].start
            periods = [both for both in periods if both[1].start < begins]
            periods.append((order.start, replace(order, start=begins)))
    for left in (each.left.at for each in returns):
        periods = [
            (start, _ended(period, left) if start <= left else period)
            for start, period in periods
            if start > left or period.start < left
        ]
    return periods_of(period for _, period in periods)


def not_stated(patient: Patient) -> Iterator[Finding]:
    """A finding where nothing says how many breaths are ordered, nor how often; not of comfort care
    whose stop is written, in which no exercise is ordered any more.
    """
    order = patient.order
    if order and order.is_unstated and not (order.comfort_care and order.stop):
        words = {"patient": patient.id}
        yield finding("order-not-stated", patient.place, "order_breaths", **words)


def order_changed(known: Sequence[Listed], zone: ZoneInfo) -> Iterator[Finding]:
    """A finding where the last log has other values of an order that the one before has too."""
    for before, now in [known[-2:]] if known[1:] else []:
        written = {order.start: order for order in before.patient.orders}
        for order in now.patient.orders:
            names = _changes(written[order.start], order) if order.start in written else []
            if names:
                words = {"start": local(order.start, zone), "names": ", ".join(names)}
                words |= {"patient": now.patient.id}
                yield finding("order-changed", now.patient.place, names[0], **words)


def _changes(before: Order, now: Order) -> list[str]:
    """The names of the parts that have another value. A stop may move, and the name of who ordered
    it be added, without another order.
    """
    return [
        name
        for name, part in HOLDS_ON.items()
        if part != "by" and getattr(before, part) != getattr(now, part)
    ]


def _ended(order: Order, at: datetime) -> Order:
    return replace(order, stop=min(order.stop or at, at))


def _filled(patient: Patient, before: Patient | None, returns: Sequence[Return]) -> Patient:
    """The patient with the blanks filled. A cell that cannot be read or is disputed is no blank.
    Nothing of an order holds on in one with which the patient came back.
    """
    precautions = before.precautions if before else None
    if patient.precautions is None and precautions and "precautions" not in patient.not_known:
        patient = replace(patient, precautions=precautions)
    earlier = before.orders if before else ()
    orders: list[Order] = []
    for order in patient.orders:
        same = next((each for each in earlier if each.start == order.start), None)
        since = max((each.left.at for each in returns if each.start <= order.start), default=None)
        begun = [
            each
            for each in (*reversed(orders), *earlier)
            if each.start < order.start and (since is None or each.start > since)
        ]
        if same:
            orders.append(_holding_on(order, same, HOLDS_ON.values()))
        elif begun:
            before_it = max(begun, key=lambda each: each.start)
            orders.append(_holding_on(order, before_it, INTO_THE_NEXT))
        else:
            orders.append(order)
    if not orders:
        return patient
    return replace(patient, order=orders[-1], earlier_orders=tuple(orders[:-1]))


def _holding_on(order: Order, before: Order, parts: Iterable[str]) -> Order:
    """The order with its blanks among the parts filled from the one before."""
    filled = {
        part: getattr(before, part)
        for part in parts
        if part not in order.not_known
        and (getattr(order, part) in (None, ()) or part in order.unstated)
    }
    unstated = tuple(
        part for part in order.unstated if part not in filled or part in before.unstated
    )
    disputed = {*order.disputed_limits, *(filled.keys() & set(before.disputed_limits))}
    return replace(order, **filled, unstated=unstated, disputed_limits=tuple(sorted(disputed)))

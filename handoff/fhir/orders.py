"""The orders of a patient as resources: what is due, what it aims at, the patient's own limits.

Input: orders of the model. Output: ServiceRequests, Goals and Observations. They are the record's
own: only ever written to a file, never sent.
"""

from collections.abc import Iterator
from typing import Any

from handoff.fhir.elements import (
    UNREADABLE,
    Resource,
    Subject,
    absent_extension,
    filled,
    period,
    quantity,
    refer,
    resource,
    symptoms,
)
from handoff.model.ward import Order

# By the order's own names: the sign that a limit is of, and which end of its range it is.
LIMITS = {
    "spo2_min": ("spo2", "low"),
    "spo2_max": ("spo2", "high"),
    "resp_rate_min": ("resp-rate", "low"),
    "resp_rate_max": ("resp-rate", "high"),
    "pulse_min": ("pulse", "low"),
    "pulse_max": ("pulse", "high"),
    "temp_max": ("temperature", "high"),
}


class Orders:
    """Makes the resources of one patient's orders."""

    def __init__(self, subject: Subject) -> None:
        self.subject = subject
        self.codes = subject.codes

    def request(
        self, order: Order | None, before: Resource | None, status: str = "active"
    ) -> Resource:
        """One order, which replaces the one before; None where it is written without its start."""
        codes = self.codes
        repeat: dict[str, object] = {}
        amount = None
        if order:
            repeat["boundsPeriod"] = period(order.start, order.stop)
            if "every_h" not in order.unstated:
                repeat |= {"frequency": 1, "period": order.every_h, "periodUnit": "h"}
            if "breaths" not in order.unstated:
                amount = quantity(codes, "breaths", order.breaths)
            if "breaths" in order.not_known:
                amount = absent_extension(codes, UNREADABLE)
        is_lost = order is None or not {"stop", "every_h"}.isdisjoint(order.not_known)
        lost = absent_extension(codes, UNREADABLE) if is_lost else {}
        return resource(
            "ServiceRequest",
            self.subject.identifier("order", order.start if order else None),
            status=status,
            intent="order",
            replaces=[refer(before)] if before else [],
            code=codes.concept("exercise"),
            subject=self.subject.reference,
            quantityQuantity=amount,
            occurrenceTiming={**lost, **filled({"repeat": repeat})},
            requester={"display": order.by} if order and order.by else None,
        )

    def goal(self, order: Order, request: Resource) -> Iterator[Resource]:
        """What the order aims at, and its own limits, where it says so. Of an order that another
        has replaced nothing is aimed at any more.
        """
        is_over = request["status"] == "completed"
        targets = list(self._targets(order))
        if targets:
            yield resource(
                "Goal",
                self.subject.identifier("goal", order.start),
                lifecycleStatus="completed" if is_over else "active",
                description={"text": self.codes.concepts["exercise"].text},
                subject=self.subject.reference,
                addresses=[refer(request)],
                target=targets,
            )

    def _targets(self, order: Order) -> Iterator[dict[str, Any]]:
        codes = self.codes

        def target(name: str, **detail: object) -> dict[str, Any]:
            return {"measure": codes.concept(name), **detail}

        lost = absent_extension(codes, UNREADABLE)

        def aim(name: str, concept: str) -> dict[str, Any] | None:
            if name in order.not_known:
                return lost
            value = None if name in order.unstated else getattr(order, name)
            return None if value is None else quantity(codes, concept, value)

        for name, concept in (("goal_ml", "exercise"), ("hold_s", "hold")):
            wanted = aim(name, concept)
            if wanted:
                yield target(concept, detailQuantity=wanted)
        ranges: dict[str, dict[str, Any]] = {}
        for name, (sign, end) in LIMITS.items():
            limit = aim(name, sign)
            if limit:
                ranges.setdefault(sign, {})[end] = limit
        for sign, limits in ranges.items():
            yield target(sign, detailRange=limits)

    def besides(self, order: Order, request: Resource) -> Iterator[Resource]:
        """What is usual for the patient, and comfort care, as the order says."""
        usual = symptoms(self.codes, order.usual_symptoms)
        for concept, said in (
            ("usual-symptoms", {"component": usual}),
            ("comfort-care", {"valueBoolean": order.comfort_care}),
        ):
            if filled(said):
                yield resource(
                    "Observation",
                    self.subject.identifier(concept, order.start),
                    status="final",
                    code=self.codes.concept(concept),
                    subject=self.subject.reference,
                    basedOn=[refer(request)],
                    **said,
                )

"""The finished results of one patient's shift as resources: numbers, dangers, printed pages.

Input: measures, verdicts and PDFs. Output: Observations, Flags and DocumentReferences. Computes
nothing. No code of these is among those that are read: a result never becomes a reading.
"""

import base64
import hashlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import datetime
from typing import Any

from msgspec import field

from handoff.fhir.elements import (
    NOT_APPLICABLE,
    Resource,
    Subject,
    absent,
    category,
    component,
    period,
    quantity,
    resource,
)
from handoff.model.frozen import Frozen
from handoff.model.matters import MatterState, Verdicts
from handoff.model.measures import Measures
from handoff.model.verdicts import Level
from handoff.model.ward import Entry, Handover

Value = tuple[str, float | None]  # the name of a result, and its value
FLAGGED = (Level.ESCALATE, Level.FOLLOW_UP)
PDF = "application/pdf"


class Findings(Frozen):
    """What was found of one patient, and printed.

    `pages` has the PDFs by the name of their code. A patient who is not measured has neither
    measures nor verdicts.
    """

    measures: Measures | None = None
    verdicts: Verdicts | None = None
    pages: Mapping[str, bytes] = field(default_factory=dict)


# The reference to a row, None for one that is not sent.
Referring = Callable[[Entry], dict[str, Any] | None]


class Results:
    """Makes the resources of one patient's results."""

    def __init__(self, subject: Subject, handover: Handover, refer_to: Referring) -> None:
        self.subject = subject
        self.codes = subject.codes
        self.shift = handover.shift
        self.period = period(self.shift.start, min(handover.as_of, self.shift.end))
        self.is_over = handover.as_of >= self.shift.end
        self.refer_to = refer_to

    def numbers(self, measures: Measures, verdicts: Verdicts) -> Iterator[Resource]:
        """One Observation for each result, also for one that there is none of."""
        done, volume, trend = measures.adherence, measures.volume, measures.trend
        exercises = [each for each in measures.shift_entries if each.is_exercise]
        best = [volume.best] if volume.best else []
        counts: list[Value] = [
            ("breaths-done", done.breaths_done),
            ("breaths-due", done.breaths_due),
            ("spans-due", done.slots_due),
            ("spans-met", done.slots_met),
            ("spans-not-charted", done.slots_uncharted),
        ]
        yield self._number(("adherence", done.percent), counts, exercises)
        yield self._number(("best-volume", volume.best_ml), [], best)
        given = trend.is_given(fell=verdicts.fell)
        slope = trend.slope_ml_per_day if given else None
        interval: list[Value] = [("trend-low", trend.low), ("trend-high", trend.high)]
        points = [each.entry for each in trend.points]
        about = [("trend-points", float(trend.n)), *(interval if given else [])]
        direction = str(trend.direction).replace("_", " ") if given else None
        yield self._number(("trend", slope), about, points, direction)
        yield self._number(("percent-of-goal", measures.goal.percent), [], best)

    def _number(
        self,
        result: Value,
        parts: Iterable[Value],
        rows: Iterable[Entry],
        direction: str | None = None,
    ) -> Resource:
        codes, (name, value) = self.codes, result
        components = [
            component(codes, part, valueQuantity=quantity(codes, part, each))
            for part, each in parts
            if each is not None
        ]
        if direction:
            components.append(component(codes, "trend-direction", valueString=direction))
        return resource(
            "Observation",
            self.subject.identifier(name, self.shift.start),
            status="final" if self.is_over else "preliminary",
            category=category(codes, "activity"),
            code=codes.concept(name),
            subject=self.subject.reference,
            effectivePeriod=self.period,
            valueQuantity=None if value is None else quantity(codes, name, value),
            dataAbsentReason=absent(codes, NOT_APPLICABLE) if value is None else None,
            method={"text": codes.results[name].method},
            derivedFrom=[found for row in rows if (found := self.refer_to(row))],
            component=components,
        )

    def flags(self, verdicts: Verdicts, stay_start: datetime | None) -> Iterator[Resource]:
        """One Flag for each danger of the stay, `inactive` when it is closed, and for each other
        rule that is met and has to be followed up.
        """
        followed = set()
        for matter in verdicts.matters:
            is_closed = matter.state is MatterState.CLOSED
            if is_closed or matter.level in FLAGGED:
                followed.add(matter.rule)
                own = self.subject.identifier(f"flag/{matter.name}", stay_start)
                yield self._flag(own, matter.name, matter.rows, is_closed=is_closed)
        for verdict in verdicts.cautions:
            if verdict.level in FLAGGED and verdict.rule not in followed:
                own = self.subject.identifier(f"flag/{verdict.rule}", stay_start)
                yield self._flag(own, verdict.rule, (), is_closed=False)

    def _flag(
        self, own: Mapping[str, str], name: str, rows: Iterable[Entry], *, is_closed: bool
    ) -> Resource:
        """A Flag in the rule's own words: those of a sheet change with the values."""
        codes = self.codes
        details = [found for row in rows if (found := self.refer_to(row))]
        clinical = {"system": codes.systems["flag-category"], "code": "clinical"}
        words = name.replace(":", ": ").replace("-", " ").replace("_", " ")
        return resource(
            "Flag",
            own,
            extension=[
                {"url": codes.extensions["flag-detail"], "valueReference": each} for each in details
            ],
            status="inactive" if is_closed else "active",
            category=[{"coding": [clinical]}],
            code={"coding": [{"system": codes.systems["own"], "code": name}], "text": words},
            subject=self.subject.reference,
        )

    def pages(self, pages: Mapping[str, bytes]) -> Iterator[Resource]:
        """One DocumentReference for each printed page, by its bytes; the PDF stands in it."""
        for name, content in pages.items():
            digest = hashlib.sha1(content, usedforsecurity=False).digest()  # as the standard says
            attachment = {
                "contentType": PDF,
                "data": base64.b64encode(content).decode("ascii"),
                "size": len(content),
                "hash": base64.b64encode(digest).decode("ascii"),
                "title": self.codes.results[name].text,
            }
            yield resource(
                "DocumentReference",
                self.subject.identifier(f"{name}/{hashlib.sha256(content).hexdigest()}"),
                status="current",
                docStatus="preliminary",
                type=self.codes.concept(name),
                subject=self.subject.reference,
                content=[{"attachment": attachment}],
                context={"period": self.period},
            )

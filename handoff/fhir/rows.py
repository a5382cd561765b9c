"""The rows of a log as resources: what was done, said and seen at one time.

Input: the entries of one patient. Output: for each the resource of the row, and those of its signs
before it. Never measures, and never leaves a row out.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any

from handoff.fhir.codes import Codes
from handoff.fhir.elements import (
    UNREADABLE,
    Resource,
    Subject,
    absent,
    as_string,
    category,
    component,
    moment,
    notes,
    quantity,
    references,
    resource,
    symptoms,
    timing,
)
from handoff.model.ward import Entry, Flow, SeenBy, SetAside, What

# By its field in the log: the concept of each sign, and the standard's own category of those that
# are numbers.
SIGNS = {
    "spo2": ("spo2", "vital-signs"),
    "resp_rate": ("resp-rate", "vital-signs"),
    "pulse": ("pulse", "vital-signs"),
    "temp_c": ("temperature", "vital-signs"),
    "pain": ("pain", "survey"),
    "on_oxygen": ("on-oxygen", None),
    "oxygen": ("oxygen", None),
    "symptoms": ("symptoms", None),
}

# The concept of each kind of row that has another name there.
_NAMED = {What.HOLD: "held", What.RESUME: "resumed"}
_SPANS = {What.AWAY, What.ASLEEP}


def nth_of_each(entries: Iterable[Entry]) -> Iterator[tuple[Entry, int]]:
    """Each entry with the number of those before it of the same patient, instant and kind."""
    seen: defaultdict[object, int] = defaultdict(int)
    for entry in entries:
        key = entry.patient_id, entry.at, entry.what
        yield entry, seen[key]
        seen[key] += 1


def set_aside(
    codes: Codes, own: Mapping[str, str], subject: Mapping[str, str], row: SetAside
) -> Resource:
    """A row that counts in no number, with its cells as they are written and the reason: a danger
    in it is not lost.
    """
    cells = {name: as_string(row.raw.get(name, "")) for name in codes.words["cell"]}
    return resource(
        "Observation",
        own,
        status="unknown",
        code=codes.concept("set-aside"),
        subject=subject,
        note=notes(as_string(row.reason.message)),
        component=[
            {"code": codes.concept_of_word("cell", name), "valueString": cell}
            for name, cell in cells.items()
            if cell
        ],
    )


class Rows:
    """Makes the resources of one patient's rows.

    `orders` has, in time order, the start of each order and the reference to it. `with_signs` is
    False where vital signs, symptoms and pain are left to the record itself.
    """

    def __init__(
        self,
        subject: Subject,
        orders: Sequence[tuple[datetime, dict[str, str]]] = (),
        *,
        with_signs: bool = True,
    ) -> None:
        self.subject = subject
        self.codes = subject.codes
        self.orders = orders
        self.with_signs = with_signs
        self.makers: dict[What, Callable[[Entry, int, list[Resource]], Resource]] = {
            What.DECLINED: self._declined,
            What.TOLD: self._told,
        }

    def of(self, entry: Entry, nth: int) -> list[Resource]:
        """The signs of a row, and the row itself last; a row of signs alone has none without
        them.
        """
        signs = list(self._signs(entry, nth)) if self.with_signs else []
        if entry.what is What.SEEN and not signs:
            return []
        make = self.makers.get(entry.what, self._observed)
        return [*signs, make(entry, nth, signs)]

    def _signs(self, entry: Entry, nth: int) -> Iterator[Resource]:
        codes = self.codes
        for name, (concept, group) in SIGNS.items():
            value, is_lost = getattr(entry.signs, name), name in entry.unread
            if value in (None, frozenset()) and not is_lost:
                continue
            yield resource(
                "Observation",
                self.subject.identifier(f"{entry.what}/{name}", entry.at, nth),
                status="final",
                category=category(codes, group) if group else [],
                code=codes.concept(concept),
                subject=self.subject.reference,
                performer=self._performers(entry),
                dataAbsentReason=self._unreadable(entry, name) if is_lost else None,
                **timing("effective", entry.at, None),
                **self._seen(concept, value),
            )

    def _unreadable(self, entry: Entry, name: str) -> dict[str, Any]:
        """That a cell cannot be read, with what is written in it."""
        return absent(self.codes, UNREADABLE, entry.raw.get(name, ""))

    def _seen(self, concept: str, value: object) -> dict[str, Any]:
        """The element that holds what was seen of a sign."""
        match value:
            case None:
                return {}
            case bool():
                return {"valueBoolean": value}
            case str():
                return {"valueString": value}
            case frozenset():
                return {"component": symptoms(self.codes, sorted(value))}
            case int() | float():
                return {"valueQuantity": quantity(self.codes, concept, value)}
        raise TypeError(concept)

    def _observed(self, entry: Entry, nth: int, signs: list[Resource]) -> Resource:
        codes = self.codes
        code = codes.concept(_NAMED.get(entry.what, str(entry.what)))
        said: dict[str, object] = {"valueString": entry.note}
        if entry.is_exercise:
            said = self._exercise(entry)
        elif entry.what in _SPANS:
            said = {"valueBoolean": True, "note": notes(entry.note)}
        elif entry.what is What.SEEN:
            said = {"note": notes(entry.note)}
        if entry.what is What.SETTLED:
            said["component"] = [
                component(codes, "about", valueCodeableConcept=codes.concept_of_word("about", word))
                for word in entry.about
            ]
        return resource(
            "Observation",
            self.subject.identifier(entry.what, entry.at, nth),
            extension=self._position(entry),
            status="final",
            code=code,
            subject=self.subject.reference,
            performer=self._performers(entry),
            hasMember=references(signs),
            **timing("effective", entry.at, entry.until),
            **said,
        )

    def _exercise(self, entry: Entry) -> dict[str, object]:
        codes, parts = self.codes, []
        lost = {
            name: self._unreadable(entry, name)
            for name in ("breaths", "hold_s", "volume_ml")
            if getattr(entry, name) is None and entry.raw.get(name, "").strip()
        }
        if entry.breaths is not None:
            parts.append(component(codes, "breaths", valueInteger=entry.breaths))
        elif "breaths" in lost:
            parts.append(component(codes, "breaths", dataAbsentReason=lost["breaths"]))
        if entry.hold_s is not None:
            held = quantity(codes, "hold", entry.hold_s)
            parts.append(component(codes, "hold", valueQuantity=held))
        elif "hold_s" in lost:
            parts.append(component(codes, "hold", dataAbsentReason=lost["hold_s"]))
        if entry.flow is Flow.UNREADABLE:
            reason = self._unreadable(entry, "flow")
            parts.append(component(codes, "flow", dataAbsentReason=reason))
        elif entry.flow is not None:
            word = codes.concept_of_word("flow", entry.flow)
            parts.append(component(codes, "flow", valueCodeableConcept=word))
        volume = entry.volume_ml
        in_force = [order for start, order in self.orders if start <= entry.at]
        return {
            "category": category(codes, "activity"),
            "basedOn": [in_force[-1]] if in_force else [],
            "valueQuantity": None if volume is None else quantity(codes, "exercise", volume),
            "dataAbsentReason": lost.get("volume_ml"),
            "component": parts,
            "note": notes(entry.note),
        }

    def _position(self, entry: Entry) -> list[dict[str, Any]]:
        if entry.position is None:
            return []
        word = self.codes.concept_of_word("position", entry.position)
        return [{"url": self.codes.extensions["position"], "valueCodeableConcept": word}]

    def _declined(self, entry: Entry, nth: int, signs: list[Resource]) -> Resource:
        return resource(
            "Procedure",
            self.subject.identifier(entry.what, entry.at, nth),
            status="not-done",
            statusReason={"text": entry.note} if entry.note else None,
            code=self.codes.concept("declined"),
            subject=self.subject.reference,
            performer=[{"actor": each} for each in self._performers(entry)],
            reasonReference=references(signs),
            **timing("performed", entry.at, entry.until),
        )

    def _told(self, entry: Entry, nth: int, signs: list[Resource]) -> Resource:
        return resource(
            "Communication",
            self.subject.identifier(entry.what, entry.at, nth),
            status="completed",
            category=[self.codes.concept("told")],
            subject=self.subject.reference,
            about=references(signs),
            sent=moment(entry.at),
            sender=next(iter(self._performers(entry)), None),
            reasonCode=[self.codes.concept_of_word("about", word) for word in entry.about],
            payload=[{"contentString": entry.note}] if entry.note else [],
        )

    def _performers(self, entry: Entry) -> list[dict[str, Any]]:
        """Who saw it: the patient, or staff by what they are; never a name."""
        if entry.seen_by is None:
            return []
        if entry.seen_by is SeenBy.PATIENT:
            return [dict(self.subject.reference)]
        return [{"display": str(entry.seen_by)}]

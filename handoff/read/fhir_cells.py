"""Elements of a resource as cells of a record: text as it is written, in the log's own words.

Input: elements. Output: the cells of one `Record`, their places, and a finding for each element
that is not understood: its cell is lost, never guessed. Turns units by exact factors and says so.
"""

import re
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from typing import Any
from zoneinfo import ZoneInfo

from handoff.fhir.codes import Codes
from handoff.fhir.json_text import num, obj, seq, txt
from handoff.model.codes import finding
from handoff.model.findings import Finding, Place
from handoff.read.fhir_bundle import Item
from handoff.read.raw_log import Record

_ZONE = re.compile(r"(?:Z|[+-]\d{2}:\d{2})$")
_FRACTION = re.compile(r"(\.\d{6})\d+")
_MOST_DIGITS = 30  # of a number, or places by which a point may be moved: far more than any has
_DECIMALS = 4  # of a value that was turned into another unit
# Reasons for a missing value that say that there was one, which is not known here. All others say
# that there is none.
_LOST_BECAUSE = frozenset(
    {"error", "masked", "not-a-number", "negative-infinity", "positive-infinity", "unsupported"}
)


class Cells:
    """The cells of one record, from one resource or several. `add_to` are the findings so far."""

    def __init__(self, file: str, item: Item, codes: Codes, add_to: list[Finding]) -> None:
        self.file = file
        self.item = item
        self.codes = codes
        self.findings = add_to
        self.cells: dict[str, str] = {}
        self.lines: dict[str, int] = {}
        self.paths: dict[str, str] = {}
        self.lost: dict[str, Finding] = {}
        self.meant: dict[str, str] = {}  # of lost cells, what stands in their place

    def record(self, broken: Finding | None = None) -> Record:
        """The record of all cells; `broken` says why it cannot be trusted as a whole."""
        lines = {name: line for name, line in self.lines.items() if line != self.item.number}
        return Record(
            self.item.number,
            self.cells,
            lines,
            self.lost,
            broken,
            resource=self.item.at,
            paths=self.paths,
            meant=self.meant,
        )

    def take(self, other: "Cells") -> None:
        """Adds the cells of another record of the same patient and time."""
        self.cells = {**other.cells, **self.cells}
        self.lines = {**other.lines, **self.lines}
        self.paths = {**other.paths, **self.paths}
        self.lost = {**other.lost, **self.lost}
        self.meant = {**other.meant, **self.meant}

    def put(self, name: str, text: str, path: str, of: Item | None = None) -> None:
        """Fills a cell from an element, unless the text is blank."""
        item = of or self.item
        if text.strip():
            self.cells[name] = text
            self._stand(name, path, item)

    def report(
        self,
        code: str,
        path: str = "",
        of: Item | None = None,
        field: str | None = None,
        raw: str | None = None,
        **words: str,
    ) -> Finding:
        """A finding on the resource, or on an element of it."""
        item = of or self.item
        found = finding(code, self._place(item, path), field, raw, **words)
        self.findings.append(found)
        return found

    def lose(
        self,
        name: str,
        code: str,
        path: str,
        of: Item | None = None,
        raw: str | None = None,
        **words: str,
    ) -> None:
        """Loses the cell, with a finding on its element."""
        item = of or self.item
        self._stand(name, path, item)
        self.lost[name] = self.report(code, path, item, field=name, raw=raw, **words)

    def _stand(self, name: str, path: str, item: Item) -> None:
        self.lines[name] = item.number
        self.paths[name] = f"{item.at}.{path}" if path else item.at

    def _place(self, item: Item, path: str) -> Place:
        return Place(self.file, item.number, None, at=f"{item.at}.{path}" if path else item.at)

    def is_lost(self, name: str, element: object, path: str, of: Item | None = None) -> bool:
        """Whether an element, or what stands beside a plain one (`_birthDate`), says that there was
        a value which is not known here. The cell is then lost.
        """
        for each in map(obj, seq(obj(element).get("extension"))):
            reason = txt(each.get("valueCode"))
            if each.get("url") == self.codes.extensions["absent"] and reason in _LOST_BECAUSE:
                self.lose(name, "fhir-absent", path, of, raw=reason)
                return True
        return False

    # Times.

    def time(
        self,
        name: str,
        holder: Mapping[str, Any],
        element: str,
        path: str = "",
        of: Item | None = None,
    ) -> None:
        """An instant, as it is written but for digits after a millionth of a second."""
        text, path = txt(holder.get(element)), f"{path}{element}"
        if self.is_lost(name, holder.get(f"_{element}"), path, of):
            return
        if "T" in text and not _ZONE.search(text):
            self.lose(name, "fhir-no-zone", path, of, raw=text)
        else:
            self.put(name, _FRACTION.sub(r"\1", text), path, of)

    def day(
        self,
        name: str,
        holder: Mapping[str, Any],
        element: str,
        zone: ZoneInfo | None,
        path: str = "",
    ) -> None:
        """A calendar day; of an instant the day in the unit's time zone."""
        text, path = txt(holder.get(element)), f"{path}{element}"
        moment = instant(text)
        if self.is_lost(name, holder.get(f"_{element}"), path):
            return
        if "T" not in text:
            self.put(name, text, path)
        elif moment is None or zone is None:
            self.lose(name, "fhir-no-zone", path, raw=text)
        else:
            self.put(name, str(moment.astimezone(zone).date()), path)

    # Values.

    def quantity(
        self, name: str, value: object, concept: str, path: str, of: Item | None = None
    ) -> None:
        """A quantity in the unit that the concept has in the log."""
        if self.is_lost(name, value, path, of):
            return
        quantity, wanted = obj(value), self.codes.unit_of(concept)
        written, unit = num(quantity.get("value")), txt(quantity.get("code"))
        raw = " ".join(filter(None, [written, unit or txt(quantity.get("unit"))])) or None
        amount = exact(written)
        system = txt(quantity.get("system"))
        is_ucum = system == self.codes.systems["ucum"] and bool(unit)
        turned = None if amount is None else self.codes.converted(amount, unit, wanted)
        if txt(quantity.get("comparator")):
            raw = f"{txt(quantity.get('comparator'))}{raw or ''}"
            self.meant[name] = raw
            self.lose(name, "fhir-comparator", path, raw=raw, of=of)
        elif amount is None:
            self.lose(name, "fhir-no-value", path, raw=raw, of=of)
        elif not is_ucum or turned is None:
            self.meant[name] = (raw or "").removesuffix(" 1")  # a share of one
            self.lose(name, "fhir-unit", path, raw=raw, unit=wanted, of=of)
        elif self.codes.is_same(unit, wanted):
            self.put(name, plain(written), path, of=of)
        else:
            text = f"{float(turned):.{_DECIMALS}f}".rstrip("0").rstrip(".")
            self.put(name, text, path, of=of)
            self.report("fhir-converted", path, field=name, raw=raw, text=text, unit=wanted, of=of)

    def whole(
        self, name: str, holder: Mapping[str, Any], concept: str, path: str, of: Item | None = None
    ) -> None:
        """A count: an integer, or a quantity of what the concept counts."""
        if "valueInteger" in holder and not self.is_absent(name, holder, path, of=of):
            written = num(holder["valueInteger"])
            if written:
                self.put(name, plain(written), f"{path}valueInteger", of=of)
            else:
                self.lose(name, "fhir-no-value", f"{path}valueInteger", of=of)
        elif "valueInteger" not in holder:
            self.value(name, holder, concept, path, of=of)

    def value(
        self, name: str, holder: Mapping[str, Any], concept: str, path: str, of: Item | None = None
    ) -> None:
        """The `valueQuantity` of an Observation or a component of one."""
        if not self.is_absent(name, holder, path, of=of):
            element = f"{path}valueQuantity"
            if "valueQuantity" in holder:
                self.quantity(name, holder["valueQuantity"], concept, element, of=of)
            else:
                other = next((each for each in holder if each.startswith("value")), None)
                self.meant[name] = txt(holder.get("valueString"))
                self.lose(name, "fhir-no-value", element, raw=self.meant[name] or other, of=of)

    def is_absent(
        self, name: str, holder: Mapping[str, Any], path: str, of: Item | None = None
    ) -> bool:
        """Whether a value is missing for a stated reason, so that it is lost or there is none; or
        contradicted, by another or by such a reason.
        """
        values = [each for each in holder if each.startswith("value")]
        if values and (len(values) > 1 or "dataAbsentReason" in holder):
            self.lose(name, "fhir-two-values", f"{path}{values[-1]}", of=of)
            return True
        if values:
            return False
        absent = obj(holder.get("dataAbsentReason"))
        reasons = {txt(obj(each).get("code")) for each in seq(absent.get("coding"))}
        if reasons & _LOST_BECAUSE:
            self.meant[name] = txt(absent.get("text"))
            raw = self.meant[name] or sorted(reasons & _LOST_BECAUSE)[0]
            self.lose(name, "fhir-absent", f"{path}dataAbsentReason", raw=raw, of=of)
        return bool(absent)

    def text(self, name: str, holder: Mapping[str, Any], path: str, of: Item | None = None) -> None:
        """A `valueString`."""
        if not self.is_absent(name, holder, path, of=of):
            text = txt(holder.get("valueString"))
            if text:
                self.put(name, text, f"{path}valueString", of=of)
            else:
                self.lose(name, "fhir-no-value", f"{path}valueString", of=of)

    def yes_or_no(
        self, name: str, holder: Mapping[str, Any], path: str, of: Item | None = None
    ) -> None:
        """A `valueBoolean`."""
        if not self.is_absent(name, holder, path, of=of):
            value = holder.get("valueBoolean")
            if isinstance(value, bool):
                self.put(name, "yes" if value else "no", f"{path}valueBoolean", of=of)
            else:
                self.lose(name, "fhir-no-value", f"{path}valueBoolean", of=of)

    def word(
        self, name: str, concept: object, group: str, path: str, of: Item | None = None
    ) -> None:
        """A word of the log by its code; without one the concept's own text, for the checks."""
        word = self.word_of(concept, group)
        if word:
            self.put(name, word, path, of=of)
        else:
            self.lose(name, "fhir-code", path, raw=described(concept), of=of)

    def word_of(self, concept: object, group: str) -> str | None:
        """The log's word of a concept's code, or the concept's text; None without both."""
        words = {self.codes.word(group, each) for each in names_in(concept, self.codes)} - {None}
        if words:
            return words.pop() if len(words) == 1 else None
        return txt(obj(concept).get("text")) or next(
            filter(
                None, (txt(obj(each).get("display")) for each in seq(obj(concept).get("coding")))
            ),
            None,
        )


def names_in(concept: object, codes: Codes) -> set[str]:
    """The concepts and words of the log that a CodeableConcept's codes mean."""
    found = (
        codes.name_of(obj(each).get("system"), obj(each).get("code"))
        for each in seq(obj(concept).get("coding"))
    )
    return {each for each in found if each}


def described(concept: object) -> str | None:
    """A concept in a few characters: its first code, else its text."""
    codes = (txt(obj(each).get("code")) for each in seq(obj(concept).get("coding")))
    return next(filter(None, codes), txt(obj(concept).get("text")) or None)


def codings_of(concepts: Iterable[object]) -> set[tuple[str, str]]:
    """System and code of every coding."""
    return {
        (txt(obj(each).get("system")), txt(obj(each).get("code")))
        for concept in concepts
        for each in seq(obj(concept).get("coding"))
    }


def exact(written: str) -> Fraction | None:
    """The number as written; None for none, and for one of absurd length."""
    if not written or len(written) > _MOST_DIGITS:
        return None
    try:
        number = Decimal(written)
    except InvalidOperation:
        return None
    small = number.is_finite() and abs(number.adjusted()) <= _MOST_DIGITS
    return Fraction(number) if small else None


def plain(written: str) -> str:
    """A number without an exponent, as the checks read it: 1100 for 1.1e3."""
    if written.lstrip("-").replace(".", "", 1).isdigit():
        return str(written)
    number = exact(written)
    return str(written) if number is None else f"{Decimal(written):f}"


def instant(text: str) -> datetime | None:
    """The instant of a time with a zone, in UTC."""
    try:
        moment = datetime.fromisoformat(_FRACTION.sub(r"\1", text))
    except ValueError:
        return None
    return moment.astimezone(UTC) if moment.tzinfo else None

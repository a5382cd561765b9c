"""What reading a Bundle gathers: whom a resource is about, whether it counts, what became of it.

Input: the resources of a Bundle, one after another. Output: `Reader`. Knows no kind of resource.
"""

from zoneinfo import ZoneInfo

from msgspec import Struct, field

from handoff.fhir.codes import Codes
from handoff.fhir.json_text import obj, seq, txt
from handoff.model.findings import Finding
from handoff.model.wording import FINDINGS
from handoff.read.fhir_bundle import Bundle, Item
from handoff.read.fhir_cells import Cells, names_in
from handoff.read.raw_log import Record

# Elements that are lists; a single one in their place is not read.
_LISTS = frozenset(
    {"component", "contained", "extension", "hasMember", "location", "note", "payload", "target"}
    | {"addresses", "basedOn", "performer", "property", "reasonCode", "reasonReference"}
)
OBSERVED = frozenset({"final", "amended", "corrected", "preliminary"})
NOT_OBSERVED = frozenset({"registered", "cancelled", "unknown"})


class Reader(Struct):
    """What reading a Bundle needs and gathers, and what became of each resource.

    `fate` has by key: `row`, `patient`, `unit`, `aside`, `unused`; without one it is another.
    """

    bundle: Bundle
    codes: Codes
    patient_system: str | None
    zone: ZoneInfo | None
    modified: frozenset[str]  # the keys of resources with an element that may change their meaning
    findings: list[Finding]
    numbers: dict[str, tuple[str, str]] = field(default_factory=dict)  # by key of the Patient
    aside: list[Record] = field(default_factory=list)
    facts: list[Record] = field(default_factory=list)
    fate: dict[str, str] = field(default_factory=dict)
    sizes: dict[tuple[str, str], list[Cells]] = field(default_factory=dict)
    orders: dict[str, dict[str, Cells]] = field(default_factory=dict)  # that count, by number, key
    told_of: set[str] = field(default_factory=set)  # Patients that another resource names

    def cells(self, item: Item) -> Cells:
        """Empty cells of a resource."""
        return Cells(self.bundle.file, item, self.codes, self.findings)

    def names(self, item: Item, element: str = "code") -> set[str]:
        """What the codes of an element mean."""
        return names_in(item.resource.get(element), self.codes)

    def status(self, item: Item, used: frozenset[str], known: frozenset[str]) -> bool:
        """Whether a resource counts by its status. One with a status that the standard does not
        have is set aside.
        """
        status = txt(item.resource.get("status"))
        if status in used:
            if status == "preliminary":
                self.cells(item).report("fhir-preliminary", "status")
            return True
        self.fate[item.key] = "unused"
        if status == "entered-in-error":
            self.cells(item).report("fhir-entered-in-error", "status")
        elif status in known:
            self.cells(item).report("fhir-status", "status", raw=status)
        else:
            what = FINDINGS.say("fhir-shape.what.status")
            self.set_aside(self.cells(item), "fhir-shape", "status", raw=status or None, what=what)
        return False

    def set_aside(
        self, cells: Cells, code: str, path: str = "", raw: str | None = None, **words: str
    ) -> None:
        """Sets the record of a resource aside, so that it is counted."""
        self.fate[cells.item.key] = "aside"
        found = cells.report(code, path, None, None, raw, **words)
        self.aside.append(cells.record(found))

    def keep(self, cells: Cells) -> None:
        """Keeps the record of a resource that tells of a patient."""
        self.fate[cells.item.key] = "patient"
        self.facts.append(cells.record())

    def about(self, cells: Cells, element: str = "subject") -> bool:
        """Fills in the patient whom a resource names; without one, or with an element that may
        change its meaning, it is set aside.
        """
        item = cells.item
        for name in _LISTS & item.resource.keys():
            if not isinstance(item.resource[name], list):
                cells.report("fhir-shape", name, what=FINDINGS.say("fhir-shape.what.no-list"))
        patient = self.patient_of(item, element)
        if patient:
            self.told_of.add(patient.key)
            number, _ = self.numbers[patient.key]
            cells.put("patient_id", number, element)
        if item.key in self.modified:
            self.set_aside(cells, "fhir-modifier", raw="modifierExtension")
        elif patient is None:
            reference = obj(item.resource.get(element))
            raw = txt(reference.get("reference")) or txt(reference.get("display")) or None
            self.set_aside(cells, "fhir-patient-unresolved", element, raw=raw)
        return item.key not in self.modified and patient is not None

    def patient_of(self, item: Item, element: str = "subject") -> Item | None:
        """The Patient of this Bundle whom an element names, if it has a number."""
        found = self.bundle.resolve(item.resource.get(element), item)
        if found is not None and "#" in found.key:
            found = self._by_identifier(found)
        return found if found is not None and found.key in self.numbers else None

    def _by_identifier(self, contained: Item) -> Item | None:
        """The one Patient with an identifier of a contained Patient."""
        found: dict[str, Item] = {}
        for identifier in map(obj, seq(contained.resource.get("identifier"))):
            both = txt(identifier.get("system")), txt(identifier.get("value"))
            same = self.bundle.identified.get(both, {})
            found |= {key: each for key, each in same.items() if each.type == "Patient"}
        return next(iter(found.values())) if len(found) == 1 else None


def is_observed(reader: Reader, item: Item) -> bool:
    """Whether an Observation counts."""
    return reader.status(item, OBSERVED, NOT_OBSERVED)
